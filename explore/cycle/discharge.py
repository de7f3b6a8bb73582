"""The fully mixed store: a fixed engine over a whole discharge, from full to the floor.

The engine is sized once; away from its rated point its receiver pressures follow from the continuity of mass.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from explore.cycle import exchangers
from explore.cycle.cycle import (
    Cycle,
    Drops,
    Expansion,
    Machine,
    Settings,
    Supply,
    go_round,
    in_line,
    march,
    supply,
)
from explore.cycle.duties import Boiling
from explore.cycle.performance import (
    GRID,
    LEAST_SPAN_K,
    LEAST_WORK,
    Plant,
    Works,
    boiling_start,
    capped,
    constant_works,
    cycle_figures,
    exchanger_figures,
    per_stage,
    settings_of,
    settled_works,
    standing,
)
from explore.design.designs import Designs
from explore.fluids.interface import Array, Index, WorkingFluid
from explore.fluids.water import Water
from explore.plant import boiler, glide, store
from explore.plant.cylinder import Cylinders
from explore.plant.engine import AnyLosses, Stage
from explore.plant.governor import Governing, Setting, built_cut_off, drive_efficiency, govern, with_cut_off
from explore.plant.losses import Films, Laws, StageLosses
from explore.plant.part_load import FixedEngine, Operation, freeze, run_at, run_fixed, run_given
from explore.plant.roots import falling_root
from explore.plant.settle import Frame, Leaks, Marched, Run, Trail, settle, sizing_volumes

NODES, WEIGHTS = np.polynomial.legendre.leggauss(8)
TO_SERIES = np.linalg.inv(np.polynomial.legendre.legvander(NODES, len(NODES) - 1)).T
GRID_BASIS = np.polynomial.legendre.legvander(np.linspace(-1.0, 1.0, GRID), len(NODES) - 1).T
ZERO_STEPS = 4
NODE_SWEEPS = 4
"""Losses at a node start from those at the sizing point, in the same cylinders: four sweeps leave 1e-4 of the work."""
LAST_SWEEPS = 2
"""Where the governor stands its search has settled the losses but for the last step."""
GOVERNOR_STEPS = 6
LEAST_THROTTLED = 1.02
"""A throttle never lets the inlet fall to the condenser: the engine would run on nothing."""
LACK_J_PER_KG_K = 100.0


@dataclass(frozen=True)
class Built:
    """What was built for a fully mixed store, arrays (n,): cylinders, their speed and what they are to give.

    ``cylinders`` of each stage (empty with constant losses), ``frame`` with power [W] and speed [1/s], ``losses`` of each
    stage at the sizing point, from which those at any other are sought; ``rate`` [kg/s] of flow at the built speed where
    the flow ratio is 1.
    """

    laws: Laws | None
    films: Films
    cylinders: list[Cylinders]
    frame: Frame
    losses: list[StageLosses]
    rate: Array

    def take(self, index: Index) -> Built:
        """Return those of the designs ``index``."""
        frame = self.frame
        return Built(
            self.laws,
            self.films.take(index),
            [own.take(index) for own in self.cylinders],
            Frame(frame.power[index], frame.frequency[index], frame.number[index], frame.make),
            [own.take(index) for own in self.losses],
            self.rate[index],
        )


class Governed(NamedTuple):
    """A cycle under its governor, each (n,): the flow [kg/s], the speed [1/s] and inlet pressure [Pa] that it holds."""

    cycle: Cycle
    flow: Array
    frequency: Array
    inlet_pressure: Array

    @property
    def power(self) -> Array:
        """Net power [W] at the engine's shaft."""
        return self.flow * self.cycle.net_work

    @property
    def heat_flow(self) -> Array:
        """Heat from the store [W]."""
        return self.flow * self.cycle.heat


