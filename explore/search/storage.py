"""Where a campaign is kept: in memory, in a run's folder, or in a database shared by many machines."""

from __future__ import annotations

import contextlib
import logging
import warnings
from collections.abc import Collection
from pathlib import Path
from typing import Any

import optuna
from filelock import FileLock, Timeout

from explore.config.schema import Case
from explore.design.space import Space
from explore.errors import InputError
from explore.search.bookmark import Bookmark
from explore.search.campaign import FACTS, LEGS, study_name, unasked
from explore.search.connection import Line, driver_words, hiding, without_password
from explore.search.files import Form, Outbox, Shelf
from explore.search.heartbeat import GRACE_S, HEARTBEAT_S
from explore.search.identity import changed, together
from explore.search.journal import DAMAGED, DamagedError, Legs, facts_in, mend, set_aside
from explore.search.ledger import TROUBLE, Ledger
from explore.whole_file import clean, sync_folder

JOURNAL, LOCK, BOOKMARK = "campaign.journal", ".campaign.lock", "campaign.bookmark"
SHARED_FOLDER_PATIENCE_S = 10.0
"""A folder shared over a network shows a new file to other machines some seconds late; ten are generous."""
ALONE_AFTER_S = 60.0
"""A server that restarts is back within a minute; after that the search's own process does not wait for it."""
ANSWER_S = 10
"""A server across the world connects in a second or two; a silent one must not hold a worker for minutes."""
LOGGER = logging.getLogger("explore.search")


def open_ledger(case: Case, space: Space, folder: Path | None, facts: dict[str, str]) -> Ledger:
    """Open the campaign's book where the search settings want it; ``folder`` is the run's own, if any.

    An earlier campaign found there is continued. Raises :class:`InputError` with one sentence if it was
    one of something else, or if the storage cannot be used.
    """
    optuna.logging.set_verbosity(optuna.logging.ERROR)
    warnings.filterwarnings("ignore", message="Heartbeat of storage", module="optuna")
    if case.search.storage is not None:
        return in_database(case, space, folder, facts)
    if folder is not None:
        return in_folder(case, space, folder, facts)
    return Ledger.in_memory(space.fluids)


def in_folder(case: Case, space: Space, folder: Path, facts: dict[str, str]) -> Ledger:
    """Keep the campaign in a run's folder: an Optuna journal and one file per leg.

    A journal that is damaged is written again from the whole legs; the damaged one is kept.
    """
    from optuna.storages import JournalStorage
    from optuna.storages.journal import JournalFileBackend

    form, mark = _form(case, space), _mark(case, facts)
    lock = _lock(folder)
    journal = folder / JOURNAL
    with contextlib.suppress(OSError):
        journal.with_name(JOURNAL + ".lock").unlink(missing_ok=True)
    for place in (folder, folder / LEGS):
        clean(place)
    try:
        _repair(journal, case, facts, form)
        (folder / LEGS).mkdir(exist_ok=True)
        storage = JournalStorage(JournalFileBackend(str(journal)))
        sync_folder(folder)
        study = _study(storage, case, facts, str(folder))
    except OSError as error:
        raise InputError(f"cannot keep the campaign in {folder}: {error.strerror or error}") from error
    ledger = Ledger(
        study,
        storage,
        space.fluids,
        shelf=Shelf(folder / LEGS),
        lock=lock,
        mark=mark,
        form=form,
        bookmark=Bookmark(folder / BOOKMARK, mark, form),
    )
    ledger.abandon_running()
    return ledger


def _repair(journal: Path, case: Case, facts: dict[str, str], form: Form) -> None:
    """Mend a journal, or write it again from the whole legs where more than its end is damaged.

    Raises :class:`InputError`, with nothing done, if those are not of this campaign, and :class:`OSError`.
    """
    damage, known = "", list[dict[str, str]]()
    try:
        names = mend(journal)
        if _study_name(case, names) in names:
            return
    except DamagedError as error:
        damage, names, known = str(error), frozenset(), facts_in(journal)
    where, mark = journal.parent, _mark(case, facts)
    if known and facts not in known:
        _refuse_changed(known[-1], facts, case, str(where))
    legs = Legs(where / LEGS, mark, form)
    if legs.of_others and not legs and not names and not known:
        raise InputError(
            f"{where}: the journal of its campaign is damaged, and its legs are of another campaign than asked "
            "for; start a new run"
        )
    if not damage and not legs:
        return
    damage = damage or "the campaign is not in it"
    kept = set_aside(journal, journal.read_bytes(), DAMAGED) if journal.exists() else "no file"
    legs.write_journal(journal, lambda storage: _study(storage, case, facts, str(where)), mark)
    LOGGER.warning(
        "%s was damaged (%s); it is kept in %s and was written again from the %d whole legs in %s",
        journal,
        damage,
        kept,
        len(legs),
        where / LEGS,
    )


def in_database(case: Case, space: Space, folder: Path | None, facts: dict[str, str]) -> Ledger:
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
    storage = database(str(search.storage))
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
    mark = _mark(case, facts)
    own = folder / LEGS if folder else shared
    if folder is not None:
        clean(folder)
    if own.resolve() != shared.resolve():  # in a shared one the numbers may be processes of other machines
        clean(own)
    form = _form(case, space)
    outbox = Outbox(own, mark, spare=own.resolve() == shared.resolve(), also=shared)
    return Ledger(
        study,
        storage,
        space.fluids,
        shelf=Shelf(shared),
        patience_s=SHARED_FOLDER_PATIENCE_S,
        line=line,
        outbox=outbox,
        alone_after_s=ALONE_AFTER_S if folder else float("inf"),
        mark=mark,
        form=form,
        bookmark=Bookmark(folder / BOOKMARK, mark, form) if folder else None,
    )


def database(url: str) -> Any:
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
    study = optuna.create_study(
        storage=storage,
        sampler=unasked(),
        direction="maximize",
        study_name=_study_name(case, optuna.get_all_study_names(storage)),
        load_if_exists=True,
    )
    if FACTS not in study.user_attrs:
        study.set_user_attr(FACTS, facts)
    _refuse_changed(study.user_attrs[FACTS], facts, case, where)
    return study


def _refuse_changed(before: dict[str, str], facts: dict[str, str], case: Case, where: str) -> None:
    """Raise :class:`InputError` for a campaign of other facts."""
    if different := changed(before, facts):
        raise InputError(
            f"{where} holds a campaign of {case.scenario.name} that cannot be continued: since then the "
            f"{', the '.join(different)} changed; start a new run, or restore what was changed"
        )


def _study_name(case: Case, known: Collection[str]) -> str:
    """Name of the study of legs: one of before there were two is known by its old name."""
    old = study_name(case, "").rstrip(", ")
    return old if old in known else study_name(case, LEGS)


def _mark(case: Case, facts: dict[str, str]) -> str:
    """Name a campaign in the files of its legs."""
    return together({**facts, "seed": str(case.search.seed)})


def _form(case: Case, space: Space) -> Form:
    """Say what a leg of a campaign looks like."""
    return Form(space.fluids, space.dimensions, space.choice_counts, len(case.scenario.objectives))


def _lock(folder: Path) -> FileLock:
    """Take the folder for this process; the system gives it back however the process ends."""
    lock = FileLock(folder / LOCK, timeout=0.0, thread_local=False)
    try:
        lock.acquire()
    except Timeout as error:
        raise InputError(f"{folder} is being searched by another process; wait for it, or end it") from error
    except OSError as error:
        raise InputError(f"cannot keep the campaign in {folder}: {error.strerror}") from error
    return lock
