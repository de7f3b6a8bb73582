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
    Expansion,
    Machine,
    Settings,
    Supply,
    go_round,
    in_line,
    march,
    net_work,
    supply,
)
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
from explore.cycle.source import Boiling, Coil
from explore.design.designs import Designs
from explore.fluids.interface import Array, Index, WorkingFluid
from explore.fluids.water import Water
from explore.plant import store
from explore.plant.circuit import Cycle, Drops
from explore.plant.cylinder import Cylinders
from explore.plant.engine import AnyLosses
from explore.plant.governor import (
    GOVERNORS,
    Setting,
    built_cut_off,
    drive_efficiency,
    govern,
    with_cut_off,
)
from explore.plant.losses import Films, Laws, StageLosses
from explore.plant.part_load import FixedEngine, Operation, freeze, run_at, run_fixed, run_given
from explore.plant.roots import falling_root
from explore.plant.settle import Frame, Leaks, Marched, Run, Trail, settle, sizing_volumes

NODES, WEIGHTS = np.polynomial.legendre.leggauss(8)
BELOW = np.polynomial.legendre.leggauss(3)[0]
"""Nodes between the floor and the sizing point, where no governor acts: the engine's curves run nearly straight."""
ABOVE: Array = -np.real(np.polynomial.legendre.legroots([0, 0, 0, 0, 1, 1]))[::-1]
"""Gauss-Radau nodes between the sizing point and the full store, which is one of them: it is known anyway. The sizing
point is none, for there a cut-off that shortens bends the curves like a root."""
LEAST_STRETCH = 1e-3
"""Share of the discharge that each stretch keeps, for designs whose sizing point lies outside it."""
ZERO_STEPS = 4
NODE_SWEEPS = 4
"""Losses at a node start from those at the sizing point, in the same cylinders: four sweeps leave 1e-4 of the work."""
LAST_SWEEPS = 2
"""Where the governor stands its search has settled the losses but for the last step."""
GOVERNOR_STEPS = 6
LEAST_THROTTLED = 1.02
"""A throttle never lets the inlet fall to the condenser: the engine would run on nothing."""
HELD = 1e-4
"""A power this near to what the load takes is held there."""
LACK_J_PER_KG_K = 100.0


@dataclass(frozen=True)
class Built:
    """What was built for a fully mixed store, arrays (n,): cylinders, their speed and what they are to give.

    ``cylinders`` of each stage (empty with constant losses), ``frame`` with power [W] and speed [1/s], ``losses`` of each
    stage at the sizing point, from which those at any other are sought; ``rate`` [kg/s] of flow at the built speed where
    the flow ratio is 1; ``governing`` the place of its governor in :data:`~explore.plant.governor.GOVERNORS`.
    """

    laws: Laws | None
    films: Films
    cylinders: list[Cylinders]
    frame: Frame
    losses: list[StageLosses]
    rate: Array
    governing: Index

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
            self.governing[index],
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
        return supply(
            self.fluid, self.water, self.machine, self.settings, [T], Coil(store_temperature), self.drops
        )

    def work_of(self, given: Supply, expansion: Expansion) -> Array:
        """Net work [J/kg] of the cycle closed behind an expansion."""
        return net_work(self.fluid, self.water, self.machine, self.settings, given, expansion)

    def at(self, store_temperature: Array) -> Cycle:
        """Run the cycle with the store at T [K], nothing governed."""
        given = self.supply(store_temperature)
        return go_round(self.fluid, self.water, self.machine, self.settings, given, self._expanded(given))

    def net_work_at(self, store_temperature: Array) -> Array:
        """Net work [J/kg] of :meth:`at`."""
        given = self.supply(store_temperature)
        return self.work_of(given, self._expanded(given))

    def _expanded(self, given: Supply) -> Expansion:
        """Expand what boiler and pump give, nothing governed."""
        if self.engine is None:
            losses = [self.machine.losses] * self.stages
            return march(self.fluid, losses, given, self.settings.release_ratio)
        pressure, enthalpy = given.arriving[0]
        if self.built is None or self.built.laws is None:
            return in_line(
                *run_fixed(self.fluid, self.engine, pressure, enthalpy, given.end, self.machine.losses)
            )
        held = self._operated(given, pressure, self.engine, self.built.frame.frequency)
        return in_line(held.stages, held.flow)

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
            given.arriving[0].enthalpy,
            given.end,
            built.laws,
            built.films,
            built.losses if near is None else near.losses,
            sweeps,
            None if near is None else near.stages,
        )

    def governed(self, store_temperature: Array, power_may_rise: float) -> Governed:
        """Run the cycle with the store at T [K] under its governor; where the engine is weak it does nothing.

        While the governor is sought losses follow one sweep behind; at its setting they settle.
        """
        engine, built = self.engine, self.built
        assert engine is not None
        assert built is not None
        given = self.supply(store_temperature)
        (pressure, enthalpy), frame = given.arriving[0], built.frame
        clearance = self.machine.losses.clearance_fraction if built.laws is None else built.laws.clearance
        cuts = bool(np.any(built.governing == GOVERNORS.index("cut_off")))
        near: Operation | None = None

        def run(setting: Setting, sweeps: int) -> Expansion:
            nonlocal near
            turned = with_cut_off(engine, clearance, setting.cut_off) if cuts else engine
            if built.laws is None:
                done = run_fixed(
                    self.fluid, turned, setting.pressure, enthalpy, given.end, self.machine.losses
                )
                return in_line(*done)
            first = NODE_SWEEPS if near is None else sweeps
            near = self._operated(given, setting.pressure, turned, setting.frequency, near, first)
            return in_line(near.stages, near.flow)

        def flow_of(expansion: Expansion, setting: Setting) -> Array:
            return built.rate * expansion.flow_ratio * setting.frequency / frame.frequency

        def net_power(setting: Setting) -> Array:
            expansion = run(setting, 1)
            return flow_of(expansion, setting) * self.work_of(given, expansion)

        full = Setting(pressure, built_cut_off(engine, clearance), frame.frequency)
        least = np.minimum(LEAST_THROTTLED * given.end, pressure)
        held = govern(built.governing, net_power, full, least, frame.power, power_may_rise, GOVERNOR_STEPS)
        expansion = run(held, LAST_SWEEPS)
        cycle = go_round(self.fluid, self.water, self.machine, self.settings, given, expansion)
        return Governed(cycle, flow_of(expansion, held), held.frequency, held.pressure)


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
        lambda cycle: coil_boiling(fluid, water, plant, designs, cycle, sizing),
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
    built = Built(None, plant.films_of(designs), [], frame, [], rate, designs.governing)
    return rated, replace(engine, built=built), constant_works(plant, designs, flow, volumes)


