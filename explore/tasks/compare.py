"""Lays runs side by side on one page."""

from __future__ import annotations

import time
from pathlib import Path

from explore.config.schema import Case
from explore.config.tasks import CompareTask
from explore.errors import InputError
from explore.run import folder as runs


def run(case: Case, task: CompareTask, command: str) -> None:
    """Lay two or more runs side by side on one page in the results folder."""
    folders = [Path(name) for name in task.runs]
    for folder in folders:
        if not folder.is_dir():
            raise InputError(f"runs: {folder}: there is no such folder; give runs=[FOLDER,FOLDER]")
    side_by_side(folders, Path(case.results_folder))


def side_by_side(folders: list[Path], results: Path | None = None) -> None:
    """Write the page that compares runs, at most the first eight, into the results folder they stand in."""
    from explore.tell.page import write_comparison
    from explore.tell.page.comparison import MOST_RUNS

    if len(folders) > MOST_RUNS:
        print(f"the comparison holds the first {MOST_RUNS} of {len(folders)} runs")
    stamp = time.strftime("%Y-%m-%dT%H%M%SZ", time.gmtime())
    page = (results or folders[0].parents[1]) / f"comparison-{stamp}.html"
    made = [place for place in page.parents if not place.exists()]
    try:
        page.parent.mkdir(parents=True, exist_ok=True)
        print(f"page: {write_comparison(folders[:MOST_RUNS], page)}")
    except InputError:
        runs.remove_empty(made)
        raise
    except OSError as error:
        raise InputError(
            f"cannot write {page}: {error.strerror or error}; choose another results_folder"
        ) from error
