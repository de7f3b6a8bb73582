"""What each kind of bench test would read, by the same laws as every design: conditions to readings.

Arrays (n,), one element a line of the log, in the log's own units.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from explore import units
from explore.bench import films
from explore.bench.boilers import boilers
from explore.bench.columns import (
    BOILER,
    CONDENSER,
    COOL_DOWN,
    EXCHANGERS,
    FRESH,
    LEAK_DOWN,
    MOTORING,
    PUMP,
    RUNNING,
    Array,
)
from explore.bench.contrary import refuse_contrary, refuse_no_vapour
from explore.bench.log import Trial
from explore.bench.plant import Built
from explore.bench.surfaces import Coefficients, OfTubes, Surfaces, with_factor
from explore.config.machine import CONDITIONS, GivenMachine
from explore.config.schema import Case, Engine
from explore.errors import InputError
from explore.fluids import mixture_tables
from explore.fluids.blend import Blend
from explore.fluids.interface import WorkingFluid
from explore.fluids.table_fluid import Stack
from explore.fluids.water import Water
from explore.model.given import cylinders_of, solve, solve_compound, tables
from explore.model.translation import losses_of, plant_of
from explore.model.tubing import tubing_of
from explore.plant.compound import Joining
from explore.plant.given import Cylinder
from explore.plant.laws import Laws
from explore.plant.losses import friction, leak_area_rate
from explore.plant.machine import SWEEPS, MachineResult
from explore.plant.pump import FeedPump
from explore.plant.store import held_temperature, loss_coefficient

GAS_CONSTANT_AIR = 287.05
"""Of dry air [J/(kg K)]: R* / M, U.S. Standard Atmosphere 1976, 8314.32 / 28.9644 (from memory)."""
SUTHERLAND_BETA, SUTHERLAND_K = 1.458e-6, 110.4
"""Viscosity of air, beta T^1.5 / (T + S): U.S. Standard Atmosphere 1976, eq. 51 (from memory); held against CoolProp."""
FALL_STEPS = 16
"""Steps of the fall of pressure, fourth order: they leave a hundred-thousandth of it."""
RESTED = 1e-7
"""Change of the losses in the last sweep below which fewer sweeps give the same engine as all of them."""
COMPARED = ("flow", "indicated_power", "shaft_power")
"""By which tables are held against the equation of state: what a fit is about."""
SAME = 1e-3
"""Relative difference up to which tables stand for the equation: a twentieth of what a bench measures."""
TRIED_SWEEPS = (6, 12)
"""Sweeps tried first: one stage rests to 1e-11 in six; compound engines want more."""


@dataclass(frozen=True)
class Way:
    """How a test is run: sweeps of the losses, and properties in place of the equation of state.

    ``tube_films`` [-] stands in place of the case's factor on films of tubes; as coefficients it may be an array (n,).
    """

    sweeps: int = SWEEPS
    properties: WorkingFluid | None = None
    tube_films: Any = None


PLAIN = Way()


@dataclass(frozen=True)
class Bench:
    """A machine on the bench: its file, and the case whose coefficients and fluids count; the ``plant`` it stands in."""

    given: GivenMachine
    case: Case
    plant: Built | None = None

    @cached_property
    def water(self) -> Water:
        """Water of the store."""
        return Water.load()

    @property
    def in_series(self) -> bool:
        """Whether there are several boilers."""
        return self.plant is not None and self.plant.levels > 1

    @property
    def of_tubes(self) -> bool:
        """Whether its exchangers are made of tubes."""
        return self.plant is not None and self.plant.tubes is not None

    @property
    def films(self) -> tuple[str, ...]:
        """Names of the films that a log can tell: none of an engine alone."""
        return () if self.plant is None else self.plant.films

    @cached_property
    def fluid(self) -> WorkingFluid:
        """Tables of the plant's fluid, for one line; :meth:`WorkingFluid.take` makes them those of many."""
        substance = next(
            card for card in self.case.fluids.values() if card.name == self.given.fluid
        ).substance
        place = np.zeros(self.given.count, dtype=np.intp)
        if isinstance(substance, Blend):
            return mixture_tables.stack(substance).bind(place)
        return Stack.of([self.given.fluid]).bind(place)

    @cached_property
    def _of_tubes(self) -> OfTubes:
        """Tubes that were built, with films as the case assumes them."""
        assert self.plant is not None
        assert self.plant.tubes is not None, "asked of tubes alone"
        names = [card.name for card in self.case.fluids.values()]
        return OfTubes(tubing_of(self.case), self.plant.tubes, names.index(self.given.fluid))

    def surfaces(self, engine: Engine, tube_films: Any = None) -> Surfaces:
        """Return what area the plant's exchangers ask for at a state, with other coefficients than the case's."""
        assert self.plant is not None, "an engine alone has none"
        if self.plant.tubes is None:
            return Coefficients.of(engine, self.plant.boiler)
        if tube_films is None:
            return self._of_tubes
        return OfTubes(with_factor(self._of_tubes.tubing, tube_films), self.plant.tubes, self._of_tubes.place)

    @cached_property
    def feed_pump(self) -> FeedPump | float:
        """How the pumps of the design lose, those between boilers too."""
        return plant_of(self.case).machine.feed_pump

    def predict(self, engine: Engine, test: Trial, way: Way = PLAIN) -> dict[str, Array]:
        """Return what each measured column of a test would read with the coefficients of ``engine``, each (n,).

        Coefficients may be arrays (n,) in place of numbers: then each line has its own engine. Raises
        :class:`InputError` for conditions at which the machine cannot run.
        """
        found = READERS[test.kind](self, engine, test, way)
        return {name: found[name] for name in test.measured()}

    def quick(self, test: Trial) -> Way:
        """Return the quickest way to run a test that gives the same as the plain one: fewer sweeps, tables.

        Raises :class:`InputError` for readings that no plant can give with this fluid.
        """
        if test.kind in EXCHANGERS:
            refuse_contrary(test, _exchanging(self, test)[1], self.given.fluid)
        if test.kind != RUNNING:
            return Way()
        if self.in_series:
            refuse_no_vapour(
                test, self.fluid.take(np.zeros(len(test.lines), dtype=np.intp)), self.given.fluid
            )
        given = self.running(test)
        plain = self.run(self.case, test, PLAIN)
        properties = tables(given, self.case)
        for sweeps in TRIED_SWEEPS:
            done = self.run(self.case, test, Way(sweeps, properties))
            same = [np.abs(getattr(done, name) / getattr(plain, name) - 1.0) for name in COMPARED]
            if np.max(done.residual) < RESTED and np.max(same) < SAME:
                return Way(sweeps, properties)
        return Way()

    def under(self, engine: Engine) -> Case:
        """Return the case with other coefficients."""
        return self.case.model_copy(update={"engine": engine})

    def running(self, test: Trial) -> GivenMachine:
        """Return the machine at the conditions of a running test."""
        set_ = {name: None for name in CONDITIONS} | {
            name: tuple(test.columns[name].tolist()) for name in CONDITIONS if name in test.columns
        }
        return self.given.model_copy(update=set_)

    def run(self, case: Case, test: Trial, way: Way) -> MachineResult:
        """Return what the machine does in a running test; vapour of boilers in series joins between its stages."""
        given, column = self.running(test), test.columns
        if self.plant is None or not self.in_series:
            return solve(given, case, way.sweeps, way.properties)
        lost = (0.0,) * self.plant.levels if self.plant.tubes is None else self.plant.tubes.lost
        # a gauge of tubes is where it boils, vapour joins behind them
        joining = [
            Joining((1.0 - share) * column[gauge] * units.PA_PER_BAR, units.kelvin(column[thermometer]))
            for share, (gauge, thermometer) in zip(lost[1:], FRESH, strict=False)
        ]
        return solve_compound(given, case, joining, way.sweeps, way.properties)

    def bore(self, test: Trial) -> Array:
        """Return the bore [m] of the stage that each line is about; raises :class:`InputError`."""
        cylinders = cylinders_of(self.given)
        return np.array([cylinders[j].bore for j in self.stage(test)])

    def stage(self, test: Trial) -> Array:
        """Return the stage of each line, from 0; the first where the log says nothing."""
        count = len(self.given.cylinders)
        stages = np.nan_to_num(test.columns.get("stage", np.ones(len(test.lines))), nan=1.0)
        for line, stage in zip(test.lines, stages, strict=True):
            if stage > count:
                raise InputError(f"line {line}, column stage: {stage:g}, and the machine has {count}")
        return np.asarray(stages.astype(np.intp) - 1)


