"""Boiling: nucleate pool boiling and flow boiling in a tube.

Heat flux and coefficient belong to the wetted surface. Each function returns the coefficient [W/(m2 K)] and its
exponent d ln h / d ln q, which the solver of the wall temperature needs.
"""

from __future__ import annotations

import numpy as np

from explore.fluids.interface import Array
from explore.fluids.transport import Transport
from explore.plant.correlations.single_phase import dittus_boelter

COOPER_EXPONENT = 0.67
"""Power of the heat flux in Cooper's equation: IChemE Symp. Ser. 86 (1984) 785."""
HIGHEST_GORENFLO = 0.5
"""Reduced pressure up to which Gorenflo's equation counts alone: above, its F climbs without end and the smaller of
it and Cooper counts; a choice of this project."""

GORENFLO_H0 = {
    "n-Propane": 4000.0,
    "n-Butane": 3600.0,
    "n-Pentane": 3400.0,
    "Isopentane": 2500.0,
    "R134a": 4500.0,
    "R227EA": 3800.0,
    "Ammonia": 7000.0,
    "Methanol": 5400.0,
    "Ethanol": 4400.0,
    "Acetone": 3300.0,
    "Water": 5600.0,
}
"""Reference coefficients h0 [W/(m2 K)] at p* = 0.1, q = 20 kW/m2, roughness 0.4 um: VDI Heat Atlas 1993, sec. Ha."""


def cooper(heat_flux: Array, reduced_pressure: Array, molar_mass: Array) -> tuple[Array, Array]:
    """Nucleate pool boiling on a surface of 1 um roughness.

    h = 55 p*^0.12 (-log10 p*)^-0.55 M^-0.5 q^0.67, ``heat_flux`` q [W/m2], ``reduced_pressure`` p* [-],
    ``molar_mass`` [kg/mol], in the formula in g/mol. Range: p* 0.001 to 0.9, M 2 to 200 g/mol. Source: M. G. Cooper,
    IChemE Symp. Ser. 86 (1984) 785.
    """
    group = 55.0 * reduced_pressure**0.12 * (-np.log10(reduced_pressure)) ** -0.55
    h = group * (1e3 * molar_mass) ** -0.5 * heat_flux**COOPER_EXPONENT
    return np.asarray(h), np.full_like(np.asarray(h), COOPER_EXPONENT)


def gorenflo(
    heat_flux: Array, reduced_pressure: Array, reference: Array, water: Array | bool = False
) -> tuple[Array, Array]:
    """Nucleate pool boiling by corresponding states, roughness 0.4 um.

    h = h0 F(p*) (q / 20 kW/m2)^n, ``reference`` h0 [W/(m2 K)], n = 0.9 - 0.3 p*^0.3, F = 1.2 p*^0.27 + (2.5 + 1/(1 - p*))
    p*; for water n = 0.9 - 0.3 p*^0.15, F = 1.73 p*^0.27 + (6.1 + 0.68/(1 - p*)) p*^2. Range: p* up to 0.5 here. Source:
    D. Gorenflo, VDI Heat Atlas 1993, sec. Ha.
    """
    p = reduced_pressure
    n = 0.9 - 0.3 * p ** np.where(water, 0.15, 0.3)
    usual = 1.2 * p**0.27 + (2.5 + 1.0 / (1.0 - p)) * p
    factor = np.where(water, 1.73 * p**0.27 + (6.1 + 0.68 / (1.0 - p)) * p**2, usual)
    h = reference * factor * (heat_flux / 2e4) ** n
    return np.asarray(h), np.broadcast_to(n, np.shape(h))


def pool(
    heat_flux: Array, reduced_pressure: Array, molar_mass: Array, reference: Array, water: Array
) -> tuple[Array, Array]:
    """Gorenflo's pool boiling where a reference value exists, Cooper's where none does; above p* 0.5 the smaller.

    Arguments and units as of :func:`cooper` and :func:`gorenflo` [SI], a ``reference`` that is not known NaN.
    """
    plain = cooper(heat_flux, reduced_pressure, molar_mass)
    known = np.isfinite(reference)
    own = gorenflo(heat_flux, reduced_pressure, np.where(known, reference, 1.0), water)
    use = known & ((reduced_pressure <= HIGHEST_GORENFLO) | (own[0] < plain[0]))
    return np.where(use, own[0], plain[0]), np.where(use, own[1], plain[1])


def liu_winterton(
    heat_flux: Array,
    quality: Array,
    mass_flux: Array,
    diameter: float,
    state: Transport,
    reduced_pressure: Array,
    molar_mass: Array,
) -> tuple[Array, Array]:
    """Flow boiling in a tube: h = sqrt((E h_l)^2 + (S h_pool)^2).

    E = (1 + x Pr_l (rho_l/rho_v - 1))^0.35, S = 1 / (1 + 0.055 E^0.1 Re^0.16), Re = G d / mu_l, h_l by Dittus-Boelter with
    all flow liquid, h_pool by :func:`cooper` at the whole heat flux. ``quality`` x [-], ``mass_flux`` G [kg/(m2 s)],
    ``diameter`` d [m].
    Range: G 12.4 to 8179 kg/(m2 s), p* 0.0023 to 0.895, d 2.95 to 32 mm, x below 0.95; the Froude correction of horizontal
    tubes is left out. Source: Z. Liu and R. H. S. Winterton, Int. J. Heat Mass Transfer 34 (1991) 2759.
    """
    prandtl = state.cp_l * state.mu_l / state.k_l
    reynolds = mass_flux * diameter / state.mu_l
    enhanced = (1.0 + quality * prandtl * (state.rho_l / state.rho_v - 1.0)) ** 0.35
    suppressed = 1.0 / (1.0 + 0.055 * enhanced**0.1 * reynolds**0.16)
    convection = enhanced * dittus_boelter(reynolds, prandtl) * state.k_l / diameter
    bubbles, exponent = cooper(heat_flux, reduced_pressure, molar_mass)
    nucleate = (suppressed * bubbles) ** 2
    total = convection**2 + nucleate
    return np.asarray(np.sqrt(total)), np.asarray(exponent * nucleate / total)
