"""What goes to and fro: the mass of piston and rod, as assumed or weighed, and the forces that it makes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from explore.bench import crank, sizes

Array = NDArray[np.float64]
ALUMINIUM = 2700.0
"""Density of an aluminium piston [kg/m3], handbook value from memory."""
STEEL = 7850.0
"""Density of a steel rod [kg/m3], handbook value from memory."""
PISTON_HEIGHT = 0.5
"""Height of a piston in bores, as it is drawn; assumption of this project."""
PISTON_SOLID = 0.6
"""Share of that block that is metal, rings and pin with it; assumption of this project."""
ROD_THICKNESS = 0.15
"""Diameter of a round rod in bores; assumption of this project."""
ROD_SHARE = 1.0 / 3.0
"""Share of a rod's mass that counts as going to and fro; common practice, no source."""


def assumed_mass(bore: float, rod: float) -> float:
    """Mass [kg] that goes to and fro in a cylinder of ``bore`` [m] with a rod of length ``rod`` [m]: an assumption.

    An aluminium piston half a bore high, six tenths of it metal, and a third of a round steel rod.
    """
    piston = ALUMINIUM * PISTON_SOLID * sizes.piston_area(bore) * PISTON_HEIGHT * bore
    return piston + ROD_SHARE * STEEL * sizes.piston_area(ROD_THICKNESS * bore) * rod


def force(mass: float, stroke: float, speed: float, angle: Array, ratio: float) -> Array:
    """Force [N] with which a mass [kg] pulls the crank away from the cylinder's head, at crank ``angle`` [rad].

    F = -m d2x/dt2 with x counted from the top, speed w [rad/s]: at the top m r w^2 (1 + r/L) towards the head, negative.
    """
    return np.asarray(-mass * stroke * speed**2 * crank.bend(angle, ratio))


def torque(mass: float, stroke: float, speed: float, angle: Array, ratio: float) -> Array:
    """Torque [N m] of that force at the crank; its mean over a turn is nought."""
    return force(mass, stroke, speed, angle, ratio) * stroke * crank.lever(angle, ratio)


def greatest(mass: float, stroke: float, speed: float, ratio: float) -> float:
    """Greatest force [N] of a mass [kg] over a turn: m r w^2 (1 + r/L), at the top.

    >>> round(greatest(2.0, 0.1, 10.0, 4.0), 6)
    12.5
    """
    return mass * 0.5 * stroke * speed**2 * (1.0 + 1.0 / ratio)