def _laws(engine: Engine) -> Laws:
    laws = losses_of(engine)
    if not isinstance(laws, Laws):
        raise InputError(
            "engine.losses=constant has no laws whose coefficients could be fitted; leave it at scaling"
        )
    return laws


def running(bench: Bench, engine: Engine, test: Trial, way: Way) -> dict[str, Array]:
    """Readings of the engine as it runs."""
    like = np.zeros(len(test.lines), dtype=np.intp)
    properties = None if way.properties is None else way.properties.take(like)
    done = bench.run(bench.under(engine), test, Way(way.sweeps, properties))
    at, lines = bench.stage(test), np.arange(len(test.lines))

    def of_stage(values: list[Array]) -> Array:
        return np.asarray(np.stack(values)[at, lines])

    admitted = [s.inlet_pressure * (1.0 - s.losses.admission_pressure_loss) for s in done.stages]
    pushed = [s.exhaust_pressure * (1.0 + s.losses.exhaust_pressure_loss) for s in done.stages]
    return {
        "flow_kg_per_h": done.flow * units.SECONDS_PER_HOUR,
        "indicated_power_W": done.indicated_power,
        "indicated_mean_pressure_bar": units.bar(of_stage([s.mean_pressure for s in done.stages])),
        "card_admission_pressure_bar_a": units.bar(of_stage(admitted)),
        "card_exhaust_pressure_bar_a": units.bar(of_stage(pushed)),
        "shaft_power_W": done.shaft_power,
        "torque_Nm": done.torque,
        "exhaust_temperature_degC": units.celsius(done.exhaust_temperature),
    }


