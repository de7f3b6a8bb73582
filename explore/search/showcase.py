"""The public face of a campaign: one multi-objective Optuna study of designs, the whole front and a spread of others.

Its best trials are the front. It is kept beside the study of legs: in a run's folder as a journal of its own, written
whole each time, because a journal only ever grows; and in the campaign's database, where there is one.
"""

from __future__ import annotations

import logging
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import optuna
from optuna.exceptions import ExperimentalWarning, StorageInternalError
from optuna.storages import BaseStorage, JournalStorage
from optuna.trial import FrozenTrial, create_trial

from explore.config.schema import Case
from explore.design.space import Space
from explore.errors import InputError
from explore.judgement.front import front_rows, normalise
from explore.search.archive import Archive
from explore.search.campaign import study_name
from explore.search.connection import hiding
from explore.search.journal import Pages
from explore.search.judge import judge
from explore.search.leg import Evaluator
from explore.search.parameters import Parameters
from explore.search.ranking import spread
from explore.search.storage import database
from explore.whole_file import write_whole

if TYPE_CHECKING:
    import pandas as pd

DESIGNS_JOURNAL = "designs.journal"
DESIGNS = "designs"
TRIALS = 1000
"""Optuna's importances and plots take seconds with a thousand trials, minutes with ten thousand."""
FRONT_TRIALS = 700
"""The front is what is looked for; three hundred others show where it stands and what constraints cost."""
REFRESHED_EVERY_S = 600.0
"""Evaluated and written again in two seconds: a third of a per cent of a long search."""
TRIALS_A_SECOND, PUBLISHED_SHARE = 10.0, 0.03
"""A database took 12 (SQLite) to 20 trials a second; three per cent of a search's time may go into showing it."""
MISSING_VALUE = 1e5
"""Far beyond any objective that exists, and below what stands for one that does not."""
BREACH = "breach"
LINE, FRONT_LINE = "line_of_designs_csv", "line_of_front_csv"
LOGGER = logging.getLogger("explore.search")


def designs_study(
    case: Case,
    designs: pd.DataFrame,
    storage: BaseStorage | None = None,
    *,
    most: int = TRIALS,
    lines: bool = True,
) -> optuna.Study:
    """Make the study of ``designs`` (all columns of those that a search kept) in a storage, by default in memory.

    Every objective has its direction and name, every parameter its bounds in the unit that its name tells. The whole
    front is there, or :data:`FRONT_TRIALS` of it, in the order in which the designs were found, and so many of the
    others that they are ``most``. ``breach`` is the sum of all constraints by their scales, above zero for every
    design that is not feasible. The study's ``reference_point`` is for the history of the hypervolume. With ``lines``
    trials name their lines of ``designs.csv`` and ``front.csv``, counted from 1 after the heading.
    """
    objectives = case.scenario.objectives
    front = front_rows(designs, objectives)
    figures = designs[[o.figure for o in objectives]].to_numpy(float)
    feasible = designs["feasible"].to_numpy().astype(bool)
    rows = _chosen(normalise(designs, objectives), feasible, np.isfinite(figures).all(axis=1), front, most)
    with _calm():
        study = optuna.create_study(
            storage=storage,
            sampler=optuna.samplers.RandomSampler(seed=case.search.seed),
            directions=["maximize" if o.direction == "maximise" else "minimize" for o in objectives],
            study_name=study_name(case, DESIGNS),
        )
        study.set_metric_names([o.figure for o in objectives])
        study.set_user_attr("reference_point", [float(o.reference) for o in objectives])
        study.set_user_attr("front_designs", len(front))
        study.set_user_attr("front_trials", int(np.isin(rows, front).sum()))
        study.add_trials(_trials(case, designs, front, rows, lines))
    return study


def write_designs(folder: Path, case: Case, designs: pd.DataFrame, *, lines: bool = True) -> None:
    """Write the study of designs into a run's folder, in place of an earlier one; raises :class:`OSError`."""
    pages = Pages()
    designs_study(case, designs, JournalStorage(pages), lines=lines)
    write_whole(folder / DESIGNS_JOURNAL, pages.content)


def publish_designs(case: Case, designs: pd.DataFrame, storage: BaseStorage, seconds: float) -> None:
    """Put the study of designs into a database, in place of an earlier one, for a search that took ``seconds``.

    A database takes some ten trials a second: beside the front come so many others as a small share of that time allows.
    """
    with _calm():
        if study_name(case, DESIGNS) in optuna.get_all_study_names(storage):
            optuna.delete_study(study_name=study_name(case, DESIGNS), storage=storage)
    designs_study(case, designs, storage, most=min(TRIALS, int(PUBLISHED_SHARE * seconds * TRIALS_A_SECOND)))


