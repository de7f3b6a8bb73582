"""One leg: some thousand designs bred from what is known, evaluated in batches, judged and counted.

A leg depends on its order alone: the same order gives the same result in any process, unless its time runs out.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Protocol, runtime_checkable

import numpy as np

from explore.config.schema import Objective
from explore.design.space import Columns, Space
from explore.figures.readings import LIMIT
from explore.search.archive import front_rows
from explore.search.judge import Judged, judge
from explore.search.optimiser import Start
from explore.search.population import FLUID, LAYOUT, Genes, Known

SAMPLED_SHARE = 0.01
"""One design in a hundred shows the page where designs lie that failed, in a leg's file of some kilobytes."""
BATCH = 4096
"""The model is at its speed from a thousand designs a call; more than this leaves too few generations to learn in."""
AREA = "collector_area_m2"
LEAST_GENERATIONS = 2
"""Even the smallest leg learns once from what it has found."""


class Evaluator(Protocol):
    """What the search asks of a model: columns of designs in, columns of figures out."""

    def evaluate(self, columns: Columns) -> Columns:
        """Evaluate a batch of designs."""
        ...


@runtime_checkable
class Fitting(Protocol):
    """A model that can find by itself how large collectors must be."""

    def evaluate_fitted(
        self, columns: Columns, gene: np.ndarray, area_of: Callable[[np.ndarray], np.ndarray]
    ) -> tuple[np.ndarray, Columns] | None:
        """Evaluate a batch with the least collectors that serve the demand; their genes and the figures, or None."""
        ...


@dataclass(frozen=True)
class Order:
    """What a leg is to do: number, focus (a fluid, or the whole front), seed, where it starts, and designs.

    After ``seconds`` it begins no other batch: over many worlds a leg takes longer than many a search.
    """

    number: int
    focus: str
    seed: tuple[int, int]
    start: Start
    designs: int
    keep_all: bool = False
    seconds: float = math.inf


@dataclass(frozen=True)
class Tally:
    """Counts over designs: per fluid and per layout evaluated and feasible, and lost to each constraint.

    A design breaking several constraints counts for each; ``alone`` counts those that broke no other.
    """

    evaluated: dict[str, int]
    feasible: dict[str, int]
    lost: dict[str, int]
    alone: dict[str, int]
    evaluated_layouts: dict[str, int] = field(default_factory=dict)
    feasible_layouts: dict[str, int] = field(default_factory=dict)

    @property
    def evaluated_total(self) -> int:
        """Designs evaluated, all fluids together."""
        return sum(self.evaluated.values())

    @property
    def feasible_total(self) -> int:
        """Feasible designs, all fluids together."""
        return sum(self.feasible.values())

    @staticmethod
    def zero(fluids: Sequence[str]) -> Tally:
        """Nothing counted yet, every fluid named."""
        return Tally(dict.fromkeys(fluids, 0), dict.fromkeys(fluids, 0), {}, {})

    @staticmethod
    def sum(parts: list[Tally]) -> Tally:
        """Add the counts of several legs."""
        return Tally(*(_added([getattr(part, x) for part in parts]) for x in Tally.__dataclass_fields__))


@dataclass(frozen=True)
class Result:
    """What a leg found: designs worth remembering, counts, and the time it took [s]."""

    number: int
    focus: str
    known: Known
    tally: Tally
    seconds: float
    model_seconds: float


def run_leg(order: Order, space: Space, evaluator: Evaluator, objectives: tuple[Objective, ...]) -> Result:
    """Carry out one order."""
    started, model_seconds = time.perf_counter(), 0.0
    rng = np.random.default_rng(order.seed)
    optimiser = order.start.begin(space, rng)
    size, fits = batch_size(order.designs), getattr(optimiser, "learns_from_any", False)
    seen: list[Known] = []
    tallies, left = [], order.designs
    while left > 0 and (not seen or time.perf_counter() - started < order.seconds):
        genes = optimiser.ask(min(size, left))
        left -= len(genes)
        asked = time.perf_counter()
        genes, outcome = _evaluated(genes, space, evaluator, fits)
        model_seconds += time.perf_counter() - asked
        judged = judge(outcome, objectives)
        optimiser.tell(genes, judged)
        seen.append(Known(genes, judged.values, judged.breach))
        tallies.append(_tally(genes, judged, space))
    everything = Known.join(seen)
    kept = everything if order.keep_all else everything.take(_worth_keeping(everything, rng))
    seconds = time.perf_counter() - started
    return Result(order.number, order.focus, kept, Tally.sum(tallies), seconds, model_seconds)


def _evaluated(genes: Genes, space: Space, evaluator: Evaluator, fits: bool) -> tuple[Genes, Columns]:
    """Evaluate a batch and return what it was: if it ``fits``, with the least collectors that serve the demand."""
    columns = space.decode(genes.unit, genes.choices)
    place = [variable.name for variable in space.variables].index(AREA)
    if fits and isinstance(evaluator, Fitting) and space.free[place]:
        fitted = evaluator.evaluate_fitted(
            columns, genes.unit[:, place], lambda gene: space.decoded(AREA, gene)
        )
        if fitted is not None:
            unit = genes.unit.copy()
            unit[:, place] = fitted[0]
            return Genes(unit, genes.choices), fitted[1]
    return genes, evaluator.evaluate(columns)


def batch_size(designs: int) -> int:
    """Size of the batches that a leg of so many designs asks for."""
    return -(-designs // max(LEAST_GENERATIONS, -(-designs // BATCH)))


def _worth_keeping(known: Known, rng: np.random.Generator) -> np.ndarray:
    """Rows to remember: each niche's front and its least broken design, and a small sample of the rest."""
    niches = known.genes.niches
    rows = [np.flatnonzero(rng.random(len(known)) < SAMPLED_SHARE)]
    for niche in range(niches.max() + 1):
        own = np.flatnonzero(niches == niche)
        rows += [own[front_rows(known.take(own))], own[[np.argmin(known.breach[own])]]]
    return np.unique(np.concatenate(rows))


def _tally(genes: Genes, judged: Judged, space: Space) -> Tally:
    evaluated, feasible = genes.choices, genes.choices[judged.feasible]
    layouts = [layout.words for layout in space.layouts]
    broken = (judged.violations > 0.0) & ~judged.feasible[:, None]
    if (
        LIMIT.name in judged.names
    ):  # what is broken by the run's own values is broken in its worlds too, and counted there
        place = judged.names.index(LIMIT.name)
        broken[:, place] &= broken.sum(axis=1) == 1
    alone = broken & (broken.sum(axis=1) == 1)[:, None]
    return Tally(
        _counted(evaluated[:, FLUID], space.fluids),
        _counted(feasible[:, FLUID], space.fluids),
        dict(zip(judged.names, broken.sum(axis=0).tolist(), strict=True)),
        dict(zip(judged.names, alone.sum(axis=0).tolist(), strict=True)),
        _counted(evaluated[:, LAYOUT], layouts),
        _counted(feasible[:, LAYOUT], layouts),
    )


def _counted(places: np.ndarray, names: Sequence[str]) -> dict[str, int]:
    """How often each of ``names`` is among ``places`` in their list."""
    return dict(zip(names, np.bincount(places, minlength=len(names)).tolist(), strict=True))


def _added(parts: list[dict[str, int]]) -> dict[str, int]:
    total: dict[str, int] = {}
    for part in parts:
        for name, count in part.items():
            total[name] = total.get(name, 0) + count
    return total
