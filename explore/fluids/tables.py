"""Property tables, built once per fluid from the Helmholtz equations and kept on disk.

Layout of one fluid, on a uniform grid of ln p from the pressure floor to the roof:

- ``line``: bubble and dew states at each pressure, with the spans of entropy and enthalpy from
  the dew point to 405 K;
- ``by_entropy`` and ``by_enthalpy``: vapour on (ln p, y), y the distance from the dew line in units of
  the span. Following the dew line keeps the kink there off the grid;
- ``by_superheat``: vapour on (ln p, T - T_dew);
- ``liquid``: saturated liquid and its pressure slopes on a uniform grid of temperature.

They are read by :mod:`explore.fluids.table_fluid`.
"""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from explore.cache import opened, read, store
from explore.fluids.interface import HIGHEST_VAPOUR_K, LOWEST_SATURATION_K, Array

if TYPE_CHECKING:
    from collections.abc import Callable

    from explore.fluids.substance import Substance

# Grid sizes, held against the equations with R134a over the search space, of which 1e-3 is promised.
PRESSURES = 256
"""Latent heat and dew volume within 2e-5; half as many pressures make five times that."""
STEPS = 192
"""Work of an expansion within 3e-5; with 96 steps 4e-5, with 48 already 5e-4."""
SUPERHEATS = 81
"""Every half kelvin: volume of superheated vapour within 4e-5; every kelvin 2e-4, every two 5e-4."""
HIGHEST_SUPERHEAT_K = 40.0
"""The greatest superheat that the model can hold (design/variables.py)."""
TEMPERATURES = 1200
"""Every tenth of a kelvin: vapour pressure within 3e-7; 300 would do for that (4e-6). The rows are few and cost no time."""
BUILD_STEPS = 48
"""States of an isobar that the splines go through. R134a is served as well by 12; more cost only the first build, once."""
DOME_POINTS = 60
"""A line of 60 chords looks smooth at the size of the page's diagram."""
LAYOUT = f"8/{PRESSURES}/{STEPS}/{SUPERHEATS}/{HIGHEST_SUPERHEAT_K}/{TEMPERATURES}/{BUILD_STEPS}"

LINE = ("T", "h_l", "h_v", "s_l", "s_v", "v_l", "lnv_v", "s_span", "h_span")
BY_ENTROPY = (LINE.index("s_l"), LINE.index("h_l"), LINE.index("s_span"))
BY_ENTHALPY = (LINE.index("h_l"), LINE.index("s_l"), LINE.index("h_span"))
"""Places of the property that is known, the one that is sought, and the known one's span."""
LIQUID = ("lnp", "h", "s", "v", "dh_dp", "dv_dT")


@dataclass(frozen=True)
class FluidTables:
    """The tables of one fluid; shapes as in the module's docstring."""

    limits: Array
    line: Array
    by_entropy: Array
    by_enthalpy: Array
    by_superheat: Array
    liquid: Array
    dome: Array


def build(name: str) -> FluidTables:
    """Build the tables of one fluid from its Helmholtz equation.

    Raises ``ValueError`` (from CoolProp) for an unknown name.
    """
    from explore.fluids.helmholtz import substance

    fluid = substance(name)
    lnp = np.linspace(np.log(fluid.pressure_floor), np.log(fluid.pressure_roof), PRESSURES)
    temperatures = np.linspace(fluid.lowest_temperature, fluid.highest_temperature, TEMPERATURES)
    line = np.empty((PRESSURES, len(LINE)))
    by_entropy = np.empty((PRESSURES, STEPS, 3))
    by_enthalpy = np.empty((PRESSURES, STEPS, 3))
    by_superheat = np.empty((PRESSURES, SUPERHEATS, 3))
    for i, pressure in enumerate(np.exp(lnp)):
        sat = fluid.saturation(float(pressure))
        vapour = isobar(fluid.vapour_pt, float(pressure), sat)
        h_span, s_span = vapour[-1, 0] - sat[2], vapour[-1, 1] - sat[4]
        line[i] = (*sat[:6], np.log(sat[6]), s_span, h_span)
        y = np.linspace(0.0, 1.0, STEPS)
        by_entropy[i] = resample(vapour[:, 1], vapour[:, [0, 2, 3]], sat[4] + y * s_span)
        by_enthalpy[i] = resample(vapour[:, 0], vapour[:, [1, 2, 3]], sat[2] + y * h_span)
        superheat = np.linspace(0.0, HIGHEST_SUPERHEAT_K, SUPERHEATS)
        by_superheat[i] = resample(vapour[:, 3], vapour[:, [0, 1, 2]], sat[0] + superheat)
    liquid = np.array([liquid_row(fluid, float(T)) for T in temperatures])
    limits = np.array(
        [lnp[0], lnp[-1], temperatures[0], temperatures[-1], fluid.critical_temperature, fluid.molar_mass]
    )
    return FluidTables(limits, line, by_entropy, by_enthalpy, by_superheat, liquid, _dome(name))


