"""What each task does, in order: check, run, write, tell."""

from __future__ import annotations

import logging
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from explore.config.schema import Case
from explore.config.urls import without_passwords
from explore.errors import InputError
from explore.run import folder as runs
from explore.tell.terminal import Progress

if TYPE_CHECKING:
    import pandas as pd

    from explore.search import Progress as State
    from explore.search import SearchOutcome

LOG = logging.getLogger("explore")


def run(case: Case, command: str = "explore") -> Path | None:
    """Carry out the task of a checked case; ``command`` is what was typed, for the record.

    Returns the folder of the run that a search has left.
    """
    tasks: dict[str, Callable[[Case, str], Path | None]] = {
        "search": search,
        "inspect": inspect,
        "report": report,
        "compare": compare,
        "verify": verify,
        "reprice": reprice,
        "work": work,
    }
    if case.task.name not in tasks:
        raise InputError(
            f"task.name={case.task.name}: there is no such task here; there are {', '.join(tasks)}"
        )
    return tasks[case.task.name](case, without_passwords(command))


def search(case: Case, command: str) -> Path:
    """Search the design space and leave a run's folder with its page; returns the folder.

    Raises :class:`KeyboardInterrupt` with how to go on, if the user ended the search early; what was found
    is written all the same.
    """
    from explore.search import optimise

    own = own_designs(case)
    with _folder(case) as folder, _resumable(folder):
        judged = case
        if case.task.resume is None:
            judged = runs.carry(folder, case)
            runs.write_config(folder, judged)
        LOG.info(command)
        with Progress() as progress:
            progress.show(
                [f"preparing {len(case.scenario.fluids or case.pure_fluids())} fluids and the year"], None
            )

            def after_leg(state: State) -> None:
                if state.legs == 1 and case.task.resume is not None:
                    renew_config(folder, case)
                tell(progress, state)

            outcome = optimise(judged, run_folder=folder, progress=after_leg)
        LOG.info("search ended (%s) after %.0f s", outcome.stop_reason, outcome.seconds)
        place = keep(folder, case, outcome, own, command)
    if outcome.stop_reason == "interrupted":
        raise KeyboardInterrupt(f"go on with: explore resume={folder}")
    return place


def renew_config(folder: Path, case: Case) -> None:
    """Note the new budget of a resumed run, once the campaign has accepted the case."""
    try:
        runs.write_config(folder, runs.carry(folder, case))
    except runs.UnwritableError as error:  # no reason to end the search
        LOG.warning("%s", error)


def keep(folder: Path, case: Case, outcome: SearchOutcome, own: pd.DataFrame | None, command: str) -> Path:
    """Write the results and the page of a search, print its closing words, and return the results' folder.

    That is the run's folder, made again if it has vanished; where it cannot be written, as on a full
    disk, a new one among the system's temporary files.
    """
    try:
        return _kept(folder, case, outcome, own, command)
    except (runs.UnwritableError, OSError) as error:
        place = runs.refuge(case)
        print(f"explore: {error}; the results go to {place} instead", file=sys.stderr)
    try:
        return _kept(place, case, outcome, own, command)
    except (runs.UnwritableError, OSError) as error:
        raise runs.UnwritableError(f"{error}; make room and go on with: explore resume={folder}") from error


def _kept(folder: Path, case: Case, outcome: SearchOutcome, own: pd.DataFrame | None, command: str) -> Path:
    from explore.tell.closing import closing
    from explore.tell.page import write_page

    folder.mkdir(parents=True, exist_ok=True)
    chosen, fluids = write_results(folder, case, outcome, own, command)
    page = write_page(folder)
    print(f"\n{case.scenario.title}\n{closing(case, outcome, chosen, fluids, page)}")
    return folder


