"""Carries out legs of a campaign that is kept in a database."""

from __future__ import annotations

import logging

from explore.config.schema import Case
from explore.config.tasks import WorkTask
from explore.tasks.results import tell
from explore.tell.terminal import Progress

LOG = logging.getLogger("explore")


def run(case: Case, task: WorkTask, command: str) -> None:
    """Carry out legs of a campaign in a database until it is finished, or this process is told to end."""
    from explore.search import work

    LOG.info(command)
    stops: list[str] = []
    with Progress() as progress:
        legs = work(
            case,
            progress=lambda state: tell(progress, state),
            stopped=lambda: stops.append("the campaign goes on; join it again with the same command"),
        )
    print(f"{legs} legs carried out here")
    if stops:
        raise KeyboardInterrupt(stops[0])
