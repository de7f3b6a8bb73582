"""What a search was free to choose, as its configuration says: what was asked for is no finding."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from explore.config.schema import Case
from explore.design.space import Space
from explore.design.variables import Layout, Variable
from explore.errors import InputError


@dataclass(frozen=True)
class Searched:
    """What a search was free to choose: variables with their bounds, how many options each choice had, and layouts.

    ``tried`` says how many designs of each layout, named in words, were tried, where that is known.
    """

    variables: tuple[Variable, ...] = ()
    bounds: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    options: Mapping[str, int] = field(default_factory=dict)
    layouts: tuple[Layout, ...] = ()
    tried: Mapping[str, int] = field(default_factory=dict)


def searched(case: Case, tried: Mapping[str, int]) -> Searched:
    """Return what the search of a case was free to choose; of a space that is no longer one, nothing."""
    try:
        space = Space.from_case(case)
    except InputError:
        return Searched()
    fluids, _, regenerators, collectors = space.choice_counts
    layouts = space.layouts
    options = {
        "fluid": fluids,
        "store_mode": len({one.store_mode for one in layouts}),
        "stages": len({one.stages for one in layouts}),
        "pressure_levels": len({one.pressure_levels for one in layouts if one.store_mode == "stratified"}),
        "regenerator_effectiveness": regenerators,
        "governing": len({one.governing for one in layouts if one.store_mode == "mixed"}),
        "collector": collectors,
    }
    return Searched(space.variables, space.bounds, options, layouts, tried)
