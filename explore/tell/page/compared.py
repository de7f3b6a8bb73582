"""What the script of a comparison works on: the fronts of all runs in the few columns that it tells and draws."""

from __future__ import annotations

import os
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Any
from urllib.parse import quote

from explore.config.goals import by_own_values
from explore.config.schema import Case, Objective
from explore.design.variables import Layout
from explore.figures.catalogue import BILL
from explore.figures.format import label, listed, unit
from explore.figures.readings import plain
from explore.judgement.severity import Severity
from explore.tell.fluid_name import short_name
from explore.tell.narrator import gist, severity
from explore.tell.page import prices
from explore.tell.page.data import Run, number
from explore.tell.page.fluids import SYMBOLS
from explore.tell.page.payload import describe, walls
from explore.tell.page.picks import Cautioned, Pick

MOST_MARKS = 4000
"""Designs of all runs together that a page carries: as many marks as a browser draws at once without a pause, and less
than a megabyte; recommended ones are always among them."""
DIGITS = 8
"""Significant digits of a figure: as a float of 32 bits holds, more than any sentence writes."""
MONEY_DECIMALS = 3
"""Of EUR, so that a bill of some ten lines still adds up to the cent."""
TOLD = ("served_share", "bridged_hours")
"""Told of two designs beside the objectives, as on the page of one run."""
SIZES = ("boiler_area_m2", "condenser_area_m2")
"""What lines of the bill pay for and no other place shows."""
BUILT = ("store_mode", "stages", "pressure_levels", "governing")
WORDS = ("fluid", "store_mode", "collector")
FIRST_CYLINDER = "cylinder 1"


@dataclass(frozen=True)
class Side:
    """One run of the comparison under the letter by which the page calls it.

    ``found`` are its recommended designs by role, the figure named without its reading, ``cautioned`` the cautions of
    all its designs.
    """

    letter: str
    name: str
    run: Run
    found: Mapping[str, Pick]
    cautioned: Cautioned

    def design(self, role: str) -> str:
        """Name the design of a role, 'B17' for line 17 of the front of run B; empty where the run has none."""
        return f"{self.letter}{self.found[role].row}" if role in self.found else ""


def objectives(sides: Sequence[Side]) -> tuple[Objective, ...]:
    """Return the first run's objectives; by the run's own values where runs read them differently: all have these."""
    return _read_alike(sides, sides[0].run.case).scenario.objectives


def _read_alike(sides: Sequence[Side], case: Case) -> Case:
    return case if len({side.run.case.search.against for side in sides}) == 1 else by_own_values(case)


def axes(sides: Sequence[Side]) -> list[str]:
    """Return the figures of the charts: what the first run asked for first, then the others over which it is drawn."""
    return gist(objectives(sides))


