"""How much surface a state asks of boiler and condenser: by coefficients of heat transfer, or by tubes.

Zones and mean differences are those by which every design is sized; so are the tubes, whose number and diameters are
those that were built. Arrays (n,), SI inside.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from explore.bench.columns import Array
from explore.bench.plant import ZONES, Tubed
from explore.config.schema import Engine
from explore.cycle.duties import boiler_duties, coil_duties, condenser_duties
from explore.fluids.interface import Saturation
from explore.plant.boiler import Level, Zone
from explore.plant.exchange import zone_area
from explore.plant.sizing import Service, size
from explore.plant.tubes import Tubes, Tubing


class Warmed(NamedTuple):
    """What hot water does in a boiler: vapour ``raised`` per kg of it, its ``stream`` [kg/s], and the ``feed`` [K]."""

    raised: Array
    stream: Array
    feed: Array


class Cooled(NamedTuple):
    """What a condenser is at: ``pressure`` [Pa] and ``line`` of saturation there, ``cold`` liquid and ``hot`` exhaust [K].

    ``stream`` [kg/s] is that of the cooling water.
    """

    pressure: Array
    line: Saturation
    cold: Array
    hot: Array
    stream: Array


@dataclass(frozen=True)
class Coefficients:
    """Coefficients [W/(m2 K)] of boiler (or coil) and condenser by zone, numbers or (n,)."""

    boiler: Mapping[str, Any]
    condenser: Mapping[str, Any]

    @classmethod
    def of(cls, engine: Engine, boiler: str) -> Coefficients:
        """Return those of an engine set; names of the ``boiler``'s begin with that word."""
        return cls(films_of(engine, boiler), films_of(engine, "condenser"))

    def coil(self, level: Level, zones: list[Zone], flow: Array, feed: Array, store: Array) -> Array:
        """Area [m2] of a coil that passes ``flow`` [kg/s] of fluid."""
        return area_of(zones, flow, self.boiler)

    def boiling(self, level: Level, zones: list[Zone], warmed: Warmed) -> Array:
        """Area [m2] of a boiler; heat of ``zones`` per kg of hot water."""
        return area_of(zones, warmed.stream, self.boiler)

    def condensing(self, zones: list[Zone], flow: Array, cooled: Cooled) -> Array:
        """Area [m2] of a condenser that passes ``flow`` [kg/s] of fluid."""
        return area_of(zones, flow, self.condenser)


@dataclass(frozen=True)
class OfTubes:
    """Tubes that were ``built``, of the films that ``tubing`` gives them; its fluid stands in ``place`` of the catalogue.

    The factor on films of ``tubing`` is a number or (n,).
    """

    tubing: Tubing
    built: Tubed
    place: int

    def coil(self, level: Level, zones: list[Zone], flow: Array, feed: Array, store: Array) -> Array:
        """Area [m2] of a coil that passes ``flow`` [kg/s] of fluid, fed at ``feed`` [K], in a ``store`` [K]."""
        duties = coil_duties(level, zones, flow, feed, store)
        service = Service("boiling", level.temperature, level.pressure, duties)
        return self._area(self.built.boiler, service, self.built.boilers[0])

    def boiling(self, level: Level, zones: list[Zone], warmed: Warmed) -> Array:
        """Area [m2] of a boiler; heat of ``zones`` per kg of hot water."""
        (duties,) = boiler_duties([level], [warmed.raised], warmed.stream, zones, warmed.feed)
        service = Service("boiling", level.temperature, level.pressure, duties)
        return self._area(self.built.boiler, service, self.built.boilers[0])

    def condensing(self, zones: list[Zone], flow: Array, cooled: Cooled) -> Array:
        """Area [m2] of a condenser that passes ``flow`` [kg/s] of fluid."""
        line, per_kg = cooled.line, cooled.stream / flow
        duties = condenser_duties(line, zones, cooled.cold, cooled.hot, per_kg, flow)
        service = Service("condensing", line.temperature, cooled.pressure, duties)
        return self._area(self.built.condenser, service, self.built.condensers)

    def _area(self, tubes: Tubes, service: Service, count: float) -> Array:
        n = len(service.pressure)
        bound = self.tubing.bind(np.full(n, self.place, dtype=np.intp))
        return size(self.tubing, tubes, bound, service, count=np.full(n, count)).area


Surfaces = Coefficients | OfTubes


def with_factor(tubing: Tubing, factor: Any) -> Tubing:
    """Return tubing whose films are those of the correlations times a ``factor``, a number or (n,)."""
    return replace(tubing, films_factor=factor)


def films_of(engine: Engine, part: str) -> dict[str, float]:
    """Coefficients [W/(m2 K)] of a part by zone."""
    return {zone: getattr(engine, f"{part}_U_{zone}") for zone in ZONES}


def area_of(zones: list[Zone], flow: Array, films: Mapping[str, Any]) -> Array:
    """Area [m2] that zones need, their heat counted on ``flow`` [kg/s]; films may be arrays (n,)."""
    parts = [zone_area(z.heat * flow, films[z.name], z.hot_difference, z.cold_difference) for z in zones]
    return np.asarray(np.sum(parts, axis=0))
