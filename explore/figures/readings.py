"""How a search may read an objective: by the run's own values, or over many plausible worlds; and what it then writes.

A figure over worlds stands in a column of its own, its name and label beginning or ending with the reading, so that none
is taken for the figure by the run's own values beside it.
"""

from __future__ import annotations

from dataclasses import replace

from explore.figures.limits import PREFIX, Limit
from explore.figures.record import MARGINS, OTHER, Record

NOMINAL, LIKELY, CAUTIOUS = "nominal", "likely", "cautious"
SHARES = {LIKELY: 0.5, CAUTIOUS: 0.8}
"""Share of the worlds in which an objective is as good as told or better, and every limit kept: the median, and four of
five, between which a builder's caution lies as a rule; judgement."""
KEPT = Record(
    "worlds_kept_share",
    "%",
    "Worlds in which it keeps every limit",
    OTHER,
    "share",
    better="more",
    places=("card", "terminal", "table"),
)
LIMIT = Limit(
    f"{PREFIX}in_worlds_fraction", "", "Breaks a limit in too many plausible worlds", MARGINS, wish=True
)
"""The margin is that of the limit nearest to being broken, in scales of it, in the world that is one too many."""
RECORDS = (KEPT, LIMIT)


def column(reading: str, figure: str) -> str:
    """Name the column of a figure as read over worlds."""
    return f"{reading}_{figure}"


def plain(name: str) -> str:
    """Return the figure behind a column over worlds; of any other column its own name."""
    reading, _, figure = name.partition("_")
    return figure if reading in SHARES else name


def reading(name: str) -> str:
    """Return how a column over worlds reads its figure, 'cautious'; nothing of any other column."""
    return name.partition("_")[0] if plain(name) != name else ""


def over_worlds(name: str) -> bool:
    """Tell whether a column says something over worlds."""
    return plain(name) != name or name in {one.name for one in RECORDS}


def derived(figure: Record, name: str) -> Record:
    """Return the record of a column over worlds from that of its ``figure``."""
    reading = name.partition("_")[0]
    return replace(
        figure,
        name=name,
        label=f"{figure.label}, {reading}",
        short=f"{figure.short}, {reading}" if figure.short else "",
        places=(),
    )
