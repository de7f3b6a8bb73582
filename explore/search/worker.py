"""The main program of a worker process (:mod:`explore.search.crew`)."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
from importlib import import_module

from explore.search.crew import work


def main() -> None:
    """Serve the parent process; what the model prints goes to the error stream."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    sink = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    import_module("explore.model")  # a second's reading, while the parent makes what all share
    with contextlib.suppress(BrokenPipeError):
        work(sys.stdin.buffer, sink)


if __name__ == "__main__":
    main()
