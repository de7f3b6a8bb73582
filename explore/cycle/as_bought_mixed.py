"""A plant on a fully mixed store as it was bought: coil, condenser, cylinders and valves stay, coefficients are others.

As where it is sized, the coil has one approach and the condenser one temperature over the discharge: those at which its
busiest state needs just the areas there are, with the cooling water that the pump gave there. That state is of the
kind it was in the run: where the engine just gives the power asked, where its load begins to hold it, or at the full
store. The engine then runs under its own governor, from full down to where it stops (:mod:`explore.cycle.discharge`).
Of exchangers made of tubes number, diameters and length stay. They lose over the whole discharge what they lose at the
store temperature for which the engine was sized, as where they are sized.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from explore.cycle.agreement import Tried, Unknowns, agree
from explore.cycle.as_bought import UNKNOWN
from explore.cycle.built import MixedEngine
from explore.cycle.discharge import discharged, held_from
from explore.cycle.owned import LEAST_SHARE, MOST_SHARE, clearance_of, regenerator_area, regenerator_lack
from explore.cycle.performance import EngineSize, Performance
from explore.cycle.rated import LEAST_SPAN_K, STOP_MARGIN_K, Plant, areas, settings_of
from explore.cycle.sizing import coil_at, sizing_temperature
from explore.cycle.supply import Settings
from explore.cycle.tubes_bought import OwnedTubes, TubesNeeded, tubes_needed, tubes_owned
from explore.design.designs import Designs
from explore.fluids.interface import Array, Index
from explore.plant.circuit import Cycle, Drops, rows
from explore.plant.governor import ratio_at
from explore.plant.roots import falling_root
from explore.plant.tubes import Tubing

MIXED_STEPS = 8
"""With films at 0.7 they leave 4e-5 of a condition in the worst of 36 random plants, 1e-10 in most; six leave 4e-2."""
SETTLING = 12
"""Sweeps from the losses of one world to those of another, in the same cylinders."""
TRIAL_STEPS = 2
"""Steps to that temperature in a trial, from that of the trial before; it closes in as the trials do."""
GIVING_STEPS = 6
"""Steps to the store temperature at which the engine gives a power: from the run's own, they leave a thousandth of a
kelvin."""
COIL = (0.05, 3.0, 2.0)
"""As :data:`~explore.cycle.as_bought.UNKNOWN` for the approach of the coil [K]: the retreat widens it."""
PINCH = (0.02, 3.0, 0.5)
"""The same for the condenser's pinch [K]."""
LEAST_SUPERHEAT_GAP_K = 1.0
"""Vapour leaves a coil at least this much colder than the store (model, section 5)."""


@dataclass(frozen=True)
class OwnedMixed:
    """What was bought: the ``engine`` of the run, its ``cut_offs`` [-] by stage, and each (n,):

    ``areas`` [m2] of coil, condenser and regenerator (0 for none) and ``cooling_water`` [kg/s] in the busiest state, which
    is where the engine ungoverned gives ``rise`` times the power asked, at the full store where this is NaN; ``start``
    (n, m) the run's own values of all unknowns, ``size`` its cylinders; ``tubes`` where exchangers are made of them.
    """

    engine: MixedEngine
    cut_offs: list[Array]
    areas: list[Array]
    cooling_water: Array
    rise: Array
    start: Array
    size: EngineSize
    tubes: OwnedTubes | None = None

    def take(self, index: Index) -> OwnedMixed:
        """Return what was bought of the designs ``index``."""
        return OwnedMixed(self.engine.take(index), *rows([
            self.cut_offs, self.areas, self.cooling_water, self.rise, self.start, self.size, self.tubes
        ], index))  # fmt: skip


class FoundMixed(NamedTuple):
    """The plant over its discharge: the ``designs`` with what moved, engine, rated cycle and performance.

    ``power`` [W] at the engine's shaft where the run's cylinders just give the power asked, nothing governed, (n,).
    """

    designs: Designs
    engine: MixedEngine
    rated: Cycle
    done: Performance
    power: Array


