"""Every correlation against an outside one, on a grid where each of its constants has an effect.

References are the scalar functions of the libraries ``ht`` and ``fluids`` where they have the correlation, else the formula
or table of the source named, written down here a second time.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from types import SimpleNamespace

import fluids
import ht
import numpy as np
from fluids.two_phase import Muller_Steinhagen_Heck
from ht.condensation import Shah

from explore.fluids.transport import Transport

P_CRITICAL, MOLAR_MASS = 4.0e6, 0.058
DIAMETER, ROUGHNESS = 0.012, 2e-6
REYNOLDS = np.array([4.1e3, 1.2e4, 8e4, 2e6])
PRANDTL = np.array([0.75, 2.1, 6.0, 13.0])
MASS_FLUX = np.array([12.0, 95.0, 190.0, 520.0])
QUALITY = np.array([0.05, 0.3, 0.62, 0.93])
REDUCED = np.array([0.004, 0.06, 0.21, 0.47])
FLUX = np.array([900.0, 6e3, 2.5e4, 9e4])

STATE = Transport(
    mu_l=np.array([1.6e-4, 2.2e-4, 1.1e-4, 3e-4]),
    mu_v=np.array([7.5e-6, 8.5e-6, 1.1e-5, 7e-6]),
    k_l=np.array([0.10, 0.12, 0.08, 0.11]),
    k_v=np.array([0.016, 0.018, 0.022, 0.015]),
    sigma=np.full(4, 0.01),
    cp_l=np.array([2400.0, 2300.0, 2700.0, 1300.0]),
    cp_v=np.array([1700.0, 1800.0, 2000.0, 900.0]),
    rho_l=np.array([570.0, 600.0, 520.0, 1300.0]),
    rho_v=np.array([6.0, 9.0, 20.0, 12.0]),
    latent=np.array([3.6e5, 3.5e5, 3.0e5, 1.9e5]),
)


def each(function: Callable[..., float], *columns: np.ndarray | float) -> np.ndarray:
    """Call a scalar function row by row."""
    return np.array([function(*row) for row in zip(*np.broadcast_arrays(*columns), strict=True)])


def pool_flux(p: float, superheat: float) -> float:
    """Flux of pool boiling by Cooper at a wall superheat, as ``ht`` computes it."""
    return superheat * ht.Cooper(P=p * P_CRITICAL, Pc=P_CRITICAL, MW=1e3 * MOLAR_MASS, Te=superheat)


@cache
def references() -> dict[str, np.ndarray]:
    """Outside values of every correlation on the grid."""
    s, area, pressure = STATE, 0.25 * np.pi * DIAMETER**2, REDUCED * P_CRITICAL
    rough = np.array([0.0, 1e-4, 2e-3, 3e-2])
    flow, superheats = MASS_FLUX * area, np.array([0.6, 2.0, 4.0, 6.0])
    rayleigh = np.array([3e2, 4e4, 7e6, 2e9])
    ratio = np.array([0.05, 0.25, 0.5, 1.0])
    return {
        "turbulent_friction": each(lambda Re, e: fluids.friction_factor(Re, e), REYNOLDS, rough),
        # four times the Fanning factor times Re: R. K. Shah and A. L. London, Laminar Flow Forced Convection in Ducts,
        # 1978, table of concentric annuli (from memory)
        "annulus_laminar_friction": 4.0 * np.array([21.57, 23.30, 23.81, 24.00]),
        "serghides": each(
            lambda Re, e: fluids.friction_factor(Re, e, Method="Serghides_1"), REYNOLDS, rough + 1e-6
        ),
        "gnielinski": each(ht.turbulent_Gnielinski, REYNOLDS, PRANDTL, np.array([0.04, 0.03, 0.02, 0.011])),
        "dittus_boelter": each(ht.turbulent_Dittus_Boelter, REYNOLDS, PRANDTL),
        # T. L. Bergman et al., Fundamentals of Heat and Mass Transfer, 7th ed. 2011, table 8.2: the Nusselt number at the
        # inner wall of annuli (that of equal diameters is the plane gap's)
        "annulus_laminar": np.array([17.46, 7.37, 5.74, 4.86]),
        # its fit in the VDI Heat Atlas, 2nd ed. 2010, sec. G2, written out
        "annulus_laminar_fit": np.array([3.66 + 1.2 / a**0.8 for a in ratio]),
        "tube_turbulent": each(ht.turbulent_Gnielinski, 2e4, 3.0, each(fluids.friction_factor, 2e4, rough)),
        "annulus_turbulent": each(ht.turbulent_Gnielinski, 2e4, 3.0, each(fluids.friction_factor, 2e4, rough))
        * np.array([0.86 * a**-0.16 for a in ratio]),
        "churchill_chu": each(
            lambda Ra, Pr: ht.Nu_horizontal_cylinder_Churchill_Chu(Pr, Ra / Pr), rayleigh, PRANDTL
        ),
        "churchill_chu_slope": each(
            lambda Ra, Pr: (
                np.log(
                    ht.Nu_horizontal_cylinder_Churchill_Chu(Pr, Ra * 1.0001 / Pr)
                    / ht.Nu_horizontal_cylinder_Churchill_Chu(Pr, Ra / 1.0001 / Pr)
                )
                / np.log(1.0001**2)
            ),
            rayleigh,
            PRANDTL,
        ),
        "wall_resistance": np.array([0.012 * np.log(0.012 / 0.010) / 2.0 / 15.0]),
        "cooper": each(lambda p, q: ht.Cooper(p, P_CRITICAL, 1e3 * MOLAR_MASS, q=q), pressure, FLUX),
        "gorenflo": each(
            lambda p, q: ht.Gorenflo(p, P_CRITICAL, q=q, h0=3600.0, CASRN="106-97-8"), pressure, FLUX
        ),
        "gorenflo_water": each(
            lambda p, q: ht.Gorenflo(p, P_CRITICAL, q=q, h0=5600.0, CASRN="7732-18-5"), pressure, FLUX
        ),
        "liu_winterton": np.array(
            [
                ht.Liu_Winterton(
                    flow[i],
                    QUALITY[i],
                    DIAMETER,
                    s.rho_l[i],
                    s.rho_v[i],
                    s.mu_l[i],
                    s.k_l[i],
                    s.cp_l[i],
                    1e3 * MOLAR_MASS,
                    pressure[i],
                    P_CRITICAL,
                    superheats[i],
                )
                for i in range(4)
            ]
        ),
        "liu_winterton_flux": each(pool_flux, REDUCED, superheats),
        "shah": np.array(
            [
                Shah(
                    flow[i],
                    QUALITY[i],
                    DIAMETER,
                    s.rho_l[i],
                    s.mu_l[i],
                    s.k_l[i],
                    s.cp_l[i],
                    pressure[i],
                    P_CRITICAL,
                )
                for i in range(4)
            ]
        ),
        "film": np.array(
            [
                ht.Nusselt_laminar(
                    320.0, 314.0, s.rho_v[i], s.rho_l[i], s.k_l[i], s.mu_l[i], s.latent[i], 0.3
                )
                for i in range(4)
            ]
        ),
        # J. C. Chato, ASHRAE J. 4 (1962) 52, written out: 0.555 (g rho_l (rho_l - rho_v) k^3 h_fg / (mu dT d))^(1/4)
        "chato": 0.555
        * (9.80665 * s.rho_l * (s.rho_l - s.rho_v) * s.k_l**3 * s.latent / (s.mu_l * 6.0 * DIAMETER)) ** 0.25,
        "mueller_steinhagen_heck": np.array(
            [
                Muller_Steinhagen_Heck(
                    flow[i], QUALITY[i], s.rho_l[i], s.rho_v[i], s.mu_l[i], s.mu_v[i], DIAMETER, ROUGHNESS
                )
                for i in range(4)
            ]
        ),
        "gradient": each(
            lambda G, rho, mu: fluids.dP_from_K(
                fluids.friction_factor(G * DIAMETER / mu, ROUGHNESS / DIAMETER) / DIAMETER, rho, G / rho
            ),
            MASS_FLUX,
            s.rho_l,
            s.mu_l,
        ),
        "local": MASS_FLUX**2 * 4.0 / (2.0 * s.rho_v),
        "acceleration": MASS_FLUX**2 / s.rho_v - MASS_FLUX**2 / s.rho_l,
    }


BY_FRICTION = (
    "turbulent_friction",
    "tube_turbulent",
    "annulus_turbulent",
    "gradient",
    "mueller_steinhagen_heck",
)
TOLERANCES = {
    **dict.fromkeys(
        ("turbulent_friction", "tube_turbulent", "annulus_turbulent", "gradient", "mueller_steinhagen_heck"),
        4e-5,
    ),
    "annulus_laminar": 0.036,
    "annulus_laminar_friction": 3e-4,
}
"""Relative; 1e-6 for all others. Serghides' form is that close to Colebrook; the annulus as its tables are rounded, and
the fit of its Nusselt number to them."""


def ours(code: SimpleNamespace) -> dict[str, np.ndarray]:
    """Compute the same with the functions of ``code``, which holds the modules of correlations."""
    one, boil, cond, drop = code.single_phase, code.boiling, code.condensation, code.drop
    s, rough = STATE, np.array([0.0, 1e-4, 2e-3, 3e-2])
    ratio, four = np.array([0.05, 0.25, 0.5, 1.0]), np.full(4, 1.0)
    mass, h0 = MOLAR_MASS * four, 3600.0 * four
    flux = references()["liu_winterton_flux"]
    return {
        "turbulent_friction": one.turbulent_friction(REYNOLDS, rough),
        "annulus_laminar_friction": one.annulus_laminar_friction(ratio),
        "serghides": one.turbulent_friction(REYNOLDS, rough + 1e-6),
        "gnielinski": one.gnielinski(REYNOLDS, PRANDTL, np.array([0.04, 0.03, 0.02, 0.011])),
        "dittus_boelter": one.dittus_boelter(REYNOLDS, PRANDTL),
        "annulus_laminar": one.annulus_nusselt(900.0 * four, 3.0 * four, ratio, 0.0),
        "annulus_laminar_fit": one.annulus_nusselt(900.0 * four, 3.0 * four, ratio, 0.0),
        "tube_turbulent": one.tube_nusselt(2e4 * four, 3.0 * four, rough),
        "annulus_turbulent": one.annulus_nusselt(2e4 * four, 3.0 * four, ratio, rough),
        "churchill_chu": one.churchill_chu(np.array([3e2, 4e4, 7e6, 2e9]), PRANDTL)[0],
        "churchill_chu_slope": one.churchill_chu(np.array([3e2, 4e4, 7e6, 2e9]), PRANDTL)[1],
        "wall_resistance": np.array([one.wall_resistance(0.010, 0.012, 15.0)]),
        "cooper": boil.cooper(FLUX, REDUCED, mass)[0],
        "gorenflo": boil.gorenflo(FLUX, REDUCED, h0)[0],
        "gorenflo_water": boil.gorenflo(FLUX, REDUCED, 5600.0 * four, np.full(4, True))[0],
        "liu_winterton": boil.liu_winterton(flux, QUALITY, MASS_FLUX, DIAMETER, s, REDUCED, mass)[0],
        "liu_winterton_flux": flux,
        "shah": cond.shah(QUALITY, MASS_FLUX, DIAMETER, s, REDUCED),
        "film": cond.film(6.0, 0.3, s, cond.VERTICAL_PLATE),
        "chato": cond.film_by_flux(6.0 * references()["chato"], DIAMETER, s, cond.HORIZONTAL_TUBE),
        "mueller_steinhagen_heck": drop.mueller_steinhagen_heck(MASS_FLUX, QUALITY, DIAMETER, s, ROUGHNESS),
        "gradient": drop.gradient(MASS_FLUX, s.rho_l, s.mu_l, DIAMETER, ROUGHNESS),
        "local": drop.local(MASS_FLUX, s.rho_v, 4.0),
        "acceleration": drop.acceleration(MASS_FLUX, s),
    }


def excesses(code: SimpleNamespace) -> dict[str, float]:
    """Largest deviation of each correlation over its tolerance; at most 1 is right."""
    outside = references()
    return {
        name: float(np.max(np.abs(values / outside[name] - 1.0))) / TOLERANCES.get(name, 1e-6)
        for name, values in ours(code).items()
    }
