"""Steps uphill within a niche: a few designs of one layout each follow the slope of what they are after.

Within a niche (a fluid in a layout) the model is smooth, and a slope taken by differences tells more than as many
children: from designs of the first rounds four steps reach most of what a niche has in it. Each climber has a weight for
every objective and betters the weighted product of what it covers between ideal and reference, which is what the
hypervolume counts. At each step everything is linearised about it; limits that are broken, or would be, cost by their
excess, so that a design that just misses a limit is repaired on the way (a linear programme with elastic limits; Fletcher,
Practical Methods of Optimization, 2nd ed., 1987, section 14.4). Choices are tried by exchange, one at a step.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from explore.design.space import Space
from explore.search.judge import Judged
from explore.search.population import FLUID, LAYOUT, Genes, Known

DIFFERENCE = 2e-3
"""Well above the rounding of the model, well below the radius a step may have."""
FIRST_RADIUS = 0.1
"""A tenth of a range: designs of the first rounds lie farther off than those that polishing begins with."""
GROW, SHORTEN, SHRINK = 1.5, 0.7, 0.3
"""A step that held in full asks for a longer one, one that held in part for a shorter; one that failed was far too long."""
STEP_SHARES = (1.0, 0.5, 0.2)
"""One batch tries the whole move and two shorter ones, for where the model bends within the radius."""
PRICE_OF_EXCESS = 50.0
"""No logarithm of an objective is worth a limit: from the far end to the near one they change by some five."""
LEAST_COVERED = 0.02
"""Where less than a fiftieth of an axis is covered, or nothing, the logarithm goes on as a straight line."""
FARTHEST_EXCESS = 1e5
"""What is missing has no slope: such a limit is left to the tries."""
BETTER = 1e-9
"""A gain within rounding is none."""
EMPHASIS = 0.8
"""A climber that is after one objective still minds the others: one bought at any price would lie off the front."""
NEXT_FLUID = 0.5
"""Half of the climbers go to the best fluid of a layout, a quarter to the next: none is shut out."""
STRANGERS = 0.2
"""One climber in five comes from the front in another layout and is made over: sizes that fit there may fit here."""


@dataclass(frozen=True)
class Climb:
    """Who climbs: ``genes`` (n, ...) to start from and what each is after, ``weights`` (n, m) of sum 1."""

    genes: Genes
    weights: np.ndarray


def covered(values: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Logarithm (n,) of the weighted product of what designs with ``values`` (n, m) cover of each axis."""
    share = 1.0 - values
    low = np.log(LEAST_COVERED) + (share - LEAST_COVERED) / LEAST_COVERED
    logs = np.where(share > LEAST_COVERED, np.log(np.maximum(share, LEAST_COVERED)), low)
    return np.asarray((weights * logs).sum(axis=1))


def plan(own: Known, front: Known, layout: int, count: int, rng: np.random.Generator) -> Climb:
    """Choose ``count`` designs that climb in ``layout``, of which ``own`` are known: the best for different weights.

    Some come from the ``front`` of all layouts, all of them while nothing is known of the layout; fewer than ``count``
    if neither is known.
    """
    objectives = own.values.shape[1]
    weights = _weights(count, objectives, rng)
    rows = []
    for weight in weights:
        strange = rng.random() < STRANGERS
        rank = int(rng.geometric(NEXT_FLUID)) - 1
        pool = front if (strange and len(front)) or not len(own) else own
        if len(pool):
            rows.append(pool.genes.take([_best_of_fluids(pool, weight, rank)]))
    if not rows:
        return Climb(own.genes.take(slice(0)), weights[:0])
    genes = Genes.join(rows)
    genes.choices[:, LAYOUT] = layout
    return Climb(genes, weights[: len(genes)])


def _weights(count: int, objectives: int, rng: np.random.Generator) -> np.ndarray:
    """Weights (count, m): each objective by itself, all alike, then at random; in an order that differs by leg."""
    rest = (1.0 - EMPHASIS) / max(1, objectives - 1)
    one = np.full((objectives, objectives), rest) + (EMPHASIS - rest) * np.eye(objectives)
    fixed = rng.permutation(np.concatenate([one, np.full((1, objectives), 1.0 / objectives)]))
    drawn = rng.dirichlet(np.ones(objectives), max(0, count - len(fixed)))
    return np.concatenate([fixed, drawn])[:count]


def _best_of_fluids(pool: Known, weight: np.ndarray, rank: int) -> int:
    """Row of the best design of that fluid whose best design stands at ``rank`` among those of all fluids."""
    score = np.where(pool.breach <= 0.0, -covered(pool.values, weight), PRICE_OF_EXCESS + pool.breach)
    order = np.argsort(score, kind="stable")
    firsts = np.sort(np.unique(pool.genes.choices[order, FLUID], return_index=True)[1])
    return int(order[firsts[min(rank, len(firsts) - 1)]])


