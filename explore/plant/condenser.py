"""The condenser against cooling water: flow from the pinch at the dew point, zones and area."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from explore.fluids.interface import Array
from explore.fluids.water import Water
from explore.plant.boiler import Zone


class Condenser(NamedTuple):
    """Cooling water per kg of working fluid [kg/kg], its outlet temperature [K], zones per kg of fluid."""

    water_flow: Array
    outlet_temperature: Array
    zones: list[Zone]


LEAST_RISE_K = 0.1
"""Cooling water warms by this much at least: a condenser colder than its pinch needs much water, not a negative flow."""


class Cold(NamedTuple):
    """What a condenser knows before the vapour, each (n,): (T [K], h [J/kg]) of its water at the entry and at the pinch."""

    entry: tuple[Array, Array]
    pinched: tuple[Array, Array]


def cold_side(water: Water, dew_temperature: Array, pinch: Array, water_temperature: Array | float) -> Cold:
    """Cooling water at both places where it is known: it enters at a given temperature, the pinch is at the dew point.

    ``dew_temperature``, ``pinch`` and ``water_temperature`` [K], (n,) or one for all.
    """
    entry = np.broadcast_to(np.asarray(water_temperature, dtype=float), pinch.shape)
    pinched = np.maximum(dew_temperature - pinch, entry + LEAST_RISE_K)
    return Cold((entry, water.enthalpy(entry)), (pinched, water.enthalpy(pinched)))


def cooling_water(
    water: Water, cold: Cold, exhaust_enthalpy: Array, dew_enthalpy: Array, liquid_enthalpy: Array
) -> tuple[Array, Array]:
    """Flow [kg/kg] and outlet temperature [K] of the water of :func:`condense`, without its zones; enthalpies in J/kg."""
    h_entry = cold.entry[1]
    flow = (np.minimum(exhaust_enthalpy, dew_enthalpy) - liquid_enthalpy) / (cold.pinched[1] - h_entry)
    return flow, water.temperature(h_entry + (exhaust_enthalpy - liquid_enthalpy) / flow)


def condense(
    water: Water,
    exhaust: tuple[Array, Array],
    dew: tuple[Array, Array],
    bubble_enthalpy: Array,
    liquid: tuple[Array, Array],
    pinch: Array,
    water_temperature: Array | float,
) -> Condenser:
    """Condense exhaust to subcooled liquid; ``exhaust``, ``dew`` and ``liquid`` are (T [K], h [J/kg]), (n,).

    The pinch stands at the dew point, or at the entry if the exhaust is wet:
    m_cw (h_w(T_c - pinch) - h_w(T_cw)) = min(h_exhaust, h_dew) - h_0.
    Source: energy balance at the pinch (model, section 3).
    """
    cold = cold_side(water, dew[0], pinch, water_temperature)
    (entry, h_entry), (pinched, _) = cold
    flow, outlet = cooling_water(water, cold, exhaust[1], dew[1], liquid[1])
    upper = np.minimum(exhaust[1], dew[1])
    between = water.temperature(h_entry + np.maximum(bubble_enthalpy - liquid[1], 0.0) / flow)
    zones = [
        Zone("liquid", bubble_enthalpy - liquid[1], dew[0] - between, liquid[0] - entry),
        Zone("two_phase", upper - bubble_enthalpy, dew[0] - pinched, dew[0] - between),
        Zone("vapour", np.maximum(exhaust[1] - dew[1], 0.0), exhaust[0] - outlet, dew[0] - pinched),
    ]
    return Condenser(flow, outlet, zones)
