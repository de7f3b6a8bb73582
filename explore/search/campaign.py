"""The campaign: an Optuna study whose trials are legs.

A trial's parameter is the focus of its leg (the whole front, or one fluid) and its value the
hypervolume the leg adds to the archive as it stood when the leg's round began. The study decides where
legs go, through Optuna's sampler interface (:class:`FocusSampler`), and is what is stored, claimed,
resumed, retried and distributed; it can be opened in Optuna's dashboard. Designs are not trials: asking
for and telling one in memory costs 310 us (19 parameters, 6 constraints; measured with Optuna 5.0), as much
as the model itself, against 10 us in arrays. A leg's designs are one file in an artifact store.
"""

from __future__ import annotations

import logging
import math
import tempfile
import threading
import time
import warnings
from collections.abc import Collection, Iterable, Mapping, Sequence
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

import optuna
from optuna.artifacts import get_all_artifact_meta, upload_artifact
from optuna.artifacts.exceptions import ArtifactNotFound
from optuna.distributions import CategoricalDistribution
from optuna.exceptions import StorageInternalError, UpdateFinishedTrialError
from optuna.samplers import BaseSampler
from optuna.trial import TrialState

from explore.search.files import TornError, pack, unpack
from explore.search.leg import Result
from explore.search.planning import FRONT

if TYPE_CHECKING:
    from optuna.artifacts._protocol import ArtifactStore
    from optuna.distributions import BaseDistribution
    from optuna.study import Study
    from optuna.trial import FrozenTrial

LEG, SIZE, FOCUS, LOST = "leg", "designs", "focus", "lost_trials"
MEMORY = 0.5
OPTIMISM = 0.5
HEARTBEAT_S, GRACE_S = 5, 20
TROUBLE = (OSError, StorageInternalError)
LOGGER = logging.getLogger("explore.search")


class FocusSampler(BaseSampler):
    """Sends legs where legs gained most, with some optimism for what was tried little.

    The estimate of a focus is the mean gain of its legs, each older one weighing half of the next,
    plus half of the greatest estimate times sqrt(log(1 + all legs) / (1 + its legs)^2). Nothing here is random.
    """

    def infer_relative_search_space(self, study: Study, trial: FrozenTrial) -> dict[str, BaseDistribution]:
        """The one parameter is sampled by itself."""
        return {}

    def sample_relative(
        self, study: Study, trial: FrozenTrial, search_space: dict[str, BaseDistribution]
    ) -> dict[str, Any]:
        """Nothing is sampled jointly."""
        return {}

    def sample_independent(
        self, study: Study, trial: FrozenTrial, param_name: str, param_distribution: BaseDistribution
    ) -> Any:
        """Choose the focus of a leg from all legs finished."""
        if not isinstance(param_distribution, CategoricalDistribution):
            raise TypeError(f"{param_name} must be a choice")
        past = study.get_trials(deepcopy=False, states=(TrialState.COMPLETE,))
        gains = [(str(t.params[FOCUS]), t.values[0]) for t in past if t.values and FOCUS in t.params]
        return self.choose([str(choice) for choice in param_distribution.choices], gains, [])

    @staticmethod
    def choose(options: Sequence[str], gains: Iterable[tuple[str, float]], pending: Iterable[str]) -> str:
        """Choose one of ``options``: ``gains`` are (focus, gain) of past legs in order, ``pending`` of those under way."""
        mean: dict[str, float] = {}
        tried = dict.fromkeys(options, 0)
        for focus, gain in gains:
            mean[focus] = MEMORY * mean.get(focus, gain) + (1.0 - MEMORY) * gain
            tried[focus] = tried.get(focus, 0) + 1
        for focus in pending:
            tried[focus] = tried.get(focus, 0) + 1
        greatest, total = max(mean.values(), default=1.0), sum(tried.values())

        def promise(option: str) -> float:
            known = mean.get(option, greatest if option == FRONT else 0.0)
            return known + OPTIMISM * greatest * math.sqrt(math.log1p(total)) / (1 + tried[option])

        return max(options, key=promise)


