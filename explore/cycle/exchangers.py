"""Exchangers made of tubes in the system: from a cycle's zones to tubes, pressure drops and figures."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from explore import units
from explore.cycle.duties import condenser_duties
from explore.cycle.source import Boiling
from explore.figures.catalogue import TUBE_FIGURES
from explore.fluids.interface import Array, WorkingFluid
from explore.fluids.transport import BoundTransport
from explore.plant.circuit import Cycle, Drops
from explore.plant.correlations.validity import Excess, worst
from explore.plant.sizing import Service, Sized, mean_coefficients, size
from explore.plant.tubes import Tubing

PASSES = 3
"""Times that tubes are sized before the last run of the cycle; fixed, so that no design depends on its batch."""
CHOOSING = 2
"""Passes in which the number of tubes is chosen."""
DROP_EXPONENT = 2.8
"""Power of the flow with which drops rise in tubes of given number: 1.8 by friction, and their length rises too."""
NEWTON_STEPS = 5
"""Fixed, so that no design depends on its batch: they rise from one side and close in."""


class Fitted(NamedTuple):
    """Tubes of boilers and condenser for a batch, each (n,).

    ``boilers`` hottest first; ``drops`` [Pa] held at what may be lost; ``fluid_excess`` [-] and ``water_excess`` [Pa] by
    which the largest drop passes its limit; ``unsettled`` [-] by which they differ from those the cycle ran with, share
    of the pressure.
    """

    boilers: list[Sized]
    condenser: Sized
    drops: Drops
    fluid_excess: Array
    water_excess: Array
    unsettled: Array

    def outside(self) -> Excess:
        """How far the design lies outside the ranges of correlations."""
        return worst(one.excess() for one in (*self.boilers, self.condenser))


def settle(
    tubing: Tubing,
    bound: BoundTransport,
    fluid: WorkingFluid,
    levels: int,
    run: Callable[[Drops], Cycle],
    heated: Callable[[Cycle], tuple[Boiling, Array]],
) -> Drops:
    """Find the pressure drops that tubes sized for a cycle put on that cycle.

    ``run`` runs the cycle of so many ``levels`` with drops, ``heated`` gives its zones and the flow [kg/s] that gives the
    power. The number of tubes is chosen twice: what one tube loses depends on what flows through it, so that a choice
    for the flow found with the first one's drops keeps the drops. Then it stays, as numbers given do,
    and flow and drops close in on each other.
    """
    choices = CHOOSING if tubing.chosen else 1
    boiling, free = heated(cycle := run(_no_drops(len(bound.index), levels)))
    flow, drops = free, fit(tubing, bound, fluid, cycle, boiling, free, None).drops
    for step in range(1, PASSES):
        boiling, found = heated(cycle := run(drops))
        flow = found if step < choices else settled_flow(free, flow, found)
        if step < choices:
            drops = fit(tubing, bound, fluid, cycle, boiling, flow, drops, choose=True).drops
        drops = fit(tubing, bound, fluid, cycle, boiling, flow, drops).drops
    return drops


def _no_drops(n: int, levels: int) -> Drops:
    zero = np.zeros(n)
    return Drops([zero] * levels, zero, zero, zero, [zero] * levels, zero)


def settled_flow(free: Array, taken: Array, found: Array) -> Array:
    """Flow m [kg/s] that gives the power against the drops it makes itself.

    Work per kg falls from that without drops, power over ``free``, by what drops cost at the flow ``taken``, where the
    flow ``found`` gives the power, times (m / taken)^2.8. Newton's steps rise from ``free`` to the root; where there is
    none, to where power is greatest.
    """
    cost = (1.0 / free - 1.0 / found) * taken**-DROP_EXPONENT
    most = 1.0 / (np.maximum(cost, 1e-300) * free * (1.0 + DROP_EXPONENT))
    top = np.log(most) / DROP_EXPONENT - 1e-3
    x = np.minimum(np.log(free), top)
    for _ in range(NEWTON_STEPS):
        lost = cost * free * np.exp(DROP_EXPONENT * x)
        slope = 1.0 - DROP_EXPONENT * lost / (1.0 - lost)
        x = np.minimum(x - (np.log1p(-lost) + x - np.log(free)) / slope, top)
    return np.exp(x)


def fit(
    tubing: Tubing,
    bound: BoundTransport,
    fluid: WorkingFluid,
    cycle: Cycle,
    hot: Boiling,
    flow: Array,
    given: Drops | None,
    choose: bool = False,
) -> Fitted:
    """Size the tubes of all exchangers of a cycle for ``flow`` [kg/s] of working fluid.

    ``given`` tells their number, or a guess from which to ``choose`` it.
    """
    counts: list[Array | None] = [None] * len(cycle.levels) if given is None else [*given.boiler_counts]
    duties = hot.source.duties(cycle, hot.zones, flow)
    tubes = hot.source.pick(tubing.boiler, tubing.coil)
    boilers = []
    for level, own, count in zip(cycle.levels, duties, counts, strict=True):
        beside = (
            tuple(i for i, d in enumerate(own) if d.name == "liquid") if level is not cycle.levels[-1] else ()
        )
        number = (None, count) if choose else (count, None)
        service = Service("boiling", level.temperature, level.pressure, own, beside)
        boilers.append(size(tubing, tubes, bound, service, *number))
    count = None if given is None else given.condenser_count
    condenser = _condenser(tubing, bound, fluid, cycle, flow, (None, count) if choose else (count, None))
    return _with_drops(tubing, cycle, boilers, condenser)


def _condenser(
    tubing: Tubing,
    bound: BoundTransport,
    fluid: WorkingFluid,
    cycle: Cycle,
    flow: Array,
    number: tuple[Array | None, Array | None],
) -> Sized:
    p = cycle.condenser_pressure
    sat, exhaust = fluid.saturation(p), fluid.from_enthalpy(p, cycle.into_condenser).temperature
    cooled, liquid = cycle.condenser, cycle.condensate.temperature
    duties = condenser_duties(sat, cooled.zones, liquid, exhaust, cooled.water_flow, flow)
    service = Service("condensing", sat.temperature, p, duties)
    return size(tubing, tubing.condenser, bound, service, *number)


def _with_drops(tubing: Tubing, cycle: Cycle, boilers: list[Sized], condenser: Sized) -> Fitted:
    """Hold each drop at its limit, so that a design far beyond it still has numbers, and tell the excess."""
    most, roof = tubing.largest_drop, tubing.largest_water_drop
    pressures = [*(level.pressure for level in cycle.levels), cycle.condenser_pressure]
    lost = [one.fluid_drop / p for one, p in zip([*boilers, condenser], pressures, strict=True)]
    held = [np.minimum(share, most) for share in lost]
    hot = np.sum([b.water_drop for b in boilers], axis=0)
    roofed = np.minimum(hot, roof)
    drops = Drops(
        [share * p for share, p in zip(held[:-1], pressures, strict=False)],
        held[-1] * cycle.condenser_pressure,
        roofed,
        np.minimum(condenser.water_drop, roof),
        [b.number for b in boilers],
        condenser.number,
    )
    ran = cycle.drops or _no_drops(len(roofed), len(boilers))
    before = [*ran.boilers, ran.condenser]
    moved = [np.abs(share - drop / p) for share, drop, p in zip(held, before, pressures, strict=True)]
    return Fitted(
        boilers,
        condenser,
        drops,
        np.max(lost, axis=0) - most,
        np.maximum(hot, condenser.water_drop) - roof,
        np.max(moved, axis=0),
    )


def figures(fitted: Fitted, pinches: tuple[Array, Array]) -> Array:
    """Lay the figures of tubes out as (n, len(TUBE_FIGURES)), in that order; empty where they do not apply."""
    columns: dict[str, Array] = {}
    for name, parts, pinch in zip(
        ("boiler", "condenser"), (fitted.boilers, [fitted.condenser]), pinches, strict=True
    ):
        for number, part in enumerate(parts, start=1):
            columns[f"{name}_tubes_{number}_count"] = part.number
            columns[f"{name}_tubes_{number}_length_m"] = part.length
        columns[f"{name}_fluid_drop_bar"] = np.max([p.fluid_drop for p in parts], axis=0) / units.PA_PER_BAR
        columns[f"{name}_water_drop_bar"] = np.sum([p.water_drop for p in parts], axis=0) / units.PA_PER_BAR
        columns[f"{name}_rated_pinch_K"] = pinch
        columns |= {f"{name}_U_{kind}_W_per_m2K": U for kind, U in mean_coefficients(parts).items()}
    empty = np.full(len(fitted.fluid_excess), np.nan)
    return np.stack([columns.get(name, empty) for name in TUBE_FIGURES], axis=1)
