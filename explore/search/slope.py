"""How objectives and limits change with the genes of many designs: linear pictures that learn from what is found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from explore.search.judge import FARTHEST, Judged

ENDLESS = 0.1 * FARTHEST
"""A change of that size is no change: a figure is missing there, or a limit begins to apply."""


@dataclass(frozen=True)
class Slope:
    """Slopes ``of`` (n, d, m + k) of the objectives and of the limits' excess over the genes of n designs."""

    of: np.ndarray

    def take(self, rows: np.ndarray) -> Slope:
        """Select designs."""
        return Slope(self.of[rows])

    @staticmethod
    def join(parts: Sequence[Slope]) -> Slope:
        """Put the slopes of several sets of designs behind one another."""
        return Slope(np.concatenate([part.of for part in parts]))

    def put_right(self, move: np.ndarray, change: np.ndarray) -> Slope:
        """Return the nearest slopes that give the ``change`` (n, m + k) found along a ``move`` (n, d).

        Broyden, Mathematics of Computation 19 (1965) 577-593. A change without end teaches nothing.
        """
        length = (move**2).sum(axis=1)
        far = np.flatnonzero(length > 0.0)
        error = change[far] - np.einsum("nd,ndk->nk", move[far], self.of[far])
        error[np.abs(change[far]) >= ENDLESS] = 0.0
        of = self.of.copy()
        of[far] += np.einsum("nd,nk->ndk", move[far] / length[far, None], error)
        return Slope(of)


def figures(judged: Judged) -> np.ndarray:
    """What is linearised, (n, m + k): the objectives, then each limit's excess."""
    return np.hstack([judged.values, judged.excess])


def by_difference(here: np.ndarray, nearby: np.ndarray, step: np.ndarray) -> np.ndarray:
    """Slopes (n, m + k) from figures ``here`` and ``nearby`` (n, m + k) that lie a ``step`` (n,) of one gene apart."""
    change = nearby - here
    return np.where(np.abs(change) < ENDLESS, change, 0.0) / step[:, None]
