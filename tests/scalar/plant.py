"""The scalar model asked for what the batch model is asked for: its weather and its load, read off a case."""

from __future__ import annotations

from explore.config.schema import Case
from explore.model import Evaluator
from tests.scalar.laws import Load
from tests.scalar.year import Weather


def weather_of(evaluator: Evaluator) -> dict[str, Weather]:
    """Return the hourly year on each kind of collector, by its name."""
    year = evaluator.year
    air, demand = year.air_temperature_K.tolist(), year.demand.tolist()
    return {
        kind: Weather(irradiance.tolist(), air, demand)
        for kind, irradiance in zip(evaluator.collectors, year.effective_irradiance, strict=True)
    }


def load_of(case: Case) -> Load:
    """Return what the load allows the engine; its speed may fall."""
    demand = case.scenario.demand
    return Load(
        speed_may_fall=True,
        bank=demand.bank,
        bank_efficiency=demand.bank_efficiency,
        power_may_rise=demand.power_may_rise,
    )
