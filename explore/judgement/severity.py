"""How serious a caution is: the one list of severities and of the words for them."""

from __future__ import annotations

from enum import StrEnum


class Severity(StrEnum):
    """How serious a caution is, gravest first; the value is what files and style sheets call it."""

    STOP = "danger"
    WARNING = "warning"
    NOTE = "note"

    @property
    def word(self) -> str:
        """What a reader is told."""
        return {"danger": "STOP", "warning": "Warning", "note": "Note"}[self.value]

    @property
    def meaning(self) -> str:
        """What a reader is to make of it."""
        return {"danger": "not to be built like this", "warning": "needs a measure", "note": "to be known"}[
            self.value
        ]


SEVERITIES = tuple(Severity)
