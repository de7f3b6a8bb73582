"""Legs as files: written whole or not at all, checked when read.

A leg's file is a NumPy archive of plain arrays (nothing in it is executed when it is read); its zip
container carries a checksum of every array, so that a torn or altered file is noticed.
"""

from __future__ import annotations

import contextlib
import io
import json
import zipfile
from dataclasses import asdict
from pathlib import Path
from typing import BinaryIO

import numpy as np

from explore.search.leg import Result, Tally
from explore.search.population import Genes, Known
from explore.whole_file import write_whole


class TornError(Exception):
    """A leg's file is missing, incomplete or not one."""


def pack(result: Result) -> bytes:
    """Turn a leg's result into the content of its file."""
    facts = {
        "number": result.number,
        "focus": result.focus,
        "tally": asdict(result.tally),
        "seconds": result.seconds,
        "model_seconds": result.model_seconds,
    }
    content = io.BytesIO()
    np.savez(
        content,
        unit=result.known.genes.unit,
        choices=result.known.genes.choices.astype(np.int16),
        values=result.known.values,
        breach=result.known.breach,
        facts=np.frombuffer(json.dumps(facts).encode(), np.uint8),
    )
    return content.getvalue()


def unpack(content: bytes) -> Result:
    """Read the content of a leg's file; raises :class:`TornError` if it is damaged."""
    try:
        with np.load(io.BytesIO(content), allow_pickle=False) as arrays:
            facts = json.loads(arrays["facts"].tobytes())
            genes = Genes(arrays["unit"], arrays["choices"].astype(int))
            known = Known(genes, arrays["values"], arrays["breach"])
        _refuse_wrong(known)
        tally = Tally(**facts["tally"])
        return Result(facts["number"], facts["focus"], known, tally, facts["seconds"], facts["model_seconds"])
    except (OSError, ValueError, KeyError, TypeError, EOFError, zipfile.BadZipFile) as error:
        raise TornError(str(error) or type(error).__name__) from error


def _refuse_wrong(known: Known) -> None:
    """Raise :class:`TornError` for arrays that no leg holds: wrong shape, kind or range."""
    unit, choices = known.genes.unit, known.genes.choices
    count = len(unit)
    shaped = unit.ndim == choices.ndim == known.values.ndim == 2 and known.breach.ndim == 1
    if not shaped or {len(choices), len(known.values), len(known.breach)} != {count}:
        raise TornError("its arrays do not belong together")
    if any(array.dtype.kind != "f" for array in (unit, known.values, known.breach)):
        raise TornError("its arrays are not of numbers")
    if not ((unit >= 0.0) & (unit <= 1.0)).all() or (choices < 0).any() or np.isnan(known.breach).any():
        raise TornError("its designs lie outside the space")


class Shelf:
    """A folder of artifacts behind Optuna's artifact interface, each file written whole or not at all."""

    def __init__(self, folder: Path):
        self.folder = folder

    def open_reader(self, artifact_id: str) -> BinaryIO:
        """Open an artifact for reading."""
        from optuna.artifacts.exceptions import ArtifactNotFound

        try:
            return (self.folder / Path(artifact_id).name).open("rb")
        except FileNotFoundError as error:
            raise ArtifactNotFound(artifact_id) from error

    def write(self, artifact_id: str, content_body: BinaryIO) -> None:
        """Store an artifact."""
        self.folder.mkdir(exist_ok=True)
        write_whole(self.folder / Path(artifact_id).name, content_body.read())

    def remove(self, artifact_id: str) -> None:
        """Remove an artifact."""
        (self.folder / Path(artifact_id).name).unlink()


class Outbox:
    """Legs finished here, kept as files until the database has them, and found again after a restart.

    ``folder`` is where they are written; ``also`` another folder they are looked for in. ``mark`` names the
    campaign, so that the leg of another one is never taken for one of this. With ``spare`` the file goes
    once its leg is delivered, because the same folder then holds it as an artifact.
    """

    def __init__(self, folder: Path, mark: str, *, spare: bool, also: Path):
        self.folder, self._mark, self._spare, self._also = folder, mark, spare, also

    def keep(self, result: Result) -> None:
        """Write a leg's file."""
        self.folder.mkdir(parents=True, exist_ok=True)
        write_whole(self.folder / self._name(result.number), pack(result))

    def kept(self, number: int) -> Result | None:
        """Read a leg's file, or return None if there is no whole one."""
        for folder in (self.folder, self._also):
            with contextlib.suppress(TornError, OSError):
                result = unpack((folder / self._name(number)).read_bytes())
                if result.number == number:
                    return result
        return None

    def delivered(self, number: int) -> None:
        """Note that the database has a leg."""
        places = [self._also] + [self.folder] * self._spare
        for folder in dict.fromkeys(places):
            with contextlib.suppress(OSError):
                (folder / self._name(number)).unlink(missing_ok=True)

    def _name(self, number: int) -> str:
        return f"leg-{number:06d}-{self._mark}.npz"
