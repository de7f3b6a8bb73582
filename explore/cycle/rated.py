"""From designs to performance: what both store modes share.

Each function serves one group of designs that share store mode, stages and pressure levels, so that the
physics runs without masks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from explore.cycle import exchangers
from explore.cycle.cycle import ideal_work
from explore.cycle.performance import (
    Areas,
    Circulation,
    Densities,
    Discharge,
    EngineSize,
    Exchangers,
    Margins,
    Performance,
    Pressures,
    RatedPoint,
    Running,
    Stages,
    Standing,
    Tubes,
    per_stage,
)
from explore.cycle.rating import Rating, pinches
from explore.cycle.source import Boiling
from explore.cycle.supply import Machine, Settings
from explore.design.designs import Designs
from explore.fluids.interface import CRITICAL_MARGIN, Array, Saturation, WorkingFluid
from explore.fluids.water import Water
from explore.plant import boiler, exchange, store
from explore.plant.circuit import Cycle
from explore.plant.correlations import validity
from explore.plant.cylinder import Make, of_volume
from explore.plant.engine import Stage
from explore.plant.governor import drive_efficiency
from explore.plant.laws import Laws
from explore.plant.losses import Films, cardless_films
from explore.plant.settle import Frame, Settled
from explore.plant.tubes import Tubing

LEAST_WORK = 50.0
"""Net work [J/kg] that flows are divided by at least: an engine that gives nothing is huge, not infinite or negative."""
LEAST_SPAN_K = 0.5
"""A discharge never ends closer to full: curves over no span at all have no slope."""
STOP_MARGIN_K = 5.0
"""An empty store still boils the fluid this far above condensing (model, section 5)."""


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


def standing(designs: Designs, water: Water, plant: Plant) -> Standing:
    """The store of each design at rest."""
    top, room = designs.top_temperature, plant.room_temperature
    mean = water.enthalpy(top) - water.enthalpy(np.full_like(top, room))
    loss = store.loss_coefficient(
        designs.volume,
        designs.insulation,
        plant.insulation_conductivity,
        plant.outside_film,
        plant.fittings,
        plant.joints,
    )
    return Standing(water.density(top) * designs.volume, loss, mean / (top - room))


def exhaust_quality(fluid: WorkingFluid, cycle: Cycle, condensing: Saturation) -> Array:
    """Quality [-] behind the last stage; of a pure fluid at most one."""
    exhaust = cycle.stages[-1].exhaust_enthalpy
    if fluid.glides:
        return fluid.quality(cycle.condenser_pressure, exhaust)
    wet = (exhaust - condensing.h_liquid) / (condensing.h_vapour - condensing.h_liquid)
    return np.minimum(wet, 1.0)


def rated_point(fluid: WorkingFluid, cycle: Cycle, condensing: Saturation) -> RatedPoint:
    """Works, heat and waters of the rated cycle."""
    return RatedPoint(
        net_work=cycle.net_work,
        shaft_work=cycle.shaft_work,
        pump_work=cycle.pump_work,
        circulation_work=cycle.circulation_work,
        heat=cycle.heat,
        isentropic_efficiency=cycle.shaft_work / np.maximum(ideal_work(fluid, cycle), 1.0),
        exhaust_quality=exhaust_quality(fluid, cycle, condensing),
        hot_water=cycle.hot_water,
        cooling_water=cycle.condenser.water_flow,
        return_temperature=cycle.return_temperature,
    )


def pressures(fluid: WorkingFluid, cycle: Cycle, condensing: Saturation, highest: Array) -> Pressures:
    """Pressures of the rated cycle, and the ``highest`` [Pa] that the boiler ever has."""
    return Pressures(
        boiler=cycle.levels[0].pressure,
        highest_boiler=highest,
        lowest_boiler=cycle.levels[-1].pressure,
        condenser=cycle.condenser_pressure,
        condenser_glide=condensing.dew_temperature - condensing.temperature,
        suction=fluid.saturation_pressure(cycle.condensate.temperature),
        suction_volume=cycle.condensate.volume,
    )


def densities(fluid: WorkingFluid, cycle: Cycle, condensing: Saturation) -> Densities:
    """Densities of what fills exchangers and receivers of the rated cycle."""
    return Densities(
        boiler_liquid=1.0 / cycle.levels[0].bubble_volume,
        boiler_vapour=1.0 / fluid.saturation(cycle.levels[0].pressure).v_vapour,
        condenser_liquid=1.0 / condensing.v_liquid,
        condenser_vapour=1.0 / condensing.v_vapour,
        receivers=per_stage([1.0 / s.inlet.receiver_volume for s in cycle.stages]),
    )


def stages_of(stages: Sequence[Stage], flows: Sequence[Array]) -> Stages:
    """Each stage and what it loses, with the share of the total flow through it; k = (1 - lambda)(1 - chi)."""
    none = np.zeros_like(stages[0].kept)
    leakages = [none + s.losses.leakage_fraction for s in stages]
    # Where all of a flow leaks, walls take a share of nothing.
    tight = [np.where(x < 1.0, 1.0 - x, np.nan) for x in leakages]
    return Stages(
        volume_ratios=per_stage([s.volume_ratio for s in stages]),
        inlet_pressures=per_stage([s.inlet.pressure for s in stages]),
        works=per_stage([f * s.shaft_work for f, s in zip(flows, stages, strict=True)]),
        leakages=per_stage(leakages),
        wall_shares=per_stage([1.0 - s.kept / t for s, t in zip(stages, tight, strict=True)]),
        frictions=per_stage([none + s.losses.friction_mean_pressure for s in stages]),
    )


def performance_of(
    fluid: WorkingFluid,
    cycle: Cycle,
    *,
    highest_pressure: Array,
    critical_excess: Array,
    engine: EngineSize,
    running: Running,
    exchangers: Exchangers,
    store: Standing,
    work_per_volume: Array,
    circulation: Circulation | None = None,
    discharge: Discharge | None = None,
) -> Performance:
    """Performance with the rated ``cycle``, on a stratified store (``circulation``) or a fully mixed one (``discharge``).

    ``highest_pressure`` [Pa] of the boiler ever, ``critical_excess`` [K] of the hottest boiling, ``work_per_volume``
    [J/m3] of the load, each (n,).
    """
    n, condensing = len(critical_excess), fluid.saturation(cycle.condenser_pressure)
    margins = Margins(
        clearance=np.max([s.violation_clearance for s in cycle.stages], axis=0),
        recompression=np.max([s.violation_recompression for s in cycle.stages], axis=0),
        critical_excess=critical_excess,
    )
    return Performance(
        rated=rated_point(fluid, cycle, condensing),
        pressures=pressures(fluid, cycle, condensing, highest_pressure),
        densities=densities(fluid, cycle, condensing),
        stages=stages_of(cycle.stages, cycle.stage_flows),
        engine=engine,
        running=running,
        exchangers=exchangers,
        store=store,
        circulation=Circulation.empty(n) if circulation is None else circulation,
        discharge=Discharge.empty(n) if discharge is None else discharge,
        margins=margins,
        work_per_volume=work_per_volume,
    )


def areas(cycle: Cycle, hot: Boiling, flow: Array, plant: Plant) -> Areas:
    """Exchanger areas [m2] from zones with their own LMTD and U; ``flow`` [kg/s] of working fluid."""
    r = cycle.regenerator
    return Areas(
        boiler=boiler.area(
            hot.zones,
            hot.source.counted_on(cycle, flow),
            hot.source.pick(plant.boiler_coefficients, plant.coil_coefficients),
        ),
        condenser=boiler.area(cycle.condenser.zones, flow, plant.condenser_coefficients),
        regenerator=exchange.zone_area(
            r.heat * flow, plant.regenerator_coefficient, r.hot_difference, r.cold_difference
        ),
    )


def exchangers_of(
    fluid: WorkingFluid, water: Water, plant: Plant, designs: Designs, cycle: Cycle, hot: Boiling, flow: Array
) -> Exchangers:
    """All exchangers for ``flow`` [kg/s] of working fluid; with tubes their figures and margins too."""
    found, cooling = areas(cycle, hot, flow, plant), flow * cycle.condenser.water_flow
    tubing = plant.tubing
    if tubing is None:
        return Exchangers(found, Tubes.empty(len(flow)), cooling)
    bound = tubing.bind(designs.fluid)
    fitted = exchangers.fit(tubing, bound, fluid, cycle, hot, flow, cycle.drops)
    settings = settings_of(designs, cycle.levels[0].exit_temperature - cycle.levels[0].temperature)
    rated = Rating(tubing, bound, fluid, water, plant.machine, settings, hot.source, cycle, flow)
    own = hot.source.pick(tubing.boiler, tubing.coil)
    return Exchangers(
        Areas(np.sum([b.area for b in fitted.boilers], axis=0), fitted.condenser.area, found.regenerator),
        Tubes(
            figures=exchangers.figures(fitted, pinches(rated)),
            outside=validity.as_table(fitted.outside(), len(flow)),
            unsettled=fitted.unsettled,
            fluid_drop_excess=fitted.fluid_excess,
            water_drop_excess=fitted.water_excess,
            boiler_lack=np.max([b.length for b in fitted.boilers], axis=0) - own.length,
            condenser_lack=fitted.condenser.length - tubing.condenser.length,
        ),
        cooling,
    )


def constant_engine_size(plant: Plant, designs: Designs, flow: Array, volumes: list[Array]) -> EngineSize:
    """The engine with constant losses that sweeps ``volumes`` [m3] a stage, its bores and strokes by the plant's make."""
    none, make = np.full_like(flow, np.nan), plant.make
    each = [of_volume(make, volume / designs.cylinders) for volume in volumes]
    bores, strokes = ([one[side] for one in each] for side in (0, 1))
    return EngineSize(flow, per_stage(volumes), per_stage(bores), per_stage(strokes), none, none)


def settled_engine_size(settled: Settled) -> EngineSize:
    """The engine whose cylinders and losses were made to agree."""
    return EngineSize(
        settled.flow,
        per_stage([own.swept_volume for own in settled.cylinders]),
        per_stage([own.bore for own in settled.cylinders]),
        per_stage([own.stroke for own in settled.cylinders]),
        settled.residual,
        settled.port_violation,
    )