def motoring(bench: Bench, engine: Engine, test: Trial, way: Way) -> dict[str, Array]:
    """Torque [N m] to turn the engine with its valves open and no vapour: friction of all stages, no indicated pressure."""
    laws = _laws(engine)
    frequency = test.columns["speed_rev_per_min"] / units.SECONDS_PER_MINUTE
    none, torque = np.zeros_like(frequency), np.zeros_like(frequency)
    for one in cylinders_of(bench.given):
        rubbing = friction(laws, np.full_like(frequency, one.bore), 2.0 * one.stroke * frequency, none)
        torque = torque + rubbing * _swept_a_turn(one) / (2.0 * np.pi)
    return {"torque_Nm": torque}


def _swept_a_turn(one: Cylinder) -> float:
    """Volume [m3] that the cylinders of a stage sweep in a turn, both sides of a double-acting piston."""
    return float(one.number * one.acting * 0.25 * np.pi * one.bore**2 * one.stroke)


def air_viscosity(temperature: Array) -> Array:
    """Viscosity of air [Pa s] at ``temperature`` [K]; Sutherland's formula, 250-400 K.

    Source: U.S. Standard Atmosphere 1976, eq. 51 (from memory).

    >>> round(float(air_viscosity(np.array(288.15))) * 1e6, 2)
    17.89
    """
    return np.asarray(SUTHERLAND_BETA * temperature**1.5 / (temperature + SUTHERLAND_K))


def leak_down(bench: Bench, engine: Engine, test: Trial, way: Way) -> dict[str, Array]:
    """Pressure [bar] to which gas in one locked cylinder falls, at constant temperature: dp/dt = -p pi D j(p) / V.

    j [m2/s] of :func:`explore.plant.losses.leak_area_rate`, the same gap as when running. V [m3] is that of the held
    space, all that is shut in; the other side is at the outlet pressure. Ideal gas, lumped mass (textbook), with the
    constants of air; nitrogen, with which it is done, leaks up to some 3 % faster.
    """
    laws, bore = _laws(engine), bench.bore(test)
    column = test.columns
    outlet = column["outlet_pressure_bar_a"] * units.PA_PER_BAR
    temperature = units.kelvin(column["inlet_temperature_degC"])
    volume = column["held_volume_L"] / units.L_PER_M3
    viscosity, pressure = air_viscosity(temperature), column["inlet_pressure_bar_a"] * units.PA_PER_BAR
    step = column["duration_s"] / FALL_STEPS

    def fall(p: Array) -> Array:
        p = np.maximum(p, outlet)
        rate = leak_area_rate(laws, bore, p, outlet, GAS_CONSTANT_AIR * temperature / p, viscosity)
        return np.asarray(-p * np.pi * bore * rate / volume)

    for _ in range(FALL_STEPS):
        first = fall(pressure)
        second = fall(pressure + 0.5 * step * first)
        third = fall(pressure + 0.5 * step * second)
        fourth = fall(pressure + step * third)
        pressure = np.maximum(outlet, pressure + step / 6.0 * (first + 2.0 * second + 2.0 * third + fourth))
    return {"end_pressure_bar_a": units.bar(pressure)}


