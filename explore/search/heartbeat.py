"""The heartbeat of a campaign: says that the process which claimed a leg still works on it."""

from __future__ import annotations

import logging
import threading
from typing import TYPE_CHECKING, Protocol, runtime_checkable

if TYPE_CHECKING:
    from optuna.storages import BaseStorage
    from optuna.trial import Trial

HEARTBEAT_S, GRACE_S = 5, 20
"""Three beats may be lost on a busy network before a leg is given to another process."""
LOGGER = logging.getLogger("explore.search")


@runtime_checkable
class Beating(Protocol):
    """What a storage that keeps heartbeats offers; Optuna's own name for it is private."""

    def get_heartbeat_interval(self) -> int | None:
        """Seconds between two beats; None where none are kept."""
        ...

    def record_heartbeat(self, trial_id: int) -> None:
        """Note that a trial is under way."""
        ...


class Heart:
    """Records the heartbeat of the legs under way, where the storage keeps one."""

    def __init__(self, storage: BaseStorage):
        self._storage = storage if isinstance(storage, Beating) else None
        self._interval = self._storage.get_heartbeat_interval() if self._storage else None
        self._places: dict[int, int] = {}
        self._stop = threading.Event()
        if self._interval:
            threading.Thread(target=self._beat, name="heartbeat", daemon=True).start()

    def add(self, trial: Trial, place: int) -> None:
        """Beat for a trial, at once and from now on; ``place`` is where the storage keeps it."""
        if self._interval:
            self._places[trial.number] = place
            self._record(place)

    def remove(self, trial: Trial) -> None:
        """Stop beating for a trial."""
        self._places.pop(trial.number, None)

    def stop(self) -> None:
        """End the thread."""
        self._stop.set()

    def _beat(self) -> None:
        while not self._stop.wait(self._interval):
            for place in list(self._places.values()):
                self._record(place)

    def _record(self, place: int) -> None:
        if self._storage is None:
            return
        try:
            self._storage.record_heartbeat(place)
        except Exception as error:  # a missed beat is not a missed leg
            LOGGER.info("heartbeat not recorded: %s", type(error).__name__)
