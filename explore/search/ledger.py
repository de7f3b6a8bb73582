"""The campaign's book: which legs are claimed, by whom, which are done again, and what is owed to its storage."""

from __future__ import annotations

import contextlib
import logging
import math
import time
import warnings
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, TypeVar

import optuna
from optuna.artifacts import get_all_artifact_meta
from optuna.artifacts.exceptions import ArtifactNotFound
from optuna.distributions import CategoricalDistribution
from optuna.exceptions import StorageInternalError, UpdateFinishedTrialError
from optuna.trial import TrialState

from explore.search.bookmark import Bookmark, Standing
from explore.search.campaign import (
    FOCUS,
    LEG,
    LOST,
    SIZE,
    Debt,
    close_trial,
    focus_of,
    next_focus,
    put_down,
    unasked,
)
from explore.search.connection import Line, driver_words
from explore.search.files import Form, Outbox, Shelf, TornError, read_leg
from explore.search.heartbeat import GRACE_S, Heart
from explore.search.leg import Result
from explore.search.planning import FRONT

if TYPE_CHECKING:
    from filelock import FileLock
    from optuna.storages import BaseStorage
    from optuna.study import Study
    from optuna.trial import FrozenTrial

TROUBLE = (OSError, StorageInternalError)
LOGGER = logging.getLogger("explore.search")
T = TypeVar("T")


