"""The heartbeat of a campaign: says that the process which claimed a leg still works on it."""

from __future__ import annotations

import logging
import threading
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optuna.storages import BaseStorage
    from optuna.trial import Trial

HEARTBEAT_S, GRACE_S = 5, 20
"""Three beats may be lost on a busy network before a leg is given to another process."""
LOGGER = logging.getLogger("explore.search")


class Heart:
    """Records the heartbeat of the legs under way, where the storage keeps one."""

    def __init__(self, storage: BaseStorage):
        get = getattr(storage, "get_heartbeat_interval", None)
        self._interval: int | None = get() if get else None
        self._storage = storage
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
        try:
            self._storage.record_heartbeat(place)  # type: ignore[attr-defined]
        except Exception as error:  # a missed beat is not a missed leg
            LOGGER.info("heartbeat not recorded: %s", type(error).__name__)
