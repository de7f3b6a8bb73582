"""What a search goes for: the objectives of its scenario, or the same over many plausible worlds."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from explore.figures.readings import NOMINAL, column, plain

if TYPE_CHECKING:
    from explore.config.schema import Case


def over_worlds(case: Case) -> bool:
    """Tell whether a case is searched over many worlds."""
    return case.search.against != NOMINAL


def sought(case: Case) -> Case:
    """Return the case with the objectives that its search compares: those of ``search.against``."""
    against = case.search.against
    return _named(case, lambda name: column(against, plain(name))) if over_worlds(case) else case


def by_own_values(case: Case) -> Case:
    """Return the case with the objectives as its scenario names them, by the run's own values."""
    return _named(case, plain)


def _named(case: Case, name: Callable[[str], str]) -> Case:
    objectives = tuple(
        one.model_copy(update={"figure": name(one.figure)}) for one in case.scenario.objectives
    )
    return case.model_copy(update={"scenario": case.scenario.model_copy(update={"objectives": objectives})})
