"""What a plant does: records of arrays over a batch of designs, SI and kelvin, grouped by what they belong to.

A record is made for a group of designs of one structure and scattered into that of the whole batch. Where a design has
no such thing (a third stage, a discharge of a stratified store, tubes) its rows are NaN.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Self

import numpy as np

from explore.figures.catalogue import TUBE_FIGURES
from explore.fluids.interface import Array, Index
from explore.plant.correlations import validity

STAGES = 3
"""Stages that an engine may have: columns of a record of stages."""
GRID = 129
"""Temperatures between empty and full at which a fully mixed store's part load is handed to the year."""


def per_stage(values: list[Array]) -> Array:
    """Stack up to three stages as (n, 3), empty where there is no stage."""
    blank = np.full_like(values[0], np.nan)
    return np.stack([*values, *[blank] * (STAGES - len(values))], axis=1)


def wide(columns: int) -> dict[str, int]:
    """Mark a field as (n, columns); without a mark it is (n,)."""
    return {"columns": columns}


@dataclass(frozen=True)
class Record:
    """Arrays whose first axis is the design, and records of such."""

    @classmethod
    def empty(cls, n: int) -> Self:
        """Return a record of NaN for ``n`` designs; one that holds records says how."""
        marks = (f.metadata for f in cls.__dataclass_fields__.values())
        shapes = [(n, mark["columns"]) if mark else (n,) for mark in marks]
        return cls(*(np.full(shape, np.nan) for shape in shapes))

    def parts(self) -> list[Any]:
        """List the arrays and records that this one holds, in the order of its fields."""
        return [getattr(self, name) for name in self.__dataclass_fields__]

    def take(self, index: Index) -> Self:
        """Return the designs ``index``, as arrays of their own."""
        return type(self)(*(p.take(index) if isinstance(p, Record) else p[index] for p in self.parts()))

    def fill(self, index: Index, group: Self) -> None:
        """Write a ``group`` of designs into the rows ``index``."""
        for own, new in zip(self.parts(), group.parts(), strict=True):
            if isinstance(own, Record):
                own.fill(index, new)
            else:
                own[index, ...] = new


@dataclass(frozen=True)
class RatedPoint(Record):
    """The rated cycle, each (n,): works and ``heat`` [J] and waters [kg] for one kilogram of working fluid.

    ``isentropic_efficiency`` [-] of all stages together, ``exhaust_quality`` [-] behind the last, ``return_temperature``
    [K] of the hot water.
    """

    net_work: Array
    shaft_work: Array
    pump_work: Array
    circulation_work: Array
    heat: Array
    isentropic_efficiency: Array
    exhaust_quality: Array
    hot_water: Array
    cooling_water: Array
    return_temperature: Array


@dataclass(frozen=True)
class Pressures(Record):
    """Pressures [Pa] of the plant, each (n,): ``boiler`` and ``lowest_boiler`` at the rated point, ``highest_boiler`` ever.

    ``condenser_glide`` [K] is the dew point's height above the bubble point; ``suction`` [Pa] the saturation pressure
    and ``suction_volume`` [m3/kg] the specific volume of the liquid before the feed pump.
    """

    boiler: Array
    highest_boiler: Array
    lowest_boiler: Array
    condenser: Array
    condenser_glide: Array
    suction: Array
    suction_volume: Array


@dataclass(frozen=True)
class Densities(Record):
    """Densities [kg/m3] of what fills the machine: liquid and vapour (n,), vapour in the ``receivers`` (n, 3)."""

    boiler_liquid: Array
    boiler_vapour: Array
    condenser_liquid: Array
    condenser_vapour: Array
    receivers: Array = field(metadata=wide(STAGES))


@dataclass(frozen=True)
class Stages(Record):
    """Each stage at the rated point, (n, 3).

    ``volume_ratios`` [-], ``inlet_pressures`` [Pa], ``works`` [J/kg of total flow]. What they lose:
    ``leakages`` and ``wall_shares`` [-] of what they take in, ``frictions`` [Pa] as mean pressures.
    """

    volume_ratios: Array = field(metadata=wide(STAGES))
    inlet_pressures: Array = field(metadata=wide(STAGES))
    works: Array = field(metadata=wide(STAGES))
    leakages: Array = field(metadata=wide(STAGES))
    wall_shares: Array = field(metadata=wide(STAGES))
    frictions: Array = field(metadata=wide(STAGES))


@dataclass(frozen=True)
class EngineSize(Record):
    """The engine that was sized: ``flow`` [kg/s] of working fluid for the power asked (n,), its cylinders (n, 3).

    ``swept_volumes`` [m3] count all cylinders of a stage, ``bores`` and ``strokes`` [m] are of one. ``residual`` [-] that
    the last sweep still moved and ``port_mach`` [-] by which the worst inlet port passes its limit are (n,), NaN with
    constant losses.
    """

    flow: Array
    swept_volumes: Array = field(metadata=wide(STAGES))
    bores: Array = field(metadata=wide(STAGES))
    strokes: Array = field(metadata=wide(STAGES))
    residual: Array
    port_mach: Array


