"""How a process of ours starts another: with the same interpreter, the same environment and the same modules."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import IO

Stream = int | IO[bytes]


def started(module: str, *words: str, source: Stream, sink: Stream, log: Stream) -> subprocess.Popen[bytes]:
    """Start a module of ours with words; it finds modules where this process does, and nowhere else.

    ``-P``: else those of the folder it is started in would come before all others, such as the sources of this program
    beside the installed one, or whatever else has its name there.
    """
    path = os.pathsep.join(entry or os.getcwd() for entry in sys.path)
    return subprocess.Popen(
        [sys.executable, "-P", "-m", module, *words],
        stdin=source,
        stdout=sink,
        stderr=log,
        env={"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", **os.environ, "PYTHONPATH": path},
    )
