"""Condensation inside a tube: driven by the vapour's shear, or by gravity where the flow is slow.

Each function returns the coefficient [W/(m2 K)] on the inside surface; :func:`in_tube` its exponent d ln h / d ln q too.
"""

from __future__ import annotations

import numpy as np

from explore.fluids.interface import Array
from explore.fluids.transport import Transport
from explore.plant.correlations.single_phase import dittus_boelter
from explore.plant.pump import GRAVITY

VERTICAL_PLATE = 2.0 * 2.0**0.5 / 3.0
"""Nusselt's 0.943 = (4/3)(1/4)^(1/4), exact for his film."""
HORIZONTAL_TUBE = 0.555
"""Chato's factor inside a horizontal tube, less than 0.728 outside it for the liquid that lies below: ASHRAE J. 4
(1962) 52."""


def shah(
    quality: Array, mass_flux: Array, diameter: float, state: Transport, reduced_pressure: Array
) -> Array:
    """Coefficient [W/(m2 K)] of condensation in a tube at high enough velocity.

    h = h_l ((1 - x)^0.8 + 3.8 x^0.76 (1 - x)^0.04 / p*^0.38), h_l by Dittus and Boelter with all flow liquid. ``quality``
    x [-], ``mass_flux`` G [kg/(m2 s)], ``diameter`` d [m], ``reduced_pressure`` p* [-]. Range: G 10.8 to 211 kg/(m2 s), p*
    0.002 to 0.44, Re 100 to 63 000, Pr 1 to 13, d 7 to 40 mm. Source: M. M. Shah, Int. J. Heat Mass Transfer 22
    (1979) 547.
    """
    reynolds = mass_flux * diameter / state.mu_l
    prandtl = state.cp_l * state.mu_l / state.k_l
    liquid = dittus_boelter(reynolds, prandtl) * state.k_l / diameter
    wet = 1.0 - quality
    return np.asarray(liquid * (wet**0.8 + 3.8 * quality**0.76 * wet**0.04 / reduced_pressure**0.38))


def film(difference: Array, length: Array | float, state: Transport, shape: float) -> Array:
    """Coefficient [W/(m2 K)] of a laminar film that runs off by gravity.

    h = c (g rho_l (rho_l - rho_v) k_l^3 h_fg / (mu_l dT L))^(1/4), ``difference`` dT [K] between saturation and wall.
    ``shape`` c: 0.943 on a vertical plate of height L (W. Nusselt, Z. VDI 60 (1916) 541), 0.555 inside a horizontal tube
    of diameter L (J. C. Chato, ASHRAE J. 4 (1962) 52). Range of the tube: vapour Reynolds number below 35 000.
    """
    return np.asarray(shape * (_weight(state) / (difference * length)) ** 0.25)


def film_by_flux(heat_flux: Array, length: Array | float, state: Transport, shape: float) -> Array:
    """Return the coefficient of :func:`film` at a given heat flux q [W/m2] = h dT."""
    return np.asarray(shape ** (4.0 / 3.0) * (_weight(state) / (heat_flux * length)) ** (1.0 / 3.0))


def _weight(state: Transport) -> Array:
    drive = GRAVITY * state.rho_l * (state.rho_l - state.rho_v)
    return np.asarray(drive * state.k_l**3 * state.latent / state.mu_l)


def in_tube(
    heat_flux: Array,
    quality: Array,
    mass_flux: Array,
    diameter: float,
    state: Transport,
    reduced_pressure: Array,
) -> tuple[Array, Array]:
    """Condensation in a horizontal tube: the larger of shear (:func:`shah`) and gravity (Chato's :func:`film_by_flux`).

    ``heat_flux`` [W/m2], ``quality`` [-], ``mass_flux`` [kg/(m2 s)], ``diameter`` [m], ``reduced_pressure`` [-]. Returns
    the coefficient [W/(m2 K)] and its exponent d ln h / d ln q.
    """
    sheared = shah(quality, mass_flux, diameter, state, reduced_pressure)
    falling = film_by_flux(heat_flux, diameter, state, HORIZONTAL_TUBE)
    return np.maximum(sheared, falling), np.where(falling > sheared, -1.0 / 3.0, 0.0)
