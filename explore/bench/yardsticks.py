"""The same work a year by other means, sized for the service that a design gives: what it costs, takes and lasts.

Photovoltaic panels with battery and motor run through the same year as the design, hour by hour; a hot-air engine and a
thermoelectric generator stand on a store and collectors of the same kind, as much larger as they need more heat.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from explore import units
from explore.bench.commissioning import WATER_HEAT
from explore.bench.panels import MOST, battery_year, panel_for
from explore.config.yardsticks import Yardsticks
from explore.judgement.bill import WATER_DENSITY, capital_recovery_factor
from explore.plant.parts.engine import ENGINE_EXPONENT
from explore.plant.parts.solar import STORE_EXPONENT

if TYPE_CHECKING:
    from explore.config.schema import Case, Costs
    from explore.model import Evaluator

PEAK = 1000.0
"""Irradiance [W/m2] at which the peak power of a panel is told: IEC 60904-3."""
STEP = 1.25
"""By which a battery grows until some panel serves as much: coarse, as batteries are sold."""
STEPS = 12
"""Growths tried: then it is 14 times what it began with."""
SHELL_EXPONENT = 2.0 / 3.0
"""Insulation goes with the surface of stores alike."""
OWN_BAND = (0.7, 1.6)
"""10-90 % range of the design's own prices (``costs``): judgement."""


@dataclass(frozen=True)
class Way:
    """One way to the same work: first cost with its band and cost a year [EUR], areas [m2], hours bridged, life [a].

    ``heat_ratio`` is its heat over that of the design, NaN without heat; ``about`` what it consists of, in numbers by name.
    """

    name: str
    cost: float
    low: float
    high: float
    annual: float
    area: float
    hours: float
    life: float
    heat_ratio: float
    about: Mapping[str, float]


def stream_carnot(hot: float, cold: float, ambient: float) -> float:
    """Most work [-] that heat of a stream gives which cools from T_hot to T_cold [K], its cold side at T_ambient [K].

    1 - Ta ln(Th/Tc)/(Th - Tc): Carnot at the mean temperature at which the stream gives its heat.
    """
    if hot - cold < 1e-9:
        return 1.0 - ambient / hot
    return 1.0 - ambient * math.log(hot / cold) / (hot - cold)


def mean_temperature(hot: float, cold: float) -> float:
    """Mean temperature [K] at which a stream that cools gives its heat: (Th - Tc)/ln(Th/Tc)."""
    return hot if hot - cold < 1e-9 else (hot - cold) / math.log(hot / cold)


def stirling_sweep(
    power: float, pressure: float, frequency: float, temperatures: tuple[float, float], west: float
) -> float:
    """Volume [m3] that a hot-air engine sweeps for a power [W]: V = P (Th + Tc) / (W p f (Th - Tc)).

    ``pressure`` [Pa] the mean of its air, ``frequency`` [1/s], ``temperatures`` [K] hot and cold, ``west`` its West number
    [-], an average over many engines (C. D. West, 1986, from the encyclopaedia's article).
    """
    hot, cold = temperatures
    return power * (hot + cold) / (west * pressure * frequency * (hot - cold))


def thermoelectric(hot: float, cold: float, figure_of_merit: float) -> float:
    """Greatest efficiency [-] of a thermoelectric generator between T_hot and T_cold [K].

    eta = (1 - Tc/Th) (sqrt(1 + ZT) - 1)/(sqrt(1 + ZT) + Tc/Th): Ioffe 1957, as in Kim, Liu, Chen, Chu and Ren, Proc. Natl.
    Acad. Sci. USA 112 (2015) 8205, equation 1.
    """
    root = math.sqrt(1.0 + figure_of_merit)
    return (1.0 - cold / hot) * (root - 1.0) / (root + cold / hot)


def at_an_end(keys: Yardsticks, *, worse: bool) -> Yardsticks:
    """Return the assumptions all at the worse, or all at the better end of their bands."""
    moved = {}
    for name, field in type(keys).model_fields.items():
        extra: Any = field.json_schema_extra  # a dict: all are declared with a band
        low, high = sorted(extra["band"])
        value, default = float(getattr(keys, name)), float(field.get_default())
        high_is_worse = extra["worse"] == "high"
        end = (high if high_is_worse else low) if worse else (low if high_is_worse else high)
        moved[name] = value if value != default else end
    return keys.model_copy(update=moved)


