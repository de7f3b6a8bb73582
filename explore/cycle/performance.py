"""From designs to performance: what both store modes share, and the stratified store.

Each function serves one group of designs that share store mode, stages and pressure levels, so that the
physics runs without masks. Results are gathered in one :class:`Performance` for the whole batch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from typing import NamedTuple

import numpy as np

from explore.cycle import exchangers, rating
from explore.cycle.cycle import (
    Expansion,
    Machine,
    Settings,
    evaporating_temperatures,
    go_round,
    ideal_work,
    march,
    net_work,
    supply,
)
from explore.cycle.source import Boiling, CirculatingWater
from explore.design.designs import Designs
from explore.figures.catalogue import TUBE_FIGURES
from explore.fluids.interface import CRITICAL_MARGIN, Array, Index, WorkingFluid
from explore.fluids.water import Water
from explore.plant import boiler, exchange, store
from explore.plant.circuit import Cycle, Drops
from explore.plant.correlations import validity
from explore.plant.cylinder import Make, of_volume
from explore.plant.engine import AnyLosses, Stage
from explore.plant.governor import drive_efficiency
from explore.plant.losses import Films, Laws, cardless_films
from explore.plant.settle import Frame, Marched, Run, Settled, Trail, settle
from explore.plant.tubes import Tubing

GRID = 129
"""Temperatures between empty and full at which a fully mixed store's part load is handed to the year."""
LEAST_WORK = 50.0
"""Net work [J/kg] that flows are divided by at least: an engine that gives nothing is huge, not infinite or negative."""
LEAST_SPAN_K = 0.5
"""A discharge never ends closer to full: curves over no span at all have no slope."""


@dataclass(frozen=True)
class Plant:
    """Scalar parameters of the whole plant, SI and kelvin (sources: explore.config.schema).

    ``power`` [W] is that of the load, ``load_speed`` [1/s] its speed. With ``laws`` the engine's losses follow from its
    cylinders, without them they are ``machine.losses`` for all. ``films`` holds constants of the catalogue's fluids.
    With ``tubing`` the exchangers are made of tubes; without it their coefficients are those given.
    """

    machine: Machine
    end_approach: float
    boiler_coefficients: dict[str, float]
    condenser_coefficients: dict[str, float]
    regenerator_coefficient: float
    coil_coefficients: dict[str, float]
    insulation_conductivity: float
    outside_film: float
    fittings: float
    joints: float
    room_temperature: float
    hold_seconds: float
    power: float
    load_speed: float
    smallest_part_load: float
    power_may_rise: float = 1.0
    make: Make = field(default_factory=Make)
    laws: Laws | None = None
    films: Films | None = None
    tubing: Tubing | None = None

    def frame(self, designs: Designs) -> Frame:
        """What the engines of ``designs`` are asked: power at their shaft, so that the load gets its own."""
        power = self.power / drive_efficiency(designs.speed, self.load_speed)
        return Frame(power, designs.speed, designs.cylinders, self.make)

    def films_of(self, designs: Designs) -> Films:
        """Constants of the designs' fluids for the laws of loss."""
        return cardless_films(designs.speed) if self.films is None else self.films.take(designs.fluid)


