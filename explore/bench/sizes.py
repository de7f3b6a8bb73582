"""Ports, forces, feed plunger and fill: one formula each."""

from __future__ import annotations

import math
from collections.abc import Sequence

FILL_SHARE = 0.95
"""Share of the vessels that liquid may fill at 50 degC: ADR 4.3.3.2.2."""
LIQUID_SHARE = 0.80
"""Greatest share of a vessel filled with liquid: the 80 % rule, OSHA 29 CFR 1910.110(b)(19)(v)."""


def piston_area(bore: float) -> float:
    """Area [m2] of a piston of ``bore`` [m]: pi/4 D^2."""
    return 0.25 * math.pi * bore**2


def force(bore: float, pressure: float) -> float:
    """Force [N] of a ``pressure`` [Pa] over that on the other side of a disc of ``bore`` [m]: p pi/4 D^2."""
    return pressure * piston_area(bore)


def port_area(bore: float, piston_speed: float, gas_velocity: float) -> float:
    """Port area [m2]: piston area times mean piston speed over gas velocity [m/s], continuity at constant density."""
    return piston_area(bore) * piston_speed / gas_velocity


def plunger(needed: float, volumetric: float) -> tuple[float, float]:
    """Volume swept [m3] per revolution and diameter [m] of a feed plunger whose stroke equals its diameter.

    ``needed`` [m3] of liquid a revolution, one stroke of which the share ``volumetric`` is delivered: V = V0/eta,
    d = (4 V / pi)^(1/3).
    """
    swept = needed / volumetric
    return swept, math.cbrt(4.0 * swept / math.pi)


def least_volume(charge: float, density_50: float, density_fill: float) -> float:
    """Least volume [m3] of the vessels that hold the whole ``charge`` [kg] as liquid.

    The larger of two rules: m <= 0.95 rho(50 degC) V (ADR 4.3.3.2.2), and at filling liquid in at most 80 % of V
    (OSHA 29 CFR 1910.110); densities in kg/m3.
    """
    return max(charge / (FILL_SHARE * density_50), charge / (LIQUID_SHARE * density_fill))


def next_in_stock(least: float, stock: Sequence[float]) -> float | None:
    """The smallest of ``stock`` that is no less than ``least``, any unit; None where all are less."""
    return min((one for one in stock if one >= least), default=None)
