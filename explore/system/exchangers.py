"""Exchangers made of tubes in the system: from a cycle's zones to tubes, pressure drops and figures."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from explore.fluids.interface import Array, Saturation, WorkingFluid
from explore.fluids.transport import BoundTransport
from explore.plant import boiler
from explore.plant.correlations.validity import Margins, worst
from explore.plant.sizing import Duty, Sized, size
from explore.plant.tubes import Tubing
from explore.system.cycle import Cycle, Drops
from explore.system.figures import TUBE_FIGURES

PASSES = 4
"""Times that the cycle is run again with the pressure drops of tubes sized for it; fixed, so that no design depends on
its batch."""
CHOOSING = 2
"""Passes in which the number of tubes is chosen anew; then it stays, for whole tubes that come and go as the cycle and
its pressure drops close in on each other would keep them apart."""
STEEPEST = 0.8
HIGHEST_REDUCED = 0.95
PA_PER_BAR = 1e5


class Fitted(NamedTuple):
    """Tubes of boilers and condenser for a batch, each (n,).

    ``boilers`` hottest first; ``drops`` [Pa] held at what may be lost; ``fluid_excess`` [-] and ``water_excess`` [Pa] by
    which the largest drop passes its limit.
    """

    boilers: list[Sized]
    condenser: Sized
    drops: Drops
    fluid_excess: Array
    water_excess: Array


class Boiling(NamedTuple):
    """Zones of boilers or a coil, the flow [kg/s] they are counted on, feed and, around a coil, store temperature [K]."""

    zones: list[boiler.Zone]
    zone_flow: Array
    feed_temperature: Array
    store_temperature: Array | None = None


def settle(
    tubing: Tubing,
    bound: BoundTransport,
    fluid: WorkingFluid,
    run: Callable[[Drops | None], Cycle],
    heated: Callable[[Cycle], tuple[Boiling, Array]],
) -> Drops:
    """Find the pressure drops that tubes sized for a cycle put on that cycle.

    ``run`` runs the cycle with drops, ``heated`` gives its zones and the flow [kg/s] that gives the power. More drop
    means more flow, more flow more drop: the flow closes in geometrically, and the last pass starts from its limit.
    """
    cycle, drops, logs = run(None), None, []
    for step in range(PASSES):
        boiling, flow = heated(cycle)
        logs.append(np.log(flow))
        if step == PASSES - 1:
            flow = np.exp(_limit(*logs[-3:]))
        choose = drops is None or step < CHOOSING
        drops = fit(tubing, bound, fluid, cycle, boiling, flow, None if choose else drops).drops
        cycle = run(drops)
    return drops


def _limit(first: Array, second: Array, third: Array) -> Array:
    """Limit of a sequence that closes in geometrically (Aitken), its ratio held below 0.8."""
    step, before = third - second, second - first
    ratio = np.clip(step / np.where(np.abs(before) > 1e-12, before, 1e-12), -STEEPEST, STEEPEST)
    return np.asarray(third + step * ratio / (1.0 - ratio))


def fit(
    tubing: Tubing,
    bound: BoundTransport,
    fluid: WorkingFluid,
    cycle: Cycle,
    hot: Boiling,
    flow: Array,
    held: Drops | None,
) -> Fitted:
    """Size the tubes of all exchangers of a cycle for ``flow`` [kg/s] of working fluid, ``held`` gives their number."""
    counts = [None] * len(cycle.levels) if held is None else held.boiler_counts
    if hot.store_temperature is None:
        duties = boiler_duties(cycle.levels, cycle.raised, flow * cycle.hot_water, hot)
    else:
        duties = [coil_duties(cycle.levels, hot, flow)]
    boilers = []
    for level, own, count in zip(cycle.levels, duties, counts, strict=True):
        tubes = tubing.coil if hot.store_temperature is not None else tubing.boiler
        beside = (
            tuple(i for i, d in enumerate(own) if d.name == "liquid") if level is not cycle.levels[-1] else ()
        )
        reduced = reduced_pressure(level.pressure, bound)
        boilers.append(size(tubing, tubes, "boiling", bound, level.temperature, reduced, own, beside, count))
    count = None if held is None else held.condenser_count
    condenser = _condenser(tubing, bound, fluid, cycle, flow, count)
    return _with_drops(tubing, cycle, boilers, condenser)


def _condenser(
    tubing: Tubing,
    bound: BoundTransport,
    fluid: WorkingFluid,
    cycle: Cycle,
    flow: Array,
    count: Array | None,
) -> Sized:
    p = cycle.condenser_pressure
    sat, exhaust = fluid.saturation(p), fluid.from_enthalpy(p, cycle.into_condenser).temperature
    cooled, liquid = cycle.condenser, cycle.condensate.temperature
    duties = condenser_duties(sat, cooled.zones, liquid, exhaust, cooled.water_flow, flow)
    reduced = reduced_pressure(p, bound)
    count = None if cycle.drops is None else cycle.drops.condenser_count
    return size(tubing, tubing.condenser, "condensing", bound, sat.temperature, reduced, duties, count=count)


def reduced_pressure(pressure: Array, bound: BoundTransport) -> Array:
    """Pressure over the critical one [-], held below 0.95."""
    return np.minimum(pressure / bound.critical_pressure, HIGHEST_REDUCED)


def _with_drops(tubing: Tubing, cycle: Cycle, boilers: list[Sized], condenser: Sized) -> Fitted:
    """Hold each drop at its limit, so that a design far beyond it still has numbers, and tell the excess."""
    most, roof = tubing.largest_drop, tubing.largest_water_drop
    lost = [b.fluid_drop / level.pressure for b, level in zip(boilers, cycle.levels, strict=True)]
    behind = condenser.fluid_drop / cycle.condenser_pressure
    hot = np.sum([b.water_drop for b in boilers], axis=0)
    drops = Drops(
        [np.minimum(x, most) * level.pressure for x, level in zip(lost, cycle.levels, strict=True)],
        np.minimum(behind, most) * cycle.condenser_pressure,
        np.minimum(hot, roof),
        np.minimum(condenser.water_drop, roof),
        [b.count for b in boilers],
        condenser.count,
    )
    return Fitted(
        boilers,
        condenser,
        drops,
        np.max([*lost, behind], axis=0) - most,
        np.maximum(hot, condenser.water_drop) - roof,
    )


def _duty(
    zone: boiler.Zone,
    heat: Array,
    fluid_flow: Array,
    water_flow: Array,
    fluid_temperature: Array,
    sign: float,
) -> Duty:
    """One zone's duty; the water is warmer (sign 1) or colder (-1) by the mean of the end differences."""
    gap = 0.5 * (zone.hot_difference + zone.cold_difference)
    return Duty(
        zone.name,
        heat,
        zone.hot_difference,
        zone.cold_difference,
        fluid_flow,
        water_flow,
        fluid_temperature,
        fluid_temperature + sign * gap,
    )


