"""The campaign: an Optuna study whose trials are legs.

A trial's parameter is the focus of its leg (the whole front, or one fluid) and its value the
hypervolume the leg adds to the archive as it stood when the leg's round began. The study is what is stored, claimed,
resumed, retried and distributed; it can be opened in Optuna's dashboard. No sampler is asked where a leg goes: its
trial is put down with its focus (:func:`next_focus`) before anybody claims it, so that all processes find the same.
Not every design is a trial: asking for and telling one in memory costs 310 us (19 parameters, 6 constraints; measured
with Optuna 5.0), as much as the model itself, against 10 us in arrays. A leg's designs are one file in an artifact
store; those worth a look become trials of a second study (:mod:`explore.search.showcase`).
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from optuna.artifacts import upload_artifact
from optuna.samplers import BaseSampler, RandomSampler

from explore.config.schema import Case
from explore.search.files import Shelf, Stamp, pack
from explore.search.leg import Result
from explore.search.planning import FRONT

if TYPE_CHECKING:
    from optuna.study import Study
    from optuna.trial import FrozenTrial, Trial

LEG, SIZE, FOCUS, LOST, FACTS = "leg", "designs", "focus", "lost_trials", "facts"
LEGS = "legs"
MEMORY = 0.5
"""Gains of one focus fall by about half from leg to leg while a front settles: older ones count as much less."""
OPTIMISM = 0.5
"""Half of the best gain welcomes what was tried little: with none, one bad first leg would end a fluid."""


def study_name(case: Case, what: str) -> str:
    """Name one of the two studies of a campaign: of its legs (:data:`LEGS`), or of its designs."""
    return f"{case.scenario.name}, seed {case.search.seed}, {what}"


def unasked() -> BaseSampler:
    """Make the sampler of the study of legs, which has nothing to choose: every trial is enqueued with its focus."""
    return RandomSampler(seed=0)


def next_focus(options: Sequence[str], gains: Iterable[tuple[str, float]], pending: Iterable[str]) -> str:
    """Choose the focus of a leg: where legs gained most, with some optimism for what was tried little.

    ``gains`` are (focus, gain) of past legs in order, ``pending`` the foci of those under way. The estimate of a focus
    is the mean gain of its legs, each older one weighing half of the next, plus half of the greatest estimate times
    sqrt(log(1 + all legs) / (1 + its legs)^2). Nothing here is random.
    """
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


@dataclass(frozen=True)
class Debt:
    """A finished leg that the storage does not have yet."""

    result: Result
    gain: float
    seconds: float


def focus_of(trial: FrozenTrial) -> str | None:
    """Return the focus of a leg, also of one that waits and has no parameter yet; None if its trial has none."""
    focus = trial.user_attrs.get(FOCUS)
    return focus if isinstance(focus, str) else None


def put_down(study: Study, number: int, focus: str, designs: int) -> None:
    """Enqueue a leg's trial."""
    study.enqueue_trial({FOCUS: focus}, user_attrs={LEG: number, SIZE: designs, FOCUS: focus})


def record(study: Study, debt: Debt, shelf: Shelf, mark: str, fluids: Sequence[str]) -> None:
    """Put a finished leg down in a book that no other process has open."""
    result = debt.result
    put_down(study, result.number, result.focus, result.tally.evaluated_total)
    trial = study.ask()
    trial.suggest_categorical(FOCUS, [FRONT, *fluids])
    close_trial(study, trial, debt, shelf, mark)


def close_trial(study: Study, trial: Trial, debt: Debt, shelf: Shelf | None, mark: str) -> None:
    """Store a leg's designs, if there is a place for them, and close its trial."""
    if shelf is not None:
        _store(debt, trial, shelf, mark)
    trial.set_user_attr("feasible", debt.result.tally.feasible_total)
    trial.set_user_attr("seconds", round(debt.result.seconds, 3))
    trial.set_user_attr("at_seconds", round(debt.seconds, 3))
    study.tell(trial, debt.gain)


def _store(debt: Debt, trial: Trial, shelf: Shelf, mark: str) -> None:
    """Upload a leg's designs as an artifact of its trial."""
    stamp = Stamp(mark, float(debt.gain), round(debt.seconds, 3))
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / f"leg-{debt.result.number:06d}.npz"
        file.write_bytes(pack(debt.result, stamp))
        upload_artifact(artifact_store=shelf, file_path=str(file), study_or_trial=trial)
