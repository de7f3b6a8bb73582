"""The archive: the designs a campaign remembers, bounded without losing the front.

Kept are the non-dominated feasible designs over all fluids (the front), those of each fluid by
itself, and a sample of the rest for the page. When a front outgrows its room, the normalised
objective space is divided into boxes of equal side, the resolution, and each box keeps the design
nearest to its best corner; the best in each objective stay. The resolution is doubled until the
front fits, so a design leaves only for another at most one box side worse in each objective.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from explore.front import hypervolume, nondominated
from explore.search.islands import Known

FINEST = 1.0 / 4096.0
FRONT_SHARE = 0.5
OTHERS_SHARE = 0.2


@dataclass(frozen=True)
class Archive:
    """Designs remembered, and to which resolution the front is kept (0: every design of it)."""

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
        resolution = self.resolution
        thinned, resolution = _thin(pool.values, front, int(FRONT_SHARE * self.capacity), resolution)
        on_front = np.zeros(len(pool), bool)
        on_front[thinned] = True
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
            chosen[_thin(pool.values, own, room, 0.0)[0]] = True
        rest = np.flatnonzero(~chosen)
        newest = rest[max(0, len(rest) - int(OTHERS_SHARE * self.capacity)) :]
        chosen[newest] = True
        return np.flatnonzero(chosen)


def front_rows(known: Known) -> np.ndarray:
    """Indices of the feasible, non-dominated designs, each set of objectives once."""
    feasible = np.flatnonzero(known.breach <= 0.0)
    return feasible[nondominated(known.values[feasible])]


def _thin(values: np.ndarray, rows: np.ndarray, room: int, resolution: float) -> tuple[np.ndarray, float]:
    """Keep one design a box of side ``resolution``, doubled until the ``rows`` fit into ``room``."""
    while len(rows) > room and resolution < 1.0:
        resolution = max(FINEST, 2.0 * resolution)
        rows = _one_per_box(values, rows, resolution)
    return rows, resolution


def _one_per_box(values: np.ndarray, rows: np.ndarray, side: float) -> np.ndarray:
    own = values[rows]
    boxes = np.floor(own / side)
    from_corner = np.linalg.norm(own / side - boxes, axis=1)
    order = np.lexsort((from_corner, *boxes.T))
    ordered = boxes[order]
    first = np.ones(len(order), bool)
    first[1:] = (ordered[1:] != ordered[:-1]).any(axis=1)
    return rows[np.union1d(order[first], own.argmin(axis=0))]