def boiler_duties(
    levels: list[boiler.Level], raised: list[Array], m_water: Array, hot: Boiling
) -> list[list[Duty]]:
    """Duties of all boilers of a stratified store, hottest first; their zones in the order of the water.

    Between two levels the water divides between the economiser of the hotter boiler and the colder boiler in the
    ratio of their heat. ``m_water`` [kg/s] in all, ``raised`` vapour by each boiler per kg of it.
    """
    duties: list[list[Duty]] = [[] for _ in levels]
    zones, passed = iter(hot.zones), np.zeros_like(m_water)
    for i, level in enumerate(levels):
        economiser = next(zones) if i else None
        vapour, boils = next(zones), next(zones)
        own = np.maximum(raised[i], 0.0) * m_water
        heats = [z.heat * hot.zone_flow for z in (vapour, boils)]
        share = np.ones_like(m_water)
        if economiser is not None:
            warms = np.maximum(economiser.heat * hot.zone_flow, 0.0)
            total = warms + heats[0] + heats[1]
            share = (heats[0] + heats[1]) / np.maximum(total, 1e-9)
            mean = 0.5 * (levels[i - 1].temperature + level.lifted_temperature)
            duties[i - 1].append(_duty(economiser, warms, passed, (1.0 - share) * m_water, mean, 1.0))
        for zone, heat in zip((vapour, boils), heats, strict=True):
            duties[i].append(_duty(zone, heat, own, share * m_water, level.temperature, 1.0))
        passed = passed + own
    last = next(zones)
    mean = 0.5 * (levels[-1].temperature + hot.feed_temperature)
    duties[-1].append(_duty(last, last.heat * hot.zone_flow, passed, m_water, mean, 1.0))
    return duties


