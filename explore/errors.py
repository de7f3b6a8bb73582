"""The exceptions a user may cause, and the sentence they carry."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable


class InputError(Exception):
    """Bad input: the message is one sentence saying what, where and what would be right.

    The command line prints it and exits with status 2; nothing has been written, but for the legs of a search.
    """


class NothingFeasibleError(InputError):
    """A search met no design that keeps all limits; ``interrupted`` says whether the user ended it before its budget."""

    def __init__(self, message: str, *, interrupted: bool = False) -> None:
        super().__init__(message)
        self.interrupted = interrupted


MOST_NAMED = 5
"""Names that a sentence lists before it becomes one that nobody reads."""
MOST_SIGNS = 60
"""Signs of a value that a sentence repeats: enough to know it again."""
ROOM = 190
"""Characters that names may take in a sentence: what else it says still fits below 300."""


def as_many_as_fit(names: Iterable[str]) -> str:
    """List names, the last with 'and': all if they fit into a sentence, or those that do and how many more there are."""
    known = list(names)
    shown = [
        name for place, name in enumerate(known) if place == 0 or len(", ".join(known[: place + 1])) <= ROOM
    ]
    rest = [f"{len(known) - len(shown)} more"] if len(shown) < len(known) else []
    *most, last = [*shown, *rest]
    return f"{', '.join(most)} and {last}" if most else last


def shortened(text: str, most: int = MOST_SIGNS) -> str:
    """Return a text as a sentence repeats it: of a long one ``most`` signs, two fifths of them from its end."""
    return text if len(text) <= most else f"{text[: most * 3 // 5]}...{text[-most * 2 // 5 :]}"


def quoted(value: object) -> str:
    """Write a value as Python does, shortened.

    >>> quoted("n-Butane")
    "'n-Butane'"
    """
    try:
        return shortened(repr(value))
    except ValueError:  # Python writes no whole number of more than 4300 digits
        return "a number of thousands of digits"


def few(names: Iterable[str], given: object) -> str:
    """List names: all if they are few, or those nearest to what was ``given`` and how many more there are."""
    known = list(dict.fromkeys(names))
    if len(known) <= MOST_NAMED + 1:
        return ", ".join(known)
    near = difflib.get_close_matches(quoted(given).strip("'"), known, n=MOST_NAMED, cutoff=0.0)
    return f"{', '.join(near)} and {len(known) - len(near)} more"


def is_number(value: object) -> bool:
    """Whether a value is a number, finite as a float; true and false are none."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    try:
        return math.isfinite(value)
    except OverflowError:  # a whole number of more than 308 digits
        return False