def ways(evaluator: Evaluator, figures: Mapping[str, Any]) -> list[Way]:
    """Return the design itself, then each other way to its yearly work; empty where it gives none.

    ``figures`` of one evaluated design. A band has all assumptions of a way at one end; one that a user has changed is
    taken as known.
    """
    energy = float(figures["shaft_energy_kWh_per_year"])
    if not energy > 0.0:
        return []
    keys = evaluator.case.yardsticks
    ends = (keys, at_an_end(keys, worse=False), at_an_end(keys, worse=True))
    found = [_itself(figures, evaluator.case)]
    for way in (_panels, _hot_air, _thermoelectric):
        likely, good, bad = (way(evaluator, figures, one) for one in ends)
        found.append(_banded(likely, good.cost, bad.cost))
    return found


def _banded(way: Way, low: float, high: float) -> Way:
    return Way(
        way.name,
        way.cost,
        low,
        high,
        way.annual,
        way.area,
        way.hours,
        way.life,
        way.heat_ratio,
        way.about,
    )


def _annual(costs: Costs, parts: list[tuple[float, float]]) -> float:
    """Cost a year [EUR] of parts (price [EUR], life [a]): each paid back over its life, and maintenance."""
    rate = costs.interest_rate
    return sum(
        price * (capital_recovery_factor(rate, life) + costs.maintenance_fraction) for price, life in parts
    )


def _itself(figures: Mapping[str, Any], case: Case) -> Way:
    cost = float(figures["cost_EUR"])
    return Way(
        "vapour engine",
        cost,
        OWN_BAND[0] * cost,
        OWN_BAND[1] * cost,
        float(figures["annual_cost_EUR"]),
        float(figures["collector_area_m2"]),
        float(figures["bridged_hours"]),
        case.costs.lifetime_years,
        1.0,
        {"efficiency_percent": 100.0 * _own_efficiency(figures)},
    )


def _own_efficiency(figures: Mapping[str, Any]) -> float:
    """Work at the load over the heat drawn [-], at the rated point."""
    return float(figures["thermal_efficiency"]) * float(figures["drive_efficiency"])


def _panels(evaluator: Evaluator, figures: Mapping[str, Any], keys: Yardsticks) -> Way:
    """Panels, battery and motor that serve as much of the demand and bridge as many hours."""
    power, year = evaluator.case.scenario.demand.shaft_power_W, evaluator.year
    sun = year.plane_irradiance / PEAK * keys.panel_performance
    load = np.asarray(year.demand * (power / keys.motor_efficiency), dtype=np.float64)
    share = float(figures["shaft_energy_kWh_per_year"]) * 1e3 / (power * float(np.sum(year.demand)))
    hours = float(figures["bridged_hours"])
    usable = hours * power / keys.motor_efficiency
    peak = None
    for _ in range(STEPS):
        peak = panel_for(sun, load, usable, keys.battery_efficiency, min(share, 1.0))
        if peak is not None:
            break
        usable = max(STEP * usable, power)
    peak = MOST * float(np.max(load)) if peak is None else peak
    served, spare = battery_year(sun, load, peak, usable, keys.battery_efficiency)
    written = usable / keys.battery_depth / 1e3
    parts = [
        (peak * (keys.panel_EUR_per_W + keys.panel_fixing_EUR_per_W), keys.panel_life_years),
        (written * keys.battery_EUR_per_kWh, keys.battery_life_years),
        (power * keys.motor_EUR_per_W, keys.motor_life_years),
    ]
    cost = sum(price for price, _ in parts)
    return Way(
        "panels, battery, motor",
        cost,
        cost,
        cost,
        _annual(evaluator.case.costs, parts),
        peak / (PEAK * keys.panel_efficiency),
        usable * keys.motor_efficiency / power,
        min(life for _, life in parts),
        math.nan,
        {
            "peak_W": peak,
            "battery_kWh": written,
            "spare_kWh": spare / 1e3,
            "lacks_percent": 100.0 * max(share - served / float(np.sum(load)), 0.0),
        },
    )


def _waters(evaluator: Evaluator, figures: Mapping[str, Any]) -> tuple[float, float, float]:
    """Store full and emptied, cooling water [K]: what an engine on the same store has to work between."""
    mixed = str(figures["store_mode"]) == "mixed"
    low = figures["stop_temperature_degC"] if mixed else figures["return_temperature_degC"]
    cold = evaluator.plant.machine.cooling_water_temperature
    top = units.kelvin(float(figures["top_temperature_degC"]))
    return top, min(units.kelvin(float(low)), top), cold


def _sunny(figures: Mapping[str, Any], ratio: float) -> dict[str, float]:
    """Prices [EUR] of collectors, store and insulation for so many times the heat."""
    return {
        "collectors": ratio * float(figures["cost_collectors_EUR"]),
        "store": ratio**STORE_EXPONENT * float(figures["cost_store_EUR"]),
        "insulation": ratio**SHELL_EXPONENT * float(figures["cost_insulation_EUR"]),
    }