def coil_duties(levels: list[boiler.Level], hot: Boiling, flow: Array) -> list[Duty]:
    """Duties of a coil in a fully mixed store; no water is pumped along it."""
    level, none = levels[0], np.zeros_like(flow)
    means = {"liquid": 0.5 * (level.temperature + hot.feed_temperature)}
    duties = [
        _duty(z, z.heat * hot.zone_flow, flow, none, means.get(z.name, level.temperature), 1.0)
        for z in hot.zones
    ]
    around = none if hot.store_temperature is None else hot.store_temperature
    return [d._replace(water_temperature=around) for d in duties]


def condenser_duties(
    sat: Saturation,
    zones: list[boiler.Zone],
    liquid_temperature: Array,
    exhaust_temperature: Array,
    water_flow: Array,
    flow: Array,
) -> list[Duty]:
    """Duties of the condenser; zones and ``water_flow`` [kg/kg] count per kg of fluid.

    The quality at the hot end of the two-phase zone is that of wet exhaust, or one.
    """
    means = {
        "liquid": 0.5 * (sat.temperature + liquid_temperature),
        "two_phase": sat.temperature,
        "vapour": 0.5 * (sat.temperature + exhaust_temperature),
    }
    latent = sat.h_vapour - sat.h_liquid
    duties = []
    for zone in zones:
        duty = _duty(zone, zone.heat * flow, flow, flow * water_flow, means[zone.name], -1.0)
        if zone.name == "two_phase":
            duty = duty._replace(hot_quality=np.clip(zone.heat / latent, 0.0, 1.0))
        duties.append(duty)
    return duties


def figures(fitted: Fitted, pinches: tuple[Array, Array] | None = None) -> Array:
    """Lay the figures of tubes out as (n, len(TUBE_FIGURES)), in that order; empty where they do not apply."""
    n = len(fitted.fluid_excess)
    columns: Margins = dict(worst([*(b.margins for b in fitted.boilers), fitted.condenser.margins]))
    sides = (("boiler", fitted.boilers), ("condenser", [fitted.condenser]))
    for side, (name, parts) in enumerate(sides):
        columns |= {
            f"{name}_tube_count": parts[0].count,
            f"{name}_tube_length_m": np.sum([p.count * p.length for p in parts], axis=0),
            f"{name}_pressure_drop_bar": np.max([p.fluid_drop for p in parts], axis=0) / PA_PER_BAR,
            f"{name}_water_pressure_drop_bar": np.sum([p.water_drop for p in parts], axis=0) / PA_PER_BAR,
        }
        if pinches is not None:
            columns[f"{name}_rated_pinch_K"] = pinches[side]
        for kind in parts[0].zone_areas:
            area = np.sum([p.zone_areas[kind] for p in parts], axis=0)
            passes = np.sum([p.conductances[kind] for p in parts], axis=0)
            U = np.where(area > 0.0, passes / np.where(area > 0.0, area, 1.0), np.nan)
            columns[f"{name}_U_{kind}_W_per_m2K"] = U
    empty = np.full(n, np.nan)
    return np.stack([np.broadcast_to(columns.get(name, empty), n) for name in TUBE_FIGURES], axis=1)
