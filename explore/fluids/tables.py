"""Vectorised property tables, built once per fluid from the Helmholtz equations and kept on disk.

Layout of one fluid, on a uniform grid of ln p from the pressure floor to the roof:

- ``line``: bubble and dew states at each pressure, with the spans of entropy and enthalpy from
  the dew point to 405 K;
- ``by_entropy`` and ``by_enthalpy``: vapour on (ln p, y), y the distance from the dew line in units of
  the span. Following the dew line keeps the kink there off the grid;
- ``by_superheat``: vapour on (ln p, T - T_dew);
- ``liquid``: saturated liquid and its pressure slopes on a uniform grid of temperature.

All interpolation is linear on grids fine enough for the accuracy stated in the tests; two-phase
states follow the lever rule. Tables of all fluids are stacked, so that one call serves a batch
of mixed fluids.
"""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Self

import numpy as np

from explore.cache import opened, read, store
from explore.fluids import kernels
from explore.fluids.interface import (
    HIGHEST_VAPOUR_K,
    LOWEST_SATURATION_K,
    Array,
    Index,
    Liquid,
    Saturation,
    Vapour,
)
from explore.machine_code import handed, loaded

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

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
LAYOUT = f"7/{PRESSURES}/{STEPS}/{SUPERHEATS}/{HIGHEST_SUPERHEAT_K}/{TEMPERATURES}/{BUILD_STEPS}"

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
    """Sample vapour h, s, ln v, T from the dew point upward, more densely near it: vapour bends most there."""
    rise = max(HIGHEST_VAPOUR_K, sat[0] + HIGHEST_SUPERHEAT_K) - sat[0]
    temperatures = sat[0] + rise * np.linspace(0.0, 1.0, BUILD_STEPS)[1:] ** 1.7
    rows = [(sat[2], sat[4], np.log(sat[6]), sat[0])]
    for T in temperatures:
        h, s, v, _ = vapour_pt(pressure, float(T))
        rows.append((h, s, np.log(v), float(T)))
    return np.array(rows)


def resample(x: Array, columns: Array, at: Array) -> Array:
    """Carry columns (m, k) sampled at rising ``x`` (m,) over to the places ``at``, by cubic splines."""
    from scipy.interpolate import CubicSpline

    resampled: Array = CubicSpline(x, columns, axis=0)(at)
    return resampled


def liquid_row(fluid: Substance, temperature: float) -> tuple[float, ...]:
    """Return one row of ``liquid``: ln p, h, s, v of saturated liquid at T [K] and its slopes."""
    p, h, s, v = fluid.bubble(temperature)
    return (np.log(p), h, s, v, *fluid.bubble_slopes(temperature))


def cache_key(name: str, content: str = "") -> str:
    """Return the file stem of a fluid's tables: it changes with CoolProp's version, the layout and ``content``."""
    digest = hashlib.sha256(f"{version('CoolProp')}|{name}|{LAYOUT}{content}".encode()).hexdigest()
    return f"{''.join(c for c in name if c.isalnum())}-{digest[:16]}"


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


@dataclass(frozen=True)
class Stack:
    """Tables of several fluids laid one after another, flattened for fast look-up."""

    names: tuple[str, ...]
    limits: Array
    line: Array
    by_entropy: Array
    by_enthalpy: Array
    by_superheat: Array
    liquid: Array
    domes: Array

    @classmethod
    def of(cls, names: Sequence[str], folder: Path | None = None) -> Stack:
        """Load and stack the tables of ``names``."""
        tables = [load(name, folder) for name in names]

        def flat(key: str) -> Array:
            joined = np.stack([getattr(t, key) for t in tables])
            return np.ascontiguousarray(joined.reshape(-1, joined.shape[-1]))

        parts = ("line", "by_entropy", "by_enthalpy", "by_superheat", "liquid")
        return cls(
            names=tuple(names),
            limits=np.stack([t.limits for t in tables]),
            domes=np.stack([t.dome for t in tables]),
            **{key: flat(key) for key in parts},
        )

    def bind(self, index: Index) -> TableFluid:
        """Return properties for designs whose fluids are ``names[index]``."""
        return TableFluid(self, np.asarray(index, dtype=np.intp))


@lru_cache(maxsize=2)
def stacked(names: tuple[str, ...], folder: Path) -> Stack:
    """Return the tables of fluids, loaded once a process: models of one case and the next share them."""
    return Stack.of(names, folder)


def _held(place: Array, last: float) -> Array:
    """Hold places within a table, finite before they are cast; what is no number is at its start."""
    return np.asarray(np.clip(np.where(np.isnan(place), 0.0, place), 0.0, last))


