"""What to say when nothing meets a scenario: which constraints stand in the way."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from explore.figures.format import label, lower, shown
from explore.search.judge import judge, scale

if TYPE_CHECKING:
    import pandas as pd

    from explore.search.hunt import Hunt

NAMED_CONSTRAINTS = 3
"""One sentence carries three; the fourth seldom binds."""


def nothing_feasible(hunt: Hunt, designs: pd.DataFrame) -> str:
    """Say which constraints bind: how many designs each one cost, and what the closest design breaks."""
    lost = sorted(hunt.tally.lost.items(), key=lambda item: -item[1])[:NAMED_CONSTRAINTS]
    columns = {str(name): designs[name].to_numpy() for name in designs}
    judged = judge(columns, hunt.case.scenario.objectives)
    closest = int(np.argmin(judged.breach))
    broken = dict(zip(judged.names, judged.violations[closest].tolist(), strict=True))
    worst = sorted(
        (name for name, value in broken.items() if value > 0.0),
        key=lambda name: -broken[name] / scale(name),
    )[:NAMED_CONSTRAINTS]
    losses = ", ".join(f"{lower(label(name))} ({count:,})" for name, count in lost if count)
    breaks = ", ".join(f"{lower(label(name))} by {_amount(name, broken[name])}" for name in worst)
    fluid = designs["fluid"].iloc[closest]
    return (
        f"none of {hunt.tally.evaluated_total:,} designs met scenario {hunt.case.scenario.name}; "
        f"most were lost to {losses}; the closest, with {fluid}, "
        f"still breaks {breaks or 'an objective that has no value'}"
    )


def _amount(violation: str, value: float) -> str:
    """Write a margin with its unit, as the sheet does."""
    return shown(repr(value), violation)