class Ledger:
    """The campaign's book: which legs there are, who works on them, and what they found.

    Of several trials for one leg, as two processes may open one at a time, the first that has not failed
    counts. ``patience_s`` is how long a leg's file may stay out of sight on a shared folder before the
    leg is done again.

    With a ``line`` the storage is a database that may be away for a while: finished legs go to the ``outbox``
    first and to the database when it answers, and no leg is claimed in between, until it has been away
    for ``alone_after_s``: then this process does legs on its own account. They depend on their orders
    alone, so that a leg done twice is the same leg. Without a line a storage that fails is given up: the
    book goes on in memory. ``trouble`` says what is amiss.

    ``mark`` names the campaign in the files of its legs, and ``form`` is what a leg must look like to be one of it.
    ``bookmark`` is where the campaign's standing is kept, if it is.
    """

    def __init__(
        self,
        study: Study,
        storage: BaseStorage,
        fluids: Sequence[str],
        *,
        shelf: Shelf | None = None,
        lock: FileLock | None = None,
        patience_s: float = 0.0,
        line: Line | None = None,
        outbox: Outbox | None = None,
        alone_after_s: float = math.inf,
        mark: str = "",
        form: Form | None = None,
        bookmark: Bookmark | None = None,
    ):
        self.study, self._storage, self._shelf, self._lock = study, storage, shelf, lock
        self._id = storage.get_study_id_from_name(study.study_name)
        self._patience, self._missed = patience_s, dict[int, float]()
        self._line, self._outbox, self._alone_after = line, outbox, alone_after_s
        self._mark, self._form, self._bookmark = mark, form, bookmark
        self._errors: tuple[type[Exception], ...] = (*TROUBLE, *(line.errors if line else ()))
        self._given_up = ""
        self._owed: dict[int, Debt] = {}
        self._reached_for: set[int] = set()
        self._distribution = CategoricalDistribution([FRONT, *fluids])
        self._trials: dict[int, FrozenTrial] = {}
        self._mine: dict[int, optuna.Trial] = {}
        self._foci: dict[int, str] = {}
        self._sizes: dict[int, int] = {}
        self._gains: dict[int, float] = {}
        self._at: dict[int, float] = {}
        self._heart = Heart(storage)

    @classmethod
    def in_memory(cls, fluids: Sequence[str]) -> Ledger:
        """Keep a book that ends with the process."""
        storage = optuna.storages.InMemoryStorage()
        study = optuna.create_study(storage=storage, sampler=unasked(), direction="maximize")
        return cls(study, storage, fluids)

    @property
    def trouble(self) -> str:
        """What went wrong with the storage and still matters; empty if nothing."""
        if self._owed and self._line and self._outbox:
            return (
                f"the campaign's database does not answer ({self._line.reason}); {len(self._owed)} legs wait in "
                f"{self._outbox.folder} and go to it when the search is gone on with"
            )
        return self._given_up

    @property
    def away(self) -> bool:
        """Whether the database does not answer at the moment."""
        return self._line is not None and self._line.away_s > 0.0

    @property
    def alone(self) -> bool:
        """Whether this process no longer waits for the storage."""
        return bool(self._given_up) or (self._line is not None and self._line.away_s > self._alone_after)

    @property
    def owes(self) -> bool:
        """Whether the storage lacks a leg that was finished here."""
        return bool(self._owed)

    def _ask(self, act: Callable[[], T], otherwise: T) -> T:
        """Do something with the storage, or return ``otherwise`` if it does not answer."""
        if self._given_up or (self._line is not None and not self._line.due):
            return otherwise
        try:
            answer = act()
        except self._errors as error:
            self._lose(error)
            return otherwise
        if self._line is not None and self._line.answered():
            LOGGER.warning("the campaign's database answers again")
        return answer

    def open(self, sizes: Mapping[int, int]) -> None:
        """Make sure that every leg of a round has its trial; ``sizes`` are the designs of each leg.

        The foci are chosen from the legs of all earlier rounds.
        """
        self._ask(self._refresh, None)
        first = min(sizes)
        past = [(self._foci[n], self._gains[n]) for n in sorted(self._gains) if n < first]
        options = [str(choice) for choice in self._distribution.choices]
        for number, size in sizes.items():
            if number in self._foci:
                continue
            pending = [self._foci[n] for n in range(first, number)]
            self._foci[number] = next_focus(options, past, pending)
            self._sizes[number] = size
        self._ask(lambda: self._put_down(sizes), None)

    def _put_down(self, numbers: Iterable[int]) -> None:
        """Enqueue the legs that have no trial yet."""
        for number in numbers:
            if number not in self._trials and number in self._sizes:
                self._enqueue(number)

    def _enqueue(self, number: int) -> None:
        put_down(self.study, number, self._foci[number], self._sizes[number])

    def claim(self, numbers: range, known: Collection[int]) -> tuple[int, str, int] | None:
        """Claim a leg of a round that nobody works on: number, focus and designs; None if there is none.

        ``known`` are the legs in hand already.
        """
        number = self._ask(lambda: self._claim(numbers, known), None)
        if self.alone:
            number = next((n for n in numbers if n not in known), None)
        return None if number is None else (number, self._foci[number], self._sizes[number])

    def _claim(self, numbers: range, known: Collection[int]) -> int | None:
        """Claim a waiting trial: of several processes that try, the storage lets one."""
        self._refresh()
        if any(number not in self._trials for number in numbers):
            self._put_down(numbers)
            self._refresh()
        for number in numbers:
            if number not in known and number in self._trials and self._take(number):
                return number
        return None

    def _take(self, number: int) -> bool:
        """Take a leg's trial if nobody has; a trial reached for when the line broke is taken as won."""
        trial = self._trials[number]
        place = self._place(trial)
        if trial.state == TrialState.WAITING:
            self._reached_for.add(place)
            try:
                won = self._storage.set_trial_state_values(place, state=TrialState.RUNNING)
            except UpdateFinishedTrialError:
                won = False
        else:
            won = trial.state == TrialState.RUNNING and place in self._reached_for
        if won:
            mine = optuna.Trial(self.study, place)
            self._heart.add(mine, place)
            mine.suggest_categorical(FOCUS, self._distribution.choices)
            self._mine[number] = mine
        self._reached_for.discard(place)
        return won

    def _place(self, trial: FrozenTrial) -> int:
        """Where the storage keeps a trial."""
        return self._storage.get_trial_id_from_study_id_trial_number(self._id, trial.number)

    def kept(self, number: int) -> Result | None:
        """A leg finished earlier whose result the database never got, or None."""
        result = self._outbox.kept(number) if self._outbox else None
        if result is not None:
            try:
                self._check(result, number)
            except TornError as error:
                LOGGER.warning("leg %d is not taken from its file (%s); it is done again", number, error)
                return None
        return result

    def _check(self, result: Result, number: int) -> None:
        """Raise :class:`TornError` if a file does not hold the leg of this number."""
        if self._form is not None:
            self._form.check(result)
        if (result.number, result.focus) != (number, self._foci[number]):
            raise TornError("it holds another leg")
        done, asked = result.tally.evaluated_total, self._sizes[number]
        if done != asked:  # cut by the end of the time: done whole, it is that of a search never stopped
            raise TornError(f"it holds {done} of its {asked} designs")

    def finish(self, result: Result, gain: float, seconds: float) -> bool:
        """Store a leg's designs and close its trial; False if another process has done so already."""
        self._gains[result.number], self._at[result.number] = gain, seconds
        if self._given_up:
            return True
        self._owed[result.number] = Debt(result, gain, seconds)
        if self._outbox is not None:
            try:
                self._outbox.keep(result)
            except OSError as error:
                LOGGER.warning(
                    "leg %d cannot be kept in %s (%s); it is held in memory until the database has it",
                    result.number,
                    self._outbox.folder,
                    error.strerror or error,
                )
        return self.settle().get(result.number, True)

    def settle(self) -> dict[int, bool]:
        """Hand over the legs owed, as far as the storage answers: for each, whether it was taken from here."""
        settled: dict[int, bool] = {}
        for number in sorted(self._owed):
            taken = self._ask(partial(self._hand_over, self._owed[number]), None)
            if taken is None:
                break
            settled[number] = taken
            del self._owed[number]
            if self._outbox is not None:
                self._outbox.delivered(number)
        if self._given_up:
            self._owed.clear()
        return settled

    def _hand_over(self, debt: Debt) -> bool:
        """Store one leg; False if another process has it: its heartbeat was missed here."""
        number = debt.result.number
        if number not in self._mine:
            self._refresh()
            self._put_down([number])
            self._refresh()
            if not self._take(number):
                return False
        trial = self._mine[number]
        try:
            close_trial(self.study, trial, debt, self._shelf, self._mark)
        except (UpdateFinishedTrialError, ValueError):
            self._refresh()
            now = self._trials.get(number)
            self._drop(number)
            if now is None or now.state == TrialState.WAITING:
                return self._hand_over(debt)
            return False
        self._drop(number)
        return True

    def _drop(self, number: int) -> None:
        """Let go of a trial, and stop its heartbeat."""
        self._heart.remove(self._mine.pop(number))

    def finished(self, numbers: range, known: Collection[int]) -> dict[int, Result]:
        """Fetch the legs of a round that others, or an earlier run, have finished."""
        if self._shelf is None:
            return {}
        found: dict[int, Result] = {}
        self._ask(lambda: self._fetch_all(numbers, known, found), None)
        return found

    def _fetch_all(self, numbers: range, known: Collection[int], found: dict[int, Result]) -> None:
        self._refresh()
        for number in numbers:
            trial = self._trials.get(number)
            if trial is None or trial.state != TrialState.COMPLETE or number in known:
                continue
            result = self._fetch(trial)
            if result is not None:
                found[number] = result

    def _fetch(self, trial: FrozenTrial) -> Result | None:
        """Read a leg's designs; a leg whose file is torn or gone is put down to be done again."""
        try:
            if self._shelf is None:
                raise TornError("there is no artifact store")
            (meta,) = get_all_artifact_meta(trial, storage=self._storage)
            with self._shelf.open_reader(meta.artifact_id) as file:
                result, stamp = read_leg(file.read())
            if stamp is not None and stamp.campaign != self._mark:
                raise TornError("it holds a leg of another campaign")
            self._check(result, trial.user_attrs[LEG])
            return result
        except (TornError, ArtifactNotFound, FileNotFoundError, ValueError) as error:
            number = trial.user_attrs[LEG]
            missed = self._missed.setdefault(trial.number, time.monotonic())
            if time.monotonic() - missed < self._patience:
                return None
            LOGGER.warning("the designs of leg %d cannot be read (%s); it is done again", number, error)
            lost = self.study.user_attrs.get(LOST, [])
            self.study.set_user_attr(LOST, [*lost, trial.number])
            self._enqueue(number)
            return None

    def revive(self) -> None:
        """Put down again the legs of processes that have died, where the storage keeps heartbeats.

        Not until a database that was away has been back for as long as a heartbeat may be missed:
        nobody could record one while it was.
        """
        if self._line is not None and self._line.back_s < GRACE_S:
            self._ask(self._refresh, None)
            return
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            self._ask(lambda: optuna.storages.fail_stale_trials(self.study), None)

    def abandon_running(self) -> None:
        """Put down again every leg under way: for a storage that no other process can be using."""
        for trial in self.study.get_trials(deepcopy=False, states=(TrialState.RUNNING,)):
            self.study.tell(trial.number, state=TrialState.FAIL)

    def elapsed(self) -> float:
        """Seconds the campaign had run when its last leg was finished."""
        self._ask(self._refresh, None)
        return max(self._at.values(), default=0.0)

    def legs_finished(self) -> int:
        """One more than the greatest number of a finished leg."""
        return max(self._gains, default=-1) + 1

    def standing(self, capacity: int) -> Standing | None:
        """What is on record of the first legs together, for an archive of ``capacity``; None if nothing is."""
        if self._bookmark is None:
            return None
        self._ask(self._refresh, None)
        return self._bookmark.found(capacity, {number: self._sizes[number] for number in self._gains})

    def keep_standing(self, standing: Standing) -> None:
        """Put a standing on record, if its legs are whole and on record; where that fails they are still there."""
        whole = standing.sizes == [self._sizes.get(number) for number in range(len(standing.history))]
        if self._bookmark is not None and whole and not self._given_up and not self._owed:
            with contextlib.suppress(OSError):
                self._bookmark.put(standing)

    def at_seconds(self, number: int, now: float) -> float:
        """Seconds into the campaign at which a leg was finished; ``now`` if that is not on record."""
        return self._at.get(number, now)

    def close(self) -> None:
        """Stop the heartbeat and give the folder back."""
        self._heart.stop()
        if self._lock is not None:
            self._lock.release()

    def _refresh(self) -> None:
        """Look up which trial counts for each leg."""
        lost = set(self.study.user_attrs.get(LOST, []))
        self._trials = {}
        for trial in self.study.get_trials(deepcopy=False):
            number = trial.user_attrs.get(LEG)
            if number is None or trial.state in (TrialState.FAIL, TrialState.PRUNED) or trial.number in lost:
                continue
            if number in self._trials:
                continue
            self._trials[number] = trial
            self._foci[number] = str(focus_of(trial))
            self._sizes[number] = int(trial.user_attrs[SIZE])
            if trial.values:
                self._gains[number] = trial.values[0]
                self._at[number] = float(trial.user_attrs.get("at_seconds", 0.0))

    def _lose(self, error: Exception) -> None:
        if self._line is None:
            reason = driver_words(error)
            self._given_up = f"the campaign could not be stored any more ({reason}); it went on in memory"
            LOGGER.error(self._given_up)
            return
        pause = self._line.failed(error)
        LOGGER.warning(
            "the campaign's database does not answer (%s); it is asked again in %g s",
            self._line.reason,
            pause,
        )
