"""The islands as a sampler of Optuna's: for a leg, which asks by arrays, and for anybody's own study, which asks by trials.

In a study the sampler does what a campaign does in rounds of one leg: it plans a leg from all designs the study knows,
proposes them in batches, and plans the next one when they are used up.
"""

from __future__ import annotations

import sys
import threading
from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from optuna.samplers import BaseSampler, RandomSampler
from optuna.trial import TrialState

from explore.config.schema import Case
from explore.design.space import Space
from explore.errors import InputError
from explore.search.archive import Archive
from explore.search.islands import Colony, Island, Islands, Plan, plan
from explore.search.judge import Judged, judge
from explore.search.leg import batch_size
from explore.search.optimiser import Assignment
from explore.search.parameters import Parameters
from explore.search.population import ANY_FLUID, Genes, Known, best

if TYPE_CHECKING:
    from optuna.distributions import BaseDistribution
    from optuna.study import Study
    from optuna.trial import FrozenTrial


PATIENCE = 0.25
"""Some hundred trials may be under way at once; those of a process that died must not hold the islands for ever."""
SPARE = 4
"""The third word of the seed of the children beside a batch: legs use none, 1 and 3, the random comparison 2."""


@dataclass(frozen=True)
class Settlement:
    """What a leg's islands start from."""

    colony: Colony

    def begin(self, space: Space, rng: np.random.Generator) -> IslandSampler:
        """Settle them."""
        return IslandSampler(None, islands=Islands(self.colony, space, rng))


def plan_leg(task: Assignment) -> Settlement:
    """Plan the islands of a leg."""
    return Settlement(plan(task))


