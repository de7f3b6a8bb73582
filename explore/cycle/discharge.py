"""The fully mixed store: a fixed engine over a whole discharge, from full to the floor."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from explore.cycle.built import Governed, MixedEngine
from explore.cycle.curves import governed_curves, ungoverned_curves, work_per_kg
from explore.cycle.performance import (
    GRID,
    LEAST_SPAN_K,
    LEAST_WORK,
    Plant,
    capped,
    cycle_figures,
    exchanger_figures,
    per_stage,
    standing,
)
from explore.cycle.sizing import coil_at, mixed_engine, sizing_temperature
from explore.design.designs import Designs
from explore.fluids.interface import Array, Index, WorkingFluid
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
) -> tuple[Cycle, MixedEngine, dict[str, Array]]:
    """Rated cycle, engine and performance of designs on a fully mixed store, all with the same number of stages.

    The engine is rated at the middle of the discharge. Net work and heat are then found at nodes between empty
    and full, below and above the sizing point by themselves where a governor bends them there; the polynomials through
    them serve the integral up to the temperature left after the holding time and the grid handed to the year.
    """
    top, approach = designs.top_temperature, designs.boil_approach
    stop = np.minimum(designs.stop_temperature, top - LEAST_SPAN_K)
    rated, engine, works = mixed_engine(fluid, water, plant, designs, stages)
    floor = floor_temperature(engine, stop, top, rated.net_work)
    sizing = sizing_temperature(designs)
    rest = standing(designs, water, plant)
    held = store.held_temperature(
        rest["store_loss"],
        top,
        plant.room_temperature,
        plant.hold_seconds,
        rest["store_mass"] * rest["heat_capacity"],
    )
    # a falling speed of an engine with constant losses changes no figure per kg: the year takes power as power asked
    idle = plant.laws is None
    weak = engine.at(sizing)
    run = np.flatnonzero(floor < top - LEAST_SPAN_K)
    exchanging = exchanger_figures(
        fluid, water, plant, designs, weak, coil_at(fluid, water, weak, sizing), works.flow
    )
    if idle:
        curves = ungoverned_curves(engine, floor, top, run)
        power_full = curves.at_top()
        speeds, powers = _falling(engine, rated, power_full)
    else:
        full = engine.governed(top, plant.power_may_rise)
        curves = governed_curves(engine, floor, sizing, top, full, plant.power_may_rise, run)
        everyone = np.arange(len(top))
        states = [(everyone, top, full)]
        limited = _held_from(engine, sizing, top, full, plant.power_may_rise)
        if len(limited.rows):  # held, it draws less at first, until its lower efficiency makes up for that
            states.append((limited.rows, limited.temperature, limited.state))
        greatest = works.flow * weak.heat
        for rows, T, state in states:
            some, bound = designs.take(rows), fluid.take(rows)
            coil = coil_at(bound, water, state.cycle, T)
            own = exchanger_figures(bound, water, plant, some, state.cycle, coil, state.flow)
            busier = np.flatnonzero(state.heat_flow > greatest[rows])
            greatest[rows[busier]] = state.heat_flow[busier]
            for name, values in own.items():
                if name != "drops_unsettled":  # drops are those of the sizing point, and settled there
                    exchanging[name] = exchanging[name].copy()
                    exchanging[name][rows[busier]] = values[busier]
        speeds, powers = _running(engine, rated, full, plant.power_may_rise, 0.5 * (top + stop))
    grid = floor[:, None] + np.linspace(0.0, 1.0, GRID) * (top - floor)[:, None]
    efficiency, heating, cooling = (np.maximum(curve.at(grid), 0.0) for curve in curves)
    hottest, excess = capped(fluid, top - approach)
    drive = drive_efficiency(designs.speed, plant.load_speed)
    given = work_per_kg(water, curves.efficiency, floor, held)
    done = (
        cycle_figures(fluid, rated)
        | rest
        | exchanging
        | works.figures()
        | {
            "highest_boiler_pressure": fluid.dew_pressure(hottest),
            "engine_power": plant.frame(designs).power,
            "work_per_volume": water.density(top) * np.where(given > 0.0, drive, 1.0) * given,
            "held_temperature": held,
            "floor_temperature": floor,
            "efficiency_grid": drive[:, None] * efficiency,
            "power_grid": efficiency * heating,
            "speeds": speeds,
            "powers": powers,
            "cooling_grid": cooling,
            "part_load": plant.smallest_part_load - weak.net_work / np.maximum(rated.net_work, LEAST_WORK),
            "critical_excess": excess,
        }
    )
    return rated, engine, done


class Held(NamedTuple):
    """Free engines ``rows`` where their load begins to hold them: store ``temperature`` [K] and the state there."""

    rows: Index
    temperature: Array
    state: Governed


def _held_from(engine: MixedEngine, sizing: Array, top: Array, full: Governed, power_may_rise: float) -> Held:
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
) -> tuple[Array, Array]:
    """Speed [1/s] and power [W] at the full store, at the rated and at the sizing point, (n, 3) each."""
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
    return (
        per_stage([full.frequency, speed, frame.frequency]),
        per_stage([full.power, np.minimum(power, most), frame.power]),
    )


def _falling(engine: MixedEngine, rated: Cycle, full: Array) -> tuple[Array, Array]:
    """The same of an engine with constant losses whose speed falls; ``full`` power at full speed and store, over P."""
    built = engine.built
    assert built is not None
    frame = built.frame
    middle = built.rate * rated.flow_ratio * rated.net_work / frame.power
    over = [np.maximum(full, 1.0), np.maximum(middle, 1.0), np.ones_like(full)]
    under = [np.minimum(np.maximum(full, 0.0), 1.0), np.clip(middle, 0.0, 1.0), np.ones_like(full)]
    return per_stage([frame.frequency / x for x in over]), per_stage([frame.power * x for x in under])
