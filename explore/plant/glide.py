"""Boiler and condenser of a mixture, whose temperature glides between bubble and dew point.

A mixture has no single place for the pinch. Along its two-phase curve, sampled at ``PIECES`` + 1 points of equal
steps of enthalpy, each point k asks for so much water that the pinch is kept there:

- boiler: m_w >= (h_exit - h_k) / (h_w(T_top) - h_w(T_k + pinch)),
- condenser: m_cw >= (h_k - h_0) / (h_w(T_k - pinch) - h_w(T_cw));

the largest is the water flow. At a constant temperature both give the rule of the pure fluid. Liquid
and superheated ends may come closer than the pinch, as for a pure fluid. Areas take the log-mean
difference of each piece by itself (Bergman et al., Fundamentals of Heat and Mass Transfer, ch. 11).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from explore.fluids.interface import Array, WorkingFluid
from explore.fluids.water import Water
from explore.plant.boiler import Level, Zone
from explore.plant.condenser import LEAST_RISE_K, Condenser

PIECES = 24
"""Of equal heat, between which curves count as straight: the pinch is looked for at their ends."""
LEAST_DROP = 200.0
"""Least drop of the water's enthalpy [J/kg], a twentieth of a kelvin: water no warmer than the curve would have to
flow without end."""


class Curve(NamedTuple):
    """Two-phase states at one pressure from the cold end up: enthalpy [J/kg] and temperature [K], (PIECES + 1, n)."""

    enthalpy: Array
    temperature: Array


def curve(fluid: WorkingFluid, pressure: Array, low: Array, high: Array) -> Curve:
    """Sample the states at p [Pa] between two enthalpies ``low`` and ``high`` [J/kg], each (n,)."""
    share = np.linspace(0.0, 1.0, PIECES + 1)[:, None]
    enthalpy = low + share * (high - low)
    return Curve(enthalpy, np.stack([fluid.from_enthalpy(pressure, h).temperature for h in enthalpy]))


def boiling(fluid: WorkingFluid, level: Level) -> Curve:
    """Return the curve of a boiler, from the bubble to the dew point."""
    return curve(fluid, level.pressure, level.bubble_enthalpy, level.dew_enthalpy)


def condensing(fluid: WorkingFluid, pressure: Array, entering: Array) -> Curve:
    """Return the curve of a condenser, from the bubble point to the dew point, or to a wet entry [J/kg]."""
    sat = fluid.saturation(pressure)
    return curve(fluid, pressure, sat.h_liquid, np.minimum(entering, sat.h_vapour))


def condenser_pinch(
    fluid: WorkingFluid,
    water: Water,
    pressure: Array,
    entering: Array,
    liquid_enthalpy: Array,
    water_flow: Array,
    water_temperature: Array,
) -> Array:
    """Pinch [K] along the condensing curve with ``water_flow`` [kg/kg] of cooling water: the flow of :func:`condense`.

    ``entering`` and ``liquid_enthalpy`` [J/kg] of the mixture.
    """
    points = condensing(fluid, pressure, entering)
    warmed = water.enthalpy(water_temperature) + (points.enthalpy - liquid_enthalpy) / water_flow
    beside = water.temperature(warmed)
    gap = points.temperature - beside
    # where the water has hardly warmed yet, no pinch asks for any flow of it
    asks = beside - water_temperature > LEAST_RISE_K
    return np.asarray(np.min(np.where(asks, gap, gap[-1]), axis=0))


def water_flow(
    fluid: WorkingFluid, water: Water, top_temperature: Array, level: Level, pinch: Array
) -> Array:
    """Hot water per kg of mixture [kg/kg] that keeps the pinch [K] along the whole boiling curve.

    Water that is no warmer than a point of the curve and the pinch would have to flow without end; the
    drop of its enthalpy counts as 200 J/kg then, and the caller sees the hot end violated.
    """
    points = boiling(fluid, level)
    drop = water.enthalpy(top_temperature) - water.enthalpy(points.temperature + pinch)
    return np.asarray(np.max((level.exit_enthalpy - points.enthalpy) / np.maximum(drop, LEAST_DROP), axis=0))


def boiler_zones(
    fluid: WorkingFluid,
    water: Water,
    top_temperature: Array,
    level: Level,
    raised: Array,
    feed_enthalpy: Array,
    feed_temperature: Array,
    points: Curve | None = None,
) -> list[Zone]:
    """Zones of the boiler in counterflow, heat per kg of hot water; ``raised`` [kg/kg] per kg of hot water.

    ``points`` is the curve of :func:`boiling` where that is known.
    """
    points = points or boiling(fluid, level)
    raised = np.maximum(raised, 1e-9)
    gap = _boiling_gap(water, top_temperature, level, raised, points)
    back = _water_along(water, top_temperature, level, raised, feed_enthalpy)
    return [
        Zone("liquid", raised * (level.bubble_enthalpy - feed_enthalpy), gap[0], back - feed_temperature),
        *_pieces(points, raised, gap),
        Zone(
            "vapour",
            raised * (level.exit_enthalpy - level.dew_enthalpy),
            top_temperature - level.exit_temperature,
            gap[-1],
        ),
    ]


def boiler_pinch(
    fluid: WorkingFluid, water: Water, top_temperature: Array, level: Level, raised: Array
) -> Array:
    """Pinch [K] along the boiling curve where ``raised`` [kg/kg] boils per kg of hot water: :func:`water_flow` turned."""
    points = boiling(fluid, level)
    gap = _boiling_gap(water, top_temperature, level, np.maximum(raised, 1e-9), points)
    return np.asarray(np.min(gap, axis=0))


def _boiling_gap(water: Water, top_temperature: Array, level: Level, raised: Array, points: Curve) -> Array:
    """Difference [K] to the water in counterflow at each point of the boiling curve."""
    return _water_along(water, top_temperature, level, raised, points.enthalpy) - points.temperature


def _water_along(water: Water, top_temperature: Array, level: Level, raised: Array, enthalpy: Array) -> Array:
    """Temperature [K] of the water where the fluid has some ``enthalpy`` [J/kg]."""
    return water.temperature(water.enthalpy(top_temperature) - raised * (level.exit_enthalpy - enthalpy))


def coil_zones(
    fluid: WorkingFluid,
    level: Level,
    store_temperature: Array,
    feed_enthalpy: Array,
    feed_temperature: Array,
    points: Curve | None = None,
) -> list[Zone]:
    """Zones of a coil in a fully mixed store, heat [J per kg of mixture]; the water is isothermal.

    ``store_temperature`` [K], ``feed_enthalpy`` [J/kg] and ``feed_temperature`` [K], (n,); ``points`` as in
    :func:`boiler_zones`.
    """
    points = points or boiling(fluid, level)
    gap = store_temperature - points.temperature
    return [
        Zone("liquid", level.bubble_enthalpy - feed_enthalpy, gap[0], store_temperature - feed_temperature),
        *_pieces(points, np.ones_like(store_temperature), gap),
        Zone(
            "vapour",
            level.exit_enthalpy - level.dew_enthalpy,
            store_temperature - level.exit_temperature,
            gap[-1],
        ),
    ]


def _pieces(points: Curve, flow: Array, gap: Array) -> list[Zone]:
    """Turn a curve into one two-phase zone a piece; ``gap`` [K] to the water at each point."""
    heat = flow * np.diff(points.enthalpy, axis=0)
    return [Zone("two_phase", heat[k], gap[k + 1], gap[k]) for k in range(PIECES)]


def condense(
    fluid: WorkingFluid,
    water: Water,
    pressure: Array,
    exhaust: tuple[Array, Array],
    liquid: tuple[Array, Array],
    pinch: Array,
    water_temperature: Array | float,
) -> Condenser:
    """Condense exhaust to subcooled liquid; ``exhaust`` and ``liquid`` are (T [K], h [J/kg]), each (n,).

    The curve runs from the bubble point to the dew point, or to the entry if the exhaust is wet.
    """
    sat = fluid.saturation(pressure)
    entry = np.broadcast_to(np.asarray(water_temperature, dtype=float), pinch.shape)
    points = condensing(fluid, pressure, exhaust[1])
    pinched = np.maximum(points.temperature - pinch, entry + LEAST_RISE_K)
    drop = water.enthalpy(pinched) - water.enthalpy(entry)
    flow = np.max((points.enthalpy - liquid[1]) / drop, axis=0)
    return condensed_by(water, points, exhaust, liquid, sat.h_vapour, (entry, flow))


def condensed_by(
    water: Water,
    points: Curve,
    exhaust: tuple[Array, Array],
    liquid: tuple[Array, Array],
    dew_enthalpy: Array,
    stream: tuple[Array, Array],
) -> Condenser:
    """Condense exhaust along the ``points`` of its curve by a given ``stream``: its entry [K], kg per kg of mixture."""
    entry, flow = stream
    h_entry = water.enthalpy(entry)

    def water_at(enthalpy: Array) -> Array:
        return water.temperature(h_entry + np.maximum(enthalpy - liquid[1], 0.0) / flow)

    gap, outlet = points.temperature - water_at(points.enthalpy), water_at(exhaust[1])
    zones = [
        Zone("liquid", points.enthalpy[0] - liquid[1], gap[0], liquid[0] - entry),
        *_pieces(points, np.ones_like(flow), gap),
        Zone("vapour", np.maximum(exhaust[1] - dew_enthalpy, 0.0), exhaust[0] - outlet, gap[-1]),
    ]
    return Condenser(flow, outlet, zones)
