"""One of Optuna's samplers as an optimiser: NSGA-II, each design a trial in memory.

Asking for and telling a trial costs about as much as the model itself (:mod:`explore.search.campaign`); it
stands here to be compared with, and because any sampler of Optuna fits in the same place.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import optuna
from optuna.distributions import BaseDistribution, CategoricalDistribution, FloatDistribution

from explore.design.space import Space
from explore.search.judge import Judged
from explore.search.optimiser import Assignment
from explore.search.population import ANY_FLUID, Genes, Known, best

BREACH = "breach"
FLUID = 0
"""The fluid is the first choice of a design."""


@dataclass(frozen=True)
class Trials:
    """What a leg's study starts from: its fluid or any, the size of a generation, and the designs to begin with.

    NSGA-II breeds only from trials of its own study: what is known is put into the first generation and
    judged again, which costs one generation a leg.
    """

    fluid: int
    population: int
    known: Known

    def begin(self, space: Space, rng: np.random.Generator) -> Sampler:
        """Open the study."""
        return Sampler(self, space, rng)


def plan(task: Assignment) -> Trials:
    """Start from the best that is known of the leg's focus."""
    archive = task.archive
    known = archive.known if task.focus == ANY_FLUID else archive.of_fluid(task.focus)
    return Trials(task.focus, task.search.population, best(known, task.search.population))


class Sampler:
    """A study in memory; a batch is one generation."""

    def __init__(self, start: Trials, space: Space, rng: np.random.Generator):
        self._size = start.population
        self._dimensions = space.dimensions
        self._distributions: dict[str, BaseDistribution] = {
            **{f"unit_{i}": FloatDistribution(0.0, 1.0) for i in range(space.dimensions)},
            **{
                f"choice_{i}": CategoricalDistribution(
                    [start.fluid] if i == FLUID and start.fluid != ANY_FLUID else list(range(count))
                )
                for i, count in enumerate(space.choice_counts)
            },
        }
        objectives = start.known.values.shape[1]
        sampler = optuna.samplers.NSGAIISampler(population_size=self._size, seed=int(rng.integers(2**31)))
        self._study = optuna.create_study(directions=["minimize"] * objectives, sampler=sampler)
        for row in np.hstack([start.known.genes.unit, start.known.genes.choices]).tolist():
            self._study.enqueue_trial(self._params(row))
        self._asked: list[optuna.Trial] = []

    def ask(self, n: int) -> Genes:
        """Propose a generation, or ``n`` designs if that is less."""
        self._asked = [self._study.ask(self._distributions) for _ in range(min(n, self._size))]
        rows = [[trial.params[name] for name in self._distributions] for trial in self._asked]
        unit = np.array([row[: self._dimensions] for row in rows], float)
        return Genes(unit, np.array([row[self._dimensions :] for row in rows], int))

    def tell(self, genes: Genes, judged: Judged) -> None:
        """Close the generation's trials."""
        for trial, figures, broken in zip(
            self._asked, judged.values.tolist(), judged.breach.tolist(), strict=True
        ):
            trial.set_constraint(BREACH, broken)
            self._study.tell(trial, figures)

    def _params(self, row: list[float]) -> dict[str, float | int]:
        """Name the genes of one design as the study's parameters."""
        return {
            name: value if name.startswith("unit") else int(value)
            for name, value in zip(self._distributions, row, strict=True)
        }
