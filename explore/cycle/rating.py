"""Rating: what approach tubes at hand reach, at the flows of a design.

Flows of fluid and water and the states in which both enter stay those of the design; the boiling or condensing
temperature moves until the length needed is the length there is.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from explore.cycle.duties import condenser_duties
from explore.cycle.source import Source
from explore.cycle.supply import Machine, Settings, boiler_levels
from explore.fluids.interface import Array, WorkingFluid
from explore.fluids.transport import BoundTransport
from explore.fluids.water import Water
from explore.plant.circuit import Cycle
from explore.plant.condenser import condense
from explore.plant.sizing import Service, Sized, rate, size
from explore.plant.tubes import Tubing

LEAST_APPROACH_K, WIDEST_APPROACH_K = 0.1, 60.0
"""Between these an approach is sought: closer no length suffices, and further off a design is lost anyway."""


class Rating(NamedTuple):
    """Whose tubes are rated: a design's ``cycle`` at a ``flow`` [kg/s] of working fluid, heated by ``source``.

    ``bound`` holds the transport properties of the designs' fluids; ``settings`` are the design's own.
    """

    tubing: Tubing
    bound: BoundTransport
    fluid: WorkingFluid
    water: Water
    machine: Machine
    settings: Settings
    source: Source
    cycle: Cycle
    flow: Array


def pinches(rating: Rating) -> tuple[Array, Array]:
    """Pinch [K] that boiler (or coil) and condenser of given length reach; empty without a length.

    Several pressure levels share the water in a way that one approach does not describe: empty too.
    """
    none = np.full_like(rating.flow, np.nan)
    tubing, settings, source, levels = rating.tubing, rating.settings, rating.source, rating.cycle.levels
    own = source.pick(tubing.boiler, tubing.coil)
    boiling, condensing = none, none
    if np.isfinite(own.length) and len(levels) == 1:
        start = source.entering - levels[0].temperature
        boiling = _solve(_boiler(rating), own.length, settings.superheat, start)
    if np.isfinite(tubing.condenser.length):
        start = settings.condensing_temperature - rating.machine.cooling_water_temperature
        condensing = _solve(_condenser(rating), tubing.condenser.length, np.zeros_like(none), start)
    return boiling, condensing


def _solve(build: Callable[[Array], tuple[Sized, Array]], length: float, least: Array, start: Array) -> Array:
    """Find the distance [K] of the phase change from the entering water at which the length suffices; the pinch there.

    The search begins at the design's own distance ``start``.
    """
    low = least + LEAST_APPROACH_K
    high = np.full_like(low, WIDEST_APPROACH_K)
    distance = rate(lambda d: build(d)[0].length, length, low, high, np.clip(start, low, high))
    return build(distance)[1]


def _boiler(rating: Rating) -> Callable[[Array], tuple[Sized, Array]]:
    """Boiler or coil whose fluid boils a distance [K] below the entering water; also its pinch [K]."""
    tubing, bound, fluid, water, machine, settings, source, cycle, flow = rating
    tubes = source.pick(tubing.boiler, tubing.coil)
    number = None if cycle.drops is None else cycle.drops.boiler_counts[0]

    def at(distance: Array) -> tuple[Sized, Array]:
        level = boiler_levels(fluid, [source.entering - distance], settings.superheat, machine.feed_pump)[0]
        pinch, duties = source.rated(water, level, cycle, flow, distance)
        service = Service("boiling", level.temperature, level.pressure, duties)
        return size(tubing, tubes, bound, service, count=number), pinch

    return at


def _condenser(rating: Rating) -> Callable[[Array], tuple[Sized, Array]]:
    """Condenser whose fluid condenses a distance [K] above the entering water; also its pinch [K]."""
    tubing, bound, fluid, water, machine, settings, _, cycle, flow = rating
    cold = np.full_like(flow, machine.cooling_water_temperature)
    h_cold, m_water = water.enthalpy(cold), cycle.condenser.water_flow
    entering = cycle.into_condenser
    number = None if cycle.drops is None else cycle.drops.condenser_count

    def at(distance: Array) -> tuple[Sized, Array]:
        T = cold + distance
        p = fluid.saturation_pressure(T)
        sat, liquid = fluid.saturation(p), fluid.liquid(p, np.maximum(T - settings.subcooling, cold))
        upper = np.minimum(entering, sat.h_vapour)
        pinch = T - water.temperature(h_cold + (upper - liquid.enthalpy) / m_water)
        exhaust = (fluid.from_enthalpy(p, entering).temperature, entering)
        done = condense(
            water,
            exhaust,
            (T, sat.h_vapour),
            sat.h_liquid,
            (liquid.temperature, liquid.enthalpy),
            pinch,
            cold,
        )
        duties = condenser_duties(sat, done.zones, liquid.temperature, exhaust[0], m_water, flow)
        service = Service("condensing", T, p, duties)
        return size(tubing, tubing.condenser, bound, service, count=number), pinch

    return at
