"""A small real run: what page and browser tests open. It is searched once a test session, with one worker."""

from __future__ import annotations

import shutil
import subprocess
import sys
from functools import lru_cache
from pathlib import Path

from explore.tell.page import write_page
from explore.tell.page.data import Run, read_run

SEARCH = (
    "search.designs=12000",
    "search.leg_designs=2000",
    "search.seconds=null",
    "search.seed=1",
    "search.workers=1",
    "report.sheets=400",
)
TITLE = 'Made up <b>"run"</b> & <script>alert("1")</script> <img src=x onerror=alert(2)>'
"""Of the run whose page is opened: what of it is taken for markup shows."""


def search(results: Path) -> Path:
    """Search the default scenario with a few thousand designs and return the run's folder."""
    command = [sys.executable, "-m", "explore", "scenario=orchard", *SEARCH, f"results_folder={results}"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    run = found(results)
    assert done.returncode == 0, done.stderr
    assert run is not None
    return run


def found(results: Path) -> Path | None:
    """Return the folder of the run in ``results``, None before there is one."""
    return next((config.parent for config in results.glob("*/*/config.yaml")), None)


@lru_cache(maxsize=4)
def once_read(run: Path) -> Run:
    """Read a run that no test changes, once a process: its designs take a third of a second."""
    return read_run(run)


def copy(run: Path, target: Path, *, title: str | None = None) -> Path:
    """Copy a run without its page, so that a test can change it; ``title`` replaces its scenario's."""
    shutil.copytree(
        run, target, ignore=shutil.ignore_patterns("report.html", "legs", "campaign.*", "designs.journal")
    )
    if title is not None:
        from omegaconf import OmegaConf

        config = OmegaConf.load(target / "config.yaml")
        config.scenario.title = title
        (target / "config.yaml").write_text(OmegaConf.to_yaml(config), encoding="utf-8")
    return target


def titled(run: Path, target: Path) -> Path:
    """Copy a run under a title that holds markup, with its page."""
    write_page(copy(run, target, title=TITLE))
    return target
