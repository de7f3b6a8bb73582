"""One design in a few words, and how another differs from it: figures, lines of the bill, sizes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Any

from explore.config.schema import Case, Objective
from explore.design.variables import Layout
from explore.figures.catalogue import BILL
from explore.figures.format import lower, marked, record, shown, three_digits, unit, whole
from explore.figures.readings import plain
from explore.figures.record import ABSOLUTE, GAUGE
from explore.tell.fluid_name import short_name
from explore.tell.narrator import gist

if TYPE_CHECKING:
    import pandas as pd

COST = "cost_EUR"
MOST_LINES = 4
"""Lines of a bill that are told by name: those that differ most; the rest is all else."""
LEAST_OF_BILL = 0.1
"""Share of all differences between two bills below which a line goes with all else."""
LEAST_APART = 0.05
"""Share by which a figure of two designs must differ to be told as a difference between them."""
SAME = "the same"
LEAST_SEEN = 1e-4
"""Share of a figure's scale below which two values are told as the same: finer than three digits of any show."""
FIGURES = (
    "store_volume_L", "collector_area_m2", "second_law_efficiency", "isentropic_efficiency", "served_share",
    "bridged_hours",
)  # fmt: skip
"""Figures by which two designs are told apart beside their objectives: what there is to build, and how well it does."""
DIFFERENCES = {GAUGE: "bar", ABSOLUTE: "bar", "°C": "K", "%": "percentage points"}
"""Units of a difference, where they are not those of the figure."""


@dataclass(frozen=True)
class Lesson:
    """A sentence or two, and the names of the designs in it as the page has them: 12, or D345 of designs.csv."""

    text: str
    designs: tuple[str, ...] = ()


def compared(known: pd.DataFrame, rows: tuple[int, int], case: Case, far: tuple[float, float]) -> str:
    """Say how the second of two rows differs from the first; ``far`` are their distances from the ideal."""
    own, other = (known.iloc[row] for row in rows)
    gained = [named(one.figure) for one in case.scenario.objectives if _better(own, other, one)]
    verdict = f"better in {listed(gained)}" if gained else "better in no objective"
    side = "farther from" if far[1] > far[0] else "nearer to" if far[1] < far[0] else "as far from"
    apart = _apart(own, other, case)
    return (
        f"{described(other, case)}{untried(other)}, is {verdict}: {changes(own, other, case)}."
        f"{f' {capital(listed(apart))}.' if apart else ''} It is {side} the ideal: {three_digits(far[1])} against "
        f"{three_digits(far[0])}."
    )


def described(row: pd.Series, case: Case) -> str:
    """Name a design: its fluid, how it is built, and its name."""
    return f"{short_name(str(row['fluid']), case)}, {layout_of(row).words} (design {row['name']})"


def layout_of(row: pd.Series) -> Layout:
    """Return how a design is built."""
    governing: Any = str(row["governing"])
    return Layout(str(row["store_mode"]), int(row["stages"]), int(row["pressure_levels"]), governing)


def figures_of(row: pd.Series, case: Case) -> str:
    """Write the figures in which a design is told in short."""
    return ", ".join(valued(row[name], name) for name in _gist(row, case))


def valued(value: Any, name: str) -> str:
    """Write a figure with its unit, how it is read over worlds, and its name where the unit does not tell what it is."""
    text = marked(shown(str(value), name), name)
    return text if unit(name) not in ("", "%", "h") else f"{text} {lower(record(plain(name)).title)}"


def named(name: str) -> str:
    """Name a figure within a sentence, and how it is read over worlds."""
    return marked(lower(record(plain(name)).title), name)


def untried(row: pd.Series) -> str:
    """Say of a design that nobody knows whether it keeps its limits with tubes."""
    return ", not tried with exchangers made of tubes" if bool(row["untried"]) else ""


