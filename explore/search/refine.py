"""Local improvement of a front: first to better it, then to check what it still gives way to.

Designs are improved by sequential linear programming (scipy's HiGHS), a method that shares nothing with the
populations but the model: at each step the objectives and constraints are linearised by finite differences, the
best move within a trust region is found that makes no objective worse than the design had it, and kept if the
model agrees. Choices (fluid, layout, collector) stay. :func:`polish` keeps what it gains; :func:`refine` tries other
designs of the polished front and only reports.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from explore.config.schema import Objective
from explore.design.space import INPUTS, Space
from explore.judgement.front import recommended
from explore.search.judge import Judged, judge
from explore.search.leg import Evaluator
from explore.search.linear import Programme, solved
from explore.search.population import Genes
from explore.search.ranking import spread

if TYPE_CHECKING:
    import pandas as pd

DIFFERENCE = 2e-3
"""Well above the rounding of the model, well below the radius a step may have."""
FIRST_RADIUS = 0.05
"""A twentieth of a range: small enough for straight lines to hold, large enough to show in six steps."""
SHRINK, GROW = 0.3, 1.5
"""Six steps then may go half a range, or narrow down to a thirty-thousandth of it."""
STEP_SHARES = (1.0, 0.5, 0.2)
"""One batch tries the whole move and two shorter ones, for where the model bends within the radius."""
SLACK = 1e-9
"""A violation reached by rounding alone is not one."""
POLISH_STEPS = 8
"""The check takes six: a design that it would better by little has been bettered before."""
POLISH_SHARE = 0.2
"""Of the search's designs as many again at most go into polishing."""
POLISH_LEAST = 8
"""The recommended designs and a few beside them, however small the search."""
SETTLED = 0.005
"""A recommended design has settled when four more steps better it by less, of the front's range in an objective."""
SETTLING_STEPS = 4
"""From a fresh radius: a step that was hemmed in narrows it, and would keep it narrow."""
SETTLING_TURNS = 8
"""Thirty-two steps in all: most designs need eight to sixteen; one that creeps along a bend is told as unsettled."""
DESIGNS_A_TURN = 1000
"""Two thousand designs earn two turns, eight thousand all eight: a small search, which has not settled and says so, is
not made to wait for its end longer than it searched."""
EVALUATIONS_A_STEP = 21
"""Eighteen genes at most are probed, and three lengths of a move tried."""
BATCH = 512
"""Probes of one task: fixed, so that the figures do not depend on the number of workers."""

Evaluate = Callable[[Genes], Judged]


@dataclass(frozen=True)
class Refinement:
    """Result of the check: for each design tried (its line of the front from 1), how much it gained.

    A gain is the greatest improvement in any one objective, none of the others worse, as a share of the
    front's range in that objective.
    """

    lines: tuple[int, ...]
    gains: tuple[float, ...]

    @property
    def greatest(self) -> float:
        """The greatest gain; 0 if nothing was tried."""
        return max(self.gains, default=0.0)


def refine(
    front: pd.DataFrame,
    space: Space,
    evaluator: Evaluator,
    objectives: tuple[Objective, ...],
    *,
    count: int = 10,
    steps: int = 6,
) -> Refinement:
    """Try to improve ``count`` designs spread over the front within the reference by ``steps`` steps each."""
    values = judge({str(name): front[name].to_numpy() for name in front}, objectives).values
    within = np.flatnonzero((values < 1.0).all(axis=1))
    rows = (
        np.unique(within[np.linspace(0, len(within) - 1, count).round().astype(int)])
        if len(within)
        else within
    )
    if len(rows) == 0:
        return Refinement((), ())

    def evaluate(genes: Genes) -> Judged:
        return judge(evaluator.evaluate(space.decode(genes.unit, genes.choices)), objectives)

    span = _span(values[within])
    _, first, best = _improved(_genes(front, space, rows), space, evaluate, span, steps)
    gains = ((first.values - best.values) / span).max(axis=1)
    return Refinement(tuple(int(row) + 1 for row in rows), tuple(np.maximum(gains, 0.0).tolist()))


