"""Feed pumps, water circulation and suction head."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from explore.fluids.interface import Array

GRAVITY = 9.80665
"""Standard gravity [m/s2], exact by definition (CGPM 1901)."""
RATED_RISE_K = 10.0
"""Warming of cooling water for which its passages are chosen."""
LEAST_DROP_PA, LARGEST_DROP_PA = 0.05e5, 1.0e5
"""Passages are neither free nor so narrow that a well pump could not serve them."""
LEAST_RISE_K = 1e-3
"""Divides where the water does not warm at all."""
LEAST_RISE = 1.0
"""Least pressure rise [Pa] at which the efficiency is taken; below, the work stays that of packing and valves."""


@dataclass(frozen=True)
class FeedPump:
    """Coefficients of a small plunger pump; ranges 10-90 %, group pump (A).

    Checked against 'rarely exceeds 0.3' for units of 1-5 kW: Fatigati et al., Energies 18 (2025) 97 (V).
    """

    volumetric: float = 0.90
    """Share of the stroke delivered; 0.75-0.95 (A)."""
    drive: float = 0.85
    """Belt or eccentric from the engine's shaft; 0.75-0.92 (A)."""
    packing: float = 1.5e5
    """Pressure [Pa] that packing and valves cost; 0.7-3 bar (A)."""
    motor: float = 0.55
    """Generator, controller and motor between engine and pump where it has a motor of its own; 0.4-0.75 (A)."""
    driven_by: Literal["engine", "motor"] = "engine"
    """What turns the pump."""


def feed_efficiency(law: FeedPump, low: Array, high: Array) -> Array:
    """Efficiency [-] of a pump between ``low`` and ``high`` [Pa]: volumetric x drive x dp / (dp + packing)."""
    rise = np.maximum(high - low, LEAST_RISE)
    turned = law.drive * (law.motor if law.driven_by == "motor" else 1.0)
    return np.asarray(law.volumetric * turned * rise / (rise + law.packing))


def feed_work(volume: Array, low: Array, high: Array, efficiency: Array | float) -> Array:
    """Work [J/kg] to pump liquid of specific volume v [m3/kg] from ``low`` to ``high`` [Pa]: v dp / eta."""
    return np.asarray(volume * (high - low) / efficiency)


def pumped(law: FeedPump | float, volume: Array, low: Array, high: Array) -> Array:
    """Work [J/kg] of a pump by its law, or by one efficiency; arguments as in :func:`feed_work`."""
    efficiency = feed_efficiency(law, low, high) if isinstance(law, FeedPump) else law
    return feed_work(volume, low, high, efficiency)


def circulation_work(
    flow: Array, volume: Array, pressure_drop: Array | float, lift_m: float, efficiency: float
) -> Array:
    """Work [J/kg of working fluid] to move ``flow`` [kg/kg] of water of volume v [m3/kg].

    The pump overcomes ``pressure_drop`` [Pa] and lifts the water ``lift_m`` [m].
    """
    return np.asarray(flow * (pressure_drop * volume + GRAVITY * lift_m) / efficiency)


def suction_head(
    condenser_pressure: Array, vapour_pressure: Array, volume: Array, static_head_m: float
) -> Array:
    """Net positive suction head [m]: (p_c - p_sat(T_0)) v_0 / g plus the static head."""
    return (condenser_pressure - vapour_pressure) * volume / GRAVITY + static_head_m


def cooling_drop(rise: Array, rated_drop: float) -> Array:
    """Pressure drop [Pa] of cooling water that warms by ``rise`` [K] in passages chosen for 10 K.

    ``rated_drop`` [Pa] times (10 K / rise)^2, within 0.05 and 1 bar: more water for the same heat is faster water
    (turbulent friction, any handbook of hydraulics).

    >>> float(cooling_drop(np.array(5.0), 0.2e5))
    80000.0
    """
    slow = np.maximum(rise, LEAST_RISE_K)
    return np.clip(rated_drop * (RATED_RISE_K / slow) ** 2, LEAST_DROP_PA, LARGEST_DROP_PA)
