"""The campaign: an Optuna study whose trials are legs.

A trial's parameter is the focus of its leg (the whole front, or one fluid) and
its value the hypervolume the leg added. The study decides where free legs go, through Optuna's sampler
interface (:class:`FocusSampler`), and can be opened in Optuna's dashboard. Designs are not
trials: asking for and telling one in memory costs 310 us (19 parameters, 6 constraints; measured with
Optuna 5.0), as much as the model itself, against 6 us in arrays. So designs stay in arrays, and legs are
what Optuna stores.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import optuna
from optuna.distributions import CategoricalDistribution
from optuna.samplers import BaseSampler

from explore.search.planning import FRONT

if TYPE_CHECKING:
    from optuna.distributions import BaseDistribution
    from optuna.study import Study
    from optuna.trial import FrozenTrial, Trial

    from explore.search.leg import Result

FOCUS = "focus"
MEMORY = 0.5
OPTIMISM = 0.1


class FocusSampler(BaseSampler):
    """Sends a free leg where the last legs gained most, with a little optimism for what was tried little.

    The estimate of a focus is the mean gain of its legs, each older one weighing half of the next,
    plus 0.1 of the greatest estimate times sqrt(log(1 + all legs) / (1 + its legs)); legs in flight
    count as tried, so that a round spreads. Nothing here is random.
    """

    def infer_relative_search_space(self, study: Study, trial: FrozenTrial) -> dict[str, BaseDistribution]:
        """Free legs have one parameter; it is sampled by itself."""
        return {}

    def sample_relative(
        self, study: Study, trial: FrozenTrial, search_space: dict[str, BaseDistribution]
    ) -> dict[str, Any]:
        """Nothing is sampled jointly."""
        return {}

    def sample_independent(
        self, study: Study, trial: FrozenTrial, param_name: str, param_distribution: BaseDistribution
    ) -> Any:
        """Choose the focus of a free leg."""
        if not isinstance(param_distribution, CategoricalDistribution):
            raise TypeError(f"{param_name} must be a choice")
        gains: dict[Any, float] = {}
        tried: dict[Any, int] = {}
        for past in study.get_trials(deepcopy=False):
            focus = past.params.get(FOCUS)
            if focus is None or past.number == trial.number:
                continue
            tried[focus] = tried.get(focus, 0) + 1
            if past.values:
                gains[focus] = MEMORY * gains.get(focus, past.values[0]) + (1 - MEMORY) * past.values[0]
        return max(param_distribution.choices, key=lambda choice: self._promise(choice, gains, tried))

    @staticmethod
    def _promise(choice: Any, gains: dict[Any, float], tried: dict[Any, int]) -> float:
        greatest = max(gains.values(), default=1.0)
        count, total = tried.get(choice, 0), sum(tried.values())
        unknown = greatest if choice == FRONT else 0.0
        bonus = OPTIMISM * greatest * math.sqrt(math.log1p(total) / (1 + count))
        return gains.get(choice, unknown) + bonus


class Ledger:
    """The campaign's book: opens a trial for each leg and closes it with what the leg brought."""

    def __init__(self, name: str, fluids: Sequence[str], storage: Any = None):
        optuna.logging.set_verbosity(optuna.logging.WARNING)
        self._choices = [FRONT, *fluids]
        self.study = optuna.create_study(
            storage=storage, sampler=FocusSampler(), direction="maximize", study_name=name
        )

    def open(self, number: int) -> Trial:
        """Open the trial of leg ``number``; the study's sampler chooses its focus."""
        trial = self.study.ask()
        trial.suggest_categorical(FOCUS, self._choices)
        trial.set_user_attr("leg", number)
        return trial

    def close(self, trial: Trial, result: Result, gain: float) -> None:
        """Close a leg's trial: its value is the hypervolume it added."""
        trial.set_user_attr("designs", sum(result.tally.evaluated.values()))
        trial.set_user_attr("feasible", sum(result.tally.feasible.values()))
        trial.set_user_attr("seconds", round(result.seconds, 3))
        self.study.tell(trial, gain)
