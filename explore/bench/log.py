"""A bench log: a CSV table whose columns bear their units, each line one steady reading or one single test.

What is read is data. Lines that begin with # and empty lines are passed over; an empty cell is not measured.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from explore.bench.columns import (
    COLUMNS,
    EXCHANGERS,
    GAUGED,
    NEEDED,
    RUNNING,
    Array,
)
from explore.bench.parting import parted, refuse_exchangers
from explore.bench.plant import Built
from explore.bench.plausible import refuse_senseless
from explore.config.explain import closest
from explore.errors import InputError, few

MOST_BYTES = 5_000_000
"""A bench log of steady readings has a few kilobytes; a recorder's raw file is averaged first."""
MOST_LINES = 200
"""Of steady states: weeks at a bench, and a minute of work; more lines are seconds of one state, and are averaged first."""
NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.ASCII | re.IGNORECASE)
"""As instruments write it: no digits of other scripts, nothing that parts thousands."""
WORDS = ("time", "note")
"""Columns of any text, passed over."""
MEANT = {(RUNNING, "store_temperature_degC"): "; of a plant that runs it is hot_water_temperature_degC"}
"""What was meant by a column in a test in which it says nothing."""


@dataclass(frozen=True)
class Reckoned:
    """Doubt of a condition that was reckoned of others: ``covariance`` (n, n) of its lines, and its ``slopes`` (n,) by
    those conditions of the same test whose errors it follows, by name."""

    covariance: Array
    slopes: Mapping[str, Array]


@dataclass(frozen=True)
class Trial:
    """All lines of one kind: ``lines`` of the file, and the columns of it, each (n,), NaN where a cell is empty.

    ``accuracy`` of each column, in its unit: within it lie 95 % of readings. ``joint`` says of a
    condition that was not read but reckoned how far it may be off.
    """

    kind: str
    lines: tuple[int, ...]
    columns: Mapping[str, Array]
    accuracy: Mapping[str, float] = field(default_factory=dict)
    joint: Mapping[str, Reckoned] = field(default_factory=dict)

    def measured(self) -> list[str]:
        """Return the measured columns, in their order."""
        return [name for name in self.columns if self.kind in COLUMNS[name].measured]

    def given(self) -> list[str]:
        """Return the columns that are conditions, in their order."""
        return [name for name in self.columns if self.kind in COLUMNS[name].given]


@dataclass(frozen=True)
class Log:
    """A whole log: its tests, one a kind."""

    path: str
    tests: tuple[Trial, ...]
    untold: tuple[str, ...] = ()
    """sentences on lines that measure the water of an exchanger and lack something else"""
    air_bar: float | None = None
    """air pressure [bar] that was added to what gauges read; None where none was"""

    @property
    def count(self) -> int:
        """Number of measured values."""
        return sum(
            int(np.isfinite(test.columns[name]).sum()) for test in self.tests for name in test.measured()
        )

    @property
    def copied(self) -> tuple[tuple[int, ...], ...]:
        """Lines of the file that are the same in every column, those of one reading together."""
        read: dict[int, list[object]] = {}
        for test in self.tests:
            table = np.column_stack([*test.columns.values()])
            for line, row in zip(test.lines, table, strict=True):
                read.setdefault(line, []).extend((test.kind, row.tobytes()))
        alike: dict[tuple[object, ...], list[int]] = {}
        for line, values in sorted(read.items()):
            alike.setdefault(tuple(values), []).append(line)
        return tuple(tuple(lines) for lines in alike.values() if len(lines) > 1)


def read_log(
    path: str | Path,
    fallback: Mapping[str, float],
    air_bar: float,
    accuracy: Mapping[str, float] | None = None,
    plant: Built | None = None,
) -> Log:
    """Read a log; ``fallback`` are conditions of the machine's file, for running lines of a log without their column.

    Lines of a ``plant`` are divided among its parts (:mod:`explore.bench.parting`); without one there is the engine only.

    ``air_bar`` is the air pressure [bar] that gauge columns are above; ``accuracy`` by column in place of the defaults.
    Raises :class:`InputError` with one sentence that names line and column.
    """
    path = Path(path)
    own = accuracy or {}
    _refuse_accuracies(own)
    header, lines = _table(path)
    rows = [_row(path, header, number, cells, air_bar) for number, cells in lines]
    untold: dict[tuple[str, str], list[int]] = {}
    if plant is None:
        for number, (kind, values) in rows:
            refuse_exchangers(f"log={path}: line {number}", kind, values)
    else:
        for number, (_, values) in rows:
            refuse_senseless(f"log={path}: line {number}", values, own)  # before its parts see but their own
        rows = [one for row in rows for one in _parted(path, row, plant, untold)]
    tests = []
    for kind in NEEDED:
        mine = [(number, values) for number, (found, values) in rows if found == kind]
        if mine:
            test = _test(path, kind, mine, fallback if kind == RUNNING else {}, own)
            tests.append(replace(test, accuracy=accuracies(test, own)))
    return Log(str(path), tuple(tests), _untold(untold), air_bar if set(header) & set(GAUGED) else None)


