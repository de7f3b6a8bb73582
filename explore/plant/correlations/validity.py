"""How far a design lies outside the range on which a correlation was founded.

An excess is relative to the limit that is passed: 0.2 means a fifth above the highest value, -0.2 a fifth below the
least, 0 inside.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from explore.fluids.interface import HIGHEST_VAPOUR_K, LOWEST_SATURATION_K, Array

Excess = dict[tuple[str, str], Array]

RANGES: dict[str, dict[str, tuple[float, float, str]]] = {
    "property tables": {
        "vapour temperature": (0.0, HIGHEST_VAPOUR_K, "K"),
        "condensing temperature": (LOWEST_SATURATION_K, np.inf, "K"),
    },
    "Gnielinski": {"Reynolds number": (0.0, 5e6, ""), "Prandtl number": (0.5, 2000.0, "")},
    "Churchill-Chu": {"Rayleigh number": (1e-5, 1e12, "")},
    "Liu-Winterton": {
        "mass flux": (12.4, 8179.3, "kg/(m2 s)"),
        "reduced pressure": (0.0023, 0.895, ""),
        "heat flux": (348.9, 2.62e6, "W/m2"),
        "diameter": (2.95e-3, 32e-3, "m"),
    },
    "Cooper": {"reduced pressure": (0.001, 0.9, ""), "molar mass": (2e-3, 0.2, "kg/mol")},
    "Gorenflo": {"reduced pressure": (0.005, 0.5, "")},
    "Shah": {
        "mass flux": (10.83, 210.6, "kg/(m2 s)"),
        "reduced pressure": (0.002, 0.44, ""),
        "Reynolds number": (100.0, 63_000.0, ""),
        "Prandtl number": (1.0, 13.0, ""),
        "diameter": (7e-3, 40e-3, "m"),
    },
    "Chato": {"vapour Reynolds number": (0.0, 35_000.0, "")},
    "Mueller-Steinhagen-Heck": {
        "mass flux": (50.0, 2490.0, "kg/(m2 s)"),
        "diameter": (4e-3, 0.392, "m"),
    },
}
"""Limits (least, most, unit) in SI by correlation and quantity.

Sources. Gnielinski: Int. Chem. Eng. 16 (1976) 359 (below Re 4000 mixed with laminar flow). Churchill and Chu: Int. J. Heat
Mass Transfer 18 (1975) 1049; upper limit from Bergman et al., Fundamentals of Heat and Mass Transfer, ch. 9. The data
banks of Liu and Winterton, Int. J. Heat Mass Transfer 34 (1991) 2759; Cooper, IChemE Symp. Ser. 86 (1984) 785; Shah,
Int. J. Heat Mass Transfer 22 (1979) 547; Mueller-Steinhagen and Heck, Chem. Eng. Process. 20 (1986) 297; Chato, ASHRAE
J. 4 (1962) 52. Gorenflo: VDI Heat Atlas 1993, its upper limit 0.9 lowered to 0.5, above which it runs away from Cooper.
The numbers of the data banks are from memory. Property tables: the range on which this project builds them.
"""

NAMES = tuple((correlation, quantity) for correlation, limits in RANGES.items() for quantity in limits)


def outside(correlation: str, **quantities: Array | float) -> Excess:
    """Return by how much each quantity lies beyond the limits of ``correlation``; underscores stand for blanks.

    >>> outside("Chato", vapour_Reynolds_number=np.array([42000.0]))[("Chato", "vapour Reynolds number")].round(3)
    array([0.2])
    """
    found: Excess = {}
    for key, value in quantities.items():
        quantity = key.replace("_", " ")
        least, most, _ = RANGES[correlation][quantity]
        given = np.asarray(value, dtype=float)
        beyond = np.maximum(given / most - 1.0, 0.0) if np.isfinite(most) else np.zeros_like(given)
        if least > 0.0:
            beyond = beyond - np.maximum(1.0 - given / least, 0.0)
        found[(correlation, quantity)] = beyond
    return found


def worst(parts: Iterable[Excess]) -> Excess:
    """Return the largest excess of every name, by size."""
    merged: Excess = {}
    for part in parts:
        for name, excess in part.items():
            known = merged.get(name)
            merged[name] = (
                excess if known is None else np.where(np.abs(excess) > np.abs(known), excess, known)
            )
    return merged


def as_table(found: Mapping[tuple[str, str], Array], n: int) -> Array:
    """Lay excesses out as (n, len(NAMES)), zero where nothing is said."""
    table = np.zeros((n, len(NAMES)))
    for place, name in enumerate(NAMES):
        if name in found:
            table[:, place] = found[name]
    return table


def told(table: Array) -> np.ndarray:
    """Say for each design, (n,) text, which correlations are used outside their range and by how much; empty if none.

    >>> told(as_table({("Shah", "mass flux"): np.array([0.0, 0.25])}, 2)).tolist()
    ['', 'Shah: mass flux 263 above 211 kg/(m2 s)']
    """
    words: list[list[str]] = [[] for _ in range(len(table))]
    for place, (correlation, quantity) in enumerate(NAMES):
        for row in np.flatnonzero(table[:, place]):
            words[row].append(_phrase(correlation, quantity, float(table[row, place])))
    return np.array(["; ".join(parts) for parts in words], dtype=object)


def _phrase(correlation: str, quantity: str, excess: float) -> str:
    least, most, unit = RANGES[correlation][quantity]
    limit, side = (most, "above") if excess > 0.0 else (least, "below")
    return f"{correlation}: {quantity} {limit * (1.0 + excess):.3g} {side} {limit:.3g} {unit}".rstrip()
