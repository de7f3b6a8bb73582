"""What the shaft does for its user: litres a day, lamp-hours, hours of a tool, kilometres on one tank."""

from __future__ import annotations

import calendar
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from explore import units
from explore.judgement.bill import GRAVITY, WATER_DENSITY

if TYPE_CHECKING:
    from explore.config.schema import Case
    from explore.config.use import Use

J_PER_WH = 3600.0
"""Exact."""


@dataclass(frozen=True)
class Service:
    """What a kind of load gets: its unit, and amounts of an average, the worst and the best day asked for, and of one tank.

    Days are means of a month; ``worst`` and ``best`` name theirs (1 to 12). ``tank`` is what one full store gives.
    """

    kind: str
    unit: str
    average: float
    worst: tuple[int, float]
    best: tuple[int, float]
    tank: float


UNITS = {
    "pump": "L lifted",
    "generator": "lamp-hours",
    "workshop": "hours of the tool",
    "boat": "km",
    "cart": "km",
}
"""In which each kind of load counts its service."""


def amount(work: float, use: Use) -> float:
    """What shaft work [J] does at the load, in the unit of its kind.

    Pump: V = W eta/(rho g H), in litres; generator: W eta/P of a lamp, in hours; boat and cart: s = W eta/F, in km.
    """
    if use.kind == "pump":
        lifted = work * use.pump_efficiency / (WATER_DENSITY * GRAVITY * use.head_m)
        return lifted * units.L_PER_M3
    if use.kind == "generator":
        return work * use.generator_efficiency * use.battery_efficiency / (use.lamp_W * J_PER_WH)
    if use.kind == "workshop":
        return work / (use.tool_W * J_PER_WH)
    return work * use.propulsive_efficiency / use.resistance_N / 1e3


def days(case: Case) -> dict[int, int]:
    """Days of each month (1 to 12) in which power is asked for; of a year that is no leap year."""
    return {month: calendar.monthrange(1990, month)[1] for month in sorted(case.scenario.demand.months)}


def service(case: Case, figures: Mapping[str, Any], details: Mapping[str, Any]) -> Service | None:
    """Return what the shaft of one design does; None where the scenario does not say what it is for."""
    use = case.scenario.use
    if use.kind == "none":
        return None
    asked = days(case)
    shaft = details["months"]["shaft_energy_kWh"]
    daily = {
        month: amount(float(shaft[month - 1]) * units.J_PER_KWH / count, use)
        for month, count in asked.items()
    }
    worst, best = min(daily, key=daily.__getitem__), max(daily, key=daily.__getitem__)
    average = float(figures["shaft_energy_kWh_per_year"]) * units.J_PER_KWH / sum(asked.values())
    stored = float(figures["work_per_litre_kJ"]) * units.J_PER_KJ * float(figures["store_volume_L"])
    return Service(
        use.kind,
        UNITS[use.kind],
        amount(average, use),
        (worst, daily[worst]),
        (best, daily[best]),
        amount(stored, use),
    )


def speed_power(use: Use) -> float:
    """Shaft power [W] that a boat or cart asks at its usual speed: F v/eta."""
    return use.resistance_N * use.speed_km_per_h / 3.6 / use.propulsive_efficiency
