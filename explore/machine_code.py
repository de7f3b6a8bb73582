"""Loops over numbers as machine code, where the compiler numba is installed.

A module of loops stands beside the arrays that do the same (``fluids/kernels.py``, ``plant/kernels.py``,
``year/kernels.py``) and says in ``SIGNATURES`` what each of its loops takes. What has been translated is kept in the
folder of the property tables; where nothing can be kept there, every process translates for itself. Without numba, or
with ``EXPLORE_PLAIN=1`` in the environment, arrays do the work, to the same bits.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import sys
from collections.abc import Iterator
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from tempfile import TemporaryFile
from types import ModuleType, SimpleNamespace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from explore.cache import cache_folder

Array = NDArray[np.float64]

PLAIN = "EXPLORE_PLAIN"
"""Variable of the environment that keeps to arrays."""
WORTH = 64
"""Designs for which the compiler is fetched: that takes a second, at first use in all some ten. Fewer are done as arrays
unless it is there already."""


def loaded(loops: ModuleType, designs: int = WORTH) -> Any:
    """Return the compiled loops of a module, by their names, for so many designs; ``None`` where arrays do the work."""
    if plain():
        return None
    shelf = _shelf(loops)
    if not shelf:
        if designs < WORTH:
            return None
        shelf.append(translated(loops))
    return shelf[0]


@cache
def plain() -> bool:
    """Whether this process keeps to arrays, as its environment says; to ask that each time is a fiftieth of a batch."""
    return os.environ.get(PLAIN) == "1"


def prepared(loops: ModuleType) -> None:
    """See to it that the loops of a module stand translated on disk, for other processes to read."""
    if not stands(loops):
        loaded(loops)


def stands(loops: ModuleType) -> bool:
    """Tell whether the loops of a module stand translated on disk, so that to fetch them takes half a second.

    It is not looked into them: a process that finds them torn, or another processor, translates for itself.
    """
    mark = _mark(_folder(loops))
    return mark is not None and mark.exists()


def at_hand(loops: ModuleType) -> bool:
    """Tell whether the loops of a module have been fetched, or stand translated on disk, and may be used.

    To look there is to read all their sources: a tenth of what a batch of designs with mixed stores takes.
    """
    return not plain() and (bool(_shelf(loops)) or stands(loops))


def _mark(folder: Path) -> Path | None:
    """What says that a folder holds all translations, for this Python and this compiler; ``None`` without a compiler."""
    try:
        return folder / f"whole-{version('numba')}-{sys.implementation.cache_tag}"
    except PackageNotFoundError:
        return None


@cache
def _shelf(loops: ModuleType) -> list[SimpleNamespace | None]:
    """Where a process keeps what it has translated, empty until then."""
    return []


def handed(array: Array) -> Array:
    """Return an array as a loop takes it: one stretch of memory, free to be written to."""
    if array.flags.carray:  # nearly all are, and few designs are handed over a million times
        return array
    array = np.ascontiguousarray(array)
    return array if array.flags.writeable else array.copy()


def called(loop: Any, *given: Any) -> None:
    """Call a loop: nearly all arrays lie as it takes them, and those that do not are handed over in a second call."""
    try:
        loop(*given)
    except TypeError:
        loop(*(handed(x) if isinstance(x, np.ndarray) else x for x in given))


def translated(loops: ModuleType) -> SimpleNamespace | None:
    """Translate the loops of a module, or fetch what has been translated before; ``None`` if that cannot be done."""
    try:
        import numba
    except Exception:  # numba refuses libraries newer than itself with errors of several kinds
        return None
    folder = _folder(loops)
    with _kept_in(folder, numba.config) as kept:
        for keep in (True, True, False) if kept else (False,):
            try:
                found = {name: _machine_code(numba, loops, name, keep) for name in loops.SIGNATURES}
            except Exception:  # a torn file, a full disk, a processor that it does not know: never the user's
                _clear(folder)
                continue
            mark = _mark(folder)
            if keep and mark is not None and len(list(folder.rglob("*.nbi"))) >= len(found):
                with contextlib.suppress(OSError):
                    mark.touch()
            return SimpleNamespace(**found)
    return None


def _folder(loops: ModuleType) -> Path:
    """Where translations are kept, by the sources of the room; numba itself sees to its version and the processor."""
    room = Path(str(loops.__file__)).parent
    sources = b"".join(path.read_bytes() for path in sorted(room.glob("*.py")))
    return cache_folder() / "kernels" / hashlib.sha256(sources).hexdigest()[:16]


def _machine_code(numba: Any, loops: ModuleType, name: str, keep: bool) -> Any:
    """Translate one loop; strict arithmetic, so that the bits do not depend on who computes."""
    return numba.njit(loops.SIGNATURES[name], cache=keep, nogil=True, error_model="numpy", fastmath=False)(
        getattr(loops, name)
    )


@contextlib.contextmanager
def _kept_in(folder: Path, config: Any) -> Iterator[bool]:
    """Have numba keep its work in ``folder`` and nowhere else; say whether that can be written."""
    before = config.CACHE_DIR
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with TemporaryFile(dir=folder):
            pass
    except OSError:
        yield False
        return
    config.CACHE_DIR = str(folder)
    try:
        yield True
    finally:
        config.CACHE_DIR = before


def _clear(folder: Path) -> None:
    for file in (*folder.rglob("*.nb[ci]"), *folder.glob("whole-*")):
        with contextlib.suppress(OSError):
            file.unlink()
