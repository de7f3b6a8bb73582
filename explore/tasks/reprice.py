"""Judges a run's archive again under a changed case."""

from __future__ import annotations

import logging
from pathlib import Path

from explore.config.schema import Case
from explore.config.tasks import RepriceTask
from explore.errors import InputError
from explore.run import folder as runs
from explore.run import reader
from explore.tasks.results import leave_handbook, own_designs, show_designs, write_results
from explore.tell.terminal import say

LOG = logging.getLogger("explore")


def run(case: Case, task: RepriceTask, command: str) -> Path:
    """Judge a run's archive again under the changed case, and leave a run's folder of its own."""
    from explore.search import reprice
    from explore.tell.closing import closing
    from explore.tell.page import taught, write_page

    if task.run is None:
        raise InputError("task=reprice needs run=results/<scenario>/<time>, and what is to change")
    archive = runs.read_frame(Path(task.run) / "designs.csv")
    earlier = reader.read_summary(Path(task.run))
    with runs.claimed(case) as folder:
        LOG.info(command)
        outcome = reprice(case, archive, earlier)
        chosen, fluids, layouts = write_results(folder, case, outcome, own_designs(case), command)
        leave_handbook(folder, case)
        page = write_page(folder)
        show_designs(folder, case, outcome)
    words = closing(case, outcome, chosen, fluids, layouts, page, taught=taught(folder))
    say(f"\n{case.scenario.title}, repriced\n{words}")
    return folder
