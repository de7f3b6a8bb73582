"""What else could do the same work: assumptions of photovoltaic panels, hot-air engine and thermoelectric generator.

They judge no design and enter no search: they stand beside a design, so that a builder sees what else there is.
"""

from __future__ import annotations

from typing import Any

from explore.config.fields import ASSUMED, Checked, quantity

MEMORY = "assumption of this project, from memory of the trade"
"""Prices and lives that no page was read for."""


def _assumed(default: float, band: tuple[float, float], **fields: Any) -> Any:
    """Declare one assumption with its 10-90 % range, a judgement."""
    source = fields.pop("source", MEMORY)
    return quantity(default, band=band, group="yardsticks", source=source, assumption=True, **fields)


class Yardsticks(Checked):
    """Other ways to the same yearly work; every value is an assumption with its band."""

    panel_efficiency: float = _assumed(
        0.20,
        (0.17, 0.23),
        unit="-",
        about="photovoltaic panel: efficiency at 1000 W/m2 and 25 degC, which gives its area",
        worse="low",
        gt=0,
        le=0.5,
    )
    panel_performance: float = _assumed(
        0.75,
        (0.65, 0.82),
        unit="-",
        about="share of that which arrives: heat, dirt, cable and charge controller",
        worse="low",
        gt=0,
        le=1,
    )
    panel_EUR_per_W: float = _assumed(
        0.45,
        (0.2, 0.9),
        unit="EUR/W",
        about="panel in a shop, each watt of its peak",
        source=f"{ASSUMED}; modules fell below 0.15 USD/W at the factory in 2023 (Empower New Energy, trade page)",
        ge=0,
    )
    panel_fixing_EUR_per_W: float = _assumed(
        0.6, (0.3, 1.2), unit="EUR/W", about="frames, cable and charge controller of the panel", ge=0
    )
    panel_life_years: float = _assumed(
        25.0, (20, 30), unit="a", about="life of a panel", worse="low", gt=0, le=100
    )
    battery_EUR_per_kWh: float = _assumed(
        350.0,
        (200, 600),
        unit="EUR/kWh",
        about="battery, each kWh of what is written on it",
        source=f"{ASSUMED}; lithium systems 280 to 580 USD/kWh installed in 2025 (trade page), cells alone far less",
        ge=0,
    )
    battery_depth: float = _assumed(
        0.8, (0.5, 0.9), unit="-", about="share of the battery that may be drawn", worse="low", gt=0, le=1
    )
    battery_efficiency: float = _assumed(
        0.90, (0.80, 0.95), unit="-", about="battery: energy out over energy in", worse="low", gt=0, le=1
    )
    battery_life_years: float = _assumed(
        10.0, (4, 15), unit="a", about="life of a battery", worse="low", gt=0, le=100
    )
    motor_efficiency: float = _assumed(
        0.78,
        (0.65, 0.88),
        unit="-",
        about="small electric motor with its controller",
        worse="low",
        gt=0,
        le=1,
    )
    motor_EUR_per_W: float = _assumed(
        0.8, (0.4, 1.5), unit="EUR/W", about="motor with its controller, each watt at its shaft", ge=0
    )
    motor_life_years: float = _assumed(
        12.0, (8, 20), unit="a", about="life of motor and controller", worse="low", gt=0, le=100
    )
    hot_air_carnot_share: float = _assumed(
        0.5,
        (0.02, 0.5),
        unit="-",
        about="hot-air engine: shaft work over what Carnot allows between hot and cooling water",
        source=(
            "the best reported, 50 % (Iwamoto 1997, in Kongtragool and Wongwises, Renew. Sustain. Energy Rev. 7 (2003) "
            "131); one built for small differences gave 0.44 % of its heat at 439 K, about 1.4 % of Carnot (the same, "
            "Solar Energy 82 (2008) 493)"
        ),
        worse="low",
        gt=0,
        le=1,
    )
    hot_air_west_number: float = _assumed(
        0.25,
        (0.1, 0.35),
        unit="-",
        about="hot-air engine: power over pressure, swept volume, speed and (Th - Tc)/(Th + Tc)",
        source="average of many engines: West number (Wikipedia, after C. D. West, 1986)",
        worse="low",
        gt=0,
        le=1,
    )
    hot_air_speed_rev_per_min: float = _assumed(
        150.0, (60, 300), unit="rev/min", about="hot-air engine: its speed", worse="low", gt=0, le=3000
    )
    hot_air_surface_factor: float = _assumed(
        4.0,
        (2, 8),
        unit="-",
        about="hot-air engine: heater and cooler over boiler and condenser for the same heat, air being a poor film",
        ge=1,
        le=100,
    )
    thermoelectric_figure_of_merit: float = _assumed(
        0.7, (0.5, 0.9), unit="-", about="ZT of bismuth telluride in a module", worse="low", gt=0, le=10
    )
    thermoelectric_drop_share: float = _assumed(
        0.6,
        (0.4, 0.8),
        unit="-",
        about="share of the difference between the waters that falls across the modules",
        worse="low",
        gt=0,
        le=1,
    )
    thermoelectric_EUR_per_W: float = _assumed(
        8.0, (3, 20), unit="EUR/W", about="modules and their converter, each electric watt here", ge=0
    )
    thermoelectric_life_years: float = _assumed(
        15.0, (8, 20), unit="a", about="life of modules and converter", worse="low", gt=0, le=100
    )
