"""What the water of boiler and condenser would read, by area and films: the temperature that just passes the heat.

Everything else of a line is a condition: pressure, flow and ends of the fluid, and the flow of the water or where it ends.
The areas are those of the plant, zones, mean differences and films (:mod:`explore.bench.surfaces`) those by which every
design is sized, so that of one exchanger at one state the two are each other's inverse. Arrays (n,), SI inside.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from explore import units
from explore.bench.columns import Array
from explore.bench.plant import Built
from explore.bench.surfaces import Cooled, Surfaces, Warmed
from explore.cycle.owned import boiler_pinches
from explore.fluids.interface import WorkingFluid
from explore.fluids.water import HIGH_K, LOW_K, Water
from explore.plant import glide
from explore.plant.boiler import Level, coil_zones, return_enthalpy, stratified_zones
from explore.plant.condenser import LEAST_RISE_K, condense
from explore.plant.roots import falling_root

NEAREST_K = 0.02
"""Water nearer to the fluid than this passes no heat that a plant has."""
FARTHEST_K = 150.0
"""Water around a coil is sought so far above the boiling fluid: a tenth of the films that any band holds."""
STEPS = 10
"""Of the root, in logarithms of the difference, where area goes nearly as its inverse: over the bands of films eight leave
2e-3 K, ten 2e-6 K, far below any thermometer."""


def boiler(
    fluid: WorkingFluid, water: Water, plant: Built, surfaces: Surfaces, column: Mapping[str, Array]
) -> Array:
    """Temperature [degC] of the water that enters the boiler, or lies around the coil.

    Vapour leaves dry at ``inlet_temperature``, of the pressure at which it is measured (a throttle keeps its enthalpy),
    or wet at ``inlet_quality``; liquid enters at ``feed_temperature``, else subcooled as the design has it.
    """
    pressure = pressure_of(column, "boiler")
    flow = column["flow_kg_per_h"] / units.SECONDS_PER_HOUR
    level = level_at(fluid, pressure, vapour_of(fluid, pressure, column))
    feed, entering = fed_at(fluid, plant, level, column)
    area = plant.areas["boiler"]
    points = glide.boiling(fluid, level) if fluid.glides else None
    coldest = np.maximum(
        level.temperature, level.exit_temperature
    )  # water is warmer than the vapour it leaves
    if plant.coil:

        def needed(temperature: Array) -> Array:
            if points is None:
                zones = coil_zones(level, temperature, entering, feed)
            else:
                zones = glide.coil_zones(fluid, level, temperature, entering, feed, points)
            return surfaces.coil(level, zones, flow, feed, temperature)

        return units.celsius(_above(coldest, FARTHEST_K, needed, area))
    heat = flow * (level.exit_enthalpy - entering)
    given = litres(column, "hot_water_flow_L_per_h", pressure)
    outlet = units.kelvin(of(column, "hot_water_outlet_temperature_degC", pressure))

    def needed_by_stream(temperature: Array) -> Array:
        h_in = water.enthalpy(temperature)
        passed = water.density(temperature) * given
        left = h_in - water.enthalpy(np.fmin(outlet, temperature - LEAST_RISE_K))
        stream = or_else(passed, heat / left)
        raised = flow / stream
        if points is not None:
            zones = glide.boiler_zones(fluid, water, temperature, level, raised, entering, feed, points)
        else:
            pinches = boiler_pinches(water, temperature, [level], [raised])
            back = water.temperature(return_enthalpy(water, level, pinches[0], raised, entering))
            zones = stratified_zones(water, temperature, back, [level], pinches, [raised], entering, feed)
        return surfaces.boiling(level, zones, Warmed(raised, stream, feed))

    return units.celsius(_above(coldest, HIGH_K - coldest, needed_by_stream, area))


def condenser(
    fluid: WorkingFluid, water: Water, plant: Built, surfaces: Surfaces, column: Mapping[str, Array]
) -> Array:
    """Temperature [degC] of the cooling water that enters the condenser.

    Vapour enters at ``exhaust_temperature``, at its dew point where that lies higher, or wet at ``exhaust_quality``;
    liquid leaves at ``condensate_temperature``, else subcooled as the design has it.
    """
    pressure = pressure_of(column, "condenser")
    flow = column["flow_kg_per_h"] / units.SECONDS_PER_HOUR
    line = fluid.saturation(pressure)
    superheat = np.maximum(units.kelvin(column["exhaust_temperature_degC"]) - line.dew_temperature, 0.0)
    exhaust = fluid.superheated(pressure, superheat)
    cold = units.kelvin(of(column, "condensate_temperature_degC", pressure))
    cold = np.minimum(or_else(cold, line.temperature - plant.subcooling), line.temperature)
    liquid = (cold, fluid.liquid(pressure, cold).enthalpy)
    dew, hot = (line.dew_temperature, line.h_vapour), (line.dew_temperature + superheat, exhaust.enthalpy)
    quality, upper = of(column, "exhaust_quality", pressure), dew[1]
    wet = np.isfinite(quality)
    if wet.any():
        enthalpy = np.where(wet, line.h_liquid + quality * (line.h_vapour - line.h_liquid), hot[1])
        hot = (np.where(wet, fluid.from_enthalpy(pressure, enthalpy).temperature, hot[0]), enthalpy)
        upper = np.where(wet, np.minimum(enthalpy, dew[1]), dew[1])
    given = litres(column, "cooling_water_flow_L_per_h", pressure)
    outlet = units.kelvin(of(column, "cooling_water_outlet_temperature_degC", pressure))
    points = glide.curve(fluid, pressure, line.h_liquid, upper) if fluid.glides else None

    def needed(below: Array) -> Array:
        entry = 2.0 * line.temperature - below  # as far below the dew point as the root lies above it
        h_in = water.enthalpy(entry)
        gained = water.enthalpy(np.fmax(outlet, entry + LEAST_RISE_K)) - h_in
        stream = or_else(water.density(entry) * given, flow * (hot[1] - liquid[1]) / gained)
        if points is not None:
            zones = glide.condensed_by(water, points, hot, liquid, dew[1], (entry, stream / flow)).zones
        else:
            pinched = water.temperature(h_in + (upper - liquid[1]) * flow / stream)
            zones = condense(water, hot, dew, line.h_liquid, liquid, dew[0] - pinched, entry).zones
        return surfaces.condensing(zones, flow, Cooled(pressure, line, cold, hot[0], stream))

    found = _above(line.temperature, line.temperature - LOW_K, needed, plant.areas["condenser"])
    return units.celsius(2.0 * line.temperature - found)


def _above(boiling: Array, farthest: Array | float, needed: Callable[[Array], Array], area: float) -> Array:
    """Temperature [K] above ``boiling`` at which what is needed is the ``area`` [m2]; it falls as that rises."""
    high = np.log(np.maximum(np.broadcast_to(farthest, boiling.shape), 2.0 * NEAREST_K))
    low = np.full_like(boiling, np.log(NEAREST_K))

    def lack(place: Array) -> Array:
        return np.asarray(np.log(needed(boiling + np.exp(place)) / area))

    first = lack(0.5 * (low + high))
    root = falling_root(lack, low, high, 0.5 * (low + high) + first, -1.0, STEPS)
    return np.asarray(boiling + np.exp(root))


def fed_at(
    fluid: WorkingFluid, plant: Built, level: Level, column: Mapping[str, Array]
) -> tuple[Array, Array]:
    """Temperature [K] and enthalpy [J/kg] of the liquid fed to a boiler: as read, else as the design subcools it."""
    pressure = level.pressure
    condensing = fluid.saturation(pressure_of(column, "condenser", pressure)).temperature
    feed = or_else(units.kelvin(of(column, "feed_temperature_degC", pressure)), condensing - plant.subcooling)
    feed = np.minimum(feed, level.temperature)
    return feed, fluid.liquid(pressure, feed).enthalpy


def vapour_of(fluid: WorkingFluid, pressure: Array, column: Mapping[str, Array]) -> Array:
    """Enthalpy [J/kg] of what leaves the boiler."""
    there = pressure_of(column, "inlet", pressure)
    measured = units.kelvin(of(column, "inlet_temperature_degC", pressure))
    superheat = np.nan_to_num(np.maximum(measured - fluid.saturation(there).dew_temperature, 0.0))
    line, quality = fluid.saturation(pressure), of(column, "inlet_quality", pressure)
    wet = line.h_liquid + quality * (line.h_vapour - line.h_liquid)
    return or_else(wet, fluid.superheated(there, superheat).enthalpy)


def level_at(fluid: WorkingFluid, pressure: Array, leaving: Array) -> Level:
    """One boiler at ``pressure`` [Pa] with what its zones ask for; of wet vapour the boiling ends where it leaves.

    ``leaving`` [J/kg] is the enthalpy at its exit, (m,).
    """
    line, none = fluid.saturation(pressure), np.zeros_like(pressure)
    exit_temperature = np.maximum(fluid.from_enthalpy(pressure, leaving).temperature, line.temperature)
    return Level(
        line.temperature, pressure, line.h_liquid, line.s_liquid, line.v_liquid, np.minimum(line.h_vapour, leaving),
        leaving, none, exit_temperature, none, line.temperature, line.dew_temperature,
    )  # fmt: skip


def of(column: Mapping[str, Array], name: str, like: Array) -> Array:
    """Return a column, NaN where it is not there."""
    return column.get(name, np.full_like(like, np.nan))


def pressure_of(column: Mapping[str, Array], where: str, otherwise: Array | None = None) -> Array:
    """Return a pressure [Pa], ``otherwise`` where it was not measured."""
    if otherwise is None:
        return np.asarray(column[f"{where}_pressure_bar_a"] * units.PA_PER_BAR)
    return or_else(of(column, f"{where}_pressure_bar_a", otherwise) * units.PA_PER_BAR, otherwise)


def litres(column: Mapping[str, Array], name: str, like: Array) -> Array:
    """Return a flow of water [m3/s]."""
    return of(column, name, like) / units.L_PER_M3 / units.SECONDS_PER_HOUR


def or_else(one: Array, other: Array) -> Array:
    """Return ``one``, and ``other`` where it is not there."""
    return np.where(np.isnan(one), other, one)