def payload(sides: Sequence[Side], page: Path) -> dict[str, Any]:
    """Return the fronts of all runs: what charts draw, and what sentences and tables tell of any two designs.

    ``page`` is the file that is written: a run's own page is named by the way from there.
    """
    asked = [
        figure for side in sides for figure in gist(_read_alike(sides, side.run.case).scenario.objectives)
    ]
    figures = list(dict.fromkeys([*axes(sides), *asked]))
    headers = {name for side in sides for name in side.run.front.header}
    table = [*figures, "fluid", *listed("card", headers), *(name for name in BILL if name in headers)]
    columns = [name for name in dict.fromkeys([*table, *TOLD, *SIZES]) if name in headers]
    return {
        "axes": [{"figure": name, "label": label(name), "unit": unit(name)} for name in axes(sides)],
        "columns": {name: describe(name) for name in columns},
        "told": [*figures, *TOLD],
        "table": [name for name in dict.fromkeys(table) if name in headers and name != "fluid"],
        "bill": [{"column": name, "line": line} for name, line in BILL.items() if name in headers],
        "runs": [_run(side, i, columns, MOST_MARKS // len(sides), page) for i, side in enumerate(sides)],
    }


def _run(side: Side, place: int, columns: Sequence[str], most: int, page: Path) -> dict[str, Any]:
    run = side.run
    rows = aboard(len(run.front), {one.row - 1 for one in side.found.values()}, most)
    front = run.front.take(rows)
    return {
        "letter": side.letter,
        "name": side.name,
        "symbol": SYMBOLS[place],
        "of": len(run.front),
        "lines": [row + 1 for row in rows],
        "cells": {name: _cells(front.text(name), name) for name in columns if name in front.header},
        "fluids": {name: short_name(name, run.case) for name in sorted(set(front.text("fluid")))},
        "layouts": _layouts(run, rows),
        "warnings": [warned(side.cautioned[row]) for row in rows],
        "walls": _first_walls(run, rows),
        "prices": _prices(run),
        "page": _own_page(run.folder, page),
    }


def aboard(count: int, always: Collection[int], most: int) -> list[int]:
    """Return the places (from 0) of ``count`` that a page carries: ``always``, and evenly at most ``most`` of all."""
    step = max(1.0, count / max(most, 1))
    return sorted({int(k * step) for k in range(min(count, most))} | set(always))


def _cells(texts: Sequence[str], name: str) -> list[float | str | None]:
    if name in WORDS:
        return list(texts)
    return [_cell(text, unit(name) == "EUR") for text in texts]


def _cell(text: str, money: bool) -> float | str | None:
    value = number(text)
    if isfinite(value):
        return round(value, MONEY_DECIMALS) if money else float(f"{value:.{DIGITS}g}")
    return text or None


def _layouts(run: Run, rows: Sequence[int]) -> list[str]:
    """Return how designs are built in words, empty where an older run does not say."""
    cells = [run.front.text(name) for name in BUILT]
    return [_layout(*(column[row] for column in cells)) for row in rows]


def _layout(mode: str, stages: str, levels: str, governing: Any) -> str:
    counts = number(stages), number(levels)
    if not mode or not all(map(isfinite, counts)):
        return ""
    return Layout(mode.replace("_", " "), int(counts[0]), int(counts[1]), governing or "throttle").words


def warned(found: Sequence[Mapping[str, str]]) -> str:
    """Name the topics of all that is graver than a note."""
    return ", ".join(one["topic"] for one in found if severity(one) is not Severity.NOTE)


def _first_walls(run: Run, rows: Sequence[int]) -> dict[str, Any]:
    """Return the walls of the first cylinder, packed as :func:`explore.tell.page.payload.walls` packs all."""
    known = walls(run)
    places = [k for k, (part, _) in enumerate(known["parts"]) if part == FIRST_CYLINDER]
    return {
        "parts": [known["parts"][k] for k in places],
        "walls": [[known["walls"][row][k] for k in places] if known["walls"][row] else [] for row in rows],
    }


def _prices(run: Run) -> dict[str, Any]:
    """Return what each line of the bill is reckoned by, to tell whether two runs price it alike.

    Those of collectors and charge are the prices of the cards, of which each design has one.
    """
    costs = run.case.costs
    found: dict[str, Any] = {
        line: [getattr(costs, key) for key in keys] for line, keys in prices.KEYS.items()
    }
    found["fittings"] = [costs.fittings_fraction]
    found["collectors"] = {card.name: card.price_EUR_per_m2 for card in run.case.collectors.values()}
    found["charge"] = {card.name: card.price_EUR_per_kg for card in run.case.fluids.values()}
    return {BILL.get(f"cost_{line}_EUR", line): price for line, price in found.items()}


def _own_page(folder: Path, page: Path) -> str:
    """Return the way from the comparison to a run's own page, empty where there is none below the same folder."""
    own, here = (folder / "report.html").resolve(), page.resolve().parent
    if not own.is_file() or not own.is_relative_to(here):
        return ""
    return f"./{quote(os.path.relpath(own, here))}"


def by_role(found: Sequence[Pick]) -> dict[str, Pick]:
    """Return recommended designs by their role, the figure of an objective named without its reading."""
    return {plain(one.role): one for one in found}