@dataclass(frozen=True)
class Performance:
    """What the plant does, arrays over the batch, SI and kelvin; stage columns are (n, 3).

    Per-kilogram figures are those of the rated point. ``efficiency_grid``, ``power_grid`` and ``cooling_grid`` (n, GRID)
    describe a fully mixed store from ``floor_temperature`` to full: net work per heat, power at full speed over that asked,
    and cooling water [kg] per joule of heat. ``condenser_glide`` [K] is the dew point's height above the bubble point.
    ``speeds`` [1/s] and ``powers`` [W] at the engine's shaft are (n, 3): full store, rated and sizing point. ``leakages``,
    ``wall_shares`` [-] and ``frictions`` [Pa] of each stage are those of the rated point.
    With tubes ``tubes`` holds the figures named in ``TUBE_FIGURES``, ``outside`` the excess over the ranges of
    correlations (n, len(validity.NAMES)); ``drops_unsettled`` [-] by how much the drops in the cycle miss their own.
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
    condenser_glide: Array
    hot_water: Array
    cooling_water: Array
    return_temperature: Array
    volume_ratios: Array
    swept_volumes: Array
    bores: Array
    strokes: Array
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
    engine_power: Array
    speeds: Array
    powers: Array
    leakages: Array
    wall_shares: Array
    frictions: Array
    residual: Array
    port_mach: Array
    tubes: Array
    outside: Array
    drops_unsettled: Array
    fluid_drop_excess: Array
    water_drop_excess: Array
    boiler_tube_lack: Array
    condenser_tube_lack: Array

    @classmethod
    def empty(cls, n: int) -> Performance:
        """Return a record of NaN for ``n`` designs."""
        wide = {
            name: 3
            for name in (
                "volume_ratios",
                "swept_volumes",
                "bores",
                "strokes",
                "inlet_pressures",
                "stage_works",
                "receiver_densities",
                "speeds",
                "powers",
                "leakages",
                "wall_shares",
                "frictions",
            )
        }
        wide |= {name: GRID for name in ("efficiency_grid", "power_grid", "cooling_grid")}
        wide |= {"tubes": len(TUBE_FIGURES), "outside": len(validity.NAMES)}
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


def boiling_start(fluid: WorkingFluid, boiling_end: Array) -> Array:
    """Bubble temperature [K] of the pressure whose dew point is ``boiling_end`` [K]; the same for a pure fluid."""
    if not fluid.glides:
        return boiling_end
    return fluid.saturation(fluid.dew_pressure(boiling_end)).temperature


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
            plant.joints,
        ),
        "heat_capacity": mean / (top - room),
    }


def per_stage(values: list[Array]) -> Array:
    """Stack up to three stages as (n, 3), empty where there is no stage."""
    blank = np.full_like(values[0], np.nan)
    return np.stack([*values, *[blank] * (3 - len(values))], axis=1)


def stage_losses(stages: Sequence[Stage]) -> dict[str, Array]:
    """Leak and wall loss [-] and friction mean pressure [Pa] of each stage, (n, 3); k = (1 - lambda)(1 - chi)."""
    none = np.zeros_like(stages[0].kept)
    leakages = [none + s.losses.leakage_fraction for s in stages]
    return {
        "leakages": per_stage(leakages),
        "wall_shares": per_stage([1.0 - s.kept / (1.0 - x) for s, x in zip(stages, leakages, strict=True)]),
        "frictions": per_stage([none + s.losses.friction_mean_pressure for s in stages]),
    }


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
        "isentropic_efficiency": cycle.shaft_work / np.maximum(ideal_work(fluid, cycle), 1.0),
        "exhaust_quality": fluid.quality(p_c, exhaust)
        if fluid.glides
        else np.minimum((exhaust - sat.h_liquid) / (sat.h_vapour - sat.h_liquid), 1.0),
        "boiler_pressure": cycle.levels[0].pressure,
        "lowest_boiler_pressure": cycle.levels[-1].pressure,
        "condenser_pressure": p_c,
        "condenser_glide": sat.dew_temperature - sat.temperature,
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
        **stage_losses(cycle.stages),
        "clearance": np.max([s.violation_clearance for s in cycle.stages], axis=0),
        "recompression": np.max([s.violation_recompression for s in cycle.stages], axis=0),
    }


def areas(cycle: Cycle, hot: Boiling, flow: Array, plant: Plant) -> dict[str, Array]:
    """Exchanger areas [m2] from zones with their own LMTD and U; ``flow`` [kg/s] of working fluid."""
    r = cycle.regenerator
    return {
        "boiler_area": boiler.area(
            hot.zones,
            hot.source.counted_on(cycle, flow),
            hot.source.pick(plant.boiler_coefficients, plant.coil_coefficients),
        ),
        "condenser_area": boiler.area(cycle.condenser.zones, flow, plant.condenser_coefficients),
        "regenerator_area": exchange.zone_area(
            r.heat * flow, plant.regenerator_coefficient, r.hot_difference, r.cold_difference
        ),
    }


def exchanger_figures(
    fluid: WorkingFluid, water: Water, plant: Plant, designs: Designs, cycle: Cycle, hot: Boiling, flow: Array
) -> dict[str, Array]:
    """Areas of all exchangers for ``flow`` [kg/s] of working fluid; with tubes their figures and margins too."""
    figures = areas(cycle, hot, flow, plant)
    tubing = plant.tubing
    if tubing is None:
        return figures
    bound = tubing.bind(designs.fluid)
    fitted = exchangers.fit(tubing, bound, fluid, cycle, hot, flow, cycle.drops)
    settings = settings_of(designs, cycle.levels[0].exit_temperature - cycle.levels[0].temperature)
    pinches = rating.pinches(tubing, bound, fluid, water, plant.machine, settings, hot.source, cycle, flow)
    own = hot.source.pick(tubing.boiler, tubing.coil)
    return figures | {
        "boiler_area": np.sum([b.area for b in fitted.boilers], axis=0),
        "condenser_area": fitted.condenser.area,
        "tubes": exchangers.figures(fitted, pinches),
        "outside": validity.as_table(fitted.outside(), len(flow)),
        "drops_unsettled": fitted.unsettled,
        "fluid_drop_excess": fitted.fluid_excess,
        "water_drop_excess": fitted.water_excess,
        "boiler_tube_lack": np.max([b.length for b in fitted.boilers], axis=0) - own.length,
        "condenser_tube_lack": fitted.condenser.length - tubing.condenser.length,
    }


class Works(NamedTuple):
    """The engine that makes a cycle, arrays (n,).

    ``flow`` [kg/s] of working fluid for the power asked; swept ``volumes`` [m3], ``bores`` and ``strokes`` [m] of each
    stage, all of its cylinders counted; ``residual`` [-] that the last sweep still moved, ``port_mach`` [-] by which the
    worst inlet port passes its limit (both NaN with constant losses).
    """

    flow: Array
    volumes: list[Array]
    bores: list[Array]
    strokes: list[Array]
    residual: Array
    port_mach: Array

    def figures(self) -> dict[str, Array]:
        """The same by the names of :class:`Performance`."""
        return {
            "fluid_flow": self.flow,
            "swept_volumes": per_stage(self.volumes),
            "bores": per_stage(self.bores),
            "strokes": per_stage(self.strokes),
            "residual": self.residual,
            "port_mach": self.port_mach,
        }


def constant_works(plant: Plant, designs: Designs, flow: Array, volumes: list[Array]) -> Works:
    """The engine with constant losses that sweeps ``volumes`` [m3] a stage, its bores and strokes by the plant's make."""
    none, make = np.full_like(flow, np.nan), plant.make
    each = [of_volume(make, volume / designs.cylinders) for volume in volumes]
    return Works(flow, volumes, [bore for bore, _ in each], [stroke for _, stroke in each], none, none)


