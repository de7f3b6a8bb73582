"""The front of a run with the coefficients that a bench has told: what is best then, and what it gives."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from explore.design.variables import INPUTS
from explore.errors import InputError

if TYPE_CHECKING:
    import pandas as pd

    from explore.config.schema import Case, Objective


@dataclass(frozen=True)
class Best:
    """The best design of a front by one objective: its line of front.csv, its fluid, the figure before and after."""

    line: int
    fluid: str
    before: float
    after: float


@dataclass(frozen=True)
class Verdict:
    """A front judged again by the run's first objective.

    ``was`` is the design that was best; ``now`` the one that is, None where no design keeps its limits any more.
    ``feasible`` of ``designs`` still keep every limit; ``was_keeps`` says whether the one that was best does.
    """

    figure: str
    designs: int
    feasible: int
    was: Best
    was_keeps: bool
    now: Best | None


def rejudge(front: pd.DataFrame, case: Case, fitted: Case) -> Verdict:
    """Evaluate the designs of a front (a run's front.csv) under the case it was found in and under the fitted one.

    Raises :class:`InputError` for a front without designs, or one that cannot be evaluated in this case.
    """
    from explore.model.frames import evaluate

    if front.empty:
        raise InputError("the run has an empty front; there is nothing to judge again")
    objective: Objective = case.scenario.objectives[0]
    inputs = front[[name for name in INPUTS if name in front.columns]].reset_index(drop=True)
    before, after = evaluate(inputs, case), evaluate(inputs, fitted)
    sign = 1.0 if objective.direction == "maximise" else -1.0
    old, new = (sign * frame[objective.figure].astype(float) for frame in (before, after))
    if not np.isfinite(old).any():
        raise InputError(
            "none of the designs of the run's front can be under its own case; there is nothing to judge again"
        )
    good = after["feasible"].to_numpy(bool)
    first = int(np.nanargmax(old.to_numpy()))

    def best(place: int) -> Best:
        return Best(
            place + 1, str(inputs["fluid"][place]), sign * float(old[place]), sign * float(new[place])
        )

    kept = new.where(good)
    return Verdict(
        objective.figure,
        len(inputs),
        int(good.sum()),
        best(first),
        bool(good[first]),
        best(int(np.nanargmax(kept.to_numpy()))) if good.any() else None,
    )
