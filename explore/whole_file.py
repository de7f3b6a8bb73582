"""Files written whole or not at all, and what writers that were killed have left."""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

LONGEST_NAME = 255
"""Bytes of a file's name on the usual file systems."""
PART = re.compile(r"\..*\.([1-9][0-9]{0,9})\.part", re.DOTALL)
_under_way: set[Path] = set()


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that, whatever happens, ``path`` holds all of ``content`` or what it held before.

    Raises :class:`OSError` if it cannot be written; nothing is then left beside it.
    """
    with replacing(path) as file:
        file.write(content)


@contextmanager
def replacing(path: Path, mode: str = "wb", **options: Any) -> Iterator[IO[Any]]:
    """Open a file to be written beside ``path`` that takes its place, forced to the disk, once it is complete.

    ``mode`` and ``options`` are those of :func:`open`. Raises :class:`OSError` if it cannot be written; after
    this or any other error ``path`` is as it was.
    """
    unfinished = part_of(path)
    _under_way.add(unfinished)
    try:
        with unfinished.open(mode, **options) as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        os.replace(unfinished, path)
        sync_folder(path.parent)
    finally:
        with contextlib.suppress(OSError):
            unfinished.unlink(missing_ok=True)
        _under_way.discard(unfinished)


def part_of(path: Path) -> Path:
    """Where this process writes a file that is to become ``path``: ``.NAME.PID.part``, NAME cut to what fits."""
    end = f".{os.getpid()}.part"
    name = path.name
    room = LONGEST_NAME - len(f".{end}")
    if len(os.fsencode(name)) > room:
        name = os.fsencode(name)[:room].decode("utf-8", "ignore")
    return path.with_name(f".{name}{end}")


def clean(folder: Path) -> None:
    """Remove the unfinished files in ``folder`` whose writers no longer live; those of living ones stay.

    Where a system does not tell who lives, and where a file cannot be removed, it stays.
    """
    with contextlib.suppress(OSError):
        for path in list(folder.iterdir()):
            found = PART.fullmatch(path.name)
            if found and not path.is_dir() and not _has_writer(path, int(found[1])):
                with contextlib.suppress(OSError):
                    path.unlink()


def _has_writer(path: Path, process: int) -> bool:
    if process == os.getpid():  # another one had this number before: usual in containers
        return path in _under_way
    if os.name != "posix":  # elsewhere signal 0 ends the process
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True


def sync_folder(folder: Path) -> None:
    """Force a folder's entries to the disk, where the system can."""
    if not hasattr(os, "O_DIRECTORY"):
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
