"""The hourly year of a batch of designs: sun into the store, heat out of it, shaft work served.

Within an hour the order is: collector heat, standing loss, the engine's draw, and what no longer fits is dumped. A
fully mixed store that an hour can move by more than a few kelvin takes it in several steps of that order. The loop over
hours runs in machine code where :mod:`explore.machine_code` has it, else in Python with every operation over all designs
of the batch, in place; both give the same bits.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from explore.machine_code import WORTH, at_hand, loaded
from explore.year import kernels
from explore.year.kernels import MIXED, MIXED_STATE, STRATIFIED, STRATIFIED_STATE
from explore.year.mixed_store import (
    LEAST_EFFICIENCY,
    BankedStore,
    MixedStore,
    step_counts,
)
from explore.year.plants import MixedPlants, StratifiedPlants
from explore.year.series import LaidOut, Year, first_demand_hours, make_year, sun_table
from explore.year.stratified_store import StratifiedStore
from explore.year.tally import Array, Columns

__all__ = ["SeasonResult", "Year", "make_year", "mixed_year", "stratified_year"]

CHUNK = 2048
"""Designs handled at once: enough to spread the cost of a call, few enough for the processor's cache."""
SUN_BLOCK = 16
"""Hours whose sun is spread over the designs of a chunk at a time: 16 of 2048 designs are 256 kB."""


class Diary:
    """How ``n`` stores stand when each hour begins, and when the year ends: arrays (hours + 1, n), filled in by the year.

    ``served``: demand hours served since the year began; ``heat``: what the collectors brought in and the store
    kept [J]; ``level``: share of the store that is hot, or the temperature of a fully mixed one [K]. Zero for
    designs that cannot work.
    """

    def __init__(self, year: Year, n: int) -> None:
        self.served, self.heat, self.level = np.zeros((3, len(year.demand) + 1, n))

    def enter(self, rows: NDArray[np.intp], pages: Array, store: StratifiedStore | MixedStore) -> None:
        """Write down what was seen of ``rows``: ``pages`` (hours, 3, rows), in the store's units of heat."""
        last = np.stack([store.served, store.collected - store.dumped, store.level])
        whole = np.concatenate([pages, last[None]])
        self.served[:, rows], self.level[:, rows] = whole[:, 0], whole[:, 2]
        self.heat[:, rows] = whole[:, 1] * store.heat_unit


@dataclass(frozen=True)
class SeasonResult:
    """What the year gave; every array has shape (n,). A design that cannot work has served nothing.

    The store's books close: collected = drawn + lost + dumped + stored_change.
    """

    served_share: Array
    """of the energy asked for [-]"""
    shaft_energy_kWh: Array
    longest_unserved_hours: Array
    """longest stretch of demand hours without a fully served one, their unserved parts added up [h]"""
    autonomy_hours: Array
    """running time of a full store without sun, standing loss and warm-up left out [h]"""
    bridged_hours: Array
    """hours of the power asked that the work of that time makes: where the engine fades an hour counts as part [h]"""
    stagnation_hours: Array
    """hours in which heat was dumped [h]"""
    collector_yield_kWh: Array
    """heat the collectors brought into the store, pipe loss and dumped heat taken off"""
    sun_to_shaft_efficiency: Array
    """shaft energy over all irradiation of the collector area [-]"""
    cooling_water_L: Array
    collected_J: Array
    """heat arriving at the store, pipe loss taken off"""
    drawn_J: Array
    """by the engine, warm-up included"""
    lost_J: Array
    """standing loss"""
    dumped_J: Array
    stored_change_J: Array
    """content of the store at the year's end less that at its start"""


def stratified_year(
    year: Year, plants: StratifiedPlants, *, diary: Diary | None = None, plain: bool = False
) -> SeasonResult:
    """Run the year on stratified stores, each a hot layer at T_top above a cold one.

    Args:
        year: the hourly series.
        plants: the designs.
        diary: is told hour by hour what the stores do.
        plain: march as arrays, even where compiled loops are at hand.

    Heat that a full store cannot take makes up for the standing loss and the draw of the same hour before the
    rest is dumped. The hot layer loses in an hour at most what it holds. Where heat does not suffice for the
    warm-up it is spent on it, and the warm-up counts as done.
    """
    columns = _columns(**plants.columns())
    positive = [columns[name] > 0.0 for name in ("mass", "heat", "work", "power", "loss_capacity")]
    warmest = np.max(year.room_temperature_K)
    works = np.all([*positive, columns["top"] > columns["back"], columns["top"] > warmest], axis=0)
    index = np.flatnonzero(works & _finite(columns))
    return _by_chunks(
        year, columns, [(index, StratifiedStore)], diary, None if plain else len(columns["top"])
    )