@dataclass(frozen=True)
class MixedEngine:
    """A fixed engine on a fully mixed store: run it at any store temperature.

    ``approach`` [K] is the smallest difference to the boiling fluid. A mixture has it where boiling ends, at its
    dew point; a pure fluid has it everywhere. Without ``engine`` one is sized where it runs, with constant losses.
    """

    fluid: WorkingFluid
    water: Water
    machine: Machine
    settings: Settings
    approach: Array
    stages: int
    engine: FixedEngine | None = None
    built: Built | None = None
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
            None if self.built is None else self.built.take(index),
            None if self.drops is None else self.drops.take(index),
        )

    def supply(self, store_temperature: Array) -> Supply:
        """What boiler and feed pump give with the store at T [K]."""
        boiling_end, _ = capped(self.fluid, store_temperature - self.approach)
        T = boiling_start(self.fluid, boiling_end)
        return supply(self.fluid, self.water, self.machine, self.settings, [T], drops=self.drops)

    def close(self, given: Supply, stages: list[Stage], flow: Array) -> Cycle:
        """Close the cycle behind the stages of a fixed engine."""
        expansion = in_line(stages, flow)
        return go_round(self.fluid, self.water, self.machine, self.settings, given, expansion)

    def at(self, store_temperature: Array) -> Cycle:
        """Run the cycle with the store at T [K], nothing governed."""
        given = self.supply(store_temperature)
        if self.engine is None:
            losses = [self.machine.losses] * self.stages
            expansion = march(self.fluid, losses, given, self.settings.release_ratio)
            return go_round(self.fluid, self.water, self.machine, self.settings, given, expansion)
        pressure, enthalpy = given.starts[0], given.levels[0].exit_enthalpy
        if self.built is None or self.built.laws is None:
            done = run_fixed(self.fluid, self.engine, pressure, enthalpy, given.end, self.machine.losses)
            return self.close(given, *done)
        held = self._operated(given, pressure, self.engine, self.built.frame.frequency)
        return self.close(given, held.stages, held.flow)

    def _operated(
        self,
        given: Supply,
        pressure: Array,
        engine: FixedEngine,
        frequency: Array,
        near: Operation | None = None,
        sweeps: int = NODE_SWEEPS,
    ) -> Operation:
        """Run the built engine from ``pressure`` [Pa] at ``frequency`` [1/s]; ``near`` is it at a state close by."""
        built = self.built
        assert built is not None
        assert built.laws is not None
        return run_at(
            self.fluid,
            engine,
            built.cylinders,
            frequency,
            pressure,
            given.levels[0].exit_enthalpy,
            given.end,
            built.laws,
            built.films,
            built.losses if near is None else near.losses,
            sweeps,
            None if near is None else near.stages,
        )

    def governed(self, store_temperature: Array, governing: Governing, power_may_rise: float) -> Governed:
        """Run the cycle with the store at T [K] under the governor; where the engine is weak it does nothing.

        While the governor is sought losses follow one sweep behind; at its setting they settle.
        """
        engine, built = self.engine, self.built
        assert engine is not None
        assert built is not None
        given = self.supply(store_temperature)
        enthalpy, frame = given.levels[0].exit_enthalpy, built.frame
        clearance = self.machine.losses.clearance_fraction if built.laws is None else built.laws.clearance
        near: Operation | None = None

        def run(setting: Setting, sweeps: int) -> Cycle:
            nonlocal near
            turned = with_cut_off(engine, clearance, setting.cut_off) if governing == "cut_off" else engine
            if built.laws is None:
                done = run_fixed(
                    self.fluid, turned, setting.pressure, enthalpy, given.end, self.machine.losses
                )
                return self.close(given, *done)
            first = NODE_SWEEPS if near is None else sweeps
            near = self._operated(given, setting.pressure, turned, setting.frequency, near, first)
            return self.close(given, near.stages, near.flow)

        def flow_of(cycle: Cycle, setting: Setting) -> Array:
            return built.rate * cycle.flow_ratio * setting.frequency / frame.frequency

        def net_power(setting: Setting) -> Array:
            cycle = run(setting, 1)
            return flow_of(cycle, setting) * cycle.net_work

        full = Setting(given.starts[0], built_cut_off(engine, clearance), frame.frequency)
        least = np.minimum(LEAST_THROTTLED * given.end, given.starts[0])
        held = govern(governing, net_power, full, least, frame.power, power_may_rise, GOVERNOR_STEPS)
        cycle = run(held, LAST_SWEEPS)
        return Governed(cycle, flow_of(cycle, held), held.frequency, held.pressure)


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
) -> tuple[Cycle, MixedEngine, Works]:
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

    def sized(drops: Drops | None = None) -> tuple[Cycle, MixedEngine, Works]:
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
        lambda cycle: coil_boiling(fluid, plant, designs, cycle, sizing),
    )
    return sized(drops)


def constant_engine(
    plant: Plant, designs: Designs, free: MixedEngine, middle: Array, sizing: Array
) -> tuple[Cycle, MixedEngine, Works]:
    """The engine with constant losses, rated at the store temperature ``middle`` and sized at ``sizing`` [K]."""
    rated, frame = free.at(middle), plant.frame(designs)
    engine = replace(free, engine=freeze(rated.stages))
    weak = engine.at(sizing)
    flow = frame.power / np.maximum(weak.net_work, LEAST_WORK)
    rate = flow / weak.flow_ratio
    volumes = [s.swept_volume * rate / (frame.frequency * plant.make.acting) for s in rated.stages]
    built = Built(None, plant.films_of(designs), [], frame, [], rate)
    return rated, replace(engine, built=built), constant_works(plant, designs, flow, volumes)


