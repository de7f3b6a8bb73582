"""What a search that still goes on has to show: when it is worth a look, and what it then hands over."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from explore.design.space import INPUTS
from explore.judgement.front import feasible_front
from explore.search.outcome import UNDER_WAY, Progress, SearchOutcome, last_tenth_gain
from explore.search.population import Known, best
from explore.search.refine import Refinement

if TYPE_CHECKING:
    import pandas as pd

    from explore.search.hunt import Hunt
    from explore.search.leg import Evaluator

LEAST_LEFT_S = 15.0
"""Some five seconds write a page, which wants to be read for ten: what ends sooner shows its own."""
AGAIN_S = 30.0
"""A reader who has read the first page finds another; sooner it would be gone before it was understood."""
SHARE = 0.03
"""Of a long search's time at most a thirtieth goes into pages on the way."""
OF_EACH_KIND = 3
"""Designs of each fluid and layout besides the front: the tables name the best of each."""

Look = Callable[[SearchOutcome], None]
"""Takes what is known so far."""


class Looks:
    """Hands over what is known after the first round, and then ever more seldom."""

    def __init__(self, hunt: Hunt, evaluator: Evaluator, look: Look) -> None:
        self._hunt, self._evaluator, self._look = hunt, evaluator, look
        self._due = 0.0

    def after_leg(self, state: Progress) -> None:
        """Hand over what is known, if it is time and something feasible is."""
        left, hunt = state.seconds_left, self._hunt
        begun = state.legs >= hunt.search.legs_per_round and state.front_designs > 0
        ends = hunt.stop_reason or left is None or left < LEAST_LEFT_S
        if not begun or ends or state.seconds < self._due:
            return
        started = time.perf_counter()
        self._look(so_far(hunt, self._evaluator))
        cost = time.perf_counter() - started
        self._due = hunt.seconds + max(AGAIN_S, cost / SHARE)


def so_far(hunt: Hunt, evaluator: Evaluator) -> SearchOutcome:
    """What a search knows at this moment: its front, not yet polished or checked, and the best of each fluid and layout."""
    import pandas as pd

    archive, space = hunt.archive, hunt.space
    kinds = [archive.of_fluid(i) for i in range(len(space.fluids))]
    kinds += [archive.of_layout(i) for i in range(len(space.layouts))]
    genes = Known.join([archive.front, *(best(kind, OF_EACH_KIND) for kind in kinds)]).genes
    columns = space.decode(genes.unit, genes.choices)
    judged = pd.DataFrame(columns | evaluator.evaluate(columns))
    designs = shown(judged[~judged.duplicated(list(INPUTS))].reset_index(drop=True))
    return gathered(hunt, designs, feasible_front(designs, hunt.case.scenario.objectives))


def shown(judged: pd.DataFrame) -> pd.DataFrame:
    """Return the designs as they are told of: without the figures of those that cannot be."""
    import pandas as pd

    from explore.model.frames import emptied

    if "possible" not in judged:
        return judged
    return pd.DataFrame(emptied({str(name): judged[name].to_numpy() for name in judged}), index=judged.index)


def gathered(hunt: Hunt, designs: pd.DataFrame, front: pd.DataFrame) -> SearchOutcome:
    """Put together what a search under way has counted with the designs that it shows."""
    tally = hunt.tally
    count = max(1, tally.evaluated_total)
    return SearchOutcome(
        front=front,
        designs=designs,
        all_kept=False,
        hypervolume=hunt.archive.hypervolume,
        history=hunt.history,
        random_history=[],
        last_tenth_gain=last_tenth_gain(hunt.history),
        refinement=Refinement((), ()),
        evaluated=tally.evaluated,
        feasible=tally.feasible,
        lost_to=tally.lost,
        lost_alone=tally.alone,
        left_out=dict(hunt.space.left_out),
        resolution=hunt.archive.resolution,
        stop_reason=UNDER_WAY,
        trouble=hunt.ledger.trouble,
        legs=hunt.legs,
        legs_here=hunt.legs_here,
        workers=1,
        seed=hunt.search.seed,
        seconds=hunt.seconds_used,
        designs_per_second=count / hunt.seconds_used,
        bookkeeping_us_per_design=1e6 * (hunt.leg_seconds - hunt.model_seconds) / count,
        model_us_per_design=1e6 * hunt.model_seconds / count,
        layouts={
            words: (number, tally.feasible_layouts[words])
            for words, number in tally.evaluated_layouts.items()
        },
    )
