"""What the front teaches, for the page: the lessons of a run as it was searched, made of the files in its folder."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np

from explore.design.variables import INPUTS
from explore.design.variables import RECORDS as VARIABLES
from explore.tell.beside import COST, FIGURES
from explore.tell.lessons import Lessons, lessons
from explore.tell.narrator import PEAK_PRESSURE
from explore.tell.page.data import Run, Table, number, same_columns
from explore.tell.page.picks import broken_with_tubes
from explore.tell.searched import searched

if TYPE_CHECKING:
    import pandas as pd

LEFT_OUT = {"governing": "throttle", "regenerator_effectiveness": 0.0, "pressure_levels": 1}
"""What counts where a run of before has no such column."""
WORDS = tuple(one.name for one in VARIABLES if one.kind == "words")


def tell(run: Run) -> Lessons:
    """Return what the front of a run teaches; nothing where it holds no design."""
    front, beside = _frames(run)
    return lessons(run.case, front, beside, searched(run.case, _tried(run)))


def aboard(run: Run) -> set[str]:
    """Return the names of the designs that a page of the run carries, and so can open."""
    return {
        *(str(line) for line in range(1, len(run.front) + 1)),
        *(f"D{line}" for line in run.kept_lines),
    }


def _frames(run: Run) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the front, and the feasible designs off it: those kept for the page, then the others of designs.csv."""
    broken, count = broken_with_tubes(run), len(run.front)
    places = range(1, count + len(run.kept) + 1)
    unknown, rest = _untried(run), _others(run)
    front = _frame(run, run.front).assign(
        name=[str(line) for line in range(1, count + 1)],
        broken=[place in broken for place in places[:count]],
        untried=unknown[:count],
    )
    others = same_columns(run.designs, run.front.header, rest)
    table = Table(run.front.header, (*run.kept.rows, *others.rows))
    beside = _frame(run, table).assign(
        name=[f"D{line}" for line in (*run.kept_lines, *(line + 1 for line in rest))],
        broken=[*(place in broken for place in places[count:]), *(False for _ in rest)],
        untried=[*unknown[count:], *(run.case.exchangers.method != "tubes" for _ in rest)],
    )
    return _whole(run, front), _whole(run, beside)


def _whole(run: Run, frame: pd.DataFrame) -> pd.DataFrame:
    """Leave out designs of which a file of somebody's does not say what lessons count with."""
    asked = [COST, "stages", "pressure_levels", *(one.figure for one in run.case.scenario.objectives)]
    cells = frame.reindex(columns=asked).to_numpy(dtype=float)
    return frame[np.isfinite(cells).all(axis=1)].reset_index(drop=True)


def _tried(run: Run) -> dict[str, int]:
    """Return how many designs of each layout were tried, as layouts.csv has it."""
    counts = zip(run.layouts.text("layout"), run.layouts.numbers("evaluated"), strict=True)
    return {name: int(count) for name, count in counts if np.isfinite(count)}


def _untried(run: Run) -> list[bool]:
    """Tell of the front and of the designs kept beside it which were not tried with exchangers made of tubes."""
    count, tubes = len(run.front), run.told.get("tubes")
    if run.case.exchangers.method == "tubes":
        return [False] * (count + len(run.kept))
    if tubes is not None:
        return [one is None for one in tubes]
    return [place > count for place in range(1, count + len(run.kept) + 1)]


def _others(run: Run) -> list[int]:
    """Return lines (from 0) of designs.csv that are feasible and neither on the front nor kept beside it."""
    names = [name for name in INPUTS if name in run.front.header]
    taken = set(_designs(run.front, names)) | set(_designs(run.kept, names))
    feasible = run.designs.text("feasible")
    return [
        line
        for line, design in enumerate(_designs(run.designs, names))
        if feasible[line].lower() == "true" and design not in taken
    ]


def _designs(table: Table, names: Iterable[str]) -> Iterable[tuple[str, ...]]:
    return zip(*(table.text(name) for name in names), strict=True)


def _frame(run: Run, table: Table) -> pd.DataFrame:
    """Return the columns of a table that lessons read, words as words and all else as numbers; what is empty is none."""
    import pandas as pd

    asked = {COST, PEAK_PRESSURE, *FIGURES, *INPUTS, *(one.figure for one in run.case.scenario.objectives)}
    names = [name for name in table.header if name in asked or name.startswith(("cost_", "violation_"))]
    found = {
        name: table.text(name) if name in WORDS else [number(cell) for cell in table.text(name)]
        for name in names
    }
    usual: dict[str, Any] = {name: value for name, value in LEFT_OUT.items() if name not in found}
    return pd.DataFrame(found).assign(**usual)
