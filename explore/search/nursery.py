"""Workers by division: one process (:mod:`explore.search.worker`) reads what all need, then each is a copy of it.

So a worker begins at once, and all share that memory. The process reads nothing of a case: what it is asked is one byte
and the two ends of pipes that the next worker works between, and it answers with that worker's number. Where a system
cannot divide processes, each worker reads for itself.
"""

from __future__ import annotations

import contextlib
import os
import select
import signal
import socket
import sys
import threading
from dataclasses import dataclass
from typing import IO, Protocol

from explore.second_process import started

PATIENCE_MS = 5000
"""For a worker that was killed to end; it is gone in a thousandth of that, but in the middle of a write to a bad disk."""
WORKER = "explore.search.worker"
DIVIDE = "divide"
"""The word that makes the program of a worker one that makes workers."""
NUMBER = 8
"""Bytes of a process's number."""


class Worker(Protocol):
    """A worker process, as the crew sees it."""

    stdin: IO[bytes] | None
    stdout: IO[bytes] | None

    def kill(self) -> None:
        """End it at once."""
        ...

    def wait(self) -> object:
        """Wait until it has ended."""
        ...


@dataclass
class Divided:
    """A worker that the nursery has made; ``handle`` stands for it whatever becomes of its number, where the system can."""

    pid: int
    handle: int | None
    stdin: IO[bytes] | None
    stdout: IO[bytes] | None

    def kill(self) -> None:
        """End it at once, if it lives."""
        with contextlib.suppress(OSError):
            if self.handle is None:
                os.kill(self.pid, signal.SIGKILL)
            else:
                signal.pidfd_send_signal(self.handle, signal.SIGKILL)

    def wait(self) -> None:
        """Wait until it has ended, which is for the nursery to see, and give the handle back."""
        handle, self.handle = self.handle, None
        if handle is not None:
            ended = select.poll()
            ended.register(handle, select.POLLIN)
            ended.poll(PATIENCE_MS)
            os.close(handle)


class Nursery:
    """Workers made by division, for one crew."""

    def __init__(self, log: IO[bytes]):
        self._log, self._lock = log, threading.Lock()
        self._ended = False
        self._open()

    @staticmethod
    def possible() -> bool:
        """Whether this system divides processes and hands over pipes."""
        return sys.platform == "linux"  # others do not say that every library outlives it

    def worker(self) -> Divided:
        """Make a worker; raises :class:`OSError` where none can be made, and begins anew the next time."""
        with self._lock:
            if self._process.poll() is not None and not self._ended:
                self._open()
            tasks, ours = os.pipe()
            answers, theirs = os.pipe()
            try:
                socket.send_fds(self._line, [b"+"], [tasks, theirs])
                number = self._line.recv(NUMBER, socket.MSG_WAITALL)
                if len(number) < NUMBER:
                    self._process.kill()
                    self._process.wait()
                    raise ConnectionError("the process that makes workers has ended")
            except BaseException:
                os.close(ours)
                os.close(answers)
                raise
            finally:
                os.close(tasks)
                os.close(theirs)
        pid = int.from_bytes(number, "little")
        return Divided(pid, _handle(pid), os.fdopen(ours, "wb"), os.fdopen(answers, "rb"))

    def close(self) -> None:
        """Make no more."""
        self._ended = True
        self._process.kill()
        self._process.wait()
        self._line.close()

    def _open(self) -> None:
        self._line, its = socket.socketpair()
        self._process = started(WORKER, DIVIDE, source=its.fileno(), sink=self._log, log=self._log)
        its.close()


def _handle(pid: int) -> int | None:
    with contextlib.suppress(AttributeError, OSError):
        return os.pidfd_open(pid)
    return None
