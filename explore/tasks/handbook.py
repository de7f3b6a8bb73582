"""Writes the handbook: tutorial, how-to pages, theory and references, as one file that opens offline."""

from __future__ import annotations

from pathlib import Path

from explore.config.schema import Case
from explore.config.tasks import HandbookTask
from explore.errors import InputError
from explore.run.files import UnwritableError, write_text


def run(case: Case, task: HandbookTask, command: str) -> None:
    """Write the handbook to ``file``; an earlier handbook there is written anew, nothing else is."""
    from explore import __version__
    from explore.tell.handbook import handbook
    from explore.tell.shelf import is_handbook

    file = Path(task.file or "handbook.html")
    if file.suffix != ".html":
        raise InputError(f"file={file}: a name that ends in .html is expected")
    try:
        strange = file.exists() and not is_handbook(file)
    except OSError as error:
        raise InputError(f"file={str(file)[:60]}: it cannot be read: {error.strerror}") from error
    if strange:
        raise InputError(f"file={file}: it is there already and is no handbook; choose another name")
    if not file.parent.is_dir():
        raise InputError(f"file={file}: there is no folder {file.parent}; make it first")
    try:
        write_text(file, handbook(case, __version__))
    except UnwritableError as error:
        raise InputError(str(error)) from error
    print(f"handbook: {file}")
