"""Pressure vessels: wall thickness by two published codes, test pressures and relief settings.

The numbers are a first estimate for a bill and a drawing. They are no design approval: openings,
ends, supports, fatigue and the maker's qualification belong to the code and to those licensed to use it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from explore.plant.parts.part import Vessel

Array = NDArray[np.float64]

BAR_IN_MPA = 0.1
"""Exact."""
LEAST_DESIGN_PRESSURE_BAR_G = 0.5
"""No vessel is designed for less: above half a bar European law counts it as one (Directive 2014/68/EU, Art. 1;
model, section 9)."""
RELIEF_MARGIN = 1.1
"""Design pressure over the greatest working one: a relief valve wants a tenth to stay tight (model, section 9)."""


@dataclass(frozen=True)
class Material:
    """A material vessels are made of: design stress [MPa] near 100 degC, joint efficiency [-].

    ``allowance_mm`` is added to the calculated wall for corrosion; ``source`` says where the stress is from.
    """

    title: str
    stress: float
    joint_efficiency: float
    allowance_mm: float
    source: str


MATERIALS: Mapping[str, Material] = {
    "steel": Material(
        title="P235GH steel, welded without radiography",
        stress=132.0,
        joint_efficiency=0.70,
        allowance_mm=1.0,
        source=(
            "min(Rp0.2 / 1.5, Rm / 2.4) of EN 13445-3 6.2 with 198 MPa at 100 degC and 360 MPa, "
            "EN 10216-2, from memory; joint ASME VIII-1 UW-12"
        ),
    ),
    "stainless steel": Material(
        title="1.4301 stainless steel, welded without radiography",
        stress=104.0,
        joint_efficiency=0.70,
        allowance_mm=0.0,
        source=(
            "Rp0.2 / 1.5 with 157 MPa at 100 degC, EN 10028-7, from memory (EN 13445-3 6.4 allows more); "
            "joint ASME VIII-1 UW-12"
        ),
    ),
    "copper": Material(
        title="seamless copper tube, softened by brazing",
        stress=33.0,
        joint_efficiency=1.0,
        allowance_mm=0.0,
        source="C12200 annealed near 93 degC, 4.8 ksi, ASME B31.3 table A-1, from memory",
    ),
}
"""Materials offered for shells; each says where its stress is from."""


def design_stress(proof_MPa: float, tensile_MPa: float) -> float:
    """Return the design stress f = min(Rp0.2 / 1.5, Rm / 2.4) [MPa] of EN 13445-3 clause 6.2.

    >>> round(design_stress(198.0, 360.0), 6)
    132.0
    """
    return min(proof_MPa / 1.5, tensile_MPa / 2.4)


def wall_en13445(
    pressure: ArrayLike, inner_diameter: ArrayLike, stress: ArrayLike, joint_efficiency: ArrayLike
) -> Array:
    """Return the wall e = P Di / (2 f z - P) of a cylindrical shell under inner pressure.

    ``pressure`` P and ``stress`` f in one unit [MPa], ``inner_diameter`` Di in the unit of the result [mm],
    ``joint_efficiency`` z [-]; shape (n,). Valid for e / De <= 0.16. Source: EN 13445-3 clause 7.4.2.

    >>> round(float(wall_en13445(1.0, 1000.0, 138.0, 1.0)), 4)
    3.6364
    """
    p, d, f, z = (np.asarray(a, dtype=float) for a in (pressure, inner_diameter, stress, joint_efficiency))
    return np.asarray(p * d / (2.0 * f * z - p))


def wall_asme(
    pressure: ArrayLike, inner_diameter: ArrayLike, stress: ArrayLike, joint_efficiency: ArrayLike
) -> Array:
    """Return the wall t = P R / (S E - 0.6 P) of a cylindrical shell with long seams, R half of Di.

    Units as in :func:`wall_en13445`. Valid for P <= 0.385 S E. Source: ASME BPVC VIII-1 UG-27(c)(1).

    >>> round(float(wall_asme(1.0, 1000.0, 138.0, 1.0)), 4)
    3.639
    """
    p, d, s, e = (np.asarray(a, dtype=float) for a in (pressure, inner_diameter, stress, joint_efficiency))
    return np.asarray(0.5 * p * d / (s * e - 0.6 * p))


def wall_mm(pressure_bar_g: ArrayLike, inner_diameter_mm: ArrayLike, material: Material) -> Array:
    """Return the thicker of both codes' walls and the material's allowance [mm], shape (n,)."""
    p = BAR_IN_MPA * np.asarray(pressure_bar_g, dtype=float)
    stress, joint = material.stress, material.joint_efficiency
    codes = (wall(p, inner_diameter_mm, stress, joint) for wall in (wall_en13445, wall_asme))
    return np.asarray(np.maximum(*codes) + material.allowance_mm)


def walls(
    pressure_bar_g: float, diameters_mm: Mapping[str, float], materials: Iterable[str]
) -> list[dict[str, str | float]]:
    """List part, material and wall_mm for every part and every one of ``materials`` known here.

    Pressure [bar gauge] and inner diameters [mm] as their names say.
    """
    return [
        {"part": part, "material": name, "wall_mm": float(wall_mm(pressure_bar_g, diameter, MATERIALS[name]))}
        for part, diameter in diameters_mm.items()
        for name in materials
        if name in MATERIALS
    ]


def diameters_mm(shells: Iterable[Vessel]) -> dict[str, float]:
    """Inner diameter [mm] of each vessel by its name, that of an upright one from its volume."""
    return {
        shell.name: float(receiver_diameter_mm(shell.volume_L))
        if np.isfinite(shell.volume_L)
        else shell.diameter_mm
        for shell in shells
    }


def design_pressure_bar_g(
    standstill_bar_g: ArrayLike, fault_bar_g: ArrayLike, margin: float = RELIEF_MARGIN
) -> Array:
    """Return the pressure PS [bar_g] vessels are made for, which is also the relief valve's setting; shape (n,).

    ``margin`` times the greater of the pressures with the engine standing and with the store boiling (the fault;
    NaN where the fluid has none), and never under 0.5 bar_g. A relief valve needs about a tenth between
    the pressure it sees and its setting to stay tight (common practice, no source). Below 0.5 bar_g no vessel is
    pressure equipment; one that works in vacuum still gets that much: Directive 2014/68/EU, Article 1.

    >>> round(float(design_pressure_bar_g(8.0, 10.0)), 6)
    11.0
    """
    greatest = np.fmax(np.asarray(standstill_bar_g, dtype=float), np.asarray(fault_bar_g, dtype=float))
    return np.asarray(np.maximum(margin * greatest, LEAST_DESIGN_PRESSURE_BAR_G))


def relief_capacity_kg_per_s(heat_W: ArrayLike, latent_heat_J_per_kg: ArrayLike) -> Array:
    """Return the vapour a relief valve must pass [kg/s], shape (n,): heat that comes in over the latent heat.

    ``heat_W`` is what the store can give the boiler without a fire; a fire needs more, and its rule stands in the
    code that applies. Source: EN 13136, excess pressure caused by heat sources, Q_md = heat / h_vap.

    >>> float(relief_capacity_kg_per_s(3500.0, 350e3))
    0.01
    """
    heat = np.maximum(np.asarray(heat_W, dtype=float), 0.0)
    return np.asarray(heat / np.asarray(latent_heat_J_per_kg, dtype=float))


def receiver_diameter_mm(volume_L: ArrayLike) -> Array:
    """Return the inner diameter [mm] of an upright receiver twice as high as wide, from its volume [L]."""
    return np.asarray(1e3 * np.cbrt(2.0 * np.asarray(volume_L, dtype=float) * 1e-3 / np.pi))


def proof_test_bar_g(design_pressure_bar_g: ArrayLike, stress_ratio: ArrayLike = 1.0) -> Array:
    """Return the hydrostatic test pressure [bar_g]: 1.43 PS, or 1.25 PS x stress ratio if greater.

    ``stress_ratio`` is the design stress cold over that at working temperature [-].
    Source: Directive 2014/68/EU, Annex I, 7.4.

    >>> round(float(proof_test_bar_g(20.0)), 6)
    28.6
    """
    ratio = np.maximum(1.43, 1.25 * np.asarray(stress_ratio, dtype=float))
    return np.asarray(ratio * np.asarray(design_pressure_bar_g, dtype=float))


def proof_test_asme_bar_g(working_pressure_bar_g: ArrayLike, stress_ratio: ArrayLike = 1.0) -> Array:
    """Return the hydrostatic test pressure 1.3 MAWP x lowest stress ratio [bar_g], ASME VIII-1 UG-99(b)."""
    ratio = 1.3 * np.asarray(stress_ratio, dtype=float)
    return np.asarray(ratio * np.asarray(working_pressure_bar_g, dtype=float))


def relief_setting_bar_g(design_pressure_bar_g: ArrayLike, device: int = 1) -> Array:
    """Return the highest setting of a relief valve [bar_g]: PS for the first, 1.05 PS for further ones.

    Source: ASME BPVC VIII-1 UG-134(a).
    """
    return np.asarray((1.0 if device == 1 else 1.05) * np.asarray(design_pressure_bar_g, dtype=float))
