"""From designs to performance, store mode by store mode: cycle, work per litre, sizes.

Each function serves one group of designs that share store mode, stages and pressure levels, so that the
physics runs without masks. Results are gathered in one :class:`Performance` for the whole batch.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from explore.fluids.interface import CRITICAL_MARGIN, Array, Index, WorkingFluid
from explore.fluids.water import Water
from explore.plant import boiler, exchange, store
from explore.plant.part_load import FixedEngine, freeze
from explore.plant.roots import falling_root
from explore.system.cycle import Cycle, Hot, Machine, Settings, evaporating_temperatures, run_cycle
from explore.system.designs import Designs

GRID = 129
"""Temperatures between empty and full at which a fully mixed store's part load is handed to the year."""
NODES, WEIGHTS = np.polynomial.legendre.leggauss(8)
TO_SERIES = np.linalg.inv(np.polynomial.legendre.legvander(NODES, len(NODES) - 1)).T
GRID_BASIS = np.polynomial.legendre.legvander(np.linspace(-1.0, 1.0, GRID), len(NODES) - 1).T
LEAST_WORK = 50.0
LEAST_SPAN_K = 0.5
ZERO_STEPS = 4
SIZING_SHARE = 0.25
LACK_J_PER_KG_K = 100.0


@dataclass(frozen=True)
class Plant:
    """Scalar parameters of the whole plant, SI and kelvin (sources: explore.schema)."""

    machine: Machine
    end_approach: float
    boiler_coefficients: dict[str, float]
    condenser_coefficients: dict[str, float]
    regenerator_coefficient: float
    insulation_conductivity: float
    outside_film: float
    fittings: float
    room_temperature: float
    hold_seconds: float
    power: float
    speed: float
    smallest_part_load: float


@dataclass(frozen=True)
class Performance:
    """What the plant does, arrays over the batch, SI and kelvin; stage columns are (n, 3).

    Per-kilogram figures are those of the rated point. ``efficiency_grid``, ``power_grid`` and ``cooling_grid`` (n, GRID)
    describe a fully mixed store from ``floor_temperature`` to full: net work per heat, power at full speed over that asked,
    and cooling water [kg] per joule of heat.
    """

    net_work: Array
    shaft_work: Array
    pump_work: Array
    circulation_work: Array
    heat: Array
    isentropic_efficiency: Array
    exhaust_quality: Array
    boiler_pressure: Array
    highest_boiler_pressure: Array
    lowest_boiler_pressure: Array
    condenser_pressure: Array
    hot_water: Array
    cooling_water: Array
    return_temperature: Array
    volume_ratios: Array
    swept_volumes: Array
    inlet_pressures: Array
    stage_works: Array
    boiler_area: Array
    condenser_area: Array
    regenerator_area: Array
    fluid_flow: Array
    suction_pressure: Array
    suction_volume: Array
    boiler_liquid_density: Array
    boiler_vapour_density: Array
    condenser_liquid_density: Array
    condenser_vapour_density: Array
    receiver_densities: Array
    work_per_volume: Array
    held_fraction: Array
    held_temperature: Array
    store_mass: Array
    store_loss: Array
    heat_capacity: Array
    engine_heat: Array
    floor_temperature: Array
    efficiency_grid: Array
    power_grid: Array
    cooling_grid: Array
    clearance: Array
    recompression: Array
    hot_end: Array
    cold_end: Array
    level_flow: Array
    part_load: Array
    critical_excess: Array

    @classmethod
    def empty(cls, n: int) -> Performance:
        """Return a record of NaN for ``n`` designs."""
        wide = {
            name: 3
            for name in (
                "volume_ratios",
                "swept_volumes",
                "inlet_pressures",
                "stage_works",
                "receiver_densities",
            )
        }
        wide |= {name: GRID for name in ("efficiency_grid", "power_grid", "cooling_grid")}
        return cls(
            **{f.name: np.full((n, wide[f.name]) if f.name in wide else n, np.nan) for f in fields(cls)}
        )

    def take(self, index: Index) -> Performance:
        """Return the rows ``index``."""
        return Performance(**{f.name: getattr(self, f.name)[index] for f in fields(self)})

    def fill(self, index: Index, part: dict[str, Array]) -> None:
        """Write a group's results into the rows ``index``."""
        for name, values in part.items():
            getattr(self, name)[index, ...] = values


def settings_of(designs: Designs, superheat: Array) -> Settings:
    """Return the settings a design puts on its cycle."""
    return Settings(
        superheat,
        designs.condensing_temperature,
        designs.subcooling,
        designs.pinch_condenser,
        designs.release_ratio,
        designs.regenerator_effectiveness,
    )


