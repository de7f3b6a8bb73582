"""What is left of doubt after a log: draws of the posterior by adaptive importance sampling.

Slopes at the best values are not enough: a coefficient of which little is lost already (a wide port, a small loss) has
other slopes a little further on. Arrays (s, k) of s draws of k variates z.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.special import logsumexp

from explore.bench.columns import Array
from explore.doubt.draws import FARTHEST

DRAWS, FEW_DRAWS = 4000, 400
"""Of a round: with a fifth of the many effective, the ends of a 90 % interval stand within a tenth of a deviation; few
where each asks the equation of state itself, which is a hundred times dearer than tables, or films of tubes, of which one
factor is sought: its draws are nearly those of the posterior."""
HEATS = (100.0, 20.0, 4.0, 1.0)
"""By how much less readings say in the first rounds: ten times as wide, bends are seen whole. Begun at 1, seven
coefficients on a curved ridge a tenth of their bands wide were drawn about their best values alone, and none missed."""
ROUNDS = 8
"""At most; four or five are the rule."""
ENOUGH = 0.2
"""Share of a round's draws that is effective with which it is the last; where no round reaches it, their intervals are
too narrow by nobody knows how much, and none is told."""
FREEDOM = 10.0
"""Of the multivariate t that draws are taken from: tails a little heavier than those of what is drawn."""
FIRST_WIDTH = 1.2
"""Deviations of the first round over those by slopes, which are too narrow where the model bends."""
WIDER, WIDER_SHARE, PRIOR_SHARE = 2.0, 0.25, 0.15
"""Of the mixture: without members that are wider, the bent posterior of a store's two losses lost a tenth of its width, and
a quarter of its 90 % intervals missed."""
LOCAL, LOCAL_REST = 40, 0.5
"""Small members of a later round, and the share that all others keep: with half of the draws on them a store's bent
losses have a fifth effective in each of twenty logs, without them in three of four."""
NEAR_SHARE, NEAR_DRAWS, LEAST_WEIGHT = 0.12, 8, 1e-12
"""A small member is as wide as the neighbours that hold an eighth of the posterior, and at least so many a coefficient,
lest it be flat; each neighbour counts a little."""
LOCAL_WIDTH = 1.1
"""Deviations of a small member over those of its neighbours: they overlap."""
LEAST_WIDTH = 1e-3
"""Ridge on the covariance of a round, in prior deviations: a few heavy draws may lie on a plane."""
SEED = 1
"""Of the draws: the same log gives the same intervals."""


@dataclass(frozen=True)
class Draws:
    """Weighted draws ``z`` (s, k), ``weights`` (s,) that sum to 1, and how many unweighted ones they are worth.

    ``share`` [-] of the draws of the best round that is effective.
    """

    z: Array
    weights: Array
    effective: float
    share: float

    @property
    def enough(self) -> bool:
        """Tell whether intervals may be told of them."""
        return self.share >= ENOUGH

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

    Priors of deviation 1 are in both. ``count`` draws a round.

    Each round draws from a mixture about what all rounds before have told, the first with readings that say less
    (:data:`HEATS`), and all draws count, weighed against all mixtures together (adaptive multiple importance sampling,
    Cornuet, Marin, Mira and Robert, Scand. J. Stat. 39 (2012) 798, from memory). Nothing beyond 3 prior deviations. A
    second peak that no draw has met is not found out.
    """
    random, share, k = np.random.default_rng(SEED), 0.0, len(centre)
    information = (np.linalg.inv(covariance) - np.eye(k)) / HEATS[0]
    mixtures = [_mixture(centre, np.asarray(FIRST_WIDTH**2 * np.linalg.inv(information + np.eye(k)), float))]
    z, logs, shares = np.empty((0, k)), np.empty(0), np.empty(0)
    while True:
        new = _drawn(mixtures[-1], count, random)
        told, alone = density(new), _shares(new, mixtures[-1])
        before = [_shares(new, one) for one in mixtures[:-1]]
        # draws keep what the mixtures before have given them: only the newest is new to them
        shares = np.concatenate(
            [np.logaddexp(shares, _shares(z, mixtures[-1])), logsumexp([*before, alone], axis=0)]
        )
        z, logs = np.concatenate([z, new]), np.concatenate([logs, told])
        found = Draws(z, weights := _weights(logs - shares), _effective(weights), share)
        if len(mixtures) >= len(HEATS):
            share = max(share, _effective(_weights(told - alone)) / count)
            found = replace(found, share=share)
            if found.enough or len(mixtures) == ROUNDS:
                return found
        heat = HEATS[min(len(mixtures), len(HEATS) - 1)]
        warm = _weights(_warmed(z, logs, heat) - shares)
        mixtures.append(_followed(Draws(z, warm, _effective(warm), share), random))


def _warmed(z: Array, logs: Array, heat: float) -> Array:
    """Log density with what readings say taken ``heat`` times less, the standard normal priors as they are."""
    prior = -0.5 * np.sum(z**2, axis=1)
    return np.asarray((logs - prior) / heat + prior)


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

    @cached_property
    def _flattening(self) -> Array:
        """The inverse of the root: thousands of draws are asked after, of some ten variates."""
        return np.asarray(np.linalg.inv(self.root))

    def log_share(self, z: Array) -> Array:
        """Logarithm of share times density at z (s, k), less what is the same for all members."""
        scaled = self._flattening @ (z - self.centre).T
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


def _followed(found: Draws, random: np.random.Generator) -> list[_Member]:
    """What a later round draws from: the same, and small members along what is bent, each as its neighbours lie."""
    k = found.z.shape[1]
    ridge = LEAST_WIDTH**2 * np.eye(k)
    whole = found.covariance() + ridge
    members = [replace(one, share=LOCAL_REST * one.share) for one in _mixture(found.mean(), whole)]
    scaled = np.linalg.solve(np.linalg.cholesky(whole), found.z.T).T
    for place in random.choice(len(found.z), LOCAL, p=found.weights):
        nearest = np.argsort(np.sum((scaled - scaled[place]) ** 2, axis=1))
        enough = int(np.searchsorted(np.cumsum(found.weights[nearest]), NEAR_SHARE))
        near = nearest[: max(enough, NEAR_DRAWS * k)]
        own = Draws(found.z[near], found.weights[near] + LEAST_WEIGHT, 0.0, 0.0).covariance()
        root = np.asarray(np.linalg.cholesky(LOCAL_WIDTH**2 * own + ridge), float)
        members.append(_Member((1.0 - LOCAL_REST) / LOCAL, found.z[place], root))
    return members


def _drawn(members: Sequence[_Member], count: int, random: np.random.Generator) -> Array:
    """Draw from a mixture, each member its share; what lies beyond the priors is left out."""
    z = np.concatenate([one.draw(round(one.share * count), random) for one in members])
    return np.asarray(z[np.all(np.abs(z) < FARTHEST, axis=1)])


def _shares(z: Array, members: Sequence[_Member]) -> Array:
    """Log density of a mixture at z (s, k), less what is the same for all mixtures, (s,)."""
    return np.asarray(logsumexp([one.log_share(z) for one in members], axis=0))


def _weights(ratio: Array) -> Array:
    """Weigh draws by their log density less that of all the mixtures that they were taken from, each as often, (s,)."""
    weights = np.exp(ratio - ratio.max())
    return np.asarray(weights / weights.sum())


def _effective(weights: Array) -> float:
    """How many draws of one weight they are worth: 1 / sum(w^2), Kish."""
    return float(1.0 / np.sum(weights**2))
