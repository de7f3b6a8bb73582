"""How files of a run are written: whole or not at all, a full or forbidden disk told in a sentence."""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from explore.config.files import table_text
from explore.errors import InputError
from explore.whole_file import replacing, write_whole

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

ARCHIVE_DIGITS = "%.9g"


class UnwritableError(InputError):
    """A file cannot be written: the disk is full, the folder has gone, or it may not be written to."""


def write_text(path: Path, text: str) -> None:
    """Write ``text`` so that ``path`` holds either its old content or all of the new one."""
    with _replacing(path) as file:
        file.write(text)


@contextmanager
def _replacing(path: Path) -> Iterator[Any]:
    try:
        with replacing(path, "w", encoding="utf-8", newline="") as file:
            yield file
    except OSError as error:
        raise UnwritableError(f"cannot write {path}: {error.strerror or error}") from error


def write_json(path: Path, data: Mapping[str, Any] | list[dict[str, Any]], *, indent: int | None = 1) -> None:
    """Write JSON with numpy numbers made plain; a number that is not finite becomes null."""
    write_text(path, json.dumps(_plain(data), indent=indent, ensure_ascii=False, allow_nan=False) + "\n")


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if hasattr(value, "tolist"):
        return _plain(value.tolist())
    if isinstance(value, float):
        return value if value - value == 0.0 else None
    return value


def write_yaml(path: Path, data: Mapping[str, Any], *, heading: str = "") -> None:
    """Write YAML in the order given, after a comment line."""
    import yaml

    text = yaml.safe_dump(dict(data), sort_keys=False, allow_unicode=True, width=100)
    write_text(path, (f"# {heading}\n" if heading else "") + text)


def write_bytes(path: Path, content: bytes) -> None:
    """Write bytes, with whatever folders they need."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, content)
    except OSError as error:
        raise UnwritableError(f"cannot write {path}: {error.strerror or error}") from error


def write_frame(
    path: Path, frame: pd.DataFrame, *, shorten_from: str | None = None, whole: Collection[str] = ()
) -> None:
    """Write a table as CSV, empty cells for what does not apply.

    Numbers have all their digits; from the column ``shorten_from`` on they are cut to
    :data:`ARCHIVE_DIGITS`, which halves a large file, but for the columns ``whole``: by these designs are compared with
    those of other files, and a digit less would let one beat another that it equals.
    """
    if shorten_from in frame.columns:
        frame = frame.copy(deep=False)
        for name in frame.columns[frame.columns.get_loc(shorten_from) :]:
            if frame[name].dtype.kind == "f" and name not in whole:
                frame[name] = _short(frame[name].to_numpy())
    with _replacing(path) as file:
        frame.to_csv(file, index=False, lineterminator="\n")


def _short(values: np.ndarray) -> np.ndarray:
    import numpy as np

    return np.where(np.isnan(values), "", np.char.mod(ARCHIVE_DIGITS, values))


def write_array(path: Path, array: np.ndarray) -> None:
    """Write an array as a file of its own, whole or not at all."""
    import numpy as np

    content = io.BytesIO()
    np.save(content, np.ascontiguousarray(array), allow_pickle=False)
    write_bytes(path, content.getvalue())


def digest(path: Path) -> str:
    """SHA-256 of a file, as hexadecimal text."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _filled(frame: pd.DataFrame) -> pd.DataFrame:
    """Hours bridged: those of running where the engine never fades, on a stratified store."""
    if {"autonomy_hours", "store_mode"} <= set(frame) and "bridged_hours" not in frame:
        import pandas as pd

        hours = frame["autonomy_hours"].where(frame["store_mode"] == "stratified")
        return pd.concat([frame, hours.rename("bridged_hours")], axis=1)
    return frame


def read_frame(path: Path) -> pd.DataFrame:
    """Read a CSV table; raises :class:`InputError` if it is missing, empty or broken.

    What runs of before lack is filled in where it follows from what they have.
    """
    import pandas as pd

    try:
        text = table_text(path, str(path))
        # the engine in Python alone reads floats exactly in pandas 2
        return _filled(pd.read_csv(io.StringIO(text, newline=""), engine="python"))
    except (OSError, ValueError) as error:
        raise InputError(f"cannot read {path}: {str(error).splitlines()[0]}") from error
