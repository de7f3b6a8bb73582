"""All states and flows around the working fluid, as the cycle leaves them and every part reads them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from explore.fluids.interface import Array, Index, Liquid, WorkingFluid
from explore.plant import boiler
from explore.plant.condenser import Condenser
from explore.plant.engine import Stage
from explore.plant.exchange import Regenerator


class Drops(NamedTuple):
    """Pressure [Pa] lost in the exchangers, each (n,), and the tubes side by side in which it is lost.

    ``boilers`` from boiling liquid to the receiver it feeds, hottest first; ``condenser`` from the engine to where vapour
    condenses; ``hot_water`` and ``cooling_water`` in the water's ways; ``boiler_counts`` and ``condenser_count`` of tubes.
    """

    boilers: list[Array]
    condenser: Array
    hot_water: Array
    cooling_water: Array
    boiler_counts: list[Array]
    condenser_count: Array

    def take(self, index: Index) -> Drops:
        """Return those of the designs ``index``."""
        return Drops(
            [drop[index] for drop in self.boilers],
            self.condenser[index],
            self.hot_water[index],
            self.cooling_water[index],
            [count[index] for count in self.boiler_counts],
            self.condenser_count[index],
        )


class Vapour(NamedTuple):
    """Vapour on its way to the engine: pressure [Pa] and enthalpy [J/kg], each (n,)."""

    pressure: Array
    enthalpy: Array


class Passed(NamedTuple):
    """The vapour of boiler ``level`` before and behind the ``part`` of the vapour line that it passed."""

    part: str
    level: int
    before: Vapour
    behind: Vapour


class LinePart(NamedTuple):
    """A part of the vapour line: what comes out of it, of what goes in and the pressure [Pa] behind the engine."""

    part: str
    passing: Callable[[WorkingFluid, Vapour, Array], Vapour]


@dataclass(frozen=True)
class Cycle:
    """All states and flows of one cycle; flows and works per kg of total working-fluid flow, each (n,).

    ``raised`` [kg per kg of hot water] per boiler (ones in a fully mixed store), ``shares`` [-] the flow of each boiler
    over the total, ``stage_flows`` [-] the flow through each stage over the total, ``hot_water`` [kg/kg],
    ``return_temperature`` [K] (NaN when no water circulates); ``arriving`` the vapour at the receiver that each boiler
    feeds, behind what it ``passed``.
    """

    levels: list[boiler.Level]
    raised: list[Array]
    shares: list[Array]
    stages: list[Stage]
    stage_flows: list[Array]
    receiver_enthalpies: list[Array]
    condensate: Liquid
    feed: Liquid
    warmed: Array
    regenerator: Regenerator
    condenser: Condenser
    condenser_pressure: Array
    hot_water: Array
    hot_water_work: Array
    cooling_water_work: Array
    feed_work: Array
    lift_work: Array
    return_temperature: Array
    shaft_work: Array
    heat: Array
    flow_ratio: Array
    arriving: list[Vapour]
    passed: list[Passed]
    drops: Drops | None = None

    def take(self, index: Index) -> Cycle:
        """Return those of the designs ``index``."""
        taken: Cycle = rows(self, index)
        return taken

    @property
    def pump_work(self) -> Array:
        """Work of all feed pumps [J/kg]."""
        return self.feed_work + self.lift_work

    @property
    def circulation_work(self) -> Array:
        """Work of the water pumps [J/kg]."""
        return self.hot_water_work + self.cooling_water_work

    @property
    def net_work(self) -> Array:
        """Shaft work less feed pumps and water circulation [J/kg]."""
        return self.shaft_work - self.pump_work - self.circulation_work

    @property
    def warmed_temperature(self) -> Array:
        """Temperature [K] at which the feed enters the coldest boiler."""
        return self.regenerator.warmed.temperature

    @property
    def into_condenser(self) -> Array:
        """Enthalpy that enters the condenser [J/kg]."""
        return self.regenerator.exhaust_enthalpy


def rows(record: Any, index: Index) -> Any:
    """Return a record of records with the rows ``index`` of every array in it; what is no array stays."""
    if isinstance(record, np.ndarray):
        return record[index]
    if isinstance(record, list):
        return [rows(item, index) for item in record]
    if isinstance(record, tuple):
        taken = [rows(item, index) for item in record]
        return type(record)(*taken) if hasattr(record, "_fields") else tuple(taken)
    if is_dataclass(record) and not isinstance(record, type):
        return replace(record, **{f.name: rows(getattr(record, f.name), index) for f in fields(record)})
    return record


def put(record: Any, index: Index, part: Any) -> Any:
    """Return a record of records with the rows ``index`` of every array replaced by those of ``part``."""
    if isinstance(record, np.ndarray):
        whole = record.copy()
        whole[index] = part
        return whole
    if isinstance(record, list | tuple):
        done = [put(one, index, other) for one, other in zip(record, part, strict=True)]
        if isinstance(record, list):
            return done
        return type(record)(*done) if hasattr(record, "_fields") else tuple(done)
    if is_dataclass(record) and not isinstance(record, type):
        changed = {f.name: put(getattr(record, f.name), index, getattr(part, f.name)) for f in fields(record)}
        return replace(record, **changed)
    return record
