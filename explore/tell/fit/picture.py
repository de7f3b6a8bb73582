"""Measured against modelled, drawn: one square a channel, the diagonal where both agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from explore.bench.fit import Reading

SIDE = 240
"""Width and height of the field [px]: four in a row on a wide page, one on a telephone."""
MARGIN = 0.08
"""Share of the range left free at either end, so that marks do not lie on the frame."""
BAR = 2.0
"""Standard deviations of an error bar on either side: about 95 %, as accuracies are stated."""


@dataclass(frozen=True)
class Mark:
    """One reading in the field [px]: x measured with its bar, y modelled before and after."""

    x: float
    left: float
    right: float
    before: float
    after: float
    words: str


@dataclass(frozen=True)
class Field:
    """A channel: its marks and what stands at the ends of both axes."""

    marks: tuple[Mark, ...]
    low: str
    high: str


def field(readings: Sequence[Reading]) -> Field:
    """Lay out the readings of one channel."""
    ends = [
        x
        for one in readings
        for x in (
            one.measured - BAR * one.deviation,
            one.measured + BAR * one.deviation,
            one.before,
            one.after,
        )
    ]
    low, high = min(ends), max(ends)
    room = MARGIN * ((high - low) or abs(high) or 1.0)
    low, high = low - room, high + room

    def across(value: float) -> float:
        return round(SIDE * (value - low) / (high - low), 1)

    marks = tuple(
        Mark(
            across(one.measured),
            across(one.measured - BAR * one.deviation),
            across(one.measured + BAR * one.deviation),
            SIDE - across(one.before),
            SIDE - across(one.after),
            f"line {one.line}: measured {one.measured:.4g}, assumed {one.before:.4g}, fitted {one.after:.4g}",
        )
        for one in readings
    )
    return Field(marks, f"{low:.3g}", f"{high:.3g}")
