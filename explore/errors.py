"""The one exception a user may cause, and the sentence it carries."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class InputError(Exception):
    """Bad input: the message is one sentence saying what, where and what would be right.

    The command line prints it and exits with status 2; nothing has been written.
    """


MOST_NAMED = 5
"""Names that a sentence lists before it becomes one that nobody reads."""


def few(names: Iterable[str], given: object) -> str:
    """List names: all if they are few, or those nearest to what was ``given`` and how many more there are."""
    known = list(dict.fromkeys(names))
    if len(known) <= MOST_NAMED + 1:
        return ", ".join(known)
    near = difflib.get_close_matches(str(given), known, n=MOST_NAMED, cutoff=0.0)
    return f"{', '.join(near)} and {len(known) - len(near)} more"
