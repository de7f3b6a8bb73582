"""Feed pumps, water circulation and suction head."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from explore.fluids.interface import Array

GRAVITY = 9.80665
RATED_RISE_K = 10.0
"""Warming of cooling water for which its passages are chosen."""
LEAST_DROP_PA, LARGEST_DROP_PA = 0.05e5, 1.0e5
"""Passages are neither free nor made so narrow that a well pump could not serve them."""


class FeedPump(NamedTuple):
    """A small plunger pump whose efficiency falls with its pressure rise: ``best`` [-] and ``packing`` [Pa].

    eta = best dp/(dp + packing): volumetric efficiency and drive, less what packing and valves cost. Sizes: judgement;
    0.31 / 0.59 / 0.71 at 1 / 5 / 20 bar, against 'rarely exceeds 0.3' of pumps of 1-5 kW plants, Fatigati et al., Energies
    18 (2025) 97.
    """

    best: float
    packing: float


def pump_efficiency(rise: Array, pump: FeedPump | float) -> Array:
    """Efficiency of a feed pump [-] at a pressure ``rise`` [Pa].

    >>> round(float(pump_efficiency(np.array(5e5), FeedPump(0.765, 1.5e5))), 3)
    0.588
    """
    if isinstance(pump, FeedPump):
        return np.asarray(pump.best * rise / (rise + pump.packing))
    return np.full_like(rise, pump)


def feed_work(volume: Array, low: Array, high: Array, pump: FeedPump | float) -> Array:
    """Work [J/kg] to pump liquid of specific volume v [m3/kg] from ``low`` to ``high`` [Pa]: v dp / eta."""
    if isinstance(pump, FeedPump):  # v dp / eta, written so that a vanishing rise does not divide by zero
        return np.asarray(volume * (high - low + pump.packing) / pump.best)
    return np.asarray(volume * (high - low) / pump)


def cooling_drop(rise: Array, rated_drop: float) -> Array:
    """Pressure drop [Pa] of cooling water that warms by ``rise`` [K] in passages chosen for 10 K.

    ``rated_drop`` [Pa] times (10 K / rise)^2, within 0.05 and 1 bar: more water for the same heat is faster water
    (turbulent friction, any handbook of hydraulics).

    >>> float(cooling_drop(np.array(5.0), 0.2e5))
    80000.0
    """
    slow = np.maximum(rise, 1e-3)
    return np.clip(rated_drop * (RATED_RISE_K / slow) ** 2, LEAST_DROP_PA, LARGEST_DROP_PA)


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
