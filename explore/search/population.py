"""What every optimiser works with: designs as genes, designs already judged, and a population that ranks them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from explore.search.ranking import best_ranked, survivors, tournament

ANY_FLUID = ANY_LAYOUT = -1
"""No place in a list of fluids, or of layouts."""
FLUID, LAYOUT = 0, 1
"""Where these two stand among the choices of a design; together they are its niche."""


@dataclass(frozen=True)
class Genes:
    """Designs as genes: ``unit`` (n, d) in [0, 1] and ``choices`` (n, c)."""

    unit: np.ndarray
    choices: np.ndarray

    def __len__(self) -> int:
        return len(self.unit)

    def take(self, rows: np.ndarray | slice) -> Genes:
        """Select rows."""
        return Genes(self.unit[rows], self.choices[rows])

    @property
    def niches(self) -> np.ndarray:
        """A number (n,) that designs of the same fluid and layout share."""
        kinds = self.choices[:, : LAYOUT + 1]
        number = np.zeros(len(kinds), int)
        for option in kinds.T:  # as one number they sort far faster than rows do
            number = number * (option.max(initial=0) + 1) + option
        return np.unique(number, return_inverse=True)[1].reshape(-1)

    @staticmethod
    def join(parts: Sequence[Genes]) -> Genes:
        """Put several sets of genes behind one another."""
        return Genes(np.concatenate([p.unit for p in parts]), np.concatenate([p.choices for p in parts]))


@dataclass(frozen=True)
class Known:
    """Designs already evaluated: genes, objectives ``values`` (n, m; minimised) and ``breach`` (n,)."""

    genes: Genes
    values: np.ndarray
    breach: np.ndarray

    def __len__(self) -> int:
        return len(self.breach)

    def take(self, rows: np.ndarray | slice) -> Known:
        """Select rows."""
        return Known(self.genes.take(rows), self.values[rows], self.breach[rows])

    @staticmethod
    def join(parts: Sequence[Known]) -> Known:
        """Put several sets of designs behind one another."""
        return Known(
            Genes.join([p.genes for p in parts]),
            np.concatenate([p.values for p in parts]),
            np.concatenate([p.breach for p in parts]),
        )

    @staticmethod
    def none(dimensions: int, choices: int, objectives: int) -> Known:
        """Return no designs at all, of the right shape."""
        genes = Genes(np.empty((0, dimensions)), np.empty((0, choices), int))
        return Known(genes, np.empty((0, objectives)), np.empty(0))


class Population:
    """Designs that live together, at most ``size``: the best of all that were taken in."""

    def __init__(self, size: int, known: Known):
        self.size, self.alive = size, known
        self._ranks, self._worth = np.empty(0, int), np.empty(0)
        if len(known):
            self.take_in(known.take(slice(0)))

    def __len__(self) -> int:
        return len(self.alive)

    def take_in(self, batch: Known) -> None:
        """Add evaluated designs and keep the best, by constrained rank and worth."""
        pool = Known.join([self.alive, batch])
        kept, self._ranks, self._worth = survivors(pool.values, pool.breach, self.size)
        self.alive = pool.take(kept)

    def parents(self, n: int, rng: np.random.Generator) -> np.ndarray:
        """Draw ``n`` rows by binary tournament."""
        return tournament(self._ranks, self._worth, n, rng)


def best(known: Known, count: int) -> Known:
    """The best ``count`` designs by constrained rank and crowding."""
    return known.take(best_ranked(known.values, known.breach, count)[0]) if len(known) > count else known