def _parted(
    path: Path,
    row: tuple[int, tuple[str, dict[str, float]]],
    plant: Built,
    untold: dict[tuple[str, str], list[int]],
) -> list[tuple[int, tuple[str, dict[str, float]]]]:
    """Divide a line of a plant's log; what it lacks for an exchanger is noted in ``untold``."""
    number, (kind, values) = row
    found = parted(f"log={path}: line {number}", kind, values, plant)
    for exchanger, without in found.lacking.items():
        untold.setdefault((exchanger, without), []).append(number)
    return [(number, test) for test in found.tests]


def _untold(lacking: Mapping[tuple[str, str], list[int]]) -> tuple[str, ...]:
    """Say which lines measure the water of an exchanger and still do not tell of it."""
    return tuple(
        f"Of the {exchanger} {'line' if len(lines) == 1 else 'lines'} {', '.join(map(str, lines))} "
        f"{'says' if len(lines) == 1 else 'say'} nothing: {without} is not there."
        for (exchanger, without), lines in lacking.items()
    )


def _table(path: Path) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Return names and lines, each with its number in the file; raises :class:`InputError`."""
    if path.suffix.lower() != ".csv":
        raise InputError(
            f"log={path}: a file ending in .csv is expected; explore task=new what=log writes one"
        )
    try:
        with path.open(encoding="utf-8-sig") as file:  # a device has no size to ask for
            text = file.read(MOST_BYTES + 1)
    except (OSError, UnicodeDecodeError) as error:
        reason = (
            getattr(error, "strerror", None) or "it is no text in UTF-8; a spreadsheet saves it as CSV UTF-8"
        )
        raise InputError(f"log={path}: cannot read it: {reason}") from error
    if len(text) > MOST_BYTES:
        raise InputError(
            f"log={path}: larger than {MOST_BYTES // 1_000_000} MB; average each steady state into one line"
        )
    found = [
        (number, line)
        for number, line in enumerate(text.split("\n"), start=1)  # as an editor counts them
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if len(found) < 2:
        raise InputError(f"log={path}: a line of names and one or more lines of readings are expected")
    if len(found) - 1 > MOST_LINES:
        raise InputError(f"log={path}: more than {MOST_LINES} lines; average each steady state into one line")
    header, *lines = [(number, list(_cells(path, number, line))) for number, line in found]
    return _header(path, *header), lines


def _cells(path: Path, number: int, line: str) -> Iterator[str]:
    try:
        return (cell.strip() for cell in next(csv.reader([line], strict=True)))
    except csv.Error as error:
        raise InputError(f"log={path}: line {number} is no line of a CSV table: {error}") from error


def _header(path: Path, number: int, names: list[str]) -> list[str]:
    known = ["test", *WORDS, *COLUMNS, *GAUGED]
    if len(names) == 1 and any(mark in names[0] for mark in ";\t"):
        raise InputError(
            f"log={path}: line {number}: columns must be parted by commas, numbers written with a point"
        )
    for place, name in enumerate(names, start=1):
        if name in known:
            continue
        shown = name[:60] or f"number {place}, which has no name,"
        near = closest(name, known)
        raise InputError(
            f"log={path}: line {number}: column {shown} is not known{near or f'; known are {few(known, name)}'}; the unit "
            "stands in the name"
        )
    plain = [GAUGED.get(name, name) for name in names]
    for name in plain:
        if plain.count(name) > 1:
            raise InputError(
                f"log={path}: line {number}: column {name} stands there twice, as it is or as a gauge"
            )
    return names


def _row(
    path: Path, header: list[str], number: int, cells: list[str], air_bar: float
) -> tuple[int, tuple[str, dict[str, float]]]:
    """Return a line as its number, its kind, and the numbers in it; raises :class:`InputError`."""
    where = f"log={path}: line {number}"
    if len(cells) > len(header):
        raise InputError(
            f"{where}: it has {len(cells)} cells and the line of names {len(header)}; write 1.5, not 1,5"
        )
    given = {name: cell for name, cell in zip(header, cells, strict=False) if cell}
    kind = given.pop("test", RUNNING)
    if kind not in NEEDED:
        raise InputError(
            f"{where}, column test: {kind[:40]!r} is no test{closest(kind, NEEDED)}; known are {', '.join(NEEDED)}"
        )
    values = {}
    for name, cell in given.items():
        if name not in WORDS:
            values[GAUGED.get(name, name)] = _number(where, kind, name, cell, air_bar)
    return number, (kind, values)


def _number(where: str, kind: str, name: str, cell: str, air_bar: float) -> float:
    column = COLUMNS[GAUGED.get(name, name)]
    number = float(cell) if NUMBER.fullmatch(cell) else math.nan
    if not math.isfinite(number):
        meant = cell.replace(",", ".")
        instead = (
            f"write {meant[:40]}"
            if "," in cell and NUMBER.fullmatch(meant)
            else "leave a cell empty that was not measured"
        )
        raise InputError(f"{where}, column {name}: {cell[:40]!r} is no number; {instead}")
    if kind not in column.tests and not (kind == RUNNING and set(column.tests) & set(EXCHANGERS)):
        raise InputError(
            f"{where}, column {name}: it says nothing in a {kind} test, leave it empty; it is for "
            f"{' and '.join(column.tests)}{MEANT.get((kind, name), '')}"
        )
    shift = air_bar if name in GAUGED else 0.0
    number += shift
    if not column.least <= number <= column.most:
        raise InputError(
            f"{where}, column {name}: {cell[:40]} cannot be; it must lie from {column.least - shift:.4g} to "
            f"{column.most - shift:.4g}, is it in another unit?"
        )
    if name == "stage" and number != int(number):
        raise InputError(f"{where}, column stage: {cell[:40]} is no whole number; stages count from 1")
    return number


def _test(
    path: Path,
    kind: str,
    rows: list[tuple[int, dict[str, float]]],
    fallback: Mapping[str, float],
    own: Mapping[str, float],
) -> Trial:
    """Gather the lines of one kind, each with all the conditions it needs; raises :class:`InputError`."""
    heat = ("inlet_temperature_degC", "inlet_quality")
    anywhere = {name for _, values in rows for name in values}
    for number, values in rows:
        where = f"log={path}: line {number}"
        spare = {name: value for name, value in fallback.items() if name not in values}
        if any(name in values for name in heat):
            spare = {name: value for name, value in spare.items() if name not in heat}
        values |= spare
        missing = [name for name in NEEDED[kind] if name not in values]
        if missing:
            raise InputError(
                f"{where}, column {missing[0]}: a {kind} test needs it, and it is empty or not there"
            )
        if kind == RUNNING and sum(name in values for name in heat) != 1:
            raise InputError(f"{where}: give either inlet_temperature_degC or inlet_quality, one of the two")
        if not any(kind in COLUMNS[name].measured for name in values):
            told = [name for name, column in COLUMNS.items() if kind in column.measured]
            raise InputError(
                f"{where}: nothing is measured in this {kind} test; give {' or '.join(told[-3:])}"
            )
        refuse_senseless(where, values, own)
    names = [name for name in COLUMNS if name in anywhere or any(name in values for _, values in rows)]
    found = {name: np.array([values.get(name, math.nan) for _, values in rows]) for name in names}
    for one in heat:
        if kind == RUNNING and one in found and np.isnan(found[one]).any():
            raise InputError(
                f"log={path}: some running lines have {one} and others have not; give the same one of the two in every line"
            )
    return Trial(kind, tuple(number for number, _ in rows), found)


def _refuse_accuracies(own: Mapping[str, float]) -> None:
    """Raise :class:`InputError` for an accuracy that cannot be."""
    for name, value in own.items():
        if name not in COLUMNS:
            raise InputError(f"accuracy: there is no column {name[:60]}{closest(name, COLUMNS)}")
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(
                f"accuracy: that of {name} is {value:g}; give a positive number in the column's unit"
            )
        if value > COLUMNS[name].most:
            raise InputError(
                f"accuracy: that of {name} is {value:g}, more than it can read at all, {COLUMNS[name].most:g}"
            )


def accuracies(test: Trial, own: Mapping[str, float]) -> dict[str, float]:
    """Return the accuracy of each column of a test."""
    found = {}
    for name, values in test.columns.items():
        column = COLUMNS[name]
        read = np.abs(values[np.isfinite(values)])
        most = float(np.max(read, initial=0.0)) if column.share else 1.0
        found[name] = own.get(name, column.accuracy * most)
    return found