def show_designs(folder: Path, case: Case, designs: pd.DataFrame, seconds: float) -> None:
    """Show what a search of ``seconds`` kept: in its folder, and in the campaign's database, as far as it answers.

    Raises :class:`OSError` if the folder cannot be written to.
    """
    from sqlalchemy.exc import SQLAlchemyError

    write_designs(folder, case, designs)
    if case.search.storage is None:
        return
    try:
        publish_designs(case, designs, database(case.search.storage), seconds)
    except (InputError, StorageInternalError, SQLAlchemyError) as error:
        LOGGER.warning(
            "the designs are not shown in the campaign's database (%s)",
            hiding(case.search.storage)(str(error)),
        )


class Showcase:
    """Writes the study of designs into a run's folder now and then while the search goes on."""

    def __init__(self, folder: Path, case: Case, space: Space, evaluator: Evaluator):
        self._folder, self._case, self._space, self._evaluator = folder, case, space, evaluator
        self._written = time.monotonic()

    def refresh(self, archive: Archive) -> None:
        """Show what is known, if it was last shown some time ago; a disk that fails is none of the search's trouble."""
        if time.monotonic() - self._written < REFRESHED_EVERY_S or not len(archive.front):
            return
        import pandas as pd

        known = archive.known
        feasible, front = known.breach <= 0.0, np.flatnonzero(archive.on_front)
        there = np.all(known.values < MISSING_VALUE, axis=1)
        genes = known.genes.take(_chosen(known.values, feasible, there, front, TRIALS))
        columns = self._space.decode(genes.unit, genes.choices)
        designs = pd.DataFrame({**columns, **self._evaluator.evaluate(columns)})
        try:
            write_designs(self._folder, self._case, designs, lines=False)
        except OSError as error:
            LOGGER.warning(
                "%s cannot be written: %s", self._folder / DESIGNS_JOURNAL, error.strerror or error
            )
        self._written = time.monotonic()


@contextmanager
def _calm() -> Iterator[None]:
    """Keep Optuna from telling of every study that is made, and that metrics' names are new."""
    level = optuna.logging.get_verbosity()
    optuna.logging.set_verbosity(optuna.logging.ERROR)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", ExperimentalWarning)
            yield
    finally:
        optuna.logging.set_verbosity(level)


def _chosen(
    values: np.ndarray, feasible: np.ndarray, there: np.ndarray, front: np.ndarray, most: int
) -> np.ndarray:
    """Choose the rows that become trials: of the front, and evenly of all others that have figures (``there``)."""
    shown = front[spread(values[front], FRONT_TRIALS)] if len(front) > FRONT_TRIALS else front
    others = np.setdiff1d(np.flatnonzero(there), front)
    room = max(0, min(len(others), most - len(shown)))
    others = others[np.linspace(0, len(others) - 1, room).round().astype(int)]
    # What only a part of the front that is not shown beats, or what equals one of its designs, would pass for the front.
    behind = [not feasible[row] or _beaten(values[row], values[shown]) for row in others]
    return np.sort(np.concatenate([shown, others[np.array(behind, bool)]]))


def _beaten(one: np.ndarray, by: np.ndarray) -> bool:
    """Whether any of the rows ``by`` (n, m) dominates ``one`` (m,)."""
    return bool(((by <= one).all(axis=1) & (by < one).any(axis=1)).any())


def _trials(
    case: Case, designs: pd.DataFrame, front: np.ndarray, rows: np.ndarray, lines: bool
) -> list[FrozenTrial]:
    """Make a finished trial of each of ``rows``."""
    objectives = case.scenario.objectives
    some = {str(name): designs[name].to_numpy()[rows] for name in designs}
    parameters = Parameters.of(Space.from_case(case), some)
    judged = judge(some, objectives)
    front_lines = {int(row): line for line, row in enumerate(front, 1)}
    figures = np.stack([np.asarray(some[o.figure], float) for o in objectives], axis=1).tolist()
    trials = []
    for place, values in enumerate(parameters.values(some)):
        row = int(rows[place])
        place_in_front = {FRONT_LINE: front_lines[row]} if row in front_lines else {}
        limits = {
            name: margin
            for name, margin in zip(judged.names, judged.violations[place].tolist(), strict=True)
            if margin == margin  # empty where a limit does not apply
        }
        trials.append(
            create_trial(
                params=values,
                distributions={name: parameters.distributions[name] for name in values},
                values=figures[place],
                constraints=limits | {BREACH: float(judged.breach[place])},
                user_attrs={LINE: row + 1, **place_in_front} if lines else {},
            )
        )
    return trials
