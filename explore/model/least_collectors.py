"""Collectors as small as the demand allows.

Of all that a design says the area of its collectors alone concerns nothing but the year and the price. Where a share of
the demand is to be served, and nothing that is asked gets better with a larger area, the least that serves is the best: a
search need not come upon it by chance, design by design, for a year takes a fraction of what the cycle does.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from explore.config.schema import Case
from explore.fluids.interface import Array, Index

Flags = NDArray[np.bool_]
Season = Mapping[str, Array]

YEARS = 3
"""Years for each design at most, that of its own area among them: so a search takes a fifth longer by the design."""
WITHIN = 2e-3
"""Share of what is asked by which more may be served: at an elasticity of a half 0.4 % of the area."""
FARTHEST = 0.7
"""Logarithm of the area that a step moves at most: twice or half."""
LEAST = 0.25
"""Of what is asked: a design that serves less does not come to it in two such steps."""
SATED = 0.8
"""Share of the demand from which on more collectors bring less and less."""
SLOPE, SLOPES = 0.55, (0.1, 2.0)
"""What the :func:`level` of a share rises by with the logarithm of the area, before two are known, and within what it is
believed: on the fronts of three scenarios by 0.5 to 0.75."""
STEEPER, MARGIN = 1.25, 0.1
"""From two areas that serve more than enough the share falls faster than it did between them; and of what a line is away
from what is asked, by so much it aims above: one that serves a hundredth too little is of no use."""
MORE_MATTERS = frozenset(
    {
        "served_share",
        "shaft_energy_kWh_per_year",
        "longest_unserved_hours",
        "autonomy_hours",
        "bridged_hours",
        "stagnation_hours",
        "collector_yield_kWh_per_year",
        "sun_to_shaft_efficiency",
        "cooling_water_L_per_year",
        "cost_EUR_per_kWh",
        "collector_area_m2",
    }
)
"""What the year gives, or what is divided by it: an objective or a bound of these may want more than the least area."""


def is_best(case: Case) -> bool:
    """Say whether of two areas that serve enough the smaller is never worse in what a case asks."""
    limits = case.scenario.limits
    asked = {one.figure for one in case.scenario.objectives} | set(limits.bounds)
    return limits.served_share_min > 0.0 and not asked & MORE_MATTERS


def level(share: Array) -> Array:
    """What grows with the logarithm of the area nearly as a line does: the share served, drawn out where it is sated."""
    left = np.maximum(1.0 - share, 1e-3) / (1.0 - SATED)
    return np.where(share < SATED, share, SATED - (1.0 - SATED) * np.log(left))


def fitted(
    run: Callable[[Index, Array], Season],
    gene: Array,
    area_of: Callable[[Array], Array],
    wanted: float,
    may: Flags,
) -> tuple[Array, dict[str, Array]]:
    """Find the least area that serves the share ``wanted``, by secants; return genes (n,) and their year.

    ``run`` gives the year of the designs ``rows`` with areas [m2]; ``area_of`` the area of a gene [-], which it grows with
    as an exponential does; only designs that ``may`` be bettered are, the others keep their ``gene`` (n,). Kept is the
    least area that serves, or else the one that serves most, so that nothing gets worse; no design depends on its batch.
    """
    everyone = np.arange(len(gene))
    season = {name: values.copy() for name, values in run(everyone, area_of(gene)).items()}
    kept, span = gene.copy(), np.log(area_of(np.ones(1)) / area_of(np.zeros(1)))
    aim = level(np.asarray(wanted * (1.0 + 0.5 * WITHIN)))
    rows = np.flatnonzero(may & (season["served_share"] > LEAST * wanted) & (span > 0.0))
    here, share, slope = gene[rows], season["served_share"][rows], np.full(len(rows), SLOPE)
    for turn in range(YEARS - 1):
        left = aim - level(share)
        step = np.clip((left + (MARGIN if turn else 0.0) * np.abs(left)) / slope, -FARTHEST, FARTHEST)
        there = np.clip(here + step / span, 0.0, 1.0)
        go = ((share < wanted) | (share > wanted * (1.0 + WITHIN))) & (there != here)
        rows, here, there, before = rows[go], here[go], there[go], share[go]
        if not len(rows):
            break
        found = run(rows, area_of(there))
        share = found["served_share"]
        old = season["served_share"][rows]
        better = np.where(
            share >= wanted, (old < wanted) | (there < kept[rows]), (old < wanted) & (share > old)
        )
        for name, values in found.items():
            season[name][rows[better]] = values[better]
        kept[rows[better]] = there[better]
        slope = np.clip((level(share) - level(before)) / ((there - here) * span), *SLOPES)
        slope = np.where(np.minimum(share, before) > wanted, STEEPER * slope, slope)
        here = there
    return kept, season
