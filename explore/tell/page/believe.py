"""Why believe this: the outside checks of the model, topic by topic, ready for the page."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from explore.tell.narrator import in_page_units
from explore.tell.page.data import Run

UNITS = {
    "bar_a": "bar abs.",
    "bar_g": "bar gauge",
    "degC": "°C",
    "W/m2": "W/m²",
    "kWh/m2": "kWh/m²",
    "kg/m3": "kg/m³",
}
KINDS = {"published": "published", "recomputed": "recomputed from a published formula"}


@dataclass(frozen=True)
class Evidence:
    """One check as text."""

    quantity: str
    ours: str
    published: str
    unit: str
    deviation: str
    tolerance: str
    within: bool
    kind: str
    source: str


@dataclass(frozen=True)
class Topic:
    """The checks of one topic."""

    title: str
    checks: tuple[Evidence, ...]


def evidence(run: Run) -> list[Topic]:
    """Group the checks of a run's ``checks.json`` by topic, in their order."""
    topics: dict[str, list[Evidence]] = {}
    for row in run.checks:
        topics.setdefault(str(row.get("topic", "")), []).append(_one(row))
    return [Topic(title[:1].upper() + title[1:], tuple(checks)) for title, checks in topics.items()]


def verdict(run: Run) -> str:
    """Say in one sentence how many checks there are, of which kinds, and how many lie outside."""
    outside = sum(not row.get("within") for row in run.checks)
    kinds = Counter(str(row.get("kind", "")) for row in run.checks)
    counts = ", ".join(f"{count} {KINDS.get(kind, kind)}" for kind, count in kinds.most_common())
    bad = "all within their tolerance" if not outside else f"{outside} OUTSIDE their tolerance"
    return f"{len(run.checks)} outside checks ({counts}): {bad}."


def _one(row: Mapping[str, Any]) -> Evidence:
    relative = bool(row.get("relative"))
    return Evidence(
        quantity=in_page_units(str(row.get("quantity", ""))),
        ours=_number(row.get("ours")),
        published=_number(row.get("published")),
        unit="" if row.get("unit") == "-" else UNITS.get(str(row.get("unit", "")), str(row.get("unit", ""))),
        deviation=_apart(row.get("deviation"), relative, signed=True),
        tolerance=_apart(row.get("tolerance"), relative),
        within=bool(row.get("within")),
        kind=str(row.get("kind", "")),
        source=str(row.get("source", "")),
    )


def _number(value: Any) -> str:
    return f"{value:.6g}" if isinstance(value, int | float) else "–"


def _apart(value: Any, relative: bool, *, signed: bool = False) -> str:
    if not isinstance(value, int | float):
        return "–"
    sign = "+" if signed else ""
    text = f"{100 * value:{sign}.2g} %" if relative else f"{value:{sign}.2g}"
    return text.replace("-", "−")
