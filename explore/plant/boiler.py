"""Boilers in series on the hot water (stratified store), or one coil in a fully mixed store."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from explore.fluids.interface import Array
from explore.fluids.water import Water
from explore.plant.exchange import zone_area


class Level(NamedTuple):
    """One boiler: evaporating temperature [K], pressure [Pa], bubble, dew and exit enthalpies [J/kg], each (n,).

    ``temperature`` is that of the bubble point, where boiling starts; ``dew_temperature`` [K], where it ends, is
    the same for a pure fluid and higher for a mixture.

    ``exit_temperature`` [K], ``exit_entropy`` [J/(kg K)] of the vapour that leaves; ``bubble_volume``
    [m3/kg] and ``bubble_entropy`` of the saturated liquid; ``lift_work`` [J/kg] pumps liquid of this
    level up to the next hotter one (zero for the hottest) and leaves it at ``lifted_temperature`` [K].
    """

    temperature: Array
    pressure: Array
    bubble_enthalpy: Array
    bubble_entropy: Array
    bubble_volume: Array
    dew_enthalpy: Array
    exit_enthalpy: Array
    exit_entropy: Array
    exit_temperature: Array
    lift_work: Array
    lifted_temperature: Array
    dew_temperature: Array


def flows(water: Water, top_temperature: Array, levels: list[Level], pinch: Array) -> list[Array]:
    """Vapour raised by each boiler [kg per kg of hot water], from the hottest down; each (n,).

    The pinch stands at the bubble point of each level: top m_1 (h_exit,1 - h_b,1) =
    h_w(T_top) - h_w(T_e1 + pinch); below it the water between two pinches warms the liquid that goes on to
    the hotter boilers and boils m_i. A negative m_i is returned as it is, for the caller to judge. ``top_temperature`` [K]
    and ``pinch`` [K], (n,).
    Source: energy balances between pinches (model, sections 3 and 3b).
    """
    raised: list[Array] = []
    passed = np.zeros_like(top_temperature)
    above = water.enthalpy(top_temperature)
    for i, level in enumerate(levels):
        below = water.enthalpy(level.temperature + pinch)
        heat = above - below
        if i:
            heat = heat - passed * (levels[i - 1].bubble_enthalpy - level.bubble_enthalpy - level.lift_work)
        raised.append(heat / (level.exit_enthalpy - level.bubble_enthalpy))
        passed = passed + raised[-1]
        above = below
    return raised


def return_enthalpy(
    water: Water, coldest: Level, pinch: Array, total_flow: Array, feed_enthalpy: Array
) -> Array:
    """Enthalpy [J/kg] of the water that leaves the economiser of the coldest boiler."""
    return water.enthalpy(coldest.temperature + pinch) - total_flow * (
        coldest.bubble_enthalpy - feed_enthalpy
    )


class Zone(NamedTuple):
    """One zone of an exchanger: heat [J per kg of water or of fluid], its U key and its end differences [K]."""

    name: str
    heat: Array
    hot_difference: Array
    cold_difference: Array


def stratified_zones(
    water: Water,
    top_temperature: Array,
    return_temperature: Array,
    levels: list[Level],
    pinches: Sequence[Array],
    raised: list[Array],
    feed_enthalpy: Array,
    feed_temperature: Array,
) -> list[Zone]:
    """Zones of all boilers, heat per kg of hot water; each has a pinch [K] of its own.

    Between two levels the water divides between the economiser of the hotter level and the boiler of the
    colder one; both streams leave at T_e,i + pinch.
    """
    zones: list[Zone] = []
    entry, passed = top_temperature, np.zeros_like(top_temperature)
    for i, level in enumerate(levels):
        flow, bubble_water = np.maximum(raised[i], 0.0), level.temperature + pinches[i]
        if i:
            heat = passed * (levels[i - 1].bubble_enthalpy - level.bubble_enthalpy - level.lift_work)
            zones.append(Zone("liquid", heat, pinches[i - 1], bubble_water - level.lifted_temperature))
        zones.extend(_boiling(water, level, flow, entry, bubble_water))
        passed, entry = passed + flow, bubble_water
    heat = passed * (levels[-1].bubble_enthalpy - feed_enthalpy)
    zones.append(Zone("liquid", heat, pinches[-1], return_temperature - feed_temperature))
    return zones


def _boiling(water: Water, level: Level, flow: Array, entry: Array, leaving: Array) -> list[Zone]:
    """Boiling and superheating zones of one level; its water runs from ``entry`` to ``leaving``."""
    superheat = level.exit_temperature - level.temperature
    heat_boil = flow * (level.exit_enthalpy - level.bubble_enthalpy)
    heat_vapour = np.where(superheat > 0, flow * (level.exit_enthalpy - level.dew_enthalpy), 0.0)
    between = water.temperature(
        water.enthalpy(entry)
        - (water.enthalpy(entry) - water.enthalpy(leaving)) * heat_vapour / np.maximum(heat_boil, 1e-9)
    )
    return [
        Zone("vapour", heat_vapour, entry - level.exit_temperature, between - level.temperature),
        Zone("two_phase", heat_boil - heat_vapour, between - level.temperature, leaving - level.temperature),
    ]


def coil_zones(
    level: Level, store_temperature: Array, feed_enthalpy: Array, feed_temperature: Array
) -> list[Zone]:
    """Zones of a coil in a fully mixed store, heat [J per kg of working fluid]; the water is isothermal.

    ``store_temperature`` [K], ``feed_enthalpy`` [J/kg] and ``feed_temperature`` [K], (n,).
    """
    approach = store_temperature - level.temperature
    return [
        Zone("liquid", level.bubble_enthalpy - feed_enthalpy, store_temperature - feed_temperature, approach),
        Zone("two_phase", level.dew_enthalpy - level.bubble_enthalpy, approach, approach),
        Zone(
            "vapour",
            level.exit_enthalpy - level.dew_enthalpy,
            approach,
            store_temperature - level.exit_temperature,
        ),
    ]


def area(zones: list[Zone], flow: Array, coefficients: dict[str, float]) -> Array:
    """Area [m2] of zones passed by ``flow`` [kg/s] of the stream their heat is counted on."""
    parts = [
        zone_area(z.heat * flow, coefficients[z.name], z.hot_difference, z.cold_difference) for z in zones
    ]
    return np.asarray(np.sum(parts, axis=0))