def lawful_engine(
    plant: Plant, laws: Laws, designs: Designs, free: MixedEngine, middle: Array, sizing: Array
) -> tuple[Cycle, MixedEngine, Works]:
    """The engine whose losses follow from its cylinders, rated at ``middle`` and sized at ``sizing`` [K]."""
    fluid, frame, films = free.fluid, plant.frame(designs), plant.films_of(designs)
    at_middle, at_sizing = free.supply(middle), free.supply(sizing)
    ideal = np.maximum(at_sizing.ideal_work(fluid), LEAST_WORK)
    pressure, enthalpy = at_sizing.starts[0], at_sizing.levels[0].exit_enthalpy

    def points(
        losses: Sequence[Sequence[AnyLosses]], trail: Trail | None
    ) -> tuple[Expansion, FixedEngine, Cycle]:
        rated = march(fluid, losses[0], at_middle, free.settings.release_ratio)
        engine = freeze(rated.stages)
        leaks, before = (None, None) if trail is None else (trail.leaks, trail.runs[1])
        weak_losses = [one for one in losses[1] if isinstance(one, StageLosses)]
        done = run_given(fluid, engine, pressure, enthalpy, at_sizing.end, weak_losses, leaks, before)
        return rated, engine, free.close(at_sizing, *done)

    def marched(losses: Sequence[Sequence[AnyLosses]], trail: Trail | None) -> Marched:
        rated, _, weak = points(losses, trail)
        volumes = sizing_volumes(rated.stages, weak.stages)
        whole = [np.ones_like(ideal)] * len(volumes)
        runs = [Run(rated.stages, rated.flows), Run(weak.stages, whole)]
        return Marched(runs, volumes, weak.net_work, ideal)

    settled = settle(fluid, marched, 2, free.stages, frame, laws, films)
    trail = Trail(
        Leaks(laws, settled.cylinders, frame.frequency, films), [run.stages for run in settled.marched.runs]
    )
    rated, engine, weak = points(settled.losses, trail)
    cycle = go_round(fluid, free.water, free.machine, free.settings, at_middle, rated)
    rate = settled.flow / weak.flow_ratio
    start = [one for one in settled.losses[1] if isinstance(one, StageLosses)]
    built = Built(laws, films, settled.cylinders, frame, start, rate)
    return cycle, replace(free, engine=engine, built=built), settled_works(settled)


def sizing_temperature(designs: Designs) -> Array:
    """Store temperature [K] at which the cylinders just give the power asked."""
    stop = np.minimum(designs.stop_temperature, designs.top_temperature - LEAST_SPAN_K)
    return stop + designs.sizing_share * (designs.top_temperature - stop)


def coil_boiling(
    fluid: WorkingFluid, plant: Plant, designs: Designs, cycle: Cycle, store_temperature: Array
) -> tuple[Boiling, Array]:
    """Zones of the coil in the store, and the flow [kg/s] of working fluid that gives the power."""
    flow = plant.frame(designs).power / np.maximum(cycle.net_work, LEAST_WORK)
    return coil_at(fluid, cycle, store_temperature), flow


def coil_at(fluid: WorkingFluid, cycle: Cycle, store_temperature: Array) -> Boiling:
    """Zones of the coil in a store at T [K]."""
    feed = cycle.warmed_temperature
    return Boiling(_coil_zones(fluid, cycle, store_temperature, feed), feed, store_temperature)


