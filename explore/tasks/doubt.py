"""Tries the designs of a run in many worlds, and leaves the answers beside it."""

from __future__ import annotations

import logging
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from explore.config.schema import Case
from explore.config.tasks import DoubtTask
from explore.errors import InputError, quoted
from explore.run import folder as runs
from explore.run import reader
from explore.run.files import digest, read_frame, write_frame, write_json
from explore.tell.terminal import say

if TYPE_CHECKING:
    import pandas as pd

    from explore.doubt.judge import Done
    from explore.tell.terminal import Progress

LOG = logging.getLogger("explore")
DRAWS, DESIGNS = 1000, 300
"""Worlds and designs of a whole study: under ten minutes on two cores, and a probability within 1.6 %."""
ASKED = "asked for"
"""What a design is called that nobody recommends."""
WORLDS_AN_INDEX = 4
"""Worlds over those from which Sobol' indices start, rounded down to a power of two: then both take about as long."""
LEAST_BASE = 4
"""Least start of the indices, of use in trying the command only: their confidence then says that they are none."""


def run(case: Case, task: DoubtTask, command: str) -> None:
    """Try the designs of a run in many worlds; leaves doubt.json, doubt.csv and the page in the run's folder."""
    from explore.doubt.as_bought import as_bought
    from explore.doubt.choose import chosen
    from explore.doubt.study import bench, report, sensitivity, study, table
    from explore.doubt.weathers import refuse_bad_years
    from explore.model import Evaluator
    from explore.tell import as_bought as bought_words
    from explore.tell import doubts
    from explore.tell.page import write_page
    from explore.tell.terminal import Progress, paragraph

    if task.run is None:
        raise InputError("task=doubt needs run=results/<scenario>/<time>")
    folder = Path(task.run)
    refuse_bad_years(case)
    front, archive = (read_frame(folder / name) for name in ("front.csv", "designs.csv"))
    picks, count = (
        asked_too(reader.read_summary(folder).get("picks", ()), task, len(front)),
        task.draws or DRAWS,
    )
    designs = chosen(case, front, archive, picks, task.designs or DESIGNS)
    few = chosen(case, front, archive, picks, None)
    with runs.logged(folder), Progress() as progress:
        LOG.info(command)
        progress.show([f"preparing {len(designs)} designs and the worlds"], None)
        workers = case.search.workers or os.cpu_count() or 1
        evaluator = Evaluator(case)
        try:
            with bench(evaluator, workers, folder) as quiet:
                found = study(replace(quiet, progress=_teller(progress, "worlds")), designs, count)
                base = 1 << max(count // WORLDS_AN_INDEX, LEAST_BASE).bit_length() - 1
                part = replace(quiet, progress=_teller(progress, "worlds for what matters"))
                matters = sensitivity(part, few, base)
                built = replace(quiet, progress=_teller(progress, "worlds for the plants as bought"))
                bought = as_bought(built, designs, count)
        except KeyboardInterrupt as stop:
            raise KeyboardInterrupt("what was done is kept; go on with the same command") from stop
        answers = report(found, matters) | {"as_bought": bought, "command": command}
        answers |= {"front": digest(folder / "front.csv")}
        _write(folder, answers, table(found))
    told = [*doubts.told(answers, case), *bought_words.told(answers)]
    say("\n\n".join(words if "\n" in words else paragraph(words) for words in told))
    if measures := doubts.measure_words(answers):
        say("\nWhat to measure first:")
        say("\n".join(paragraph(words) for words in measures))
    say(f"\nPage: {write_page(folder)}")


def asked_too(picks: Sequence[Mapping[str, Any]], task: DoubtTask, count: int) -> list[Mapping[str, Any]]:
    """Return the recommended designs, and with them the line of a front of ``count`` that was asked for."""
    if task.row is None:
        return [*picks]
    if task.row > count:
        raise InputError(
            f"task=doubt row={quoted(task.row)}: front.csv of run={task.run} holds the designs 1 to {count}"
        )
    known = any(int(pick["row"]) == task.row for pick in picks)
    return [*picks, *([] if known else [{"row": task.row, "role": ASKED}])]


def _teller(progress: Progress, what: str) -> Callable[[Done], None]:
    return lambda done: progress.show([f"{done.worlds:,} of {done.of:,} {what}"], done.seconds_left)


def _write(folder: Path, answers: dict[str, Any], designs: pd.DataFrame) -> None:
    write_frame(folder / "doubt.csv", designs)
    write_json(folder / "doubt.json", answers)