def settled_works(settled: Settled) -> Works:
    """The engine whose cylinders and losses were made to agree."""
    return Works(
        settled.flow,
        [own.swept_volume for own in settled.cylinders],
        [own.bore for own in settled.cylinders],
        [own.stroke for own in settled.cylinders],
        settled.residual,
        settled.port_violation,
    )


def circulating(designs: Designs) -> CirculatingWater:
    """The hot water of a stratified store."""
    return CirculatingWater(designs.top_temperature, designs.pinch_boiler)


def stratified_cycle(
    fluid: WorkingFluid, water: Water, plant: Plant, designs: Designs, stages: int, levels: int
) -> tuple[Cycle, Array, Works]:
    """Run the rated cycle on a stratified store; return it, the excess over 0.95 T_crit [K] and the engine."""
    wanted = evaporating_temperatures(
        designs.evaporating_temperature, designs.lowest_evaporating_temperature, levels
    )
    held = [capped(fluid, T) for T in wanted]
    source = circulating(designs)
    settings = settings_of(designs, designs.superheat)

    def sized(drops: Drops | None = None) -> tuple[Cycle, Works]:
        given = supply(fluid, water, plant.machine, settings, [T for T, _ in held], source, drops)

        def expanded(losses: Sequence[AnyLosses]) -> Expansion:
            return march(fluid, losses, given, settings.release_ratio)

        def close(losses: Sequence[AnyLosses]) -> Cycle:
            return go_round(fluid, water, plant.machine, settings, given, expanded(losses))

        if plant.laws is None:
            cycle = close([plant.machine.losses] * stages)
            flow = plant.frame(designs).power / np.maximum(cycle.net_work, LEAST_WORK)
            strokes = designs.speed * plant.make.acting
            volumes = [
                s.swept_volume * share * flow / strokes
                for s, share in zip(cycle.stages, cycle.stage_flows, strict=True)
            ]
            return cycle, constant_works(plant, designs, flow, volumes)
        ideal = np.maximum(given.ideal_work(fluid), LEAST_WORK)

        def marched(losses: Sequence[Sequence[AnyLosses]], _: Trail | None) -> Marched:
            done = expanded(losses[0])
            volumes = [s.swept_volume * f for s, f in zip(done.stages, done.flows, strict=True)]
            work = net_work(fluid, water, plant.machine, settings, given, done)
            return Marched([Run(done.stages, done.flows)], volumes, work, ideal)

        films = plant.films_of(designs)
        settled = settle(fluid, marched, 1, stages, plant.frame(designs), plant.laws, films)
        return close(settled.losses[0]), settled_works(settled)

    def run(drops: Drops) -> Cycle:
        return sized(drops)[0]

    if plant.tubing is None:
        drops = None
    else:
        bound = plant.tubing.bind(designs.fluid)
        drops = exchangers.settle(
            plant.tubing,
            bound,
            fluid,
            levels,
            run,
            lambda cycle: stratified_boiling(fluid, water, plant, designs, cycle),
        )
    cycle, works = sized(drops)
    return cycle, np.max([excess for _, excess in held], axis=0), works


