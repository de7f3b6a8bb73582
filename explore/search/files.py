"""Legs as files: written whole or not at all, checked when read.

A leg's file is a NumPy archive of plain arrays (nothing in it is executed when it is read); its zip
container carries a checksum of every array, so that a torn or altered file is noticed.
"""

from __future__ import annotations

import contextlib
import io
import json
import math
import zipfile
import zlib
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from explore.search.leg import Result, Tally
from explore.search.planning import FRONT
from explore.search.population import Genes, Known
from explore.whole_file import write_whole


class TornError(Exception):
    """A leg's file is missing, incomplete or not one."""


DAMAGE = (
    OSError,
    ValueError,
    KeyError,
    TypeError,
    AttributeError,
    EOFError,
    OverflowError,
    MemoryError,
    RuntimeError,
    zipfile.BadZipFile,
    zlib.error,
)
"""By what NumPy, zipfile and json tell that a file is not as it was written, or is nobody's who wishes well."""


@dataclass(frozen=True)
class Stamp:
    """What a campaign's book says of a leg, kept with its designs so that a damaged book can be written again.

    ``campaign`` names the campaign, ``gain`` is the hypervolume the leg added, ``at_seconds`` when it was finished.
    """

    campaign: str
    gain: float
    at_seconds: float


@dataclass(frozen=True)
class Form:
    """What every leg of a campaign looks like: its fluids, genes, options of each choice, and objectives."""

    fluids: tuple[str, ...]
    dimensions: int
    choice_counts: tuple[int, ...]
    objectives: int

    def check(self, result: Result) -> None:
        """Raise :class:`TornError` for a leg that does not look so."""
        self.check_designs(result.known)
        self.check_tally(result.tally)
        if result.focus not in (FRONT, *self.fluids):
            raise TornError("its fluids are others")

    def check_designs(self, known: Known) -> None:
        """Raise :class:`TornError` for designs of another space."""
        widths = known.genes.unit.shape[1], known.genes.choices.shape[1], known.values.shape[1]
        if widths != (self.dimensions, len(self.choice_counts), self.objectives):
            raise TornError("its designs are of another space")
        if (known.genes.choices >= np.array(self.choice_counts)).any():
            raise TornError("its designs lie outside the space")

    def check_tally(self, tally: Tally) -> None:
        """Raise :class:`TornError` for counts of other fluids."""
        if any(tuple(counts) != self.fluids for counts in (tally.evaluated, tally.feasible)):
            raise TornError("its fluids are others")


def pack(result: Result, stamp: Stamp | None = None) -> bytes:
    """Turn a leg's result into the content of its file."""
    facts = {
        "number": result.number,
        "focus": result.focus,
        "tally": asdict(result.tally),
        "seconds": result.seconds,
        "model_seconds": result.model_seconds,
        "stamp": stamp and asdict(stamp),
    }
    return content_of(facts, result.known)


def content_of(facts: dict[str, Any], known: Known, **others: Any) -> bytes:
    """Put facts, designs and ``others``, arrays by their names, together as :func:`parts_of` reads them."""
    content = io.BytesIO()
    np.savez(
        content,
        unit=known.genes.unit,
        choices=known.genes.choices.astype(np.int16),
        values=known.values,
        breach=known.breach,
        facts=np.frombuffer(json.dumps(facts).encode(), np.uint8),
        **others,
    )
    return content.getvalue()


def unpack(content: bytes) -> Result:
    """Read the content of a leg's file; raises :class:`TornError` if it is damaged."""
    return read_leg(content)[0]


def read_leg(content: bytes) -> tuple[Result, Stamp | None]:
    """Read the content of a leg's file with its stamp, if it has one; raises :class:`TornError` if it is damaged."""
    try:
        facts, known, _ = parts_of(content)
        refuse_wrong(known)
        stamp = Stamp(**facts["stamp"]) if facts.get("stamp") else None
        tally = Tally(**facts["tally"])
        result = Result(
            facts["number"], facts["focus"], known, tally, facts["seconds"], facts["model_seconds"]
        )
        _refuse_wrong_facts(result, stamp)
        return result, stamp
    except DAMAGE as error:
        raise TornError(str(error) or type(error).__name__) from error


def parts_of(content: bytes, *others: str) -> tuple[Any, Known, list[np.ndarray]]:
    """Read the facts of a file, its designs, and ``others`` of its arrays; raises one of :data:`DAMAGE` if it is damaged.

    Arrays stand in it as they are: one that is packed could be of any size when it is not.
    """
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        if any(part.compress_type != zipfile.ZIP_STORED for part in parts.infolist()):
            raise TornError("its arrays are packed")
    with np.load(io.BytesIO(content), allow_pickle=False) as arrays:
        genes = Genes(arrays["unit"], arrays["choices"].astype(int))
        known = Known(genes, arrays["values"], arrays["breach"])
        return json.loads(arrays["facts"].tobytes()), known, [arrays[name] for name in others]


def refuse_wrong(known: Known) -> None:
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


def _refuse_wrong_facts(result: Result, stamp: Stamp | None) -> None:
    """Raise :class:`TornError` for facts beside the arrays that no leg has: wrong kind or range."""
    refuse_miscounted(result.tally)
    if type(result.number) is not int or result.number < 0 or not isinstance(result.focus, str):
        raise TornError("its number is none")
    times = [result.seconds, result.model_seconds, *((stamp.gain, stamp.at_seconds) if stamp else ())]
    if any(type(x) not in (int, float) or not math.isfinite(x) for x in times):
        raise TornError("its times are none")
    if len(result.known) > result.tally.evaluated_total:
        raise TornError("it holds more designs than it evaluated")


def refuse_miscounted(tally: Tally) -> None:
    """Raise :class:`TornError` for counts that are none."""
    counts = [getattr(tally, name) for name in Tally.__dataclass_fields__]
    if any(type(n) is not int or n < 0 for count in counts for n in count.values()):
        raise TornError("its counts are none")


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