class IslandSampler(BaseSampler):
    """Breeds populations of all fluids and layouts side by side, and climbs in each layout by itself.

    ``IslandSampler(case)`` goes into a study whose trials take their parameters from
    :meth:`~explore.search.parameters.Parameters.suggest`, whose objectives are those of the case's scenario in their
    order and units, and which set each limit by ``trial.set_constraint`` under the name of its column. It may be asked
    for many trials before any is told: while it waits for results of a batch of the islands' it proposes children of the
    best designs known beside it, and after a quarter of a leg of them what was not told counts as failed. ``seed``
    replaces that of the case. Trials of other samplers, and of runs before, are known to every leg
    (``case.search.leg_designs``) that begins after them.

    A leg of a search asks by arrays (:meth:`ask`, :meth:`tell`) and makes no trial: it gives the ``islands`` that it
    begins with, and no case.
    """

    learns_from_any = True

    def __init__(self, case: Case | None, *, seed: int | None = None, islands: Islands | None = None):
        self._islands = islands
        self._case = case
        self._lock = threading.Lock()
        self._queue: deque[tuple[int, dict[str, Any]]] = deque()
        self._rows: dict[int, int] = {}
        self._told: dict[int, tuple[Sequence[float], Mapping[str, float]]] = {}
        self._batch: Genes | None = None
        self._names: tuple[str, ...] = ()
        self._legs = self._left = self._spared = 0
        if case is not None:
            search = case.search if seed is None else case.search.model_copy(update={"seed": seed})
            self._search, self._objectives = search, case.scenario.objectives
            self._space = Space.from_case(case)
            self._parameters = Parameters.of(self._space)
            self._by_chance = RandomSampler(seed=search.seed)

    def ask(self, n: int) -> Genes:
        """Propose about ``n`` designs, at least one."""
        return self._begun.ask(n)

    def tell(self, genes: Genes, judged: Judged) -> None:
        """Learn how the designs last asked for were judged."""
        self._begun.tell(genes, judged)

    @property
    def _begun(self) -> Islands:
        if self._islands is None:
            raise RuntimeError("no leg has begun")
        return self._islands

    def infer_relative_search_space(self, study: Study, trial: FrozenTrial) -> dict[str, BaseDistribution]:
        """Every parameter a design may have."""
        return dict(self._parameters.distributions)

    def sample_relative(
        self, study: Study, trial: FrozenTrial, search_space: dict[str, BaseDistribution]
    ) -> dict[str, Any]:
        """Propose the parameters of the next design: those that apply to it.

        Raises :class:`InputError` for a study of other objectives than the case's.
        """
        with self._lock:
            if not self._queue and self._rows and self._spared < PATIENCE * self._search.leg_designs:
                self._spared += 1
                genes = self._spare.ask(1, None)
                return self._parameters.values(self._space.decode(genes.unit, genes.choices))[0]
            if not self._queue:
                self._propose(study)
            row, values = self._queue.popleft()
            self._rows[trial.number] = row
        return values

    def sample_independent(
        self, study: Study, trial: FrozenTrial, param_name: str, param_distribution: BaseDistribution
    ) -> Any:
        """Draw a parameter that the design has no use for, or that is none of a design's, by chance."""
        return self._by_chance.sample_independent(study, trial, param_name, param_distribution)

    def after_trial(
        self, study: Study, trial: FrozenTrial, state: TrialState, values: Sequence[float] | None
    ) -> None:
        """Note how a design of the batch was judged."""
        with self._lock:
            row = self._rows.pop(trial.number, None)
            if row is not None and state == TrialState.COMPLETE and values is not None:
                self._told[row] = (values, trial.constraints)

    def _propose(self, study: Study) -> None:
        """Learn from the batch that is used up, and ask for the next one; begin a leg where the last one is over."""
        if self._batch is not None:
            told = [self._told.get(row, ((), {})) for row in range(len(self._batch))]
            judged = self._judged(told)
            self.tell(self._batch, judged)
            self._spare.tell(Known(self._batch, judged.values, judged.breach))
        if self._left == 0:
            self._begin(study)
        size = batch_size(self._search.leg_designs)
        genes = self._batch = self.ask(min(size, self._left))
        self._left -= len(genes)
        self._rows, self._told, self._spared = {}, {}, 0
        columns = self._space.decode(genes.unit, genes.choices)
        self._queue.extend(enumerate(self._parameters.values(columns)))

    def _begin(self, study: Study) -> None:
        """Plan a leg from what the study knows; its number and seed are those it has in a campaign of such legs."""
        known = self.known(study)
        number = max(self._legs, len(known) // self._search.leg_designs)
        archive = Archive(known.take(slice(0)), self._search.archive_designs).add(known)
        task = Assignment(number, ANY_FLUID, self._search.leg_designs, archive, self._space, self._search)
        self._islands = Islands(plan(task), self._space, np.random.default_rng((self._search.seed, number)))
        own = Plan(
            ANY_FLUID, self._search.population, sys.maxsize, best(archive.known, self._search.population)
        )
        rng = np.random.default_rng((self._search.seed, number, SPARE))
        self._spare = Island(own, self._space.choice_counts, rng)
        self._legs, self._left = number + 1, self._search.leg_designs

    def known(self, study: Study) -> Known:
        """Read the finished trials of a study as designs; those that are not whole designs are left out."""
        self._refuse_other(study)
        space, always = self._space, {"fluid", "layout", "regenerator", "collector"}
        trials = [
            trial
            for trial in study.get_trials(deepcopy=False, states=(TrialState.COMPLETE,))
            if always <= trial.params.keys() and self._holds(trial)
        ]
        if not trials:
            return Known.none(space.dimensions, len(space.choice_counts), len(self._objectives))
        genes = Genes(*space.encode(self._parameters.columns([trial.params for trial in trials])))
        self._names = ()
        judged = self._judged([(trial.values, trial.constraints) for trial in trials])
        return Known(genes, judged.values, judged.breach)

    def _holds(self, trial: FrozenTrial) -> bool:
        """Whether a trial's design is of this space: its choices among those here, and all that applies given."""
        choices = self._parameters.choices
        if any(trial.params[name] not in options for name, options in choices.items()):
            return False
        return self._parameters.applying(trial.params) <= trial.params.keys()

    def _judged(self, told: Sequence[tuple[Sequence[float], Mapping[str, float]]]) -> Judged:
        """Judge designs by what their trials say; one without objectives has none."""
        # The slopes of a leg are of the same limits throughout: one that no trial had before waits for the next leg.
        self._names = names = self._names or tuple(
            dict.fromkeys(name for _, limits in told for name in limits)
        )
        figures = {
            one.figure: np.array([values[place] if len(values) else np.nan for values, _ in told], float)
            for place, one in enumerate(self._objectives)
        }
        margins = {name: np.array([limits.get(name, np.nan) for _, limits in told]) for name in names}
        feasible = np.array([all(x <= 0.0 for x in limits.values()) for _, limits in told], bool)
        prefixed = {
            f"violation_{name.removeprefix('violation_')}": margin for name, margin in margins.items()
        }
        return judge({**figures, **prefixed, "feasible": feasible}, self._objectives)

    def _refuse_other(self, study: Study) -> None:
        asked = ["MAXIMIZE" if one.direction == "maximise" else "MINIMIZE" for one in self._objectives]
        if [direction.name for direction in study.directions] != asked:
            wanted = ", ".join(f"{one.direction} {one.figure}" for one in self._objectives)
            raise InputError(
                f"IslandSampler: the study has other objectives than its case; create it with the directions of {wanted}"
            )
