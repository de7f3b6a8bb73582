"""Transport properties of saturated working fluids and of liquid water, tabulated on temperature.

Tables are built once per fluid and kept on disk like those of :mod:`explore.fluids.tables`; the sources are named in
:mod:`explore.fluids.transport_sources` and kept beside the numbers. Linear interpolation on a third of a kelvin.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.metadata import version
from typing import TYPE_CHECKING, NamedTuple, Self

import numpy as np

from explore.cache import cache_folder, read, store
from explore.fluids.interface import Array, Index
from explore.fluids.tables import cache_key
from explore.fluids.transport_sources import PROPERTIES, TITLES, sourced
from explore.fluids.water import ATMOSPHERE_PA, HIGH_K, LOW_K

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

POINTS = 400
"""Every third of a kelvin: nothing of R134a is farther off than 3e-5; every kelvin 3e-4."""
WATER_POINTS = 400
"""Every quarter of a kelvin from freezing to boiling."""
LAYOUT = f"transport-3-{POINTS}"


class Transport(NamedTuple):
    """Saturated liquid and vapour, each (n,).

    mu_l, mu_v viscosity [Pa s]; k_l, k_v conductivity [W/(m K)]; sigma surface tension [N/m]; cp_l, cp_v heat
    capacity [J/(kg K)]; rho_l, rho_v density [kg/m3]; latent heat of vaporisation [J/kg].
    """

    mu_l: Array
    mu_v: Array
    k_l: Array
    k_v: Array
    sigma: Array
    cp_l: Array
    cp_v: Array
    rho_l: Array
    rho_v: Array
    latent: Array


class WaterTransport(NamedTuple):
    """Liquid water at 1 atm: mu [Pa s], k [W/(m K)], cp [J/(kg K)], rho [kg/m3], beta expansion [1/K]; each (n,)."""

    mu: Array
    k: Array
    cp: Array
    rho: Array
    beta: Array


@dataclass(frozen=True)
class FluidTransport:
    """Tables of one fluid: ``limits`` T_low, T_high [K], p_c [Pa], M [kg/mol]; ``table`` (POINTS, 10)."""

    limits: Array
    table: Array
    sources: Array


def build(name: str) -> FluidTransport:
    """Build the tables of one fluid; raises ``ValueError`` (from CoolProp) for an unknown name."""
    import CoolProp

    from explore.fluids.helmholtz import substance

    fluid = substance(name)
    temperatures = np.linspace(fluid.lowest_temperature, fluid.highest_temperature, POINTS)
    found = [sourced(name, key, temperatures) for key in PROPERTIES]
    state = CoolProp.AbstractState("HEOS", name)
    rest = []
    for T in temperatures:
        state.update(CoolProp.QT_INPUTS, 0.0, float(T))
        liquid = (state.cpmass(), state.rhomass(), state.hmass())
        state.update(CoolProp.QT_INPUTS, 1.0, float(T))
        rest.append((liquid[0], state.cpmass(), liquid[1], state.rhomass(), state.hmass() - liquid[2]))
    table = np.column_stack([*(f.values for f in found), np.array(rest)])
    limits = np.array([temperatures[0], temperatures[-1], state.p_critical(), state.molar_mass()])
    return FluidTransport(limits, table, np.array([f.source for f in found]))


def load(name: str, folder: Path | None = None) -> FluidTransport:
    """Return the transport tables of a fluid, from disk if they are there, else built and then kept."""
    key = cache_key(f"{name}|{LAYOUT}|{version('thermo')}|{version('chemicals')}")
    path = (folder or cache_folder()) / f"{key}.npz"
    stored = read(path)
    if stored is not None and set(stored) == {"limits", "table", "sources"}:
        return FluidTransport(**stored)
    built = build(name)
    store(path, {"limits": built.limits, "table": built.table, "sources": built.sources})
    return built


def sources(names: Sequence[str]) -> list[dict[str, str]]:
    """List fluid, property and source of every transport property in use, one row each."""
    return [
        {"fluid": name, "property": TITLES[key], "source": str(words)}
        for name in names
        for key, words in zip(PROPERTIES, load(name).sources, strict=True)
    ]


@dataclass(frozen=True)
class TransportStack:
    """Transport tables of several fluids, one after another, and of water."""

    names: tuple[str, ...]
    limits: Array
    table: Array
    water: Array

    @classmethod
    def of(cls, names: Sequence[str], folder: Path | None = None) -> TransportStack:
        """Load and stack the tables of ``names``."""
        tables = [load(name, folder) for name in names]
        return cls(
            tuple(names),
            np.stack([t.limits for t in tables]),
            np.concatenate([t.table for t in tables]),
            water_table(folder),
        )

    def bind(self, index: Index) -> BoundTransport:
        """Return properties for designs whose fluids are ``names[index]``."""
        return BoundTransport(self, np.asarray(index, dtype=np.intp))


class BoundTransport:
    """Transport properties bound to a batch of designs; also critical pressure [Pa] and molar mass [kg/mol]."""

    def __init__(self, stack: TransportStack, index: Index) -> None:
        self._stack = stack
        self.index = index
        self._low, high, self.critical_pressure, self.molar_mass = stack.limits[index].T
        self._per_K = (POINTS - 1) / (high - self._low)

    def take(self, index: Index) -> Self:
        """Return the properties bound to a part of the batch."""
        return type(self)(self._stack, self.index[index])

    def at(self, temperature: Array) -> Transport:
        """Saturated liquid and vapour at T [K], clipped to the range of the fluid."""
        place = np.clip((temperature - self._low) * self._per_K, 0.0, POINTS - 1.0)
        row = np.minimum(place.astype(np.intp), POINTS - 2)
        a = (place - row)[:, None]
        row = row + self.index * POINTS
        low = self._stack.table.take(row, axis=0)
        return Transport(*(low + a * (self._stack.table.take(row + 1, axis=0) - low)).T)

    def water(self, temperature: Array) -> WaterTransport:
        """Liquid water at T [K], clipped to 273.16 - 373.10 K."""
        scale = (WATER_POINTS - 1) / (HIGH_K - LOW_K)
        place = np.clip((temperature - LOW_K) * scale, 0.0, WATER_POINTS - 1.0)
        row = np.minimum(place.astype(np.intp), WATER_POINTS - 2)
        a = (place - row)[:, None]
        low = self._stack.water.take(row, axis=0)
        return WaterTransport(*(low + a * (self._stack.water.take(row + 1, axis=0) - low)).T)


def water_table(folder: Path | None = None) -> Array:
    """Return the water table (WATER_POINTS, 5), from disk or built: IAPWS formulations through CoolProp."""
    path = (folder or cache_folder()) / f"{cache_key(f'water-transport-{WATER_POINTS}')}.npz"
    stored = read(path)
    if stored is None or "table" not in stored:
        stored = {"table": _build_water()}
        store(path, stored)
    return stored["table"]


def _build_water() -> Array:
    import CoolProp

    state = CoolProp.AbstractState("HEOS", "Water")
    state.specify_phase(CoolProp.iphase_liquid)
    rows = []
    for temperature in np.linspace(LOW_K, HIGH_K, WATER_POINTS):
        state.update(CoolProp.PT_INPUTS, ATMOSPHERE_PA, float(temperature))
        rows.append(
            (
                state.viscosity(),
                state.conductivity(),
                state.cpmass(),
                state.rhomass(),
                state.isobaric_expansion_coefficient(),
            )
        )
    return np.array(rows)
