"""The designs the page recommends, found in front.csv by the one rule of :mod:`explore.judgement.front`.

The page's script applies the same rule to the designs left by the reader's limits (``picks.js``).
"""

from __future__ import annotations

from dataclasses import dataclass

from explore.judgement.front import displaced, recommended, roles
from explore.tell import narrator
from explore.tell.narrator import UNKNOWN_CAUTIONS, as_cautions
from explore.tell.page.data import Run, fluid_title


@dataclass(frozen=True)
class Pick:
    """A recommended design: its role in words, its line in front.csv (from 1), its cautions, and what it displaced."""

    role: str
    title: str
    row: int
    cautions: tuple[dict[str, str], ...] = ()
    displaced: str = ""


def pick(run: Run) -> list[Pick]:
    """Return the best design by each objective, and the compromise; [] without designs."""
    if not len(run.front):
        return []
    objectives = run.case.scenario.objectives
    figures = {name: run.front.numbers(name) for name in ("cost_EUR", *(o.figure for o in objectives))}
    broken = broken_with_tubes(run)
    barred = {row - 1 for row in broken}
    rows, others = recommended(figures, objectives, barred), displaced(figures, objectives, barred)
    told = ["" if line is None else _displaced(run, line + 1, broken[line + 1]) for line in others]
    return [
        Pick(role.key, role.title, line + 1, cautions(run, line + 1), words)
        for role, line, words in zip(roles(objectives), rows, told, strict=True)
    ]


def broken_with_tubes(run: Run) -> dict[int, list[str]]:
    """Return the limits that lines of front.csv (from 1) break with exchangers made of tubes, where any are."""
    found = run.summary.get("broken_with_tubes", {})
    return {int(row): names for row, names in found.items() if row.isdigit()}


def _displaced(run: Run, row: int, broken: list[str]) -> str:
    fluid = run.front.row(row - 1)["fluid"]
    return narrator.displaced(fluid_title(run, fluid), row, broken)


def cautions(run: Run, row: int) -> tuple[dict[str, str], ...]:
    """Return the cautions of line ``row`` of front.csv as ``{"text", "level"}``, worst first, or that they are unknown."""
    sheet = run.sheets.get("designs", {}).get(str(row), {})
    found = list(sheet.get("cautions", ()))
    if not found:
        found = [
            c for p in run.summary.get("picks", ()) if p.get("row") == row for c in p.get("cautions", ())
        ]
    return as_cautions(found) or UNKNOWN_CAUTIONS
