"""The fully mixed store: a fixed engine over a whole discharge, from full to the floor.

The engine is sized once; away from its rated point its receiver pressures follow from the continuity of mass.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from explore.cycle import exchangers
from explore.cycle.cycle import Cycle, Drops, Machine, Settings, run_cycle
from explore.cycle.duties import Boiling
from explore.cycle.performance import (
    GRID,
    LEAST_SPAN_K,
    LEAST_WORK,
    Plant,
    boiling_start,
    capped,
    cycle_figures,
    exchanger_figures,
    per_stage,
    settings_of,
    standing,
)
from explore.design.designs import Designs
from explore.fluids.interface import Array, Index, WorkingFluid
from explore.fluids.water import Water
from explore.plant import boiler, glide, store
from explore.plant.part_load import FixedEngine, freeze
from explore.plant.roots import falling_root

NODES, WEIGHTS = np.polynomial.legendre.leggauss(8)
TO_SERIES = np.linalg.inv(np.polynomial.legendre.legvander(NODES, len(NODES) - 1)).T
GRID_BASIS = np.polynomial.legendre.legvander(np.linspace(-1.0, 1.0, GRID), len(NODES) - 1).T
ZERO_STEPS = 4
SIZING_SHARE = 0.25
LACK_J_PER_KG_K = 100.0


@dataclass(frozen=True)
class MixedEngine:
    """A fixed engine on a fully mixed store: run it at any store temperature.

    ``approach`` [K] is the smallest difference to the boiling fluid. A mixture has it where boiling ends, at its
    dew point; a pure fluid has it everywhere.
    """

    fluid: WorkingFluid
    water: Water
    machine: Machine
    settings: Settings
    approach: Array
    stages: int
    engine: FixedEngine | None = None
    drops: Drops | None = None

    def take(self, index: Index) -> MixedEngine:
        """Return the engines of the designs ``index``."""
        return MixedEngine(
            self.fluid.take(index),
            self.water,
            self.machine,
            self.settings.take(index),
            self.approach[index],
            self.stages,
            None if self.engine is None else self.engine.take(index),
            None if self.drops is None else self.drops.take(index),
        )

    def at(self, store_temperature: Array) -> Cycle:
        """Run the cycle with the store at T [K]; without an engine it is sized there."""
        boiling_end, _ = capped(self.fluid, store_temperature - self.approach)
        T = boiling_start(self.fluid, boiling_end)
        return run_cycle(
            self.fluid,
            self.water,
            self.machine,
            self.settings,
            [T],
            self.stages,
            fixed=self.engine,
            drops=self.drops,
        )


def floor_temperature(engine: MixedEngine, stop: Array, top: Array, rated_work: Array) -> Array:
    """Lowest store temperature [K] used: T_stop, or where net work vanishes if that lies above it.

    ``rated_work`` [J/kg] is that halfway; the parabola through it and both ends gives the first guess. An engine
    that gives nothing even from a full store gets the least span below full.
    """
    work, floor = engine.at(stop).net_work, stop.copy()
    idle = np.flatnonzero(work <= 0.0)
    at_top = engine.take(idle).at(top[idle]).net_work
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
        return -part.at(T).net_work

    zero = falling_root(lack, low, high, low + place * (high - low), slope, ZERO_STEPS)
    floor[some] = np.minimum(zero, high - LEAST_SPAN_K)
    return floor


def mixed_engine(
    fluid: WorkingFluid, water: Water, plant: Plant, designs: Designs, stages: int
) -> tuple[Cycle, MixedEngine]:
    """Size the engine at the middle of the discharge; return that cycle and the fixed engine.

    Pressure drops of tubes are those of the sizing point and stay so over the discharge.
    """
    top, approach = designs.top_temperature, designs.boil_approach
    stop = np.minimum(designs.stop_temperature, top - LEAST_SPAN_K)
    superheat = np.maximum(np.minimum(designs.superheat, approach - 1.0), 0.0)
    settings = settings_of(designs, superheat)

    def sized(drops: Drops | None = None) -> tuple[Cycle, MixedEngine]:
        free = MixedEngine(fluid, water, plant.machine, settings, approach, stages, drops=drops)
        rated = free.at(0.5 * (top + stop))
        return rated, replace(free, engine=freeze(rated.stages))

    if plant.tubing is None:
        return sized()
    sizing = sizing_temperature(designs)
    drops = exchangers.settle(
        plant.tubing,
        plant.tubing.bind(designs.fluid),
        fluid,
        1,
        lambda drops: sized(drops)[1].at(sizing),
        lambda cycle: coil_boiling(fluid, plant, cycle, sizing),
    )
    return sized(drops)


def sizing_temperature(designs: Designs) -> Array:
    """Store temperature [K] at which engine and exchangers are sized for the power asked."""
    stop = np.minimum(designs.stop_temperature, designs.top_temperature - LEAST_SPAN_K)
    return stop + SIZING_SHARE * (designs.top_temperature - stop)


def coil_boiling(
    fluid: WorkingFluid, plant: Plant, cycle: Cycle, store_temperature: Array
) -> tuple[Boiling, Array]:
    """Zones of the coil in the store, and the flow [kg/s] of working fluid that gives the power."""
    flow = plant.power / np.maximum(cycle.net_work, LEAST_WORK)
    feed = cycle.warmed_temperature
    zones = _coil_zones(fluid, cycle, store_temperature, feed)
    return Boiling(zones, feed, store_temperature), flow


def mixed(fluid: WorkingFluid, water: Water, plant: Plant, designs: Designs, stages: int) -> dict[str, Array]:
    """Performance of designs on a fully mixed store, all with the same number of stages.

    The engine is sized at the middle of the discharge. Net work and heat are then found at eight Gauss-Legendre
    nodes between empty and full; the polynomial through them serves the integral up to the temperature
    left after the holding time and the grid handed to the year.
    """
    top, approach = designs.top_temperature, designs.boil_approach
    stop = np.minimum(designs.stop_temperature, top - LEAST_SPAN_K)
    rated, engine = mixed_engine(fluid, water, plant, designs, stages)
    floor = floor_temperature(engine, stop, top, rated.net_work)
    sizing = sizing_temperature(designs)
    sized = engine.at(sizing)
    sized_work = np.maximum(sized.net_work, LEAST_WORK)
    boiling, flow = coil_boiling(fluid, plant, sized, sizing)
    rest = standing(designs, water, plant)
    held = store.held_temperature(
        rest["store_loss"],
        top,
        plant.room_temperature,
        plant.hold_seconds,
        rest["store_mass"] * rest["heat_capacity"],
    )
    series = _discharge(
        engine, floor, top, sized_work * sized.flow_ratio, np.flatnonzero(floor < top - LEAST_SPAN_K)
    )
    efficiency, heating, cooling = (s @ GRID_BASIS for s in series)
    efficiency = np.maximum(efficiency, 0.0)
    hottest, excess = capped(fluid, top - approach)
    per_revolution = flow / sized.flow_ratio / plant.speed
    return (
        cycle_figures(fluid, rated)
        | rest
        | exchanger_figures(fluid, water, plant, designs, sized, boiling, flow)
        | {
            "highest_boiler_pressure": fluid.dew_pressure(hottest),
            "fluid_flow": flow,
            "swept_volumes": per_stage([s.swept_volume * per_revolution for s in rated.stages]),
            "work_per_volume": water.density(top) * _work_per_kg(water, series[0], floor, top, held),
            "held_temperature": held,
            "floor_temperature": floor,
            "efficiency_grid": efficiency,
            "power_grid": efficiency * np.maximum(heating, 0.0),
            "cooling_grid": np.maximum(cooling, 0.0),
            "part_load": plant.smallest_part_load - sized.net_work / np.maximum(rated.net_work, LEAST_WORK),
            "critical_excess": excess,
        }
    )


def _coil_zones(
    fluid: WorkingFluid, sized: Cycle, store_temperature: Array, feed_temperature: Array
) -> list[boiler.Zone]:
    level, warmed = sized.levels[0], sized.warmed
    if fluid.glides:
        return glide.coil_zones(fluid, level, store_temperature, warmed, feed_temperature)
    return boiler.coil_zones(level, store_temperature, warmed, feed_temperature)


def _discharge(
    engine: MixedEngine, floor: Array, top: Array, sized_power: Array, works: Index
) -> tuple[Array, Array, Array]:
    """Legendre series (n, 8) on [floor, top] of net work per heat, heat rate and cooling water per heat.

    The heat rate [-] is that at full speed over the power asked for; where power and efficiency vanish
    together, it does not. Only the designs ``works`` are run; the others get zeros.
    """
    k = len(NODES)
    low, high = floor[works], top[works]
    T = low[:, None] + 0.5 * (NODES + 1.0) * (high - low)[:, None]
    cycle = engine.take(np.repeat(works, k)).at(T.ravel())

    def series(values: Array) -> Array:
        out = np.zeros((len(top), k))
        out[works] = values.reshape(-1, k) @ TO_SERIES
        return out

    return (
        series(cycle.net_work / cycle.heat),
        series(cycle.heat * cycle.flow_ratio / np.repeat(sized_power[works], k)),
        series(cycle.condenser.water_flow / cycle.heat),
    )


def _work_per_kg(water: Water, series: Array, floor: Array, top: Array, held: Array) -> Array:
    """Integral of c_w w_net/q dT from the floor to the held temperature [J/kg], Gauss-Legendre on 8 nodes.

    A store that falls below the floor while it is held gives a negative result that grows with the lack.
    """
    half = 0.5 * (held - floor)
    T = floor[:, None] + (NODES + 1.0) * half[:, None]
    place = np.clip(2.0 * (T - floor[:, None]) / (top - floor)[:, None] - 1.0, -1.0, 1.0)
    basis = np.polynomial.legendre.legvander(place, len(NODES) - 1)
    efficiency = np.einsum("nki,ni->nk", basis, series)
    work = half * np.sum(WEIGHTS * water.heat_capacity(T) * efficiency, axis=1)
    return np.where(half > 0.0, work, half * LACK_J_PER_KG_K)
