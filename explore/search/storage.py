"""Where a campaign is kept: in memory, in a run's folder, or in a database shared by many machines."""

from __future__ import annotations

import contextlib
import json
import logging
import os
import warnings
from pathlib import Path
from typing import IO, Any

import optuna

from explore.config.schema import Case
from explore.errors import InputError
from explore.search.campaign import GRACE_S, HEARTBEAT_S, TROUBLE, FocusSampler, Ledger
from explore.search.connection import Line, driver_words, hiding, without_password
from explore.search.files import Outbox, Shelf
from explore.search.identity import changed, together
from explore.whole_file import clean, sync_folder

JOURNAL, LEGS, LOCK = "campaign.journal", "legs", ".campaign.lock"
FACTS = "facts"
SHARED_FOLDER_PATIENCE_S = 10.0
"""A folder shared over a network shows a new file to other machines some seconds late; ten are generous."""
ALONE_AFTER_S = 60.0
"""A server that restarts is back within a minute; after that the search's own process does not wait for it."""
ANSWER_S = 10
"""A server across the world connects in a second or two; a silent one must not hold a worker for minutes."""
LOGGER = logging.getLogger("explore.search")


def open_ledger(case: Case, fluids: tuple[str, ...], folder: Path | None, facts: dict[str, str]) -> Ledger:
    """Open the campaign's book where the search settings want it; ``folder`` is the run's own, if any.

    An earlier campaign found there is continued. Raises :class:`InputError` with one sentence if it was
    one of something else, or if the storage cannot be used.
    """
    optuna.logging.set_verbosity(optuna.logging.ERROR)
    warnings.filterwarnings("ignore", message="Heartbeat of storage", module="optuna")
    if case.search.storage is not None:
        return in_database(case, fluids, folder, facts)
    if folder is not None:
        return in_folder(case, fluids, folder, facts)
    return Ledger.in_memory(fluids)


def in_folder(case: Case, fluids: tuple[str, ...], folder: Path, facts: dict[str, str]) -> Ledger:
    """Keep the campaign in a run's folder: an Optuna journal and one file per leg."""
    from optuna.storages import JournalStorage
    from optuna.storages.journal import JournalFileBackend

    lock = _lock(folder)
    journal = folder / JOURNAL
    with contextlib.suppress(OSError):
        journal.with_name(JOURNAL + ".lock").unlink(missing_ok=True)
    for place in (folder, folder / LEGS):
        clean(place)
    mend(journal)
    try:
        (folder / LEGS).mkdir(exist_ok=True)
        storage = JournalStorage(JournalFileBackend(str(journal)))
        sync_folder(folder)
        study = _study(storage, case, facts, str(folder))
    except OSError as error:
        raise InputError(f"cannot keep the campaign in {folder}: {error.strerror or error}") from error
    ledger = Ledger(study, storage, fluids, Shelf(folder / LEGS), lock)
    ledger.abandon_running()
    return ledger


def in_database(case: Case, fluids: tuple[str, ...], folder: Path | None, facts: dict[str, str]) -> Ledger:
    """Keep the campaign in a database, its legs' designs in a folder all machines share.

    A finished leg goes to the run's own folder first (a worker, that has none, uses the shared one).
    """
    from sqlalchemy.exc import SQLAlchemyError

    search = case.search
    shared = Path(search.artifacts) if search.artifacts else folder / LEGS if folder else None
    if shared is None:
        raise InputError(
            "search.artifacts is empty; give a folder for the legs' designs that all machines share"
        )
    storage = _database(str(search.storage))
    try:
        shared.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"search.artifacts={shared}: cannot be used ({error.strerror})") from error
    line = Line((SQLAlchemyError,), hiding(str(search.storage)))
    shown = without_password(str(search.storage))
    try:
        study = _study(storage, case, facts, shown)
    except (*TROUBLE, SQLAlchemyError) as error:
        raise InputError(f"search.storage={shown}: {_reason(error, str(search.storage))}") from error
    mark = together({**facts, "seed": str(search.seed)})
    own = folder / LEGS if folder else shared
    for place in {own, folder} - {
        None,
        shared,
    }:  # on a shared folder the numbers are other machines' processes
        clean(place)
    outbox = Outbox(own, mark, spare=own.resolve() == shared.resolve(), also=shared)
    return Ledger(
        study,
        storage,
        fluids,
        Shelf(shared),
        patience_s=SHARED_FOLDER_PATIENCE_S,
        line=line,
        outbox=outbox,
        alone_after_s=ALONE_AFTER_S if folder else float("inf"),
    )


