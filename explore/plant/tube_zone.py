"""One zone of an exchanger made of tubes: liquid, two-phase or vapour inside, water outside.

Along the zone the local balance of films and wall is solved at a few places, so that coefficients that
depend on heat flux or quality are taken where they act.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np

from explore.fluids.interface import Array
from explore.fluids.transport import BoundTransport, Transport, WaterTransport
from explore.plant import tubes as parts
from explore.plant.correlations import drop
from explore.plant.correlations.single_phase import annulus_laminar_friction
from explore.plant.correlations.validity import Excess, outside, worst
from explore.plant.exchange import LEAST_DIFFERENCE_K, log_mean
from explore.plant.tubes import Shell, Tubes, Tubing

Process = Literal["boiling", "condensing"]
PLACES, SHARES = 0.5 * (np.polynomial.legendre.leggauss(3)[0] + 1.0), np.array([5.0, 8.0, 5.0]) / 18.0
"""Gauss's three places of a zone and their weights: exact for what bends like a fifth power along it."""
NEWTON_STEPS = 4
"""Newton's steps to the heat flux through a wall: against 12 they leave nothing of the area (4e-16 over 36 designs),
three 3e-11."""


class Bundle(NamedTuple):
    """The tubes of one exchanger and what goes on in them; arrays (n,).

    ``state`` saturated fluid, ``reduced_pressure`` [-], ``number`` of tubes side by side, ``way`` of the water around
    them, none around a coil in the store.
    """

    tubing: Tubing
    tubes: Tubes
    process: Process
    bound: BoundTransport
    state: Transport
    reduced_pressure: Array
    number: Array
    way: Shell | None


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


class Zone(NamedTuple):
    """One zone that does its duty, each (n,).

    Outside ``area`` [m2], ``conductance`` [W/K] (heat over mean difference), drops [Pa] along the straight tube, and the
    ``places`` at which its balance was solved.
    """

    area: Array
    conductance: Array
    fluid_drop: Array
    water_drop: Array
    places: Places


class Places(NamedTuple):
    """Balance at the places of a zone, (3, n): temperature ``difference`` [K], ``quality`` [-], heat ``flux`` [W/m2]."""

    difference: Array
    quality: Array
    flux: Array


def zone(bundle: Bundle, duty: Duty) -> Zone:
    """Area and pressure drops of one zone, its balance solved at three places."""
    cold = np.maximum(duty.cold_difference, LEAST_DIFFERENCE_K)
    hot = np.maximum(duty.hot_difference, LEAST_DIFFERENCE_K)
    water, fluid = _streams(bundle, duty)
    places = _balance(bundle, duty, water, fluid, cold + PLACES[:, None] * (hot - cold))
    weights = SHARES[:, None] / places.flux
    passed = np.sum(SHARES[:, None] / places.difference, axis=0) / np.sum(weights, axis=0)
    conductance = np.maximum(duty.heat, 0.0) / log_mean(hot, cold)
    area = conductance / (bundle.tubing.films_factor * passed)
    length = area / (np.pi * bundle.tubes.outside * bundle.number)
    return Zone(
        area,
        conductance,
        length * _fluid_gradient(bundle, duty, fluid, places.quality, weights),
        length * _water_gradient(bundle, duty, water),
        places,
    )


def _streams(bundle: Bundle, duty: Duty) -> tuple[WaterTransport, Transport]:
    """Properties of the water and of the fluid: liquid at its mean temperature, else saturated."""
    fluid = bundle.bound.at(duty.fluid_temperature) if duty.name == "liquid" else bundle.state
    return bundle.bound.water(duty.water_temperature), fluid


def mass_flux(bundle: Bundle, duty: Duty) -> Array:
    """Mass flux in each tube [kg/(m2 s)]."""
    return np.maximum(duty.fluid_flow, parts.LEAST_FLOW) / (bundle.number * bundle.tubes.bore_area)


