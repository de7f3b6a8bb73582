"""What is left of doubt after a log: draws of the posterior by adaptive importance sampling.

Slopes at the best values are not enough: a coefficient of which little is lost already (a wide port, a small loss) has
other slopes a little further on. Arrays (s, k) of s draws of k variates z.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp

from explore.bench.log import Array
from explore.doubt.draws import FARTHEST

DRAWS, FEW_DRAWS = 4000, 400
"""Of a round: with a fifth of the many effective, the ends of a 90 % interval stand within a tenth of a deviation; few
where each asks the equation of state itself, which is a hundred times dearer than tables."""
ROUNDS = 6
"""At most; two or three are the rule."""
ENOUGH = 0.2
"""Share of draws that is effective with which a round is the last."""
FREEDOM = 10.0
"""Of the multivariate t that draws are taken from: tails a little heavier than those of what is drawn."""
FIRST_WIDTH = 1.2
"""Deviations of the first round over those by slopes, which are too narrow where the model bends."""
WIDER, WIDER_SHARE, PRIOR_SHARE = 2.0, 0.25, 0.15
"""Of the mixture: without members that are wider, the bent posterior of a store's two losses lost a tenth of its width, and
a quarter of its 90 % intervals missed."""
LEAST_WIDTH = 1e-3
"""Ridge on the covariance of a round, in prior deviations: a few heavy draws may lie on a plane."""
SEED = 1
"""Of the draws: the same log gives the same intervals."""


@dataclass(frozen=True)
class Draws:
    """Weighted draws ``z`` (s, k), ``weights`` (s,) that sum to 1, and how many unweighted ones they are worth."""

    z: Array
    weights: Array
    effective: float

    def ends(self, i: int, shares: tuple[float, ...]) -> Array:
        """Return the quantiles of variate i, outwards by the standard error that so few draws leave in their shares."""
        least = np.asarray(shares)
        error = np.sqrt(least * (1.0 - least) / self.effective)
        outer = np.clip(np.where(least < 0.5, least - error, least + error), 0.0, 1.0)
        return self.quantiles(i, tuple(outer))

    def quantiles(self, i: int, shares: tuple[float, ...]) -> Array:
        """Return the weighted quantiles of variate i."""
        order = np.argsort(self.z[:, i])
        below = np.cumsum(self.weights[order]) - 0.5 * self.weights[order]
        return np.asarray(np.interp(shares, below, self.z[order, i]))

    def covariance(self) -> Array:
        """Return the covariance (k, k)."""
        return np.atleast_2d(np.cov(self.z.T, aweights=self.weights, ddof=0))

    def mean(self) -> Array:
        """Return the mean (k,)."""
        return np.asarray(self.weights @ self.z)


def sample(density: Callable[[Array], Array], centre: Array, covariance: Array, count: int = DRAWS) -> Draws:
    """Draw from a log density of z (s, k) -> (s,), begun at ``centre`` (k,) with ``covariance`` (k, k) by slopes.

    ``count`` draws a round.

    Each round draws from a mixture about mean and covariance of the round before (population Monte Carlo, Cappe,
    Guillin, Marin and Robert, J. Comput. Graph. Stat. 13 (2004) 907, from memory). Nothing beyond 3 prior deviations.
    """
    random = np.random.default_rng(SEED)
    best = found = _round(density, _mixture(centre, FIRST_WIDTH**2 * covariance), count, random)
    for _ in range(ROUNDS - 1):
        if best.effective >= ENOUGH * count:
            break
        ridge = LEAST_WIDTH**2 * np.eye(len(centre))
        found = _round(density, _mixture(found.mean(), found.covariance() + ridge), count, random)
        best = max(best, found, key=lambda one: one.effective)
    return best


@dataclass(frozen=True)
class _Member:
    """A multivariate t of a mixture: its share, mean (k,), and the root (k, k) of its covariance."""

    share: float
    centre: Array
    root: Array

    def draw(self, count: int, random: np.random.Generator) -> Array:
        shrink = np.sqrt(FREEDOM / random.chisquare(FREEDOM, count))
        return np.asarray(
            self.centre + shrink[:, None] * random.standard_normal((count, len(self.centre))) @ self.root.T
        )

    def log_share(self, z: Array) -> Array:
        """Logarithm of share times density at z (s, k), less what is the same for all members."""
        scaled = np.linalg.solve(self.root, (z - self.centre).T)
        spread = float(np.log(np.diag(self.root)).sum())
        tail = np.log1p(np.sum(scaled**2, axis=0) / FREEDOM)
        return np.asarray(np.log(self.share) - spread - 0.5 * (FREEDOM + len(self.centre)) * tail)


def _mixture(centre: Array, covariance: Array) -> list[_Member]:
    """What a round draws from: about what is known, wider, and as wide as the priors, so that no tail is missed."""
    root = np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)
    return [
        _Member(1.0 - WIDER_SHARE - PRIOR_SHARE, centre, root),
        _Member(WIDER_SHARE, centre, np.asarray(WIDER * root)),
        _Member(PRIOR_SHARE, np.zeros_like(centre), np.eye(len(centre))),
    ]


def _round(
    density: Callable[[Array], Array], members: Sequence[_Member], count: int, random: np.random.Generator
) -> Draws:
    z = np.concatenate([one.draw(round(one.share * count), random) for one in members])
    z = z[np.all(np.abs(z) < FARTHEST, axis=1)]
    logs = density(z) - logsumexp([one.log_share(z) for one in members], axis=0)
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    return Draws(z, weights, float(1.0 / np.sum(weights**2)))
