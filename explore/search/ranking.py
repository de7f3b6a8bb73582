"""Which designs survive: constraint domination, non-dominated ranks and crowding.

Objectives are minimised. ``breach`` is the summed, scaled violation of a design's constraints:
0 for a feasible one. A feasible design beats an infeasible one; two infeasible ones compare by
breach; two feasible ones by domination, then by crowding (Deb et al., IEEE Transactions on
Evolutionary Computation 6 (2002) 182-197, sections III-B and VI-A).
"""

from __future__ import annotations

import numpy as np


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


def crowding_distance(values: np.ndarray) -> np.ndarray:
    """Sum over the objectives of the gap between a design's neighbours, scaled; infinite at the ends."""
    n, m = values.shape
    distance = np.zeros(n)
    for j in range(m):
        order = np.argsort(values[:, j], kind="stable")
        column = values[order, j]
        span = column[-1] - column[0]
        if span > 0.0:
            distance[order[1:-1]] += (column[2:] - column[:-2]) / span
        distance[order[[0, -1]]] = np.inf
    return distance


def survivors(values: np.ndarray, breach: np.ndarray, keep: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Choose ``keep`` designs: their indices, ranks and crowding distances, best rank first."""
    ranks = constrained_ranks(values, breach)
    order = np.argsort(ranks, kind="stable")
    if keep < len(order):
        limit = ranks[order[keep - 1]]
        inside = order[ranks[order] < limit]
        last = order[ranks[order] == limit]
        order = np.concatenate([inside, last[spread(values[last], keep - len(inside))]])
    crowding = np.zeros(len(order))
    for rank in np.unique(ranks[order]):
        members = np.flatnonzero(ranks[order] == rank)
        crowding[members] = crowding_distance(values[order[members]]) if len(members) > 1 else np.inf
    return order, ranks[order], crowding


def spread(values: np.ndarray, keep: int) -> np.ndarray:
    """Choose ``keep`` rows that cover a layer evenly: the most crowded are dropped in a few rounds.

    Dropping in rounds, the distances recomputed after each, leaves fewer holes than dropping all at once.
    """
    alive = np.arange(len(values))
    while len(alive) > keep:
        excess = len(alive) - keep
        drop = min(excess, max(1, len(alive) // 4))
        order = np.argsort(crowding_distance(values[alive]), kind="stable")
        # Of two crowded neighbours only one goes per round, or whole clusters would vanish.
        alive = np.delete(alive, order[:drop])
    return alive


def tournament(ranks: np.ndarray, crowding: np.ndarray, n: int, rng: np.random.Generator) -> np.ndarray:
    """Draw ``n`` parents by binary tournament on rank, then crowding."""
    a, b = rng.integers(0, len(ranks), (2, n))
    better = (ranks[a] < ranks[b]) | ((ranks[a] == ranks[b]) & (crowding[a] >= crowding[b]))
    return np.where(better, a, b)
