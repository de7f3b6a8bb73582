"""Friction and heat transfer of liquid, vapour and water without change of phase; free convection."""

from __future__ import annotations

import numpy as np

from explore.fluids.interface import Array

LAMINAR_END, TURBULENT_START = 2300.0, 4000.0
"""Reynolds numbers between which both flows are mixed: Gnielinski, Int. J. Heat Mass Transfer 63 (2013) 134."""
LAMINAR_TUBE = 3.66
"""Nusselt number of developed laminar flow at constant wall temperature; exact, e.g. Bergman et al., ch. 8."""
ROUND = 64.0
"""f Re of laminar flow in a round tube, exact: Hagen and Poiseuille."""


def turbulent_friction(reynolds: Array, roughness_ratio: Array | float) -> Array:
    """Darcy friction factor f [-] of turbulent flow: Colebrook's equation in Serghides' explicit form.

    ``reynolds`` Re [-], ``roughness_ratio`` e/d [-]. Range: Re above 4000. Source: T. K. Serghides, Chem. Eng. 91 (1984)
    63; within 0.003 % of C. F. Colebrook, J. Inst. Civ. Eng. 11 (1939) 133.
    """
    rough = roughness_ratio / 3.7
    a = -2.0 * np.log10(rough + 12.0 / reynolds)
    b = -2.0 * np.log10(rough + 2.51 * a / reynolds)
    c = -2.0 * np.log10(rough + 2.51 * b / reynolds)
    bend = c - 2.0 * b + a
    return np.asarray((a - (b - a) ** 2 / np.where(bend == 0.0, np.inf, bend)) ** -2)


def turbulence(reynolds: Array) -> Array:
    """Share of turbulence [-]: 0 up to Re 2300, 1 from Re 4000, linear between.

    Source: V. Gnielinski, Int. J. Heat Mass Transfer 63 (2013) 134.
    """
    return np.clip((reynolds - LAMINAR_END) / (TURBULENT_START - LAMINAR_END), 0.0, 1.0)


def friction_factor(reynolds: Array, roughness_ratio: Array | float, laminar: Array | float = ROUND) -> Array:
    """Darcy friction factor f [-] from laminar to turbulent flow.

    ``laminar`` is f Re of laminar flow: 64 in a round tube (Hagen and Poiseuille), :func:`annulus_laminar_friction` in an
    annulus. Between Re 2300 and 4000 the two are mixed linearly, so that no design meets a step.
    """
    share = turbulence(reynolds)
    slow = laminar / np.clip(reynolds, 1e-3, LAMINAR_END)
    fast = turbulent_friction(np.maximum(reynolds, TURBULENT_START), roughness_ratio)
    return np.asarray((1.0 - share) * slow + share * fast)


def annulus_laminar_friction(ratio: Array | float) -> Array:
    """Product f Re [-] of laminar flow in a concentric annulus, ``ratio`` a = inner over outer diameter [-].

    f Re = 64 (1 - a)^2 / (1 + a^2 + (1 - a^2) / ln a): exact solution, e.g. VDI Heat Atlas, 2nd ed. 2010, sec. L1.2.
    """
    a = np.clip(ratio, 1e-6, 1.0 - 1e-4)
    return np.asarray(ROUND * (1.0 - a) ** 2 / (1.0 + a**2 + (1.0 - a**2) / np.log(a)))


def gnielinski(reynolds: Array, prandtl: Array, friction: Array) -> Array:
    """Nusselt number Nu [-] of turbulent flow in a tube.

    Nu = (f/8)(Re - 1000) Pr / (1 + 12.7 (f/8)^(1/2) (Pr^(2/3) - 1)), ``friction`` f the Darcy factor. Range: Re 2300 (here
    4000) to 5e6, Pr 0.5 to 2000. Source: V. Gnielinski, Int. Chem. Eng. 16 (1976) 359.
    """
    eighth = friction / 8.0
    return np.asarray(
        eighth
        * (reynolds - 1000.0)
        * prandtl
        / (1.0 + 12.7 * np.sqrt(eighth) * (prandtl ** (2.0 / 3.0) - 1.0))
    )


def dittus_boelter(reynolds: Array, prandtl: Array) -> Array:
    """Nusselt number Nu = 0.023 Re^0.8 Pr^0.4 [-], as the two-phase correlations use it.

    Source: form of W. H. McAdams, Heat Transmission, 3rd ed. 1954.
    """
    return np.asarray(0.023 * reynolds**0.8 * prandtl**0.4)


def tube_nusselt(reynolds: Array, prandtl: Array, roughness_ratio: Array | float) -> Array:
    """Nusselt number Nu [-] inside a long tube: 3.66 if laminar, Gnielinski if turbulent, mixed between.

    Entrance effects and the curvature of a coil, which both help, are left out. Sources: :func:`gnielinski`,
    :func:`turbulence`; 3.66 is Graetz' limit at constant wall temperature.
    """
    return _mixed(reynolds, prandtl, roughness_ratio, LAMINAR_TUBE, 1.0)


def annulus_nusselt(
    reynolds: Array, prandtl: Array, ratio: Array | float, roughness_ratio: Array | float
) -> Array:
    """Nusselt number Nu [-] on the inner wall of an annulus whose outer wall is insulated, on its hydraulic diameter.

    ``ratio`` a = inner over outer diameter. Laminar 3.66 + 1.2 a^-0.8, turbulent Gnielinski times 0.86 a^-0.16. Sources:
    VDI Heat Atlas, 2nd ed. 2010, sec. G2; B. S. Petukhov and L. I. Roizen, High Temp. 2 (1964) 65.
    """
    a = np.asarray(ratio, dtype=float)
    return _mixed(reynolds, prandtl, roughness_ratio, 3.66 + 1.2 * a**-0.8, 0.86 * a**-0.16)


def _mixed(
    reynolds: Array,
    prandtl: Array,
    roughness_ratio: Array | float,
    laminar: Array | float,
    factor: Array | float,
) -> Array:
    share = turbulence(reynolds)
    fast = np.maximum(reynolds, TURBULENT_START)
    turbulent = gnielinski(fast, prandtl, turbulent_friction(fast, roughness_ratio))
    return np.asarray((1.0 - share) * laminar + share * factor * turbulent)


def churchill_chu(rayleigh: Array, prandtl: Array) -> tuple[Array, Array]:
    """Nusselt number [-] of free convection around a horizontal cylinder, and its exponent d ln Nu / d ln Ra.

    Nu = (0.60 + 0.387 Ra^(1/6) / (1 + (0.559/Pr)^(9/16))^(8/27))^2, ``rayleigh`` Ra on the diameter. Range: Ra up to 1e12,
    isothermal wall, undisturbed water. Source: S. W. Churchill and H. H. S. Chu, Int. J. Heat Mass Transfer 18
    (1975) 1049.
    """
    rise = 0.387 * rayleigh ** (1.0 / 6.0) / (1.0 + (0.559 / prandtl) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    root = 0.60 + rise
    return np.asarray(root**2), np.asarray(rise / root / 3.0)


def wall_resistance(inside: float, outside: float, conductivity: float) -> float:
    """Resistance of a tube wall [m2 K/W] on its outside area: d_o ln(d_o/d_i) / (2 k).

    Source: conduction through a cylinder, Bergman et al., Fundamentals of Heat and Mass Transfer, ch. 3.
    """
    return float(outside * np.log(outside / inside) / (2.0 * conductivity))
