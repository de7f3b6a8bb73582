"""Pressure gradients in straight channels, and what bends, entries and the rise in speed add."""

from __future__ import annotations

import numpy as np

from explore.fluids.interface import Array
from explore.fluids.transport import Transport
from explore.plant.correlations.single_phase import ROUND, friction_factor


def gradient(
    mass_flux: Array,
    density: Array,
    viscosity: Array,
    diameter: Array | float,
    roughness: float,
    laminar: Array | float = ROUND,
) -> Array:
    """Pressure gradient [Pa/m] of one phase: f G^2 / (2 rho d), Darcy and Weisbach.

    ``mass_flux`` G [kg/(m2 s)], ``density`` [kg/m3], ``viscosity`` [Pa s], ``diameter`` hydraulic [m], ``roughness`` [m],
    ``laminar`` f Re of laminar flow.
    """
    f = friction_factor(mass_flux * diameter / viscosity, roughness / diameter, laminar)
    return np.asarray(f * mass_flux**2 / (2.0 * density * diameter))


def mueller_steinhagen_heck(
    mass_flux: Array, quality: Array, diameter: float, state: Transport, roughness: float
) -> Array:
    """Frictional pressure gradient [Pa/m] of liquid and vapour together in a tube.

    (A + 2 (B - A) x) (1 - x)^(1/3) + B x^3, A and B the gradients of all flow as liquid and as vapour. ``quality`` x [-].
    Range: d 4 to 392 mm, G 50 to 2490 kg/(m2 s). Source: H. Mueller-Steinhagen and K. Heck, Chem. Eng. Process. 20
    (1986) 297.
    """
    a = gradient(mass_flux, state.rho_l, state.mu_l, diameter, roughness)
    b = gradient(mass_flux, state.rho_v, state.mu_v, diameter, roughness)
    return np.asarray((a + 2.0 * (b - a) * quality) * np.cbrt(1.0 - quality) + b * quality**3)


def local(mass_flux: Array, density: Array, heads: float) -> Array:
    """Pressure drop [Pa] of bends, entry and exit: ``heads`` velocity heads G^2 / (2 rho)."""
    return np.asarray(heads * mass_flux**2 / (2.0 * density))


def acceleration(mass_flux: Array, state: Transport) -> Array:
    """Pressure drop [Pa] that speeds liquid up to vapour: G^2 (1/rho_v - 1/rho_l), homogeneous flow."""
    return np.asarray(mass_flux**2 * (1.0 / state.rho_v - 1.0 / state.rho_l))
