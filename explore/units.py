"""The only unit conversions: edge units (degC, bar, litre, mm, kJ) to SI and kelvin, and back; fixed decimals."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Value = TypeVar("Value", float, NDArray[np.float64])

ZERO_C = 273.15
"""Exact, by definition of the scale."""
PA_PER_BAR = 1e5
"""Exact."""
J_PER_KJ = 1e3
"""Exact."""
J_PER_KWH = 3.6e6
"""Exact."""
L_PER_M3 = 1e3
"""Exact."""
MM_PER_M = 1e3
"""Exact."""
SECONDS_PER_MINUTE = 60.0
"""By definition."""
SECONDS_PER_HOUR = 3600.0
"""Exact."""


def kelvin(degC: Value) -> Value:
    """Celsius to kelvin."""
    return degC + ZERO_C


def celsius(kelvin: Value) -> Value:
    """Kelvin to Celsius."""
    return kelvin - ZERO_C


def bar(pascal: Value) -> Value:
    """Absolute pascal to absolute bar."""
    return pascal / PA_PER_BAR


def bar_gauge(pascal: Value, air_pascal: float) -> Value:
    """Absolute pascal to bar above the air pressure of the site."""
    return (pascal - air_pascal) / PA_PER_BAR


def fixed(value: float, decimals: int) -> str:
    """Write with so many decimals; what rounds to zero has no sign.

    >>> fixed(-0.0000012, 3), fixed(-0.0004, 3), fixed(-0.0006, 3)
    ('0.000', '0.000', '-0.001')
    """
    return f"{round(value, decimals) + 0.0:.{decimals}f}"


def pascal_from_gauge(bar_g: Value, air_pascal: float) -> Value:
    """Bar gauge to absolute pascal."""
    return bar_g * PA_PER_BAR + air_pascal
