"""What the page's script works on: the run's tables, its sheets and the words for its columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from explore.design.variables import INPUTS
from explore.figures.catalogue import BILL, CYLINDER_COLUMNS, TUBE_COLUMNS
from explore.figures.format import LEAST_BAR, listed, record
from explore.figures.record import APPLIES, Place
from explore.judgement.front import NEAR_BEST, roles
from explore.judgement.severity import SEVERITIES
from explore.tell import narrator
from explore.tell.page.data import Run, Table
from explore.tell.page.fluids import FluidRow
from explore.tell.page.measured import drawn, points
from explore.tell.page.picks import Pick, broken_with_tubes, cautions
from explore.tell.page.search_story import SearchStory

OTHER_DIGITS = 5
"""Significant digits of a figure that the catalogue gives no decimals."""
DRAWN_DIGITS = 4
"""Significant digits of what is only drawn: finer than a pixel."""
PLACES: tuple[Place, ...] = ("table", "hover", "parallel", "hazards")
UNDRAWN = ("cautions", "months")


@dataclass(frozen=True)
class Amount:
    """How much of what a page may leave out it carries, as shares of the background designs and of the sheets."""

    background: float = 1.0
    sheets: float = 1.0


AMOUNTS = (Amount(), Amount(0.3), Amount(0.05), Amount(0.05, 0.5), Amount(0.05, 0.2), Amount(0.0, 0.05))
"""Tried from the first on until the page is small enough: background designs go before sheets."""


def payload(
    run: Run, picks: list[Pick], fluids: list[FluidRow], story: SearchStory, amount: Amount
) -> dict[str, Any]:
    """Return what the page's script works on; files of the run go in as text, cell by cell as written."""
    objectives = run.case.scenario.objectives
    limits = run.case.scenario.limits
    return {
        "front": run.front.to_csv(),
        "others": others(run, amount.background).to_csv(),
        "own": run.own.to_csv() if len(run.own) else "",
        "sheets": {
            "domes": run.sheets.get("domes", {}),
            "designs": drawn_sheets(run, amount.sheets, {one.row for one in picks}),
        },
        "cautions": shared_cautions(run),
        "columns": {name: describe(name) for name in run.front.header},
        "bill": [{"column": name, "line": line} for name, line in BILL.items() if name in run.front.header],
        "cylinders": [one._asdict() for one in CYLINDER_COLUMNS if one.bore in run.front.header],
        "tubes": [one._asdict() for one in TUBE_COLUMNS],
        "objectives": [
            {
                "figure": o.figure,
                "sign": -1 if o.direction == "maximise" else 1,
                "ideal": o.ideal,
                "reference": o.reference,
            }
            for o in objectives
        ],
        "roles": [{"key": role.key, "title": role.title} for role in roles(objectives)],
        "nearBest": NEAR_BEST,
        "severities": [{"key": one.value, "word": one.word} for one in SEVERITIES],
        "brokenWithTubes": {
            str(row): narrator.broken_words(names) for row, names in broken_with_tubes(run).items()
        },
        "displaced": narrator.DISPLACED,
        "picks": [{"role": one.role, "row": one.row} for one in picks],
        "inputs": inputs(run.front.header),
        "places": {place: listed(place, run.front.header) for place in PLACES},
        "fluids": [
            {"name": f.name, "title": f.title, "colour": f.colour, "symbol": f.symbol} for f in fluids
        ],
        "ceiling": limits.pressure_ceiling_bar_g,
        "budget": limits.budget_EUR,
        "scenario": run.case.scenario.name,
        "demand": {
            "power": run.case.scenario.demand.shaft_power_W,
            "cooling": run.case.scenario.site.cooling_water_temperature_degC,
        },
        "airPressure": air_pressure_bar(run),
        "history": story.history,
        "randomHistory": story.random_history,
        "perFluid": story.per_fluid,
        "lostTo": story.lost_to,
        "lostAlone": story.lost_alone,
        "measured": drawn(points(run)),
    }


def shared_cautions(run: Run) -> dict[str, Any]:
    """Return each different caution once, and for each line of front.csv the numbers of its own."""
    numbers: dict[str, int] = {}
    texts: list[dict[str, str]] = []
    designs, headings = [], []
    for row in range(1, len(run.front) + 1):
        found = cautions(run, row)
        for caution in found:
            if caution["text"] not in numbers:
                numbers[caution["text"]] = len(texts)
                texts.append(caution)
        designs.append([numbers[caution["text"]] for caution in found])
        headings.append(narrator.heading(found))
    return {"texts": texts, "designs": designs, "headings": headings}


