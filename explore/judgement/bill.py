"""What a plant costs: a bill of lines that sum to the total, and the cost of a shaft kilowatt-hour."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from explore.plant.parts import PARTS
from explore.plant.parts.part import Sizes

if TYPE_CHECKING:
    from explore.config.schema import Costs

Array = NDArray[np.float64]

GRAVITY = 9.80665
"""Standard gravity [m/s2], exact by definition (CGPM 1901)."""
WATER_DENSITY = 1000.0
"""Of the water in a header tank [kg/m3]."""

LINES = (*(line.name for part in PARTS for line in part.lines), "charge", "instruments", "fittings")
"""Those of all parts, and what belongs to no part."""


def bill_lines(costs: Costs, size: Sizes) -> dict[str, Array]:
    """Return the bill of n designs, one array of shape (n,) [EUR] for each of :data:`LINES`.

    The line "levels" holds the shell, receiver, feed pump and safety valve of every pressure level; "bank" comes from
    :func:`battery_EUR` or :func:`header_tank_EUR`; fittings are a share of all the other lines. Prices: ``costs``, all
    assumptions.
    """
    lines = {line.name: np.asarray(line.price(costs, size)) for part in PARTS for line in part.lines}
    lines |= {
        "charge": np.multiply(size.fluid_price_EUR_per_kg, size.charge_kg),
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
