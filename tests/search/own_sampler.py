"""Samplers as a user may write them, for the tests: one of no use, one that cannot be made, and what is none."""

from __future__ import annotations

from typing import ClassVar

import optuna


class Halves(optuna.samplers.RandomSampler):
    """Draws by chance, but every number from the upper half."""

    def sample_independent(self, study, trial, param_name, param_distribution):
        """Draw one parameter."""
        found = super().sample_independent(study, trial, param_name, param_distribution)
        return 0.5 + 0.5 * found if isinstance(found, float) else found


class Learner(optuna.samplers.TPESampler):
    """Takes no seed: notes how many finished trials it began with."""

    began_with: ClassVar[list[int]] = []

    def __init__(self):
        super().__init__(seed=1)
        self._first = True

    def before_trial(self, study, trial):
        """Look at the study once."""
        if self._first:
            self._first = False
            self.began_with.append(len(study.get_trials(states=(optuna.trial.TrialState.COMPLETE,))))
