"""The slider-crank: piston travel over the crank's angle, angles of valve events, and the torque of a pressure.

Angles count from top dead centre, in radians; ``ratio`` is connecting-rod length over crank radius, L/r, above 1. The
relations follow from the triangle of crank, rod and cylinder axis; they stand in any textbook of machine dynamics.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
HALVINGS = 60
"""Bisections of half a turn: the angle is then exact to the last bit of a double."""


def travel(angle: Array, ratio: float) -> Array:
    """Piston travel from top dead centre over the stroke [-], any shape.

    x/S = (1 - cos a + L/r - sqrt((L/r)^2 - sin^2 a)) / 2, from the triangle of crank and rod.
    """
    return np.asarray(0.5 * (1.0 - np.cos(angle) + ratio - np.sqrt(ratio**2 - np.sin(angle) ** 2)))


def lever(angle: Array, ratio: float) -> Array:
    """Torque over piston force over stroke [-], any shape: d(x/S)/da, by virtual work.

    d(x/S)/da = sin a / 2 (1 + cos a / sqrt((L/r)^2 - sin^2 a)).
    """
    sine, cosine = np.sin(angle), np.cos(angle)
    return np.asarray(0.5 * sine * (1.0 + cosine / np.sqrt(ratio**2 - sine**2)))


def bend(angle: Array, ratio: float) -> Array:
    """Piston acceleration over stroke and square of the crank's speed [-], any shape: d2(x/S)/da2.

    d2(x/S)/da2 = (cos a + (cos 2a (L/r)^2 + sin^4 a)/((L/r)^2 - sin^2 a)^(3/2)) / 2; textbooks stop at
    (cos a + cos 2a/(L/r)) / 2, its first terms for a long rod.
    """
    sine, cosine = np.sin(angle), np.cos(angle)
    rod = ratio**2 - sine**2
    return np.asarray(0.5 * (cosine + ((cosine**2 - sine**2) * ratio**2 + sine**4) / rod**1.5))


def angle_of(share: Array, ratio: float) -> Array:
    """Crank angle [rad], 0..pi, at which the piston has gone ``share`` (0..1) of its stroke; inverts :func:`travel`."""
    share = np.clip(np.asarray(share, dtype=float), 0.0, 1.0)
    low, high = np.zeros_like(share), np.full_like(share, np.pi)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        short = travel(middle, ratio) < share
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return np.asarray(0.5 * (low + high))


def pressure_over_turn(volume: Array, pressure: Array, angle: Array, ratio: float) -> Array:
    """Pressure in a cylinder at each crank ``angle`` [rad], in the unit of ``pressure``.

    ``volume``, ``pressure`` (n,) are a closed indicator loop from top dead centre out and back, as
    :func:`explore.model.dissect.dissect` gives it; between its points the pressure is linear in the volume.
    """
    full = int(np.flatnonzero(volume == np.max(volume))[0])
    turned = np.mod(angle, 2.0 * np.pi)
    at = np.min(volume) + (np.max(volume) - np.min(volume)) * travel(turned, ratio)
    out = np.interp(at, volume[: full + 1], pressure[: full + 1])
    start = full + 1 if volume[full + 1] == volume[full] else full
    back = np.interp(at, volume[start:][::-1], pressure[start:][::-1])
    return np.asarray(np.where(turned < np.pi, out, back))
