"""What machines and parts did against what the model predicts: the points of the page's chart and its words."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from explore.figures.names import in_page_units
from explore.tell.page.believe import COUNTED, is_binding
from explore.tell.page.data import Run

SYMBOLS = ("circle", "square", "diamond", "triangle-up", "hourglass", "pentagon", "star", "hexagon")
ROW = re.compile(r"measured-(([A-Z]\d+).*)")


@dataclass(frozen=True)
class Point:
    """One measured row as the chart draws it.

    ``row``: its id, "M4a"; ``machine``: the number of its machine or part, "M4"; ``name``: both in a few words;
    ``symbol``: the mark of its topic; ``ratio``: predicted over measured [-], None where there is none above zero;
    ``low`` and ``high``: the accuracy of the measurement as ratios [-]; ``predicted`` and ``measured`` in ``unit``.
    """

    row: str
    machine: str
    topic: str
    symbol: str
    name: str
    quantity: str
    predicted: float
    measured: float
    accuracy: float
    unit: str
    ratio: float | None
    low: float
    high: float
    counted: bool
    within: bool
    kind: str


def points(run: Run) -> list[Point]:
    """Return the rows of ``checks.json`` that hold what was measured, in their order; a topic has one symbol."""
    shown = [row for row in run.checks if not is_binding(row)]
    topics = list(dict.fromkeys(str(row.get("topic", "")) for row in shown))
    marks = {topic: SYMBOLS[place % len(SYMBOLS)] for place, topic in enumerate(topics)}
    return [_point(row, marks[str(row.get("topic", ""))]) for row in shown]


def drawn(found: list[Point]) -> list[dict[str, Any]]:
    """Return the points for the page's script: those with a ratio, which alone have a place on the axis."""
    return [asdict(point) for point in found if point.ratio is not None]


def topics(found: list[Point]) -> list[tuple[str, str]]:
    """Return each topic with its symbol, for the legend."""
    return list(dict.fromkeys((point.topic, point.symbol) for point in found))


def words(found: list[Point]) -> str:
    """Say the mean error of each machine and part that counts, what does not, and what lies outside."""
    errors: dict[str, list[float]] = {}
    for point in found:
        if point.counted and point.ratio is not None:
            errors.setdefault(point.machine, []).append(abs(point.ratio - 1.0))
    means = [f"{machine} {100 * sum(off) / len(off):.1f} %" for machine, off in errors.items()]
    none_counts = [
        topic for topic, _ in topics(found) if not any(p.counted for p in found if p.topic == topic)
    ]
    outside = [point.row for point in found if not point.within]
    parts = [f"Mean error of each machine or part that counts: {', '.join(means) or 'none counts'}"]
    parts += [f"no row of the {topic} counts" for topic in none_counts]
    parts.append(f"outside the accuracy of the measurement: {', '.join(outside) or 'none'}")
    undrawn = [point.row for point in found if point.ratio is None]
    parts += [f"not drawn for want of a ratio above zero: {', '.join(undrawn)}"] if undrawn else []
    return f"{'; '.join(parts)}."


def _point(row: Mapping[str, Any], symbol: str) -> Point:
    ours, value, accuracy = (_number(row.get(name)) for name in ("ours", "published", "tolerance"))
    share = accuracy if row.get("relative") else accuracy / abs(value) if value else math.nan
    ratio = ours / value if value and math.isfinite(share) else math.nan
    check = str(row.get("check", ""))
    match = ROW.fullmatch(check)
    name, machine = (match[1], match[2]) if match else (check, check)
    unit = str(row.get("unit", ""))
    quantity = in_page_units(str(row.get("quantity", "")))
    return Point(
        row=name,
        machine=machine,
        topic=str(row.get("topic", "")),
        symbol=symbol,
        name=f"{name} {_few_words(quantity)}",
        quantity=quantity,
        predicted=ours,
        measured=value,
        accuracy=share * abs(value),
        unit="" if unit == "-" else in_page_units(unit),
        ratio=ratio if math.isfinite(ratio) and ratio > 0.0 else None,
        low=1.0 - share,
        high=1.0 + share,
        counted=row.get("kind") == COUNTED,
        within=bool(row.get("within")),
        kind=str(row.get("kind", "")),
    )


def _number(value: Any) -> float:
    return float(value) if isinstance(value, int | float) else math.nan


def _few_words(quantity: str) -> str:
    """Cut "swash-plate expander, 2-4 kW: efficiency (band 0.4 to 0.5)" to "swash-plate expander: efficiency"."""
    what, _, figure = re.sub(r" \(band [^)]*\)$", "", quantity).rpartition(": ")
    return f"{re.split('[,:;]', what)[0]}: {figure}" if what else figure
