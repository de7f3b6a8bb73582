"""Vapour pressure of a gas whose composition is a range: that of the worst end, whatever the bottle holds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.polynomial import Chebyshev

from explore.fluids.blend import Blend
from explore.fluids.fault import fault_pressure
from explore.fluids.interface import HIGHEST_SATURATION_K, Array

COLDEST_K = 293.15
"""Where a line starts: what is asked for is the pressure at standstill, in a store far warmer than a room."""
DEGREE = 12
"""Of the polynomial of a line: ln p over 1/T is so nearly straight that it is held to 1e-5 between its points."""
NEAR_CRITICAL = 0.999
"""Of the critical temperature: how near to it the property library is asked for a bubble point."""


def worst_fault(substances: Sequence[str | Blend], temperature: float) -> tuple[float, float]:
    """Greatest bubble pressure p [Pa] at a temperature T [K] and least critical temperature [K] of several compositions.

    Range: 293.15 K to the least critical temperature. Source: :func:`explore.fluids.fault.fault_pressure`.

    The pressure is NaN where one of them is at or above its critical temperature. Raises
    :class:`explore.fluids.blend.UnusableError` for a mixture that the equation of state cannot serve.
    """
    found = [fault_pressure(substance, temperature) for substance in substances]
    pressures = [pressure for pressure, _ in found]
    worst = math.nan if any(map(math.isnan, pressures)) else max(pressures)
    return worst, min(critical for _, critical in found)


def worst_pressure(substances: Sequence[str | Blend], temperature: Array) -> Array:
    """Greatest bubble pressure p [Pa] of several compositions at temperatures T [K] (n,); NaN above a critical one.

    A Chebyshev polynomial of ln p over 1/T, good for 1e-5. Range: 293.15 K to 379 K or 0.999 of the critical temperature.

    Raises :class:`explore.fluids.blend.UnusableError` for a mixture that the equation of state cannot serve.
    """
    lines = [_line(substance) for substance in substances]
    found = [
        np.where(temperature < critical, np.exp(line(1.0 / temperature)), np.nan) for line, critical in lines
    ]
    return np.asarray(np.max(found, axis=0))


@lru_cache(maxsize=64)
def _line(substance: str | Blend) -> tuple[Chebyshev, float]:
    critical = fault_pressure(substance, COLDEST_K)[1]
    hottest = min(HIGHEST_SATURATION_K, NEAR_CRITICAL * critical)

    def ln_pressure(per_temperature: Array) -> Array:
        return np.log([fault_pressure(substance, 1.0 / float(one))[0] for one in per_temperature])

    return Chebyshev.interpolate(ln_pressure, DEGREE, domain=[1.0 / hottest, 1.0 / COLDEST_K]), critical
