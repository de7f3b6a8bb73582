"""The designs the page recommends, found in front.csv by the one rule of :mod:`explore.judgement.front`.

The page's script applies the same rule to the designs left by the reader's limits (``picks.js``).
"""

from __future__ import annotations

from dataclasses import dataclass

from explore.judgement.front import recommended, roles
from explore.tell.narrator import UNKNOWN_CAUTIONS, as_cautions
from explore.tell.page.data import Run


@dataclass(frozen=True)
class Pick:
    """A recommended design: its role in words, its line in front.csv (from 1), and its cautions."""

    role: str
    title: str
    row: int
    cautions: tuple[dict[str, str], ...] = ()


def pick(run: Run) -> list[Pick]:
    """Return the best design by each objective, and the compromise; [] without designs."""
    if not len(run.front):
        return []
    objectives = run.case.scenario.objectives
    figures = {name: run.front.numbers(name) for name in ("cost_EUR", *(o.figure for o in objectives))}
    found = zip(roles(objectives), recommended(figures, objectives), strict=True)
    return [Pick(role.key, role.title, line + 1, cautions(run, line + 1)) for role, line in found]


def cautions(run: Run, row: int) -> tuple[dict[str, str], ...]:
    """Return the cautions of line ``row`` of front.csv as ``{"text", "level"}``, worst first, or that they are unknown."""
    sheet = run.sheets.get("designs", {}).get(str(row), {})
    found = list(sheet.get("cautions", ()))
    if not found:
        found = [
            c for p in run.summary.get("picks", ()) if p.get("row") == row for c in p.get("cautions", ())
        ]
    return as_cautions(found) or UNKNOWN_CAUTIONS
