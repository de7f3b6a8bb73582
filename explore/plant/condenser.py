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


def _water_ends(
    water: Water, dew_temperature: Array, pinch: Array, water_temperature: Array | float
) -> tuple[Array, Array, Array]:
    """Temperature [K] of the water at its entry and at the pinch, and its enthalpy [J/kg] at the entry."""
    entry = np.broadcast_to(np.asarray(water_temperature, dtype=float), pinch.shape)
    return entry, np.maximum(dew_temperature - pinch, entry + LEAST_RISE_K), water.enthalpy(entry)


def cooling_water(
    water: Water,
    exhaust_enthalpy: Array,
    dew: tuple[Array, Array],
    liquid_enthalpy: Array,
    pinch: Array,
    water_temperature: Array | float,
) -> tuple[Array, Array]:
    """Flow [kg/kg] and outlet temperature [K] of the water of :func:`condense`, without its zones."""
    _, pinched, h_entry = _water_ends(water, dew[0], pinch, water_temperature)
    flow = (np.minimum(exhaust_enthalpy, dew[1]) - liquid_enthalpy) / (water.enthalpy(pinched) - h_entry)
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
    entry, pinched, h_entry = _water_ends(water, dew[0], pinch, water_temperature)
    upper = np.minimum(exhaust[1], dew[1])
    flow = (upper - liquid[1]) / (water.enthalpy(pinched) - h_entry)
    between = water.temperature(h_entry + np.maximum(bubble_enthalpy - liquid[1], 0.0) / flow)
    outlet = water.temperature(h_entry + (exhaust[1] - liquid[1]) / flow)
    zones = [
        Zone("liquid", bubble_enthalpy - liquid[1], dew[0] - between, liquid[0] - entry),
        Zone("two_phase", upper - bubble_enthalpy, dew[0] - pinched, dew[0] - between),
        Zone("vapour", np.maximum(exhaust[1] - dew[1], 0.0), exhaust[0] - outlet, dew[0] - pinched),
    ]
    return Condenser(flow, outlet, zones)