def mixed(
    fluid: WorkingFluid, water: Water, plant: Plant, designs: Designs, stages: int, governing: Governing
) -> dict[str, Array]:
    """Performance of designs on a fully mixed store, all with the same number of stages and the same governor.

    The engine is rated at the middle of the discharge. Net work and heat are then found at eight Gauss-Legendre
    nodes between empty and full; the polynomial through them serves the integral up to the temperature
    left after the holding time and the grid handed to the year.
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
    idle = governing == "speed" and plant.laws is None
    govern_by: Governing | None = None if idle else governing
    series = _discharge(
        engine, floor, top, sizing, govern_by, plant.power_may_rise, np.flatnonzero(floor < top - LEAST_SPAN_K)
    )  # fmt: skip
    efficiency, heating, cooling = (s @ GRID_BASIS for s in series)
    efficiency = np.maximum(efficiency, 0.0)
    hottest, excess = capped(fluid, top - approach)
    weak = engine.at(sizing)
    drive = drive_efficiency(designs.speed, plant.load_speed)
    served = _busiest(engine, weak, works, sizing, top, govern_by, plant.power_may_rise)
    boiling = coil_at(fluid, served.cycle, served.store_temperature)
    power_grid = efficiency * np.maximum(heating, 0.0)
    if govern_by is None or served.full is None:
        speeds, powers = _falling(engine, rated, power_grid[:, -1])
    else:
        middle = engine.governed(0.5 * (top + stop), govern_by, plant.power_may_rise)
        speeds, powers = _running(engine, served.full, middle)
    work_per_kg = _work_per_kg(water, series[0], floor, top, held)
    return (
        cycle_figures(fluid, rated)
        | rest
        | exchanger_figures(fluid, water, plant, designs, served.cycle, boiling, served.flow)
        | works.figures()
        | {
            "highest_boiler_pressure": fluid.dew_pressure(hottest),
            "engine_power": plant.frame(designs).power,
            "work_per_volume": water.density(top) * np.where(work_per_kg > 0.0, drive, 1.0) * work_per_kg,
            "held_temperature": held,
            "floor_temperature": floor,
            "efficiency_grid": drive[:, None] * efficiency,
            "power_grid": power_grid,
            "speeds": speeds,
            "powers": powers,
            "cooling_grid": np.maximum(cooling, 0.0),
            "part_load": plant.smallest_part_load - weak.net_work / np.maximum(rated.net_work, LEAST_WORK),
            "critical_excess": excess,
        }
    )


class Busiest(NamedTuple):
    """Where the exchangers have most to do, each (n,): cycle, store temperature [K], flow [kg/s].

    ``full``: the engine under its governor at the full store, where it has been run there.
    """

    cycle: Cycle
    store_temperature: Array
    flow: Array
    full: Governed | None = None


def _running(engine: MixedEngine, full: Governed, middle: Governed) -> tuple[Array, Array]:
    """Speed [1/s] and power [W] at the full store, at the rated and at the sizing point, (n, 3) each."""
    built = engine.built
    assert built is not None
    frame = built.frame
    return (
        per_stage([full.frequency, middle.frequency, frame.frequency]),
        per_stage([full.power, middle.power, frame.power]),
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


def _busiest(
    engine: MixedEngine,
    weak: Cycle,
    works: Works,
    sizing: Array,
    top: Array,
    governing: Governing | None,
    power_may_rise: float,
) -> Busiest:
    """Find whether the sizing point or the full store asks for the greater heat flow under the governor."""
    if governing is None:
        return Busiest(weak, sizing, works.flow)
    full = engine.governed(top, governing, power_may_rise)
    hotter = full.heat_flow > works.flow * weak.heat
    if not np.any(hotter):
        return Busiest(weak, sizing, works.flow, full)
    at = np.where(hotter, top, sizing)
    there = engine.governed(at, governing, power_may_rise)
    return Busiest(there.cycle, at, there.flow, full)


def _coil_zones(
    fluid: WorkingFluid, sized: Cycle, store_temperature: Array, feed_temperature: Array
) -> list[boiler.Zone]:
    level, warmed = sized.levels[0], sized.warmed
    if fluid.glides:
        return glide.coil_zones(fluid, level, store_temperature, warmed, feed_temperature)
    return boiler.coil_zones(level, store_temperature, warmed, feed_temperature)


def _discharge(
    engine: MixedEngine,
    floor: Array,
    top: Array,
    sizing: Array,
    governing: Governing | None,
    power_may_rise: float,
    works: Index,
) -> tuple[Array, Array, Array]:
    """Legendre series (n, 8) on [floor, top] of net work per heat, heat rate and cooling water per heat.

    The heat rate [-] is that over the power asked for; where power and efficiency vanish together, it does not.
    Above the store temperature ``sizing`` [K] the engine is governed, if it is. Only the designs ``works`` are run; the
    others get zeros.
    """
    k = len(NODES)
    low, high = floor[works], top[works]
    T = (low[:, None] + 0.5 * (NODES + 1.0) * (high - low)[:, None]).ravel()
    rows = np.repeat(works, k)
    part = engine.take(rows)
    assert part.built is not None
    cycle = part.at(T)
    work, heat, cooling = cycle.net_work, cycle.heat, cycle.condenser.water_flow
    flow = part.built.rate * cycle.flow_ratio
    strong = np.flatnonzero(sizing[rows] < T)
    if governing is not None and len(strong):
        held = part.take(strong).governed(T[strong], governing, power_may_rise)
        work[strong], heat[strong] = held.cycle.net_work, held.cycle.heat
        cooling[strong], flow[strong] = held.cycle.condenser.water_flow, held.flow

    def series(values: Array) -> Array:
        out = np.zeros((len(top), k))
        out[works] = values.reshape(-1, k) @ TO_SERIES
        return out

    return (
        series(work / heat),
        series(heat * flow / part.built.frame.power),
        series(cooling / heat),
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
