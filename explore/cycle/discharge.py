"""The fully mixed store: a fixed engine over a whole discharge, from full to the floor."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from explore.cycle.built import Governed, MixedEngine
from explore.cycle.curves import Held, governed_curves, ungoverned_curves, work_per_kg
from explore.cycle.performance import (
    GRID,
    Discharge,
    EngineSize,
    Exchangers,
    Performance,
    Running,
    per_stage,
)
from explore.cycle.rated import (
    LEAST_SPAN_K,
    LEAST_WORK,
    Plant,
    capped,
    exchangers_of,
    performance_of,
    standing,
)
from explore.cycle.sizing import coil_at, mixed_engine, sizing_temperature
from explore.design.designs import Designs
from explore.fluids.interface import Array, WorkingFluid
from explore.fluids.water import Water
from explore.plant import store
from explore.plant.circuit import Cycle
from explore.plant.governor import (
    GOVERNORS,
    drive_efficiency,
)
from explore.plant.roots import falling_root

ZERO_STEPS = 4
"""Steps to a temperature from a first guess close by; fixed, so that no design depends on its batch."""
HELD = 1e-4
"""A power this near to what the load takes is held there."""


def floor_temperature(engine: MixedEngine, stop: Array, top: Array, rated_work: Array) -> Array:
    """Lowest store temperature [K] used: T_stop, or where net work vanishes if that lies above it.

    ``rated_work`` [J/kg] is that halfway; the parabola through it and both ends gives the first guess. An engine
    that gives nothing even from a full store gets the least span below full.
    """
    work, floor = engine.net_work_at(stop), stop.copy()
    idle = np.flatnonzero(work <= 0.0)
    at_top = engine.take(idle).net_work_at(top[idle])
    floor[idle] = top[idle] - LEAST_SPAN_K
    some = idle[at_top > 0.0]
    if len(some) == 0:
        return floor
    part, low, high = engine.take(some), stop[some], top[some]
    bend = 2.0 * (work[some] - 2.0 * rated_work[some] + at_top[at_top > 0.0])
    rise = at_top[at_top > 0.0] - work[some] - bend
    root = np.sqrt(np.maximum(rise**2 - 4.0 * bend * work[some], 0.0))
    place = np.clip(-2.0 * work[some] / np.maximum(rise + root, 1e-3), 0.0, 1.0)
    slope = -np.maximum(root, 1.0) / (high - low)

    def lack(T: Array) -> Array:
        return -part.net_work_at(T)

    zero = falling_root(lack, low, high, low + place * (high - low), slope, ZERO_STEPS)
    floor[some] = np.minimum(zero, high - LEAST_SPAN_K)
    return floor


def mixed(
    fluid: WorkingFluid, water: Water, plant: Plant, designs: Designs, stages: int
) -> tuple[Cycle, MixedEngine, Performance]:
    """Rated cycle, engine and performance of designs on a fully mixed store, all with the same number of stages.

    The engine is rated at the middle of the discharge. Net work and heat are then found at nodes between empty
    and full, below and above the sizing point by themselves where a governor bends them there; the polynomials through
    them serve the integral up to the temperature left after the holding time and the grid handed to the year.
    """
    rated, engine, size = mixed_engine(fluid, water, plant, designs, stages)
    return rated, engine, discharged(plant, designs, rated, engine, size)


def discharged(
    plant: Plant, designs: Designs, rated: Cycle, engine: MixedEngine, size: EngineSize
) -> Performance:
    """Performance of an engine of ``size`` with its ``rated`` cycle: its discharge, as :func:`mixed` tells."""
    fluid, water = engine.fluid, engine.water
    top, approach = designs.top_temperature, designs.boil_approach
    stop = np.minimum(designs.stop_temperature, top - LEAST_SPAN_K)
    floor = floor_temperature(engine, stop, top, rated.net_work)
    sizing = sizing_temperature(designs)
    rest = standing(designs, water, plant)
    held = store.held_temperature(
        rest.loss, top, plant.room_temperature, plant.hold_seconds, rest.mass * rest.heat_capacity
    )
    # a falling speed of an engine with constant losses changes no figure per kg: the year takes power as power asked
    idle = plant.laws is None
    weak = engine.at(sizing)
    run = np.flatnonzero(floor < top - LEAST_SPAN_K)
    exchanging = exchangers_of(
        fluid, water, plant, designs, weak, coil_at(fluid, water, weak, sizing), size.flow
    )
    if idle:
        curves = ungoverned_curves(engine, floor, top, run)
        running = _falling(engine, rated, curves.at_top())
    else:
        full = engine.governed(top, plant.power_may_rise)
        limited = held_from(engine, sizing, top, full, plant.power_may_rise)
        curves = governed_curves(engine, (floor, sizing, top), full, limited, plant.power_may_rise, run)
        exchanging = _busiest(engine, plant, designs, exchanging, size.flow * weak.heat, full, limited)
        running = _running(engine, rated, full, plant.power_may_rise, 0.5 * (top + stop))
    grid = floor[:, None] + np.linspace(0.0, 1.0, GRID) * (top - floor)[:, None]
    efficiency, heating, cooling = (np.maximum(curve.at(grid), 0.0) for curve in curves)
    hottest, excess = capped(fluid, top - approach)
    drive = drive_efficiency(designs.speed, plant.load_speed)
    given = work_per_kg(water, curves.efficiency, floor, held)
    return performance_of(
        fluid,
        rated,
        highest_pressure=fluid.dew_pressure(hottest),
        critical_excess=excess,
        engine=size,
        running=running,
        exchangers=exchanging,
        store=rest,
        work_per_volume=water.density(top) * np.where(given > 0.0, drive, 1.0) * given,
        discharge=Discharge(
            held_temperature=held,
            floor_temperature=floor,
            part_load=plant.smallest_part_load - weak.net_work / np.maximum(rated.net_work, LEAST_WORK),
            efficiencies=drive[:, None] * efficiency,
            powers=efficiency * heating,
            cooling=cooling,
        ),
    )


def _busiest(
    engine: MixedEngine,
    plant: Plant,
    designs: Designs,
    at_sizing: Exchangers,
    heat_flow: Array,
    full: Governed,
    limited: Held,
) -> Exchangers:
    """Exchangers for the state in which they pass most heat: that at the sizing point, with a full store, or held.

    ``heat_flow`` [W] is that at the sizing point. Drops are those of the sizing point too, and settled there.
    """
    fluid, water, top = engine.fluid, engine.water, designs.top_temperature
    everyone = np.arange(len(top))
    states = [(everyone, top, full)]
    if len(limited.rows):  # held, it draws less at first, until its lower efficiency makes up for that
        states.append((limited.rows, limited.temperature, limited.state))
    greatest, busiest = heat_flow.copy(), at_sizing.take(everyone)
    for rows, T, state in states:
        some, bound = designs.take(rows), fluid.take(rows)
        coil = coil_at(bound, water, state.cycle, T)
        own = exchangers_of(bound, water, plant, some, state.cycle, coil, state.flow)
        busier = np.flatnonzero(state.heat_flow > greatest[rows])
        greatest[rows[busier]] = state.heat_flow[busier]
        busiest.fill(rows[busier], own.take(busier))
    return replace(busiest, tubes=replace(busiest.tubes, unsettled=at_sizing.tubes.unsettled))


def held_from(engine: MixedEngine, sizing: Array, top: Array, full: Governed, power_may_rise: float) -> Held:
    """Find from which store temperature on the throttle holds free engines to what their load takes."""
    built = engine.built
    assert built is not None
    most = power_may_rise * built.frame.power
    free = built.governing == GOVERNORS.index("free")
    rows = np.flatnonzero(free & (full.power > most * (1.0 - HELD)))
    part = engine.take(rows)

    def lack(T: Array) -> Array:
        cycle = part.at(T)
        assert part.built is not None
        return np.asarray(1.0 - part.built.rate * cycle.flow_ratio * cycle.net_work / most[rows])

    low, high = sizing[rows], top[rows]
    if len(rows) == 0:
        return Held(rows, high, full)
    slope = -(power_may_rise - 1.0) / np.maximum(high - low, 1.0)
    T = falling_root(lack, low, high, 0.5 * (low + high), slope, ZERO_STEPS)
    return Held(rows, T, part.governed(T, power_may_rise))


def _running(
    engine: MixedEngine, rated: Cycle, full: Governed, power_may_rise: float, middle: Array
) -> Running:
    """Speed and power at the full store, at the rated and at the sizing point."""
    built = engine.built
    assert built is not None
    frame = built.frame
    speed, power = frame.frequency.copy(), built.rate * rated.flow_ratio * rated.net_work
    falling = np.flatnonzero(built.governing == GOVERNORS.index("speed"))
    if len(falling):
        held = engine.take(falling).governed(middle[falling], power_may_rise)
        speed[falling], power[falling] = held.frequency, held.power
    free = built.governing == GOVERNORS.index("free")
    most = frame.power * np.where(free, power_may_rise, 1.0)
    return Running(
        per_stage([full.frequency, speed, frame.frequency]),
        per_stage([full.power, np.minimum(power, most), frame.power]),
    )


def _falling(engine: MixedEngine, rated: Cycle, full: Array) -> Running:
    """The same of an engine with constant losses whose speed falls; ``full`` power at full speed and store, over P."""
    built = engine.built
    assert built is not None
    frame = built.frame
    middle = built.rate * rated.flow_ratio * rated.net_work / frame.power
    over = [np.maximum(full, 1.0), np.maximum(middle, 1.0), np.ones_like(full)]
    under = [np.minimum(np.maximum(full, 0.0), 1.0), np.clip(middle, 0.0, 1.0), np.ones_like(full)]
    return Running(
        per_stage([frame.frequency / x for x in over]), per_stage([frame.power * x for x in under])
    )
