"""One outside check: a published number, where it stands, and the function that gives our own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from explore.verify.bench import Bench

Kind = Literal[
    "published",
    "recomputed",
    "common practice, no source",
    "from memory",
    "measured",
    "measured, from memory",
    "measured, conditions assumed",
]
Way = Literal["property", "component", "system"]


@dataclass(frozen=True)
class Check:
    """A number from outside held against the model.

    ``published`` and ``tolerance`` are in ``unit``, the tolerance a share of ``published`` where ``relative``.
    ``source``: author, title, year, table or clause. ``kind``: 'published' (seen in print or in a data file that
    quotes it), 'recomputed' (worked out from a published formula), 'common practice, no source', 'from memory'
    (the print was not at hand: never the only support of a topic). The 'measured' kinds are what machines and parts
    did, with ``tolerance`` the accuracy of the measurement: they are shown and bind nothing. ``ours`` gives the
    model's value by the functions the model itself uses; ``way`` says through what: a bare property, one component
    of the plant, or the cycle, the year or the whole evaluation.
    """

    id: str
    topic: str
    quantity: str
    unit: str
    published: float
    tolerance: float
    relative: bool
    source: str
    kind: Kind
    way: Way
    ours: Callable[[Bench], float]

    @property
    def binding(self) -> bool:
        """Whether the model must lie within the tolerance; a measured row is shown as it falls."""
        return not self.kind.startswith("measured")

    def deviation(self, ours: float) -> float:
        """Return ours / published - 1 where the tolerance is relative, else ours - published [unit]."""
        return ours / self.published - 1.0 if self.relative else ours - self.published

    def within(self, ours: float) -> bool:
        """Say whether a value lies within the tolerance; NaN does not."""
        return abs(self.deviation(ours)) <= self.tolerance


def given(function: Callable[..., float], *arguments: Any) -> Callable[[Bench], float]:
    """Return a check's ``ours`` that calls ``function`` with ``arguments`` and needs no bench."""
    return lambda bench: function(*arguments)


def on_bench(function: Callable[..., float], *arguments: Any) -> Callable[[Bench], float]:
    """Return a check's ``ours`` that calls ``function`` with the bench and ``arguments``."""
    return lambda bench: function(bench, *arguments)
