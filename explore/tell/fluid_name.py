"""What a fluid is called in a word, the same in the terminal, on the page and in what a study says."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from explore.config.schema import Case


def trade_name(title: str) -> str:
    """Return what a fluid is called in a word: its card's title without what stands in brackets or behind a comma."""
    return title.split(" (")[0].split(",")[0]


def short_name(name: str, case: Case) -> str:
    """Return the trade name of a fluid of a case; its own name where it has no card."""
    return next((trade_name(card.title) for card in case.fluids.values() if card.name == name), name)
