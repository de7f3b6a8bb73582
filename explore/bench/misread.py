"""How far readings are off: by their own accuracy, and by conditions that were misread, of one test or of several.

Vectors of readings are (m,), in the order of columns and lines of a test.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from scipy.linalg import block_diag
from scipy.special import ndtri

from explore.bench.columns import EXCHANGERS, Array
from explore.bench.log import Trial
from explore.bench.steps import step

COVERED = float(ndtri(0.975))
"""An accuracy holds 95 % of readings: so many standard deviations (JCGM 100:2008, 6.3.3, takes 2)."""
JOINT_STEP = 0.01
"""Of the greatest value of a reckoned condition, for its slope: what is reckoned is seldom known better."""


@dataclass(frozen=True)
class Errors:
    """Errors of readings about some coefficients; ``read`` says with them what each measured column would be, (n,)."""

    read: Callable[[Trial], Mapping[str, Array]]

    def of(self, test: Trial) -> Array:
        """Return the covariance (m, m) of a test's errors: those of readings, and what wrong conditions make of a line.

        Errors of a condition move all readings of its line together. Source: first-order propagation, JCGM 100:2008, 5.2.
        """
        names, count = test.measured(), len(test.lines)
        own = np.concatenate([self._own(test, name) for name in names])
        same = np.tile(np.eye(count), (len(names), len(names)))
        total = np.diag(own**2)
        for slope in self.by_condition(test).values():
            total = total + np.outer(slope, slope) * same
        for name, reckoned in test.joint.items():
            slope = self._slope(test, name, JOINT_STEP * float(np.nanmax(test.columns[name])))
            total = total + np.outer(slope, slope) * np.tile(reckoned.covariance, (len(names), len(names)))
        return np.asarray(total)

    def of_all(self, tests: Sequence[Trial]) -> Array:
        """Return the covariance of the errors of all tests: those of two exchangers share what a line has read once."""
        errors = block_diag(*(self.of(test) for test in tests))
        ends = np.cumsum([0, *(len(test.measured()) * len(test.lines) for test in tests)])
        exchanging = [i for i, test in enumerate(tests) if test.kind in EXCHANGERS]
        for i, j in combinations(exchanging, 2):
            both = self._shared(tests[i], tests[j])
            errors[ends[i] : ends[i + 1], ends[j] : ends[j + 1]] = both
            errors[ends[j] : ends[j + 1], ends[i] : ends[i + 1]] = both.T
        return np.asarray(errors)

    def _shared(self, one: Trial, other: Trial) -> Array:
        """Return the covariance (m, m') of the errors of two exchangers, by conditions that both have from one line."""
        names = (len(one.measured()), len(other.measured()))
        same = np.equal.outer(one.lines, other.lines).astype(np.float64)
        total = np.zeros((names[0] * len(one.lines), names[1] * len(other.lines)))
        first, second = self.by_condition(one), self.by_condition(other)
        for name in set(first) & set(second):
            total = total + np.outer(first[name], second[name]) * np.tile(same, names)
        for name in set(one.joint) & set(other.joint):
            step = JOINT_STEP * float(np.nanmax(one.columns[name]))
            slopes = [self._slope(test, name, step) for test in (one, other)]
            total = total + np.outer(*slopes) * np.tile(one.joint[name].covariance @ same, names)
        return np.asarray(total)

    def _own(self, test: Trial, name: str) -> Array:
        """Return the standard deviations (n,) that a reading's own error makes of how far the model is off.

        What was reckoned of the reading as well moves what the model says along with it.
        """
        alone = np.full(len(test.lines), test.accuracy[name] / COVERED)
        for other, reckoned in test.joint.items():
            if name in reckoned.slopes:
                step = JOINT_STEP * float(np.nanmax(test.columns[other]))
                slope = self._slope(test, other, step).reshape(-1, len(test.lines))
                alone = alone * (1.0 - slope[test.measured().index(name)] * reckoned.slopes[name])
        return np.asarray(alone)

    def by_condition(self, test: Trial) -> dict[str, Array]:
        """Return what a standard deviation of each condition makes of the readings, (m,)."""
        spreads = {name: test.accuracy[name] / COVERED for name in test.given() if test.accuracy[name] > 0.0}
        return {
            name: self._slope(test, name, step(name, test.columns[name], spread)) * spread
            for name, spread in spreads.items()
        }

    def _slope(self, test: Trial, name: str, by: Array | float) -> Array:
        """Return the slope of the readings by a condition, (m,), a step a line; what is reckoned of it goes along."""
        steps = np.full(len(test.lines), by)
        columns: dict[str, Array] = {**test.columns, name: test.columns[name] + steps}
        along: dict[str, Array] = {name: steps}
        for other, reckoned in test.joint.items():
            follows = [by * reckoned.slopes[one] for one, by in along.items() if one in reckoned.slopes]
            if follows and other != name:
                along[other] = np.asarray(np.sum(follows, axis=0))
                columns[other] = columns[other] + along[other]
        base, moved = (stacked(one, self.read(one)) for one in (test, replace(test, columns=columns)))
        return np.asarray((moved - base) / np.tile(steps, len(test.measured())))


def stacked(test: Trial, columns: Mapping[str, Array]) -> Array:
    """Return the measured columns of a test one after another, (m,)."""
    return np.concatenate([columns[name] for name in test.measured()])


def inverse_root(errors: Array) -> Array:
    """Return the symmetric root of the inverse of a covariance (m, m): of all roots the one that mixes readings least."""
    values, vectors = np.linalg.eigh(errors)
    return np.asarray((vectors / np.sqrt(values)) @ vectors.T)
