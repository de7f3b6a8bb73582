"""The insulated hot-water store: shape, heat loss, and what a holding time costs."""

from __future__ import annotations

import numpy as np

from explore.fluids.interface import Array


def radius(volume: Array) -> Array:
    """Inner radius [m] of a cylinder of ``volume`` [m3] whose height is two diameters: V = 4 pi r^3."""
    return np.asarray((volume / (4.0 * np.pi)) ** (1.0 / 3.0))


def loss_coefficient(
    volume: Array,
    insulation: Array,
    conductivity: float,
    outside_film: float,
    fittings: float,
    joints: float = 1.0,
) -> Array:
    """Heat loss UA [W/K] of the store.

    ``insulation`` thickness [m], ``conductivity`` [W/(m K)], ``outside_film`` [W/(m2 K)], ``fittings`` [W/K]. Shell:
    cylindrical layers in series, ln(r2/r1)/(2 pi k H) (Bergman et al., Fundamentals of Heat and Mass
    Transfer, ch. 3); both ends: plane walls of radius r1; ``joints`` [-] is what gaps and damp make of both (judgement).
    """
    r1 = radius(volume)
    r2, height = r1 + insulation, 4.0 * r1
    shell = np.log(r2 / r1) / (2 * np.pi * conductivity * height) + 1.0 / (
        outside_film * 2 * np.pi * r2 * height
    )
    ends = 2 * np.pi * r1**2 / (insulation / conductivity + 1.0 / outside_film)
    return np.asarray(joints * (1.0 / shell + ends) + fittings)


def insulation_volume(volume: Array, insulation: Array) -> Array:
    """Volume [m3] of insulation on shell and both ends, corners included."""
    r1 = radius(volume)
    r2 = r1 + insulation
    return np.asarray(np.pi * (r2**2 * (4.0 * r1 + 2.0 * insulation) - r1**2 * 4.0 * r1))


def held_fraction(
    loss: Array,
    top_temperature: Array,
    room_temperature: Array | float,
    seconds: float,
    mass: Array,
    heat: Array,
) -> Array:
    """Share of a stratified store still hot after standing: exp(-UA (T_top - T_room) t / (m q)).

    ``loss`` UA [W/K], ``mass`` m [kg], ``heat`` q [J/kg] drawn from a kg of hot water.
    """
    return np.asarray(np.exp(-loss * (top_temperature - room_temperature) * seconds / (mass * heat)))


def held_temperature(
    loss: Array,
    top_temperature: Array,
    room_temperature: Array | float,
    seconds: Array | float,
    capacity: Array,
) -> Array:
    """Temperature [K] of a fully mixed store after standing: lumped cooling, ``capacity`` m c [J/K]."""
    return np.asarray(
        room_temperature + (top_temperature - room_temperature) * np.exp(-loss * seconds / capacity)
    )
