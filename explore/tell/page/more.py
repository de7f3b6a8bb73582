"""What more of the parts at hand would add to the recommended designs, as the page's tables have it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from explore.tell.more import HEADER, SCOPE, rows, sentences
from explore.tell.page.data import Run, fluid_title
from explore.tell.page.picks import Pick


class Table(NamedTuple):
    """What more of each part would add to one design: its line in front.csv, caption, cells and sentences."""

    row: int
    caption: str
    cells: list[tuple[str, ...]]
    words: list[str]


def aboard(run: Run, picks: Sequence[Pick]) -> dict[str, Any] | None:
    """Return what the sheet of an opened design is filled from, by line of front.csv; None where no part is owned."""
    if not run.case.scenario.owned.anything:
        return None
    told = {str(one.row): {"cells": one.cells, "words": one.words} for one in tell(run, picks)}
    return {"header": [HEADER[0].capitalize(), *HEADER[1:]], "scope": SCOPE, "designs": told}


def tell(run: Run, picks: Sequence[Pick]) -> list[Table]:
    """Return one table a recommended design, the compromise first; none where no part is owned."""
    known = {one["row"]: one["more"] for one in run.summary.get("picks", ()) if one.get("more")}
    roles: dict[int, list[str]] = {}
    for one in reversed(picks):
        roles.setdefault(one.row, []).append(one.title)
    return [
        Table(
            row,
            f"{' and '.join([titles[0], *(title[:1].lower() + title[1:] for title in titles[1:])])}: "
            f"{fluid_title(run, run.front.row(row - 1)['fluid'])}, design {row}",
            rows(known[row]),
            sentences(known[row]),
        )
        for row, titles in roles.items()
        if row in known
    ]
