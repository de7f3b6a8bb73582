"""What a search and a repriced run share: the words on the way, the reader's own designs, the files."""

from __future__ import annotations

import logging
import os
import time
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from explore.config.goals import over_worlds, sought
from explore.run import folder as runs
from explore.run import reader
from explore.run.carried import carry
from explore.run.files import UnwritableError, digest, write_frame, write_json, write_text

if TYPE_CHECKING:
    import pandas as pd

    from explore.config.schema import Case
    from explore.doubt.against import Beside
    from explore.model import Evaluator
    from explore.search import Progress as State
    from explore.search import SearchOutcome
    from explore.tell.terminal import Progress

LOG = logging.getLogger("explore")


def tell(progress: Progress, state: State) -> None:
    """Show the state of a search after a leg, and note it in the log."""
    figures = [
        f"{state.designs:,} designs",
        f"{state.designs_per_second:,.0f}/s",
        f"hypervolume {state.hypervolume:.4f}",
        f"{state.feasible_share:.0%} feasible",
        f"{state.legs} legs",
    ]
    progress.show(figures, state.seconds_left)
    LOG.info(", ".join(figures))


def own_designs(case: Case) -> pd.DataFrame | None:
    """Evaluate the reader's own designs (report.own), or return None if there are none."""
    import pandas as pd

    from explore.doubt.against import read_over_worlds
    from explore.run.design_file import evaluated

    tables = []
    for file in case.report.own:
        table = read_over_worlds(case, evaluated(file, case))
        names = (
            [Path(file).stem]
            if len(table) == 1
            else [f"{Path(file).stem} {i + 1}" for i in range(len(table))]
        )
        table.insert(0, "name", names)
        tables.append(table)
    return pd.concat(tables, ignore_index=True) if tables else None


def leave_handbook(run: Path, case: Case) -> None:
    """Leave the handbook beside the results, where ``run`` is one of them and it is not there yet: its page links to it.

    Half a second and half a megabyte, once a folder and version. Where something else has its name, or nothing can be
    written, there is none: no reason to lose a run.
    """
    from explore import __version__
    from explore.tell import shelf
    from explore.tell.handbook import handbook

    results = Path(case.results_folder)
    if run.resolve().parent.parent != results.resolve():
        return
    file = results / shelf.NAME
    try:
        strange = os.path.lexists(file) and not shelf.is_handbook(file)
        if not strange and not shelf.is_of(file, __version__):
            write_text(file, handbook(case, __version__))
    except (OSError, UnwritableError) as error:
        LOG.warning("no handbook beside the results: %s", error)