def capped(fluid: WorkingFluid, temperature: Array) -> tuple[Array, Array]:
    """Hold a saturation temperature at 0.95 of the critical one; return it and the excess [K]."""
    excess = temperature - CRITICAL_MARGIN * fluid.critical_temperature
    return temperature - np.maximum(excess, 0.0), excess


def standing(designs: Designs, water: Water, plant: Plant) -> dict[str, Array]:
    """Mass [kg], loss coefficient [W/K] and mean heat capacity [J/(kg K)] of the store at rest."""
    top, room = designs.top_temperature, plant.room_temperature
    mean = water.enthalpy(top) - water.enthalpy(np.full_like(top, room))
    return {
        "store_mass": water.density(top) * designs.volume,
        "store_loss": store.loss_coefficient(
            designs.volume,
            designs.insulation,
            plant.insulation_conductivity,
            plant.outside_film,
            plant.fittings,
        ),
        "heat_capacity": mean / (top - room),
    }


def per_stage(values: list[Array]) -> Array:
    """Stack up to three stages as (n, 3), empty where there is no stage."""
    blank = np.full_like(values[0], np.nan)
    return np.stack([*values, *[blank] * (3 - len(values))], axis=1)


def cycle_figures(fluid: WorkingFluid, cycle: Cycle) -> dict[str, Array]:
    """Figures of the rated cycle that both store modes report."""
    p_c = cycle.condenser_pressure
    sat = fluid.saturation(p_c)
    exhaust = cycle.stages[-1].exhaust_enthalpy
    return {
        "net_work": cycle.net_work,
        "shaft_work": cycle.shaft_work,
        "pump_work": cycle.pump_work,
        "circulation_work": cycle.circulation_work,
        "heat": cycle.heat,
        "isentropic_efficiency": cycle.shaft_work / np.maximum(cycle.ideal_work, 1.0),
        "exhaust_quality": np.minimum((exhaust - sat.h_liquid) / (sat.h_vapour - sat.h_liquid), 1.0),
        "boiler_pressure": cycle.levels[0].pressure,
        "lowest_boiler_pressure": cycle.levels[-1].pressure,
        "condenser_pressure": p_c,
        "hot_water": cycle.hot_water,
        "cooling_water": cycle.condenser.water_flow,
        "return_temperature": cycle.return_temperature,
        "volume_ratios": per_stage([s.volume_ratio for s in cycle.stages]),
        "inlet_pressures": per_stage([s.inlet.pressure for s in cycle.stages]),
        "stage_works": per_stage(
            [f * s.shaft_work for f, s in zip(cycle.stage_flows, cycle.stages, strict=True)]
        ),
        "suction_pressure": fluid.saturation_pressure(cycle.condensate.temperature),
        "suction_volume": cycle.condensate.volume,
        "boiler_liquid_density": 1.0 / cycle.levels[0].bubble_volume,
        "boiler_vapour_density": 1.0 / fluid.saturation(cycle.levels[0].pressure).v_vapour,
        "condenser_liquid_density": 1.0 / sat.v_liquid,
        "condenser_vapour_density": 1.0 / sat.v_vapour,
        "receiver_densities": per_stage([1.0 / s.inlet.receiver_volume for s in cycle.stages]),
        "clearance": np.max([s.violation_clearance for s in cycle.stages], axis=0),
        "recompression": np.max([s.violation_recompression for s in cycle.stages], axis=0),
    }


def areas(
    cycle: Cycle, zones: list[boiler.Zone], zone_flow: Array, flow: Array, plant: Plant
) -> dict[str, Array]:
    """Exchanger areas [m2] from zones with their own LMTD and U; ``flow`` [kg/s] of working fluid."""
    regenerator = np.zeros_like(flow)
    if cycle.regenerator is not None:
        r = cycle.regenerator
        regenerator = exchange.zone_area(
            r.heat * flow, plant.regenerator_coefficient, r.hot_difference, r.cold_difference
        )
    return {
        "boiler_area": boiler.area(zones, zone_flow, plant.boiler_coefficients),
        "condenser_area": boiler.area(cycle.condenser.zones, flow, plant.condenser_coefficients),
        "regenerator_area": regenerator,
    }


def stratified_cycle(
    fluid: WorkingFluid, water: Water, plant: Plant, designs: Designs, stages: int, levels: int
) -> tuple[Cycle, Array]:
    """Run the rated cycle on a stratified store; return it and the excess over 0.95 T_crit [K]."""
    wanted = evaporating_temperatures(
        designs.evaporating_temperature, designs.lowest_evaporating_temperature, levels
    )
    held = [capped(fluid, T) for T in wanted]
    hot = Hot(designs.top_temperature, designs.pinch_boiler)
    settings = settings_of(designs, designs.superheat)
    cycle = run_cycle(fluid, water, plant.machine, settings, [T for T, _ in held], stages, hot)
    return cycle, np.max([excess for _, excess in held], axis=0)