def polish(
    front: pd.DataFrame,
    space: Space,
    evaluate: Evaluate,
    objectives: tuple[Objective, ...],
    designs: int,
    *,
    steps: int = POLISH_STEPS,
) -> Genes:
    """Improve designs of a front and return those that were bettered, no objective of theirs worse than before.

    The recommended ones, the best in each objective, and others spread over the front within the reference, as many as
    a fifth of the ``designs`` that the search evaluated allow. ``evaluate`` judges a batch of any size.
    """
    values = judge({str(name): front[name].to_numpy() for name in front}, objectives).values
    within = np.flatnonzero((values < 1.0).all(axis=1))
    if len(within) == 0:
        return _genes(front, space, within)
    room = max(POLISH_LEAST, int(POLISH_SHARE * designs / (EVALUATIONS_A_STEP * steps)))
    first = dict.fromkeys([*recommended(front, objectives), *within[values[within].argmin(axis=0)]])
    others = within[spread(values[within], min(room, len(within)))]
    rows = np.sort(np.array(list(dict.fromkeys([*first, *others]))[:room], int))
    genes = _genes(front, space, rows)
    unit, before, after = _improved(genes, space, evaluate, _span(values[within]), steps)
    better = np.flatnonzero((after.values < before.values - SLACK).any(axis=1))
    return Genes(unit, genes.choices).take(better)


class Settled(NamedTuple):
    """Designs improved until no step betters them: their genes, those of before, and what the last steps still gained.

    ``gains`` (n,) are shares of the front's range in an objective.
    """

    genes: Genes
    before: Genes
    gains: np.ndarray