class TableFluid:
    """:class:`~explore.fluids.interface.WorkingFluid` on stacked tables.

    Accuracy against the Helmholtz equations over the search space: pressure 0.02 %, enthalpy
    differences 0.1 %, specific volume 0.1 % (tests/fluids/test_tables.py).
    """

    glides = False

    def __init__(self, stack: Stack, index: Index) -> None:
        self._stack = stack
        self._index = index
        limits = np.ascontiguousarray(stack.limits[index].T)
        lnp_low, lnp_high, self._T_low, self._T_high, self._T_crit, self._molar_mass = limits
        self._lnp_low = lnp_low
        self._per_lnp = (PRESSURES - 1) / (lnp_high - lnp_low)
        self._per_T = (TEMPERATURES - 1) / (self._T_high - self._T_low)
        self._row0 = index * PRESSURES
        self._liquid0 = index * TEMPERATURES
        self._compiled = loaded(kernels, len(index))

    def take(self, index: Index) -> Self:
        """Return the properties bound to a part of the batch."""
        return type(self)(self._stack, self._index[index])

    @property
    def critical_temperature(self) -> Array:
        """Critical temperature [K], shape (n,)."""
        return np.asarray(self._T_crit)

    @property
    def molar_mass(self) -> Array:
        """Molar mass [kg/mol], shape (n,)."""
        return np.asarray(self._molar_mass)

    @property
    def pressure_floor(self) -> Array:
        """Lowest pressure resolved [Pa], shape (n,)."""
        return np.asarray(np.exp(self._lnp_low))

    def _locate(self, pressure: Array) -> tuple[Index, Array]:
        """Return the lower row of each pressure and its place between that and the next."""
        return self._between(np.log(pressure), self._lnp_low, self._per_lnp, self._row0, PRESSURES)

    def _between(self, value: Array, low: Array, per: Array, first: Index, count: int) -> tuple[Index, Array]:
        """Place values on uniform grids of ``count`` points that begin at the rows ``first``."""
        if self._compiled is not None and value.shape == low.shape:
            row, a = np.empty(len(low), dtype=np.intp), np.empty(len(low))
            self._compiled.locate(handed(value), low, per, first, count, row, a)
            return row, a
        place = _held((value - low) * per, count - 1.0)
        row = np.minimum(place.astype(np.intp), count - 2)
        return row + first, place - row

    def _line(self, row: Index, a: Array) -> Array:
        return self._along(self._stack.line, row, a)

    def _line_at(self, table: Array, value: Array, low: Array, per: Array, first: Index, count: int) -> Array:
        """Columns of a table at places on its grid, as :meth:`_between` and :meth:`_along` find them, (k, n)."""
        if self._compiled is not None and value.shape == low.shape:
            out = np.empty((table.shape[1], len(low)))
            self._compiled.line_at(table, handed(value), low, per, first, count, out)
            return out
        return self._along(table, *self._between(value, low, per, first, count))

    def _along(self, table: Array, row: Index, a: Array) -> Array:
        """Columns of a table between the rows ``row`` and the next, (k, n)."""
        if self._compiled is not None:
            out = np.empty((table.shape[1], len(row)))
            self._compiled.line(table, row, a, 0, out)
            return out
        low = table.take(row, axis=0)
        high = table.take(row + 1, axis=0)
        high -= low
        high *= a[:, None]
        high += low
        return high.T

    def _plane(self, table: Array, width: int, row: Index, a: Array, place: Array) -> Array:
        """Bilinear look-up of all columns, (k, n); ``place`` may run past the last column, linearly."""
        if self._compiled is not None:
            out = np.empty((table.shape[1], len(row)))
            self._compiled.plane(table, width, row, a, handed(place), out)
            return out
        column = np.minimum(_held(place, width - 1.0).astype(np.intp), width - 2)
        b = np.where(np.isfinite(place), place, column) - column
        corner = row * width + column
        ab = a * b
        out = table.take(corner, axis=0)
        out *= (1.0 - a - b + ab)[:, None]
        for offset, weight in ((1, b - ab), (width, a - ab), (width + 1, ab)):
            part = table.take(corner + offset, axis=0)
            part *= weight[:, None]
            out += part
        return out.T

    def saturation_pressure(self, temperature: Array) -> Array:
        """Vapour pressure [Pa], temperature clipped to the range of the fluid."""
        return np.asarray(np.exp(self._liquid_line(temperature)[0]))

    def dew_pressure(self, temperature: Array) -> Array:
        """Vapour pressure [Pa], which is the dew pressure too."""
        return self.saturation_pressure(temperature)

    def saturation(self, pressure: Array) -> Saturation:
        """Bubble and dew states."""
        T, h_l, h_v, s_l, s_v, v_l, lnv_v, _, _ = self._line_at(
            self._stack.line, np.log(pressure), self._lnp_low, self._per_lnp, self._row0, PRESSURES
        )
        return Saturation(T, h_l, h_v, s_l, s_v, v_l, np.exp(lnv_v), T)

    def quality(self, pressure: Array, enthalpy: Array) -> Array:
        """Vapour's share by mass [-], by the lever rule."""
        _, h_l, h_v, *_ = self.saturation(pressure)
        return np.minimum((enthalpy - h_l) / (h_v - h_l), 1.0)

    def superheated(self, pressure: Array, superheat: Array) -> Vapour:
        """Superheated vapour."""
        row, a = self._locate(pressure)
        place = superheat * ((SUPERHEATS - 1) / HIGHEST_SUPERHEAT_K)
        h, s, lnv = self._plane(self._stack.by_superheat, SUPERHEATS, row, a, place)
        return Vapour(h, s, np.exp(lnv), self._line(row, a)[0] + superheat)

    def from_entropy(self, pressure: Array, entropy: Array) -> Vapour:
        """State from pressure and entropy."""
        h, v, T = self._state(pressure, entropy, self._stack.by_entropy, BY_ENTROPY)
        return Vapour(h, entropy, v, T)

    def from_enthalpy(self, pressure: Array, enthalpy: Array) -> Vapour:
        """State from pressure and enthalpy."""
        s, v, T = self._state(pressure, enthalpy, self._stack.by_enthalpy, BY_ENTHALPY)
        return Vapour(enthalpy, s, v, T)

    def _state(
        self, pressure: Array, value: Array, vapour: Array, places: tuple[int, int, int]
    ) -> tuple[Array, Array, Array]:
        """Find the sought property, volume and temperature from the pressure and the ``value`` of another property.

        ``places`` of the columns of LINE: the known and the sought property of saturated liquid, those of dry vapour come
        next, and the known one's span.
        """
        known, sought, span = places
        if self._compiled is not None and value.shape == pressure.shape == self._row0.shape:
            out = np.empty((5, len(value)))
            self._compiled.state(
                self._stack.line, vapour, STEPS, known, sought, span, np.log(pressure), self._lnp_low, self._per_lnp,
                self._row0, PRESSURES, handed(value), out,
            )  # fmt: skip
            found, lnv, T, x, v_l = out
            return found, v_l + x * (np.exp(lnv) - v_l), T
        row, a = self._locate(pressure)
        line = self._line(row, a)
        liquid, dew = line[known], line[known + 1]
        above = value - dew
        found, lnv, T = self._plane(vapour, STEPS, row, a, above * ((STEPS - 1) / line[span]))
        v = np.exp(lnv)
        wet = above < 0.0
        if wet.any():
            x = 1.0 + above / (dew - liquid)
            found = np.where(wet, line[sought] + x * (line[sought + 1] - line[sought]), found)
            v_l, lnv_v = line[LINE.index("v_l")], line[LINE.index("lnv_v")]
            v = np.where(wet, v_l + x * (np.exp(lnv_v) - v_l), v)
            T = np.where(wet, line[0], T)
        return found, v, T

    def _liquid_line(self, temperature: Array) -> Array:
        return self._line_at(
            self._stack.liquid, temperature, self._T_low, self._per_T, self._liquid0, TEMPERATURES
        )

    def liquid(self, pressure: Array, temperature: Array) -> Liquid:
        """Liquid state from temperature: saturated liquid and its slope with pressure."""
        return self._liquid_below(pressure, temperature, self.saturation(pressure).temperature)

    def _liquid_below(self, pressure: Array, temperature: Array, boiling: Array) -> Liquid:
        """:meth:`liquid` where the temperature at which the pressure boils is known."""
        T = np.minimum(temperature, boiling)
        lnp, h, s, v, dh_dp, dv_dT = self._liquid_line(T)
        rise = pressure - np.exp(lnp)
        return Liquid(h + dh_dp * rise, s - dv_dT * rise, v, T)

    def liquid_from_enthalpy(self, pressure: Array, enthalpy: Array) -> Liquid:
        """Liquid state from enthalpy: Newton steps on :meth:`liquid`."""
        T = boiling = self.saturation(pressure).temperature
        for _ in range(5):
            near = self._liquid_below(pressure, T, boiling)
            step = self._liquid_below(pressure, T - 0.5, boiling)
            slope = np.maximum((near.enthalpy - step.enthalpy) / 0.5, 100.0)
            T = np.clip(T + (enthalpy - near.enthalpy) / slope, self._T_low, boiling)
        return self._liquid_below(pressure, T, boiling)
