"""The handbook that stands beside the results, to which their pages link: known by its first lines."""

from __future__ import annotations

from pathlib import Path

NAME = "handbook.html"
UP = f"../../{NAME}"
"""From a page in results/<scenario>/<time> to the handbook in results."""
MARK = "<!-- handbook of explore -->"
"""The second line of the file, by which an earlier handbook is known and may be written anew."""
HEAD_BYTES = 200
"""What holds the mark and the version, and is read of a file that may be anything."""


def is_handbook(file: Path) -> bool:
    """Whether a file is a handbook of any version; raises :class:`OSError` where it cannot be read."""
    return MARK in _head(file)


def is_of(file: Path, version: str) -> bool:
    """Whether a file is the handbook of a version; raises :class:`OSError` where it cannot be read."""
    return is_handbook(file) and versioned(version) in _head(file)


def link(run_folder: Path) -> str:
    """Return the way from a run's page to the handbook, empty where none stands beside the results."""
    try:
        return UP if is_handbook(run_folder / UP) else ""
    except OSError:
        return ""


def versioned(version: str) -> str:
    """Return the words by which a handbook tells its version."""
    return f'data-version="{version}"'


def _head(file: Path) -> str:
    if not file.is_file():
        return ""
    with file.open("rb") as opened:
        return opened.read(HEAD_BYTES).decode("utf-8", errors="replace")
