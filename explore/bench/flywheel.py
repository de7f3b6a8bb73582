"""The flywheel that keeps a turn even enough."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def swing(torque: Array) -> float:
    """Energy [J] that a flywheel takes up and gives back in a turn against a steady load.

    ``torque`` [N m] (n,) at equal steps of one turn; greatest less least of the integral of torque less its mean.
    """
    step = 2.0 * np.pi / len(torque)
    stored = np.cumsum((torque - np.mean(torque)) * step)
    return float(np.ptp(np.concatenate([[0.0], stored])))


def inertia(energy: float, speed: float, fluctuation: float) -> float:
    """Moment of inertia [kg m2]: I = dE / (Cs w^2), w [rad/s] the mean speed.

    Cs = (w_max - w_min)/w. Budynas and Nisbett, Shigley's Mechanical Engineering Design, chapter on clutches, brakes and
    flywheels (formula from memory).
    """
    return energy / (fluctuation * speed**2)


def rim_mass(moment: float, radius: float) -> float:
    """Mass [kg] of a thin rim of mean ``radius`` [m] with this moment of inertia [kg m2]: m = I / R^2."""
    return moment / radius**2
