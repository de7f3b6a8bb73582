"""Feed pumps, water circulation and suction head."""

from __future__ import annotations

import numpy as np

from explore.fluids.interface import Array

GRAVITY = 9.80665


def feed_work(volume: Array, low: Array, high: Array, efficiency: float) -> Array:
    """Work [J/kg] to pump liquid of specific volume v [m3/kg] from ``low`` to ``high`` [Pa]: v dp / eta."""
    return volume * (high - low) / efficiency


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
