"""The designs the page recommends, found in front.csv by the one rule of :mod:`explore.judgement.front`.

The page's script applies the same rule to the designs left by the reader's limits (``picks.js``).
"""

from __future__ import annotations

from dataclasses import dataclass

from explore.judgement.front import displaced, recommended, roles
from explore.run.told import unpack
from explore.tell import narrator
from explore.tell.narrator import UNKNOWN_CAUTIONS, as_cautions
from explore.tell.page.data import Run, fluid_title

Cautioned = list[tuple[dict[str, str], ...]]
"""The cautions of each design, worst first."""


@dataclass(frozen=True)
class Pick:
    """A recommended design: role in words, line in front.csv (from 1), cautions, what it displaced, leeway.

    ``broken`` names the limits that it breaks with tubes: it is recommended for want of one that breaks none.
    """

    role: str
    title: str
    row: int
    cautions: tuple[dict[str, str], ...] = ()
    displaced: str = ""
    leeway: str = ""
    broken: str = ""


def pick(run: Run, cautioned: Cautioned | None = None) -> list[Pick]:
    """Return the best design by each objective, and the compromise; [] without designs.

    ``cautioned``: what :func:`every_caution` gives, where it has been asked already.
    """
    if not len(run.front):
        return []
    objectives = run.case.scenario.objectives
    figures = {name: run.front.numbers(name) for name in ("cost_EUR", *(o.figure for o in objectives))}
    broken = broken_with_tubes(run)
    barred = {row - 1 for row in broken if row <= len(run.front)}
    rows, others = recommended(figures, objectives, barred), displaced(figures, objectives, barred)
    known = cautioned or every_caution(run)
    told = ["" if line is None else _displaced(run, line + 1, broken[line + 1]) for line in others]
    return [
        Pick(
            role.key,
            role.title,
            line + 1,
            known[line],
            words,
            leeways(run).get(line + 1, ""),
            narrator.broken_words(broken.get(line + 1, ())),
        )
        for role, line, words in zip(roles(objectives), rows, told, strict=True)
    ]


def leeways(run: Run) -> dict[int, str]:
    """Say of lines of front.csv (from 1) how far their inputs may move, where the search has tried it."""
    picks = run.summary.get("picks", ())
    return {int(one["row"]): str(one["leeway"]) for one in picks if one.get("leeway") and one.get("row")}


def broken_with_tubes(run: Run) -> dict[int, list[str]]:
    """Return the limits that designs break with exchangers made of tubes, where any are, by their place from 1.

    The lines of front.csv come first, then the designs kept beside it, of which runs of before know nothing.
    """
    tubes = run.told.get("tubes")
    if tubes is not None:
        return {place: names for place, names in enumerate(tubes, start=1) if names}
    found = run.summary.get("broken_with_tubes", {})
    return {int(row): names for row, names in found.items() if row.isdigit()}


def _displaced(run: Run, row: int, broken: list[str]) -> str:
    fluid = run.front.row(row - 1)["fluid"]
    return narrator.displaced(fluid_title(run, fluid), row, broken)


def every_caution(run: Run) -> Cautioned:
    """Return the cautions of all designs that the page carries, lines of front.csv first, each worst first.

    Those of a design's sheet, else of told.json, else of the summary; a design of which nothing is known says so.
    """
    told = unpack(run.told) if run.told else []
    sheets, count = run.sheets.get("designs", {}), len(run.front)
    summed = {one.get("row"): one.get("cautions", ()) for one in run.summary.get("picks", ())}
    found = []
    for place in range(count + len(run.kept)):
        row = place + 1 if place < count else 0
        own = list(sheets.get(str(row), {}).get("cautions", ()))
        own = own or (list(told[place]) if told else list(summed.get(row, ())))
        found.append(as_cautions(own) or UNKNOWN_CAUTIONS)
    return found


def cautions(run: Run, row: int) -> tuple[dict[str, str], ...]:
    """Return the cautions of line ``row`` of front.csv as ``{"text", "level"}``, worst first, or that they are unknown."""
    return every_caution(run)[row - 1]
