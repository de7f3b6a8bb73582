"""Steps uphill within a niche: a few designs of one layout each follow the slope of what they are after.

Within a niche (a fluid in a layout) the model is smooth, and a slope taken by differences tells more than as many
children: from designs of the first rounds four steps reach most of what a niche has in it. Each climber has a weight for
every objective and betters the weighted product of what it covers between ideal and reference, which is what the
hypervolume counts. At each step everything is linearised about it; limits that are broken, or would be, cost by their
excess, so that a design that just misses a limit is repaired on the way (a linear programme with elastic limits; Fletcher,
Practical Methods of Optimization, 2nd ed., 1987, section 14.4). Choices are tried by exchange, one at a step.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from explore.design.space import Space
from explore.judgement.front import hypervolume
from explore.search.archive import Archive
from explore.search.judge import Judged
from explore.search.linear import Programme, solved
from explore.search.population import FLUID, LAYOUT, Genes, Known
from explore.search.slope import Slope, by_difference, figures

DIFFERENCE = 2e-2
"""A fiftieth of a range: a slope over that looks across the small bends that a step of a tenth passes anyway."""
FIRST_RADIUS = 0.1
"""A tenth of a range: designs of the first rounds lie farther off than those that polishing begins with."""
GROW, SHORTEN, SHRINK = 1.5, 0.7, 0.3
"""A step that held in full asks for a longer one, one that held in part for a shorter; one that failed was far too long."""
STEP_SHARES = (1.0, 0.5, 0.2)
"""One batch tries the whole move and two shorter ones, for where the model bends within the radius."""
TRIES_A_SLOPE = 4
"""A slope serves four moves, put right by what each found: so a step costs eight designs and not twenty."""
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
KIN = 0.6
"""Most climbers come from layouts with the same store and are made over: what one found of store, collector and fluid
serves all. From four legs one visit so brought the orchard from 0.241 to 0.29 and 0.31, else to 0.256."""
FIRST_CANDIDATES = 16
"""While nothing is known designs at random miss most limits by far: of sixteen the best is repaired in some four steps."""
CANDIDATES = 4
"""Of those made over some miss limits by far: four are judged for each that climbs, a twentieth of what its steps cost."""
FROM_OTHERS = 1
"""Of the candidates one comes from layouts with other stores, all four while none is known with this one: of what keeps its
limits with a stratified store a tenth to a third keep them with a mixed one as well, of designs at random hardly any."""
HOPEFUL = 2
"""Of so many climbers in a nest one sets out for a fluid that has kept no limits yet, where it promises something. After
20,000 designs of the school water was on the front of seven seeds of fourteen so, of five with every fourth climber; means
of eight seeds 0.3935 for 0.3928 of the orchard, 0.5379 for 0.5382 of the island."""
PROMISING = 0.005
"""What a fluid would add to the hypervolume that is worth more than one climber, as a share of it."""
PROMISED = 0.75
"""Of the climbers that set out for a fluid three in four go where keeping the limits would gain most, the others anywhere;
where none would gain anything those three stay. Of the island's twelve fluids that keep no limits eight and more would gain
nothing if they did, of the school's four three."""


@dataclass(frozen=True)
class Climb:
    """Who may climb: ``genes`` (n c, ...) of the candidates, c for each climber, and what climbers are after.

    ``weights`` (n, m) are of sum 1.
    """

    genes: Genes
    weights: np.ndarray