def owned_mixed(plant: Plant, designs: Designs, engine: MixedEngine, size: EngineSize) -> OwnedMixed:
    """Buy the plant of an ``engine`` of some ``size``."""
    from scipy.special import logit

    assert engine.engine is not None
    c, top, sizing = clearance_of(plant), designs.top_temperature, sizing_temperature(designs)
    rise, greatest, T = np.ones_like(sizing), size.flow * engine.at(sizing).heat, sizing.copy()
    if plant.laws is not None:
        full = engine.governed(top, plant.power_may_rise)
        limited = held_from(engine, sizing, top, full.power, plant.power_may_rise)
        states = [(np.arange(len(top)), np.nan, top, full.heat_flow)]
        if len(limited.rows):
            begins = limited.temperature
            state = engine.take(limited.rows).governed(begins, plant.power_may_rise)
            states.append((limited.rows, plant.power_may_rise, begins, state.heat_flow))
        for some, kind, there, heat in states:
            busier = some[heat > greatest[some]]
            rise[busier], greatest[busier], T[busier] = (
                kind,
                heat[heat > greatest[some]],
                there[heat > greatest[some]],
            )
    bought, tubes = _at_busiest(engine, plant, designs, rise, T), None
    if plant.tubing is not None:
        weak = engine.at(sizing)
        hot = coil_at(engine.fluid, engine.water, weak, sizing)
        tubes = tubes_owned(plant.tubing, designs.fluid, engine.fluid, weak, hot, size.flow)
    effectiveness = np.clip(designs.regenerator_effectiveness, LEAST_SHARE, MOST_SHARE)
    columns = [
        designs.boil_approach,
        designs.condensing_temperature,
        designs.pinch_condenser,
        logit(effectiveness),
    ]
    return OwnedMixed(
        engine,
        [(1.0 + c) / ratio - c for ratio in engine.engine.volume_ratios],
        bought.areas,
        bought.cooling_water,
        rise,
        np.stack(columns, axis=1),
        size,
        tubes,
    )


class _Near(NamedTuple):
    """What a trial begins from: ``temperature`` [K] of the store in the busiest state, and the ``drops`` [Pa] of tubes."""

    temperature: Array
    drops: Drops | None


class _Busiest(NamedTuple):
    """A state, each (n,): areas [m2] that it needs, its cooling water [kg/s] and liquid [K] behind the condenser."""

    areas: list[Array]
    cooling_water: Array
    condensate_temperature: Array


def _at_busiest(engine: MixedEngine, plant: Plant, designs: Designs, rise: Array, T: Array) -> _Busiest:
    """Run engines at store temperatures T [K]: governed where ``rise`` is NaN, at the full store, free elsewhere.

    A cut-off that begins to shorten bends every curve like a root, so that no slope is taken just there.
    """
    n, built = len(T), engine.built
    assert built is not None
    found = _Busiest([np.empty(n) for _ in range(3)], np.empty(n), np.empty(n))
    for rows_, governed in ((np.flatnonzero(np.isnan(rise)), True), (np.flatnonzero(~np.isnan(rise)), False)):
        if len(rows_) == 0:
            continue
        part = engine.take(rows_)
        assert part.built is not None
        if governed:
            cycle, flow, *_ = part.governed(T[rows_], plant.power_may_rise)
        else:
            cycle = part.at(T[rows_])
            flow = part.built.rate * cycle.flow_ratio
        needed = _areas(part, plant, designs.fluid[rows_], cycle, flow, T[rows_])
        for whole, own in zip(found.areas, needed, strict=True):
            whole[rows_] = own
        found.cooling_water[rows_] = flow * cycle.condenser.water_flow
        found.condensate_temperature[rows_] = cycle.condensate.temperature
    return found


