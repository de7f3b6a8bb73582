"""Loops of the tests' own twins as machine code, where numba is installed: their arithmetic, in a tenth of the time."""

from __future__ import annotations


def compiled(loop):
    """Translate a loop over numbers at its first call; without the compiler it stays as it is."""
    try:
        from numba import njit
    except ImportError:
        return loop
    return njit(loop)


def plain(loop):
    """Return a loop as it is written, within which a test may put other functions."""
    return getattr(loop, "py_func", loop)
