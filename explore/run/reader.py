"""Reads what a run's folder holds as data, whoever sent it: nothing in it is run, resolved, followed or obeyed.

Where results go and which database is used come from the command, never from a folder (:func:`borrowed`).
"""

from __future__ import annotations

import io
import json
import math
import os
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, TypeAdapter, ValidationError

from explore.config.compose import checked
from explore.config.explain import yaml_problem
from explore.config.files import plain
from explore.config.plain_yaml import MOST_BYTES, parse
from explore.config.refusals import refuse_newer
from explore.config.schema import Case
from explore.config.tasks import every_key
from explore.errors import InputError
from explore.run.carried import OWN, WEATHER, YEARS, at_own, at_weather, at_years
from explore.run.files import digest, read_frame
from explore.run.shapes import Check, Doubt, Sheets, Summary, Told

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

MOST_JSON_BYTES = 200_000_000  # sheets of some hundred designs have 10 MB
MOST_FILES = 1_000_000
"""A folder with more is no run, and counting it would take minutes."""


TOLD_OF = ("front.csv", "designs.csv")
"""The tables whose lines told.json speaks of."""


@dataclass(frozen=True)
class Run:
    """What a run left, read back: its case, tables and summary."""

    folder: Path
    case: Case
    designs: pd.DataFrame
    front: pd.DataFrame
    fluids: pd.DataFrame
    summary: dict[str, Any]


def read(folder: str | Path) -> Run:
    """Read a run's folder back; raises :class:`InputError` naming the file that is missing or broken."""
    folder = Path(folder)
    case = read_case(folder)
    tables = {name: read_frame(folder / f"{name}.csv") for name in ("designs", "front", "fluids")}
    return Run(folder, case, summary=read_summary(folder), **tables)


def guard(folder: Path) -> None:
    """Refuse a run's folder that holds a link out of it, or what is neither file nor folder.

    Raises :class:`InputError` naming the entry.
    """
    home = folder.resolve()
    for count, path in enumerate(_entries(folder)):
        if count > MOST_FILES:
            raise InputError(f"{folder} holds more than {MOST_FILES} files; it is no run")
        kind = path.lstat().st_mode
        if stat.S_ISLNK(kind):
            if not path.resolve().is_relative_to(home):
                raise InputError(f"{path} is a link out of the run's folder; put the file itself there")
        elif not stat.S_ISREG(kind) and not stat.S_ISDIR(kind):
            raise InputError(f"{path} is neither a file nor a folder; a run holds no such thing")


def _entries(folder: Path) -> Any:
    for place, folders, files in os.walk(folder):
        for name in (*folders, *files):
            yield Path(place, name)


def read_text(path: Path, most: int = MOST_BYTES) -> str:
    """Read a file of a run as UTF-8 text of at most ``most`` bytes; raises :class:`InputError`."""
    try:
        with path.open(encoding="utf-8") as file:  # a device has no size to ask for
            text = file.read(most + 1)
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise InputError(f"cannot read {path}: {reason}") from error
    if len(text) > most:
        raise InputError(f"{path} is larger than {most // 1000:,} kB; a run holds no such file")
    return text


def read_case(folder: Path) -> Case:
    """Read the configuration of a run, as it stands in its file; raises :class:`InputError`."""
    return _read_case(folder)[0]


def judged_case(folder: Path) -> Case:
    """Read the configuration of a run for judging designs by it: weather files and own designs are its own copies.

    Runs of before the version key have no copy; their files stand where their configuration says.
    Raises :class:`InputError`, also for a copy that is missing or not what the run was judged by.
    """
    case, version = _read_case(folder)
    case = at_own(case, [_own_copy(folder, file) if version else Path(file) for file in case.report.own])
    case = at_years(case, [_year_copy(folder, file) for file in case.doubt.weather_years])
    spec = case.scenario.site.weather
    if version is None or spec.startswith("pvlib:"):
        return case
    place, _, name = spec.partition("/")
    if place != WEATHER or name in ("", ".", "..") or Path(name).name != name:
        raise InputError(
            f"{folder / 'config.yaml'}: scenario.site.weather is {spec[:80]!r}; a run's weather file stands in its own "
            f"folder, {WEATHER}/NAME"
        )
    copy = folder / WEATHER / name
    if not copy.is_file():
        raise InputError(f"{copy} is missing: the run was judged by this weather file; put it back")
    noted = (
        read_summary(folder).get("hashes", {}).get("weather") if (folder / "summary.json").is_file() else None
    )
    if noted is not None and digest(copy) != noted:
        raise InputError(
            f"{copy} is not the weather file this run was judged by (another SHA-256 than in summary.json); "
            "put that one back"
        )
    return at_weather(case, copy.resolve())


def _year_copy(folder: Path, file: str) -> str:
    """Return where a weather year of a run's doubt stands: in its own folder, or shipped with pvlib."""
    if file.startswith("pvlib:"):
        return file
    parts = file.split("/")
    if len(parts) != 3 or parts[0] != YEARS or not parts[1].isdecimal() or parts[2] in ("", ".", ".."):
        raise InputError(
            f"{folder / 'config.yaml'}: doubt.weather_years has {file[:80]!r}; a run's weather years stand in its own "
            f"folder, {YEARS}/NUMBER/NAME"
        )
    copy = folder / file
    if not copy.is_file():
        raise InputError(f"{copy} is missing: the run's doubt has this weather year; put it back")
    return str(copy.resolve())


