"""What comes after the legs: the front improved locally, then the recommended designs until nothing betters them."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from explore.config.schema import Case, Objective
from explore.design.space import INPUTS, Space
from explore.judgement.front import feasible_front, recommended
from explore.search.crew import Alone, Crew, all_done
from explore.search.descent import Evaluate
from explore.search.judge import Judged, judge
from explore.search.population import Genes
from explore.search.refine import BATCH, least_evaluations, polish, settle

if TYPE_CHECKING:
    import pandas as pd

    from explore.search.hunt import Hunt

POLISH_SHARE = 0.25
"""Of the search's designs as many again at most go into polishing the front."""
POLISH_TURNS = 4
"""A short search has designs for one turn. In a long one each improves the whole front: of an orchard's
a second turn still betters a fifth by more than half a per cent, a third one in sixteen."""
PICKS_TURNS = 4
"""A recommended design that is bettered moves the compromise, whose place another may take; in three turns all settle."""
CHUNK = 2000
"""Designs of one task when the archive is evaluated again: large enough for speed, small enough to share out."""


class Finished(NamedTuple):
    """All designs with the bettered ones, their front, how many were bettered, what the picks' last steps gained.

    ``picks_gain`` is None where a design that was recommended last has not been polished itself.
    """

    judged: pd.DataFrame
    front: pd.DataFrame
    bettered: int
    picks_gain: float | None


def finished(judged: pd.DataFrame, hunt: Hunt, crew: Alone | Crew, case: Case) -> Finished:
    """Improve the front locally, then the recommended designs until no step betters them."""
    space, objectives = hunt.space, case.scenario.objectives
    room = int(POLISH_SHARE * hunt.tally.evaluated_total)

    def evaluate(genes: Genes) -> Judged:
        nonlocal room
        room -= len(genes)
        parts = [genes.take(slice(start, start + BATCH)) for start in range(0, len(genes), BATCH)]
        return Judged.join([judge(outcome, objectives) for outcome in all_done(crew, parts)])

    def joined(done: Finished, better: Genes) -> Finished:
        import pandas as pd

        everything = pd.concat([done.judged, evaluated(better, space, crew)], ignore_index=True)
        front = feasible_front(everything, objectives)
        return Finished(everything, front, done.bettered + len(better), None)

    done = Finished(judged, feasible_front(judged, objectives), 0, None)
    for turn in range(POLISH_TURNS):
        if turn and room < least_evaluations(done.front):
            break
        better = polish(done.front, space, evaluate, objectives, room)
        if not len(better):
            break
        done = joined(done, better)
    return _picks_settled(done, space, evaluate, joined, objectives, hunt.tally.evaluated_total)


def _picks_settled(
    done: Finished,
    space: Space,
    evaluate: Evaluate,
    joined: Callable[[Finished, Genes], Finished],
    objectives: tuple[Objective, ...],
    designs: int,
) -> Finished:
    """Improve the recommended designs; one that is bettered may leave its place to another, which is improved in turn."""
    import pandas as pd

    gains = dict[str, float]()
    for turn in range(PICKS_TURNS + 1):
        rows = list(dict.fromkeys(recommended(done.front, objectives)))
        keys = dict(zip(rows, _keys(done.front.iloc[rows]), strict=True))
        new = [row for row in rows if keys[row] not in gains]
        if not new:
            return done._replace(picks_gain=float(max(gains[key] for key in keys.values())))
        if turn == PICKS_TURNS:
            break
        settled = settle(done.front, new, space, evaluate, objectives, designs)
        moved = np.flatnonzero((settled.genes.unit != settled.before.unit).any(axis=1))
        better = settled.genes.take(moved)
        after = pd.DataFrame(space.decode(better.unit, better.choices))
        before = [keys[row] for row in new]
        gains |= dict(zip([*before, *_keys(after)], [*settled.gains, *settled.gains[moved]], strict=True))
        if len(better):
            done = joined(done, better)
    return done


def _keys(designs: pd.DataFrame) -> list[str]:
    """What tells each of some designs from all others."""
    return [repr(row) for row in designs[list(INPUTS)].astype(object).to_numpy().tolist()]


def evaluated(genes: Genes, space: Space, crew: Alone | Crew) -> pd.DataFrame:
    """Evaluate designs again for all their columns: cheaper than keeping 100 columns of every design."""
    import pandas as pd

    chunks = [genes.take(slice(start, start + CHUNK)) for start in range(0, len(genes), CHUNK)]
    return pd.concat([pd.DataFrame(part) for part in all_done(crew, chunks)], ignore_index=True)
