"""The plain twin of the tables: working fluids of a batch straight from CoolProp, one call at a time."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any, Self

import numpy as np

from explore.fluids.blend import Blend
from explore.fluids.interface import Array, Index, Liquid, Saturation, Vapour
from explore.fluids.mixture import Mixture
from explore.fluids.substance import Substance

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence


@lru_cache(maxsize=64)
def substance(name: str | Blend, wide: bool = False) -> Substance:
    """Return the one :class:`Substance` of a name or mixture in this process (construction costs 20 ms)."""
    return Mixture(name) if isinstance(name, Blend) else Substance(name, wide)


class HelmholtzFluid:
    """:class:`~explore.fluids.interface.WorkingFluid` on Helmholtz equations.

    ``names`` lists fluids (all pure, or all mixtures), ``index`` (n,) tells which of them each design uses.
    ``wide`` opens the range of saturation for textbook cases far from the search space.
    """

    def __init__(self, names: Sequence[str | Blend], index: Index, wide: bool = False) -> None:
        self._names = tuple(names)
        self._index = index
        self._wide = wide
        self._substances = [substance(name, wide) for name in names]
        self.glides = any(s.glides for s in self._substances)

    def take(self, index: Index) -> Self:
        """Return the properties bound to a part of the batch."""
        return type(self)(self._names, self._index[index], self._wide)

    def _each(self, call: Callable[[Substance], Callable[..., Any]], *arguments: Array) -> Any:
        states = list(zip(self._index.tolist(), *(a.tolist() for a in arguments), strict=True))
        known = {state: call(self._substances[state[0]])(*state[1:]) for state in dict.fromkeys(states)}
        return np.array([known[state] for state in states], dtype=float)

    @property
    def critical_temperature(self) -> Array:
        """Critical temperature [K], shape (n,)."""
        return np.array([s.critical_temperature for s in self._substances])[self._index]

    @property
    def molar_mass(self) -> Array:
        """Molar mass [kg/mol], shape (n,)."""
        return np.array([s.molar_mass for s in self._substances])[self._index]

    @property
    def pressure_floor(self) -> Array:
        """Lowest pressure resolved [Pa], shape (n,)."""
        return np.array([s.pressure_floor for s in self._substances])[self._index]

    @property
    def pressure_roof(self) -> Array:
        """Highest pressure resolved [Pa], shape (n,)."""
        return np.array([s.pressure_roof for s in self._substances])[self._index]

    def _clipped(self, temperature: Array) -> Array:
        low = np.array([s.lowest_temperature for s in self._substances])[self._index]
        high = np.array([s.highest_temperature for s in self._substances])[self._index]
        return np.clip(temperature, low, high)

    def saturation_pressure(self, temperature: Array) -> Array:
        """Bubble pressure [Pa], temperature clipped to the range of the fluid."""
        pressure: Array = self._each(lambda s: s.vapour_pressure, self._clipped(temperature)).ravel()
        return pressure

    def dew_pressure(self, temperature: Array) -> Array:
        """Dew pressure [Pa], temperature clipped to the range of the fluid."""
        pressure: Array = self._each(lambda s: s.dew, self._clipped(temperature)).reshape(-1, 4)[:, 0]
        return pressure

    def saturation(self, pressure: Array) -> Saturation:
        """Bubble and dew states."""
        return Saturation(*_rows(self._each(lambda s: s.saturation, pressure), 8))

    def quality(self, pressure: Array, enthalpy: Array) -> Array:
        """Vapour's share by mass [-]."""
        share: Array = self._each(lambda s: s.quality, pressure, enthalpy).ravel()
        return share

    def superheated(self, pressure: Array, superheat: Array) -> Vapour:
        """Superheated vapour."""
        return Vapour(*_rows(self._each(lambda s: s.superheated, pressure, superheat), 4))

    def from_entropy(self, pressure: Array, entropy: Array) -> Vapour:
        """State from pressure and entropy."""
        return Vapour(*_rows(self._each(lambda s: s.from_entropy, pressure, entropy), 4))

    def from_enthalpy(self, pressure: Array, enthalpy: Array) -> Vapour:
        """State from pressure and enthalpy."""
        return Vapour(*_rows(self._each(lambda s: s.from_enthalpy, pressure, enthalpy), 4))

    def liquid(self, pressure: Array, temperature: Array, boiling: Array | None = None) -> Liquid:
        """Liquid state from temperature; the equation finds ``boiling`` by itself."""
        return Liquid(*_rows(self._each(lambda s: s.liquid, pressure, temperature), 4))

    def liquid_from_enthalpy(self, pressure: Array, enthalpy: Array) -> Liquid:
        """Liquid state from enthalpy."""
        return Liquid(*_rows(self._each(lambda s: s.liquid_from_enthalpy, pressure, enthalpy), 4))


def _rows(values: Array, width: int) -> Array:
    """Values (n, ``width``) property by property, each in one stretch of memory, as loops take them without a copy."""
    return np.ascontiguousarray(values.reshape(-1, width).T)
