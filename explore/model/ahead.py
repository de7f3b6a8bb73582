"""What a model keeps on disk, made by a second process while the first translates the loops of the year, as long a task."""

from __future__ import annotations

import contextlib
import pickle
import subprocess
import sys
from collections.abc import Iterator

from explore.cache import opened
from explore.config.schema import Case
from explore.fluids import kernels, tables
from explore.fluids.water import Water
from explore.machine_code import prepared
from explore.model.evaluator import Evaluator
from explore.second_process import started

PATIENCE_S = 30.0
"""What is not made then is made where it is asked for."""


@contextlib.contextmanager
def made_ahead(case: Case) -> Iterator[None]:
    """Have a process make what designs of a case ask for first: tables, their loops, the year, pressures in the fault.

    It takes the last of the fluids first: whoever stacks tables begins with the first and so finds the others there.
    Nothing depends on that process: what it has not made is made where it is needed, and what both make is the same.
    """
    helper = _started(case) if len(_lacking(case)) > 1 else None
    try:
        yield
        if helper is not None:  # workers, who are about to begin, would each make the rest for themselves
            with contextlib.suppress(subprocess.TimeoutExpired):
                helper.wait(PATIENCE_S)
    finally:
        if helper is not None:
            helper.kill()
            helper.wait()


def _lacking(case: Case) -> list[str]:
    folder = opened()
    names = case.listed_pure_fluids()
    return [name for name in names if not (folder / f"{tables.cache_key(name)}.npz").exists()]


def _started(case: Case) -> subprocess.Popen[bytes] | None:
    quiet = subprocess.DEVNULL
    with contextlib.suppress(OSError):
        helper = started("explore.model.ahead", source=subprocess.PIPE, sink=quiet, log=quiet)
        if helper.stdin is not None:
            with contextlib.suppress(OSError), helper.stdin as pipe:
                pickle.dump(case, pipe)
        return helper
    return None


def main() -> None:
    """Make and keep what designs of the case ask for that stands in the input."""
    with contextlib.suppress(KeyboardInterrupt):
        case: Case = pickle.load(sys.stdin.buffer)
        prepared(kernels)
        Water.load()
        for name in reversed(_lacking(case)):
            tables.load(name)
        Evaluator(case).prepare()


if __name__ == "__main__":
    main()
