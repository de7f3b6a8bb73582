"""Builds the page of a past run again."""

from __future__ import annotations

import sys
from pathlib import Path

from explore.config.schema import Case
from explore.config.tasks import ReportTask
from explore.errors import InputError


def run(case: Case, task: ReportTask, command: str) -> None:
    """Build the page of a past run again."""
    from explore.tasks.results import leave_handbook
    from explore.tell.page import write_page
    from explore.tell.page.data import read_run

    if task.run is None:
        raise InputError("task=report needs run=results/<scenario>/<time>")
    folder = Path(task.run)
    if not folder.is_dir():
        raise InputError(f"run={folder}: there is no such folder")
    read_run(folder)  # refuses a broken run before anything is written
    trouble = "" if _told(folder) else _tell(folder)
    leave_handbook(folder, case)
    page = write_page(folder)
    if trouble:
        print(f"cautions of designs without a sheet are not worked out: {trouble}", file=sys.stderr)
    print(f"page: {page}")


def _told(folder: Path) -> bool:
    """Whether told.json speaks of the run's tables; of a run that lacks one the page says so in its own words."""
    from explore.run import reader

    reader.guard(folder)
    tables = all((folder / name).is_file() for name in reader.TOLD_OF)
    return not tables or bool(reader.read_told(folder))


def _tell(folder: Path) -> str:
    """Work out what is told of every design of a run that was left by an earlier version; return why where that fails."""
    from explore.design.designs import checked
    from explore.model import Evaluator
    from explore.run import reader
    from explore.run.files import read_frame
    from explore.tasks.results import write_told

    try:
        case = reader.judged_case(folder)
        front, designs = (read_frame(folder / f"{name}.csv") for name in ("front", "designs"))
        evaluator = Evaluator(case)
        for table in (front, designs):
            checked(table, evaluator.fluids, evaluator.collectors, evaluator.usual)
        write_told(folder, evaluator, front, designs)
    except KeyError as error:
        return f"the run has no {error.args[0]}"
    except (InputError, TypeError, ValueError) as error:
        return str(error).splitlines()[0]
    return ""
