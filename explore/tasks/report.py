"""Builds the page of a past run again."""

from __future__ import annotations

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
    print(f"page: {write_page(folder)}")
