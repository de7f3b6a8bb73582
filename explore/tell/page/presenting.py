"""What the presenting view needs beyond what the rest of the page has: the demand, how sure, how much is assumed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from explore.tell.page.assumptions import Assumption
from explore.tell.page.data import Run
from explore.tell.page.doubt import Told


def presenting(
    run: Run, entries: Sequence[Assumption], told: Told | None, of_designs: dict[int, str]
) -> dict[str, Any]:
    """Return it for the page's script; ``doubt`` is null where no study was made.

    ``of_designs`` is what the study says of lines of front.csv.
    """
    demand = run.case.scenario.demand
    return {
        "hours": sorted(set(demand.hours)),
        "months": sorted(set(demand.months)),
        "assumed": sum(entry.assumption for entry in entries),
        "values": len(entries),
        "doubt": None if told is None else _study(told, of_designs),
    }


def _study(told: Told, of_designs: dict[int, str]) -> dict[str, Any]:
    """Return its headline, its scope, and how likely each fluid is best under the highest ceiling [%], most first."""
    last = {name: cells[-1] for name, cells in told.chances}
    likely = {name: cell.percent for name, cell in last.items() if cell is not None}
    return {
        "headline": told.headline,
        "scope": told.scope,
        "objective": told.objective,
        "ceiling": told.ceilings[-1],
        "chances": sorted(likely.items(), key=lambda one: -one[1]),
        "designs": {str(row): words for row, words in of_designs.items()},
    }
