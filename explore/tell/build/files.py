"""The folder of a build sheet: a new one, all its files or none."""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from explore.bench.drawing import dxf
from explore.errors import InputError
from explore.whole_file import write_whole

HOME = Path("results/build")


def new_folder(output: str | None, home: Path = HOME) -> Path:
    """Return where to write, not yet made, by default in ``home``.

    Raises :class:`InputError` if it is there already or has no parent.
    """
    if output is None:
        return home / datetime.now(UTC).strftime("%Y%m%d-%H%M%S-%f")
    folder = Path(output)
    try:
        there = folder.exists()
    except OSError as error:
        raise InputError(f"output={output[:60]}: no folder can be called so: {error.strerror}") from error
    if there:
        raise InputError(f"output={output}: it is there already; name a folder that is not")
    if not folder.parent.is_dir():
        raise InputError(f"output={output}: there is no folder {folder.parent}; make it first")
    return folder


def write(folder: Path, page: str, told: Mapping[str, Any]) -> None:
    """Write build.html, parts.csv and build.dxf into a folder of their own; raises :class:`InputError` if it cannot be."""
    files = {
        "build.html": page.encode("utf-8"),
        "parts.csv": parts_csv(told["parts"]).encode("utf-8"),
        "build.dxf": dxf(told["cylinders"], walls_mm(told), told["coils"], told["scheme"]),
    }
    write_files(folder, files, "the sheet")


def write_files(folder: Path, files: Mapping[str, bytes], what: str) -> None:
    """Write files into a folder of their own, all or none; raises :class:`InputError` if it cannot be."""
    try:
        folder.mkdir(parents=True)
    except OSError as error:
        raise InputError(f"{folder}: the folder cannot be made: {error.strerror}") from error
    try:
        for name, content in files.items():
            write_whole(folder / name, content)
    except BaseException as error:  # Ctrl-C as well: a part of a sheet would bar its own folder
        shutil.rmtree(folder, ignore_errors=True)
        if isinstance(error, OSError):
            raise InputError(f"{folder}: {what} cannot be written: {error.strerror}") from error
        raise


def parts_csv(parts: list[dict[str, Any]]) -> str:
    """Return the parts as a table; an empty price is within that of a part before it."""
    text = io.StringIO()
    writer = csv.DictWriter(text, list(parts[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(parts)
    return text.getvalue()


def walls_mm(told: Mapping[str, Any]) -> dict[int, float]:
    """Wall of each stage's cylinder [mm]: that in stock, else the least of the thickest of the materials at hand."""
    found: dict[int, float] = {}
    for one in told["hazards"]["walls"]:
        word, _, stage = str(one["part"]).partition(" ")
        if word == "cylinder" and stage.isdigit():
            found[int(stage)] = max(found.get(int(stage), 0.0), float(one["wall_mm"]))
    return {stage: told["stock_walls"].get(f"cylinder {stage}") or wall for stage, wall in found.items()}
