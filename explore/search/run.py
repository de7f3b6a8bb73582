"""One search from a case to its outcome."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING

from explore.config.goals import over_worlds
from explore.config.schema import Case, Search
from explore.design.space import Space
from explore.errors import InputError, NothingFeasibleError
from explore.judgement.front import hypervolume, normalise
from explore.search.binding import nothing_feasible
from explore.search.crew import Alone, Crew, EvaluatorFactory, Kit, crew_of
from explore.search.finish import Finished, evaluated, finished
from explore.search.leg import Evaluator
from explore.search.outcome import Moment, Progress, ProgressCallback, SearchOutcome
from explore.search.plain import plain_random
from explore.search.refine import DESIGNS_A_TURN, Refinement, refine
from explore.search.so_far import Look, Looks, gathered, shown

if TYPE_CHECKING:
    import pandas as pd

    from explore.search.hunt import Hunt

CHECKED, LEAST_CHECKED = 10, 4
"""Designs of the front that a last refinement tries: ten tell a settled search from one that has not; of a search of some
thousand designs, which has not, four say so."""


def _silent(words: str) -> None:
    """Tell nobody."""


def optimise(
    scenario: Case | str | Path,
    *,
    evaluator: EvaluatorFactory | None = None,
    run_folder: Path | None = None,
    progress: ProgressCallback | None = None,
    look: Look | None = None,
    stage: Callable[[str], None] = _silent,
) -> SearchOutcome:
    """Search the design space of a scenario for its front.

    ``scenario`` is a whole case (:func:`explore.load_scenario`) or what that function takes.
    ``evaluator`` makes the model from the case; it must be importable by name, for worker processes.
    ``progress`` is called after every leg, ``look`` with what is known so far, after the first round of a search that
    takes longer and then ever more seldom; ``stage`` with the name of what comes after the search.
    The campaign is kept in ``run_folder``, or in the database that ``search.storage`` names; one already there is
    continued. With a budget in designs the outcome depends
    on the seed only, not on the number of workers. Ctrl-C ends the search after the legs in flight;
    :class:`KeyboardInterrupt` is raised only if there were none, or at a second Ctrl-C.

    Raises :class:`InputError` if the budget or the space is empty and if the campaign found in the storage is one of
    something else; :class:`NothingFeasibleError`, one of its kind, if nothing feasible was found.
    """
    case = scenario if isinstance(scenario, Case) else _load(scenario)
    with _prepared(case, evaluator, run_folder) as ready:
        hunt, timings = ready.hunt, ready.timings
        with _timed(timings, "search"), _interruptible(hunt):
            showing = _showing(progress, ready, run_folder)
            looks = Looks(hunt, ready.evaluator, look) if look else None

            def after_leg(state: Progress) -> None:
                if showing:
                    showing(state)
                if looks:
                    looks.after_leg(state)

            hunt.run(ready.crew, after_leg)
        if hunt.legs == 0 and hunt.stop_reason == "interrupted":
            raise KeyboardInterrupt
        if hunt.legs == 0:
            raise InputError(
                f"search.seconds={hunt.search.seconds:g} is over before the first leg can begin; give it more"
            )
        stage("judging the archive again")
        with _timed(timings, "archive"):
            judged = evaluated(hunt.archive.known.genes, hunt.space, ready.crew)
        if hunt.tally.feasible_total == 0:
            raise NothingFeasibleError(
                nothing_feasible(hunt, judged), interrupted=hunt.stop_reason == "interrupted"
            )
        stage("improving the front and the recommended designs locally")
        with _timed(timings, "polish"):
            polished = finished(judged, ready.hunt, ready.crew, case)
            judged, front = polished.judged, polished.front
        designs = shown(judged)
        volume = hypervolume(normalise(front, case.scenario.objectives))
        stage("checking how far the front still gives way")
        with _timed(timings, "refinement check"):
            refinement = refine(
                front,
                hunt.space,
                ready.evaluator,
                case.scenario.objectives,
                count=min(CHECKED, max(LEAST_CHECKED, hunt.tally.evaluated_total // DESIGNS_A_TURN)),
            )
        stage("comparing with designs drawn at random")
        with _timed(timings, "random comparison"):
            random = plain_random(
                hunt.space, ready.crew, case.scenario.objectives, hunt.search, hunt.tally.evaluated_total
            )
    return _outcome(ready, designs, front, refinement, random, volume=volume, polished=polished)


@dataclass(frozen=True)
class _Ready:
    """A search ready to go, and the seconds its parts took."""

    hunt: Hunt
    crew: Alone | Crew
    evaluator: Evaluator
    timings: dict[str, float]


@contextmanager
def _timed(timings: dict[str, float], part: str) -> Iterator[None]:
    started = time.perf_counter()
    yield
    timings[part] = time.perf_counter() - started


def _showing(
    progress: ProgressCallback | None, ready: _Ready, folder: Path | None
) -> ProgressCallback | None:
    """Let the study of designs in a run's folder be refreshed now and then, when ``progress`` is told of a leg."""
    if folder is None:
        return progress
    from explore.search.showcase import Showcase

    hunt = ready.hunt
    showcase = Showcase(folder, hunt.case, hunt.space, ready.evaluator)

    def after_leg(state: Progress) -> None:
        if progress:
            progress(state)
        showcase.refresh(hunt.archive)

    return after_leg


