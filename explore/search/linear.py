"""Many small linear programmes that share nothing, solved as one: a call of the solver costs more than a programme."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np


class Programme(NamedTuple):
    """Least ``cost`` (d,) @ x with ``rows`` (k, d) @ x <= ``most`` (k,) and ``low`` <= x <= ``high``, each (d,)."""

    cost: np.ndarray
    rows: np.ndarray
    most: np.ndarray
    low: np.ndarray
    high: np.ndarray


def solved(programmes: Sequence[Programme]) -> list[np.ndarray]:
    """Return the best x (d,) of each programme, and zeros for one that has none (scipy's HiGHS).

    One without rows needs no solver: each x goes to the end of its range that its cost asks for.
    """
    found = [_corner(one) for one in programmes]
    bound = [place for place, one in enumerate(programmes) if len(one.rows) and len(one.cost)]
    for place, best in zip(bound, _together([programmes[place] for place in bound]), strict=True):
        found[place] = best
    return found


def _corner(one: Programme) -> np.ndarray:
    return np.where(one.cost > 0.0, one.low, np.where(one.cost < 0.0, one.high, 0.0))


def _together(programmes: Sequence[Programme]) -> list[np.ndarray]:
    """Solve programmes side by side; where that fails, for one of them has no solution, each by itself."""
    from scipy.optimize import linprog
    from scipy.sparse import block_diag

    if not programmes:
        return []
    many = len(programmes) > 1
    result = linprog(
        np.concatenate([one.cost for one in programmes]),
        A_ub=block_diag([one.rows for one in programmes], format="csc") if many else programmes[0].rows,
        b_ub=np.concatenate([one.most for one in programmes]),
        bounds=np.stack(
            [
                np.concatenate([one.low for one in programmes]),
                np.concatenate([one.high for one in programmes]),
            ],
            axis=1,
        ),
        method="highs",
    )
    if result.success:
        ends = np.cumsum([len(one.cost) for one in programmes])
        return np.split(np.asarray(result.x), ends[:-1])
    if many:
        return [x for one in programmes for x in _together([one])]
    return [np.zeros(len(programmes[0].cost))]
