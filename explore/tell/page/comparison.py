"""Lays two or more runs side by side: recommended designs, fronts, fluids, and what was set differently."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from explore.config.goals import by_own_values, over_worlds
from explore.errors import InputError
from explore.figures.format import NONE, label, listed, shown, three_digits, whole
from explore.figures.readings import plain
from explore.judgement.front import COMPROMISE, roles
from explore.tell.narrator import gist
from explore.tell.page import embed, set_otherwise
from explore.tell.page.assumptions import value
from explore.tell.page.compared import Side, axes, by_role, objectives, payload, warned
from explore.tell.page.data import Run, fluid_title, read_run
from explore.tell.page.fluids import SYMBOLS, feasible
from explore.tell.page.page import environment
from explore.tell.page.picks import every_caution, pick
from explore.tell.page.sentences import scenario_line, when
from explore.whole_file import write_whole

MOST_RUNS = 8
"""Columns that a page holds side by side."""
IGNORED = ("task.", "report.", "results_folder", "scenario.title", "scenario.description")


@dataclass(frozen=True)
class Role:
    """What designs of all runs are recommended for: its key and title, their names, and lines of a figure, one cell a run.

    A name is 'B17', line 17 of the front of run B; empty where a run has no such design.
    """

    key: str
    title: str
    designs: list[str]
    lines: list[tuple[str, list[str]]]


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
        write_whole(page, render(sides, page).encode())
    except OSError as error:
        raise InputError(
            f"{page} cannot be written ({error.strerror}); choose a folder that can be"
        ) from error
    return page


def _side(number: int, folder: Path) -> Side:
    run = read_run(folder)
    name = f"{run.case.scenario.title}, {when(run) or folder.name}"
    known = every_caution(run)
    return Side("ABCDEFGH"[number], name, run, by_role(pick(run, known)), known)


def render(sides: Sequence[Side], page: Path) -> str:
    """Return the comparison as HTML, to be written to ``page``."""
    script, plotly = embed.script("compare.js"), embed.plotly_script()
    runs = [side.run for side in sides]
    apart, picks = list(differences(runs)), _picks(sides)
    content = payload(sides, page)
    content["roles"] = [{"key": role.key, "designs": role.designs} for role in picks]
    return str(
        environment().get_template("compare.html.j2").render(
            policy=embed.policy(script, plotly),
            style=embed.style(),
            script=script,
            plotly=embed.packed_plotly(),
            data=embed.packed_json(content),
            sides=sides,
            apart=len({side.run.case.search.against for side in sides}) > 1,
            marks=list(SYMBOLS),
            charts=[(label(axes(sides)[0]), label(name)) for name in axes(sides)[1:]],
            thinned=[(side.letter, one["of"], len(one["lines"])) for side, one in zip(sides, content["runs"], strict=True)
                     if one["of"] > len(one["lines"])],
            lines={side.letter: scenario_line(side.run) for side in sides},
            counts=[_counts(side.run) for side in sides],
            picks=picks,
            fluids=_fluids(sides),
            changed=[set_otherwise.told(apart, [run.case for run in runs], k) for k in range(1, len(sides))],
            differences=apart,
        )
    )  # fmt: skip


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


def _picks(sides: Sequence[Side]) -> list[Role]:
    """Return the recommended designs of all runs, role by role; the roles are those of the first run."""
    titles = {role: one.title for side in reversed(sides) for role, one in side.found.items()}
    titles |= {key: one.title for one in roles(objectives(sides)) if (key := plain(one.key)) in titles}
    names = ["fluid", *gist(objectives(sides))]
    names += listed("compare", [name for side in sides for name in side.run.front.header])
    return [
        Role(
            role,
            title,
            [side.design(role) for side in sides],
            _lines(sides, role, list(dict.fromkeys(names))),
        )
        for role, title in sorted(titles.items(), key=lambda one: one[0] == COMPROMISE)
    ]


def _lines(sides: Sequence[Side], role: str, names: Sequence[str]) -> list[tuple[str, list[str]]]:
    """Return the figures of a role's designs, and what is to be heeded of each; a dash where a run has none."""
    found = [side.found.get(role) for side in sides]
    rows = [{} if one is None else s.run.front.row(one.row - 1) for s, one in zip(sides, found, strict=True)]
    figures = [
        (label(name), [_cell(s.run, row, name) for s, row in zip(sides, rows, strict=True)]) for name in names
    ]
    return [
        *figures,
        ("Warnings", [NONE if one is None else warned(one.cautions) or "none" for one in found]),
    ]


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
