"""Tables of one mixture behind the interface of the pure fluids' tables.

Vapour and liquid are tabulated as in :mod:`explore.fluids.tables`, the vapour above the dew line, the liquid below the
bubble line. What is added to a pure fluid's tables:

- ``line``: a column with the dew temperature (its first column is that of the bubble point);
- ``liquid``: a column with ln of the dew pressure at each temperature;
- ``wet_by_enthalpy`` and ``wet_by_entropy``: two-phase states on (ln p, y), y running from the bubble to the dew point in
  equal steps of enthalpy or of entropy. They hold p v instead of v, which varies little along ln p;
- ``charge`` and ``gas``: mass fractions of the components in the charge, and in the first gas above it at 20 degC.

A mixture is tabulated and kept on disk once, about five seconds' work; one that cannot be is remembered with
the reason.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from explore import cache
from explore.fluids import tables
from explore.fluids.blend import Blend, UnusableError
from explore.fluids.interface import Array, Index, Saturation, Vapour
from explore.fluids.table_fluid import Stack, TableFluid
from explore.fluids.tables import (
    HIGHEST_SUPERHEAT_K,
    PRESSURES,
    STEPS,
    SUPERHEATS,
    TEMPERATURES,
    FluidTables,
)

if TYPE_CHECKING:
    from explore.fluids.mixture import Mixture

QUALITIES = 25
"""Flashes of an isobar that the splines go through. 13 serve butane with propane as well, 7 leave 1.5e-3 K."""
WET_STEPS = 64
"""Two-phase temperatures within 4e-4 K of the flashes; with 32 steps 1.3e-3 K."""
LAYOUT = f"1/{QUALITIES}/{WET_STEPS}"
REASON = "reason"


@dataclass(frozen=True)
class MixtureTables(FluidTables):
    """The tables of one mixture; shapes as in the module's docstring."""

    wet_by_enthalpy: Array
    wet_by_entropy: Array
    charge: Array
    gas: Array


def load(blend: Blend, folder: Path | None = None) -> MixtureTables:
    """Return the tables of a mixture, from disk if they are there, else built and then kept.

    Raises :class:`UnusableError` where the equation of state does not serve over the whole range.
    """
    path = cache.opened(folder) / f"{tables.cache_key(blend.name, f'|{blend}|{LAYOUT}')}.npz"
    stored = cache.read(path)
    if stored is not None and set(stored) == {REASON}:
        raise UnusableError(blend.name, str(stored[REASON]))
    if stored is not None and set(stored) == {f.name for f in fields(MixtureTables)}:
        return MixtureTables(**stored)
    try:
        built = build(blend)
    except UnusableError as error:
        cache.store(path, {REASON: np.array(error.reason)})
        raise
    cache.store(path, asdict(built))
    return built


def fault(blend: Blend) -> str | None:
    """Return why a mixture cannot be used, None if it can."""
    try:
        load(blend)
    except UnusableError as error:
        return error.reason
    return None


def shares(blend: Blend) -> tuple[dict[str, float], dict[str, float]]:
    """Return the mass fractions of the charge and of the first gas above it at 20 degC, by component."""
    held = load(blend)
    charge, gas = (dict(zip(blend.components, x.tolist(), strict=True)) for x in (held.charge, held.gas))
    return charge, gas


def build(blend: Blend) -> MixtureTables:
    """Build the tables of a mixture from its Helmholtz equation; raises :class:`UnusableError`."""
    from explore.fluids.mixture import Mixture, failed

    fluid = Mixture(blend)
    lnp = np.linspace(np.log(fluid.pressure_floor), np.log(fluid.pressure_roof), PRESSURES)
    parts: list[tuple[Array, ...]] = []
    for pressure in np.exp(lnp).tolist():
        try:
            parts.append((*_vapour(fluid, pressure), *_wet(fluid, pressure)))
        except ValueError as error:
            raise failed(blend, pressure) from error
    line, by_entropy, by_enthalpy, by_superheat, wet_by_enthalpy, wet_by_entropy = map(
        np.array, zip(*parts, strict=True)
    )
    temperatures = np.linspace(fluid.lowest_temperature, fluid.highest_temperature, TEMPERATURES)
    try:
        rows = [(*tables.liquid_row(fluid, T), np.log(fluid.dew(T)[0])) for T in temperatures.tolist()]
        charge, gas = blend.mass_fractions(blend.mole_fractions()), fluid.gas_fractions()
    except ValueError as error:
        raise failed(blend, fluid.pressure_roof) from error
    limits = [
        lnp[0],
        lnp[-1],
        temperatures[0],
        temperatures[-1],
        fluid.critical_temperature,
        fluid.molar_mass,
    ]
    built = MixtureTables(
        np.array(limits), line, by_entropy, by_enthalpy, by_superheat, np.array(rows), _dome(rows, fluid, temperatures),
        wet_by_enthalpy, wet_by_entropy, np.array(charge), np.array(gas),
    )  # fmt: skip
    return _sound(blend, built)


