"""How serious a caution is: the one list of severities and of the words for them."""

from __future__ import annotations

from enum import StrEnum


class Severity(StrEnum):
    """How serious a caution is, gravest first; the value is what files and style sheets call it.

    ``word`` is what a reader is told, ``meaning`` what to make of it.
    """

    word: str
    meaning: str

    STOP = "danger", "STOP", "not to be built like this"
    WARNING = "warning", "Warning", "needs a measure"
    NOTE = "note", "Note", "to be known"

    def __new__(cls, value: str, word: str = "", meaning: str = "") -> Severity:
        """Make one of the list; the words beside the value do not make it another one."""
        one = str.__new__(cls, value)
        one._value_, one.word, one.meaning = value, word, meaning
        return one


SEVERITIES = tuple(Severity)
