"""Liquid water as it lies in the store: IAPWS-95 at 1 atm through CoolProp, tabulated.

The table is kept on disk like those of the working fluids; linear interpolation on a grid of
0.05 K is good to 1e-7 of the enthalpy differences that matter here.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from explore.fluids.interface import Array

LOW_K, HIGH_K, POINTS = 273.16, 373.10, 2000
"""From the triple point to just below boiling at 1 atm (373.124 K), every twentieth of a kelvin."""
GRID_K = np.linspace(LOW_K, HIGH_K, POINTS)
"""Temperatures of the rows."""
ATMOSPHERE_PA = 101_325.0
"""One standard atmosphere, ISO 2533: the pressure of the stored water, to which its liquid hardly answers."""


@dataclass(frozen=True)
class Water:
    """Enthalpy [J/kg], entropy [J/(kg K)] and density [kg/m3] of liquid water at 1 atm.

    Range: temperatures are clipped to 273.16 - 373.10 K. Source: IAPWS-95, W. Wagner and A. Pruss, J. Phys. Chem. Ref.
    Data 31 (2002) 387, through CoolProp; between its rows of 0.05 K a straight line.
    """

    table: Array

    @classmethod
    def load(cls, folder: Path | None = None) -> Water:
        """Read the table from the cache or build it."""
        from explore.cache import cache_folder, read, store
        from explore.fluids.tables import cache_key

        path = (folder or cache_folder()) / f"{cache_key(f'store-water-{POINTS}')}.npz"
        stored = read(path)
        if stored is None or "table" not in stored:
            stored = {"table": _build()}
            store(path, stored)
        return cls(stored["table"])

    def _at(self, temperature: Array, column: int) -> Array:
        place = (temperature - LOW_K) * ((POINTS - 1) / (HIGH_K - LOW_K))
        place = np.minimum(np.maximum(place, 0.0), POINTS - 1.0)
        row = np.fmax(place, 0.0)  # what is no number has one too, and stays none
        low = np.minimum(row.astype(np.intp), POINTS - 2)
        values = self.table[column]
        below = values.take(low)
        return np.asarray(below + (place - low) * (values.take(low + 1) - below))

    def enthalpy(self, temperature: Array) -> Array:
        """Specific enthalpy [J/kg] at T [K]."""
        return self._at(np.asarray(temperature, dtype=float), 0)

    def entropy(self, temperature: Array) -> Array:
        """Specific entropy [J/(kg K)] at T [K]."""
        return self._at(np.asarray(temperature, dtype=float), 1)

    def density(self, temperature: Array) -> Array:
        """Density [kg/m3] at T [K]."""
        return self._at(np.asarray(temperature, dtype=float), 2)

    def temperature(self, enthalpy: Array) -> Array:
        """Temperature [K] at a specific enthalpy [J/kg]."""
        return np.interp(enthalpy, self.table[0], GRID_K)

    def heat_capacity(self, temperature: Array) -> Array:
        """Isobaric heat capacity [J/(kg K)] at T [K]."""
        return self._at(np.asarray(temperature, dtype=float), 3)


def _build() -> Array:
    import CoolProp

    state = CoolProp.AbstractState("HEOS", "Water")
    state.specify_phase(CoolProp.iphase_liquid)
    columns = []
    for temperature in GRID_K:
        state.update(CoolProp.PT_INPUTS, ATMOSPHERE_PA, float(temperature))
        columns.append((state.hmass(), state.smass(), state.rhomass(), state.cpmass()))
    return np.ascontiguousarray(np.array(columns).T)


def boiling_temperature(pressure_Pa: float) -> float:
    """Boiling temperature [K] of water at the air pressure of a site [Pa].

    T_s(p) by the quadratic in beta = (p / 1 MPa)^0.25. Range: 611.2 Pa to 22.06 MPa. Source: IAPWS R7-97(2012), region 4,
    backward equation.

    >>> round(boiling_temperature(101_325.0), 2)
    373.12
    """
    n = (
        0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
        0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
    )  # fmt: skip
    beta = (pressure_Pa / 1e6) ** 0.25
    e = beta**2 + n[2] * beta + n[5]
    f = n[0] * beta**2 + n[3] * beta + n[6]
    g = n[1] * beta**2 + n[4] * beta + n[7]
    d = 2 * g / (-f - (f**2 - 4 * e * g) ** 0.5)
    return float((n[9] + d - ((n[9] + d) ** 2 - 4 * (n[8] + n[9] * d)) ** 0.5) / 2)