def covered(values: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Logarithm (n,) of the weighted product of what designs with ``values`` (n, m) cover of each axis."""
    share = 1.0 - values
    low = np.log(LEAST_COVERED) + (share - LEAST_COVERED) / LEAST_COVERED
    logs = np.where(share > LEAST_COVERED, np.log(np.maximum(share, LEAST_COVERED)), low)
    return np.asarray((weights * logs).sum(axis=1))


def plan(archive: Archive, space: Space, layout: int, count: int, rng: np.random.Generator) -> Climb:
    """Choose who may climb in ``layout``, ``count`` at a time: the best designs known for different weights.

    They are the layout's own, its kin's, of layouts with the same store, or made over from one with another store; designs
    at random if none are known.
    """
    known = archive.known
    weights = _weights(count, known.values.shape[1], rng)
    mode = np.array([one.store_mode for one in space.layouts])
    place = known.genes.choices[:, LAYOUT]
    same = mode[place] == mode[layout]
    own, kin, others = (known.take(rows) for rows in (place == layout, same, ~same))
    if not len(known):
        genes = Genes(*space.sample_genes(count * FIRST_CANDIDATES, rng))
        genes.choices[:, LAYOUT] = layout
        return Climb(genes, weights)
    rows = _hopeful(own, kin, others, archive.front.values, max(1, count // HOPEFUL), rng)
    for weight in weights[len(rows) :]:
        pool = kin if rng.random() < KIN or not len(own) else own
        ranks = rng.geometric(NEXT_FLUID, CANDIDATES) - 1
        lent = CANDIDATES if not len(pool) else FROM_OTHERS if len(others) else 0
        parts = [(pool, ranks[lent:]), (others, ranks[:lent])]
        rows.append(
            Genes.join([_best_of_fluids(one, weight, some).genes for one, some in parts if len(some)])
        )
    genes = Genes.join(rows)
    had = space.applies(genes.choices)
    genes.choices[:, LAYOUT] = layout
    # What a design had no use for before says nothing: pressure levels, above all, begin well spread.
    unit = np.where(space.applies(genes.choices) & ~had, rng.random(genes.unit.shape), genes.unit)
    return Climb(Genes(unit, genes.choices), weights)


def _hopeful(
    own: Known, kin: Known, others: Known, front: np.ndarray, count: int, rng: np.random.Generator
) -> list[Genes]:
    """Candidates for at most ``count`` climbers: what least breaks limits, of fluids that keep them with no such store yet.

    Designs bred or at random may all miss its limits by far where a hundred evaluations of one that climbs keep them. An
    engine on water vapour for the school, the least pressure of all and a twentieth of the hypervolume, was found by one
    search of six with 220,000 designs or more without this, by two of two with 131,072 with it; by one of them if only
    every second visit sends one. That a fluid keeps them with one store says nothing of the other: Ethanol has the least
    pressure of the island, and keeps its limits sooner with a mixed one. Most fluids that keep no limits would gain nothing
    if they did, for their pressure is beyond the reference; so a fluid is drawn by what its least broken designs would add
    to the ``front`` (values (n, m)). Half of the candidates come from ``others``, of another store, where there are such of
    the fluid.
    """
    fluids = np.setdiff1d(kin.genes.choices[:, FLUID], kin.genes.choices[kin.breach <= 0.0, FLUID])
    if not len(fluids):
        return []
    whole = hypervolume(front)
    promise = np.array(
        [_gain(_least_broken(kin, fluid, CANDIDATES).values, front, whole) for fluid in fluids]
    )
    found = []
    for _ in range(count if promise.max() > PROMISING * whole else 1):
        drawn = rng.random() < PROMISED
        if drawn and not promise.any():
            continue
        fluid = rng.choice(fluids, p=promise / promise.sum() if drawn else None)
        lent = _least_broken(others, fluid, CANDIDATES // 2)
        rest = CANDIDATES - len(lent)
        at_home = _least_broken(own, fluid, rest)
        mine = at_home if len(at_home) else _least_broken(kin, fluid, rest)
        found.append(Genes.join([mine.genes.take(np.arange(rest) % len(mine)), lent.genes]))
    return found


def _least_broken(pool: Known, fluid: int, count: int) -> Known:
    """Those designs of a fluid, ``count`` at most, that break limits least."""
    own = pool.take(pool.genes.choices[:, FLUID] == fluid)
    return own.take(np.argsort(own.breach, kind="stable")[:count])


def _gain(values: np.ndarray, front: np.ndarray, whole: float) -> float:
    """The hypervolume that ``values`` (n, m) would add to a ``front`` of ``whole``; rounding takes nothing from it."""
    within = values[(values < 1.0).all(axis=1)]
    return max(0.0, hypervolume(np.concatenate([front, within])) - whole) if len(within) else 0.0


def _weights(count: int, objectives: int, rng: np.random.Generator) -> np.ndarray:
    """Weights (count, m): each objective by itself, all alike, then at random; in an order that differs by leg."""
    rest = (1.0 - EMPHASIS) / max(1, objectives - 1)
    one = np.full((objectives, objectives), rest) + (EMPHASIS - rest) * np.eye(objectives)
    fixed = rng.permutation(np.concatenate([one, np.full((1, objectives), 1.0 / objectives)]))
    drawn = rng.dirichlet(np.ones(objectives), max(0, count - len(fixed)))
    return np.concatenate([fixed, drawn])[:count]


def _best_of_fluids(pool: Known, weight: np.ndarray, ranks: np.ndarray) -> Known:
    """For each of ``ranks`` the best design of the fluid whose best design stands there among those of all fluids."""
    score = np.where(pool.breach <= 0.0, -covered(pool.values, weight), PRICE_OF_EXCESS * (1.0 + pool.breach))
    order = np.argsort(score, kind="stable")
    firsts = np.sort(np.unique(pool.genes.choices[order, FLUID], return_index=True)[1])
    return pool.take(order[firsts[np.minimum(ranks, len(firsts) - 1)]])


class Climbers:
    """Designs that climb in step: asked for the probes that give the slope, then for the tries of some moves."""

    def __init__(self, climb: Climb, space: Space, rng: np.random.Generator):
        self._space, self._rng, self._weights = space, rng, climb.weights
        self._genes = climb.genes
        self._radius = np.full(len(climb.weights), FIRST_RADIUS)
        self._now: Judged | None = None
        self._slope: Slope | None = None
        self._tried = 0
        self._asked = climb.genes
        self._moves: np.ndarray | None = None

    def __len__(self) -> int:
        return len(self._weights)

    @property
    def wanted(self) -> int:
        """How many designs the next batch has."""
        if self._now is None:
            return len(self._genes)
        return len(self._probed()[0]) if self._slope is None else (len(STEP_SHARES) + 1) * len(self)

    def ask(self) -> Genes:
        """Propose the candidates first, then in turn probes beside them and tries of their moves."""
        if self._now is None:
            self._asked = self._genes
        elif self._slope is None:
            self._asked = self._probes()
        else:
            if self._moves is None:
                think([self])
            assert self._moves is not None
            self._asked, self._moves = self._tries(self._moves), None
        return self._asked

    def tell(self, judged: Judged) -> None:
        """Learn how the batch last asked for was judged."""
        if self._now is None:
            each = len(judged.breach) // len(self)
            score = _score(judged, np.repeat(self._weights, each, axis=0)).reshape(-1, each)
            chosen = np.arange(len(self)) * each + score.argmin(axis=1)
            self._genes, self._now = self._genes.take(chosen), judged.take(chosen)
        elif self._slope is None:
            self._slope = self._measured(self._now, judged)
            self._tried = 0
        else:
            self._slope = self._take(self._now, judged, self._slope)
            self._tried += 1
            if self._tried == TRIES_A_SLOPE:
                self._slope = None

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

    def _measured(self, now: Judged, there: Judged) -> Slope:
        """The slopes that the probes show."""
        (rows, genes), step = self._probed(), self._steps()
        here, nearby = figures(now), figures(there)
        slope = np.zeros((*self._genes.unit.shape, here.shape[1]))
        slope[rows, genes] = by_difference(here[rows], nearby, step)
        return Slope(slope)

    def programmes(self) -> list[Programme]:
        """State each climber's best linearised move, if tries are asked for next; else nothing."""
        now, slope = self._now, self._slope
        if now is None or slope is None or self._moves is not None:
            return []
        excess, objectives = now.excess, now.values.shape[1]
        price = self._weights / np.maximum(1.0 - now.values, LEAST_COVERED)
        stated = []
        for one, genes in enumerate(self._movable()):
            steep = slope.of[one, genes]
            stated.append(
                _elastic(
                    (steep[:, :objectives] * price[one]).sum(axis=1),
                    steep[:, objectives:],
                    excess[one],
                    self._genes.unit[one, genes],
                    self._radius[one],
                )
            )
        return stated

    def go(self, found: Sequence[np.ndarray]) -> None:
        """Take what solves the :meth:`programmes`: the moves to be tried next, (n, d)."""
        self._moves = np.zeros_like(self._genes.unit)
        for one, (genes, best) in enumerate(zip(self._movable(), found, strict=True)):
            self._moves[one, genes] = best[: len(genes)]

    def _movable(self) -> list[np.ndarray]:
        """Genes of each climber that matter and are not pinned."""
        return [np.flatnonzero(row) for row in self._space.applies(self._genes.choices) & self._space.free]

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

    def _take(self, now: Judged, there: Judged, slope: Slope) -> Slope:
        """Go where the best try is, if it is better; a feasible climber stays feasible. Return the slope put right."""
        n, tries = len(self), len(STEP_SHARES) + 1
        rows = np.tile(np.arange(n), tries)
        lost = (there.breach > 0.0) & (now.breach <= 0.0)[rows]
        score = np.where(lost, np.inf, _score(there, self._weights[rows])).reshape(tries, n)
        best = score.argmin(axis=0)
        moved = score.min(axis=0) < _score(now, self._weights) - BETTER
        whole = (best == 0) | (best == tries - 1)
        self._radius *= np.where(moved, np.where(whole, GROW, SHORTEN), SHRINK)
        # The slope learns from where the climber went, or from the shortest try; not from one with another choice.
        shortest = len(STEP_SHARES) - 1
        seen = np.where(moved, np.where(best == tries - 1, 0, best), shortest) * n + np.arange(n)
        better = slope.put_right(
            self._asked.unit[seen] - self._genes.unit, figures(there)[seen] - figures(now)
        )
        chosen = np.where(moved, best * n + np.arange(n), len(rows) + np.arange(n))
        self._genes = Genes.join([self._asked, self._genes]).take(chosen)
        self._now = Judged.join([there, now]).take(chosen)
        return better


def _score(judged: Judged, weights: np.ndarray) -> np.ndarray:
    """What climbers lessen, (n,): the price of what limits are exceeded by, less what is covered."""
    return PRICE_OF_EXCESS * np.maximum(judged.excess, 0.0).sum(axis=1) - covered(judged.values, weights)


def _elastic(
    slope: np.ndarray, steep: np.ndarray, excess: np.ndarray, at: np.ndarray, radius: float
) -> Programme:
    """State one linear programme: least slope and priced excess within the trust region, moves (d,) and excesses.

    ``slope`` (d,) of what is lessened, ``steep`` (d, k) of the limits' scaled excess (k,), ``at`` (d,) in [0, 1].
    """
    usable = np.isfinite(steep).all(axis=0) & (np.abs(excess) < FARTHEST_EXCESS)
    # A limit that no move within the radius can reach says nothing.
    usable &= excess + radius * np.abs(np.where(np.isfinite(steep), steep, 0.0)).sum(axis=0) > 0.0
    if not np.isfinite(slope).all():  # then nothing is known of where to go
        slope, usable = np.zeros_like(slope), np.zeros_like(usable)
    limits = int(usable.sum())
    return Programme(
        np.concatenate([slope, np.full(limits, PRICE_OF_EXCESS)]),
        np.hstack([steep[:, usable].T, -np.eye(limits)]),
        -excess[usable],
        np.concatenate([np.maximum(-radius, -at), np.zeros(limits)]),
        np.concatenate([np.minimum(radius, 1.0 - at), np.full(limits, np.inf)]),
    )


def think(climbers: Sequence[Climbers]) -> None:
    """Let all who are about to try find their moves, in one call of the solver."""
    stated = [one.programmes() for one in climbers]
    found = iter(solved([programme for own in stated for programme in own]))
    for one, own in zip(climbers, stated, strict=True):
        if own:
            one.go([next(found) for _ in own])
