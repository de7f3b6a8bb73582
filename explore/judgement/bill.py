"""What a plant costs: a bill of lines that sum to the total, and the cost of a shaft kilowatt-hour."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

if TYPE_CHECKING:
    from explore.config.schema import Costs

Array = NDArray[np.float64]

STORE_EXPONENT = 0.65
ENGINE_EXPONENT = 0.6
GRAVITY = 9.80665
WATER_DENSITY = 1000.0
"""Of the water in a header tank [kg/m3]."""

LINES = (
    "collectors",
    "store",
    "insulation",
    "boiler",
    "condenser",
    "regenerator",
    "engine",
    "cut_off_gear",
    "drive",
    "bank",
    "levels",
    "charge",
    "instruments",
    "fittings",
)


def scaled_cost(coefficient: float, size: ArrayLike, exponent: float) -> Array:
    """Return coefficient x size^exponent [EUR], the six-tenths rule at exponent 0.6.

    Source: Williams, Six-tenths factor aids in approximating costs, Chem. Eng. 54(12), 1947, 124.

    >>> round(float(scaled_cost(1.0, 2.0, 0.6)), 4)
    1.5157
    """
    return np.asarray(coefficient * np.power(np.asarray(size, dtype=float), exponent))


def bill_lines(
    costs: Costs,
    *,
    collector_price_EUR_per_m2: ArrayLike,
    collector_area_m2: ArrayLike,
    store_volume_L: ArrayLike,
    insulation_volume_m3: ArrayLike,
    boiler_area_m2: ArrayLike,
    condenser_area_m2: ArrayLike,
    regenerator_area_m2: ArrayLike,
    stages: ArrayLike,
    swept_volume_L: ArrayLike,
    pressure_levels: ArrayLike,
    charge_kg: ArrayLike,
    fluid_price_EUR_per_kg: ArrayLike,
    cylinders: ArrayLike = 1,
    cut_off_gear: ArrayLike = 0,
    drive_steps: ArrayLike = 0.0,
    bank_EUR: ArrayLike = 0.0,
) -> dict[str, Array]:
    """Return the bill of n designs, one array of shape (n,) [EUR] for each of :data:`LINES`.

    ``swept_volume_L`` is the sum over the stages; a scalar holds for all designs. ``cylinders`` side by side in each
    stage; ``cut_off_gear`` 1 where the cut-off varies; ``drive_steps`` of 4 to 1 between engine and load;
    ``bank_EUR`` from :func:`battery_EUR` or :func:`header_tank_EUR`. The line "levels" holds
    the shell, receiver, feed pump and safety valve of every pressure level; fittings are a share of all
    the other lines. Prices: ``costs``, all assumptions.
    """
    each_level = (
        costs.boiler_set_EUR_per_level
        + costs.receiver_EUR_per_level
        + costs.feed_pump_EUR_per_level
        + costs.safety_valve_EUR
    )
    lines = {
        "collectors": np.multiply(collector_price_EUR_per_m2, collector_area_m2),
        "store": scaled_cost(costs.store_EUR_per_L065, store_volume_L, STORE_EXPONENT),
        "insulation": np.multiply(costs.insulation_EUR_per_m3, insulation_volume_m3),
        "boiler": np.multiply(costs.boiler_EUR_per_m2, boiler_area_m2),
        "condenser": np.multiply(costs.condenser_EUR_per_m2, condenser_area_m2),
        "regenerator": np.multiply(costs.regenerator_EUR_per_m2, regenerator_area_m2),
        "engine": np.multiply(
            costs.engine_EUR_per_stage, np.multiply(stages, np.power(cylinders, ENGINE_EXPONENT))
        )
        + scaled_cost(costs.engine_EUR_per_L06, swept_volume_L, ENGINE_EXPONENT),
        "cut_off_gear": np.multiply(costs.cut_off_gear_EUR, cut_off_gear),
        "drive": np.multiply(costs.drive_EUR_per_ratio_4, drive_steps),
        "bank": np.asarray(bank_EUR),
        "levels": np.multiply(each_level, pressure_levels),
        "charge": np.multiply(fluid_price_EUR_per_kg, charge_kg),
        "instruments": np.asarray(costs.instruments_EUR),
    }
    lines["fittings"] = costs.fittings_fraction * total(lines)
    arrays = np.broadcast_arrays(*(np.atleast_1d(np.asarray(line, dtype=float)) for line in lines.values()))
    return {name: np.array(array) for name, array in zip(lines, arrays, strict=True)}


def battery_EUR(costs: Costs, day_kWh: ArrayLike) -> Array:
    """Price [EUR] of a battery for a day's demand [kWh]."""
    return np.asarray(np.multiply(costs.battery_EUR_per_kWh, day_kWh))


def header_tank_m3(day_kWh: ArrayLike, head_m: float) -> Array:
    """Water [m3] that a day's demand [kWh] lifts by ``head_m`` [m]: E / (rho g H), the pump's own losses left out.

    >>> round(float(header_tank_m3(1.0, 10.0)), 2)
    36.71
    """
    joules = 3.6e6 * np.asarray(day_kWh, dtype=float)
    return np.asarray(joules / (WATER_DENSITY * GRAVITY * head_m))


def header_tank_EUR(costs: Costs, day_kWh: ArrayLike, head_m: float) -> Array:
    """Price [EUR] of a header tank for a day's demand [kWh] at ``head_m`` [m] above the water."""
    return np.asarray(costs.header_tank_EUR_per_m3 * header_tank_m3(day_kWh, head_m))


def total(lines: dict[str, Array]) -> Array:
    """Return the sum of all lines of a bill [EUR], shape (n,)."""
    return np.asarray(sum(lines.values()), dtype=float)


def capital_recovery_factor(interest_rate: float, years: float) -> float:
    """Return the share of a loan paid back each year, i (1 + i)^n / ((1 + i)^n - 1), 1/n where i is 0.

    ``interest_rate`` i [1/a], ``years`` n [a] > 0. Source: any table of engineering economy.

    >>> round(capital_recovery_factor(0.08, 20.0), 6)
    0.101852
    """
    # i / (1 - (1 + i)^-n), written so that a tiny i does not cancel and a long n does not overflow
    payable = -np.expm1(-years * np.log1p(interest_rate))
    return float(interest_rate / payable) if payable > 0.0 else 1.0 / years


def annual_cost(total_EUR: ArrayLike, costs: Costs) -> Array:
    """Return what a plant costs a year [EUR/a]: capital recovered over its life, and maintenance."""
    share = capital_recovery_factor(costs.interest_rate, costs.lifetime_years) + costs.maintenance_fraction
    return np.asarray(share * np.asarray(total_EUR, dtype=float))


def cost_per_kWh(annual_cost_EUR: ArrayLike, shaft_energy_kWh_per_year: ArrayLike) -> Array:
    """Return the cost of one kWh at the shaft [EUR/kWh]; NaN where no energy is served."""
    cost, energy = np.broadcast_arrays(
        np.asarray(annual_cost_EUR, dtype=float), np.asarray(shaft_energy_kWh_per_year, dtype=float)
    )
    served = energy > 0.0
    return np.divide(cost, energy, out=np.full(cost.shape, np.nan), where=served)
