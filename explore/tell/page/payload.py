"""What the page's script works on: the run's tables, its sheets and the words for its columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from explore.config.schema import described
from explore.design.variables import INPUTS
from explore.figures.catalogue import BILL, CYLINDER_COLUMNS, FIGURES, TUBE_COLUMNS, TUBE_FIGURES
from explore.figures.format import LEAST_BAR, listed, record
from explore.figures.names import in_page_units
from explore.figures.readings import plain, reading
from explore.figures.record import APPLIES, Place
from explore.judgement.front import NEAR_BEST, roles
from explore.judgement.severity import SEVERITIES
from explore.run.told import pack, pack_walls
from explore.tell import narrator
from explore.tell.narrator import PEAK_PRESSURE
from explore.tell.page import more, prices
from explore.tell.page.data import Run, Table
from explore.tell.page.fluids import FluidRow
from explore.tell.page.measured import drawn, points
from explore.tell.page.picks import Cautioned, Pick, broken_with_tubes, leeways
from explore.tell.page.search_story import SearchStory
from explore.tell.page.sentences import failed

BACKGROUND = "%.5g"
"""Figures of designs that only form the background. A third of a million cells: an f-string takes half as long again."""
DRAWN_DIGITS = 4
"""Significant digits of what is only drawn: finer than a pixel."""
PLACES: tuple[Place, ...] = ("card", "table", "hover", "parallel", "hazards")
GUARDS = tuple(
    f"violation_{name}_fraction" for name in ("laws_of_nature", "engine_residual", "exchanger_unsettled")
)
"""Limits that guard the reckoning: how near they are says nothing of a plant."""
UNDRAWN = ("cautions", "months")
BOUNDABLE = frozenset((*FIGURES, *TUBE_FIGURES, *INPUTS))
"""What a scenario may bound."""
PER_DESIGN = ("designs", "walls", "relief", "tubes")
"""Lists of told.json with a place for each design."""


@dataclass(frozen=True)
class Amount:
    """How much of what a page may leave out it carries: shares of background designs, of sheets, of what is kept aside."""

    background: float = 1.0
    sheets: float = 1.0
    kept: float = 1.0


AMOUNTS = (
    Amount(), Amount(0.3), Amount(0.05), Amount(0.05, 0.5), Amount(0.05, 0.2, 0.7), Amount(0.0, 0.1, 0.4),
    Amount(0.0, 0.05, 0.2),
)  # fmt: skip
"""Tried from the first on until the page is small enough: background designs go before sheets, these before designs that
are best of what is left when others are not wanted."""


def payload(
    run: Run,
    picks: list[Pick],
    fluids: list[FluidRow],
    story: SearchStory,
    amount: Amount,
    cautioned: Cautioned,
) -> dict[str, Any]:
    """Return what the page's script works on; files of the run go in as text, cell by cell as written."""
    objectives = run.case.scenario.objectives
    limits = run.case.scenario.limits
    aboard = {*run.front.text("fluid"), *run.kept.text("fluid")}
    return {
        "front": run.front.to_csv(),
        "kept": run.kept.to_csv() if len(run.kept) else "",
        "keptLines": list(run.kept_lines),
        "keptKnown": bool(run.told),
        "others": others(run, amount.background).to_csv(),
        "own": run.own.to_csv() if len(run.own) else "",
        "sheets": {
            "domes": run.sheets.get("domes", {}),
            "designs": drawn_sheets(run, amount.sheets, {one.row for one in picks}),
        },
        "cautions": shared_cautions(cautioned),
        "commonCautions": [caution["text"] for caution in common_cautions(cautioned[: len(run.front)])],
        "walls": walls(run),
        "tubesTried": tried_with_tubes(run),
        "margins": margins(run),
        "columns": {name: describe(name) for name in run.front.header},
        "bill": [{"column": name, "line": line} for name, line in BILL.items() if name in run.front.header],
        "cylinders": [one._asdict() for one in CYLINDER_COLUMNS if one.bore in run.front.header],
        "tubes": [one._asdict() for one in TUBE_COLUMNS],
        "objectives": [
            {
                "figure": o.figure,
                "plain": plain(o.figure),
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
        "unheld": narrator.UNHELD,
        "noneHeld": narrator.NONE_HELD,
        "leeway": leeways(run),
        "picks": [{"role": one.role, "row": one.row} for one in picks],
        "inputs": inputs(run.front.header),
        "places": {place: listed(place, run.front.header) for place in PLACES},
        "fluids": [
            {
                "name": f.name,
                "title": f.title,
                "short": f.short,
                "library": f.library,
                "colour": f.colour,
                "symbol": f.symbol,
                "class": f.cells["class"],
                "aboard": f.name in aboard,
            }
            for f in fluids
        ],
        "ceiling": limits.pressure_ceiling_bar_g,
        "budget": limits.budget_EUR,
        "scenario": run.case.scenario.name,
        "title": run.case.scenario.title,
        "folder": f"results/{run.case.scenario.name}/{run.folder.name}",
        "reading": run.case.search.against,
        "gist": narrator.gist(objectives),
        "money": money(run),
        "failed": failed(run),
        "boundable": [name for name in run.front.header if name in BOUNDABLE],
        "demand": {
            "power": run.case.scenario.demand.shaft_power_W,
            "month": f"{middle_month(run.case.scenario.demand.months):02d}",
            "cooling": run.case.scenario.site.cooling_water_temperature_degC,
        },
        "airPressure": air_pressure_bar(run),
        "more": more.aboard(run, picks),
        "history": story.history,
        "randomHistory": story.random_history,
        "perFluid": story.per_fluid,
        "lostTo": story.lost_to,
        "lostAlone": story.lost_alone,
        "measured": drawn(points(run)),
    }


def middle_month(months: Sequence[int]) -> int:
    """Return a month in which work is asked for, the middle one of those that are named."""
    return sorted(months)[len(months) // 2]


def with_kept(run: Run, share: float) -> Run:
    """Return the run with a share of the designs kept beside its front, those first that matter most."""
    count, front = round(share * len(run.kept)), len(run.front)
    if count == len(run.kept):
        return run
    told = {
        name: value[: front + count] if name in PER_DESIGN and value else value
        for name, value in run.told.items()
    }
    return replace(run, kept=run.kept.take(range(count)), kept_lines=run.kept_lines[:count], told=told)


def shared_cautions(found: Cautioned) -> dict[str, Any]:
    """Return the cautions of all designs, packed: each sentence once, the numbers of each design, and its heading."""
    headings: dict[str, int] = {}
    chosen = [headings.setdefault(narrator.heading(one), len(headings)) for one in found]
    return {**pack(found), "headings": list(headings), "headed": chosen}


def common_cautions(found: Cautioned) -> list[dict[str, str]]:
    """Return the cautions that designs share, of those whose cautions are known."""
    known = [one for one in found if one != narrator.UNKNOWN_CAUTIONS]
    shared = set.intersection(*({caution["text"] for caution in one} for one in known)) if known else set()
    return [caution for caution in known[0] if caution["text"] in shared] if known else []


def walls(run: Run) -> dict[str, Any]:
    """Return walls and relief setting of all designs, packed: as told.json has them, else those of the sheets."""
    if any(run.told.get("walls", ())):
        return {name: run.told.get(name, []) for name in ("parts", "walls", "relief")}
    sheets = run.sheets.get("designs", {})
    known = [sheets.get(str(row), {}).get("hazards", {}) for row in range(1, len(run.front) + 1)]
    return pack_walls([*known, *({} for _ in range(len(run.kept)))])


def tried_with_tubes(run: Run) -> list[int] | None:
    """Return the places (from 1) of designs that were tried with exchangers made of tubes; None where all have tubes."""
    if run.case.exchangers.method == "tubes":
        return None
    tubes = run.told.get("tubes")
    if tubes is not None:
        return [place for place, names in enumerate(tubes, start=1) if names is not None]
    return [int(row) for row, sheet in run.sheets.get("designs", {}).items() if sheet.get("with_tubes")]


def margins(run: Run) -> list[dict[str, Any]]:
    """Return for each limit how its margin is told: in the words of the figure it bounds where it has one, else its own."""
    limits, room = run.case.scenario.limits, run.case.scenario.room_volume_m3
    bounded: dict[str, tuple[str, str, float | None]] = {
        "violation_served_share_fraction": ("serves {0} of {1}", "served_share", limits.served_share_min),
        "violation_peak_pressure_bar": (
            "{0} standing of {1} allowed", PEAK_PRESSURE, limits.pressure_ceiling_bar_g,
        ),
        "violation_budget_EUR": ("costs {0} of {1}", "cost_EUR", limits.budget_EUR),
        "violation_room_m3": ("needs {0} of air of {1}", "room_volume_needed_m3", room),
    }  # fmt: skip
    found = []
    for name in run.front.header:
        if not name.startswith("violation_") or name.endswith("_count") or name in GUARDS:
            continue
        words, figure, limit = bounded.get(name, ("", "", None))
        one = record(name)
        scale = one.scale * (100.0 if one.digits == "share" else 1.0)
        entry: dict[str, Any] = {"column": name, "scale": scale}
        if limit is not None and figure in run.front.header:
            entry |= {"words": words, "figure": figure, "limit": limit}
        found.append(entry)
    return found


def money(run: Run) -> dict[str, Any]:
    """Return what the reader may price anew, and the units of the prices."""
    units = {f"costs.{one['name']}": in_page_units(str(one["unit"])) for one in described(run.case.costs)}
    found = prices.lines(run)
    cards = {
        str(key): "EUR/m²" if "per_m2" in str(key) else "EUR/kg" for one in found for key, _ in one["keys"]
    }
    return {"lines": found, "shares": prices.shares(run), "units": cards | units}


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
        "title": one.title,
        "reading": reading(name),
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
    on_front = {
        design
        for table in (run.front, run.kept)
        for design in zip(*(table.text(name) for name in chosen_by), strict=True)
    }
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
    lines = (run.designs.rows[i] for i in chosen)
    return Table(tuple(kept), tuple(tuple(_short(line[place]) for place in places) for line in lines))


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
        return BACKGROUND % float(cell)
    except ValueError:
        return cell
