"""Tubes as bought: their number stays; films, the area needed and the pressure lost follow from a state."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from explore.cycle.exchangers import fit
from explore.cycle.source import Boiling
from explore.fluids.interface import Array, Index, WorkingFluid
from explore.plant.circuit import Cycle, Drops
from explore.plant.tubes import Tubing

MOST_DROP = 0.5
"""Share of its pressure that the fluid may lose in tubes that stand: what chokes them more is no state of a plant. The
tenth that a design may lose is a wish and no law of nature."""


class OwnedTubes(NamedTuple):
    """What the run says of tubes: its ``drops`` [Pa] with their numbers, and what it ``left`` unsettled of these [Pa].

    A run settles drops within a thousandth of a pressure; as much is kept, so that a plant bought gives the run's figures
    where nothing else has changed.
    """

    drops: Drops
    left: Drops


class TubesNeeded(NamedTuple):
    """Tubes of the number bought at one state: outside ``areas`` [m2] of boilers, hottest first, and condenser.

    ``drops`` [Pa] that they put on it; ``unsettled`` [-] the share of a pressure by which these differ from the drops it
    ran with, without end where more than half of a pressure would be lost; (n,).
    """

    areas: list[Array]
    drops: Drops
    unsettled: Array


def shares_lost(drops: Drops, cycle: Cycle) -> list[Array]:
    """Share [-] of its pressure that the fluid loses in each boiler, hottest first, and in the condenser."""
    pressures = [*(level.pressure for level in cycle.levels), cycle.condenser_pressure]
    return [drop / p for drop, p in zip([*drops.boilers, drops.condenser], pressures, strict=True)]


def tubes_owned(
    tubing: Tubing, fluids: Index, fluid: WorkingFluid, cycle: Cycle, hot: Boiling, flow: Array
) -> OwnedTubes:
    """Buy the tubes of a rated ``cycle``, whose drops stood at the ``flow`` [kg/s]; arguments as for :func:`tubes_needed`.

    A drop that was held at its limit was not settled: nothing of it is kept.
    """
    assert cycle.drops is not None
    fitted = fit(tubing, tubing.bind(fluids), fluid, cycle, hot, flow, cycle.drops)
    settled = (fitted.fluid_excess <= 0.0) & (fitted.water_excess <= 0.0)
    ran, found = cycle.drops, fitted.drops
    return OwnedTubes(
        ran,
        ran._replace(
            boilers=[np.where(settled, a - b, 0.0) for a, b in zip(ran.boilers, found.boilers, strict=True)],
            condenser=np.where(settled, ran.condenser - found.condenser, 0.0),
            hot_water=np.where(settled, ran.hot_water - found.hot_water, 0.0),
            cooling_water=np.where(settled, ran.cooling_water - found.cooling_water, 0.0),
        ),
    )


def tubes_needed(
    tubing: Tubing,
    fluids: Index,
    fluid: WorkingFluid,
    cycle: Cycle,
    hot: Boiling,
    flow: Array,
    left: Drops | None = None,
) -> TubesNeeded:
    """Size tubes of the number that ``cycle.drops`` tells for ``flow`` [kg/s] of the fluids numbered ``fluids``.

    With their number and diameters held, a length is an area. ``left`` as in :class:`OwnedTubes`.
    """
    assert cycle.drops is not None
    standing = replace(tubing, largest_drop=MOST_DROP, largest_water_drop=np.inf)
    fitted = fit(standing, standing.bind(fluids), fluid, cycle, hot, flow, cycle.drops)
    drops = fitted.drops if left is None else _sum(fitted.drops, left)
    pairs = zip(shares_lost(drops, cycle), shares_lost(cycle.drops, cycle), strict=True)
    moved = [np.abs(new - ran) for new, ran in pairs]
    return TubesNeeded(
        [*(one.area for one in fitted.boilers), fitted.condenser.area],
        drops,
        np.where(fitted.fluid_excess > 0.0, np.inf, np.max(moved, axis=0)),
    )


def _sum(found: Drops, left: Drops) -> Drops:
    """Add what was left unsettled; a drop is never negative."""
    return found._replace(
        boilers=[np.maximum(a + b, 0.0) for a, b in zip(found.boilers, left.boilers, strict=True)],
        condenser=np.maximum(found.condenser + left.condenser, 0.0),
        hot_water=np.maximum(found.hot_water + left.hot_water, 0.0),
        cooling_water=np.maximum(found.cooling_water + left.cooling_water, 0.0),
    )