def common_cautions(run: Run) -> list[dict[str, str]]:
    """Return the cautions that every design of the front shares, of those whose cautions are known."""
    found = shared_cautions(run)
    texts = found["texts"]
    unknown = [number for number, text in enumerate(texts) if text in narrator.UNKNOWN_CAUTIONS]
    known = [set(numbers) for numbers in found["designs"] if numbers != unknown]
    return [text for number, text in enumerate(texts) if known and all(number in one for one in known)]


def drawn_sheets(run: Run, share: float, always: set[int]) -> dict[str, Any]:
    """Return what the sheets draw, by line of front.csv: an even ``share`` of them and those of ``always``."""
    sheets = run.sheets.get("designs", {})
    lines = list(sheets)
    count = round(share * len(lines))
    kept = {lines[int(k * len(lines) / count)] for k in range(count)} | {str(row) for row in always}
    return {
        row: {key: rounded(part) for key, part in sheets[row].items() if key not in UNDRAWN}
        for row in lines
        if row in kept
    }


def rounded(content: Any) -> Any:
    """Round all numbers within lists and mappings to the digits a chart can show."""
    if isinstance(content, float):
        return float(f"{content:.{DRAWN_DIGITS}g}")
    if isinstance(content, list):
        return [rounded(part) for part in content]
    if isinstance(content, dict):
        return {key: rounded(part) for key, part in content.items()}
    return content


def air_pressure_bar(run: Run) -> float:
    """Return the air pressure between gauge and absolute: as the summary states it, else one standard atmosphere."""
    stated = run.summary.get("air_pressure_bar_a")
    return float(stated) if isinstance(stated, int | float) else 1.01325


def describe(name: str) -> Mapping[str, Any]:
    """Return a column's words for the script, as its record has them."""
    one = record(name)
    return {
        "label": one.label,
        "unit": one.unit,
        "group": one.group,
        "share": one.digits == "share",
        "count": one.digits == "whole",
        "least": LEAST_BAR.get(one.unit, 0.0),
        "better": one.better,
        "applies": APPLIES[one.applies],
    }


def _first_output(table: Table) -> int:
    marks = [table.header.index(name) for name in ("possible", "feasible") if name in table.header]
    return min(marks, default=len(table.header))


def inputs(header: Sequence[str]) -> list[str]:
    """Return the columns that are design inputs."""
    return [name for name in header if name in INPUTS]


def others(run: Run, share: float = 1.0) -> Table:
    """Return feasible designs off the front, evenly thinned to ``share`` of the number the page may draw.

    They only form the background, so their figures keep few digits and no margins to the limits.
    """
    chosen_by = inputs(run.front.header)
    on_front = set(zip(*(run.front.text(name) for name in chosen_by), strict=True))
    mine = list(zip(*(run.designs.text(name) for name in chosen_by), strict=True))
    feasible = run.designs.text("feasible")
    spare = [i for i, design in enumerate(mine) if feasible[i].lower() == "true" and design not in on_front]
    best = best_of_each_fluid(run.designs, spare)
    rest = [i for i in spare if i not in best]
    most = max(int(share * run.case.report.designs_shown) - len(best), 0)
    step = max(1.0, len(rest) / max(most, 1))
    chosen = sorted([*best, *(rest[int(k * step)] for k in range(min(most, len(rest))))])
    kept = [
        name for name in run.designs.header if not name.startswith("violation_") and name in run.front.header
    ]
    places = [run.designs.header.index(name) for name in kept]
    rows = tuple(tuple(_short(run.designs.rows[i][place]) for place in places) for i in chosen)
    return Table(tuple(kept), rows)


def best_of_each_fluid(table: Table, lines: list[int]) -> set[int]:
    """Return, of the lines given, those that no design of their fluid beats in both work and peak pressure."""
    work, pressure = table.numbers("work_per_litre_kJ"), table.numbers("peak_pressure_bar_g")
    fluids = table.text("fluid")
    lowest: dict[str, float] = {}
    best = set()
    for i in sorted(lines, key=lambda i: (-work[i], pressure[i])):
        if pressure[i] < lowest.get(fluids[i], float("inf")):
            lowest[fluids[i]] = pressure[i]
            best.add(i)
    return best


def _short(cell: str) -> str:
    try:
        return f"{float(cell):.{OTHER_DIGITS}g}"
    except ValueError:
        return cell