def reprice(case: Case, command: str) -> Path:
    """Judge a run's archive again under the changed case, and leave a run's folder of its own."""
    from explore.search import reprice
    from explore.tell.closing import closing
    from explore.tell.page import write_page

    if case.task.run is None:
        raise InputError("task=reprice needs run=results/<scenario>/<time>, and what is to change")
    archive = runs.read_frame(Path(case.task.run) / "designs.csv")
    earlier = runs.read_summary(Path(case.task.run))
    with runs.claimed(case) as folder:
        LOG.info(command)
        outcome = reprice(case, archive, earlier)
        chosen, fluids = write_results(folder, case, outcome, own_designs(case), command)
        page = write_page(folder)
    print(f"\n{case.scenario.title}, repriced\n{closing(case, outcome, chosen, fluids, page)}")
    return folder


def work(case: Case, command: str) -> None:
    """Carry out legs of a campaign in a database until it is finished, or this process is told to end."""
    from explore.search import work

    LOG.info(command)
    stops: list[str] = []
    with Progress() as progress:
        legs = work(
            case,
            progress=lambda state: tell(progress, state),
            stopped=lambda: stops.append("the campaign goes on; join it again with the same command"),
        )
    print(f"{legs} legs carried out here")
    if stops:
        raise KeyboardInterrupt(stops[0])


@contextmanager
def _resumable(folder: Path) -> Iterator[None]:
    """Say how to go on with a search that is broken off after its first leg."""
    try:
        yield
    except KeyboardInterrupt as stop:
        if runs.has_legs(folder):
            raise KeyboardInterrupt(f"go on with: explore resume={folder}") from stop
        raise


@contextmanager
def _folder(case: Case) -> Iterator[Path]:
    """The folder of a run: claimed anew, or that of the run to go on with."""
    if case.task.resume is None:
        with runs.claimed(case) as folder:
            yield folder
    else:
        folder = Path(case.task.resume)
        with runs.logged(folder):
            yield folder


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

    from explore.run.design_file import evaluated

    tables = []
    for file in case.report.own:
        table = evaluated(file, case)
        names = (
            [Path(file).stem]
            if len(table) == 1
            else [f"{Path(file).stem} {i + 1}" for i in range(len(table))]
        )
        table.insert(0, "name", names)
        tables.append(table)
    return pd.concat(tables, ignore_index=True) if tables else None