def lawful_engine(
    plant: Plant, laws: Laws, designs: Designs, free: MixedEngine, middle: Array, sizing: Array
) -> tuple[Cycle, MixedEngine, Works]:
    """The engine whose losses follow from its cylinders, rated at ``middle`` and sized at ``sizing`` [K]."""
    fluid, frame, films = free.fluid, plant.frame(designs), plant.films_of(designs)
    at_middle, at_sizing = free.supply(middle), free.supply(sizing)
    ideal = np.maximum(at_sizing.ideal_work(fluid), LEAST_WORK)
    pressure, enthalpy = at_sizing.arriving[0]

    def points(
        losses: Sequence[Sequence[AnyLosses]], trail: Trail | None
    ) -> tuple[Expansion, FixedEngine, Expansion]:
        rated = march(fluid, losses[0], at_middle, free.settings.release_ratio)
        engine = freeze(rated.stages)
        leaks, before = (None, None) if trail is None else (trail.leaks, trail.runs[1])
        weak_losses = [one for one in losses[1] if isinstance(one, StageLosses)]
        done = run_given(fluid, engine, pressure, enthalpy, at_sizing.end, weak_losses, leaks, before)
        return rated, engine, in_line(*done)

    def marched(losses: Sequence[Sequence[AnyLosses]], trail: Trail | None) -> Marched:
        rated, _, weak = points(losses, trail)
        volumes = sizing_volumes(rated.stages, weak.stages)
        whole = [np.ones_like(ideal)] * len(volumes)
        runs = [Run(rated.stages, rated.flows), Run(weak.stages, whole)]
        return Marched(runs, volumes, free.work_of(at_sizing, weak), ideal)

    settled = settle(fluid, marched, 2, free.stages, frame, laws, films)
    trail = Trail(
        Leaks(laws, settled.cylinders, frame.frequency, films), [run.stages for run in settled.marched.runs]
    )
    rated, engine, weak = points(settled.losses, trail)
    cycle = go_round(fluid, free.water, free.machine, free.settings, at_middle, rated)
    rate = settled.flow / weak.flow_ratio
    start = [one for one in settled.losses[1] if isinstance(one, StageLosses)]
    built = Built(laws, films, settled.cylinders, frame, start, rate, designs.governing)
    return cycle, replace(free, engine=engine, built=built), settled_works(settled)


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
        curves = _ungoverned(engine, floor, top, run)
        power_full = curves.at_top()
        speeds, powers = _falling(engine, rated, power_full)
    else:
        full = engine.governed(top, plant.power_may_rise)
        curves = _governed(engine, floor, sizing, top, full, plant.power_may_rise, run)
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
    work_per_kg = _work_per_kg(water, curves.efficiency, floor, held)
    done = (
        cycle_figures(fluid, rated)
        | rest
        | exchanging
        | works.figures()
        | {
            "highest_boiler_pressure": fluid.dew_pressure(hottest),
            "engine_power": plant.frame(designs).power,
            "work_per_volume": water.density(top) * np.where(work_per_kg > 0.0, drive, 1.0) * work_per_kg,
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


class Curve(NamedTuple):
    """A quantity over the temperature of the store: polynomials on stretches between ``edges`` [K], m + 1 of them (n,).

    ``series``: Legendre coefficients (n, k) of each of the m stretches.
    """

    edges: list[Array]
    series: list[Array]

    def at(self, T: Array) -> Array:
        """Value at temperatures [K], (n, m); beyond the ends the value there."""
        value: Array = np.zeros_like(T)
        for j, (low, high, own) in enumerate(zip(self.edges[:-1], self.edges[1:], self.series, strict=True)):
            place = np.clip(2.0 * (T - low[:, None]) / (high - low)[:, None] - 1.0, -1.0, 1.0)
            here = np.asarray(
                np.polynomial.legendre.legval(place, own.T[:, :, None], tensor=False), dtype=float
            )
            value = here if j == 0 else np.where(low[:, None] < T, here, value)
        return value


class Curves(NamedTuple):
    """A discharge: net work per heat [-], heat rate over the power asked [-], cooling water per heat [kg/J].

    The heat rate stays where power and efficiency vanish together.
    """

    efficiency: Curve
    heating: Curve
    cooling: Curve

    def at_top(self) -> Array:
        """Power of the full store over that asked, (n,)."""
        top = self.efficiency.edges[-1][:, None]
        return np.maximum(self.efficiency.at(top), 0.0)[:, 0] * np.maximum(self.heating.at(top), 0.0)[:, 0]


def _values(cycle: Cycle, flow: Array, power: Array) -> Array:
    """The quantities of :class:`Curves` at states of the plant, (3, n)."""
    return np.stack(
        [cycle.net_work / cycle.heat, cycle.heat * flow / power, cycle.condenser.water_flow / cycle.heat]
    )


def _nodes(low: Array, high: Array, places: Array) -> Array:
    """Temperatures [K] (n, k) at ``places`` of -1 to 1 between two edges."""
    return np.asarray(low[:, None] + 0.5 * (places + 1.0) * (high - low)[:, None])


def _curves(edges: list[Array], values: list[Array], nodes: list[Array], works: Index) -> Curves:
    """Curves through ``values`` (3, designs of ``works``, k) at the ``nodes`` of each stretch; zero for the others."""
    transforms = [np.linalg.inv(np.polynomial.legendre.legvander(x, len(x) - 1)).T for x in nodes]
    found = []
    for quantity in range(3):
        series = [np.zeros((len(edges[0]), len(x))) for x in nodes]
        for own, value, transform in zip(series, values, transforms, strict=True):
            own[works] = value[quantity] @ transform
        found.append(Curve(edges, series))
    return Curves(*found)


def _at_nodes(engine: MixedEngine, T: Array, works: Index) -> Array:
    """Quantities of :class:`Curves` with nothing governed, (3, designs, k), at T [K] (designs ``works``, k)."""
    part = engine.take(np.repeat(works, T.shape[1]))
    assert part.built is not None
    cycle = part.at(T.ravel())
    values = _values(cycle, part.built.rate * cycle.flow_ratio, part.built.frame.power)
    return values.reshape(3, *T.shape)


def _ungoverned(engine: MixedEngine, floor: Array, top: Array, works: Index) -> Curves:
    """One stretch from floor to full, for an engine whose speed alone holds its power."""
    values = _at_nodes(engine, _nodes(floor, top, NODES)[works], works)
    return _curves([floor, top], [values], [NODES], works)


def _governed(
    engine: MixedEngine,
    floor: Array,
    sizing: Array,
    top: Array,
    full: Governed,
    power_may_rise: float,
    works: Index,
) -> Curves:
    """Two stretches: the governor bends every curve at the sizing point, where it begins to act.

    ``full`` is the cycle of the full store.
    """
    built = engine.built
    assert built is not None
    span = top - floor
    edge = np.clip(sizing, floor + LEAST_STRETCH * span, top - LEAST_STRETCH * span)
    below = _at_nodes(engine, _nodes(floor, edge, BELOW)[works], works)
    T = _nodes(edge, top, ABOVE[:-1])[works]
    part = engine.take(np.repeat(works, T.shape[1]))
    assert part.built is not None
    held = part.governed(T.ravel(), power_may_rise)
    inner = _values(held.cycle, held.flow, part.built.frame.power).reshape(3, *T.shape)
    last = _values(full.cycle, full.flow, built.frame.power)[:, works, None]
    above = np.concatenate([inner, last], axis=2)
    return _curves([floor, edge, top], [below, above], [BELOW, ABOVE], works)


def _work_per_kg(water: Water, efficiency: Curve, floor: Array, held: Array) -> Array:
    """Integral of c_w w_net/q dT from the floor to the held temperature [J/kg], Gauss-Legendre on each stretch.

    A store that falls below the floor while it is held gives a negative result that grows with the lack.
    """
    work = np.zeros_like(floor)
    for low, high in zip(efficiency.edges[:-1], efficiency.edges[1:], strict=True):
        half = 0.5 * np.maximum(np.minimum(held, high) - low, 0.0)
        T = low[:, None] + (NODES + 1.0) * half[:, None]
        work = work + half * np.sum(WEIGHTS * water.heat_capacity(T) * efficiency.at(T), axis=1)
    lack = 0.5 * (held - floor)
    return np.where(lack > 0.0, work, lack * LACK_J_PER_KG_K)