class Ledger:
    """The campaign's book: which legs there are, who works on them, and what they found.

    Of several trials for one leg, as two processes may open one at a time, the first that has not failed
    counts. ``patience_s`` is how long a leg's file may stay out of sight on a shared folder before the
    leg is done again. If the storage is lost while searching, the book goes on in memory and ``trouble`` says so.
    """

    def __init__(
        self,
        study: Study,
        fluids: Sequence[str],
        shelf: ArtifactStore | None = None,
        lock: IO[bytes] | None = None,
        patience_s: float = 0.0,
    ):
        self.trouble = ""
        self.study, self._shelf, self._lock = study, shelf, lock
        self._patience, self._missed = patience_s, dict[int, float]()
        self._distribution = CategoricalDistribution([FRONT, *fluids])
        self._trials: dict[int, FrozenTrial] = {}
        self._mine: dict[int, optuna.Trial] = {}
        self._foci: dict[int, str] = {}
        self._sizes: dict[int, int] = {}
        self._gains: dict[int, float] = {}
        self._at: dict[int, float] = {}
        self._heart = _Heart(study)

    @classmethod
    def in_memory(cls, fluids: Sequence[str]) -> Ledger:
        """Keep a book that ends with the process."""
        study = optuna.create_study(sampler=FocusSampler(), direction="maximize")
        return cls(study, fluids)

    def open(self, sizes: Mapping[int, int]) -> None:
        """Make sure that every leg of a round has its trial; ``sizes`` are the designs of each leg.

        The foci are chosen from the legs of all earlier rounds.
        """
        try:
            self._refresh()
        except TROUBLE as error:
            self._lose(error)
        first = min(sizes)
        past = [(self._foci[n], self._gains[n]) for n in sorted(self._gains) if n < first]
        options = [str(choice) for choice in self._distribution.choices]
        for number, size in sizes.items():
            if number in self._foci:
                continue
            pending = [self._foci[n] for n in range(first, number)]
            self._foci[number] = FocusSampler.choose(options, past, pending)
            self._sizes[number] = size
        for number in sizes:
            if number not in self._trials:
                self._enqueue(number)

    def _enqueue(self, number: int) -> None:
        if self.trouble:
            return
        try:
            facts = {LEG: number, SIZE: self._sizes[number]}
            self.study.enqueue_trial({FOCUS: self._foci[number]}, user_attrs=facts)
        except TROUBLE as error:
            self._lose(error)

    def claim(self, numbers: range, known: Collection[int]) -> tuple[int, str, int] | None:
        """Claim a leg of a round that nobody works on: number, focus and designs; None if there is none.

        ``known`` are the legs in hand already.
        """
        number = None
        if not self.trouble:
            try:
                number = self._claim(numbers)
            except TROUBLE as error:
                self._lose(error)
        if self.trouble:
            number = next((n for n in numbers if n not in known), None)
        return None if number is None else (number, self._foci[number], self._sizes[number])

    def _claim(self, numbers: range) -> int | None:
        """Claim a waiting trial: of several processes that try, the storage lets one."""
        self._refresh()
        storage = self.study._storage
        for number in numbers:
            trial = self._trials.get(number)
            if trial is None or trial.state != TrialState.WAITING:
                continue
            try:
                won = storage.set_trial_state_values(trial._trial_id, state=TrialState.RUNNING)
            except UpdateFinishedTrialError:
                continue
            if won:
                mine = self._mine[number] = optuna.Trial(self.study, trial._trial_id)
                mine.suggest_categorical(FOCUS, self._distribution.choices)
                self._heart.add(mine)
                return number
        return None

    def finish(self, result: Result, gain: float, seconds: float) -> bool:
        """Store a leg's designs and close its trial; False if another process has done so already."""
        trial = self._mine.pop(result.number, None)
        self._gains[result.number], self._at[result.number] = gain, seconds
        if self.trouble or trial is None:
            return True
        try:
            if self._shelf is not None:
                _store(result, trial, self._shelf)
            trial.set_user_attr("feasible", result.tally.feasible_total)
            trial.set_user_attr("seconds", round(result.seconds, 3))
            trial.set_user_attr("at_seconds", round(seconds, 3))
            self.study.tell(trial, gain)
        except (UpdateFinishedTrialError, ValueError):
            # Its heartbeat was missed: another process was given the leg.
            return False
        except TROUBLE as error:
            self._lose(error)
        finally:
            self._heart.remove(trial)
        return True

    def finished(self, numbers: range, known: Collection[int]) -> dict[int, Result]:
        """Fetch the legs of a round that others, or an earlier run, have finished."""
        if self.trouble or self._shelf is None:
            return {}
        found: dict[int, Result] = {}
        try:
            self._refresh()
            for number in numbers:
                trial = self._trials.get(number)
                if trial is None or trial.state != TrialState.COMPLETE or number in known:
                    continue
                result = self._fetch(trial)
                if result is not None:
                    found[number] = result
        except TROUBLE as error:
            self._lose(error)
        return found

    def _fetch(self, trial: FrozenTrial) -> Result | None:
        """Read a leg's designs; a leg whose file is torn or gone is put down to be done again."""
        try:
            if self._shelf is None:
                raise TornError("there is no artifact store")
            (meta,) = get_all_artifact_meta(trial, storage=self.study._storage)
            with self._shelf.open_reader(meta.artifact_id) as file:
                return unpack(file.read())
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
        """Put down again the legs of processes that have died, where the storage keeps heartbeats."""
        if self.trouble:
            return
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            optuna.storages.fail_stale_trials(self.study)

    def abandon_running(self) -> None:
        """Put down again every leg under way: for a storage that no other process can be using."""
        for trial in self.study.get_trials(deepcopy=False, states=(TrialState.RUNNING,)):
            self.study.tell(trial.number, state=TrialState.FAIL)

    def elapsed(self) -> float:
        """Seconds the campaign had run when its last leg was finished."""
        self._refresh()
        return max(self._at.values(), default=0.0)

    def legs_finished(self) -> int:
        """One more than the greatest number of a finished leg."""
        return max(self._gains, default=-1) + 1

    def at_seconds(self, number: int, now: float) -> float:
        """Seconds into the campaign at which a leg was finished; ``now`` if that is not on record."""
        return self._at.get(number, now)

    def close(self) -> None:
        """Stop the heartbeat and give the folder back."""
        self._heart.stop()
        if self._lock is not None:
            self._lock.close()

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
            focus = trial.params.get(FOCUS) or trial.system_attrs.get("fixed_params", {}).get(FOCUS)
            self._foci[number] = str(focus)
            self._sizes[number] = int(trial.user_attrs[SIZE])
            if trial.values:
                self._gains[number] = trial.values[0]
                self._at[number] = float(trial.user_attrs.get("at_seconds", 0.0))

    def _lose(self, error: Exception) -> None:
        reason = getattr(error, "strerror", None) or str(error).partition("\n")[0] or type(error).__name__
        self.trouble = f"the campaign could not be stored any more ({reason}); it went on in memory"
        LOGGER.error(self.trouble)