def cool_down(bench: Bench, engine: Engine, test: Trial, way: Way) -> dict[str, Array]:
    """Temperature [degC] to which the store cools as a lump; section 5 of the model, as a design's store does."""
    column = test.columns
    top, room = units.kelvin(column["store_temperature_degC"]), units.kelvin(column["room_temperature_degC"])
    volume = column["store_volume_L"] / units.L_PER_M3
    loss = loss_coefficient(
        volume,
        column["insulation_mm"] / units.MM_PER_M,
        engine.insulation_conductivity,
        engine.outside_film,
        engine.fittings_W_per_K,
        engine.insulation_joints_factor,
    )
    water = bench.water
    heat = (water.enthalpy(top) - water.enthalpy(room)) / (top - room)
    capacity = volume * water.density(top) * heat
    seconds = column["duration_h"] * units.SECONDS_PER_HOUR
    return {"end_temperature_degC": units.celsius(held_temperature(loss, top, room, seconds, capacity))}


def pump(bench: Bench, engine: Engine, test: Trial, way: Way) -> dict[str, Array]:
    """Flow [L/h] of the feed pump, and the power [W] at its belt or eccentric, by the efficiency of the model's pump.

    With the flow eta_v V the power, flow times rise over eta_v eta_d dp/(dp + p_0), is V (dp + p_0)/eta_d.
    """
    law = plant_of(bench.under(engine)).machine.feed_pump
    if not isinstance(law, FeedPump):
        raise InputError(
            "engine.pump_law=constant has no coefficients that a test of the pump tells; leave it at scaling"
        )
    swept = test.columns["pump_displacement_L_per_h"]
    rise = test.columns["pump_pressure_rise_bar"] * units.PA_PER_BAR
    rate = swept / units.L_PER_M3 / units.SECONDS_PER_HOUR
    return {
        "pump_flow_L_per_h": swept * law.volumetric,
        "pump_power_W": rate * (rise + law.packing) / law.drive,
    }


def boiler(bench: Bench, engine: Engine, test: Trial, way: Way) -> dict[str, Array]:
    """Temperature [degC] of the water at the boiler's entry, or around the coil; of boilers in series at that of each."""
    plant, fluid = _exchanging(bench, test)
    if plant.levels > 1:
        return boilers(fluid, bench.water, plant, engine, bench.feed_pump, test.columns)
    surfaces = bench.surfaces(engine, way.tube_films)
    return {"hot_water_temperature_degC": films.boiler(fluid, bench.water, plant, surfaces, test.columns)}


def condenser(bench: Bench, engine: Engine, test: Trial, way: Way) -> dict[str, Array]:
    """Temperature [degC] of the cooling water that enters the condenser."""
    plant, fluid = _exchanging(bench, test)
    surfaces = bench.surfaces(engine, way.tube_films)
    return {
        "cooling_water_temperature_degC": films.condenser(fluid, bench.water, plant, surfaces, test.columns)
    }


def _exchanging(bench: Bench, test: Trial) -> tuple[Built, WorkingFluid]:
    assert bench.plant is not None, "such tests are refused of an engine alone"
    return bench.plant, bench.fluid.take(np.zeros(len(test.lines), dtype=np.intp))


Reader = Callable[[Bench, Engine, Trial, Way], Mapping[str, Array]]
READERS: dict[str, Reader] = {
    RUNNING: running,
    MOTORING: motoring,
    LEAK_DOWN: leak_down,
    COOL_DOWN: cool_down,
    PUMP: pump,
    BOILER: boiler,
    CONDENSER: condenser,
}
