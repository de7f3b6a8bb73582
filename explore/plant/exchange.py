"""Heat exchange between two streams: mean temperature difference, area of a zone, regenerator."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from explore.fluids.interface import Array, Liquid, Vapour, WorkingFluid

LEAST_DIFFERENCE_K = 0.05
"""A closer approach counts as this one: a design that breaks its pinch gets a large area, a hundred times that at 5
K, and no negative one."""


def log_mean(one: Array, other: Array) -> Array:
    """Logarithmic mean of two end temperature differences [K].

    Equal ends give that difference, without 0/0. A difference below 0.05 K counts as 0.05 K, so that a
    design that breaks its pinch gets a large area, not a negative one. Source: any heat-transfer text,
    e.g. Bergman et al., Fundamentals of Heat and Mass Transfer, ch. 11.

    >>> float(np.round(log_mean(np.array([59.8]), np.array([30.0])), 4)[0])
    43.2004
    """
    a, b = np.maximum(one, LEAST_DIFFERENCE_K), np.maximum(other, LEAST_DIFFERENCE_K)
    ratio = np.log(a / b)
    near = np.abs(ratio) < 1e-6
    return np.where(near, 0.5 * (a + b), (a - b) / np.where(near, 1.0, ratio))


def zone_area(heat: Array, coefficient: float, one: Array, other: Array) -> Array:
    """Area [m2] that passes ``heat`` [W] at U [W/(m2 K)] between end differences [K]; none for no heat."""
    return np.maximum(heat, 0.0) / (coefficient * log_mean(one, other))


class Regenerator(NamedTuple):
    """Heat from exhaust vapour to feed, per kg: heat [J/kg], enthalpies behind it, end differences [K].

    ``feed`` and ``warmed`` are the states of the feed before and behind it. Where
    none is ``fitted`` all passes on as it is.
    """

    heat: Array
    feed_enthalpy: Array
    exhaust_enthalpy: Array
    hot_difference: Array
    cold_difference: Array
    feed: Liquid
    warmed: Liquid
    fitted: NDArray[np.bool_]


class FeedSide(NamedTuple):
    """What a regenerator knows before its exhaust, each (n,).

    ``enthalpy`` [J/kg] and ``pressure`` [Pa] of the feed, the temperature ``boiling`` [K] that it may not pass, and the
    ``coldest`` enthalpy [J/kg] to which it can cool the exhaust.
    """

    enthalpy: Array
    pressure: Array
    boiling: Array
    coldest: Array


def feed_side(
    fluid: WorkingFluid, condenser_pressure: Array, feed: tuple[Array, Array], feed_pressure: Array
) -> FeedSide:
    """Look up what bounds a regenerator whatever the exhaust; ``feed`` is (T_f [K], h_f [J/kg]), pressures in Pa."""
    dew = fluid.saturation(condenser_pressure).dew_temperature
    coldest = fluid.superheated(condenser_pressure, np.maximum(feed[0] - dew, 0.0))
    return FeedSide(feed[1], feed_pressure, fluid.saturation(feed_pressure).temperature, coldest.enthalpy)


def regenerated_heat(fluid: WorkingFluid, effectiveness: Array, exhaust: Vapour, feed: FeedSide) -> Array:
    """Heat [J/kg] that exhaust vapour gives to the ``feed`` of temperature T_f and enthalpy h_f.

    q = effectiveness * min(h_exhaust - h(p_c, T_f or dew), h(p_e, T_exhaust) - h_f), never negative. The feed
    stays liquid: where the exhaust is hotter than the bubble point of the boiler that is fed, the bubble point
    is the limit.
    Source: definition of effectiveness, Kays and London, Compact Heat Exchangers (M).
    """
    hottest = fluid.liquid(feed.pressure, exhaust.temperature, feed.boiling)
    limit = np.minimum(exhaust.enthalpy - feed.coldest, hottest.enthalpy - feed.enthalpy)
    return np.asarray(effectiveness * np.maximum(limit, 0.0))


def regenerate(
    fluid: WorkingFluid,
    effectiveness: Array,
    exhaust_enthalpy: Array,
    condenser_pressure: Array,
    feed_enthalpy: Array,
    feed_pressure: Array,
    feed: Liquid | None = None,
) -> Regenerator:
    """Warm the feed with the exhaust vapour by :func:`regenerated_heat`; ``feed`` is its state, where it is known.

    ``effectiveness`` [-], enthalpies [J/kg] and pressures [Pa], (n,).
    """
    feed = feed or fluid.liquid_from_enthalpy(feed_pressure, feed_enthalpy)
    exhaust = fluid.from_enthalpy(condenser_pressure, exhaust_enthalpy)
    cold = feed_side(fluid, condenser_pressure, (feed.temperature, feed_enthalpy), feed_pressure)
    heat = regenerated_heat(fluid, effectiveness, exhaust, cold)
    warmed = fluid.liquid_from_enthalpy(feed_pressure, feed_enthalpy + heat)
    cooled = fluid.from_enthalpy(condenser_pressure, exhaust_enthalpy - heat)
    return Regenerator(
        heat,
        feed_enthalpy + heat,
        exhaust_enthalpy - heat,
        exhaust.temperature - warmed.temperature,
        cooled.temperature - feed.temperature,
        feed,
        warmed,
        effectiveness > 0.0,
    )


def without_regenerator(feed: Liquid, feed_enthalpy: Array, exhaust_enthalpy: Array) -> Regenerator:
    """A plant that has none: feed and exhaust [J/kg] pass unchanged, and no area is needed."""
    none, some = np.zeros_like(feed_enthalpy), np.ones_like(feed_enthalpy)
    return Regenerator(none, feed_enthalpy, exhaust_enthalpy, some, some, feed, feed, none > 0.0)
