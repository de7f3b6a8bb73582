"""Sizing the engine of a fully mixed store: rated at the middle of the discharge, as large as the sizing point asks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from explore.cycle import exchangers
from explore.cycle.built import Built, MixedEngine
from explore.cycle.cycle import Expansion, go_round, in_line, march
from explore.cycle.performance import EngineSize
from explore.cycle.rated import (
    LEAST_SPAN_K,
    LEAST_WORK,
    Plant,
    constant_engine_size,
    settings_of,
    settled_engine_size,
)
from explore.cycle.source import Boiling, Coil
from explore.design.designs import Designs
from explore.fluids.interface import Array, WorkingFluid
from explore.fluids.water import Water
from explore.plant.circuit import Cycle, Drops
from explore.plant.engine import AnyLosses
from explore.plant.laws import Laws
from explore.plant.losses import StageLosses
from explore.plant.part_load import Ends, FixedEngine, freeze, run_given
from explore.plant.settle import Leaks, Marched, Run, Trail, settle, sizing_volumes


def mixed_engine(
    fluid: WorkingFluid, water: Water, plant: Plant, designs: Designs, stages: int
) -> tuple[Cycle, MixedEngine, EngineSize]:
    """Size the engine at the middle of the discharge; return that cycle, the fixed engine and its cylinders.

    The built-in ratios and the proportions of the cylinders are those of the middle of the discharge, their size is
    that which just gives the power at the sizing temperature. Pressure drops of tubes are those of the sizing point
    and stay so over the discharge.
    """
    top, approach = designs.top_temperature, designs.boil_approach
    stop = np.minimum(designs.stop_temperature, top - LEAST_SPAN_K)
    superheat = np.maximum(np.minimum(designs.superheat, approach - 1.0), 0.0)
    settings = settings_of(designs, superheat)
    sizing, middle = sizing_temperature(designs), 0.5 * (top + stop)

    def sized(drops: Drops | None = None) -> tuple[Cycle, MixedEngine, EngineSize]:
        free = MixedEngine(fluid, water, plant.machine, settings, approach, stages, drops=drops)
        if plant.laws is None:
            return constant_engine(plant, designs, free, middle, sizing)
        return lawful_engine(plant, plant.laws, designs, free, middle, sizing)

    if plant.tubing is None:
        return sized()
    drops = exchangers.settle(
        plant.tubing,
        plant.tubing.bind(designs.fluid),
        fluid,
        1,
        lambda drops: sized(drops)[1].at(sizing),
        lambda cycle: coil_boiling(fluid, water, plant, designs, cycle, sizing),
    )
    return sized(drops)


def constant_engine(
    plant: Plant, designs: Designs, free: MixedEngine, middle: Array, sizing: Array
) -> tuple[Cycle, MixedEngine, EngineSize]:
    """The engine with constant losses, rated at the store temperature ``middle`` and sized at ``sizing`` [K]."""
    rated, frame = free.at(middle), plant.frame(designs)
    engine = replace(free, engine=freeze(rated.stages))
    weak = engine.at(sizing)
    flow = frame.power / np.maximum(weak.net_work, LEAST_WORK)
    rate = flow / weak.flow_ratio
    volumes = [s.swept_volume * rate / (frame.frequency * plant.make.acting) for s in rated.stages]
    built = Built(None, plant.films_of(designs), [], frame, [], rate, designs.governing)
    return rated, replace(engine, built=built), constant_engine_size(plant, designs, flow, volumes)


def lawful_engine(
    plant: Plant, laws: Laws, designs: Designs, free: MixedEngine, middle: Array, sizing: Array
) -> tuple[Cycle, MixedEngine, EngineSize]:
    """The engine whose losses follow from its cylinders, rated at ``middle`` and sized at ``sizing`` [K]."""
    fluid, frame, films = free.fluid, plant.frame(designs), plant.films_of(designs)
    at_middle, at_sizing = free.supply(middle), free.supply(sizing)
    ideal = np.maximum(at_sizing.ideal_work(fluid), LEAST_WORK)
    ends = Ends(*at_sizing.arriving[0], at_sizing.end)
    closing = free.closing(at_sizing)

    def points(
        losses: Sequence[Sequence[AnyLosses]], trail: Trail | None
    ) -> tuple[Expansion, FixedEngine, Expansion]:
        leaks, before = (None, None) if trail is None else (trail.leaks, trail.runs[1])
        rated = march(fluid, losses[0], at_middle, free.settings.release_ratio, trail and trail.runs[0])
        engine = freeze(rated.stages)
        weak_losses = [one for one in losses[1] if isinstance(one, StageLosses)]
        done = run_given(fluid, engine, ends, weak_losses, leaks, before)
        return rated, engine, in_line(*done)

    def marched(losses: Sequence[Sequence[AnyLosses]], trail: Trail | None) -> Marched:
        rated, _, weak = points(losses, trail)
        volumes = sizing_volumes(rated.stages, weak.stages)
        whole = [np.ones_like(ideal)] * len(volumes)
        runs = [Run(rated.stages, rated.flows), Run(weak.stages, whole)]
        return Marched(runs, volumes, closing.net_work(weak), ideal)

    settled = settle(fluid, marched, 2, free.stages, frame, laws, films)
    trail = Trail(
        Leaks(laws, settled.cylinders, frame.frequency, films), [run.stages for run in settled.marched.runs]
    )
    rated, engine, weak = points(settled.losses, trail)
    cycle = go_round(fluid, free.water, free.machine, free.settings, at_middle, rated)
    rate = settled.flow / weak.flow_ratio
    start = [one for one in settled.losses[1] if isinstance(one, StageLosses)]
    built = Built(laws, films, settled.cylinders, frame, start, rate, designs.governing)
    return cycle, replace(free, engine=engine, built=built), settled_engine_size(settled)


def sizing_temperature(designs: Designs) -> Array:
    """Store temperature [K] at which the cylinders just give the power asked."""
    stop = np.minimum(designs.stop_temperature, designs.top_temperature - LEAST_SPAN_K)
    return stop + designs.sizing_share * (designs.top_temperature - stop)


def coil_boiling(
    fluid: WorkingFluid, water: Water, plant: Plant, designs: Designs, cycle: Cycle, store_temperature: Array
) -> tuple[Boiling, Array]:
    """Zones of the coil in the store, and the flow [kg/s] of working fluid that gives the power."""
    flow = plant.frame(designs).power / np.maximum(cycle.net_work, LEAST_WORK)
    return coil_at(fluid, water, cycle, store_temperature), flow


def coil_at(fluid: WorkingFluid, water: Water, cycle: Cycle, store_temperature: Array) -> Boiling:
    """Zones of the coil in a store at T [K]."""
    source = Coil(store_temperature)
    return Boiling(source, source.zones(fluid, water, cycle))