def settle(
    front: pd.DataFrame,
    rows: Sequence[int],
    space: Space,
    evaluate: Evaluate,
    objectives: tuple[Objective, ...],
    designs: int,
) -> Settled:
    """Improve the designs ``rows`` of a front until four steps gain less than :data:`SETTLED`, or the turns are over.

    The more ``designs`` the search evaluated, the more turns it gets.
    """
    values = judge({str(name): front[name].to_numpy() for name in front}, objectives).values
    span = range_of(values)
    before = _genes(front, space, np.asarray(rows, int))
    unit, gains, left = before.unit.copy(), np.zeros(len(rows)), np.arange(len(rows))
    for _ in range(min(SETTLING_TURNS, max(1, designs // DESIGNS_A_TURN))):
        start = Genes(unit[left], before.choices[left])
        unit[left], first, best = _improved(start, space, evaluate, span, SETTLING_STEPS)
        gains[left] = ((first.values - best.values) / span).max(axis=1)
        left = left[gains[left] > SETTLED]
        if len(left) == 0:
            break
    return Settled(Genes(unit, before.choices), before, gains)


def _genes(front: pd.DataFrame, space: Space, rows: np.ndarray) -> Genes:
    chosen = front.iloc[rows]
    return Genes(*space.encode({name: chosen[name].to_numpy() for name in INPUTS}))


def range_of(values: np.ndarray) -> np.ndarray:
    """The range of a front in each objective, (m,), of what of it lies within the reference; normalised (n, m)."""
    within = (values < 1.0).all(axis=1)
    return _span(values[within if within.any() else slice(None)])


def _span(values: np.ndarray) -> np.ndarray:
    """The range of a front in each objective, 1 where it has none."""
    span = np.ptp(values, axis=0)
    return np.where(span > 0.0, span, 1.0)


def _improved(
    genes: Genes, space: Space, evaluate: Evaluate, span: np.ndarray, steps: int
) -> tuple[np.ndarray, Judged, Judged]:
    """Improve designs ``steps`` times: their genes in the end, and how they were judged before and after."""
    task = _Task(space, evaluate, genes.choices)
    unit = genes.unit
    first = best = task.judged(unit, np.arange(len(unit)))
    radius = np.full(len(unit), FIRST_RADIUS)
    for _ in range(steps):
        moves = _moves(task, unit, best, first.values, span, radius)
        unit, best, moved = _accept(task, unit, best, first.values, span, moves)
        radius = np.where(moved, radius * GROW, radius * SHRINK)
    return unit, first, best


@dataclass(frozen=True)
class _Task:
    """The designs' fixed choices, and how to judge other genes with them."""

    space: Space
    evaluate: Evaluate
    choices: np.ndarray

    def judged(self, unit: np.ndarray, rows: np.ndarray) -> Judged:
        """Judge genes ``unit`` (n, d), each with the choices of design ``rows`` (n,)."""
        return self.evaluate(Genes(unit, self.choices[rows]))

    def movable(self) -> np.ndarray:
        """Genes that matter and are not pinned, bool (n, d)."""
        return self.space.applies(self.choices) & self.space.free


def _moves(
    task: _Task, unit: np.ndarray, now: Judged, ceiling: np.ndarray, span: np.ndarray, radius: np.ndarray
) -> np.ndarray:
    """Best linearised move of each design, (n, d)."""
    rows, genes = np.nonzero(task.movable())
    probes = unit[rows].copy()
    step = np.where(probes[np.arange(len(rows)), genes] + DIFFERENCE > 1.0, -DIFFERENCE, DIFFERENCE)
    probes[np.arange(len(rows)), genes] += step
    there = task.judged(probes, rows)
    moves, programmes, movable = np.zeros_like(unit), [], []
    for design in range(len(unit)):
        own = rows == design
        slope = (there.values[own] - now.values[design]) / step[own, None]
        steep = (there.violations[own] - now.violations[design]) / step[own, None]
        room = ceiling[design] - now.values[design]
        at = unit[design, genes[own]]
        movable.append(genes[own])
        programmes.append(
            _programme(slope / span, room / span, steep, -now.violations[design], at, radius[design])
        )
    for design, (own_genes, move) in enumerate(zip(movable, solved(programmes), strict=True)):
        moves[design, own_genes] = move
    return moves


def _programme(
    slope: np.ndarray, room: np.ndarray, steep: np.ndarray, margin: np.ndarray, at: np.ndarray, radius: float
) -> Programme:
    """State one linear programme: the least sum of objectives within the trust region and all limits."""
    usable = np.isfinite(steep).all(axis=0) & np.isfinite(margin)
    return Programme(
        slope.sum(axis=1),
        np.concatenate([slope.T, steep.T[usable]]),
        np.concatenate([np.maximum(room, 0.0), np.maximum(margin[usable], 0.0)]),
        np.maximum(-radius, -at),
        np.minimum(radius, 1.0 - at),
    )


def _accept(
    task: _Task, unit: np.ndarray, now: Judged, ceiling: np.ndarray, span: np.ndarray, moves: np.ndarray
) -> tuple[np.ndarray, Judged, np.ndarray]:
    """Try shares of each move; keep the best that is feasible, better in sum, and worse in no objective."""
    n, tries = len(unit), len(STEP_SHARES)
    rows = np.tile(np.arange(n), tries)
    tried = np.clip(np.concatenate([unit + share * moves for share in STEP_SHARES]), 0.0, 1.0)
    there = task.judged(tried, rows)
    allowed = there.feasible & (there.values <= ceiling[rows] + SLACK).all(axis=1)
    score = np.where(allowed, (there.values / span).sum(axis=1), np.inf).reshape(tries, n)
    share = score.argmin(axis=0)
    moved = score.min(axis=0) < (now.values / span).sum(axis=1) - SLACK
    take = share * n + np.arange(n)
    values = np.where(moved[:, None], there.values[take], now.values)
    violations = np.where(moved[:, None], there.violations[take], now.violations)
    breach = np.where(moved, there.breach[take], now.breach)
    return np.where(moved[:, None], tried[take], unit), Judged(values, breach, violations, now.names), moved
