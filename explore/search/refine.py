"""Local improvement of a front: first to better it, then to check what it still gives way to.

:func:`polish` improves some designs by descent (:mod:`explore.search.descent`), reads from them what their neighbours would
look like (:mod:`explore.search.between`), leads these on by the slopes of the nearest, and keeps what it gains;
:func:`settle` improves designs until nothing betters them; :func:`refine` tries some of the front and only reports.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from explore.config.schema import Objective
from explore.design.space import INPUTS, Space
from explore.judgement.front import recommended
from explore.search.between import between
from explore.search.descent import COARSE_TO_FINE, FINE, LED, SLACK, Evaluate, Improved, improved
from explore.search.judge import Judged, judge
from explore.search.leg import Evaluator
from explore.search.population import Genes, Known
from explore.search.ranking import spread

if TYPE_CHECKING:
    import pandas as pd

POLISH_LEAST = 8
"""The recommended designs and a few beside them, however small the search."""
DESCENT = sum(one.evaluations for one in COARSE_TO_FINE)
"""Designs evaluated to improve one by descent, at most."""
BEYOND = (0.0, 0.005, 0.01, 0.02)
"""How much better than the design it stands for, in each objective as a share of the front's range, one that is read off
is to be: of an orchard's front two thirds of those that ask for half a per cent keep every limit, half of those for one."""
SHEET_SHARE, AMPLE = 0.25, 40
"""Of the evaluations that polishing may use, for designs improved by descent from coarse to fine, where there are as many
as this for each design of the front: the others then suffice to lead and settle the rest. Where there are fewer, those
improved by descent gain most and get all."""
SETTLED = 0.005
"""A design has settled when one more pass betters it by less, of the front's range in an objective."""
SETTLING_TURNS = 8
"""Thirty-two steps in all: most designs need eight to sixteen; one that creeps along a bend is told as unsettled."""
CHECKED_PASSES = 2
"""The second begins from slopes of its own: a step that was hemmed in narrows the radius, and would keep it narrow."""
DESIGNS_A_TURN = 1000
"""Two thousand designs earn the picks two turns, eight thousand all eight: a small search, which has not settled and says
so, is not made to wait for its end longer than it searched."""
BATCH = 512
"""Probes of one task: fixed, so that the figures do not depend on the number of workers."""


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
) -> Refinement:
    """Try to improve ``count`` designs spread over the front within the reference, each by two passes."""
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
    done = improved(genes_of(front, space, rows), space, evaluate, span, FINE * CHECKED_PASSES)
    return Refinement(tuple(int(row) + 1 for row in rows), tuple(np.maximum(done.gains(span), 0.0).tolist()))


