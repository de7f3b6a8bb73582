"""Searches the design space and leaves a run's folder with its page, or goes on with a run."""

from __future__ import annotations

import logging
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from explore.config.goals import over_worlds, sought
from explore.config.schema import Case
from explore.config.tasks import SearchTask
from explore.errors import InputError, NothingFeasibleError
from explore.run import folder as runs
from explore.run import reader
from explore.run.carried import carry
from explore.run.files import UnwritableError, digest, write_json
from explore.tasks.results import leave_handbook, own_designs, show_designs, tell, write_results
from explore.tell.terminal import Progress, say

if TYPE_CHECKING:
    import pandas as pd

    from explore.doubt.against import Beside
    from explore.search import Progress as State
    from explore.search import SearchOutcome

LOG = logging.getLogger("explore")
SHEETS_SO_FAR = 12
"""The recommended designs and some between them: taking a design apart costs a fifteenth of a second."""


def run(case: Case, task: SearchTask, command: str) -> Path:
    """Search the design space and leave a run's folder with its page; returns the folder.

    Raises :class:`KeyboardInterrupt` with how to go on, if the user ended the search early; what was found
    is written all the same.
    """
    from explore.doubt.against import beside, made
    from explore.doubt.weathers import refuse_bad_years
    from explore.search import optimise

    own = own_designs(case)
    aside = beside(case, Path(task.beside)) if task.beside is not None else None
    _refuse_bad_weather(case)
    refuse_bad_years(case)  # read by the study at the end, when it would be too late
    with _folder(case, task) as folder, _resumable(folder):
        judged = case
        if task.resume is None:
            judged = carry(folder, case)
            runs.write_config(folder, judged)
            LOG.info(command)
        with Progress() as progress:
            progress.show(
                [f"preparing {len(case.scenario.fluids or case.pure_fluids())} fluids and the year"], None
            )

            def after_leg(state: State) -> None:
                # A first leg says that the campaign has accepted the case; until then a resumed run is left as it is.
                if state.legs == 1 and task.resume is not None:
                    LOG.info(command)
                    renew_config(folder, case)
                tell(progress, state)

            def on_the_way(outcome: SearchOutcome) -> None:
                page = keep_so_far(folder, case, outcome, own, command)
                if page:
                    progress.note(f"first page, renewed as the search goes on: {page}")

            # A run that goes on keeps its earlier results until the new ones stand.
            look = on_the_way if task.resume is None else None
            outcome = optimise(
                sought(judged),
                evaluator=made if over_worlds(case) else None,
                run_folder=folder,
                progress=after_leg,
                look=look,
                stage=progress.stage,
            )
            LOG.info("search ended (%s) after %.0f s", outcome.stop_reason, outcome.seconds)
            progress.stage("writing the results")
            place, words = keep(folder, case, outcome, own, command, progress.stage, aside)
        say(words)
    if outcome.stop_reason == "interrupted":
        raise KeyboardInterrupt(f"go on with: explore resume={folder}")
    return place


def _refuse_bad_weather(case: Case) -> None:
    """Read a weather file of the user's before it is copied, so that a refusal has the name that the user gave it."""
    if not case.scenario.site.weather.startswith("pvlib:"):
        from explore.model.years import weather

        weather(case)


def renew_config(folder: Path, case: Case) -> None:
    """Note the new budget of a resumed run, once the campaign has accepted the case."""
    try:
        runs.write_config(folder, carry(folder, case))
    except UnwritableError as error:  # no reason to end the search
        LOG.warning("%s", error)


def keep(
    folder: Path,
    case: Case,
    outcome: SearchOutcome,
    own: pd.DataFrame | None,
    command: str,
    stage: Callable[[str], None] = lambda words: None,
    aside: Beside | None = None,
) -> tuple[Path, str]:
    """Write the results and the page of a search, and return the results' folder and the closing words.

    ``stage`` is told what is being done; ``aside`` is the front of an earlier run, for a search over worlds.

    That is the run's folder, made again if it has vanished; where it cannot be written, as on a full
    disk, a new one among the system's temporary files.
    """
    try:
        return _kept(folder, case, outcome, own, command, stage, aside)
    except (UnwritableError, OSError) as error:
        place = runs.refuge(case)
        print(f"explore: {error}; the results go to {place} instead", file=sys.stderr)
    try:
        return _kept(place, case, outcome, own, command, stage, aside)
    except (UnwritableError, OSError) as error:
        raise UnwritableError(f"{error}; make room and go on with: explore resume={folder}") from error