def _areas(
    engine: MixedEngine, plant: Plant, fluids: Index, cycle: Cycle, flow: Array, T: Array
) -> list[Array]:
    """Areas [m2] of coil, condenser and regenerator at a ``flow`` [kg/s], with the store at T [K]."""
    if plant.tubing is not None:
        hot = coil_at(engine.fluid, engine.water, cycle, T)
        tubes = tubes_needed(plant.tubing, fluids, engine.fluid, cycle, hot, flow)
        return [*tubes.areas, regenerator_area(plant, cycle, flow)]
    needed = areas(cycle, coil_at(engine.fluid, engine.water, cycle, T), flow, plant)
    return [needed.boiler, needed.condenser, needed.regenerator]


@dataclass(frozen=True)
class BoughtMixed:
    """Plants with the same number of stages, as ``own`` says, in the world of ``plant``."""

    plant: Plant
    designs: Designs
    own: OwnedMixed

    def take(self, index: Index) -> BoughtMixed:
        """Return the plants ``index``."""
        return BoughtMixed(self.plant, self.designs.take(index), self.own.take(index))

    @property
    def regenerated(self) -> bool:
        """Whether any of the plants has a regenerator."""
        return bool(np.any(self.own.areas[-1] > 0.0))

    def rate(self) -> tuple[FoundMixed, Array]:
        """Find the state at which areas and water agree, and run the discharge.

        Also returns the greatest share by which a condition still misses (n,).
        """
        own, plant, m = self.own, self.plant, 3 + self.regenerated
        sizing = sizing_temperature(self.designs)
        built = self._built().resettled(sizing, SETTLING)
        varied = Unknowns(*np.array([COIL, UNKNOWN["condensing"], PINCH, UNKNOWN["effectiveness"]][:m]).T)
        places = np.tile(np.arange(len(self.designs)), m + 1)
        tall, engines = self.take(places), built.take(places)

        def attempt(x: Array, _: Index, carried: Any) -> Tried:
            return tall._tried(engines, x, carried, TRIAL_STEPS)

        x, near = agree(attempt, own.start[:, :m], _Near(sizing, built.drops), varied, MIXED_STEPS)
        miss = np.max(np.abs(self._tried(built, x, near, GIVING_STEPS).lack), axis=1)
        designs = self._moved(x)
        engine = self._set(built, designs, near.drops).resettled(sizing, SETTLING)
        if plant.tubing is not None:
            miss = np.maximum(miss, self._lost(engine, plant.tubing).unsettled)
        assert engine.built is not None
        weak = engine.at(sizing)
        flow = engine.built.rate * weak.flow_ratio
        top = designs.top_temperature
        stop = np.minimum(designs.stop_temperature, top - LEAST_SPAN_K)
        begins = self._gives(engine, designs, np.ones_like(top), sizing, GIVING_STEPS)
        designs = replace(designs, sizing_share=(begins - stop) / (top - stop))
        rated = engine.at(0.5 * (top + stop))
        done = discharged(plant, designs, rated, engine, replace(own.size, flow=flow))
        power = np.where(sizing >= stop, np.maximum(flow * weak.net_work, 0.0), 0.0)
        return FoundMixed(designs, engine, rated, done, power), miss

    def _built(self) -> MixedEngine:
        """The engine in this world: its metal stays, its losses and pumps are those here."""
        own, plant = self.own.engine, self.plant
        assert own.engine is not None
        assert own.built is not None
        c = clearance_of(plant)
        metal = own.engine._replace(volume_ratios=[ratio_at(c, cut) for cut in self.own.cut_offs])
        built = replace(own.built, laws=plant.laws, films=plant.films_of(self.designs))
        return replace(own, machine=plant.machine, engine=metal, built=built)

    def _moved(self, x: Array) -> Designs:
        """The designs with approach, condensing temperature, pinch and effectiveness of ``x``."""
        from scipy.special import expit

        share = self.designs.regenerator_effectiveness
        if self.regenerated:
            share = np.where(self.own.areas[-1] > 0.0, expit(x[:, 3]), 0.0)
        # too little lift is no state of an engine: the store counts as empty as early as a design's must
        lowest = np.minimum(x[:, 0] + x[:, 1] + STOP_MARGIN_K, self.designs.top_temperature - LEAST_SPAN_K)
        stop = np.maximum(self.designs.stop_temperature, lowest)
        return replace(
            self.designs,
            boil_approach=x[:, 0],
            condensing_temperature=x[:, 1],
            pinch_condenser=x[:, 2],
            regenerator_effectiveness=share,
            stop_temperature=stop,
        )

    def _set(self, engine: MixedEngine, designs: Designs, drops: Drops | None) -> MixedEngine:
        """The engine with the settings of ``designs`` and the ``drops`` [Pa] of its tubes."""
        most = designs.boil_approach - LEAST_SUPERHEAT_GAP_K
        settings: Settings = settings_of(designs, np.maximum(np.minimum(designs.superheat, most), 0.0))
        return replace(engine, settings=settings, approach=designs.boil_approach, drops=drops)

    def _lost(self, engine: MixedEngine, tubing: Tubing) -> TubesNeeded:
        """The tubes at the store temperature for which the engine was sized, whose drops count."""
        T, built, tubes = sizing_temperature(self.designs), engine.built, self.own.tubes
        assert built is not None
        assert tubes is not None
        cycle = engine.at(T)
        hot, flow = coil_at(engine.fluid, engine.water, cycle, T), built.rate * cycle.flow_ratio
        return tubes_needed(tubing, self.designs.fluid, engine.fluid, cycle, hot, flow, tubes.left)

    def _tried(self, engine: MixedEngine, x: Array, near: _Near, steps: int) -> Tried:
        """Try unknowns ``x`` (n, m); the busiest state is sought from what is ``near``."""
        own, designs = self.own, self._moved(x)
        engine = self._set(engine, designs, near.drops)
        T = designs.top_temperature
        if not np.isnan(own.rise).all():
            begins = self._gives(engine, designs, np.nan_to_num(own.rise), near.temperature, steps)
            T = np.where(np.isnan(own.rise), T, begins)
        state = _at_busiest(engine, self.plant, designs, own.rise, T)
        needed = [*state.areas[:2], state.cooling_water]
        lack = [np.log(a / b) for a, b in zip(needed, [*own.areas[:2], own.cooling_water], strict=True)]
        if self.regenerated:
            lack.append(regenerator_lack(state.areas[2], own.areas[2], x[:, 3], own.start[:, 3]))
        cold = self.plant.machine.cooling_water_temperature
        margins = [
            x[:, 0], x[:, 2], x[:, 1] - x[:, 2] - cold, state.condensate_temperature - cold,
            T - x[:, 0] - x[:, 1],
        ]  # fmt: skip
        tubing = self.plant.tubing
        drops = None if tubing is None else self._lost(engine, tubing).drops
        return Tried(np.stack(lack, axis=1), np.stack(margins, axis=1), _Near(T, drops))

    def _gives(self, engine: MixedEngine, designs: Designs, rise: Array, near: Array, steps: int) -> Array:
        """Store temperature [K] at which the engine gives ``rise`` times the power asked; an end where it never does."""
        built, top = engine.built, designs.top_temperature
        assert built is not None
        stop = np.minimum(designs.stop_temperature, top - LEAST_SPAN_K)
        wanted = np.maximum(rise, 1.0) * built.frame.power

        def lack(T: Array) -> Array:
            cycle = engine.at(T)
            return np.asarray(1.0 - built.rate * cycle.flow_ratio * cycle.net_work / wanted)

        slope = -1.0 / np.maximum(top - stop, LEAST_SPAN_K)
        return falling_root(lack, stop, top, near, slope, steps)