def _vapour(fluid: Mixture, pressure: float) -> tuple[Array, Array, Array, Array]:
    """One pressure's row of ``line`` and of the three tables of vapour."""
    sat = fluid.saturation(pressure)
    at_dew = (sat[7], *sat[1:7])
    vapour = tables.isobar(fluid.vapour_pt, pressure, at_dew)
    h_span, s_span = vapour[-1, 0] - sat[2], vapour[-1, 1] - sat[4]
    y, superheat = np.linspace(0.0, 1.0, STEPS), np.linspace(0.0, HIGHEST_SUPERHEAT_K, SUPERHEATS)
    return (
        np.array([*sat[:6], np.log(sat[6]), s_span, h_span, sat[7]]),
        tables.resample(vapour[:, 1], vapour[:, [0, 2, 3]], sat[4] + y * s_span),
        tables.resample(vapour[:, 0], vapour[:, [1, 2, 3]], sat[2] + y * h_span),
        tables.resample(vapour[:, 3], vapour[:, [0, 1, 2]], sat[7] + superheat),
    )


def _wet(fluid: Mixture, pressure: float) -> tuple[Array, Array]:
    """One pressure's rows of the two-phase tables: (s, p v, T, share) by enthalpy and (h, p v, T) by entropy."""
    states = np.array([fluid.at_quality(pressure, q) for q in np.linspace(0.0, 1.0, QUALITIES).tolist()])
    h, s = states[:, 0], states[:, 1]
    rest = np.column_stack([pressure * states[:, 2], states[:, 3:]])
    y = np.linspace(0.0, 1.0, WET_STEPS)
    return (
        tables.resample(h, np.column_stack([s, rest]), h[0] + y * (h[-1] - h[0])),
        tables.resample(s, np.column_stack([h, rest[:, :2]]), s[0] + y * (s[-1] - s[0])),
    )


def _dome(rows: list[tuple[float, ...]], fluid: Mixture, temperatures: Array) -> Array:
    """T, s', s'' along both lines for drawing, open at the top: the tables end below the critical point."""
    place = np.linspace(0, TEMPERATURES - 1, tables.DOME_POINTS).astype(int)
    return np.array([(temperatures[i], rows[i][2], fluid.dew(float(temperatures[i]))[2]) for i in place])


def _sound(blend: Blend, built: MixtureTables) -> MixtureTables:
    """Return the tables if they can be those of a mixture: finite, lines in order, rising; else refuse."""
    T, h_l, h_v, s_l, s_v, v_l, lnv_v, *_, dew = built.line.T
    arrays = [value for value in asdict(built).values()]
    order = (h_v > h_l) & (s_v > s_l) & (np.exp(lnv_v) > v_l) & (dew > T - 1e-3) & (v_l > 0.0)
    rising = [
        T,
        dew,
        built.liquid[:, 0],
        built.liquid[:, 6],
        *built.wet_by_enthalpy[..., 2],
        *built.wet_by_enthalpy[..., 0],
    ]
    if (
        not all(np.isfinite(x).all() for x in arrays)
        or not order.all()
        or any(np.diff(x).min() < -1e-6 for x in rising)
    ):
        raise UnusableError(
            blend.name, "its bubble and dew lines are not in order: CoolProp finds no sound states"
        )
    return built


@dataclass(frozen=True)
class MixtureStack(Stack):
    """Tables of one mixture, flattened for fast look-up."""

    wet_by_enthalpy: Array
    wet_by_entropy: Array

    @classmethod
    def of_one(cls, blend: Blend, folder: Path | None = None) -> MixtureStack:
        """Load the tables of one mixture."""
        one = load(blend, folder)

        def flat(array: Array) -> Array:
            return np.ascontiguousarray(array.reshape(-1, array.shape[-1]))

        return cls(
            names=(blend.name,), limits=one.limits[None], line=one.line, by_entropy=flat(one.by_entropy),
            by_enthalpy=flat(one.by_enthalpy), by_superheat=flat(one.by_superheat), liquid=one.liquid,
            wet_by_enthalpy=flat(one.wet_by_enthalpy), wet_by_entropy=flat(one.wet_by_entropy),
        )  # fmt: skip

    def bind(self, index: Index) -> MixtureTableFluid:
        """Return properties for as many designs as ``index`` has entries."""
        return MixtureTableFluid(self, np.zeros(len(index), dtype=np.intp))


