"""The three designs the page recommends, found in front.csv by the one rule of :mod:`explore.judgement.front`.

The page's script applies the same rule to the designs left by the reader's limits (``picksAmong``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from explore.config.schema import Objective
from explore.figures.format import label
from explore.judgement.front import RULE, recommended
from explore.tell.page.data import Run

__all__ = ["RULE", "Pick", "as_cautions", "cautions", "in_page_units", "pick", "roles"]


@dataclass(frozen=True)
class Pick:
    """A recommended design: its role in words, its line in front.csv (from 1), and its cautions."""

    role: str
    title: str
    row: int
    cautions: tuple[dict[str, str], ...] = ()


def pick(run: Run) -> list[Pick]:
    """Return the best design by the first objective, by the second, and the compromise; [] without designs."""
    if not len(run.front):
        return []
    objectives = run.case.scenario.objectives
    figures = {name: run.front.numbers(name) for name in ("cost_EUR", *(o.figure for o in objectives))}
    chosen = recommended(figures, objectives)
    lines = [chosen[0], chosen[1], chosen[-1]]
    found = zip(roles(objectives), lines, strict=True)
    return [Pick(role, title, line + 1, cautions(run, line + 1)) for (role, title), line in found]


def roles(objectives: Sequence[Objective]) -> list[tuple[str, str]]:
    """Return key and words of each role, in the order of the cards."""
    return [
        ("first", _words(objectives[0])),
        ("second", _words(objectives[1])),
        ("compromise", "The compromise"),
    ]


def _words(objective: Objective) -> str:
    words = label(objective.figure)
    if objective.figure == "work_per_litre_kJ":
        return "Most work per litre"
    return f"{'Most' if objective.direction == 'maximise' else 'Least'} {words[:1].lower()}{words[1:]}"


def cautions(run: Run, row: int) -> tuple[dict[str, str], ...]:
    """Return the cautions of line ``row`` of front.csv as ``{"text", "level"}``, worst first."""
    sheet = run.sheets.get("designs", {}).get(str(row), {})
    found = list(sheet.get("cautions", ()))
    if not found:
        found = [
            c for p in run.summary.get("picks", ()) if p.get("row") == row for c in p.get("cautions", ())
        ]
    return as_cautions(found)


def as_cautions(found: Sequence[object]) -> tuple[dict[str, str], ...]:
    """Bring cautions, sentences or mappings, into one shape, each once, worst first."""
    order = {"danger": 0, "warning": 1, "note": 2}
    shaped = [c if isinstance(c, dict) else {"text": str(c)} for c in found]
    unique = {str(c["text"]): c for c in shaped if c.get("text")}
    listed = [
        {
            "text": in_page_units(text),
            "level": str(c["level"]) if c.get("level") in order else "warning",
            "topic": str(c.get("topic", "")),
        }
        for text, c in unique.items()
    ]
    return tuple(sorted(listed, key=lambda c: order[c["level"]]))


def in_page_units(text: str) -> str:
    """Write the units of a sentence as the page does."""
    for plain, shown in (("bar_g", "bar gauge"), ("bar_a", "bar abs."), ("degC", "°C"), (" m3", " m³")):
        text = text.replace(plain, shown)
    return text