def mixed_year(
    year: Year, plants: MixedPlants, *, diary: Diary | None = None, plain: bool = False
) -> SeasonResult:
    """Run the year on fully mixed stores, each at one temperature.

    Args:
        year: the hourly series.
        plants: the designs.
        diary: is told hour by hour what the stores do.
        plain: march as arrays, even where compiled loops are at hand.

    In an hour without sun the engine draws the store down along its curves (:mod:`explore.year.discharge`). With sun its
    heat, power and cooling water are those at the middle of a step, between the store at its start and at its end: half an
    hour, or less where an hour can move the store by more than a few kelvin. Above T_top its values serve.
    """
    columns, grids = _columns(**plants.columns()), plants.grids()
    bank = np.atleast_1d(np.asarray(plants.bank_efficiency, dtype=np.float64))
    n = max(len(columns["top"]), len(bank), *(len(grid) for grid in grids.values()))
    columns = {name: np.broadcast_to(column, n) for name, column in columns.items()} | grids
    works = (columns["capacity"] > 0.0) & (columns["power"] > 0.0) & (columns["top"] > columns["floor"])
    runs = (grids["efficiency"][:, -1] > LEAST_EFFICIENCY) & (grids["fraction"][:, -1] > 0.0)
    index = np.flatnonzero(works & runs & _finite(columns))
    steps = step_counts({name: column[index] for name, column in columns.items()}, year)
    columns["bank"] = np.broadcast_to(bank, n)
    banked = np.isfinite(columns["bank"])[index]
    groups = [
        (index[(steps == k) & (banked == into_bank)], partial(store, steps=k))
        for k in np.unique(steps).tolist()
        for into_bank, store in ((False, MixedStore), (True, BankedStore))
    ]
    # A year of one such store takes two seconds as arrays, and what has been translated half a second to fetch.
    worth = WORTH if n < WORTH and at_hand(kernels) else n
    return _by_chunks(year, columns, groups, diary, None if plain else worth)


def _columns(**columns: ArrayLike) -> Columns:
    """All columns as float arrays of one length."""
    arrays = np.broadcast_arrays(*(np.atleast_1d(np.asarray(c, dtype=np.float64)) for c in columns.values()))
    return dict(zip(columns, arrays, strict=True))


def _finite(columns: Columns) -> NDArray[np.bool_]:
    """Rows in which every column and grid is finite."""
    return np.all([np.isfinite(c.reshape(len(c), -1)).all(axis=1) for c in columns.values()], axis=0)


def _by_chunks(
    year: Year,
    columns: Columns,
    groups: Sequence[tuple[NDArray[np.intp], Callable[[Columns, Year], StratifiedStore | MixedStore]]],
    diary: Diary | None,
    worth: int | None,
) -> SeasonResult:
    """Run groups of designs, each with what makes its store, chunk by chunk; all others have served nothing.

    Compiled loops are fetched as for ``worth`` designs; None: never.
    """
    compiled = None if worth is None else loaded(kernels, worth)
    results = {field.name: np.zeros(len(columns["top"])) for field in fields(SeasonResult)}
    results["longest_unserved_hours"][:] = np.count_nonzero(year.demand)
    for index, store in groups:
        for rows in np.array_split(index, -(-len(index) // CHUNK)) if len(index) else []:
            chunk = {name: np.ascontiguousarray(column[rows]) for name, column in columns.items()}
            made = store(chunk, year)
            pages = np.empty((len(year.demand) if diary else 0, 3, len(rows)))
            if compiled:
                _race(compiled, made, year.laid_out, pages)
            else:
                _march(made, year, pages)
            if diary:
                diary.enter(rows, pages, made)
            for name, values in made.results(year).items():
                results[name][rows] = values
    return SeasonResult(**results)


def _race(compiled: Any, store: StratifiedStore | MixedStore, year: LaidOut, pages: Array) -> None:
    """March one chunk through the year by a compiled loop, which fills the ``pages`` of a diary, if there are any."""
    series = (pages, year.sun, year.air, year.room, year.hours)
    if isinstance(store, StratifiedStore):
        given, state = _rows(store, STRATIFIED), _rows(store, STRATIFIED_STATE)
        compiled.stratified(given, state, *series)
        names = STRATIFIED_STATE
    else:
        given, state = _rows(store, MIXED), _rows(store, MIXED_STATE)
        n = given.shape[1]
        grids = (grid.reshape(n, -1) for grid in (store.flow, store.fraction, store.cooling))
        discharge = store.discharge
        sums = (np.ascontiguousarray(each) for each in (discharge.hours, discharge.work, discharge.water))
        compiled.mixed(given, state, *grids, *sums, discharge.widest, store.steps, *series, year.asked)
        names = MIXED_STATE
    for name, row in zip(names, state, strict=True):
        setattr(store, name, row)


def _rows(store: StratifiedStore | MixedStore, names: Sequence[str]) -> Array:
    """Attributes of a store, each a row."""
    return np.array([getattr(store, name) for name in names], dtype=np.float64)


def _march(store: StratifiedStore | MixedStore, year: Year, pages: Array) -> None:
    """March one chunk through the year and fill the ``pages`` of a diary, if there are any."""
    sunny = np.any(year.effective_irradiance > 0.0, axis=0)
    gains = _gains(year.effective_irradiance[:, sunny], store.kind, store.gain)
    first = first_demand_hours(year)
    air = list(year.air_temperature_K.reshape(-1, 1))
    room, around = year.room_temperature_K.tolist(), None
    for hour, (sun, demand) in enumerate(zip(sunny.tolist(), year.demand.tolist(), strict=True)):
        if len(pages):
            pages[hour] = store.served, store.collected - store.dumped, store.level
        if room[hour] != around:
            around = room[hour]
            store.surround(around)
        gain = next(gains) if sun else None
        store.pass_hour(gain, air[hour], demand=demand, warming=hour in first)


def _gains(irradiance: Array, kind: NDArray[np.intp], factor: Array) -> Iterator[Array]:
    """Yield, for one sunny hour after the other, what each design's collector takes in at no loss, (n,)."""
    table = sun_table(irradiance)
    for start in range(0, len(table), SUN_BLOCK):
        block = table[start : start + SUN_BLOCK].take(kind, axis=1)
        block *= factor
        yield from block
