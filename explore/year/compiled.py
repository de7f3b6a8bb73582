"""The loops of :mod:`explore.year.kernels` as machine code, where the compiler numba is installed.

What it has translated is kept in the folder of the property tables; where nothing can be kept there, every process
translates for itself. Without numba, or with ``EXPLORE_PLAIN=1`` in the environment, the stores march as arrays, to the
same bits.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from explore.fluids.tables import cache_folder
from explore.year import kernels, stores

PLAIN = "EXPLORE_PLAIN"
"""Variable of the environment that keeps to arrays."""
SERIES = "float64[:,::1], float64[::1], float64[::1], uint8[::1]"
SIGNATURES = {
    "stratified": f"void(float64[:,::1], float64[:,::1], {SERIES})",
    "mixed": f"void({'float64[:,::1], ' * 5} int64, {SERIES}, float64[::1])",
}
"""What each loop takes: said beforehand, a loop is translated once and not again for every kind of array."""


WORTH = 64
"""Designs for which the compiler is fetched: that takes a second, at first use in all some ten. Fewer march as arrays
unless it is there already."""


@dataclass(frozen=True)
class Kernels:
    """The compiled loops; arguments as in :mod:`explore.year.kernels`."""

    stratified: Callable[..., None]
    mixed: Callable[..., None]


def loaded(designs: int = WORTH) -> Kernels | None:
    """Return the compiled loops for so many designs, or ``None`` where arrays do the work."""
    if os.environ.get(PLAIN) == "1" or (designs < WORTH and not _load.cache_info().currsize):
        return None
    return _load()


@cache
def _load() -> Kernels | None:
    try:
        import numba
    except Exception:  # numba refuses libraries newer than itself with errors of several kinds
        return None
    folder = _folder()
    with _kept_in(folder, numba.config) as kept:
        for keep in (True, True, False) if kept else (False,):
            try:
                return Kernels(**{name: _translated(numba, name, keep) for name in SIGNATURES})
            except Exception:  # a torn file, a full disk, a processor that it does not know: never the user's
                _clear(folder)
    return None


def _folder() -> Path:
    """Where the translations of these sources are kept; numba itself sees to its version and the processor."""
    sources = b"".join(Path(str(module.__file__)).read_bytes() for module in (kernels, stores))
    return cache_folder() / "kernels" / hashlib.sha256(sources).hexdigest()[:16]


def _translated(numba: Any, name: str, keep: bool) -> Callable[..., None]:
    """Translate one loop; strict arithmetic, so that the bits do not depend on who computes."""
    made: Callable[..., None] = numba.njit(
        SIGNATURES[name], cache=keep, nogil=True, error_model="numpy", fastmath=False
    )(getattr(kernels, name))
    return made


@contextlib.contextmanager
def _kept_in(folder: Path, config: Any) -> Iterator[bool]:
    """Have numba keep its work in ``folder`` and nowhere else; say whether that can be written."""
    before = config.CACHE_DIR
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
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
    for file in folder.rglob("*.nb[ci]"):
        with contextlib.suppress(OSError):
            file.unlink()
