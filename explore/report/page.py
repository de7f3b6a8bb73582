"""Writes the page of one run: reads the run folder, fills the templates, packs everything into one file."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from explore.report import embed
from explore.report.assumptions import groups, settings
from explore.report.data import Run, Table, read_run
from explore.report.figures import COUNTS, NONE, SHARES, label, shown, three_digits, unit, whole
from explore.report.fluids import FluidRow, compare
from explore.report.picks import RULE, Pick, as_cautions, cautions, pick, roles
from explore.report.search_story import SearchStory, tell
from explore.report.sections import figure_sections
from explore.report.sentences import fluid_title, how_sure, opening, scenario_line
from explore.schema import ASSUMED

OTHER_DIGITS = 5


def write_page(run_folder: Path) -> Path:
    """Write ``report.html`` into a run folder, from the files in it alone, and return its path.

    Raises :class:`explore.errors.InputError` when a file of the run is missing or broken.
    """
    run = read_run(run_folder)
    page = run_folder / "report.html"
    unfinished = run_folder / f".report.html.{os.getpid()}.part"
    try:
        unfinished.write_text(render(run), encoding="utf-8")
        os.replace(unfinished, page)
    finally:
        unfinished.unlink(missing_ok=True)
    return page


def render(run: Run) -> str:
    """Return the page of a run as HTML."""
    picks, fluids, story, values = pick(run), compare(run), tell(run), groups(run.case)
    entries = [entry for group in values for entry in group.entries]
    front, own_script = run.front, embed.script()
    plotly = embed.plotly_script()
    return environment().get_template("page.html.j2").render(
        policy=embed.policy(own_script, plotly),
        style=embed.style(),
        script=own_script,
        plotly=embed.packed(plotly),
        data=embed.packed_json(payload(run, picks, fluids, story)),
        run=run,
        scenario=run.case.scenario,
        sentences=opening(run, picks),
        how_sure=how_sure(run, entries),
        scenario_line=scenario_line(run),
        rule=RULE,
        picks=[(one, front.row(one.row - 1)) for one in picks],
        sections=figure_sections(front.header),
        fluids=fluids,
        ceilings=run.case.report.pressure_ceilings_bar_g,
        story=story,
        groups=values,
        settings=settings(run.case),
        objectives=run.case.scenario.objectives,
        cautions=as_cautions(run.summary.get("cautions", ())),
        fluid_title=lambda name: fluid_title(run, name),
    )  # fmt: skip


def environment() -> Any:
    """Return the template environment; everything put into a template is escaped."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    made = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {"label": label, "unit": unit, "digits": three_digits, "whole": whole}
    made.globals |= {"shown": shown, "NONE": NONE, "ASSUMED": ASSUMED}
    return made


def payload(run: Run, picks: list[Pick], fluids: list[FluidRow], story: SearchStory) -> dict[str, Any]:
    """Return what the page's script works on; files of the run go in as text, cell by cell as written."""
    objectives = run.case.scenario.objectives
    limits = run.case.scenario.limits
    return {
        "front": run.front.to_csv(),
        "others": others(run).to_csv(),
        "own": run.own.to_csv() if len(run.own) else "",
        "sheets": {"domes": run.sheets.get("domes", {}), "designs": drawn_sheets(run)},
        "cautions": shared_cautions(run),
        "columns": {name: describe(name) for name in run.front.header},
        "objectives": [
            {"figure": o.figure, "sign": -1 if o.direction == "maximise" else 1} for o in objectives
        ],
        "roles": [{"key": key, "title": title} for key, title in roles(objectives)],
        "picks": [{"role": one.role, "row": one.row} for one in picks],
        "inputs": [name for name in run.front.header[: _first_output(run.front)]],
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
    }


def shared_cautions(run: Run) -> dict[str, Any]:
    """Return each different caution once, and for each line of front.csv the numbers of its own."""
    numbers: dict[str, int] = {}
    texts: list[dict[str, str]] = []
    designs = []
    for row in range(1, len(run.front) + 1):
        found = cautions(run, row)
        for caution in found:
            if caution["text"] not in numbers:
                numbers[caution["text"]] = len(texts)
                texts.append(caution)
        designs.append([numbers[caution["text"]] for caution in found])
    return {"texts": texts, "designs": designs}


def drawn_sheets(run: Run) -> dict[str, Any]:
    """Return the sheets by line of front.csv, without the cautions, which stand by themselves."""
    sheets = run.sheets.get("designs", {})
    return {
        row: {key: part for key, part in sheet.items() if key != "cautions"} for row, sheet in sheets.items()
    }


def air_pressure_bar(run: Run) -> float:
    """Return the air pressure between gauge and absolute: as the summary states it, else one standard atmosphere."""
    stated = run.summary.get("air_pressure_bar_a")
    return float(stated) if isinstance(stated, int | float) else 1.01325


def describe(name: str) -> Mapping[str, Any]:
    """Return a column's words for the script."""
    return {"label": label(name), "unit": unit(name), "share": name in SHARES, "count": name in COUNTS}


def _first_output(table: Table) -> int:
    return table.header.index("feasible") if "feasible" in table.header else len(table.header)


def others(run: Run) -> Table:
    """Return feasible designs that are not on the front, evenly thinned to the number the page may draw.

    They only form the background, so their figures keep few digits and no margins to the limits.
    """
    inputs = run.front.header[: _first_output(run.front)]
    on_front = set(zip(*(run.front.text(name) for name in inputs), strict=True))
    mine = list(zip(*(run.designs.text(name) for name in inputs), strict=True))
    feasible = run.designs.text("feasible")
    spare = [i for i, design in enumerate(mine) if feasible[i].lower() == "true" and design not in on_front]
    best = best_of_each_fluid(run.designs, spare)
    rest = [i for i in spare if i not in best]
    most = max(run.case.report.designs_shown - len(best), 0)
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