def polish(
    front: pd.DataFrame,
    space: Space,
    evaluate: Evaluate,
    objectives: tuple[Objective, ...],
    room: int,
) -> Genes:
    """Improve designs of a front and return those that were bettered, no objective of theirs worse than before.

    By descent: the recommended ones, the best in each objective, and others spread over the front within the reference,
    as many as a share of ``room`` evaluations allows. Then all others of the same choices: first what these have become is
    read off, then steps are taken by the slopes of the nearest of them. ``evaluate`` judges a batch of any size.
    """
    values = judge({str(name): front[name].to_numpy() for name in front}, objectives).values
    within = np.flatnonzero((values < 1.0).all(axis=1))
    if len(within) == 0:
        return genes_of(front, space, within)
    span = _span(values[within])
    share = SHEET_SHARE if room > AMPLE * len(within) else 1.0
    count = max(POLISH_LEAST, int(share * room) // DESCENT)
    first = dict.fromkeys([*recommended(front, objectives), *within[values[within].argmin(axis=0)]])
    others = within[spread(values[within], min(count, len(within)))]
    rows = np.sort(np.array(list(dict.fromkeys([*first, *others]))[:count], int))
    sheet = improved(genes_of(front, space, rows), space, evaluate, span, COARSE_TO_FINE)
    better = sheet.genes.take(np.flatnonzero(_lower(sheet.after.values, sheet.before.values)))
    rest = np.setdiff1d(within, rows)
    beaten = np.array([(sheet.after.values <= values[row] + SLACK).all(axis=1).any() for row in rest], bool)
    rest = rest[~beaten]
    if len(rest) == 0:
        return better
    kin = Known(genes_of(front, space, rest), values[rest], np.zeros(len(rest)))
    read = _read(sheet, kin, span, evaluate)
    used = len(rows) * DESCENT + len(BEYOND) * len(rest)
    led = _led(sheet, read, span, space, evaluate, (room - used) // LED.evaluations)
    return Genes.join([better, led.genes.take(np.flatnonzero(_lower(led.values, kin.values)))])


def _lower(values: np.ndarray, than: np.ndarray) -> np.ndarray:
    """Where an objective is lower by more than rounding, bool (n,)."""
    return np.asarray((values < than - SLACK).any(axis=1))


def _read(sheet: Improved, kin: Known, span: np.ndarray, evaluate: Evaluate) -> Known:
    """Designs ``kin``, bettered by what lies between those of the ``sheet`` where that is possible."""
    even, known = np.ones_like(kin.values), Known(sheet.genes, sheet.after.values, sheet.after.breach)
    reads = [between(known, kin, beyond * even, span) for beyond in BEYOND]
    found = np.flatnonzero(reads[0].found)
    if len(found) == 0:
        return kin
    tried = Genes.join([Genes(one.unit[found], kin.genes.choices[found]) for one in reads])
    there, n = evaluate(tried), len(found)
    ceiling = np.tile(kin.values[found], (len(BEYOND), 1))
    allowed = there.feasible & (there.values <= ceiling + SLACK).all(axis=1)
    gain = np.where(allowed, ((ceiling - there.values) / span).sum(axis=1), 0.0).reshape(-1, n)
    most, better = gain.argmax(axis=0) * n + np.arange(n), gain.max(axis=0) > SLACK
    unit, values = kin.genes.unit.copy(), kin.values.copy()
    unit[found[better]], values[found[better]] = tried.unit[most[better]], there.values[most[better]]
    return Known(Genes(unit, kin.genes.choices), values, kin.breach)


def _led(
    sheet: Improved, kin: Known, span: np.ndarray, space: Space, evaluate: Evaluate, count: int
) -> Known:
    """Designs ``kin``, at most ``count`` of them led on by slopes of the nearest of the ``sheet`` with their choices."""
    near = _nearest(sheet.genes, kin.genes)
    some = np.flatnonzero(near >= 0)
    some = some[spread(kin.values[some], max(count, 0))]
    if len(some) == 0:
        return kin
    done = improved(kin.genes.take(some), space, evaluate, span, (LED,), sheet.slope.take(near[some]))
    unit, values = kin.genes.unit.copy(), kin.values.copy()
    unit[some], values[some] = done.genes.unit, done.after.values
    return Known(Genes(unit, kin.genes.choices), values, kin.breach)


def _nearest(sheet: Genes, at: Genes) -> np.ndarray:
    """Of each design the nearest of the ``sheet`` with the same choices, (n,); -1 where it has none."""
    kind = np.unique(np.concatenate([sheet.choices, at.choices]), axis=0, return_inverse=True)[1].reshape(-1)
    of_sheet, of_at = kind[: len(sheet)], kind[len(sheet) :]
    near = np.full(len(at), -1)
    for one in np.unique(of_at):
        own, rows = np.flatnonzero(of_sheet == one), np.flatnonzero(of_at == one)
        if len(own):
            apart = ((at.unit[rows][:, None] - sheet.unit[own][None]) ** 2).sum(axis=2)
            near[rows] = own[apart.argmin(axis=1)]
    return near


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
    turns: int,
) -> Settled:
    """Improve the designs ``rows`` of a front until a pass gains less than :data:`SETTLED`, or the ``turns`` are over."""
    values = judge({str(name): front[name].to_numpy() for name in front}, objectives).values
    span = range_of(values)
    before = genes_of(front, space, np.asarray(rows, int))
    unit, gains, left = before.unit.copy(), np.zeros(len(rows)), np.arange(len(rows))
    for _ in range(turns):
        start = Genes(unit[left], before.choices[left])
        done = improved(start, space, evaluate, span, FINE)
        unit[left] = done.genes.unit
        gains[left] = done.gains(span)
        left = left[gains[left] > SETTLED]
        if len(left) == 0:
            break
    return Settled(Genes(unit, before.choices), before, gains)


def genes_of(front: pd.DataFrame, space: Space, rows: np.ndarray) -> Genes:
    """Genes of the designs in some ``rows`` of a front."""
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
