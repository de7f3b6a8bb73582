"""The main program of a worker process (:mod:`explore.search.crew`), and of one that makes workers by division."""

from __future__ import annotations

import contextlib
import gc
import os
import signal
import socket
import sys
import traceback
from importlib import import_module

from explore.search.crew import work
from explore.search.nursery import DIVIDE, NUMBER

NEEDED = ("explore.model", "scipy.optimize", "moocore")
"""What a leg asks for sooner or later; the compiler and the loops come beside them, once these stand."""


def main() -> None:
    """Serve the parent process; what the model prints goes to the error stream."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if sys.argv[1:] == [DIVIDE]:
        divide()
        return
    sink = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    import_module("explore.model")  # a second's reading, while the parent makes what all share
    with contextlib.suppress(BrokenPipeError):
        work(sys.stdin.buffer, sink)


def divide() -> None:
    """Read what is needed, then make a worker for each byte that comes."""
    for name in NEEDED:
        import_module(name)
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # so that the system does not keep the dead
    line = socket.socket(fileno=sys.stdin.fileno())
    with contextlib.suppress(ConnectionError):
        while ends := socket.recv_fds(line, 1, 2)[1]:
            _fetch_loops()
            pid = os.fork()
            if pid == 0:
                _work(line, ends)
            for end in ends:
                os.close(end)
            line.sendall(pid.to_bytes(NUMBER, "little"))


def _fetch_loops() -> None:
    """Fetch the translated loops, if they stand by now: to translate them is the parent's task."""
    from explore.fluids import kernels as look_ups
    from explore.machine_code import loaded, stands
    from explore.plant import kernels as steps
    from explore.year import kernels as hours

    for loops in (look_ups, steps, hours):
        if stands(loops):
            loaded(loops)
    gc.collect()
    gc.freeze()  # the collector of garbage leaves alone what all share


def _work(line: socket.socket, ends: list[int]) -> None:
    """Be a worker until the tasks end, and do nothing that was begun before the division."""
    status = 1
    try:
        line.close()
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        with os.fdopen(ends[0], "rb") as tasks, os.fdopen(ends[1], "wb") as answers:
            work(tasks, answers)
        status = 0
    except BrokenPipeError:
        status = 0
    except BaseException:
        traceback.print_exc()  # for the crew's last words
    finally:
        sys.stderr.flush()
        os._exit(status)


if __name__ == "__main__":
    main()
