"""What is known of a column by its name, and how its numbers are written.

Units, labels, groups and digits come from the records of inputs, figures and limits; a test holds the unit at the end of
each name against them. Only a column without a record, as of a run of another version, is told by its name alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from math import isfinite

from explore.design import variables
from explore.figures import catalogue, limits, readings
from explore.figures.names import parted
from explore.figures.record import GROUPS, OTHER, Place, Record

FLAGS = tuple(one.name for one in catalogue.FLAGS)
COLUMNS: dict[str, Record] = {
    one.name: one
    for one in (
        *variables.RECORDS,
        *catalogue.FLAGS,
        *catalogue.RECORDS,
        *catalogue.TUBE_RECORDS,
        *catalogue.WORDS,
        *limits.RECORDS,
        *readings.RECORDS,
    )
}
"""All columns that have a record, in the order in which they are shown."""

# Gauge pressures and margins are differences: what is less than this is no pressure.
LEAST_BAR = {"bar gauge": 0.01, "bar": 0.0005}
THIN_SPACE = "\u202f"
NONE = "–"
LONG = 100_000  # from here on even whole numbers keep no more than three digits


@cache
def record(name: str) -> Record:
    """Return what is known of a column; of one without a record, what its name says."""
    if name in COLUMNS:
        return COLUMNS[name]
    if readings.over_worlds(name):
        return readings.derived(record(readings.plain(name)), name)
    if name.startswith(limits.BOUND):
        return limits.bound(record(name.removeprefix(limits.BOUND)))
    bare = name.removeprefix(limits.PREFIX)
    stem, unit = parted(bare)
    words, group = stem.replace("_", " "), limits.MARGINS if bare != name else OTHER
    return Record(name, unit, words[:1].upper() + words[1:], group)


def unit(name: str) -> str:
    """Return the unit of a column as shown, '%' for a share, '' for a pure number or a word."""
    return record(name).unit


def label(name: str) -> str:
    """Return what a column is called, without its unit."""
    return record(name).label


def wished(name: str) -> bool:
    """Tell whether a margin is about what the scenario asks for, not what nature or the machine does."""
    one = record(name)
    return isinstance(one, limits.Limit) and one.wish


def marked(words: str, name: str) -> str:
    """Put before the words of a column how it is read over worlds, so that none takes it for the run's own value."""
    return f"{readings.reading(name)} {words}".lstrip()


def lower(words: str) -> str:
    """Write a label so that it can stand within a sentence."""
    return words[:1].lower() + words[1:]


def listed(place: Place, header: Iterable[str]) -> list[str]:
    """Return the columns of ``header`` that are shown in ``place``, in the order of the records."""
    wanted = set(header)
    return [name for name, one in COLUMNS.items() if place in one.places and name in wanted]


def sections(header: Sequence[str]) -> list[tuple[str, list[str]]]:
    """Sort columns into titled groups, each in the order of the records; no column is lost but the flags."""
    found: dict[str, list[str]] = {title: [] for title in GROUPS}
    place = {name: number for number, name in enumerate(COLUMNS)}
    for name in sorted(header, key=lambda name: place.get(name, len(place))):
        if name not in FLAGS:
            found[record(name).group].append(name)
    return [(title, names) for title, names in found.items() if names]


def write(value: float, name: str = "") -> str:
    """Write a number with sensible digits: three significant, from 1000 to 99 999 all before the point.

    Shares become percentages, counts whole numbers; NaN is a dash. The page's script writes the same
    (``writeNumber``); a test holds the two together.
    """
    if not isfinite(value):
        return NONE
    if name and record(name).digits == "whole":
        return str(round(value))
    if abs(value) < LEAST_BAR.get(unit(name) if name else "", 0.0):
        return "0"
    return three_digits(value * 100 if name and record(name).digits == "share" else value)


def whole(count: object) -> str:
    """Write a count with its thousands set apart."""
    return f"{int(str(count)):,}".replace(",", THIN_SPACE)


def three_digits(value: float) -> str:
    """Write ``value`` with three significant digits, those from 1000 to 99 999 whole; thousands set apart.

    Halves are rounded away from zero.
    """
    exact = Decimal(value)
    if abs(exact) < Decimal("1e-6"):
        return "0"
    whole = 1000 <= abs(exact) < LONG
    rounded = exact.quantize(Decimal(1), ROUND_HALF_UP) if whole else _significant(exact)
    return f"{rounded:,f}".replace(",", THIN_SPACE).replace("-", "−")


def _significant(exact: Decimal) -> Decimal:
    rounded = exact
    for _ in range(2):  # the second pass drops the digit gained when 9.999 becomes 10.00
        rounded = exact.quantize(Decimal(1).scaleb(rounded.adjusted() - 2), ROUND_HALF_UP)
    return rounded


def says_nothing(cell: str, name: str, store_mode: str) -> bool:
    """Tell whether a word in column ``name`` is of the other kind of store: a governor, where there is only one state."""
    applies = record(name).applies
    return {applies, store_mode} == {"stratified", "mixed"} and not _is_number(cell)


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def shown(cell: str, name: str, *, with_unit: bool = True) -> str:
    """Write a cell of column ``name`` for the reader; words stay as they are, but for names of files."""
    try:
        value = float(cell)
    except ValueError:
        return cell.replace("_", " ") or NONE
    text = write(value, name)
    ending = unit(name) if name else ""
    return f"{text} {ending}" if with_unit and ending and text != NONE else text
