"""Builds the page of a past run again."""

from __future__ import annotations

import sys
from pathlib import Path

from explore.config.schema import Case
from explore.config.tasks import ReportTask
from explore.errors import InputError


def run(case: Case, task: ReportTask, command: str) -> None:
    """Build the page of a past run again."""
    from explore.tell.page import write_page

    if task.run is None:
        raise InputError("task=report needs run=results/<scenario>/<time>")
    folder = Path(task.run)
    if not folder.is_dir():
        raise InputError(f"run={folder}: there is no such folder")
    if not _told(folder):
        _tell(folder)
    print(f"page: {write_page(folder)}")


def _told(folder: Path) -> bool:
    from explore.run import reader

    reader.guard(folder)
    tables = all((folder / name).is_file() for name in reader.TOLD_OF)
    return not tables or bool(
        reader.read_told(folder)
    )  # what lacks a table is refused by the page in its own words


def _tell(folder: Path) -> None:
    """Work out what is told of every design of a run that was left by an earlier version; where that fails, say why."""
    from explore.run import folder as runs
    from explore.run import reader
    from explore.tasks.results import write_told

    try:
        case, summary = reader.judged_case(folder), reader.read_summary(folder)
        front, designs = (runs.read_frame(folder / f"{name}.csv") for name in ("front", "designs"))
        broken = summary.get("broken_with_tubes", {})
        tubes = {int(line): {"broken": dict.fromkeys(names)} for line, names in broken.items()}
        write_told(folder, case, front, designs, float(summary["air_pressure_bar_a"]), tubes)
    except (InputError, KeyError) as error:
        print(f"cautions of designs without a sheet are not worked out: {error}", file=sys.stderr)
