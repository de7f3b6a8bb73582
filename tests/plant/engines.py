"""Engines on a stratified or a mixed store, small and complete, for the tests of laws."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from explore.fluids.table_fluid import Stack
from explore.plant import pump
from explore.plant.cylinder import Make
from explore.plant.engine import expand, receiver_pressures
from explore.plant.laws import Laws
from explore.plant.losses import Films
from explore.plant.part_load import Ends, freeze, run_given
from explore.plant.settle import Frame, Marched, Run, settle, sizing_volumes

NAMES = ("n-Butane", "Ethanol", "R1233zd(E)", "Acetone", "Isopentane")


@dataclass
class Case:
    """A batch of engines; arrays (n,)."""

    index: np.ndarray
    evaporating: np.ndarray
    condensing: np.ndarray
    superheat: np.ndarray
    theta: np.ndarray
    power: np.ndarray
    frequency: np.ndarray
    stages: int = 1
    make: Make = field(default_factory=Make)
    number: float = 1.0
    conductivity: float = 0.1
    viscosity: float = 9e-6

    def __post_init__(self):
        self.n = len(self.index)
        self.fluid = Stack.of(NAMES).bind(self.index)
        self.films = Films(np.full(self.n, self.conductivity), np.full(self.n, self.viscosity))
        self.pressure, self.enthalpy = self.boiler(self.evaporating)
        self.low = self.fluid.saturation_pressure(self.condensing)
        self.frame = Frame(self.power, self.frequency, np.full(self.n, self.number), self.make)

    def boiler(self, temperature):
        """Pressure [Pa] and enthalpy [J/kg] behind the boiler."""
        p = self.fluid.saturation_pressure(temperature)
        return p, self.fluid.superheated(p, self.superheat).enthalpy

    def pumped(self, high):
        """Work of the feed pump [J/kg] up to ``high`` [Pa]."""
        volume = self.fluid.saturation(self.low).v_liquid
        return pump.feed_work(volume, self.low, high, pump.feed_efficiency(pump.FeedPump(), self.low, high))

    def ideal(self, p, h):
        """Work [J/kg] of loss-free expansion."""
        return h - self.fluid.from_entropy(self.low, self.fluid.from_enthalpy(p, h).entropy).enthalpy

    def rated(self, losses):
        """Stages at the rated point."""
        bounds = receiver_pressures([self.pressure], self.low, self.stages)
        done, h = [], self.enthalpy
        for j in range(self.stages):
            done.append(expand(self.fluid, bounds[j], h, bounds[j + 1], self.theta, losses[j]))
            h = done[-1].exhaust_enthalpy
        return done

    def march(self, losses, trail=None):
        """One march for an engine on a stratified store."""
        done = self.rated(losses[0])
        work = sum(s.shaft_work for s in done) - self.pumped(self.pressure)
        ones = np.ones(self.n)
        return Marched(
            [Run(done, [ones] * self.stages)],
            [s.swept_volume for s in done],
            work,
            self.ideal(self.pressure, self.enthalpy),
        )

    def settle(self, laws, sweeps=None):
        """The engine on a stratified store."""
        return settle(self.fluid, self.march, 1, self.stages, self.frame, laws, self.films, sweeps)

    def mixed(self, cooler):
        """The march of an engine on a mixed store, sized ``cooler`` kelvin below its rated point."""
        p, h = self.boiler(self.evaporating - cooler)
        ones = np.ones(self.n)

        def march(losses, trail):
            rated = self.rated(losses[0])
            sized, _ = run_given(
                self.fluid,
                freeze(rated),
                Ends(p, h, self.low),
                losses[1],
                *((trail.leaks, trail.runs[1]) if trail else ()),
            )
            work = sum(s.shaft_work for s in sized) - self.pumped(p)
            runs = [Run(rated, [ones] * self.stages), Run(sized, [ones] * self.stages)]
            return Marched(runs, sizing_volumes(rated, sized), work, self.ideal(p, h))

        return march

    def settle_mixed(self, laws, cooler, sweeps=None):
        """The engine on a mixed store, sized ``cooler`` kelvin below its rated point."""
        return settle(self.fluid, self.mixed(cooler), 2, self.stages, self.frame, laws, self.films, sweeps)


def random_case(n, seed, stages=1, **rest):
    """A batch drawn over the search space."""
    rng = np.random.default_rng(seed)
    return Case(
        index=rng.integers(0, len(NAMES), n),
        evaporating=rng.uniform(330.0, 362.0, n),
        condensing=rng.uniform(291.0, 308.0, n),
        superheat=rng.uniform(0.0, 15.0, n),
        theta=rng.uniform(1.0, 3.0, n),
        power=10.0 ** rng.uniform(1.7, 3.3, n),
        frequency=10.0 ** rng.uniform(np.log10(0.5), np.log10(25.0), n),
        stages=stages,
        **rest,
    )


def one_case(name="n-Butane", **changes):
    """One careful engine of 250 W at 300 rev/min."""
    values = {
        "evaporating": 350.0, "condensing": 298.0, "superheat": 3.0, "theta": 1.3, "power": 250.0, "frequency": 5.0,
    }  # fmt: skip
    rest = {k: v for k, v in changes.items() if k not in values}
    values.update({k: v for k, v in changes.items() if k in values})
    n = max(np.size(v) for v in values.values())
    arrays = {k: np.broadcast_to(np.asarray(v, dtype=float), (n,)).copy() for k, v in values.items()}
    return Case(index=np.full(n, NAMES.index(name)), **arrays, **rest)


CAREFUL = Laws.careful()
