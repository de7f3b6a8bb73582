"""The archive: the designs a campaign remembers, bounded without losing the front.

Kept are the non-dominated feasible designs over all fluids (the front), those of each fluid by
itself, and a sample of the rest for the page. When a front outgrows its room, the designs leave that
alone cover the least hypervolume (:func:`explore.search.ranking.spread`); the most that any of them
covered, the archive's resolution, is on record.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from explore.judgement.front import hypervolume, nondominated
from explore.search.population import Known
from explore.search.ranking import MOST_OBJECTIVES, spread, worth

FRONT_SHARE = 0.5
"""Half the room is the front's, which is what was searched for."""
OTHERS_SHARE = 0.2
"""A fifth shows what failed or was beaten; the rest is the fronts of the single fluids."""


@dataclass(frozen=True)
class Archive:
    """Designs remembered; ``resolution`` is the most hypervolume one design that left the front covered."""

    known: Known
    capacity: int
    resolution: float = 0.0
    on_front: np.ndarray = field(default_factory=lambda: np.zeros(0, bool))

    def add(self, fresh: Known, *, keep_all: bool) -> Archive:
        """Return the archive with ``fresh`` designs taken in and its bound kept.

        ``keep_all`` keeps dominated and infeasible designs too, as long as there is room.
        """
        pool = Known.join([self.known, fresh])
        front = front_rows(pool)
        kept = _thinned(pool.values, front, int(FRONT_SHARE * self.capacity))
        resolution = max(self.resolution, _given_up(pool.values, front, kept))
        on_front = np.zeros(len(pool), bool)
        on_front[kept] = True
        if keep_all and len(pool) <= self.capacity:
            return replace(self, known=pool, resolution=resolution, on_front=on_front)
        kept = self._others(pool, on_front)
        return replace(self, known=pool.take(kept), resolution=resolution, on_front=on_front[kept])

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
        return self.known.take(self.known.genes.choices[:, 0] == fluid)

    def _others(self, pool: Known, on_front: np.ndarray) -> np.ndarray:
        """Choose what stays beside the front: the fronts of the fluids, then a share of the newest others."""
        fluids = pool.genes.choices[:, 0]
        present = np.unique(fluids)
        chosen = on_front.copy()
        room = int((1.0 - FRONT_SHARE - OTHERS_SHARE) * self.capacity / max(1, len(present)))
        for fluid in present:
            rows = np.flatnonzero(fluids == fluid)
            own = rows[front_rows(pool.take(rows))]
            chosen[_thinned(pool.values, own, room)] = True
        rest = np.flatnonzero(~chosen)
        newest = rest[max(0, len(rest) - int(OTHERS_SHARE * self.capacity)) :]
        chosen[newest] = True
        return np.flatnonzero(chosen)


def front_rows(known: Known) -> np.ndarray:
    """Indices of the feasible, non-dominated designs, each set of objectives once."""
    feasible = np.flatnonzero(known.breach <= 0.0)
    return feasible[nondominated(known.values[feasible])]


def _thinned(values: np.ndarray, rows: np.ndarray, room: int) -> np.ndarray:
    return np.sort(rows[spread(values[rows], room)]) if len(rows) > room else rows


def _given_up(values: np.ndarray, front: np.ndarray, kept: np.ndarray) -> float:
    """Most hypervolume that one design of ``front`` not ``kept`` adds to those kept."""
    left = np.setdiff1d(front, kept)
    if len(left) == 0 or values.shape[1] > MOST_OBJECTIVES:
        return 0.0
    own = worth(values[front])
    return float(own[np.isin(front, left)].max())
