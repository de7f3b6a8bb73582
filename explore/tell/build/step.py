"""A step of the sheet from leak test to winter, and how its amounts are written."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from explore.figures.format import NONE
from explore.units import fixed

Rows = list[tuple[str, str]]


@dataclass(frozen=True)
class Table:
    """A small table within a step: its header and its lines, all as written text."""

    header: tuple[str, ...]
    lines: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Step:
    """One step: what to do in order, its figures as name and value, tables, and what to heed."""

    title: str
    doing: tuple[str, ...]
    figures: Rows
    heed: tuple[str, ...]
    tables: tuple[Table, ...] = ()


def bar(value: float, decimals: int = 2) -> str:
    """Write a gauge pressure [bar]; a dash where there is none."""
    return f"{fixed(value, decimals)} bar gauge" if math.isfinite(value) else NONE


def amount(value: float, unit: str, digits: int = 3) -> str:
    """Write a positive amount with so many digits that count."""
    if not math.isfinite(value):
        return NONE
    if value == 0.0:
        return f"0 {unit}"
    decimals = max(digits - 1 - math.floor(math.log10(abs(value))), 0)
    return f"{value:.{decimals}f} {unit}"


def lines(found: Sequence[tuple[float, float]], decimals: int = 2) -> tuple[tuple[str, str], ...]:
    """Write pairs of temperature [degC] and value."""
    return tuple((f"{T:.0f}", fixed(value, decimals) if math.isfinite(value) else NONE) for T, value in found)


def plain(value: float) -> str:
    """Write with two digits that count, without an exponent."""
    if not math.isfinite(value):
        return NONE
    if value < 1e-5:  # a tenth of a millionth of the air is nothing to a builder
        return "0"
    decimals = max(1 - math.floor(math.log10(value)), 0)
    return f"{value:.{decimals}f}"