class Climbers:
    """Designs that climb in step: asked in turn for the probes that give the slope, and for the tries of a move."""

    def __init__(self, climb: Climb, space: Space, rng: np.random.Generator):
        self._space, self._rng, self._weights = space, rng, climb.weights
        self._genes = climb.genes
        self._radius = np.full(len(climb.genes), FIRST_RADIUS)
        self._now: Judged | None = None
        self._moves: np.ndarray | None = None
        self._asked = climb.genes

    def __len__(self) -> int:
        return len(self._genes)

    @property
    def wanted(self) -> int:
        """How many designs the next batch has."""
        if self._now is None:
            return len(self)
        return len(self._probed()[0]) if self._moves is None else (len(STEP_SHARES) + 1) * len(self)

    def ask(self) -> Genes:
        """Propose themselves first, then in turn probes beside them and tries of their moves."""
        if self._now is None:
            self._asked = self._genes
        elif self._moves is None:
            self._asked = self._probes()
        else:
            self._asked = self._tries(self._moves)
        return self._asked

    def tell(self, judged: Judged) -> None:
        """Learn how the batch last asked for was judged."""
        if self._now is None:
            self._now = judged
        elif self._moves is None:
            self._moves = self._planned(self._now, judged)
        else:
            self._take(self._now, judged)
            self._moves = None

    def _probed(self) -> tuple[np.ndarray, np.ndarray]:
        """Climber and gene of each probe: genes that matter and are not pinned."""
        rows, genes = np.nonzero(self._space.applies(self._genes.choices) & self._space.free)
        return rows, genes

    def _steps(self) -> np.ndarray:
        rows, genes = self._probed()
        return np.where(self._genes.unit[rows, genes] + DIFFERENCE > 1.0, -DIFFERENCE, DIFFERENCE)

    def _probes(self) -> Genes:
        rows, genes = self._probed()
        probes = self._genes.take(rows)
        probes.unit[np.arange(len(rows)), genes] += self._steps()
        return probes

    def _planned(self, now: Judged, there: Judged) -> np.ndarray:
        """Best linearised move of each climber, (n, d)."""
        (rows, genes), step = self._probed(), self._steps()
        excess, nearby = now.excess, there.excess
        moves = np.zeros_like(self._genes.unit)
        for one in range(len(self)):
            own = rows == one
            slope = (there.values[own] - now.values[one]) / step[own, None]
            price = self._weights[one] / np.maximum(1.0 - now.values[one], LEAST_COVERED)
            moves[one, genes[own]] = _elastic(
                (slope * price).sum(axis=1),
                (nearby[own] - excess[one]) / step[own, None],
                excess[one],
                self._genes.unit[one, genes[own]],
                self._radius[one],
            )
        return moves

    def _tries(self, moves: np.ndarray) -> Genes:
        """Propose shares of each move, and the whole one with one choice other than fluid and layout exchanged."""
        unit, choices = self._genes.unit, self._genes.choices
        shares = [np.clip(unit + share * moves, 0.0, 1.0) for share in (*STEP_SHARES, STEP_SHARES[0])]
        other = choices.copy()
        counts = np.array(self._space.choice_counts)
        free = np.arange(LAYOUT + 1, len(counts))
        which = self._rng.choice(free, len(self))
        ahead = 1 + (self._rng.random(len(self)) * (counts[which] - 1)).astype(int)
        rows = np.arange(len(self))
        other[rows, which] = (other[rows, which] + ahead) % counts[which]
        return Genes(np.concatenate(shares), np.concatenate([choices] * len(STEP_SHARES) + [other]))

    def _take(self, now: Judged, there: Judged) -> None:
        """Go where the best try is, if it is better; a feasible climber stays feasible."""
        n, tries = len(self), len(STEP_SHARES) + 1
        rows = np.tile(np.arange(n), tries)
        lost = (there.breach > 0.0) & (now.breach <= 0.0)[rows]
        score = np.where(lost, np.inf, _score(there, self._weights[rows])).reshape(tries, n)
        best = score.argmin(axis=0)
        moved = score.min(axis=0) < _score(now, self._weights) - BETTER
        whole = (best == 0) | (best == tries - 1)
        self._radius *= np.where(moved, np.where(whole, GROW, SHORTEN), SHRINK)
        chosen = np.where(moved, best * n + np.arange(n), len(rows) + np.arange(n))
        self._genes = Genes.join([self._asked, self._genes]).take(chosen)
        self._now = Judged.join([there, now]).take(chosen)


def _score(judged: Judged, weights: np.ndarray) -> np.ndarray:
    """What climbers lessen, (n,): the price of what limits are exceeded by, less what is covered."""
    return PRICE_OF_EXCESS * np.maximum(judged.excess, 0.0).sum(axis=1) - covered(judged.values, weights)


def _elastic(
    slope: np.ndarray, steep: np.ndarray, excess: np.ndarray, at: np.ndarray, radius: float
) -> np.ndarray:
    """Solve one linear programme (d,): least slope and priced excess within the trust region.

    ``slope`` (d,) of what is lessened, ``steep`` (d, k) of the limits' scaled excess (k,), ``at`` (d,) in [0, 1].
    """
    from scipy.optimize import linprog

    usable = np.isfinite(steep).all(axis=0) & (np.abs(excess) < FARTHEST_EXCESS)
    # A limit that no move within the radius can reach says nothing.
    usable &= excess + radius * np.abs(np.where(np.isfinite(steep), steep, 0.0)).sum(axis=0) > 0.0
    limits = int(usable.sum())
    if not np.isfinite(slope).all():
        return np.zeros(len(at))
    bounds = [*zip(np.maximum(-radius, -at), np.minimum(radius, 1.0 - at), strict=True)] + [
        (0.0, None)
    ] * limits
    result = linprog(
        np.concatenate([slope, np.full(limits, PRICE_OF_EXCESS)]),
        A_ub=np.hstack([steep[:, usable].T, -np.eye(limits)]) if limits else None,
        b_ub=-excess[usable] if limits else None,
        bounds=bounds,
        method="highs",
    )
    return np.asarray(result.x)[: len(at)] if result.success else np.zeros(len(at))
