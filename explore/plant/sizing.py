"""Sizing and rating of exchangers made of tubes: length from the duty, or the approach from the length.

Along each zone the local balance of films and wall is solved at a few places, so that coefficients that
depend on heat flux or quality are taken where they act.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, NamedTuple

import numpy as np

from explore.fluids.interface import Array
from explore.fluids.transport import BoundTransport, Transport, WaterTransport
from explore.plant import tubes as parts
from explore.plant.correlations import drop
from explore.plant.correlations.single_phase import annulus_laminar_friction
from explore.plant.correlations.validity import Margins, outside, worst
from explore.plant.exchange import LEAST_DIFFERENCE_K, log_mean
from explore.plant.tubes import Shell, Tubes, Tubing

Process = Literal["boiling", "condensing"]
PLACES, SHARES = 0.5 * (np.polynomial.legendre.leggauss(3)[0] + 1.0), np.array([5.0, 8.0, 5.0]) / 18.0
NEWTON_STEPS = 6
RATING_STEPS = 32
KINDS = ("liquid", "two_phase", "vapour")


class Duty(NamedTuple):
    """What one zone of an exchanger has to do, each (n,).

    ``name`` liquid, two_phase or vapour; ``heat`` [W]; difference to the water [K] at the zone's hot and cold end;
    ``fluid_flow``, ``water_flow`` [kg/s]; mean ``fluid_temperature`` and ``water_temperature`` [K]; vapour's
    share ``quality`` [-] at the cold and the hot end of a two-phase zone.
    """

    name: str
    heat: Array
    hot_difference: Array
    cold_difference: Array
    fluid_flow: Array
    water_flow: Array
    fluid_temperature: Array
    water_temperature: Array
    cold_quality: Array | float = 0.0
    hot_quality: Array | float = 1.0


class Sized(NamedTuple):
    """An exchanger that does its duties, each (n,).

    ``count`` tubes side by side of ``length`` [m] each; outside ``area`` [m2]; by kind of zone its area and its
    ``conductances`` [W/K], heat over mean difference; ``fluid_drop`` and ``water_drop`` [Pa]; ``margins`` of validity.
    """

    count: Array
    length: Array
    area: Array
    zone_areas: dict[str, Array]
    conductances: dict[str, Array]
    fluid_drop: Array
    water_drop: Array
    margins: Margins


class _Zone(NamedTuple):
    area: Array
    conductance: Array
    fluid_drop: Array
    water_drop: Array
    margins: Margins


def size(
    tubing: Tubing,
    tubes: Tubes,
    process: Process,
    bound: BoundTransport,
    saturation_temperature: Array,
    reduced_pressure: Array,
    duties: list[Duty],
    parallel: tuple[int, ...] = (),
    count: Array | None = None,
) -> Sized:
    """Find number and length of tubes that do the ``duties`` of one exchanger; ``count`` gives the number.

    ``parallel`` lists duties whose water flows beside that of others and so adds no pressure drop. Properties of the
    two-phase zone and of vapour are those at the saturation temperature [K], of liquid and water at their means.
    """
    state = bound.at(saturation_temperature)
    boiled = [d.fluid_flow for d in duties if d.name == "two_phase"]
    if count is None:
        vapour = np.max(boiled, axis=0) / state.rho_v
        water = np.max([d.water_flow for d in duties], axis=0) / parts.WATER_DENSITY
        count = parts.tube_count(tubing, tubes, vapour, water)
    way = None if tubes.kind == "coil" else parts.shell(tubes, count)
    zones = [
        _zone(tubing, tubes, process, bound, state, reduced_pressure, count, way, duty) for duty in duties
    ]
    area = np.sum([z.area for z in zones], axis=0)
    mass_flux = np.max(boiled, axis=0) / (count * tubes.bore_area)
    ends = drop.local(mass_flux, state.rho_v, tubing.heads)
    if process == "boiling":
        ends = ends + drop.acceleration(mass_flux, state)
    fluid_drop = np.sum([z.fluid_drop for z in zones], axis=0) + ends
    water = [z.water_drop for i, z in enumerate(zones) if i not in parallel]
    return Sized(
        count,
        area / (np.pi * tubes.outside * count),
        area,
        _by_kind(duties, [z.area for z in zones]),
        _by_kind(duties, [z.conductance for z in zones]),
        fluid_drop,
        np.sum(water, axis=0) + _water_ends(tubing, bound, way, duties),
        worst(z.margins for z in zones),
    )


def _water_ends(tubing: Tubing, bound: BoundTransport, way: Shell | None, duties: list[Duty]) -> Array:
    flow = np.max([d.water_flow for d in duties], axis=0)
    if way is None:
        return np.zeros_like(flow)
    water = bound.water(duties[0].water_temperature)
    return drop.local(flow / (way.streams * way.area), water.rho, tubing.heads)


def _by_kind(duties: list[Duty], values: list[Array]) -> dict[str, Array]:
    """Sum values of all zones of a kind."""
    none = np.zeros_like(values[0])
    return {
        kind: np.sum([none, *(v for d, v in zip(duties, values, strict=True) if d.name == kind)], axis=0)
        for kind in KINDS
    }


def _zone(
    tubing: Tubing,
    tubes: Tubes,
    process: Process,
    bound: BoundTransport,
    state: Transport,
    reduced_pressure: Array,
    count: Array,
    way: Shell | None,
    duty: Duty,
) -> _Zone:
    """Area and pressure drops of one zone, its balance solved at three places."""
    heat = np.maximum(duty.heat, 0.0)
    cold = np.maximum(duty.cold_difference, LEAST_DIFFERENCE_K)
    hot = np.maximum(duty.hot_difference, LEAST_DIFFERENCE_K)
    difference = cold + PLACES[:, None] * (hot - cold)
    water = bound.water(duty.water_temperature)
    G = np.maximum(duty.fluid_flow, parts.LEAST_FLOW) / (count * tubes.bore_area)
    spread = tubes.outside / tubes.inside
    resistance = tubes.wall + tubing.fouling_water + tubing.fouling_fluid * spread
    margins: list[Margins] = []

    if way is None:
        outer = parts.still_film(tubes, water)
    else:
        outer, found = parts.stream_film(way, duty.water_flow, water, tubing.roughness)
        margins.append(found)
    quality = duty.cold_quality + PLACES[:, None] * (duty.hot_quality - duty.cold_quality)
    if duty.name == "two_phase":
        if process == "boiling":
            inner = parts.boiling_film(tubing, tubes, bound, state, reduced_pressure, G, quality)
        else:
            inner = parts.condensing_film(tubes, state, reduced_pressure, G, quality)
    else:
        liquid = bound.at(duty.fluid_temperature) if duty.name == "liquid" else state
        mu, k, cp = _phase(duty.name, liquid)
        inner, found = parts.one_phase_film(tubes, G, mu, k, cp, tubing.roughness)
        margins.append(found)

    steps = 1 if way is not None and duty.name != "two_phase" else NEWTON_STEPS
    flux = parts.heat_flux(difference, outer, resistance, inner, steps)
    if way is None:
        margins.append(parts.still_margins(tubes, water, np.max(difference, axis=0)))
    if duty.name == "two_phase":
        if process == "boiling":
            margins.append(parts.boiling_margins(tubing, tubes, bound, reduced_pressure, G, flux))
        else:
            margins.append(parts.condensing_margins(tubes, state, reduced_pressure, G, quality, flux))
        margins.append(
            outside("mueller_steinhagen_heck", mass_flux=G, diameter=np.full_like(G, tubes.inside))
        )

    mean = log_mean(hot, cold)
    weights = SHARES[:, None] / flux
    ideal = np.sum(SHARES[:, None] / difference, axis=0)
    coefficient = ideal / np.sum(weights, axis=0)
    area = heat / (coefficient * mean)
    length = area / (np.pi * tubes.outside * count)
    fluid_drop = length * _fluid_gradient(duty.name, tubing, tubes, state, bound, duty, G, quality, weights)
    used = heat > 0.0
    return _Zone(
        area,
        heat / mean,
        fluid_drop,
        length * _water_gradient(tubing, way, water, duty.water_flow),
        {name: np.where(used, margin, np.nan) for name, margin in worst(margins).items()},
    )


def _phase(name: str, state: Transport) -> tuple[Array, Array, Array]:
    """Viscosity, conductivity and heat capacity of the single phase of a zone."""
    if name == "liquid":
        return state.mu_l, state.k_l, state.cp_l
    return state.mu_v, state.k_v, state.cp_v


def _fluid_gradient(
    name: str,
    tubing: Tubing,
    tubes: Tubes,
    state: Transport,
    bound: BoundTransport,
    duty: Duty,
    G: Array,
    quality: Array,
    weights: Array,
) -> Array:
    """Mean pressure gradient [Pa/m] inside the tubes; ``weights`` tell how much length each place stands for."""
    d, e = tubes.inside, tubing.roughness
    if name == "liquid":
        liquid = bound.at(duty.fluid_temperature)
        return drop.gradient(G, liquid.rho_l, liquid.mu_l, d, e)
    if name == "vapour":
        return drop.gradient(G, state.rho_v, state.mu_v, d, e)
    local = drop.mueller_steinhagen_heck(G, quality, d, state, e)
    return np.asarray(np.sum(weights * local, axis=0) / np.sum(weights, axis=0))


def _water_gradient(tubing: Tubing, way: Shell | None, water: WaterTransport, flow: Array) -> Array:
    """Pressure gradient [Pa/m] of the water along the tubes; none around a coil in a store."""
    if way is None:
        return np.zeros_like(flow)
    G = np.maximum(flow, parts.LEAST_FLOW) / (way.streams * way.area)
    laminar = annulus_laminar_friction(way.ratio)
    return drop.gradient(G, water.rho, water.mu, way.hydraulic, tubing.roughness, laminar)


def rate(length_at: Callable[[Array], Array], owned: Array | float, low: Array, high: Array) -> Array:
    """Approach [K] at which tubes of an ``owned`` length [m] do their duty.

    ``length_at`` gives the length needed at an approach; it falls as the approach grows. Bisection between ``low`` and
    ``high`` [K], a fixed number of halvings (3e-10 of the span); an end where the length lies beyond it.
    """
    low, high = np.array(low, dtype=float), np.array(high, dtype=float)
    for _ in range(RATING_STEPS):
        middle = 0.5 * (low + high)
        short = length_at(middle) > owned
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return np.asarray(0.5 * (low + high))
