"""How far a design lies outside the range on which a correlation was founded.

A margin is relative: 0.2 means a fifth beyond the nearer limit, 0 or less means inside.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from explore.fluids.interface import Array

Margins = dict[str, Array]

RANGES: dict[str, dict[str, tuple[float, float]]] = {
    "gnielinski": {"reynolds": (0.0, 5e6), "prandtl": (0.5, 2000.0)},
    "churchill_chu": {"rayleigh": (1e-5, 1e12)},
    "liu_winterton": {
        "mass_flux": (12.4, 8179.3),
        "reduced_pressure": (0.0023, 0.895),
        "heat_flux": (348.9, 2.62e6),
        "diameter": (2.95e-3, 32e-3),
    },
    "cooper": {"reduced_pressure": (0.001, 0.9), "molar_mass": (2e-3, 0.2)},
    "gorenflo": {"reduced_pressure": (0.005, 0.5)},
    "shah": {
        "mass_flux": (10.83, 210.6),
        "reduced_pressure": (0.002, 0.44),
        "reynolds": (100.0, 63_000.0),
        "prandtl": (1.0, 13.0),
        "diameter": (7e-3, 40e-3),
    },
    "chato": {"vapour_reynolds": (0.0, 35_000.0)},
    "mueller_steinhagen_heck": {"mass_flux": (50.0, 2490.0), "diameter": (4e-3, 0.392)},
}
"""Limits (least, most) in SI by correlation and quantity.

Sources. gnielinski: Gnielinski, Int. Chem. Eng. 16 (1976) 359 (below Re 4000 mixed with laminar flow). churchill_chu:
Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975) 1049; upper limit from Bergman et al., ch. 9. The data banks of
liu_winterton: Liu and Winterton, Int. J. Heat Mass Transfer 34 (1991) 2759; cooper: Cooper, IChemE Symp. Ser. 86 (1984)
785; shah: Shah, Int. J. Heat Mass Transfer 22 (1979) 547; mueller_steinhagen_heck: Mueller-Steinhagen and Heck, Chem.
Eng. Process. 20 (1986) 297; chato: Chato, ASHRAE J. 4 (1962) 52. gorenflo: VDI Heat Atlas 1993, its upper limit 0.9
lowered to 0.5, above which it runs away from Cooper. The numbers of the data banks are from memory.
"""

COLUMNS = tuple(
    f"validity_{correlation}_{quantity}" for correlation, limits in RANGES.items() for quantity in limits
)


def outside(correlation: str, **quantities: Array | float) -> Margins:
    """Return by how much each quantity lies beyond the limits of ``correlation``, relative to the nearer limit.

    >>> outside("chato", vapour_reynolds=np.array([42000.0]))["validity_chato_vapour_reynolds"].round(3)
    array([0.2])
    """
    found: Margins = {}
    for quantity, value in quantities.items():
        least, most = RANGES[correlation][quantity]
        given = np.asarray(value, dtype=float)
        beyond = given / most - 1.0
        if least > 0.0:
            beyond = np.maximum(beyond, 1.0 - given / least)
        found[f"validity_{correlation}_{quantity}"] = beyond
    return found


def worst(parts: Iterable[Margins]) -> Margins:
    """Return the largest margin of every name."""
    merged: Margins = {}
    for part in parts:
        for name, margin in part.items():
            merged[name] = np.fmax(merged[name], margin) if name in merged else margin
    return merged
