"""Properties of a batch of fluids from their tables (:mod:`explore.fluids.tables`), laid one after another.

All interpolation is linear on grids fine enough for the accuracy stated in the tests; two-phase states follow the lever
rule. Tables of all fluids are stacked, so that one call serves a batch of mixed fluids.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Self

import numpy as np

from explore.cache import mapped, store_mapped
from explore.fluids import kernels
from explore.fluids.interface import Array, Index, Liquid, Saturation, Vapour
from explore.fluids.tables import (
    BY_ENTHALPY,
    BY_ENTROPY,
    HIGHEST_SUPERHEAT_K,
    LINE,
    LIQUID,
    PRESSURES,
    STEPS,
    SUPERHEATS,
    TEMPERATURES,
    cache_key,
    load,
)
from explore.machine_code import handed, loaded

MANY = 8
"""Fewer tables are read and laid one after another in a tenth of a second."""
STACKS = 3
"""Of all fluids one takes seventy megabytes of the disk."""
SHAPES = {
    "limits": (6,),
    "line": (PRESSURES, len(LINE)),
    "by_entropy": (PRESSURES, STEPS, 3),
    "by_enthalpy": (PRESSURES, STEPS, 3),
    "by_superheat": (PRESSURES, SUPERHEATS, 3),
    "liquid": (TEMPERATURES, len(LIQUID)),
}
"""What each fluid has of each part of a stack."""


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
            **{key: flat(key) for key in parts},
        )

    def bind(self, index: Index) -> TableFluid:
        """Return properties for designs whose fluids are ``names[index]``."""
        return TableFluid(self, np.asarray(index, dtype=np.intp))


@lru_cache(maxsize=2)
def stacked(names: tuple[str, ...], folder: Path) -> Stack:
    """Return the tables of fluids, loaded once a process: models of one case and the next share them.

    Those of many fluids are kept stacked as well: every process then reads them where they lie, in a hundredth of the time.
    """
    if len(names) < MANY:
        return Stack.of(names, folder)
    keys = "|".join(map(cache_key, names))
    path = folder / f"stack-{hashlib.sha256(keys.encode()).hexdigest()[:16]}.npy"
    whole, sizes = mapped(path), [len(names) * math.prod(shape) for shape in SHAPES.values()]
    if whole is None or whole.dtype != np.float64 or whole.shape != (sum(sizes),):
        stack = Stack.of(names, folder)
        store_mapped(path, np.concatenate([getattr(stack, key).ravel() for key in SHAPES]), STACKS)
        return stack
    parts = zip(SHAPES.items(), np.split(whole, np.cumsum(sizes)[:-1]), strict=True)
    return Stack(names, **{key: part.reshape(-1, shape[-1]) for (key, shape), part in parts})


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
            found, volume, T, x, v_l = out
            np.exp(volume, out=volume)
            volume -= v_l
            volume *= x
            volume += v_l
            return found, volume, T
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

    def liquid(self, pressure: Array, temperature: Array, boiling: Array | None = None) -> Liquid:
        """Liquid state from temperature: saturated liquid and its slope with pressure."""
        T = np.minimum(temperature, self.saturation(pressure).temperature if boiling is None else boiling)
        lnp, h, s, v, dh_dp, dv_dT = self._liquid_line(T)
        rise = pressure - np.exp(lnp)
        return Liquid(h + dh_dp * rise, s - dv_dT * rise, v, T)

    def liquid_from_enthalpy(self, pressure: Array, enthalpy: Array) -> Liquid:
        """Liquid state from enthalpy: Newton steps on :meth:`liquid`."""
        T = boiling = self.saturation(pressure).temperature
        for _ in range(5):
            near = self.liquid(pressure, T, boiling)
            step = self.liquid(pressure, T - 0.5, boiling)
            slope = np.maximum((near.enthalpy - step.enthalpy) / 0.5, 100.0)
            T = np.clip(T + (enthalpy - near.enthalpy) / slope, self._T_low, boiling)
        return self.liquid(pressure, T, boiling)
