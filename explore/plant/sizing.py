"""Sizing and rating of exchangers made of tubes: length from the duty, or the approach from the length."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from explore.fluids.interface import Array
from explore.fluids.transport import BoundTransport
from explore.plant import tubes as parts
from explore.plant.correlations import drop
from explore.plant.correlations.validity import Excess, worst
from explore.plant.roots import falling_root
from explore.plant.tube_zone import Bundle, Duty, Process, Zone, excess, zone
from explore.plant.tubes import Tubes, Tubing

GUESSED_VELOCITY = 10.0
"""Of vapour in the tubes [m/s]: only where the choice of their number begins."""
COUNT_EXPONENT = 2.8
"""Pressure drop falls with this power of the number of tubes: less mass flux, and less length of each."""
HIGHEST_REDUCED = 0.95
"""Of the critical pressure, at which a limit stands anyway; nearer, laws of boiling grow without end."""
RATING_STEPS = 12
"""Steps to the approach at which a length suffices: against 30 they leave 1e-8 of the pinch over 42 designs with
tubes of 6 m; eight left 8 % of one."""
KINDS = ("liquid", "two_phase", "vapour")


class Sized(NamedTuple):
    """An exchanger that does its duties, each (n,).

    ``number`` tubes side by side of ``length`` [m] each; outside ``area`` [m2]; ``fluid_drop`` and ``water_drop`` [Pa];
    the ``zones`` that do ``duties`` in the ``bundle``.
    """

    number: Array
    length: Array
    area: Array
    fluid_drop: Array
    water_drop: Array
    bundle: Bundle
    duties: list[Duty]
    zones: list[Zone]

    def excess(self) -> Excess:
        """How far the design lies outside the ranges of correlations."""
        return worst(excess(self.bundle, d, z) for d, z in zip(self.duties, self.zones, strict=True))


def mean_coefficients(exchangers: list[Sized]) -> dict[str, Array]:
    """Mean U [W/(m2 K)] on the outside area of several exchangers by kind of zone, empty where none has a zone of it."""
    found = {}
    for kind in KINDS:
        own = [z for one in exchangers for d, z in zip(one.duties, one.zones, strict=True) if d.name == kind]
        area = np.sum([z.area for z in own], axis=0)
        passes = np.sum([z.conductance for z in own], axis=0)
        found[kind] = np.where(area > 0.0, passes / np.where(area > 0.0, area, 1.0), np.nan)
    return found


class Service(NamedTuple):
    """What an exchanger is for: fluid that boils or condenses at a saturation ``temperature`` [K] and ``pressure`` [Pa].

    ``parallel`` lists ``duties`` whose water flows beside that of others and so adds no pressure drop.
    """

    process: Process
    temperature: Array
    pressure: Array
    duties: list[Duty]
    parallel: tuple[int, ...] = ()


def size(
    tubing: Tubing,
    tubes: Tubes,
    bound: BoundTransport,
    service: Service,
    count: Array | None = None,
    guess: Array | None = None,
) -> Sized:
    """Find the length of tubes that do the duties of one exchanger; ``count`` gives their number.

    Without a ``count`` the number is chosen that loses the pressure aimed at; length and area then are those of a
    ``guess``, its drops carried over by their power law, for a caller that sizes again. Properties of the two-phase
    zone and of vapour are those of the service's saturation, of liquid and water at their means.
    """
    process, temperature, pressure, duties, parallel = service
    state = bound.at(temperature)
    reduced = np.minimum(pressure / bound.critical_pressure, HIGHEST_REDUCED)
    if tubes.count:
        number = np.full_like(pressure, float(tubes.count))
    elif count is not None:
        number = count
    else:
        flow = _boiled(duties) / (state.rho_v * GUESSED_VELOCITY * tubes.bore_area)
        number = np.maximum(flow, 1.0) if guess is None else guess
    way = None if tubes.kind == "coil" else parts.shell(tubes, number)
    bundle = Bundle(tubing, tubes, process, bound, state, reduced, number, way)
    sized = _sized(bundle, duties, parallel)
    return _aimed(sized, pressure) if count is None and not tubes.count else sized


def _aimed(tried: Sized, pressure: Array) -> Sized:
    """Change the number of tubes to what loses the pressure aimed at."""
    tubing = tried.bundle.tubing
    lost = np.maximum(
        tried.fluid_drop / (tubing.aimed_drop * pressure), tried.water_drop / tubing.aimed_water_drop
    )
    number = np.maximum(np.ceil(tried.number * lost ** (1.0 / COUNT_EXPONENT)), 1.0)
    less = (tried.number / number) ** COUNT_EXPONENT
    return tried._replace(
        number=number, fluid_drop=tried.fluid_drop * less, water_drop=tried.water_drop * less
    )


def _boiled(duties: list[Duty]) -> Array:
    """Flow [kg/s] that boils or condenses."""
    return np.asarray(np.max([d.fluid_flow for d in duties if d.name == "two_phase"], axis=0))


def _sized(bundle: Bundle, duties: list[Duty], parallel: tuple[int, ...]) -> Sized:
    zones = [zone(bundle, duty) for duty in duties]
    tubes, state = bundle.tubes, bundle.state
    area = np.sum([z.area for z in zones], axis=0)
    mass_flux = _boiled(duties) / (bundle.number * tubes.bore_area)
    ends = drop.local(mass_flux, state.rho_v, bundle.tubing.heads)
    if bundle.process == "boiling":
        ends = ends + drop.acceleration(mass_flux, state)
    water = [z.water_drop for i, z in enumerate(zones) if i not in parallel]
    return Sized(
        bundle.number,
        area / (np.pi * tubes.outside * bundle.number),
        area,
        np.sum([z.fluid_drop for z in zones], axis=0) + ends,
        np.sum(water, axis=0) + _water_ends(bundle, duties),
        bundle,
        duties,
        zones,
    )


def _water_ends(bundle: Bundle, duties: list[Duty]) -> Array:
    flow, way = np.max([d.water_flow for d in duties], axis=0), bundle.way
    if way is None:
        return np.zeros_like(flow)
    water = bundle.bound.water(duties[0].water_temperature)
    return drop.local(flow / (way.streams * way.area), water.rho, bundle.tubing.heads)


def rate(length_at: Callable[[Array], Array], owned: float, low: Array, high: Array, guess: Array) -> Array:
    """Approach [K] at which tubes of an ``owned`` length [m] do their duty, between ``low`` and ``high`` [K].

    ``length_at`` gives the length needed at an approach; it falls as the approach grows, about as its inverse. Where the
    length lies beyond an end, that end.
    """
    return falling_root(
        lambda approach: np.log(length_at(approach) / owned), low, high, guess, -1.0 / guess, RATING_STEPS
    )