def _own_copy(folder: Path, file: str) -> Path:
    """Return where a file of own designs stands: in the run's folder if it was copied there."""
    parts = file.split("/")
    if len(parts) != 3 or parts[0] != OWN or not parts[1].isdecimal() or parts[2] in ("", ".", ".."):
        return Path(file)
    copy = folder / file
    if not copy.is_file():
        raise InputError(f"{copy} is missing: the run showed these designs of your own; put it back")
    return copy.resolve()


def _read_case(folder: Path) -> tuple[Case, int | None]:
    """Read a run's configuration and its version; None is one of before there were any."""
    from yaml import YAMLError

    path = folder / "config.yaml"
    guard(folder)
    if not path.is_file():
        raise InputError(
            f"{folder} is no run: a folder results/<scenario>/<time> with a config.yaml is expected"
        )
    try:
        content = parse(read_text(path), path)
    except YAMLError as error:
        raise InputError(yaml_problem(error, path)) from error
    if not isinstance(content, dict):
        raise InputError(f"{path}: lines of `key: value` are expected")
    try:
        if "version" in content:
            refuse_newer(content["version"])
        strange = [str(key) for key in content if key not in Case.model_fields and key != "version"]
        if strange:
            raise InputError(f"a run's configuration has no key {strange[0][:60]!r}")
        return checked(plain(content)), content.get("version")
    except InputError as error:
        raise InputError(f"{path}: {error}") from error


def borrowed(case: Case) -> dict[str, Any]:
    """Return a run's configuration as data for another command to start from.

    Results folder, database and artifact store are left to the command; the task is a plain search.
    """
    data = case.model_dump(mode="json") | {"task": every_key()}
    data["results_folder"] = Case.model_fields["results_folder"].get_default()
    data["search"] |= {"storage": None, "artifacts": None}
    return data


def read_json(path: Path) -> Any:
    """Read a JSON file of a run; numbers that are not finite become None; raises :class:`InputError`."""
    try:
        return json.loads(read_text(path, MOST_JSON_BYTES), parse_constant=lambda _: None)
    except RecursionError as error:
        raise InputError(f"{path} is nested too deep to be a file of a run") from error
    except ValueError as error:
        raise InputError(
            f"{path} is not valid JSON ({str(error)[:80]}); the run may have been cut short"
        ) from error


def read_array(path: Path, shape: tuple[int, ...]) -> np.ndarray:
    """Read an array of numbers of this ``shape``; raises :class:`InputError` for anything else in the file."""
    import numpy as np

    # The header of a file may claim any size: what it must be for this shape is known, and nothing of it is believed.
    header = io.BytesIO()
    facts = {"descr": "<f8", "fortran_order": False, "shape": shape}
    np.lib.format.write_array_header_1_0(header, facts)
    head, size = header.getvalue(), 8 * math.prod(shape)
    try:
        with path.open("rb") as file:
            content = file.read(len(head) + size + 1)
    except OSError as error:
        raise InputError(f"cannot read {path}: {error.strerror or error}") from error
    if len(content) != len(head) + size or not content.startswith(head):
        raise InputError(f"{path} holds another array than expected; remove it")
    return np.frombuffer(content, "<f8", offset=len(head)).reshape(shape).astype(np.float64)


def read_summary(folder: Path) -> dict[str, Any]:
    """Read ``summary.json``, its keys checked by :class:`~explore.run.shapes.Summary`."""
    return _mapping(folder / "summary.json", Summary)


def read_sheets(folder: Path) -> dict[str, Any]:
    """Read ``sheets.json``, its keys checked by :class:`~explore.run.shapes.Sheets`."""
    return _mapping(folder / "sheets.json", Sheets)


def read_told(folder: Path) -> dict[str, Any]:
    """Read ``told.json``, its keys checked by :class:`~explore.run.shapes.Told`.

    Empty if there is no such file, or none of these very tables.
    """
    path = folder / "told.json"
    found = _mapping(path, Told) if path.exists() else {}
    return found if found.get("of") == {name: digest(folder / name) for name in TOLD_OF} else {}


def read_doubt(folder: Path) -> dict[str, Any]:
    """Read ``doubt.json``, its keys checked by :class:`~explore.run.shapes.Doubt`.

    An empty mapping if there is no such file. Answers about another front than the run now has, as after it was gone on
    with, are none.
    """
    path, front = folder / "doubt.json", folder / "front.csv"
    found = _mapping(path, Doubt) if path.exists() else {}
    if found.get("front") and front.is_file() and digest(front) != found["front"]:
        return {}
    return found


def read_checks(folder: Path) -> tuple[dict[str, Any], ...]:
    """Read ``checks.json``: a list of :class:`~explore.run.shapes.Check`; none if there is no such file."""
    path = folder / "checks.json"
    if not path.exists():
        return ()
    rows = read_json(path)
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise InputError(f"{path} does not hold a list of checks; the run may have been cut short")
    _refuse_other(path, TypeAdapter(list[Check]), rows)
    return tuple(rows)


def _mapping(path: Path, model: type[BaseModel]) -> dict[str, Any]:
    found = read_json(path)
    if not isinstance(found, dict):
        raise InputError(f"{path} holds a {type(found).__name__}; a mapping is expected")
    _refuse_other(path, TypeAdapter(model), found)
    return found


def _refuse_other(path: Path, shape: TypeAdapter[Any], found: Any) -> None:
    """Refuse what has another shape; raises :class:`InputError` with the first place where it has."""
    try:
        shape.validate_python(found)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise InputError(f"{path}: {where[:60]}{': ' if where else ''}{first['msg'][:100]}") from error