def _dome(name: str) -> Array:
    """T, s', s'' from the coldest temperature of the tables to the critical point, where both lines meet, for drawing."""
    from explore.fluids.helmholtz import substance

    fluid = substance(name, wide=True)
    coldest, top = max(LOWEST_SATURATION_K, fluid.lowest_temperature), fluid.critical_temperature
    below = (top - coldest) * np.linspace(1.0, 0.0, DOME_POINTS)[:-1] ** 2.0  # dense where the lines turn
    rows = [(T, fluid.bubble(T)[2], fluid.dew(T)[2]) for T in (top - below).tolist()]
    return np.array([*rows, (top, *[fluid.critical_entropy()] * 2)])


def isobar(
    vapour_pt: Callable[[float, float], tuple[float, float, float, float]],
    pressure: float,
    sat: tuple[float, ...],
) -> Array:
    """Sample vapour h [J/kg], s [J/(kg K)], ln v [m3/kg] and T [K] from the dew point upward, (m, 4).

    ``pressure`` [Pa]. More densely near the dew point: vapour bends most there.
    """
    rise = max(HIGHEST_VAPOUR_K, sat[0] + HIGHEST_SUPERHEAT_K) - sat[0]
    temperatures = sat[0] + rise * np.linspace(0.0, 1.0, BUILD_STEPS)[1:] ** 1.7
    rows = [(sat[2], sat[4], np.log(sat[6]), sat[0])]
    for T in temperatures:
        h, s, v, _ = vapour_pt(pressure, float(T))
        rows.append((h, s, np.log(v), float(T)))
    return np.array(rows)


def resample(x: Array, columns: Array, at: Array) -> Array:
    """Carry columns (m, k) sampled at rising ``x`` (m,) over to the places ``at``, by cubic splines."""
    from scipy.interpolate import make_interp_spline

    # The same spline (not-a-knot) in two fifths of the time that CubicSpline takes to set it up.
    resampled: Array = make_interp_spline(x, columns, k=3)(at)
    return resampled


def liquid_row(fluid: Substance, temperature: float) -> tuple[float, ...]:
    """Return one row of ``liquid``: ln p, h, s, v of saturated liquid at T [K] and its slopes."""
    p, h, s, v = fluid.bubble(temperature)
    return (np.log(p), h, s, v, *fluid.bubble_slopes(temperature))


def cache_key(name: str, content: str = "") -> str:
    """Return the file stem of a fluid's tables: it changes with CoolProp's version, the layout and ``content``."""
    digest = hashlib.sha256(f"{_coolprop()}|{name}|{LAYOUT}{content}".encode()).hexdigest()
    return f"{''.join(c for c in name if c.isalnum())}-{digest[:16]}"


@cache
def _coolprop() -> str:
    """Version of CoolProp: to read it takes 2 ms, and each of two dozen fluids asks twice."""
    return version("CoolProp")


def load(name: str, folder: Path | None = None) -> FluidTables:
    """Return the tables of a fluid, from disk if they are there, else built and then kept.

    A cache that cannot be read is built again; one that cannot be written is done without.
    """
    path = opened(folder) / f"{cache_key(name)}.npz"
    stored = read(path)
    if stored is not None and set(stored) == set(FluidTables.__dataclass_fields__):
        return FluidTables(**stored)
    tables = build(name)
    store(path, asdict(tables))
    return tables