def keep_so_far(
    folder: Path, case: Case, outcome: SearchOutcome, own: pd.DataFrame | None, command: str
) -> Path | None:
    """Write results and page of a search that goes on, with few sheets; None, and a word in the log, where that fails."""
    from explore.tell.page import write_page

    try:
        write_results(folder, case, outcome, own, command, sheets_at_most=SHEETS_SO_FAR)
        return write_page(folder)
    except (UnwritableError, OSError) as error:  # no reason to end the search
        LOG.warning("no page on the way: %s", error)
        return None


def _kept(
    folder: Path,
    case: Case,
    outcome: SearchOutcome,
    own: pd.DataFrame | None,
    command: str,
    stage: Callable[[str], None],
    aside: Beside | None,
) -> tuple[Path, str]:
    from explore.tell import against
    from explore.tell.closing import closing
    from explore.tell.page import write_and_teach

    folder.mkdir(parents=True, exist_ok=True)
    chosen, fluids, layouts = write_results(folder, case, outcome, own, command, aside=aside)
    read = against.words(reader.read_summary(folder).get("against") or {})
    sure = [*read, *_doubted(folder, case, outcome, stage)]
    stage("writing the page")
    leave_handbook(folder, case)
    page, taught = write_and_teach(folder)
    show_designs(folder, case, outcome)
    words = closing(sought(case), outcome, chosen, fluids, layouts, page, sure, taught)
    return folder, f"\n{case.scenario.title}\n{words}"


def _doubted(folder: Path, case: Case, outcome: SearchOutcome, stage: Callable[[str], None]) -> list[str]:
    """Try what is recommended in other worlds and leave the answers; nothing of a search that was short or broken off.

    Ctrl-C ends the trying: the page is then written without.
    """
    from explore.doubt.brief import LEAST_DESIGNS, WORLDS, brief
    from explore.model import Evaluator
    from explore.tell import doubts

    if sum(outcome.evaluated.values()) < LEAST_DESIGNS or outcome.stop_reason == "interrupted":
        return []
    stage(f"trying the recommended designs in {WORLDS} plausible worlds")
    judged, picks = reader.judged_case(folder), reader.read_summary(folder)["picks"]
    workers = case.search.workers or os.cpu_count() or 1
    try:
        found = brief(Evaluator(judged), outcome.front, outcome.designs, picks, workers)
    except KeyboardInterrupt:
        return []
    write_json(folder / "doubt.json", found | {"front": digest(folder / "front.csv")})
    return doubts.in_short(found, case)


@contextmanager
def _resumable(folder: Path) -> Iterator[None]:
    """Say how to go on with a search that is broken off, or has found nothing feasible, after its first leg."""
    try:
        yield
    except NothingFeasibleError as error:
        if not runs.has_legs(folder):  # the folder has vanished under the search
            raise
        if error.interrupted:
            raise KeyboardInterrupt(
                f"{error}; its legs are kept, go on with: explore resume={folder}"
            ) from error
        raise InputError(
            f"{error}; its legs are kept, with a greater budget go on with: explore resume={folder}"
        ) from error
    except KeyboardInterrupt as stop:
        if runs.has_legs(folder):
            raise KeyboardInterrupt(f"go on with: explore resume={folder}") from stop
        raise


@contextmanager
def _folder(case: Case, task: SearchTask) -> Iterator[Path]:
    """The folder of a run: claimed anew, or that of the run to go on with."""
    if task.resume is None:
        with runs.claimed(case) as folder:
            yield folder
    else:
        folder = Path(task.resume)
        with runs.logged(folder):
            yield folder
