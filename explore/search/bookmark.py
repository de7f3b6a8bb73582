"""Where a reader of a long campaign need not begin again: what its first legs came to, beside the legs themselves.

Going on with a campaign takes every leg in again, which for the legs of a night is minutes. A bookmark holds what was known
after whole rounds; only the legs after it are read. It is data as a leg's file is, and one that is torn, of another
campaign or not what the campaign's book says is no bookmark: every leg is then read as if it were not there.
"""

from __future__ import annotations

import logging
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from explore.search.archive import Archive
from explore.search.files import (
    DAMAGE,
    Form,
    TornError,
    content_of,
    parts_of,
    refuse_miscounted,
    refuse_wrong,
)
from explore.search.leg import Tally
from explore.search.outcome import Moment
from explore.whole_file import write_whole

LOGGER = logging.getLogger("explore.search")
SAME = 1e-9
"""The hypervolume computed again is the same but for the last figures of another machine."""


@dataclass(frozen=True)
class Standing:
    """What a search knew after as many legs as its ``history`` has moments, and what they took [s]."""

    archive: Archive
    tally: Tally
    history: tuple[Moment, ...]
    leg_seconds: float
    model_seconds: float

    @property
    def sizes(self) -> list[int]:
        """Designs that each leg evaluated."""
        return np.diff([0, *(moment.designs for moment in self.history)]).tolist()


class Bookmark:
    """The file of a campaign's standing: written whole, checked when read. ``mark`` names the campaign."""

    def __init__(self, path: Path, mark: str, form: Form):
        self._path, self._mark, self._form = path, mark, form

    def put(self, standing: Standing) -> None:
        """Write the file; raises :class:`OSError` if it cannot be."""
        self._path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(self._path, packed(standing, self._mark))

    def found(self, capacity: int, sizes: Mapping[int, int]) -> Standing | None:
        """Read the file; None if there is none that holds what the campaign's book says.

        ``capacity`` is the archive's, ``sizes`` the designs of the legs that are finished.
        """
        try:
            standing, mark = unpacked(self._path.read_bytes(), capacity)
            if mark != self._mark:
                return None
            self._check(standing, sizes)
        except FileNotFoundError:
            return None
        except (TornError, OSError) as error:
            LOGGER.warning("%s is not used (%s); every leg is read again", self._path, error)
            return None
        return standing

    def _check(self, standing: Standing, sizes: Mapping[int, int]) -> None:
        """Raise :class:`TornError` for a standing that these legs cannot have come to."""
        if standing.sizes != [sizes.get(number) for number in range(len(standing.history))]:
            raise TornError("the campaign has other legs")
        self._form.check_designs(standing.archive.known)
        self._form.check_tally(standing.tally)


def packed(standing: Standing, mark: str) -> bytes:
    """Turn a standing into the content of its file."""
    archive = standing.archive
    facts = {
        "campaign": mark,
        "capacity": archive.capacity,
        "resolution": archive.resolution,
        "tally": asdict(standing.tally),
        "leg_seconds": standing.leg_seconds,
        "model_seconds": standing.model_seconds,
    }
    return content_of(
        facts,
        archive.known,
        on_front=archive.on_front,
        best_of_niche=archive.best_of_niche,
        history=np.array([(m.designs, m.seconds, m.hypervolume) for m in standing.history]),
    )


def unpacked(content: bytes, capacity: int) -> tuple[Standing, str]:
    """Read the content of a file: the standing and the campaign's mark; raises :class:`TornError` if it is damaged."""
    try:
        facts, known, (*flags, rows) = parts_of(content, "on_front", "best_of_niche", "history")
        refuse_wrong(known)
        if any(flag.dtype.kind != "b" or flag.shape != (len(known),) for flag in flags):
            raise TornError("its arrays do not belong together")
        if facts["capacity"] != capacity or len(known) > capacity:
            raise TornError("its archive is of another size")
        archive = Archive(known, capacity, float(facts["resolution"]), *flags)
        history = tuple(Moment(int(designs), float(at), float(volume)) for designs, at, volume in rows)
        standing = Standing(
            archive,
            Tally(**facts["tally"]),
            history,
            float(facts["leg_seconds"]),
            float(facts["model_seconds"]),
        )
        _refuse_untrue(standing)
        return standing, str(facts["campaign"])
    except DAMAGE as error:
        raise TornError(str(error) or type(error).__name__) from error


def _refuse_untrue(standing: Standing) -> None:
    """Raise :class:`TornError` for a standing that contradicts itself."""
    archive, history = standing.archive, standing.history
    refuse_miscounted(standing.tally)
    numbers = [archive.resolution, standing.leg_seconds, standing.model_seconds]
    numbers += [x for moment in history for x in (moment.seconds, moment.hypervolume)]
    if not history or not all(math.isfinite(x) for x in numbers):
        raise TornError("its figures are none")
    if min(standing.sizes) <= 0 or standing.tally.evaluated_total != history[-1].designs:
        raise TornError("its counts are none")
    if (archive.known.breach[archive.on_front] > 0.0).any():
        raise TornError("its front breaks limits")
    if not math.isclose(archive.hypervolume, history[-1].hypervolume, rel_tol=SAME, abs_tol=SAME):
        raise TornError("its front is another than its history says")