@dataclass(frozen=True)
class Running(Record):
    """``speeds`` [1/s] and ``powers`` [W] at the engine's shaft, (n, 3): with a full store, rated, at the sizing point."""

    speeds: Array = field(metadata=wide(3))
    powers: Array = field(metadata=wide(3))


@dataclass(frozen=True)
class Areas(Record):
    """Areas [m2] of the exchangers, each (n,): ``boiler`` is all boilers or the coil."""

    boiler: Array
    condenser: Array
    regenerator: Array


@dataclass(frozen=True)
class Tubes(Record):
    """Exchangers made of tubes: ``figures`` (n, len(TUBE_FIGURES)) in that order, margins (n,), positive when passed.

    ``outside`` (n, len(validity.NAMES)): excess over the ranges of correlations. ``unsettled`` [-] by how much the
    drops in the cycle miss their own; ``fluid_drop_excess`` [-] and ``water_drop_excess`` [Pa] over what may be lost;
    ``boiler_lack`` and ``condenser_lack`` [m] of length where tubes are at hand.
    """

    figures: Array = field(metadata=wide(len(TUBE_FIGURES)))
    outside: Array = field(metadata=wide(len(validity.NAMES)))
    unsettled: Array
    fluid_drop_excess: Array
    water_drop_excess: Array
    boiler_lack: Array
    condenser_lack: Array


@dataclass(frozen=True)
class Exchangers(Record):
    """Exchangers of the plant: their areas, and their tubes where they are made of such.

    They are those of the state in which most heat flows, as is their ``cooling_water`` [kg/s], (n,).
    """

    areas: Areas
    tubes: Tubes
    cooling_water: Array

    @classmethod
    def empty(cls, n: int) -> Self:
        """Return exchangers of NaN for ``n`` designs."""
        return cls(Areas.empty(n), Tubes.empty(n), np.full(n, np.nan))


@dataclass(frozen=True)
class Standing(Record):
    """The store at rest, each (n,): ``mass`` [kg], ``loss`` coefficient [W/K], mean ``heat_capacity`` [J/(kg K)]."""

    mass: Array
    loss: Array
    heat_capacity: Array


@dataclass(frozen=True)
class Circulation(Record):
    """What only a stratified store has, each (n,): its water circulates through the boilers.

    ``held_fraction`` [-] of the charge after the holding time, ``heat`` [J] drawn per kilogram of water; margins that are
    positive when passed: ``hot_end`` and ``cold_end`` [K] of the boilers, ``level_flow`` [-] of one that raises nothing.
    """

    held_fraction: Array
    heat: Array
    hot_end: Array
    cold_end: Array
    level_flow: Array


@dataclass(frozen=True)
class Discharge(Record):
    """What only a fully mixed store has: its engine from full to ``floor_temperature`` [K], the lowest used.

    ``held_temperature`` [K] after the holding time (n,), ``part_load`` [-] positive where the engine gives too little at
    the sizing point (n,). Over the temperatures from floor to full (n, GRID): ``efficiencies``, net work at the load per
    heat [-], ``powers`` at full speed over that asked [-], and ``cooling`` water [kg] per joule of heat.
    """

    held_temperature: Array
    floor_temperature: Array
    part_load: Array
    efficiencies: Array = field(metadata=wide(GRID))
    powers: Array = field(metadata=wide(GRID))
    cooling: Array = field(metadata=wide(GRID))


@dataclass(frozen=True)
class Margins(Record):
    """Margins of the rated cycle, each (n,), positive when passed.

    ``clearance`` and ``recompression`` [-] of the worst stage; ``critical_excess`` [K] of the hottest boiling over 0.95 of
    the critical temperature.
    """

    clearance: Array
    recompression: Array
    critical_excess: Array


@dataclass(frozen=True)
class Performance(Record):
    """What the plant does; ``work_per_volume`` [J/m3] of the load for one charge of the store, (n,)."""

    rated: RatedPoint
    pressures: Pressures
    densities: Densities
    stages: Stages
    engine: EngineSize
    running: Running
    exchangers: Exchangers
    store: Standing
    circulation: Circulation
    discharge: Discharge
    margins: Margins
    work_per_volume: Array

    @classmethod
    def empty(cls, n: int) -> Self:
        """Return a record of NaN for ``n`` designs, to be filled group by group."""
        return cls(
            RatedPoint.empty(n),
            Pressures.empty(n),
            Densities.empty(n),
            Stages.empty(n),
            EngineSize.empty(n),
            Running.empty(n),
            Exchangers.empty(n),
            Standing.empty(n),
            Circulation.empty(n),
            Discharge.empty(n),
            Margins.empty(n),
            np.full(n, np.nan),
        )
