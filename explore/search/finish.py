"""What comes after the legs: the front improved locally, then the recommended designs until nothing betters them."""

from __future__ import annotations

from collections.abc import Set
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from explore.config.schema import Case, Objective
from explore.design.space import INPUTS, Space
from explore.judgement.front import feasible_front, normalise, recommended
from explore.search.crew import Alone, Crew, all_done
from explore.search.descent import FINE
from explore.search.judge import Judged, judge
from explore.search.population import Genes
from explore.search.ranking import spread
from explore.search.refine import AMPLE, BATCH, DESIGNS_A_TURN, SETTLING_TURNS, polish, settle

if TYPE_CHECKING:
    import pandas as pd

    from explore.search.hunt import Hunt

POLISH_SHARE = 0.25
"""Of the search's designs as many again at most go into polishing the front."""
POLISH_TURNS = 4
"""A short search has designs for one turn. In a long one each looks from coarse to fine at other designs of the front."""
FRONT_SETTLED = 0.002
"""A pass that gains less is the last one: what the next would gain is then mostly less than half a per cent."""
FRONT_TURNS = 12
"""Passes over the designs of the front that the last one still bettered: each leaves a third of them or fewer."""
LEAST_AGAIN = 8
"""A pass over fewer designs is not worth its calls of the model, which cost the same however few they are."""
PICKS_TURNS = 4
"""A recommended design that is bettered moves the compromise, whose place another may take; in three turns all settle."""
FINE_EVALUATIONS = sum(one.evaluations for one in FINE)
CHUNK = 2000
"""Designs of one task when the archive is evaluated again: large enough for speed, small enough to share out."""


class Finished(NamedTuple):
    """All designs with the bettered ones, their front, how many these are, what the picks' last steps gained.

    ``picks_gain`` is None where a design that was recommended last has not been polished itself.
    """

    judged: pd.DataFrame
    front: pd.DataFrame
    bettered: int
    picks_gain: float | None


def finished(judged: pd.DataFrame, hunt: Hunt, crew: Alone | Crew, case: Case) -> Finished:
    """Improve the front locally, then the recommended designs until no step betters them."""
    finishing = _Finishing(
        judged, hunt.space, crew, case.scenario.objectives, int(POLISH_SHARE * hunt.tally.evaluated_total)
    )
    finishing.better_front()
    return finishing.settle_picks(hunt.tally.evaluated_total)


class _Finishing:
    """The designs that a search found, and what polishing makes of them while it has ``room`` for evaluations."""

    def __init__(
        self,
        judged: pd.DataFrame,
        space: Space,
        crew: Alone | Crew,
        objectives: tuple[Objective, ...],
        room: int,
    ):
        self.space, self.crew, self.objectives, self.room = space, crew, objectives, room
        self.found = len(judged)
        self.done = Finished(judged, feasible_front(judged, objectives), 0, None)

    def better_front(self) -> None:
        """Improve the whole front in turns, and in each those designs again and again that the last pass still bettered."""
        gains = dict[str, float]()
        for turn in range(POLISH_TURNS):
            if turn and self.room < AMPLE * len(self.done.front):
                break
            self._add(polish(self.done.front, self.space, self._evaluate, self.objectives, self.room))
            for _ in range(FRONT_TURNS):
                rows = self._unsettled(gains, self.room // FINE_EVALUATIONS)
                if len(rows) < LEAST_AGAIN:
                    break
                self._settle(rows, gains, 1)

    def settle_picks(self, designs: int) -> Finished:
        """Improve the recommended designs; one that is bettered may leave its place to another, which is improved in turn.

        The more ``designs`` the search evaluated, the more steps they get.
        """
        gains, turns = dict[str, float](), min(SETTLING_TURNS, max(1, designs // DESIGNS_A_TURN))
        for turn in range(PICKS_TURNS + 1):
            rows = list(dict.fromkeys(recommended(self.done.front, self.objectives)))
            keys = _keys(self.done.front.iloc[rows])
            new = [row for row, key in zip(rows, keys, strict=True) if key not in gains]
            if not new:
                return self.done._replace(picks_gain=max(gains[key] for key in keys))
            if turn < PICKS_TURNS:
                self._settle(new, gains, turns)
        return self.done

    def _evaluate(self, genes: Genes) -> Judged:
        self.room -= len(genes)
        parts = [genes.take(slice(start, start + BATCH)) for start in range(0, len(genes), BATCH)]
        return Judged.join([judge(outcome, self.objectives) for outcome in all_done(self.crew, parts)])

    def _unsettled(self, gains: dict[str, float], most: int) -> list[int]:
        """Rows of the front within the reference that the last pass bettered, or that had none; ``most`` at most."""
        values = normalise(self.done.front, self.objectives)
        within = np.flatnonzero((values < 1.0).all(axis=1))
        last = np.array([gains.get(key, np.inf) for key in _keys(self.done.front.iloc[within])])
        moving, new = np.flatnonzero((last > FRONT_SETTLED) & (last < np.inf)), within[last == np.inf]
        moving = within[moving[np.argsort(-last[moving], kind="stable")]]
        new = new[spread(values[new], max(most - len(moving), 0))]
        return [int(row) for row in [*moving, *new][: max(most, 0)]]

    def _settle(self, rows: list[int], gains: dict[str, float], turns: int) -> None:
        """Improve some rows of the front; note in ``gains``, by what they were and became, what the last pass gained."""
        settled = settle(self.done.front, rows, self.space, self._evaluate, self.objectives, turns)
        moved = np.flatnonzero((settled.genes.unit != settled.before.unit).any(axis=1))
        before, after = _keys(self.done.front.iloc[rows]), self._keys_of(settled.genes)
        gains |= dict(zip([*before, *after], settled.gains.tolist() * 2, strict=True))
        self._add(settled.genes.take(moved), {before[row] for row in moved})

    def _add(self, better: Genes, before: Set[str] = frozenset()) -> None:
        """Put bettered designs beside the others; what polishing had made ``before`` makes way for what it makes now."""
        import pandas as pd

        judged = self.done.judged
        own = {key: place for place, key in enumerate(_keys(judged.iloc[self.found :]), self.found)}
        new = {key: row for row, key in enumerate(self._keys_of(better)) if key not in own}
        if not new:
            return
        left = [place for key, place in own.items() if key not in before]
        added = evaluated(better.take(np.array(list(new.values()))), self.space, self.crew)
        judged = pd.concat([judged.iloc[[*range(self.found), *left]], added], ignore_index=True)
        front = feasible_front(judged, self.objectives)
        self.done = Finished(judged, front, len(judged) - self.found, None)

    def _keys_of(self, genes: Genes) -> list[str]:
        import pandas as pd

        return _keys(pd.DataFrame(self.space.decode(genes.unit, genes.choices)))


def _keys(designs: pd.DataFrame) -> list[str]:
    """What tells each of some designs from all others."""
    return [repr(row) for row in designs[list(INPUTS)].astype(object).to_numpy().tolist()]


def evaluated(genes: Genes, space: Space, crew: Alone | Crew) -> pd.DataFrame:
    """Evaluate designs again for all their columns: cheaper than keeping 100 columns of every design."""
    import pandas as pd

    chunks = [genes.take(slice(start, start + CHUNK)) for start in range(0, len(genes), CHUNK)]
    return pd.concat([pd.DataFrame(part) for part in all_done(crew, chunks)], ignore_index=True)
