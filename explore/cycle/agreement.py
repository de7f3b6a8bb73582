"""Several unknowns of every design that must agree with as many conditions: Newton's method over a batch.

The number of steps is fixed, and each design keeps to itself, so that none depends on its batch.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from explore.fluids.interface import Array, Index
from explore.plant.circuit import rows

STEPS = 14
"""From the run's own state to that of another world: six to eight reach rounding, the rest is for worlds far off."""
NEAREST = 0.15
"""Share of a margin that one step leaves at least: beyond no margin an exchanger has no area that would do."""
MOST_MISS = 1e-3
"""Share by which a condition may still miss: an exchanger's area is not known to a thousandth either."""
SMALLEST = 1e-12
"""Determinant, in scaled unknowns, below which the conditions say nothing of some direction and no step is taken."""


class Tried(NamedTuple):
    """What comes of values of the unknowns, for N designs.

    ``lack`` (N, m) is zero where a condition is met; ``margins`` (N, k) must stay positive; ``carried`` is whatever a state
    close by may begin from.
    """

    lack: Array
    margins: Array
    carried: Any


class Unknowns(NamedTuple):
    """How m unknowns are varied: the ``difference`` a slope is taken over, the ``longest`` step, and the ``retreat``.

    The retreat is the step taken where a margin is lost. Each (m,).
    """

    difference: Array
    longest: Array
    retreat: Array


Try = Callable[[Array, Index, Any], Tried]
"""Values (N, m), the place of the design that each row belongs to (N,), and what is carried to each."""


def agree(
    attempt: Try, start: Array, carried: Any, unknowns: Unknowns, steps: int = STEPS
) -> tuple[Array, Any]:
    """Return the unknowns (n, m) that meet all conditions, and what their last attempt carried.

    ``start`` (n, m). Slopes are differences, taken for all unknowns in one call. A step is cut where it would eat more
    than most of a margin. Where no values meet the conditions the last ones tried come back: the caller asks once
    more how far they are off.
    """
    n, m = start.shape
    x = start.copy()
    places = np.tile(np.arange(n), m + 1)
    moved = np.concatenate([np.zeros((1, m)), np.diag(unknowns.difference)])
    for _ in range(steps):
        trial = (x[None, :, :] + moved[:, None, :]).reshape(-1, m)
        done = attempt(trial, places, rows(carried, places))
        lack = done.lack.reshape(m + 1, n, m)
        margins = done.margins.reshape(m + 1, n, -1)
        carried = rows(done.carried, np.arange(n))
        by = unknowns.difference[:, None, None]
        x = x + _step(
            lack[0], (lack[1:] - lack[0]) / by, margins[0], (margins[1:] - margins[0]) / by, unknowns
        )
    return x, carried


def _step(lack: Array, slopes: Array, margins: Array, falls: Array, unknowns: Unknowns) -> Array:
    """Newton's step (n, m), held within ``longest`` and the margins; ``slopes`` and ``falls`` are by unknown first."""
    scale = unknowns.longest
    matrix = np.moveaxis(slopes, 0, -1) * scale  # (n, conditions, unknowns)
    sound = np.asarray(np.isfinite(matrix).all(axis=(1, 2)) & np.isfinite(lack).all(axis=1))
    matrix = np.where(sound[:, None, None], matrix, np.eye(matrix.shape[-1]))
    sound &= np.abs(np.linalg.det(matrix)) > SMALLEST
    matrix = np.where(sound[:, None, None], matrix, np.eye(matrix.shape[-1]))
    wanted = -np.linalg.solve(matrix, np.where(sound[:, None], lack, 0.0)[:, :, None])[:, :, 0]
    share = 1.0 / np.maximum(np.max(np.abs(wanted), axis=1), 1.0)
    step = wanted * share[:, None] * scale
    fall = np.nan_to_num(-np.einsum("knq,nk->nq", falls, step))
    kept = np.where(fall > 0.0, (1.0 - NEAREST) * margins / np.where(fall > 0.0, fall, 1.0), 1.0)
    step = step * np.clip(np.min(kept, axis=1), 0.0, 1.0)[:, None]
    lost = np.asarray((margins <= 0.0).any(axis=1))
    return np.where(lost[:, None], unknowns.retreat, step)
