"""The minutes of a day as a table."""

from __future__ import annotations

import csv
import io
import math
from typing import TYPE_CHECKING

from explore.tell.day.words import clock

if TYPE_CHECKING:
    from explore.model.day import Told

DIGITS = 7
"""Significant digits: the account of a day added up from the table closes to a millionth."""


def minutes_csv(told: Told) -> str:
    """Return one line a minute: its clock, the state as it begins, flows as its mean; empty where there is nothing."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["clock", *told.minutes, "engine_runs"])
    for minute, values in enumerate(zip(*told.minutes.values(), told.serving, strict=True)):
        *numbers, runs = values
        writer.writerow([clock(60.0 * minute), *map(_cell, numbers), int(runs)])
    return text.getvalue()


def _cell(value: float) -> str:
    return f"{value + 0.0:.{DIGITS}g}" if math.isfinite(value) else ""