@lru_cache(maxsize=16)
def stack(blend: Blend) -> MixtureStack:
    """Return the tables of a mixture, read from disk once in this process."""
    return MixtureStack.of_one(blend)


class MixtureTableFluid(TableFluid):
    """:class:`~explore.fluids.interface.WorkingFluid` of one mixture, on tables."""

    glides = True
    _stack: MixtureStack

    def _liquid_line(self, temperature: Array) -> Array:
        return super()._liquid_line(temperature)[:6]

    def dew_pressure(self, temperature: Array) -> Array:
        """Dew pressure [Pa], temperature clipped to the range of the mixture."""
        return np.asarray(np.exp(super()._liquid_line(temperature)[6]))

    def saturation(self, pressure: Array) -> Saturation:
        """Bubble and dew states."""
        T, h_l, h_v, s_l, s_v, v_l, lnv_v, _, _, dew = self._line(*self._locate(pressure))
        return Saturation(T, h_l, h_v, s_l, s_v, v_l, np.exp(lnv_v), dew)

    def superheated(self, pressure: Array, superheat: Array) -> Vapour:
        """Superheated vapour."""
        row, a = self._locate(pressure)
        place = superheat * ((SUPERHEATS - 1) / HIGHEST_SUPERHEAT_K)
        h, s, lnv = self._plane(self._stack.by_superheat, SUPERHEATS, row, a, place)
        return Vapour(h, s, np.exp(lnv), self._line(row, a)[9] + superheat)

    def _pressure(self, row: Index, a: Array) -> Array:
        """Pressure [Pa] of a place in the grid, so that p v and v agree."""
        return np.asarray(np.exp(self._lnp_low + (row - self._row0 + a) / self._per_lnp))

    def from_entropy(self, pressure: Array, entropy: Array) -> Vapour:
        """State from pressure and entropy."""
        row, a = self._locate(pressure)
        _, _, _, s_l, s_v, _, _, s_span, _, _ = self._line(row, a)
        above = entropy - s_v
        h, lnv, T = self._plane(self._stack.by_entropy, STEPS, row, a, above * ((STEPS - 1) / s_span))
        wet = above < 0.0
        place = np.clip(1.0 + above / (s_v - s_l), 0.0, 1.0) * (WET_STEPS - 1)
        h_wet, pv, T_wet = self._plane(self._stack.wet_by_entropy, WET_STEPS, row, a, place)
        v = np.where(wet, pv / self._pressure(row, a), np.exp(lnv))
        return Vapour(np.where(wet, h_wet, h), entropy, v, np.where(wet, T_wet, T))

    def from_enthalpy(self, pressure: Array, enthalpy: Array) -> Vapour:
        """State from pressure and enthalpy."""
        row, a = self._locate(pressure)
        _, h_l, h_v, _, _, _, _, _, h_span, _ = self._line(row, a)
        above = enthalpy - h_v
        s, lnv, T = self._plane(self._stack.by_enthalpy, STEPS, row, a, above * ((STEPS - 1) / h_span))
        wet = above < 0.0
        s_wet, pv, T_wet, _ = self._wet(row, a, above / (h_v - h_l))
        v = np.where(wet, pv / self._pressure(row, a), np.exp(lnv))
        return Vapour(enthalpy, np.where(wet, s_wet, s), v, np.where(wet, T_wet, T))

    def _wet(self, row: Index, a: Array, below: Array) -> Array:
        """Two-phase s, p v, T and vapour's share; ``below`` the dew point in units of the span of enthalpy."""
        place = np.clip(1.0 + below, 0.0, 1.0) * (WET_STEPS - 1)
        return self._plane(self._stack.wet_by_enthalpy, WET_STEPS, row, a, place)

    def quality(self, pressure: Array, enthalpy: Array) -> Array:
        """Vapour's share by mass [-]."""
        row, a = self._locate(pressure)
        _, h_l, h_v, *_ = self._line(row, a)
        share = self._wet(row, a, (enthalpy - h_v) / (h_v - h_l))[3]
        return np.where(enthalpy < h_v, share, 1.0)
