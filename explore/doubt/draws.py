"""Joint draws of everything in doubt: quasi-random points, and the values that a point stands for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri
from scipy.stats import qmc

from explore.config.doubtful import LAWS, Doubtful, doubtful, groups, matrix
from explore.doubt import weathers

if TYPE_CHECKING:
    from explore.config.schema import Case

Array = NDArray[np.float64]

TENTH = float(ndtri(0.9))
"""Standard normal variate that a tenth exceeds: bands are 10-90 % ranges."""
OWN_SHARE = 0.3
"""Share of its variance that a member of a group keeps for itself (model, section 12)."""
FARTHEST = 3.0
"""Spreads from the likely value beyond which nothing is drawn: a judged band says nothing of one draw in 400."""


@dataclass(frozen=True)
class Sample:
    """n joint draws.

    ``values`` (n, k) belong to the items of the :class:`Draws`, ``laws`` (n, 2), bool, say where the other of each of
    the doubtful laws holds; ``factors`` (n, g) are those of the groups, standard normal, towards worse; ``weather`` (n,)
    is the place of the year that each world has, :data:`~explore.doubt.weathers.OWN` for the run's own.
    """

    values: Array
    laws: NDArray[np.bool_]
    factors: Array
    weather: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.values)


class Draws:
    """From points of the unit cube to joint draws of what is in doubt.

    The members of a group share one factor and keep :data:`OWN_SHARE` of their variance; factors are correlated as the
    case says. Raises :class:`explore.errors.InputError` for bands and correlations that cannot be.
    """

    def __init__(
        self,
        items: Sequence[Doubtful],
        correlations: Sequence[Sequence[float]],
        chances: Sequence[float],
        years: int = 0,
    ):
        self.items = tuple(items)
        self.groups = groups(self.items)
        self._chances = np.asarray(chances, float)
        self._years = years
        self._matrix = np.asarray(correlations, float).reshape(len(self.groups), len(self.groups))
        self._root = np.linalg.cholesky(self._matrix) if len(self.groups) else self._matrix
        self._own: list[tuple[str, str]] = []
        for group in self.groups:
            slots = list(dict.fromkeys(_slot(one) for one in self.items if one.group == group))
            if len(slots) > 1:
                self._own += slots

    @staticmethod
    def of(case: Case) -> Draws:
        """Make the draws of a case; constant losses know no doubtful laws."""
        items = doubtful(case)
        given = case.doubt
        chances = (given.root_walls, given.mild_leaks) if case.engine.losses == "scaling" else (0.0, 0.0)
        return Draws(items, matrix(case, groups(items)), chances, weathers.count(case))

    @property
    def dimensions(self) -> int:
        """Length of a point: a factor a group, one for each member with variance of its own, one a law, one the weather."""
        return len(self.groups) + len(self._own) + len(LAWS) + (self._years > 0)

    @property
    def topics(self) -> tuple[str, ...]:
        """What each dimension is about, (d,): its group; groups that are correlated are one topic."""
        names = {group: self._together(place) for place, group in enumerate(self.groups)}
        laws = [names.get(group, group) for group in LAW_GROUPS]
        sky = [WEATHER] if self._years else []
        return (*names.values(), *(names[group] for group, _ in self._own), *laws, *sky)

    def _together(self, place: int) -> str:
        """Name the groups that are correlated with one, itself among them, at any remove."""
        reached, seen = {place}, set[int]()
        while reached - seen:
            one = min(reached - seen)
            seen.add(one)
            reached |= set(np.flatnonzero(self._matrix[one]).tolist())
        return " and ".join(self.groups[one] for one in sorted(reached))

    def sample(self, points: Array) -> Sample:
        """Turn points (n, d) of the unit cube into draws."""
        spread = np.clip(ndtri(points), -FARTHEST, FARTHEST)
        known = len(self.groups)
        factors = spread[:, :known] @ self._root.T
        own = {slot: spread[:, known + place] for place, slot in enumerate(self._own)}
        values = np.empty((len(points), len(self.items)))
        for place, one in enumerate(self.items):
            shared = factors[:, self.groups.index(one.group)]
            if _slot(one) in own:
                shared = np.sqrt(1.0 - OWN_SHARE) * shared + np.sqrt(OWN_SHARE) * own[_slot(one)]
            values[:, place] = value(one, one.worse * shared)
        first = known + len(self._own)
        years = np.full(len(points), weathers.OWN)
        if self._years:  # a point of 1 itself, which rounding may give, is the last year's
            years = np.minimum((points[:, -1] * self._years).astype(np.int64), self._years - 1)
        return Sample(values, points[:, first : first + len(LAWS)] < self._chances, factors, years)


WEATHER = "weather"
"""The topic of which year a world has; no group of assumptions, and correlated with none."""
LAW_GROUPS = ("walls", "seal")
"""The group that each of the doubtful laws belongs to."""


def _slot(one: Doubtful) -> tuple[str, str]:
    """Group and name of what varies for itself; values of which a world uses one or the other vary as one."""
    return one.group, one.law or one.name


def value(one: Doubtful, spread: Array) -> Array:
    """Return the values that lie ``spread`` (n,) standard normal variates from the likely one.

    Two half-lognormals (without an edge half-normals) that meet there and pass the 10 and 90 % points.
    """
    units = np.abs(np.clip(spread, -FARTHEST, FARTHEST)) / TENTH
    end = np.where(spread < 0.0, one.low, one.high)
    if one.edge is None:
        found = one.likely + (end - one.likely) * units
    else:
        found = one.edge + (one.likely - one.edge) * ((end - one.edge) / (one.likely - one.edge)) ** units
    return np.clip(found, one.least, one.most)


def points(count: int, dimensions: int, seed: int) -> Array:
    """Return ``count`` quasi-random points (count, d), scrambled Sobol'; more of them begin with the same ones."""
    whole = 1 << max(count - 1, 0).bit_length()  # a power of two, for which the points are balanced
    return np.asarray(qmc.Sobol(dimensions, scramble=True, seed=seed).random(whole)[:count])
