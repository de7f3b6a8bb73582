"""The journal of a campaign in a run's folder: mended where its end is torn, written again where more is damaged.

Nothing of it is thrown away: what is cut off, and a journal that is written again, are kept beside it.
"""

from __future__ import annotations

import json
import logging
import math
import os
from collections.abc import Callable, Iterable
from itertools import count
from pathlib import Path
from typing import Any

from optuna.storages import JournalStorage
from optuna.storages.journal import BaseJournalBackend
from optuna.study import Study
from optuna.trial import FrozenTrial, TrialState

from explore.search.campaign import FACTS, LEG, LOST, SIZE, Debt, focus_of, record
from explore.search.files import Form, Shelf, TornError, read_leg
from explore.whole_file import write_whole

CUT, DAMAGED = "cut", "damaged"
LOGGER = logging.getLogger("explore.search")


class DamagedError(Exception):
    """A journal is damaged in more than its last record."""


class Pages(BaseJournalBackend):
    """A journal in memory, of the records of ``content``; what Optuna writes is added to them."""

    def __init__(self, content: bytes = b""):
        self._lines = content.splitlines()

    def read_logs(self, log_number_from: int) -> Iterable[dict[str, Any]]:
        """Read the records from a number on."""
        return [json.loads(line) for line in self._lines[log_number_from:]]

    def append_logs(self, logs: list[dict[str, Any]]) -> None:
        """Add records."""
        self._lines += [json.dumps(log, separators=(",", ":")).encode() for log in logs]

    @property
    def content(self) -> bytes:
        """The journal as the content of its file."""
        return b"".join(line + b"\n" for line in self._lines)


def mend(journal: Path) -> frozenset[str]:
    """Cut a torn last record off a journal: what a power cut in the middle of a write leaves.

    What is cut off is kept beside the journal. Returns the names of the studies the journal holds, none if there is
    no journal. Raises :class:`DamagedError`, with nothing done, if more than the last record is damaged, and
    :class:`OSError` if the journal cannot be read or written.
    """
    if not journal.exists():
        return frozenset()
    content = journal.read_bytes()
    whole = _without_torn_end(content)
    if content and not whole:
        raise DamagedError("no record is whole")
    names = _studies(whole)
    if len(whole) < len(content):
        place = set_aside(journal, content[len(whole) :], CUT)
        LOGGER.warning(
            "%s ended in a torn record of %d bytes; it was cut off and is kept in %s",
            journal,
            len(content) - len(whole),
            place,
        )
        with journal.open("r+b") as file:
            file.truncate(len(whole))
            os.fsync(file.fileno())
    return names


def _without_torn_end(content: bytes) -> bytes:
    """Leave away what stands behind the last line, or the last line if it is no record."""
    whole = content[: content.rfind(b"\n") + 1]
    if len(whole) < len(content):
        return whole
    last = whole.rfind(b"\n", 0, -1) + 1
    return whole if _parsed(whole[last:]) is not None else whole[:last]


def _parsed(line: bytes) -> dict[str, Any] | None:
    """Read a line as a record; None if it is none."""
    try:
        found = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) else None


def _studies(content: bytes) -> frozenset[str]:
    """Replay a journal; returns the names of its studies, raises :class:`DamagedError` where it cannot be so."""
    for number, line in enumerate(content.splitlines(), 1):
        if _parsed(line) is None:
            raise DamagedError(f"line {number} is no record")
    try:
        storage = JournalStorage(Pages(content))
        studies = storage.get_all_studies()
        for study in studies:
            number = storage.get_study_id_from_name(study.study_name)
            _check_book(study.user_attrs, storage.get_all_trials(number, deepcopy=False))
    except DamagedError:
        raise
    except Exception as error:  # whatever Optuna does with a record that it has not written
        raise DamagedError(f"a record cannot be understood ({type(error).__name__})") from error
    return frozenset(study.study_name for study in studies)


def _check_book(attributes: dict[str, Any], trials: Iterable[FrozenTrial]) -> None:
    """Raise :class:`DamagedError` for what the campaign's book never says."""
    facts, lost = attributes.get(FACTS, {}), attributes.get(LOST, [])
    if not isinstance(facts, dict) or not isinstance(lost, list) or not all(_whole(n) for n in lost):
        raise DamagedError("its facts are none")
    for trial in trials:
        said = trial.user_attrs
        if not _whole(said.get(LEG)) or not _whole(said.get(SIZE)) or focus_of(trial) is None:
            raise DamagedError(f"trial {trial.number} is no leg")
        if trial.state == TrialState.COMPLETE and not all(
            isinstance(x, float | int) and math.isfinite(x)
            for x in (*(trial.values or [math.nan]), said.get("at_seconds", 0.0))
        ):
            raise DamagedError(f"trial {trial.number} has no gain")


def _whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value >= 0


def facts_in(journal: Path) -> list[dict[str, str]]:
    """Read the facts of campaigns from those records of a damaged journal that are whole."""
    records = [_parsed(line) or {} for line in journal.read_bytes().splitlines()]
    said = [entry.get("user_attr") for entry in records if "study_id" in entry]
    found = [attribute[FACTS] for attribute in said if isinstance(attribute, dict) and FACTS in attribute]
    return [facts for facts in found if isinstance(facts, dict)]


def set_aside(path: Path, content: bytes, word: str) -> Path:
    """Keep ``content`` beside ``path`` as ``NAME.WORD-1``, or the next number free; returns where."""
    places = (path.with_name(f"{path.name}.{word}-{number}") for number in count(1))
    place = next(place for place in places if not os.path.lexists(place))
    write_whole(place, content)
    return place


class Legs:
    """The whole legs of one campaign that lie in a folder, whatever their files are called."""

    def __init__(self, folder: Path, mark: str, form: Form):
        self._folder, self._form = folder, form
        self.of_others = 0
        """Whole legs of other campaigns."""
        self._places: dict[int, Path] = {}
        self._files: list[Path] = []
        for path in sorted(folder.glob("[!.]*")):
            try:
                result, stamp = read_leg(path.read_bytes())
                if stamp is None or stamp.campaign != mark:
                    self.of_others += 1
                    continue
                form.check(result)
            except (TornError, OSError) as error:
                LOGGER.warning("%s is no whole leg of this campaign (%s)", path, error)
                continue
            self._places.setdefault(result.number, path)
            self._files.append(path)

    def __len__(self) -> int:
        return len(self._places)

    def write_journal(self, journal: Path, begin: Callable[[JournalStorage], Study], mark: str) -> None:
        """Write a journal in which these legs are finished; ``begin`` makes the study in its storage.

        The legs get new files, as every leg that is stored. Killed at any moment, the folder holds the old
        journal or the new one, and every leg. Raises :class:`OSError` if something cannot be written.
        """
        pages = Pages()
        study = begin(JournalStorage(pages))
        for _, path in sorted(self._places.items()):
            result, stamp = read_leg(path.read_bytes())
            if stamp is not None:
                debt = Debt(result, stamp.gain, stamp.at_seconds)
                record(study, debt, Shelf(self._folder), mark, self._form.fluids)
        write_whole(journal, pages.content)
        for path in self._files:
            path.unlink(missing_ok=True)
