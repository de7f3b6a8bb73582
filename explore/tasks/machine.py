"""Runs a given machine at its conditions."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from explore.config.schema import Case
from explore.config.tasks import MachineTask
from explore.errors import InputError
from explore.run.files import write_frame
from explore.tell.terminal import say

if TYPE_CHECKING:
    import pandas as pd


def run(case: Case, task: MachineTask, command: str) -> None:
    """Print what a given machine does; write its figures and indicator diagrams where ``output`` says."""
    from explore.model.given import run_given
    from explore.tell.machine import machine_table

    if task.machine is None:
        raise InputError("task=machine needs machine=FILE.yaml")
    files = [] if task.output is None else _files(Path(task.output))
    done = run_given(task.machine, case, conditions=task.conditions)
    if files:
        _write(dict(zip(files, (done.figures, done.diagram), strict=True)))
    say(machine_table(done, case.engine.losses))
    for file, what in zip(files, ("figures", "indicator diagrams"), strict=False):
        say(f"{what}: {file}")


def _files(output: Path) -> list[Path]:
    """The two files to be written; raises :class:`InputError` for a name that will not do or is taken."""
    if output.suffix.lower() != ".csv":
        raise InputError(f"output={output}: a file ending in .csv is expected")
    files = [output, output.with_name(f"{output.stem}-diagram{output.suffix}")]
    for file in files:
        if file.exists():
            raise InputError(f"output={output}: {file} is there already; choose another name")
    if not output.parent.is_dir():
        raise InputError(f"output={output}: there is no folder {output.parent}; make it first")
    return files


def _write(tables: dict[Path, pd.DataFrame]) -> None:
    """Write all tables or none."""
    written: list[Path] = []
    try:
        for file, table in tables.items():
            write_frame(file, table)
            written.append(file)
    except InputError:
        for file in written:
            file.unlink(missing_ok=True)
        raise
