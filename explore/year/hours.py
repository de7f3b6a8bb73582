"""One design marched by the hour up to a day of the year, and through it with the books of each hour."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from explore.units import SECONDS_PER_HOUR
from explore.year.course import HOURS
from explore.year.mixed_store import LEAST_EFFICIENCY, BankedStore, MixedStore, step_counts
from explore.year.plants import MixedPlants, StratifiedPlants
from explore.year.series import NO_SUN, Year, first_demand_hours
from explore.year.stratified_store import StratifiedStore
from explore.year.tally import Columns

Array = NDArray[np.float64]


@dataclass(frozen=True)
class HourBooks:
    """What the year's own march says of the hours of one day: heat [J] and demand hours served [h], (24,) each.

    ``start``: how the store stands when the day begins: of a stratified one the hot share [-] and half the distance of
    the cold water below the hot [K], of a fully mixed one its temperature [K].
    """

    start: tuple[float, ...]
    collected: Array
    lost: Array
    dumped: Array
    drawn: Array
    served: Array


BOOKS = ("collected", "lost", "dumped", "drawn", "served")
"""What is counted of every hour; the last is no heat."""


def hours_of(year: Year, plants: StratifiedPlants | MixedPlants, day: int) -> HourBooks:
    """March the first design of ``plants`` from the new year to the end of day number ``day`` (from 0)."""
    store = made(year, plants)
    first = first_demand_hours(year)
    sunny = np.any(year.effective_irradiance > 0.0, axis=0)
    sun = year.effective_irradiance[int(store.kind[0])]
    sun = np.where(sun > 0.0, sun, NO_SUN)
    entries: list[list[float]] = []
    start: tuple[float, ...] = ()
    room = None
    for hour in range(HOURS * (day + 1)):
        if hour == HOURS * day:
            start = state(store)
        if hour >= HOURS * day:
            entries.append([float(getattr(store, name)[0]) for name in BOOKS])
        if year.room_temperature_K[hour] != room:
            room = float(year.room_temperature_K[hour])
            store.surround(room)
        gain = store.gain * sun[hour] if sunny[hour] else None
        air = year.air_temperature_K[hour : hour + 1]
        store.pass_hour(gain, air, demand=bool(year.demand[hour]), warming=hour in first)
    entries.append([float(getattr(store, name)[0]) for name in BOOKS])
    each = np.diff(np.array(entries), axis=0).T
    each[:-1] *= float(store.heat_unit[0])
    return HourBooks(start, **dict(zip(BOOKS, each, strict=True)))


def loss_ahead(plants: StratifiedPlants, books: HourBooks, warm_up: Array) -> Array:
    """Heat [J] that hours lose beyond what they do in ever shorter steps, (24,), by the order of an hour alone.

    Standing loss is UA/(m c) times the heat above the room, hot water or cold. The hourly march takes it of all that has
    come in the hour and before anything is drawn; in the hour itself half of what comes and goes stands there on average,
    and of a ``warm_up`` [J] (24,), which is drawn as the hour begins, nothing. To first order; derived here.
    """
    d = columns_of(plants)
    capacity = float((d["mass"] * d["heat"] / (d["top"] - d["back"]))[0])
    share = float(d["UA"][0]) * SECONDS_PER_HOUR / capacity
    return np.asarray(0.5 * share * (books.collected - books.dumped + books.drawn + warm_up))


def state(store: StratifiedStore | MixedStore) -> tuple[float, ...]:
    """How the first of some stores stands, as :class:`HourBooks` writes its start."""
    if isinstance(store, StratifiedStore):
        return float(store.hot[0]), float(store.half[0])
    return (float(store.temperature[0]),)


def made(year: Year, plants: StratifiedPlants | MixedPlants) -> StratifiedStore | MixedStore:
    """Return the store of the first design as the year begins with it."""
    columns = columns_of(plants)
    if isinstance(plants, StratifiedPlants):
        return StratifiedStore(columns, year)
    steps = int(step_counts(columns, year)[0])
    columns["bank"] = _first(plants.bank_efficiency)
    return (BankedStore if np.isfinite(columns["bank"][0]) else MixedStore)(columns, year, steps)


def runs(plants: StratifiedPlants | MixedPlants) -> bool:
    """Whether the engine of the first design gives work from a full store; the year of one that does not is empty."""
    if isinstance(plants, StratifiedPlants):
        work, span = (
            plants.work_per_kg_water_J,
            np.subtract(plants.top_temperature_K, plants.return_temperature_K),
        )
        return bool(_first(work)[0] > 0.0 and _first(span)[0] > 0.0)
    last = {name: float(grid[0, -1]) for name, grid in plants.grids().items()}
    return last["efficiency"] > LEAST_EFFICIENCY and last["fraction"] > 0.0


def columns_of(plants: StratifiedPlants | MixedPlants) -> Columns:
    """Return what stores are made of, for the first design alone."""
    columns: Columns = {name: _first(values) for name, values in plants.columns().items()}
    if isinstance(plants, MixedPlants):
        columns |= {name: grid[:1] for name, grid in plants.grids().items()}
    return columns


def _first(values: object) -> Array:
    """Return the first of some values, or the one there is, as (1,)."""
    return np.atleast_1d(np.asarray(values, dtype=np.float64)).ravel()[:1].copy()
