"""Plain random designs: the comparison beside every search."""

from __future__ import annotations

import time

import numpy as np

from explore.config.schema import Objective, Search
from explore.design.space import Space
from explore.judgement.front import hypervolume
from explore.search.archive import front_rows
from explore.search.crew import Alone, Crew, all_done
from explore.search.judge import judge
from explore.search.outcome import Moment
from explore.search.population import Genes, Known

CHUNK = 2048
"""Half the batch of a leg: enough for the model's speed, and two workers share what one leg's worth is."""
SHARE = 0.1
"""A tenth of the search's designs shows the slope of the random curve and costs a tenth of the time."""
MOST_DESIGNS = 50_000
"""Beyond, a random search gains so little a design that its curve is known."""
LEAST_SECONDS = 5.0
"""A search of some seconds would else be compared with a handful of designs."""
STREAM = 2
"""The third word of the seed: legs use none, 1 and 3 where they choose what they start from, children beside a batch 4."""


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
    rng = np.random.default_rng((search.seed, 0, STREAM))
    found = Known.none(space.dimensions, len(space.choice_counts), len(objectives))
    history: list[Moment] = []
    started, done = time.perf_counter(), 0
    while done < total and time.perf_counter() - started < limit:
        for known in _batch(space, rng, crew, objectives, min(total - done, crew.size * CHUNK)):
            done += len(known)
            pool = Known.join([found, known])
            found = pool.take(front_rows(pool))
            history.append(Moment(done, time.perf_counter() - started, hypervolume(found.values)))
    return history


def _batch(
    space: Space, rng: np.random.Generator, crew: Alone | Crew, objectives: tuple[Objective, ...], size: int
) -> list[Known]:
    """Draw and judge ``size`` designs, divided among the workers."""
    drawn = Genes(*space.sample_genes(size, rng))
    parts = [drawn.take(slice(start, start + CHUNK)) for start in range(0, size, CHUNK)]
    judged = [judge(outcome, objectives) for outcome in all_done(crew, parts)]
    return [Known(genes, j.values, j.breach) for genes, j in zip(parts, judged, strict=True)]