def write_results(
    folder: Path, case: Case, outcome: SearchOutcome, own: pd.DataFrame | None, command: str
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Write all files of a search but the page; return the recommended designs and the table of fluids."""
    from explore.judgement.front import fluids_table, picks
    from explore.model import Evaluator
    from explore.model.details import air_pressure_bar, records, sheets, transport_sources
    from explore.tell import narrator
    from explore.verify import remembered

    started = time.perf_counter()
    case = runs.carry(folder, case)
    counts = {fluid: (count, outcome.feasible.get(fluid, 0)) for fluid, count in outcome.evaluated.items()}
    fluids = fluids_table(outcome.designs, case.report.pressure_ceilings_bar_g, counts=counts)
    runs.write_config(folder, case)
    runs.write_frame(folder / "front.csv", outcome.front)
    runs.write_frame(folder / "designs.csv", outcome.designs, shorten_from="possible")
    if case.exchangers.method == "tubes":
        fluids["transport_properties"] = [
            "; ".join(f"{title}: {words}" for title, words in transport_sources(case, str(fluid)).items())
            for fluid in fluids["fluid"]
        ]
    runs.write_frame(folder / "fluids.csv", fluids)
    if own is not None:
        runs.write_frame(folder / "own.csv", own)
    evaluator = Evaluator(case)
    lines = outcome.front.assign(line=range(1, len(outcome.front) + 1))
    chosen = picks(lines, case.scenario.objectives, knees=0)
    about = sheets(evaluator, outcome.front, case.report.sheets, [int(line) for line in chosen["line"]])
    runs.write_json(folder / "sheets.json", about, indent=None)
    runs.write_json(folder / "checks.json", remembered(), indent=None)
    picked = [_picked(row, about["designs"]) for row in records(chosen)]
    chosen = chosen.assign(cautions=[narrator.counted(one["cautions"]) for one in picked])
    summary = runs.summary(folder, case, outcome) | {"command": command, "picks": picked}
    summary["air_pressure_bar_a"] = air_pressure_bar(evaluator)
    summary["timings"]["writing"] = time.perf_counter() - started
    runs.write_json(folder / "summary.json", summary)
    return chosen, fluids


def _picked(row: Mapping[str, Any], about: Mapping[str, Any]) -> dict[str, Any]:
    """Say for summary.json which line of front.csv is recommended, why, and with which cautions."""
    line = int(row["line"])
    return {"role": row["pick"], "why": row["why"], "row": line, "cautions": about[str(line)]["cautions"]}


def inspect(case: Case, command: str) -> None:
    """Print one design whole."""
    from explore.model import Evaluator
    from explore.model.details import air_pressure_bar, details, records, transport_sources
    from explore.run.design_file import evaluated
    from explore.tell.sheet import sheet, transport

    if case.task.design is None:
        raise InputError("task=inspect needs design=FILE.yaml, or design=results/.../front.csv row=N")
    if case.task.design.lower().endswith(".csv") and case.task.row is None:
        raise InputError(f"design={case.task.design} is a table: say which line with row=N, counted from 1")
    evaluator = Evaluator(case, case.search.properties)
    design = evaluated(case.task.design, case, case.task.row)
    figures = records(design)[0]
    print(sheet(figures, details(evaluator, design)[0], case, air_pressure_bar(evaluator)))
    print(transport(transport_sources(case, str(figures["fluid"]))), end="")


def report(case: Case, command: str) -> None:
    """Build the page of a past run again."""
    from explore.tell.page import write_page

    if case.task.run is None:
        raise InputError("task=report needs run=results/<scenario>/<time>")
    folder = Path(case.task.run)
    if not folder.is_dir():
        raise InputError(f"run={folder}: there is no such folder")
    print(f"page: {write_page(folder)}")


def compare(case: Case, command: str) -> None:
    """Lay two or more runs side by side on one page in the results folder."""
    folders = [Path(name) for name in case.task.runs]
    for folder in folders:
        if not folder.is_dir():
            raise InputError(f"runs: {folder}: there is no such folder; give runs=[FOLDER,FOLDER]")
    side_by_side(folders, Path(case.results_folder))


def side_by_side(folders: list[Path], results: Path | None = None) -> None:
    """Write the page that compares runs, at most the first eight, into the results folder they stand in."""
    from explore.tell.page import write_comparison
    from explore.tell.page.comparison import MOST_RUNS

    if len(folders) > MOST_RUNS:
        print(f"the comparison holds the first {MOST_RUNS} of {len(folders)} runs")
    stamp = time.strftime("%Y-%m-%dT%H%M%SZ", time.gmtime())
    page = (results or folders[0].parents[1]) / f"comparison-{stamp}.html"
    made = [place for place in page.parents if not place.exists()]
    try:
        page.parent.mkdir(parents=True, exist_ok=True)
        print(f"page: {write_comparison(folders[:MOST_RUNS], page)}")
    except InputError:
        runs.remove_empty(made)
        raise
    except OSError as error:
        raise InputError(
            f"cannot write {page}: {error.strerror or error}; choose another results_folder"
        ) from error


def verify(case: Case, command: str) -> None:
    """Hold the model against published numbers, or show what each constant moves; status 1 if a check fails."""
    from explore.verify import influence, influence_table, run, table

    if case.task.detail == "influence":
        print(influence_table(influence(case)))
        return
    results = run(None if case.task.detail is None else [case.task.detail])
    print(table(results))
    if not results.loc[results["binding"], "within"].all():
        raise SystemExit(1)