def stratified(
    fluid: WorkingFluid, water: Water, plant: Plant, designs: Designs, stages: int, levels: int
) -> dict[str, Array]:
    """Performance of designs on a stratified store, all with the same stages and pressure levels."""
    top, pinch = designs.top_temperature, designs.pinch_boiler
    cycle, critical_excess = stratified_cycle(fluid, water, plant, designs, stages, levels)
    temperatures = [level.temperature for level in cycle.levels]
    figures = cycle_figures(fluid, cycle) | standing(designs, water, plant)
    warmed = fluid.liquid_from_enthalpy(cycle.levels[-1].pressure, cycle.warmed)
    heat_per_water = np.maximum(cycle.heat / cycle.hot_water, 1.0)
    fraction = store.held_fraction(
        figures["store_loss"],
        top,
        plant.room_temperature,
        plant.hold_seconds,
        figures["store_mass"],
        heat_per_water,
    )
    flow = plant.power / np.maximum(cycle.net_work, LEAST_WORK)
    zones = boiler.stratified_zones(
        water,
        top,
        cycle.return_temperature,
        cycle.levels,
        pinch,
        cycle.raised,
        cycle.warmed,
        warmed.temperature,
    )
    entry = [top, *(T + pinch for T in temperatures[:-1])]
    hot_end = [
        level.exit_temperature + plant.end_approach * pinch - T
        for level, T in zip(cycle.levels, entry, strict=True)
    ]
    first = np.maximum(cycle.raised[0], 1e-9)
    return (
        figures
        | areas(cycle, zones, flow * cycle.hot_water, flow, plant)
        | {
            "highest_boiler_pressure": cycle.levels[0].pressure,
            "fluid_flow": flow,
            "swept_volumes": per_stage(
                [
                    s.swept_volume * share * flow / plant.speed
                    for s, share in zip(cycle.stages, cycle.stage_flows, strict=True)
                ]
            ),
            "work_per_volume": fraction * water.density(top) * cycle.net_work / cycle.hot_water,
            "held_fraction": fraction,
            "engine_heat": heat_per_water,
            "hot_end": np.max(hot_end, axis=0),
            "cold_end": warmed.temperature + plant.end_approach * pinch - cycle.return_temperature,
            "level_flow": np.max([-m / first for m in cycle.raised], axis=0),
            "critical_excess": critical_excess,
        }
    )


@dataclass(frozen=True)
class MixedEngine:
    """A fixed engine on a fully mixed store: run it at any store temperature."""

    fluid: WorkingFluid
    water: Water
    machine: Machine
    settings: Settings
    approach: Array
    stages: int
    engine: FixedEngine | None = None

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
        )

    def at(self, store_temperature: Array) -> Cycle:
        """Run the cycle with the store at T [K]; without an engine it is sized there."""
        T, _ = capped(self.fluid, store_temperature - self.approach)
        return run_cycle(
            self.fluid, self.water, self.machine, self.settings, [T], self.stages, fixed=self.engine
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
    """Size the engine at the middle of the discharge; return that cycle and the fixed engine."""
    top, approach = designs.top_temperature, designs.boil_approach
    stop = np.minimum(designs.stop_temperature, top - LEAST_SPAN_K)
    superheat = np.maximum(np.minimum(designs.superheat, approach - 1.0), 0.0)
    settings = settings_of(designs, superheat)
    rated = MixedEngine(fluid, water, plant.machine, settings, approach, stages).at(0.5 * (top + stop))
    engine = MixedEngine(fluid, water, plant.machine, settings, approach, stages, freeze(rated.stages))
    return rated, engine


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
    sizing = stop + SIZING_SHARE * (top - stop)
    sized = engine.at(sizing)
    sized_work = np.maximum(sized.net_work, LEAST_WORK)
    flow = plant.power / sized_work
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
    sized_liquid = fluid.liquid_from_enthalpy(sized.levels[0].pressure, sized.warmed).temperature
    zones = boiler.coil_zones(sized.levels[0], sizing, sized.warmed, sized_liquid)
    per_revolution = flow / sized.flow_ratio / plant.speed
    return (
        cycle_figures(fluid, rated)
        | rest
        | areas(sized, zones, flow, flow, plant)
        | {
            "highest_boiler_pressure": fluid.saturation_pressure(hottest),
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