def changes(own: pd.Series, other: pd.Series, case: Case, *, by_lines: bool = True) -> str:
    """Write the figures of a design with what they are more or less than another's; the cost ``by_lines`` of the bill.

    The lines that are told add up to the difference of the cost, to the euro.
    """
    parts = []
    for name in _gist(own, case, COST):
        text, apart = valued(other[name], name), float(other[name]) - float(own[name])
        if name == COST and by_lines:
            lines = bill(own, other)
            by = f": {', '.join(f'{line} {signed(euro)}' for line, euro in lines)}" if lines else ""
            parts.append(f"{text} ({more_or_less(apart, name)}{by})")
        else:
            parts.append(f"{text} ({more_or_less(apart, name)})")
    return ", ".join(parts)


def bill(own: pd.Series, other: pd.Series) -> list[tuple[str, int]]:
    """Return the lines of the bill that differ most, and all else, in whole EUR; they add up to the rounded difference."""
    apart = {
        line: float(other[name]) - float(own[name])
        for name, line in BILL.items()
        if name in own.index and isfinite(float(other[name]) - float(own[name]))
    }
    least = LEAST_OF_BILL * sum(map(abs, apart.values()))
    great = sorted(apart.items(), key=lambda pair: -abs(pair[1]))[:MOST_LINES]
    told = [(line, round(euro)) for line, euro in great if abs(euro) >= least and round(euro)]
    rest = round(float(other[COST]) - float(own[COST])) - sum(euro for _, euro in told)
    return [*told, *([("all else", rest)] if rest and told else [])]


def more_or_less(apart: float, name: str) -> str:
    """Write a difference in words: 1.2 kJ/L more; the same, where nothing of it would be seen."""
    text = difference(abs(apart), name)
    if text == difference(0.0, name) or abs(apart) < LEAST_SEEN * record(name).scale:
        return SAME
    return f"{text} {'more' if apart > 0.0 else 'less'}"


def difference(value: float, name: str) -> str:
    """Write a difference between two values of a figure, in the unit that differences have."""
    if unit(name) == "EUR":
        return f"{whole(round(value))} EUR"
    text, of = shown(str(value), name, with_unit=False), unit(name)
    # A step of one is one: 1.00 would be read as measured.
    text = text.rstrip("0").rstrip(".") if "." in text else text
    ending = DIFFERENCES.get(of, of)
    return f"{text} {ending}" if ending else text


def signed(euro: int) -> str:
    """Write whole EUR with their sign."""
    return f"{'+' if euro >= 0 else '−'}{whole(abs(euro))}"


def listed(parts: Sequence[str]) -> str:
    """Join parts as a sentence does."""
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)


def capital(words: str) -> str:
    """Begin with a capital letter and leave the rest as it is."""
    return f"{words[:1].upper()}{words[1:]}"


def _gist(row: pd.Series, case: Case, *more: str) -> list[str]:
    """Return the figures in which a design is told, and ``more``: none by the run's own values that is told over worlds."""
    told = gist(case.scenario.objectives)
    names = [*told, *(name for name in more if name not in map(plain, told))]
    return [name for name in names if name in row.index]


def _better(own: pd.Series, other: pd.Series, one: Objective) -> bool:
    """Whether a design is better in an objective by what can be seen of it."""
    apart = float(other[one.figure]) - float(own[one.figure])
    seen = more_or_less(apart, one.figure)
    return seen != SAME and (apart > 0.0 if one.direction == "maximise" else apart < 0.0)


def _apart(own: pd.Series, other: pd.Series, case: Case) -> list[str]:
    """Name the figures that differ between two designs, where both have them."""
    told = [plain(name) for name in _gist(own, case, COST)]
    found = []
    for name in (name for name in FIGURES if name in own.index and name not in told):
        before, after = float(own[name]), float(other[name])
        if abs(after - before) > LEAST_APART * max(abs(before), abs(after)):
            found.append(
                f"{lower(record(name).title)} {shown(str(after), name)} instead of {shown(str(before), name)}"
            )
    return found
