"""The short study at the end of a search: the recommended designs and some of each fluid, in enough worlds to doubt."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from explore.doubt.choose import chosen
from explore.doubt.study import bench, report, study

if TYPE_CHECKING:
    import pandas as pd

    from explore.model import Evaluator

WORLDS = 200
"""A probability is then known within 3.5 %, in a tenth of a second of one core each."""
LEAST_DESIGNS = 12_500
"""Designs of a search from which on it is worth doubting: fewer are a trial, whose front has not settled by far."""


def brief(
    evaluator: Evaluator,
    front: pd.DataFrame,
    archive: pd.DataFrame,
    picks: Sequence[Mapping[str, Any]],
    workers: int,
) -> dict[str, Any]:
    """Return the answers of a short study, as doubt.json has them; of the run's own pressure ceiling only.

    What to measure first, and other ceilings, are left to a whole study. Raises what the model raises.
    """
    few = chosen(evaluator.case, front, archive, picks, None)
    with bench(evaluator, workers) as alone:
        found = report(study(alone, few, WORLDS))
    return found | {"ceilings": found["ceilings"][-1:], "steady": [], "brief": True}