def _store(result: Result, trial: optuna.Trial, shelf: ArtifactStore) -> None:
    """Upload a leg's designs as an artifact of its trial."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / f"leg-{result.number:06d}.npz"
        file.write_bytes(pack(result))
        upload_artifact(artifact_store=shelf, file_path=str(file), study_or_trial=trial)


class _Heart:
    """Records the heartbeat of the legs under way, where the storage keeps one."""

    def __init__(self, study: Study):
        storage = study._storage
        get = getattr(storage, "get_heartbeat_interval", None)
        self._interval: int | None = get() if get else None
        self._storage = storage
        self._trials: set[int] = set()
        self._stop = threading.Event()
        if self._interval:
            threading.Thread(target=self._beat, name="heartbeat", daemon=True).start()

    def add(self, trial: optuna.Trial) -> None:
        """Beat for a trial, at once and from now on."""
        if self._interval:
            self._record(trial._trial_id)
            self._trials.add(trial._trial_id)

    def remove(self, trial: optuna.Trial) -> None:
        """Stop beating for a trial."""
        self._trials.discard(trial._trial_id)

    def stop(self) -> None:
        """End the thread."""
        self._stop.set()

    def _beat(self) -> None:
        while not self._stop.wait(self._interval):
            for trial in list(self._trials):
                self._record(trial)

    def _record(self, trial: int) -> None:
        try:
            self._storage.record_heartbeat(trial)  # type: ignore[attr-defined]
        except Exception as error:  # a missed beat is not a missed leg
            LOGGER.warning("heartbeat not recorded: %s", type(error).__name__)
