"""The engine built for a fully mixed store: it runs at any store temperature, governed or not.

Away from its rated point its receiver pressures follow from the continuity of mass.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from explore.cycle.cycle import Closing, Expansion, go_round, in_line, march
from explore.cycle.rated import boiling_start, capped
from explore.cycle.source import Coil
from explore.cycle.supply import Machine, Settings, Supply, supply
from explore.fluids.interface import Array, Index, WorkingFluid
from explore.fluids.water import Water
from explore.plant.circuit import Cycle, Drops, rows
from explore.plant.cylinder import Cylinders
from explore.plant.governor import (
    GOVERNORS,
    Setting,
    built_cut_off,
    govern,
    with_cut_off,
)
from explore.plant.laws import Laws
from explore.plant.losses import Films, StageLosses
from explore.plant.part_load import Ends, FixedEngine, Operation, run_at, run_fixed
from explore.plant.settle import Frame, Leaks

NODE_SWEEPS = 4
"""Losses at a node start from those at the sizing point, in the same cylinders: four sweeps leave 1e-4 of the work."""
LAST_SWEEPS = 2
"""Where the governor stands its search has settled the losses but for the last step."""
GOVERNOR_STEPS = {1: 6, 2: 8, 3: 8}
"""Steps of the governor's search by number of stages, fixed, so that no design depends on its batch: of 99 in 100 random
engines they leave 1e-5 of the power with one stage and 4e-3 with more, whose losses settle while it is sought."""
LEAST_THROTTLED = 1.02
"""A throttle never lets the inlet fall to the condenser: the engine would run on nothing."""


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
    """A cycle under its governor, each (n,): flow [kg/s], and the speed [1/s], inlet pressure [Pa] and cut-off [-] held."""

    cycle: Cycle
    flow: Array
    frequency: Array
    inlet_pressure: Array
    cut_off: Array

    def take(self, index: Index) -> Governed:
        """Return those of the designs ``index``."""
        taken: Governed = rows(self, index)
        return taken

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

    def resettled(self, store_temperature: Array, sweeps: int) -> MixedEngine:
        """Return the engine with its losses found anew, in more sweeps, with the store at T [K]: others start from them."""
        if self.built is None or self.built.laws is None or self.engine is None:
            return self
        given = self.supply(store_temperature)
        pressure, frequency = given.arriving[0].pressure, self.built.frame.frequency
        done = self._operated(given, pressure, self.engine, frequency, None, sweeps)
        return replace(self, built=replace(self.built, losses=done.losses))

    def closing(self, given: Supply) -> Closing:
        """The way back from expansions of what boiler and pump give, as far as their net work asks."""
        return Closing(self.fluid, self.water, self.machine, self.settings, given)

    def at(self, store_temperature: Array) -> Cycle:
        """Run the cycle with the store at T [K], nothing governed."""
        given = self.supply(store_temperature)
        return go_round(self.fluid, self.water, self.machine, self.settings, given, self._expanded(given))

    def net_work_at(self, store_temperature: Array) -> Array:
        """Net work [J/kg] of :meth:`at`."""
        given = self.supply(store_temperature)
        return self.closing(given).net_work(self._expanded(given))

    def _expanded(self, given: Supply) -> Expansion:
        """Expand what boiler and pump give, nothing governed."""
        if self.engine is None:
            losses = [self.machine.losses] * self.stages
            return march(self.fluid, losses, given, self.settings.release_ratio)
        pressure, enthalpy = given.arriving[0]
        if self.built is None or self.built.laws is None:
            return in_line(
                *run_fixed(self.fluid, self.engine, Ends(pressure, enthalpy, given.end), self.machine.losses)
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
            Ends(pressure, given.arriving[0].enthalpy, given.end),
            Leaks(built.laws, built.cylinders, frequency, built.films),
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
        closing = self.closing(given)
        near: Operation | None = None

        def run(setting: Setting, sweeps: int) -> Expansion:
            nonlocal near
            turned = with_cut_off(engine, clearance, setting.cut_off) if cuts else engine
            if built.laws is None:
                ends = Ends(setting.pressure, enthalpy, given.end)
                done = run_fixed(self.fluid, turned, ends, self.machine.losses)
                return in_line(*done)
            first = NODE_SWEEPS if near is None else sweeps
            near = self._operated(given, setting.pressure, turned, setting.frequency, near, first)
            return in_line(near.stages, near.flow)

        def flow_of(expansion: Expansion, setting: Setting) -> Array:
            return built.rate * expansion.flow_ratio * setting.frequency / frame.frequency

        def net_power(setting: Setting) -> Array:
            expansion = run(setting, 1)
            return flow_of(expansion, setting) * closing.net_work(expansion)

        full = Setting(pressure, built_cut_off(engine, clearance), frame.frequency)
        least = np.minimum(LEAST_THROTTLED * given.end, pressure)
        held = govern(
            built.governing, net_power, full, least, frame.power, power_may_rise, GOVERNOR_STEPS[self.stages]
        )
        expansion = run(held, LAST_SWEEPS)
        cycle = go_round(self.fluid, self.water, self.machine, self.settings, given, expansion)
        return Governed(cycle, flow_of(expansion, held), held.frequency, held.pressure, held.cut_off)
