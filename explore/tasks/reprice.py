"""Judges a run's archive again under a changed case."""

from __future__ import annotations

import logging
from pathlib import Path

from explore.config.goals import over_worlds
from explore.config.schema import Case
from explore.config.tasks import RepriceTask
from explore.errors import InputError
from explore.figures.readings import NOMINAL
from explore.run import folder as runs
from explore.run import reader
from explore.run.files import read_frame
from explore.tasks.results import leave_handbook, own_designs, show_designs, write_results
from explore.tell.terminal import say

OWN_VALUES = (
    "The run was searched against many worlds; here its designs are judged by the values of the case alone. A new search "
    "with search.against finds what many worlds make of the change.",
)
LOG = logging.getLogger("explore")


def run(case: Case, task: RepriceTask, command: str) -> Path:
    """Judge a run's archive again under the changed case, and leave a run's folder of its own."""
    from explore.search import reprice
    from explore.tell.closing import closing
    from explore.tell.page import write_and_teach

    if task.run is None:
        raise InputError("task=reprice needs run=results/<scenario>/<time>, and what is to change")
    archive = read_frame(Path(task.run) / "designs.csv")
    earlier = reader.read_summary(Path(task.run))
    over = over_worlds(case)
    if over:  # the archive is judged once, by the values of the case
        case = case.model_copy(update={"search": case.search.model_copy(update={"against": NOMINAL})})
    with runs.claimed(case) as folder:
        LOG.info(command)
        outcome = reprice(case, archive, earlier)
        chosen, fluids, layouts = write_results(folder, case, outcome, own_designs(case), command)
        leave_handbook(folder, case)
        page, taught = write_and_teach(folder)
        show_designs(folder, case, outcome)
    sure = OWN_VALUES if over else ()
    words = closing(case, outcome, chosen, fluids, layouts, page, sure, taught)
    say(f"\n{case.scenario.title}, repriced\n{words}")
    return folder
