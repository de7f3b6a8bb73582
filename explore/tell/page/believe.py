"""Why believe this: the outside checks of the model, topic by topic, ready for the page."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from explore.figures.names import in_page_units
from explore.tell.page.data import Run

KINDS = {"published": "published", "recomputed": "recomputed from a published formula"}
COUNTED = "measured"


FIRM = ("published", "recomputed")
"""Kinds of checks that stand on what was published: read there, or worked out from its formula."""


@dataclass(frozen=True)
class Evidence:
    """One check as text; a measured row's ``deviation`` is predicted over measured."""

    quantity: str
    ours: str
    published: str
    unit: str
    deviation: str
    tolerance: str
    within: bool
    kind: str
    source: str
    binding: bool


@dataclass(frozen=True)
class Topic:
    """The checks of one topic."""

    title: str
    checks: tuple[Evidence, ...]

    @property
    def measured(self) -> bool:
        """Whether these are machines and parts as measured, which are shown and bind nothing."""
        return not any(check.binding for check in self.checks)


def evidence(run: Run) -> list[Topic]:
    """Group the checks of a run's ``checks.json`` by topic, in their order."""
    topics: dict[str, list[Evidence]] = {}
    for row in run.checks:
        topics.setdefault(str(row.get("topic", "")), []).append(_one(row))
    return [Topic(title[:1].upper() + title[1:], tuple(checks)) for title, checks in topics.items()]


def within_words(run: Run) -> str:
    """Say how many checks lie within their tolerance, and how many of all stand on what was published."""
    checks = [row for row in run.checks if is_binding(row)]
    within = sum(bool(row.get("within")) for row in checks)
    said = f"{within} of {len(checks)} outside checks of the model lie within their tolerance"
    firm = sum(row.get("kind") in FIRM for row in checks)
    if firm == len(checks):
        return said
    return f"{said} ({firm} of them published or recomputed, the rest from memory or common practice)"


def verdict(run: Run) -> str:
    """Say how many checks there are, of which kinds, and how many lie outside; then how far measured parts lie."""
    checks = [row for row in run.checks if is_binding(row)]
    outside = sum(not row.get("within") for row in checks)
    kinds = Counter(str(row.get("kind", "")) for row in checks)
    counts = ", ".join(f"{count} {KINDS.get(kind, kind)}" for kind, count in kinds.most_common())
    bad = "all within their tolerance" if not outside else f"{outside} OUTSIDE their tolerance"
    measured = measured_words(run)
    return f"{len(checks)} outside checks ({counts}): {bad}." + (f" {measured}" if measured else "")


def is_binding(row: Mapping[str, Any]) -> bool:
    """Say whether a check must hold; runs of before there were measured rows know no other."""
    return bool(row.get("binding", True))


def measured_words(run: Run) -> str:
    """Say predicted over measured, topic by topic, of the rows that count; empty without such rows."""
    ratios: dict[str, list[float]] = {}
    for row in run.checks:
        if row.get("kind") == COUNTED and row.get("published"):
            ratios.setdefault(str(row.get("topic", "")), []).append(row["ours"] / row["published"])
    if not ratios:
        return ""
    ends = {topic: [f"{end:.2f}" for end in (min(found), max(found))] for topic, found in ratios.items()}
    spans = [f"{topic} {' to '.join(dict.fromkeys(pair))}" for topic, pair in ends.items()]
    return f"Predicted over measured: {', '.join(spans)}."


def _one(row: Mapping[str, Any]) -> Evidence:
    relative, binding = bool(row.get("relative")), is_binding(row)
    apart = _apart(row.get("deviation"), relative, signed=True) if binding else _ratio(row)
    return Evidence(
        quantity=in_page_units(str(row.get("quantity", ""))),
        ours=_number(row.get("ours")),
        published=_number(row.get("published")),
        unit="" if row.get("unit") == "-" else in_page_units(str(row.get("unit", ""))),
        deviation=apart,
        tolerance=_apart(row.get("tolerance"), relative),
        within=bool(row.get("within")),
        kind=str(row.get("kind", "")),
        source=str(row.get("source", "")),
        binding=binding,
    )


def _ratio(row: Mapping[str, Any]) -> str:
    ours, measured = row.get("ours"), row.get("published")
    return f"{ours / measured:.2f} ×" if isinstance(ours, int | float) and measured else "–"


def _number(value: Any) -> str:
    return f"{value:.6g}" if isinstance(value, int | float) else "–"


def _apart(value: Any, relative: bool, *, signed: bool = False) -> str:
    if not isinstance(value, int | float):
        return "–"
    sign = "+" if signed else ""
    text = f"{100 * value:{sign}.2g} %" if relative else f"{value:{sign}.2g}"
    return text.replace("-", "−")