def write_results(
    folder: Path,
    case: Case,
    outcome: SearchOutcome,
    own: pd.DataFrame | None,
    command: str,
    *,
    sheets_at_most: int | None = None,
    aside: Beside | None = None,
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Write all files of a search but the page; return the recommended designs and the tables of fluids and layouts.

    Of a search under way only ``sheets_at_most`` designs get a sheet, and the outside checks are left for its end.
    ``aside`` is the front of an earlier run, for a search over worlds.
    """
    import pandas as pd

    from explore.doubt.against import promises
    from explore.judgement.front import fluids_table, layouts_table
    from explore.model import Evaluator
    from explore.model.details import air_pressure_bar, records, sheets, spread, transport_sources
    from explore.tell import narrator
    from explore.verify import remembered

    started = time.perf_counter()
    case = carry(folder, case)
    counts = {fluid: (count, outcome.feasible.get(fluid, 0)) for fluid, count in outcome.evaluated.items()}
    fluids = fluids_table(outcome.designs, case.report.pressure_ceilings_bar_g, counts=counts)
    runs.write_config(folder, case)
    write_frame(folder / "front.csv", outcome.front)
    judged_by = {one.figure for one in sought(case).scenario.objectives}
    write_frame(folder / "designs.csv", outcome.designs, shorten_from="possible", whole=judged_by)
    if case.exchangers.method == "tubes":
        fluids["transport_properties"] = [
            "; ".join(f"{title}: {words}" for title, words in transport_sources(case, str(fluid)).items())
            for fluid in fluids["fluid"]
        ]
    write_frame(folder / "fluids.csv", fluids)
    layouts = layouts_table(
        outcome.designs, outcome.front, case.report.pressure_ceilings_bar_g, counts=outcome.layouts or None
    )
    write_frame(folder / "layouts.csv", layouts)
    if own is not None:
        write_frame(folder / "own.csv", own)
    evaluator = Evaluator(case)
    most = case.report.sheets if sheets_at_most is None else min(sheets_at_most, case.report.sheets)
    chosen, tubes = recommended(evaluator, outcome.front)
    if sheets_at_most is None:
        chosen = chosen.assign(leeway=_leeway(evaluator, outcome.front, chosen))
        chosen["more"] = pd.Series(_more(evaluator, outcome.front, chosen), index=chosen.index, dtype=object)
    lines = spread(len(outcome.front), most, [int(line) for line in chosen["line"]])
    about = sheets(evaluator, outcome.front, lines, tubes)
    write_json(folder / "sheets.json", about, indent=None)
    write_told(folder, evaluator, outcome.front, outcome.designs, tubes)
    if sheets_at_most is None:
        write_json(folder / "checks.json", remembered(), indent=None)
    picked = [_picked(row, about["designs"]) for row in records(chosen)]
    chosen = chosen.assign(cautions=[narrator.counted(one["cautions"]) for one in picked])
    summary = runs.summary(folder, case, outcome) | {"command": command, "picks": picked}
    summary["broken_with_tubes"] = {str(line): names for line, names in _broken(tubes).items()}
    summary["layouts_compared"] = narrator.layouts_compared(layouts)
    if over_worlds(case):
        summary["against"] = promises(case, outcome.designs, chosen, aside)
    summary["air_pressure_bar_a"] = air_pressure_bar(evaluator)
    summary["timings"]["writing"] = time.perf_counter() - started
    write_json(folder / "summary.json", summary)
    return chosen, fluids, layouts


def show_designs(folder: Path, case: Case, outcome: SearchOutcome) -> None:
    """Leave the designs as an Optuna study; one that cannot be written is no reason to lose the results beside it."""
    from explore.search.showcase import show_designs as show

    try:
        show(folder, sought(case), outcome.designs, outcome.seconds)
    except OSError as error:
        LOG.warning("the study of designs cannot be written: %s", error.strerror or error)


MOST_KEPT = 1500
"""Designs that a page carries beside the front, at most: some hundred each fluid, and its marks are still drawn at once."""


def write_told(
    folder: Path,
    evaluator: Evaluator,
    front: pd.DataFrame,
    designs: pd.DataFrame,
    tubes: Mapping[int, dict[str, Any]] | None = None,
) -> None:
    """Write ``told.json``: which designs the page carries beside the front, and what is told of each without a sheet.

    ``tubes``: what tubes make of the lines of the front, where that has been found out already.
    """
    import pandas as pd

    from explore.judgement.front import own_fronts
    from explore.model.details import air_pressure_bar, coldest, told, tried_with_tubes
    from explore.run.told import pack, pack_tubes, pack_walls

    case, report = evaluator.case, evaluator.case.report
    objectives = sought(case).scenario.objectives
    kept = own_fronts(designs, front, objectives, report.pressure_ceilings_bar_g, MOST_KEPT)
    shown = pd.concat([front, designs.iloc[kept]], ignore_index=True)
    found = dict(tubes or tried_with_tubes(evaluator, front))
    beside = tried_with_tubes(evaluator, designs.iloc[kept])
    found |= {len(front) + line: one for line, one in beside.items()}
    air_bar = air_pressure_bar(evaluator)
    cautions, hazards = told(case, shown, air_bar=air_bar, cold=coldest(evaluator), tubes=found)
    of = {name: digest(folder / name) for name in reader.TOLD_OF}
    content = {"of": of, "kept": [place + 1 for place in kept], **pack(cautions), **pack_walls(hazards)}
    content["tubes"] = pack_tubes([found[line] for line in range(1, len(shown) + 1)])
    write_json(folder / "told.json", content, indent=None)


def recommended(evaluator: Evaluator, front: pd.DataFrame) -> tuple[pd.DataFrame, dict[int, dict[str, Any]]]:
    """Choose designs that keep their limits with tubes as well; return them, and what tubes make of all of the front."""
    from explore.judgement import front as fronts
    from explore.judgement.front import displaced, picks, roles
    from explore.model.details import tried_with_tubes
    from explore.tell import narrator

    case, objectives = evaluator.case, sought(evaluator.case).scenario.objectives
    numbered = front.assign(line=range(1, len(front) + 1))
    tubes = tried_with_tubes(evaluator, front)
    broken = _broken(tubes)
    barred = {line - 1 for line in broken}
    chosen = picks(numbered, objectives, knees=0, barred=barred)
    told: dict[int, list[str]] = {}
    if len(front):
        places = zip(
            roles(objectives),
            fronts.recommended(front, objectives, barred),
            displaced(front, objectives, barred),
            strict=True,
        )
        for role, kept, first in places:
            if first is not None:
                fluid = case.card(str(front["fluid"].iloc[first])).title
                words = narrator.displaced(fluid, first + 1, broken[first + 1])
                told.setdefault(kept + 1, []).append(f"{role.title}: {words}")
    return chosen.assign(displaced=[" ".join(told.get(int(line), ())) for line in chosen["line"]]), tubes


def _leeway(evaluator: Evaluator, front: pd.DataFrame, chosen: pd.DataFrame) -> list[str]:
    """Say how far the inputs of each recommended design may move by themselves; nothing of one outside the space."""
    from explore.design.space import Space
    from explore.doubt.against import made
    from explore.errors import InputError
    from explore.judgement.front import normalise
    from explore.search.leeway import leeway
    from explore.search.refine import SETTLED, range_of
    from explore.tell import narrator

    case = evaluator.case
    objectives = sought(case).scenario.objectives
    span = range_of(normalise(front, objectives))
    try:
        found = leeway(
            {str(name): chosen[name].to_numpy() for name in chosen},
            Space.from_case(case),
            made(case) if over_worlds(case) else evaluator,
            objectives,
            span,
        )
    except InputError:  # judged again under a space that no longer holds them
        return ["" for _ in range(len(chosen))]
    return [narrator.leeway(one, SETTLED) for one in found]


def _more(evaluator: Evaluator, front: pd.DataFrame, chosen: pd.DataFrame) -> list[dict[str, Any]]:
    """Say of each recommended design what more of its parts would add, where parts are owned."""
    from explore.bench.more import told
    from explore.model.details import records

    found: dict[int, dict[str, Any]] = {}
    for line in dict.fromkeys(int(line) for line in chosen["line"]):
        design = records(front.iloc[[line - 1]])[0]
        found[line] = told(evaluator, design, design)
    return [found[int(line)] for line in chosen["line"]]


def _broken(tubes: Mapping[int, Mapping[str, Any]]) -> dict[int, list[str]]:
    """Return the limits that lines of the front break with tubes only, of those that break any."""
    return {line: list(found["broken"]) for line, found in sorted(tubes.items()) if found.get("broken")}


def _picked(row: Mapping[str, Any], about: Mapping[str, Any]) -> dict[str, Any]:
    """Say for summary.json which line of front.csv is recommended, why, and with which cautions."""
    line = int(row["line"])
    picked = {"role": row["pick"], "why": row["why"], "row": line, "cautions": about[str(line)]["cautions"]}
    picked |= {"leeway": str(row["leeway"])} if "leeway" in row else {}
    return picked | ({"more": row["more"]} if row.get("more") else {})
