"""What is computed once and kept on disk between runs: property tables, translated loops, years of weather."""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Callable, Collection, Sequence
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from explore.errors import InputError
from explore.whole_file import clean, replacing, write_whole

Arrays = dict[str, NDArray[Any]]

LATEST = 24
"""Of what depends on the user's files and settings, how many of a kind are kept: the latest."""


def cache_folder() -> Path:
    """Return the folder of kept files: ``$EXPLORE_CACHE`` or the user's cache folder.

    Raises :class:`InputError` where what the variable names is there and no folder: all would be made anew for ever.
    """
    from platformdirs import user_cache_path

    named = os.environ.get("EXPLORE_CACHE")
    if named and os.path.lexists(named) and not os.path.isdir(named):
        raise InputError(f"EXPLORE_CACHE={named} is no folder; name one, or leave the variable out")
    return Path(named) if named else user_cache_path("hot-water-engine-explorer")


def opened(folder: Path | None = None) -> Path:
    """Return ``folder``, or that of :func:`cache_folder`, without what killed writers have left in it."""
    place = folder or cache_folder()
    clean(place)
    return place


def stamp(path: Path) -> tuple[int, ...]:
    """Return what changes with a file that is written anew or another in its place; nothing where there is none."""
    try:
        about = path.stat()
    except (OSError, ValueError):  # a name with a null in it is that of no file
        return ()
    return about.st_dev, about.st_ino, about.st_mtime_ns, about.st_size


def read(path: Path) -> Arrays | None:
    """Read the arrays of a cache file; ``None`` if it is absent, torn or of another kind."""
    try:
        with np.load(path) as stored:
            return {key: stored[key] for key in stored.files}
    except (OSError, ValueError, KeyError, EOFError, BadZipFile):
        return None


def store(path: Path, arrays: Arrays) -> None:
    """Write arrays as one whole file; give up silently on a disk that is full or read-only."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with replacing(path) as part:
            np.savez(part, allow_pickle=False, **arrays)
    except OSError:
        return


def mapped(path: Path) -> NDArray[Any] | None:
    """Return the array of a file of :func:`store_mapped` as it lies on disk, shared by all processes that read it.

    Whoever writes to it has a copy of what is written. ``None`` if the file is absent or of another kind.
    """
    try:
        return np.asarray(np.load(path, mmap_mode="c"))
    except (OSError, ValueError, EOFError, BadZipFile):
        return None


def store_mapped(path: Path, array: NDArray[Any], latest: int) -> None:
    """Write one array for :func:`mapped`, keep the ``latest`` of its kind; give up silently on a full or read-only disk."""
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        with replacing(path) as part:
            np.save(part, array)
        _forget(path.parent, f"{path.name.split('-')[0]}-*.npy", latest)


def remembered(
    kind: str, names: Collection[str], causes: Sequence[bytes], make: Callable[[], Arrays]
) -> Arrays:
    """Return what ``make`` gives, from disk where the same ``causes`` gave it before; some of each kind are kept.

    ``names`` are those of the arrays: a file with others is made anew; ``causes`` are all that they follow from. Whatever
    ``make`` raises passes, and nothing is kept then.
    """
    digest = hashlib.sha256()
    for cause in causes:
        digest.update(b"%d:" % len(cause) + cause)
    folder = opened()
    path = folder / f"{kind}-{digest.hexdigest()[:32]}.npz"
    stored = read(path)
    if stored is not None and set(stored) == set(names):
        return stored
    made = make()
    store(path, made)
    _forget(folder, f"{kind}-*.npz", LATEST)
    return made


def _forget(folder: Path, kind: str, latest: int) -> None:
    with contextlib.suppress(OSError):  # another process forgets the same
        for old in sorted(folder.glob(kind), key=lambda file: file.stat().st_mtime_ns)[:-latest]:
            old.unlink()


def write_text(path: Path, text: str) -> None:
    """Write a small cache file whole; give up silently on a read-only disk."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, text.encode())
    except OSError:
        return