def _on_the_store(
    evaluator: Evaluator,
    figures: Mapping[str, Any],
    name: str,
    efficiency: float,
    parts: list[tuple[float, float]],
) -> Way:
    """A heat engine of this ``efficiency`` [-] on as large a store as it needs; ``parts`` are its own (price, life)."""
    costs = evaluator.case.costs
    ratio = _own_efficiency(figures) / efficiency
    sunny = sum(_sunny(figures, ratio).values()) + costs.instruments_EUR
    whole = [(sunny, costs.lifetime_years), *parts]
    whole = [(price * (1.0 + costs.fittings_fraction), life) for price, life in whole]
    cost = sum(price for price, _ in whole)
    return Way(
        name,
        cost,
        cost,
        cost,
        _annual(costs, whole),
        ratio * float(figures["collector_area_m2"]),
        float(figures["bridged_hours"]),
        min(life for _, life in whole),
        ratio,
        {"efficiency_percent": 100.0 * efficiency, "store_L": ratio * float(figures["store_volume_L"])},
    )


def _surfaces(figures: Mapping[str, Any], ratio: float) -> float:
    """Price [EUR] of what passes so many times the heat, at the prices of boiler and condenser."""
    return ratio * (float(figures["cost_boiler_EUR"]) + float(figures["cost_condenser_EUR"]))


def _hot_air(evaluator: Evaluator, figures: Mapping[str, Any], keys: Yardsticks) -> Way:
    """A hot-air engine on the same store, its cylinder priced by the law of the design's own."""
    top, low, cold = _waters(evaluator, figures)
    costs, power = evaluator.case.costs, evaluator.case.scenario.demand.shaft_power_W
    efficiency = keys.hot_air_carnot_share * stream_carnot(top, low, cold)
    swept = stirling_sweep(
        power,
        float(evaluator.air_pressure),
        keys.hot_air_speed_rev_per_min / units.SECONDS_PER_MINUTE,
        (mean_temperature(top, low), cold),
        keys.hot_air_west_number,
    )
    litres = swept * units.L_PER_M3
    engine = costs.engine_EUR_per_stage + costs.engine_EUR_per_L06 * litres**ENGINE_EXPONENT
    surfaces = keys.hot_air_surface_factor * _surfaces(figures, _own_efficiency(figures) / efficiency)
    way = _on_the_store(
        evaluator,
        figures,
        "hot-air engine",
        efficiency,
        [(engine + surfaces, costs.lifetime_years)],
    )
    return Way(**(vars(way) | {"about": {**way.about, "swept_L": litres}}))


def _thermoelectric(evaluator: Evaluator, figures: Mapping[str, Any], keys: Yardsticks) -> Way:
    """Thermoelectric modules on the same store, and a motor."""
    top, low, cold = _waters(evaluator, figures)
    power = evaluator.case.scenario.demand.shaft_power_W
    warm = mean_temperature(top, low)
    lost = 0.5 * (1.0 - keys.thermoelectric_drop_share) * (warm - cold)
    electric = thermoelectric(warm - lost, cold + lost, keys.thermoelectric_figure_of_merit)
    efficiency = electric * keys.motor_efficiency
    parts = [
        (power / keys.motor_efficiency * keys.thermoelectric_EUR_per_W, keys.thermoelectric_life_years),
        (
            _surfaces(figures, _own_efficiency(figures) / efficiency),
            evaluator.case.costs.lifetime_years,
        ),
        (power * keys.motor_EUR_per_W, keys.motor_life_years),
    ]
    return _on_the_store(evaluator, figures, "thermoelectric, motor", efficiency, parts)


def beside(evaluator: Evaluator, figures: Mapping[str, Any]) -> dict[str, float]:
    """What a design gives beside its work: warmed cooling water a year, and what hot water from the store would cost.

    ``heat_kWh`` goes into the cooling water in a year, which leaves at ``warm_degC``; ``litre_kJ`` of work are lost with
    each litre of hot water that is taken for something else.
    """
    work = float(figures["shaft_energy_kWh_per_year"])
    heat = work / _own_efficiency(figures) if work > 0.0 else 0.0
    litres = float(figures["cooling_water_L_per_year"])
    rise = (
        (heat - work) * units.J_PER_KWH / (litres / units.L_PER_M3 * WATER_DENSITY * WATER_HEAT)
        if litres > 0.0
        else 0.0
    )
    return {
        "heat_kWh": heat - work,
        "warm_degC": evaluator.case.scenario.site.cooling_water_temperature_degC + rise,
        "litre_kJ": float(figures["work_per_litre_kJ"]),
        "top_degC": float(figures["top_temperature_degC"]),
    }
