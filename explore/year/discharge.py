"""A fully mixed store drawn down by its engine where no sun comes in: sums over its temperatures, looked up.

From one temperature to a lower one a discharge takes so many hours and gives so much work, however long it has lasted. An
hour of it is two looks into these sums, exact however far and through whatever bends the store falls; no steps are taken.
Derived here: the store loses heat to the engine alone, dt = -dT/flow(T), so time and work are sums over T.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Discharge:
    """Of ``n`` stores what is used and given from the floor up to each of ``K`` places, equally spaced temperatures.

    Args:
        flow: heat drawn in an hour, in places, (n, K), always positive.
        fraction: power over the power asked for, (n, K).
        cooling: cooling water to the heat of a place, in any unit, (n, K).
    """

    def __init__(self, flow: Array, fraction: Array, cooling: Array) -> None:
        n, size = flow.shape
        self.hours, self.work, self.water = map(summed, (1.0 / flow, fraction / flow, cooling))
        """running time [h], work over that of an hour at the power asked for, cooling water; each (n, K)"""
        self.first, self.last_cell = np.arange(n) * size, size - 2
        self.widest = widest_span(size)

    def at(self, sums: Array, place: Array) -> Array:
        """Sum up to each place; places (n,) lie within the grid."""
        cell = np.minimum(place.astype(np.intp), self.last_cell)
        low, rise = self._cell(sums, cell)
        return np.asarray(low + (place - cell) * rise)

    def place(self, sums: Array, reached: Array) -> Array:
        """Place up to which a sum comes to ``reached`` (n,), not below 0 nor above the last; found by halving."""
        cell, span = np.zeros(len(reached), dtype=np.intp), self.widest
        while span:
            probe = np.minimum(cell + span, self.last_cell)
            cell = np.where(sums.take(self.first + probe) <= reached, probe, cell)
            span //= 2
        low, rise = self._cell(sums, cell)
        return np.asarray(cell + np.divide(reached - low, rise, out=np.zeros_like(low), where=rise > 0.0))

    def _cell(self, sums: Array, cell: NDArray[np.intp]) -> tuple[Array, Array]:
        """Sum at the foot of a cell, and the rise across it."""
        low = sums.take(self.first + cell)
        return low, sums.take(self.first + cell + 1) - low


def widest_span(size: int) -> int:
    """First span of a search by halving among the cells of ``size`` places: a power of two."""
    return 1 << max((size - 2).bit_length() - 1, 0)


def summed(rate: Array) -> Array:
    """Sum of ``rate`` (n, K) from the first place up to each, by the trapezoidal rule."""
    cells = 0.5 * (rate[:, 1:] + rate[:, :-1])
    return np.concatenate([np.zeros((len(rate), 1)), np.cumsum(cells, axis=1)], axis=1)