def _database(url: str) -> Any:
    """Connect to an SQL database; every failure becomes a sentence without the password."""
    from optuna.storages import RDBStorage, RetryHeartbeatStaleTrialCallback
    from sqlalchemy.exc import ArgumentError, SQLAlchemyError

    shown = without_password(url)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return RDBStorage(
                url,
                engine_kwargs={"pool_pre_ping": True, "connect_args": _patience(url)},
                heartbeat_interval=HEARTBEAT_S,
                grace_period=GRACE_S,
                heartbeat_stale_trial_callback=RetryHeartbeatStaleTrialCallback(),
            )
    except ArgumentError as error:
        raise InputError(f"search.storage={shown}: not a database URL such as sqlite:///FILE") from error
    except ImportError as error:
        raise InputError(f"search.storage={shown}: the driver {error.name} is not installed") from error
    except SQLAlchemyError as error:
        raise InputError(f"search.storage={shown}: {_reason(error, url)}") from error
    except RuntimeError as error:
        raise InputError(
            f"search.storage={shown}: the database was made by another version of Optuna than "
            f"{optuna.__version__}; use that version or another database"
        ) from error


def _patience(url: str) -> dict[str, int]:
    """Tell PostgreSQL's library after how many seconds a server that is silent counts as gone."""
    if not url.startswith(("postgresql+psycopg", "postgresql:", "postgres:")):
        return {}
    alive = {"keepalives_idle": ANSWER_S, "keepalives_interval": ANSWER_S // 2, "keepalives_count": 3}
    return {"connect_timeout": ANSWER_S, "tcp_user_timeout": 2000 * ANSWER_S, **alive}


def _reason(error: Exception, url: str) -> str:
    """Say why a connection failed, in the driver's words, on one line and without the password."""
    return f"cannot be used ({hiding(url)(driver_words(error))})"


def _study(storage: Any, case: Case, facts: dict[str, str], where: str) -> optuna.Study:
    """Open or create the campaign's study, and refuse one of other facts."""
    name = case.scenario.name
    study = optuna.create_study(
        storage=storage,
        sampler=FocusSampler(),
        direction="maximize",
        study_name=f"{name}, seed {case.search.seed}",
        load_if_exists=True,
    )
    if FACTS not in study.user_attrs:
        study.set_user_attr(FACTS, facts)
    if different := changed(study.user_attrs[FACTS], facts):
        raise InputError(
            f"{where} holds a campaign of {name} that cannot be continued: since then the {', the '.join(different)} "
            "changed; start a new run, or restore what was changed"
        )
    return study


def mend(journal: Path) -> None:
    """Cut a torn last record off a journal: what a power cut in the middle of a write leaves."""
    if not journal.exists():
        return
    content = journal.read_bytes()
    whole = content[: content.rfind(b"\n") + 1]
    lines = whole.splitlines(keepends=True)
    while lines and not _is_record(lines[-1]):
        lines.pop()
    kept = b"".join(lines)
    if len(kept) < len(content):
        LOGGER.warning(
            "%s ended in a torn record of %d bytes; it was cut off", journal, len(content) - len(kept)
        )
        with journal.open("r+b") as file:
            file.truncate(len(kept))
            os.fsync(file.fileno())


def _is_record(line: bytes) -> bool:
    try:
        return isinstance(json.loads(line), dict)
    except ValueError:
        return False


def _lock(folder: Path) -> IO[bytes] | None:
    """Take the folder for this process; the system gives it back however the process ends."""
    try:
        import fcntl
    except ImportError:  # no such locks on this system
        return None
    try:
        file = (folder / LOCK).open("ab")
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        raise InputError(f"{folder} is being searched by another process; wait for it, or end it") from error
    except OSError as error:
        raise InputError(f"cannot keep the campaign in {folder}: {error.strerror}") from error
    return file
