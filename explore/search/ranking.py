"""Which designs survive: constraint domination, non-dominated layers, and what each adds to the hypervolume.

Objectives are minimised, on the scenario's normalised axes. ``breach`` is the summed, scaled violation of
a design's constraints: 0 for a feasible one. A feasible design beats an infeasible one; two infeasible
ones compare by breach; two feasible ones by domination (Deb et al., IEEE Transactions on Evolutionary
Computation 6 (2002) 182-197, section VI-A), then by the hypervolume that only they cover (Beume,
Naujoks and Emmerich, European Journal of Operational Research 181 (2007) 1653-1669). With four
objectives that takes too long, and crowding distance (Deb et al., section III-B) stands in.
"""

from __future__ import annotations

import numpy as np

DROPPED_AT_ONCE = 0.08
"""One by one would be exact, but each pass weighs the whole layer anew; at 8 % nine passes halve a layer."""
MOST_OBJECTIVES = 3
"""Exclusive hypervolume of a layer costs n log n with two or three objectives, and n squared with four."""


def constrained_ranks(values: np.ndarray, breach: np.ndarray) -> np.ndarray:
    """Rank designs, 0 best: feasible ones by non-dominated layer, then infeasible ones by breach."""
    import moocore

    ranks = np.zeros(len(values), int)
    feasible = breach <= 0.0
    layers = 0
    if feasible.any():
        ranks[feasible] = moocore.pareto_rank(np.ascontiguousarray(values[feasible]))
        layers = int(ranks[feasible].max()) + 1
    order = np.argsort(breach[~feasible], kind="stable")
    behind = np.empty(len(order), int)
    behind[order] = np.arange(len(order))
    ranks[~feasible] = layers + behind
    return ranks


def worth(values: np.ndarray) -> np.ndarray:
    """What each row of a layer is worth keeping for, (n,); 0 for rows beyond the reference.

    With two or three objectives the hypervolume inside the unit box that the row alone covers.
    """
    import moocore

    own = np.zeros(len(values))
    inside = np.flatnonzero((values < 1.0).all(axis=1))
    if len(inside) == 0:
        return own
    layer = np.ascontiguousarray(values[inside])
    objectives = values.shape[1]
    if objectives <= MOST_OBJECTIVES:
        own[inside] = moocore.hv_contributions(layer, ref=np.ones(objectives))
    else:
        own[inside] = crowding_distance(layer)
    return own


def crowding_distance(values: np.ndarray) -> np.ndarray:
    """Sum over the objectives of the gap between a row's neighbours, scaled; infinite at the ends."""
    distance = np.zeros(len(values))
    for column in values.T:
        order = np.argsort(column, kind="stable")
        ranked = column[order]
        span = ranked[-1] - ranked[0]
        if span > 0.0:
            distance[order[1:-1]] += (ranked[2:] - ranked[:-2]) / span
        distance[order[[0, -1]]] = np.inf
    return distance


def survivors(values: np.ndarray, breach: np.ndarray, keep: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Choose ``keep`` designs: their indices, ranks and worth, best rank first."""
    order, ranks = best_ranked(values, breach, keep)
    own = np.zeros(len(order))
    first = np.flatnonzero((ranks == 0) & (breach[order] <= 0.0))
    own[first] = worth(values[order[first]])
    return order, ranks, own


def best_ranked(values: np.ndarray, breach: np.ndarray, keep: int) -> tuple[np.ndarray, np.ndarray]:
    """Choose ``keep`` designs: their indices and ranks, best rank first."""
    ranks = constrained_ranks(values, breach)
    order = np.argsort(ranks, kind="stable")
    if keep < len(order):
        limit = ranks[order[keep - 1]]
        inside = order[ranks[order] < limit]
        last = order[ranks[order] == limit]
        order = np.concatenate([inside, last[spread(values[last], keep - len(inside))]])
    return order, ranks[order]


def spread(values: np.ndarray, keep: int) -> np.ndarray:
    """Choose ``keep`` rows of one layer: those worth least leave, a few at a time.

    Rows beyond the reference are worth nothing and leave first, the farthest of them foremost.
    """
    alive = np.arange(len(values))
    beyond = np.maximum(values - 1.0, 0.0).sum(axis=1)
    while len(alive) > keep:
        drop = min(len(alive) - keep, max(1, int(DROPPED_AT_ONCE * len(alive))))
        order = np.lexsort((-beyond[alive], worth(values[alive])))
        alive = np.delete(alive, order[:drop])
    return alive


def tournament(ranks: np.ndarray, value: np.ndarray, n: int, rng: np.random.Generator) -> np.ndarray:
    """Draw ``n`` parents by binary tournament on rank, then worth."""
    a, b = rng.integers(0, len(ranks), (2, n))
    better = (ranks[a] < ranks[b]) | ((ranks[a] == ranks[b]) & (value[a] >= value[b]))
    return np.where(better, a, b)
