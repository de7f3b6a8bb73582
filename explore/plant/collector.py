"""Solar collectors: the steady-state efficiency curve of ISO 9806."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def useful_heat(
    irradiance: ArrayLike, mean_minus_air: ArrayLike, *, eta0: ArrayLike, a1: ArrayLike, a2: ArrayLike
) -> Array:
    """Heat a collector delivers per area, never negative [W/m2].

    q = max(0, eta0 G - a1 (Tm - Ta) - a2 (Tm - Ta)^2)

    Args:
        irradiance: G, irradiance on the collector plane, incidence modifier applied [W/m2], any shape.
        mean_minus_air: Tm - Ta, mean fluid temperature above the air [K], same or broadcastable shape.
        eta0: zero-loss efficiency [-].
        a1: loss coefficient [W/(m2 K)].
        a2: temperature dependence of the loss coefficient [W/(m2 K2)].

    Source: ISO 9806:2017, steady-state model without wind and sky terms.

    >>> round(float(useful_heat(800.0, 40.0, eta0=0.8, a1=3.5, a2=0.015)) / 800.0, 3)
    0.595
    """
    rise = np.asarray(mean_minus_air, dtype=np.float64)
    balance = np.multiply(eta0, irradiance) - rise * (np.asarray(a1) + np.multiply(a2, rise))
    return np.asarray(np.maximum(balance, 0.0), dtype=np.float64)


def stagnation_excess(irradiance: ArrayLike, *, eta0: ArrayLike, a1: ArrayLike, a2: ArrayLike) -> Array:
    """Mean fluid temperature above the air at which a collector delivers nothing [K].

    The positive root of eta0 G = a1 x + a2 x^2, written without a difference of near-equal terms,
    so that it holds for a2 = 0 as well. Infinite for a collector without losses.

    Args:
        irradiance: G [W/m2], any shape.
        eta0: zero-loss efficiency [-].
        a1: loss coefficient [W/(m2 K)].
        a2: its temperature dependence [W/(m2 K2)].

    Source: ISO 9806:2017, efficiency curve set to zero.

    >>> round(float(stagnation_excess(1000.0, eta0=0.8, a1=3.5, a2=0.015)), 2)
    142.07
    """
    gain = np.asarray(np.multiply(eta0, irradiance), dtype=np.float64)
    linear = np.asarray(a1, dtype=np.float64)
    denominator = linear + np.sqrt(linear**2 + 4.0 * np.asarray(a2) * gain)
    with np.errstate(divide="ignore", invalid="ignore"):
        excess = 2.0 * gain / denominator
    return np.asarray(np.where(gain > 0.0, excess, 0.0), dtype=np.float64)