def stratified_boiling(
    fluid: WorkingFluid, water: Water, plant: Plant, designs: Designs, cycle: Cycle
) -> tuple[Boiling, Array]:
    """Zones of all boilers on a stratified store, and the flow [kg/s] of working fluid that gives the power."""
    flow = plant.frame(designs).power / np.maximum(cycle.net_work, LEAST_WORK)
    source = circulating(designs)
    return Boiling(source, source.zones(fluid, water, cycle)), flow


def stratified(
    fluid: WorkingFluid, water: Water, plant: Plant, designs: Designs, stages: int, levels: int
) -> tuple[Cycle, dict[str, Array]]:
    """Rated cycle and performance of designs on a stratified store, all with the same stages and pressure levels."""
    top, pinch = designs.top_temperature, designs.pinch_boiler
    cycle, critical_excess, works = stratified_cycle(fluid, water, plant, designs, stages, levels)
    temperatures = [level.temperature for level in cycle.levels]
    figures = cycle_figures(fluid, cycle) | standing(designs, water, plant)
    boiling, flow = stratified_boiling(fluid, water, plant, designs, cycle)
    heat_per_water = np.maximum(cycle.heat / cycle.hot_water, 1.0)
    fraction = store.held_fraction(
        figures["store_loss"],
        top,
        plant.room_temperature,
        plant.hold_seconds,
        figures["store_mass"],
        heat_per_water,
    )
    entry = [top, *(T + pinch for T in temperatures[:-1])]
    hot_end = [
        level.exit_temperature + plant.end_approach * pinch - T
        for level, T in zip(cycle.levels, entry, strict=True)
    ]
    if fluid.glides:  # the pinch is kept along the whole boiling curve, up to its hot end
        hot_end.append(cycle.levels[0].dew_temperature + pinch - top)
    first = np.maximum(cycle.raised[0], 1e-9)
    drive = drive_efficiency(designs.speed, plant.load_speed)
    return cycle, (
        figures
        | exchanger_figures(fluid, water, plant, designs, cycle, boiling, flow)
        | works.figures()
        | {
            "highest_boiler_pressure": cycle.levels[0].pressure,
            "engine_power": plant.frame(designs).power,
            "speeds": per_stage([designs.speed] * 3),
            "powers": per_stage([plant.frame(designs).power] * 3),
            "work_per_volume": drive * fraction * water.density(top) * cycle.net_work / cycle.hot_water,
            "held_fraction": fraction,
            "engine_heat": heat_per_water,
            "hot_end": np.max(hot_end, axis=0),
            "cold_end": cycle.warmed_temperature + plant.end_approach * pinch - cycle.return_temperature,
            "level_flow": np.max([-m / first for m in cycle.raised], axis=0),
            "critical_excess": critical_excess,
        }
    )
