"""The archive: the designs a campaign remembers, bounded without losing the front.

Up to its bound it keeps every design it is given. Beyond, it keeps the non-dominated feasible designs over
all fluids (the front), then the best of each niche (a fluid in a layout) by itself, then the best of the rest by
rank and, within a rank, by what each alone covers. When the front outgrows its room, the designs leave that alone cover the
least hypervolume (:func:`explore.search.ranking.spread`); the most that any of them covered, the archive's
resolution, is on record.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from explore.judgement.front import hypervolume, nondominated
from explore.search.population import FLUID, LAYOUT, Known
from explore.search.ranking import MOST_OBJECTIVES, best_ranked, spread, worth

NICHES_SHARE = 0.3
"""Some hundred designs a fluid and some hundred a layout, which their islands of 24 start from, even where neither
is near the front; the rest of the room is the front's first."""


@dataclass(frozen=True)
class Archive:
    """Designs remembered; ``resolution`` is the most hypervolume one design that left the front covered.

    ``best_of_niche``, bool as ``on_front``, marks those that were the best of their niche when the bound was last kept.
    """

    known: Known
    capacity: int
    resolution: float = 0.0
    on_front: np.ndarray = field(default_factory=lambda: np.zeros(0, bool))
    best_of_niche: np.ndarray = field(default_factory=lambda: np.zeros(0, bool))

    def add(self, fresh: Known) -> Archive:
        """Return the archive with ``fresh`` designs taken in and its bound kept."""
        pool = Known.join([self.known, fresh])
        front = front_rows(pool)
        on_front = np.zeros(len(pool), bool)
        if len(pool) <= self.capacity:
            on_front[front] = True
            return replace(self, known=pool, on_front=on_front, best_of_niche=np.zeros(len(pool), bool))
        kept = _thinned(pool.values, front, self.capacity - int(NICHES_SHARE * self.capacity))
        on_front[kept] = True
        resolution = max(self.resolution, _given_up(pool.values, front, kept))
        best = self._best_of_niches(pool)
        chosen = on_front | best
        rest = np.flatnonzero(~chosen)
        chosen[rest[_best(pool.take(rest), self.capacity - int(chosen.sum()))]] = True
        rows = np.flatnonzero(chosen)
        return replace(
            self,
            known=pool.take(rows),
            resolution=resolution,
            on_front=on_front[rows],
            best_of_niche=best[rows],
        )

    @property
    def front(self) -> Known:
        """The feasible designs that nothing in the archive dominates."""
        return self.known.take(self.on_front)

    @property
    def hypervolume(self) -> float:
        """Hypervolume of the front on the scenario's normalised axes."""
        return hypervolume(self.known.values[self.on_front])

    def of_fluid(self, fluid: int) -> Known:
        """The designs of one fluid."""
        return self.known.take(self.known.genes.choices[:, FLUID] == fluid)

    def of_layout(self, layout: int) -> Known:
        """The designs of one layout."""
        return self.known.take(self.known.genes.choices[:, LAYOUT] == layout)

    def feasible_fluids(self) -> frozenset[int]:
        """Fluids with which a feasible design is known."""
        return frozenset(self.known.genes.choices[self.known.breach <= 0.0, FLUID].tolist())

    def _best_of_niches(self, pool: Known) -> np.ndarray:
        """Mark the best of each niche, chosen from those of before and what is fresh: others were left behind already."""
        fresh = np.arange(len(pool)) >= len(self.known)
        before = np.concatenate([self.best_of_niche, np.zeros(int(fresh.sum()), bool)])
        best = np.zeros(len(pool), bool)
        niches = pool.genes.niches
        order = np.argsort(niches, kind="stable")
        groups = np.split(order, np.flatnonzero(np.diff(niches[order])) + 1)
        room = int(NICHES_SHARE * self.capacity / len(groups))
        for own in groups:
            some = own[before[own] | fresh[own]] if before[own].sum() >= room else own
            best[some[_best(pool.take(some), room)]] = True
        return best


def front_rows(known: Known) -> np.ndarray:
    """Indices of the feasible, non-dominated designs, each set of objectives once."""
    feasible = np.flatnonzero(known.breach <= 0.0)
    return feasible[nondominated(known.values[feasible])]


def _best(known: Known, count: int) -> np.ndarray:
    """Indices of the best ``count`` designs by constrained rank and worth."""
    if count >= len(known):
        return np.arange(len(known))
    return best_ranked(known.values, known.breach, count)[0] if count > 0 else np.zeros(0, int)


def _thinned(values: np.ndarray, rows: np.ndarray, room: int) -> np.ndarray:
    return np.sort(rows[spread(values[rows], room)]) if len(rows) > room else rows


def _given_up(values: np.ndarray, front: np.ndarray, kept: np.ndarray) -> float:
    """Most hypervolume that one design of ``front`` not ``kept`` adds to those kept."""
    left = np.setdiff1d(front, kept)
    if len(left) == 0 or values.shape[1] > MOST_OBJECTIVES:
        return 0.0
    own = worth(values[front])
    return float(own[np.isin(front, left)].max())