def _balance(
    bundle: Bundle, duty: Duty, water: WaterTransport, fluid: Transport, difference: Array
) -> Places:
    """Solve films and wall for the heat flux that each ``difference`` [K], (3, n), drives."""
    tubing, tubes, way, G = bundle.tubing, bundle.tubes, bundle.way, mass_flux(bundle, duty)
    quality = duty.cold_quality + PLACES[:, None] * (duty.hot_quality - duty.cold_quality)
    outer = (
        parts.still_film(tubes, water)
        if way is None
        else parts.stream_film(way, duty.water_flow, water, tubing.roughness)
    )
    if duty.name != "two_phase":
        inner = parts.one_phase_film(tubes, G, *_phase(duty.name, fluid), tubing.roughness)
    elif bundle.process == "boiling":
        inner = parts.boiling_film(tubing, tubes, bundle.bound, fluid, bundle.reduced_pressure, G, quality)
    else:
        inner = parts.condensing_film(tubes, fluid, bundle.reduced_pressure, G, quality)
    resistance = tubes.wall + tubing.fouling_water + tubing.fouling_fluid * tubes.outside / tubes.inside
    if way is not None and duty.name != "two_phase":  # neither film depends on the flux
        U = 1.0 / (1.0 / outer(difference)[0] + resistance + 1.0 / inner(difference)[0])
        return Places(difference, quality, U * difference)
    return Places(difference, quality, parts.heat_flux(difference, outer, resistance, inner, NEWTON_STEPS))


def _phase(name: str, state: Transport) -> tuple[Array, Array, Array]:
    """Viscosity, conductivity and heat capacity of the single phase of a zone."""
    if name == "liquid":
        return state.mu_l, state.k_l, state.cp_l
    return state.mu_v, state.k_v, state.cp_v


def _fluid_gradient(bundle: Bundle, duty: Duty, fluid: Transport, quality: Array, weights: Array) -> Array:
    """Mean pressure gradient [Pa/m] inside the tubes; ``weights`` tell how much length each place stands for."""
    d, e, G = bundle.tubes.inside, bundle.tubing.roughness, mass_flux(bundle, duty)
    if duty.name == "liquid":
        return drop.gradient(G, fluid.rho_l, fluid.mu_l, d, e)
    if duty.name == "vapour":
        return drop.gradient(G, fluid.rho_v, fluid.mu_v, d, e)
    local = drop.mueller_steinhagen_heck(G, quality, d, fluid, e)
    return np.asarray(np.sum(weights * local, axis=0) / np.sum(weights, axis=0))


def _water_gradient(bundle: Bundle, duty: Duty, water: WaterTransport) -> Array:
    """Pressure gradient [Pa/m] of the water along the tubes; none around a coil in a store."""
    way = bundle.way
    if way is None:
        return np.zeros_like(duty.water_flow)
    G = np.maximum(duty.water_flow, parts.LEAST_FLOW) / (way.streams * way.area)
    laminar = annulus_laminar_friction(way.ratio)
    return drop.gradient(G, water.rho, water.mu, way.hydraulic, bundle.tubing.roughness, laminar)


def excess(bundle: Bundle, duty: Duty, solved: Zone) -> Excess:
    """Tell how far a zone lies outside the ranges of the correlations it uses; nothing where it has no duty."""
    tubing, tubes, way, G = bundle.tubing, bundle.tubes, bundle.way, mass_flux(bundle, duty)
    water, fluid = _streams(bundle, duty)
    places = solved.places
    if way is None:
        found = [parts.still_excess(tubes, water, np.max(places.difference, axis=0))]
    else:
        found = [parts.stream_excess(way, duty.water_flow, water)]
    if duty.name != "two_phase":
        found.append(parts.one_phase_excess(tubes, G, *_phase(duty.name, fluid)))
    else:
        found.append(outside("Mueller-Steinhagen-Heck", mass_flux=G, diameter=np.full_like(G, tubes.inside)))
        p = bundle.reduced_pressure
        if bundle.process == "boiling":
            found.append(parts.boiling_excess(tubing, tubes, bundle.bound, p, G, places.flux))
        else:
            found.append(parts.condensing_excess(tubes, fluid, p, G, places.quality, places.flux))
    used = duty.heat > 0.0
    return {name: np.where(used, beyond, 0.0) for name, beyond in worst(found).items()}
