"""The fully mixed store: a fixed engine over a whole discharge, from full to the floor."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from explore.cycle.built import MixedEngine
from explore.cycle.curves import Held, States, falling_speed, governed_curves, ungoverned_curves, work_per_kg
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


def floor_temperature(
    engine: MixedEngine, stop: Array, top: Array, work: tuple[Array, Array, Array]
) -> Array:
    """Lowest store temperature [K] used: T_stop, or where net work vanishes if that lies above it.

    ``work`` [J/kg], nothing governed, at T_stop, halfway and of the full store: the parabola through the three gives the
    first guess. An engine that gives nothing even from a full store gets the least span below full.
    """
    floor, at_stop, at_top = stop.copy(), work[0], work[2]
    idle = at_stop <= 0.0
    floor[idle] = top[idle] - LEAST_SPAN_K
    some = np.flatnonzero(idle & (at_top > 0.0))
    if len(some) == 0:
        return floor
    part, low, high = engine.take(some), stop[some], top[some]
    begin, halfway, end = (each[some] for each in work)
    bend = 2.0 * (begin - 2.0 * halfway + end)
    rise = end - begin - bend
    root = np.sqrt(np.maximum(rise**2 - 4.0 * bend * begin, 0.0))
    place = np.clip(-2.0 * begin / np.maximum(rise + root, 1e-3), 0.0, 1.0)
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
    sizing = sizing_temperature(designs)
    empty, weak, full = _ungoverned(engine, stop, sizing, top)
    floor = floor_temperature(engine, stop, top, (empty.net_work, rated.net_work, full.net_work))
    rest = standing(designs, water, plant)
    held = store.held_temperature(
        rest.loss, top, plant.room_temperature, plant.hold_seconds, rest.mass * rest.heat_capacity
    )
    # a falling speed of an engine with constant losses changes no figure per kg: the year takes power as power asked
    idle = plant.laws is None
    run = np.flatnonzero(floor < top - LEAST_SPAN_K)
    exchanging = exchangers_of(
        fluid, water, plant, designs, weak, coil_at(fluid, water, weak, sizing), size.flow
    )
    if idle:
        curves = ungoverned_curves(engine, floor, top, run)
        running = _falling(engine, rated, curves.at_top())
    else:
        limited = held_from(engine, sizing, top, _power(engine, full), plant.power_may_rise)
        ends, middle = (floor, sizing, top), 0.5 * (top + stop)
        curves, states = governed_curves(engine, ends, middle, limited, plant.power_may_rise, run)
        exchanging = _busiest(engine, plant, designs, exchanging, size.flow * weak.heat, states, limited)
        running = _running(engine, rated, states, plant.power_may_rise)
    grid = floor[:, None] + np.linspace(0.0, 1.0, GRID) * (top - floor)[:, None]
    efficiency, cooling = (np.maximum(curve.at(grid), 0.0) for curve in (curves.efficiency, curves.cooling))
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
            part_load=plant.smallest_part_load - _part_load(rated.net_work, weak.net_work),
            efficiencies=drive[:, None] * efficiency,
            powers=curves.power_at(grid, efficiency),
            cooling=cooling,
        ),
    )


def _part_load(rated: Array, weak: Array) -> Array:
    """Net work at the sizing point over that at the rated point [-]; below zero where the engine stands at the latter."""
    return np.where(rated > 0.0, weak / np.maximum(rated, LEAST_WORK), rated / np.maximum(weak, LEAST_WORK))


def _ungoverned(engine: MixedEngine, *temperatures: Array) -> list[Cycle]:
    """Run the cycle with the store at each of several temperatures [K], nothing governed."""
    n = len(temperatures[0])
    places = [np.arange(k * n, (k + 1) * n) for k in range(len(temperatures))]
    cycle = engine.take(np.tile(np.arange(n), len(temperatures))).at(np.concatenate(temperatures))
    return [cycle.take(index) for index in places]


def _power(engine: MixedEngine, cycle: Cycle) -> Array:
    """Net power [W] of the built engine in a cycle with nothing governed."""
    assert engine.built is not None
    return np.asarray(engine.built.rate * cycle.flow_ratio * cycle.net_work)


def _busiest(
    engine: MixedEngine,
    plant: Plant,
    designs: Designs,
    at_sizing: Exchangers,
    heat_flow: Array,
    known: States,
    limited: Held,
) -> Exchangers:
    """Exchangers for the state in which they pass most heat: that at the sizing point, with a full store, or held.

    ``heat_flow`` [W] is that at the sizing point. Drops are those of the sizing point too, and settled there.
    """
    fluid, water, top = engine.fluid, engine.water, designs.top_temperature
    everyone = np.arange(len(top))
    states = [(everyone, top, known.full)]
    if len(limited.rows):  # held, it draws less at first, until its lower efficiency makes up for that
        states.append((limited.rows, limited.temperature, known.held))
    greatest, busiest = heat_flow.copy(), at_sizing.take(everyone)
    for rows, T, state in states:
        some, bound = designs.take(rows), fluid.take(rows)
        coil = coil_at(bound, water, state.cycle, T)
        own = exchangers_of(bound, water, plant, some, state.cycle, coil, state.flow)
        busier = np.flatnonzero(state.heat_flow > greatest[rows])
        greatest[rows[busier]] = state.heat_flow[busier]
        busiest.fill(rows[busier], own.take(busier))
    return replace(busiest, tubes=replace(busiest.tubes, unsettled=at_sizing.tubes.unsettled))


def held_from(engine: MixedEngine, sizing: Array, top: Array, power: Array, power_may_rise: float) -> Held:
    """Find from which store temperature on the throttle holds free engines to what their load takes.

    ``power`` [W] that the full store gives, governed or not.
    """
    built = engine.built
    assert built is not None
    most = power_may_rise * built.frame.power
    free = built.governing == GOVERNORS.index("free")
    rows = np.flatnonzero(free & (power > most * (1.0 - HELD)))
    part = engine.take(rows)

    def lack(T: Array) -> Array:
        return np.asarray(1.0 - _power(part, part.at(T)) / most[rows])

    low, high = sizing[rows], top[rows]
    if len(rows) == 0:
        return Held(rows, high)
    slope = -(power_may_rise - 1.0) / np.maximum(high - low, 1.0)
    return Held(rows, falling_root(lack, low, high, 0.5 * (low + high), slope, ZERO_STEPS))


def _running(engine: MixedEngine, rated: Cycle, states: States, power_may_rise: float) -> Running:
    """Speed and power at the full store, at the rated and at the sizing point."""
    built, full = engine.built, states.full
    assert built is not None
    frame, falling = built.frame, falling_speed(engine)
    speed, power = frame.frequency.copy(), _power(engine, rated)
    speed[falling], power[falling] = states.turning.frequency, states.turning.power
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
    middle = _power(engine, rated) / frame.power
    over = [np.maximum(full, 1.0), np.maximum(middle, 1.0), np.ones_like(full)]
    under = [np.minimum(np.maximum(full, 0.0), 1.0), np.clip(middle, 0.0, 1.0), np.ones_like(full)]
    return Running(
        per_stage([frame.frequency / x for x in over]), per_stage([frame.power * x for x in under])
    )
