"""Carries out legs of a campaign that is kept in a database."""

from __future__ import annotations

import logging

from explore.config.goals import over_worlds, sought
from explore.config.schema import Case
from explore.config.tasks import WorkTask
from explore.tasks.results import tell
from explore.tell.terminal import Progress

LOG = logging.getLogger("explore")
REJOIN = "the campaign goes on; join it again with the same command"


def run(case: Case, task: WorkTask, command: str) -> None:
    """Carry out legs of a campaign in a database until it is finished, or this process is told to end.

    Raises :class:`KeyboardInterrupt` with how to go on in the latter case.
    """
    from explore.doubt.against import made
    from explore.search import work

    LOG.info(command)
    stops: list[str] = []
    try:
        with Progress() as progress:
            legs = work(
                sought(case),
                evaluator=made if over_worlds(case) else None,
                progress=lambda state: tell(progress, state),
                stopped=stops.append,
            )
    except KeyboardInterrupt as stop:  # before the first leg, or for the second time
        raise KeyboardInterrupt(REJOIN) from stop
    print(f"{legs} legs carried out here")
    if stops:
        raise KeyboardInterrupt("; ".join(filter(None, [REJOIN, *stops])))
