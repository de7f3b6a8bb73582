"""Plain random designs: the comparison beside every search."""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from explore.config.schema import Objective, Search
from explore.design.space import Space
from explore.judgement.front import hypervolume
from explore.search.archive import front_rows
from explore.search.crew import Alone, Crew, all_done
from explore.search.judge import Judged, judge
from explore.search.outcome import Moment
from explore.search.population import ANY_FLUID, Genes, Known

CHUNK = 2048
"""Half the batch of a leg: enough for the model's speed, and two workers share what one leg's worth is."""
SHARE = 0.1
"""A tenth of the search's designs shows the slope of the random curve and costs a tenth of the time."""
MOST_DESIGNS = 50_000
"""Beyond, a random search gains so little a design that its curve is known."""
LEAST_SECONDS = 5.0
"""A search of some seconds would else be compared with a handful of designs."""
STREAM = 2
"""The third word of the seed: legs use none, and 1 where they choose what they start from."""


@dataclass(frozen=True)
class Draw:
    """A start from nothing: designs of one fluid, or of any."""

    fluid: int

    def begin(self, space: Space, rng: np.random.Generator) -> PlainRandom:
        """Begin to draw."""
        return PlainRandom(self.fluid, space, rng)


class PlainRandom:
    """Draws designs evenly over the space, whatever it is told."""

    def __init__(self, fluid: int, space: Space, rng: np.random.Generator):
        self._fluid, self._space, self._rng = fluid, space, rng

    def ask(self, n: int) -> Genes:
        """Draw ``n`` designs."""
        genes = Genes(*self._space.sample_genes(n, self._rng))
        if self._fluid != ANY_FLUID:
            genes.choices[:, 0] = self._fluid
        return genes

    def tell(self, genes: Genes, judged: Judged) -> None:
        """Learn nothing."""


def plain_random(
    space: Space, crew: Alone | Crew, objectives: tuple[Objective, ...], search: Search, evaluated: int
) -> list[Moment]:
    """Evaluate random designs of the same space and return the hypervolume they reach, after every batch.

    A tenth of the designs the search ``evaluated``, but no fewer than one leg of it and no more than
    :data:`MOST_DESIGNS`; cut short after a tenth of the search's seconds, or :data:`LEAST_SECONDS` if that is
    longer. The designs follow from the seed and are drawn apart from those of the search.
    """
    total = min(evaluated, max(search.leg_designs, int(SHARE * evaluated)), MOST_DESIGNS)
    limit = max(LEAST_SECONDS, SHARE * (search.seconds or 0.0))
    draw = Draw(ANY_FLUID).begin(space, np.random.default_rng((search.seed, 0, STREAM)))
    found = Known.none(space.dimensions, len(space.choice_counts), len(objectives))
    history: list[Moment] = []
    started, done = time.perf_counter(), 0
    while done < total and time.perf_counter() - started < limit:
        for known in _batch(draw, crew, objectives, min(total - done, crew.size * CHUNK)):
            done += len(known)
            pool = Known.join([found, known])
            found = pool.take(front_rows(pool))
            history.append(Moment(done, time.perf_counter() - started, hypervolume(found.values)))
    return history


def _batch(
    draw: PlainRandom, crew: Alone | Crew, objectives: tuple[Objective, ...], size: int
) -> list[Known]:
    """Draw and judge ``size`` designs, divided among the workers."""
    drawn = draw.ask(size)
    parts = [drawn.take(slice(start, start + CHUNK)) for start in range(0, size, CHUNK)]
    judged = [judge(outcome, objectives) for outcome in all_done(crew, parts)]
    return [Known(genes, j.values, j.breach) for genes, j in zip(parts, judged, strict=True)]
