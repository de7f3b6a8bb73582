"""Lays two or more runs side by side: recommended designs, fronts, fluids, and what was set differently."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from explore.config.goals import by_own_values, over_worlds
from explore.config.schema import Objective
from explore.errors import InputError
from explore.figures.format import NONE, label, listed, shown, three_digits, unit, whole
from explore.figures.readings import plain
from explore.judgement.front import COMPROMISE, roles
from explore.tell.narrator import gist
from explore.tell.page import embed
from explore.tell.page.assumptions import value
from explore.tell.page.data import Run, fluid_title, read_run
from explore.tell.page.fluids import SYMBOLS, feasible
from explore.tell.page.page import environment
from explore.tell.page.picks import pick
from explore.tell.page.sentences import scenario_line, when
from explore.whole_file import write_whole

MOST_RUNS = 8
"""Columns that a page holds side by side."""
IGNORED = ("task.", "report.", "results_folder", "scenario.title", "scenario.description")


@dataclass(frozen=True)
class Side:
    """One run of the comparison under the letter by which the page calls it."""

    letter: str
    name: str
    run: Run


def write_comparison(run_folders: Sequence[Path], page: Path) -> Path:
    """Write the comparison of two to eight runs to ``page`` and return it.

    Raises :class:`explore.errors.InputError` for too few or too many runs, or a run that cannot be read.
    """
    if not 2 <= len(run_folders) <= MOST_RUNS:
        raise InputError(
            f"a comparison takes 2 to {MOST_RUNS} runs, not {len(run_folders)}: runs=[FOLDER,FOLDER]"
        )
    sides = [_side(i, folder) for i, folder in enumerate(run_folders)]
    try:
        write_whole(page, render(sides).encode())
    except OSError as error:
        raise InputError(
            f"{page} cannot be written ({error.strerror}); choose a folder that can be"
        ) from error
    return page


def _side(number: int, folder: Path) -> Side:
    run = read_run(folder)
    return Side("ABCDEFGH"[number], f"{run.case.scenario.title}, {when(run) or folder.name}", run)


def render(sides: Sequence[Side]) -> str:
    """Return the comparison as HTML."""
    script, plotly = embed.script("compare.js"), embed.plotly_script()
    return str(
        environment().get_template("compare.html.j2").render(
            policy=embed.policy(script, plotly),
            style=embed.style(),
            script=script,
            plotly=embed.packed_plotly(),
            data=embed.packed_json(payload(sides)),
            sides=sides,
            marks=list(SYMBOLS),
            charts=[(label(axes(sides)[0]), label(name)) for name in axes(sides)[1:]],
            lines={side.letter: scenario_line(side.run) for side in sides},
            counts=[_counts(side.run) for side in sides],
            picks=_picks(sides),
            fluids=_fluids(sides),
            differences=list(differences([side.run for side in sides])),
        )
    )  # fmt: skip


def axes(sides: Sequence[Side]) -> list[str]:
    """Return the figures of the charts: what the first run asked for first, then the others over which it is drawn."""
    return gist(_objectives(sides))


def _objectives(sides: Sequence[Side]) -> tuple[Objective, ...]:
    """Return the first run's objectives; by the run's own values where runs read them differently: all have these."""
    readings = {side.run.case.search.against for side in sides}
    first = sides[0].run.case
    return (first if len(readings) == 1 else by_own_values(first)).scenario.objectives


def payload(sides: Sequence[Side]) -> dict[str, Any]:
    """Return the fronts of all runs, the few figures the charts draw."""
    names = axes(sides)
    return {
        "axes": [{"figure": name, "label": label(name), "unit": unit(name)} for name in names],
        "runs": [
            {
                "letter": side.letter,
                "name": side.name,
                "symbol": SYMBOLS[i],
                "fluid": side.run.front.text("fluid"),
                **{name: [_finite(x) for x in side.run.front.numbers(name)] for name in names},
            }
            for i, side in enumerate(sides)
        ],
    }


def _finite(number: float) -> float | None:
    return float(number) if np.isfinite(number) else None


def _counts(run: Run) -> dict[str, str]:
    summary = run.summary
    reading = f", {run.case.search.against}" if over_worlds(run.case) else ""
    return {
        "Designs tried": whole(summary.get("designs_evaluated", len(run.designs))),
        "On the front": whole(len(run.front)),
        "Fluids on the front": str(len(set(run.front.text("fluid")))),
        "Hypervolume, share of the box": _written(summary.get("hypervolume")) + reading,
        "Seed": str(summary.get("seed", NONE)),
        "Search": run.case.search.name,
    }


def _written(number: object) -> str:
    return three_digits(float(number)) if isinstance(number, int | float) else NONE


def _picks(sides: Sequence[Side]) -> list[tuple[str, list[tuple[str, list[str]]]]]:
    """Return, per role, lines of figure name and one cell per run; the roles are those of the first run."""
    by_side = [{plain(one.role): one for one in pick(side.run)} for side in sides]
    titles = {role: one.title for found in reversed(by_side) for role, one in found.items()}
    titles |= {key: one.title for one in roles(_objectives(sides)) if (key := plain(one.key)) in titles}
    tables = []
    names = ["fluid", *gist(_objectives(sides))]
    names += listed("compare", [name for side in sides for name in side.run.front.header])
    for role, title in sorted(titles.items(), key=lambda one: one[0] == COMPROMISE):
        rows = [
            s.run.front.row(f[role].row - 1) if role in f else {} for s, f in zip(sides, by_side, strict=True)
        ]
        lines = [
            (label(name), [_cell(s.run, row, name) for s, row in zip(sides, rows, strict=True)])
            for name in dict.fromkeys(names)
        ]
        tables.append((title, lines))
    return tables


def _cell(run: Run, row: Mapping[str, str], name: str) -> str:
    cell = row.get(name, "")
    return fluid_title(run, cell) if name == "fluid" and cell else shown(cell, name)


def _fluids(sides: Sequence[Side]) -> list[tuple[str, list[str]]]:
    """Return best work per litre of each fluid in each run, written; fluids no run could use are left out."""
    best: list[dict[str, float]] = []
    for side in sides:
        table = feasible(side.run)
        found: dict[str, float] = {}
        for fluid, work in zip(table.text("fluid"), table.numbers("work_per_litre_kJ"), strict=True):
            if np.isfinite(work):
                found[fluid] = max(float(work), found.get(fluid, float("-inf")))
        best.append(found)
    names = {name for found in best for name in found}
    order = sorted(names, key=lambda name: (-max(found.get(name, -1.0) for found in best), name))
    return [
        (name, [three_digits(found[name]) if name in found else NONE for found in best]) for name in order
    ]


def differences(runs: Sequence[Run]) -> Iterator[tuple[str, list[str]]]:
    """Yield every configured value that is not the same in all runs: its dotted name and one text per run."""
    flat = [dict(_flat("", by_own_values(run.case).model_dump(mode="json"))) for run in runs]
    for name in dict.fromkeys(key for one in flat for key in one):
        texts = [one.get(name, NONE) for one in flat]
        if len(set(texts)) > 1 and not name.startswith(IGNORED):
            yield name, texts


def _flat(prefix: str, content: Any) -> Iterator[tuple[str, str]]:
    if isinstance(content, Mapping):
        for key, part in content.items():
            yield from _flat(f"{prefix}{key}.", part)
    elif isinstance(content, list) and content and isinstance(content[0], Mapping):
        for number, part in enumerate(content):
            yield from _flat(f"{prefix}{number}.", part)
    else:
        yield prefix.rstrip("."), value(content)
