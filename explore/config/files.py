"""Where configuration files lie, and how they are read: as data, a sentence for each that cannot be."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from explore.config.explain import yaml_problem
from explore.config.plain_yaml import parse, read
from explore.errors import InputError

MOST_TABLE = 500_000_000
"""A million designs with all their figures; a file without end would fill the memory."""


def config_folder() -> Path:
    """Return the folder of the shipped configs: in an installed wheel, or beside the package in a clone."""
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "_configs", package.parent / "configs"):
        if (folder / "config.yaml").is_file():
            return folder
    raise InputError("the configs folder is missing: install the package again, or run from a whole clone")


def read_yaml(path: Path) -> dict[str, Any]:
    """Read a YAML file that holds a mapping; anything else is refused with its line."""
    return _mapping(path, interpolation=True)


def read_plain_yaml(path: Path) -> dict[str, Any]:
    """Read a YAML file that holds a mapping of plain data; it is never composed, so it may not interpolate."""
    return _mapping(path, interpolation=False)


def _mapping(path: Path, *, interpolation: bool) -> dict[str, Any]:
    content = parsed(path, interpolation=interpolation)
    if not isinstance(content, dict) or not content:
        raise InputError(f"{path}: lines of `key: value` are expected")
    return plain(content)


def parsed(path: Path, *, interpolation: bool) -> Any:
    """Parse a YAML file within the bounds of :mod:`explore.config.plain_yaml`."""
    from yaml import YAMLError

    try:
        return parse(read(path), path, interpolation=interpolation)
    except YAMLError as error:
        raise InputError(yaml_problem(error, path)) from error
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not a YAML text"
        raise InputError(f"cannot read {path}: {reason}") from error


def table_text(path: Path, named: str) -> str:
    """Read a CSV table as text, once, for it may be a pipe; ``named`` as the user did. Raises OSError.

    A first line with more cells than names, as a decimal comma makes it, is refused: pandas would take its first cell for
    the name of the line, and move all others by one column.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            text = file.read(MOST_TABLE + 1)
    except UnicodeDecodeError as error:
        raise InputError(f"{named}: cannot read it: it is no text in UTF-8") from error
    if len(text) > MOST_TABLE:
        raise InputError(
            f"{named}: larger than {MOST_TABLE // 1_000_000} MB; no table of a run or of conditions is"
        )
    lines = (line for line in csv.reader(io.StringIO(text, newline="")) if line)
    try:
        names, first = next(lines, []), next(lines, [])
    except csv.Error as error:
        raise InputError(f"{named}: it is no CSV table ({error})") from error
    if len(first) > len(names):
        raise InputError(
            f"{named}: the first line has {len(first)} cells, the line of names {len(names)}; write 1.5, not 1,5"
        )
    return text


def cards(folders: Iterable[Path], group: str) -> dict[str, dict[str, Any]]:
    """Read every card of ``group`` (``fluid`` or ``collector``) in ``folders``, keyed by file stem."""
    files = [path for folder in folders for path in sorted((folder / group).glob("*.yaml"))]
    return {path.stem: read_yaml(path) for path in files}


def plain(container: Any) -> dict[str, Any]:
    """Return the composed container as a dict with text keys."""
    return {str(key): value for key, value in container.items()}
