"""What the checks share: the shipped case, its evaluator, fluids, and textbook cycles.

A :class:`Bench` is made anew for every run of the checks, so that nothing a check computes outlives it.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from explore.cycle.cycle import run_cycle
from explore.cycle.source import CirculatingWater, Coil
from explore.cycle.supply import Machine, Settings
from explore.fluids.helmholtz import HelmholtzFluid
from explore.fluids.interface import WorkingFluid
from explore.fluids.table_fluid import Stack
from explore.fluids.water import Water
from explore.plant.circuit import Cycle
from explore.plant.engine import LOSSLESS, Losses
from explore.year.weather import Weather, read_weather

if TYPE_CHECKING:
    from explore.config.schema import Case
    from explore.model import Evaluator

PLAIN: dict[str, Any] = {
    "fluid": "n-Butane",
    "store_mode": "stratified",
    "top_temperature_degC": 90.0,
    "evaporating_temperature_degC": 50.0,
    "lowest_evaporating_temperature_degC": np.nan,
    "boil_approach_K": np.nan,
    "stop_temperature_degC": np.nan,
    "superheat_K": 0.0,
    "condensing_temperature_degC": 25.0,
    "subcooling_K": 0.0,
    "pinch_boiler_K": 4.0,
    "pinch_condenser_K": 4.0,
    "stages": 1,
    "pressure_levels": 1,
    "release_pressure_ratio": 1.0,
    "regenerator_effectiveness": 0.0,
    "store_volume_L": 500.0,
    "insulation_mm": 100.0,
    "collector": "flat_plate",
    "collector_area_m2": 10.0,
}
"""A plain design; the checks change what they need."""

SEA_LEVEL = ("scenario.site.altitude_m=0", "scenario.site.room_temperature_degC=20")


class Bench:
    """Everything the checks compute with, made when first asked for."""

    def __init__(self) -> None:
        self._figures: dict[tuple[float, tuple[str, ...], tuple[tuple[str, Any], ...]], dict[str, float]] = {}
        self._evaluators: dict[tuple[float, tuple[str, ...]], Evaluator] = {}
        self._weather: dict[str, Weather] = {}

    @cached_property
    def case(self) -> Case:
        """The shipped default scenario at sea level."""
        from explore.config.compose import load_scenario

        return load_scenario("orchard", SEA_LEVEL)

    @cached_property
    def water(self) -> Water:
        """Store water."""
        return Water.load()

    @cached_property
    def _stack(self) -> Stack:
        return Stack.of(self.case.pure_fluids())

    def tables(self, fluid: str) -> WorkingFluid:
        """Return the property tables of one fluid, bound to one design."""
        return self._stack.bind(np.array([self._stack.names.index(fluid)]))

    def weather(self, spec: str) -> Weather:
        """Return a typical year."""
        if spec not in self._weather:
            self._weather[spec] = read_weather(spec)
        return self._weather[spec]

    def evaluator(self, cooling_degC: float, settings: tuple[str, ...] = ()) -> Evaluator:
        """Return the evaluator of the case with cooling water at a temperature and other ``settings`` as typed."""
        from explore.config.compose import load_scenario
        from explore.model import Evaluator

        key = (cooling_degC, settings)
        if key not in self._evaluators:
            cold = f"scenario.site.cooling_water_temperature_degC={cooling_degC}"
            self._evaluators[key] = Evaluator(load_scenario("orchard", (*SEA_LEVEL, cold, *settings)))
        return self._evaluators[key]

    def figure(
        self, name: str, *, cooling_degC: float = 15.0, settings: tuple[str, ...] = (), **changes: Any
    ) -> float:
        """Return one figure of the plain design with ``changes``, evaluated whole, its year included."""
        key = (cooling_degC, settings, tuple(sorted(changes.items())))
        if key not in self._figures:
            columns = {column: np.array([value]) for column, value in (PLAIN | changes).items()}
            results = self.evaluator(cooling_degC, settings).evaluate(columns)
            self._figures[key] = {
                column: float(values[0]) for column, values in results.items() if values.dtype != object
            }
        return self._figures[key][name]


def saturated(fluid: str) -> HelmholtzFluid:
    """Return one fluid straight on its equation of state, from the triple point to near the critical one."""
    return HelmholtzFluid([fluid], np.zeros(1, dtype=np.intp), wide=True)


def boiling_point(fluid: str, pressure: float) -> float:
    """Return the saturation temperature [K] at a pressure [Pa]."""
    return float(saturated(fluid).saturation(np.array([pressure])).temperature[0])


def textbook(
    fluid: str,
    evaporating: float,
    condensing: float,
    *,
    superheat: float = 0.0,
    expander_efficiency: float = 1.0,
    pump_efficiency: float = 1.0,
    regenerator: float = 0.0,
    hot_water: float | None = None,
    cooling_water: tuple[float, float] | None = None,
) -> Cycle:
    """Run the model's cycle as a textbook's: one stage, no loss but the efficiencies given.

    ``evaporating`` and ``condensing`` [K]; ``superheat`` [K]; ``regenerator`` effectiveness; ``hot_water`` [K] is
    the entry of a finite stream that pinches to nothing where boiling starts; ``cooling_water`` its entry and, at the
    pinch, its temperature [K]. A stage that only leaks has the isentropic efficiency 1 - leakage.
    """
    losses = (
        Losses(0.0, 0.0, 0.0, 1.0 - expander_efficiency, 0.0, 0.0) if expander_efficiency < 1.0 else LOSSLESS
    )

    def one(value: float) -> np.ndarray:
        return np.array([value])

    settings = Settings(
        superheat=one(superheat),
        condensing_temperature=one(condensing),
        subcooling=one(0.0),
        pinch_condenser=one(5.0 if cooling_water is None else condensing - cooling_water[1]),
        release_ratio=one(1.0),
        regenerator_effectiveness=one(regenerator),
    )
    entry = 280.0 if cooling_water is None else cooling_water[0]
    machine = Machine(losses, pump_efficiency, 0.0, 1.0, entry, 0.0)
    hot = Coil(one(evaporating)) if hot_water is None else CirculatingWater(one(hot_water), one(0.0))
    return run_cycle(saturated(fluid), Water.load(), machine, settings, [one(evaporating)], 1, hot)


def efficiency(cycle: Cycle) -> float:
    """Return net work over heat of a cycle [-]."""
    return float(cycle.net_work[0] / cycle.heat[0])