def work(
    case: Case,
    *,
    evaluator: EvaluatorFactory | None = None,
    progress: ProgressCallback | None = None,
    stopped: Callable[[str], None] | None = None,
) -> int:
    """Help a campaign that is kept in a database: claim legs and carry them out until it is finished.

    Any number of processes, on any machine that reaches the database and the folder ``search.artifacts``,
    may join and leave at any time. Ends when the campaign's designs are used, after ``search.seconds`` of
    its own, or on Ctrl-C or SIGTERM after the legs in flight; ``stopped`` is then called with
    what is amiss with the database, empty if nothing. Returns the number of legs it carried out.

    Raises :class:`InputError` if the case names no database, or the campaign there is of another case.
    """
    if case.search.storage is None:
        raise InputError(
            "task=work needs the database of the campaign to work for, search.storage=postgresql+psycopg://..."
        )
    with _prepared(case, evaluator, None) as ready:
        ready.hunt.restart_clock()
        with _interruptible(ready.hunt):
            ready.hunt.run(ready.crew, progress)
    trouble = ready.hunt.ledger.trouble
    if stopped and ready.hunt.stop_reason == "interrupted":
        stopped(trouble)
    elif trouble:
        raise InputError(trouble)
    return ready.hunt.legs_here


@contextmanager
def _prepared(case: Case, factory: EvaluatorFactory | None, folder: Path | None) -> Iterator[_Ready]:
    """Open the campaign, make the model, start the workers, and end them all in the end."""
    from explore.model.ahead import made_ahead
    from explore.search.hunt import Hunt
    from explore.search.identity import facts
    from explore.search.planning import check
    from explore.search.storage import open_ledger

    workers = _workers(case.search)
    check(case.search)
    if over_worlds(case) and factory is None:
        raise InputError(
            f"search.against={case.search.against} needs a model that reads designs over worlds; explore.optimise and the "
            "command have it"
        )
    kit = Kit(case, Space.from_case(case), factory or model)
    ledger = open_ledger(case, kit.space, folder, facts(case, kit.factory))
    try:
        timings: dict[str, float] = {}
        own = cache(lambda: kit.factory(case))
        with crew_of(workers, kit, own) as crew:
            # Built here before any leg is given out: what the model caches on disk is then ready for every worker.
            ours = (factory is None or over_worlds(case)) and case.search.properties == "tables"
            with _timed(timings, "start-up"), made_ahead(case) if ours and workers > 1 else nullcontext():
                evaluator = own()
            yield _Ready(Hunt(case, kit.space, ledger), crew, evaluator, timings)
    finally:
        ledger.close()


def _load(scenario: str | Path) -> Case:
    from explore.config.compose import load_scenario

    return load_scenario(scenario)


def model(case: Case) -> Evaluator:
    """Make the system model of a case, with the property path its search asks for."""
    from explore.fluids import kernels as look_ups
    from explore.machine_code import prepared
    from explore.model import Evaluator as SystemEvaluator
    from explore.plant import kernels as steps
    from explore.year import kernels as hours

    # Before workers start, each of which would translate it for itself. Those of look-ups may be made beside meanwhile.
    for loops in (hours, steps, look_ups):
        prepared(loops)
    return SystemEvaluator(case, case.search.properties)


def _workers(search: Search) -> int:
    """Number of processes to use; refuses a search without a budget or with more workers than legs."""
    from explore.search.planning import Budget

    if search.designs is None and search.seconds is None:
        raise InputError("search.designs and search.seconds are both empty; give at least one of them")
    legs = min(search.legs_per_round, Budget.of(search).legs or search.legs_per_round)
    if search.workers is not None and search.workers > legs:
        raise InputError(
            f"search.workers={search.workers} is more than the {legs} legs that run at a time; use fewer "
            "workers, or raise search.legs_per_round or the budget"
        )
    return search.workers or min(_cores(), legs)


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@contextmanager
def _interruptible(hunt: Hunt) -> Iterator[None]:
    """Let the first Ctrl-C or SIGTERM end the search in good order; a second one breaks it off."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}

    def on_signal(number: int, frame: FrameType | None) -> None:
        signal.signal(number, before[signal.Signals(number)])
        hunt.interrupt()

    for number in before:
        signal.signal(number, on_signal)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _outcome(
    ready: _Ready,
    designs: pd.DataFrame,
    front: pd.DataFrame,
    refinement: Refinement,
    random: list[Moment],
    *,
    volume: float,
    polished: Finished,
) -> SearchOutcome:
    hunt = ready.hunt
    return replace(
        gathered(hunt, designs, front),
        all_kept=len(hunt.archive.known) == hunt.tally.evaluated_total,
        hypervolume=volume,
        random_history=random,
        refinement=refinement,
        stop_reason=hunt.stop_reason,
        workers=ready.crew.size,
        timings_s=ready.timings,
        polished=polished.bettered,
        picks_gain=polished.picks_gain,
    )
