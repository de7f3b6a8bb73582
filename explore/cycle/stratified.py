"""The stratified store: its water circulates through the boilers, and the engine runs at its rated point alone."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from explore.cycle import exchangers
from explore.cycle.cycle import Closing, Expansion, go_round, march
from explore.cycle.performance import Circulation, EngineSize, Performance, Running, per_stage
from explore.cycle.rated import (
    LEAST_WORK,
    Plant,
    capped,
    constant_engine_size,
    exchangers_of,
    performance_of,
    settings_of,
    settled_engine_size,
    standing,
)
from explore.cycle.source import Boiling, CirculatingWater
from explore.cycle.supply import evaporating_temperatures, supply
from explore.design.designs import Designs
from explore.fluids.interface import Array, WorkingFluid
from explore.fluids.water import Water
from explore.plant import store
from explore.plant.circuit import Cycle, Drops
from explore.plant.engine import AnyLosses, Stage
from explore.plant.governor import drive_efficiency
from explore.plant.settle import Marched, Run, Trail, settle


def circulating(designs: Designs) -> CirculatingWater:
    """The hot water of a stratified store."""
    return CirculatingWater(designs.top_temperature, designs.pinch_boiler)


def stratified_cycle(
    fluid: WorkingFluid, water: Water, plant: Plant, designs: Designs, stages: int, levels: int
) -> tuple[Cycle, Array, EngineSize]:
    """Run the rated cycle on a stratified store; return it, the excess over 0.95 T_crit [K] and the engine."""
    wanted = evaporating_temperatures(
        designs.evaporating_temperature, designs.lowest_evaporating_temperature, levels
    )
    held = [capped(fluid, T) for T in wanted]
    source = circulating(designs)
    settings = settings_of(designs, designs.superheat)

    def sized(drops: Drops | None = None) -> tuple[Cycle, EngineSize]:
        given = supply(fluid, water, plant.machine, settings, [T for T, _ in held], source, drops)

        def expanded(losses: Sequence[AnyLosses], before: Sequence[Stage] | None = None) -> Expansion:
            return march(fluid, losses, given, settings.release_ratio, before)

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
            return cycle, constant_engine_size(plant, designs, flow, volumes)
        ideal = np.maximum(given.ideal_work(fluid), LEAST_WORK)
        closing = Closing(fluid, water, plant.machine, settings, given)

        def marched(losses: Sequence[Sequence[AnyLosses]], trail: Trail | None) -> Marched:
            done = expanded(losses[0], trail and trail.runs[0])
            volumes = [s.swept_volume * f for s, f in zip(done.stages, done.flows, strict=True)]
            return Marched([Run(done.stages, done.flows)], volumes, closing.net_work(done), ideal)

        films = plant.films_of(designs)
        settled = settle(fluid, marched, 1, stages, plant.frame(designs), plant.laws, films)
        return close(settled.losses[0]), settled_engine_size(settled)

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
    cycle, engine = sized(drops)
    return cycle, np.max([excess for _, excess in held], axis=0), engine


def stratified_boiling(
    fluid: WorkingFluid, water: Water, plant: Plant, designs: Designs, cycle: Cycle
) -> tuple[Boiling, Array]:
    """Zones of all boilers on a stratified store, and the flow [kg/s] of working fluid that gives the power."""
    flow = plant.frame(designs).power / np.maximum(cycle.net_work, LEAST_WORK)
    source = circulating(designs)
    return Boiling(source, source.zones(fluid, water, cycle)), flow


def stratified(
    fluid: WorkingFluid, water: Water, plant: Plant, designs: Designs, stages: int, levels: int
) -> tuple[Cycle, Performance]:
    """Rated cycle and performance of designs on a stratified store, all with the same stages and pressure levels."""
    top, pinch = designs.top_temperature, designs.pinch_boiler
    cycle, critical_excess, engine = stratified_cycle(fluid, water, plant, designs, stages, levels)
    temperatures = [level.temperature for level in cycle.levels]
    rest = standing(designs, water, plant)
    boiling, flow = stratified_boiling(fluid, water, plant, designs, cycle)
    heat_per_water = np.maximum(cycle.heat / cycle.hot_water, 1.0)
    fraction = store.held_fraction(
        rest.loss, top, plant.room_temperature, plant.hold_seconds, rest.mass, heat_per_water
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
    return cycle, performance_of(
        fluid,
        cycle,
        highest_pressure=cycle.levels[0].pressure,
        critical_excess=critical_excess,
        engine=engine,
        running=Running(per_stage([designs.speed] * 3), per_stage([plant.frame(designs).power] * 3)),
        exchangers=exchangers_of(fluid, water, plant, designs, cycle, boiling, flow),
        store=rest,
        work_per_volume=drive * fraction * water.density(top) * cycle.net_work / cycle.hot_water,
        circulation=Circulation(
            held_fraction=fraction,
            heat=heat_per_water,
            hot_end=np.max(hot_end, axis=0),
            cold_end=cycle.warmed_temperature + plant.end_approach * pinch - cycle.return_temperature,
            level_flow=np.max([-m / first for m in cycle.raised], axis=0),
        ),
    )
