"""Several populations bred in lockstep, so that the model always sees one large batch.

A population of 50 to 200 converges best, the model is fastest on a thousand designs and more:
populations of different fluids therefore breed side by side and one call evaluates them all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from explore.search import variation
from explore.search.ranking import survivors, tournament

ANY_FLUID = -1
MUTATED_CHOICES = 0.03


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


@dataclass(frozen=True)
class Plan:
    """One island: its fluid (or :data:`ANY_FLUID`), population, designs in all, and how it starts.

    ``known`` are evaluated designs of the island; ``migrants`` are designs from elsewhere, tried first.
    """

    fluid: int
    population: int
    designs: int
    known: Known
    migrants: Genes


class Island:
    """One population with constraint domination, crossover, mutation and differential steps."""

    def __init__(self, plan: Plan, counts: tuple[int, ...], rng: np.random.Generator):
        self.left = plan.designs
        self._plan = plan
        self._counts = counts
        self._rng = rng
        self._migrants = plan.migrants
        self._alive, self._ranks, self._crowding = plan.known, np.empty(0), np.empty(0)
        if len(plan.known):
            self._select(plan.known)

    def ask(self) -> Genes:
        """Propose the next batch, never more than the island's designs left."""
        n = min(self._plan.population, self.left)
        guests, self._migrants = self._migrants.take(slice(n // 2)), self._migrants.take(slice(0))
        n -= len(guests)
        fresh = n if len(self._alive) == 0 else min(n, max(0, self._plan.population // 2 - len(self._alive)))
        parts = [guests, self._random(fresh)] + ([self._breed(n - fresh)] if fresh < n else [])
        batch = Genes.join(parts)
        if self._plan.fluid != ANY_FLUID:
            batch.choices[:, 0] = self._plan.fluid
        return batch

    def tell(self, batch: Known) -> None:
        """Take an evaluated batch in and keep the best designs."""
        self.left -= len(batch)
        self._select(Known.join([self._alive, batch]))

    def _select(self, pool: Known) -> None:
        kept, self._ranks, self._crowding = survivors(pool.values, pool.breach, self._plan.population)
        self._alive = pool.take(kept)

    def _random(self, n: int) -> Genes:
        unit = self._rng.random((n, self._plan.known.genes.unit.shape[1]))
        return Genes(unit, (self._rng.random((n, len(self._counts))) * self._counts).astype(int))

    def _breed(self, n: int) -> Genes:
        """Half the children by crossover, half by differential steps among like designs; then mutate."""
        rng, alive = self._rng, self._alive.genes
        first, second = (alive.take(tournament(self._ranks, self._crowding, n, rng)) for _ in range(2))
        ahead, behind = rng.integers(0, len(alive), (2, n))
        crossed = variation.simulated_binary_crossover(first.unit, second.unit, rng)
        stepped = variation.differential_step(first.unit, alive.unit[ahead], alive.unit[behind], rng)
        by_step = rng.random((n, 1)) < 0.5
        unit = np.where(by_step, stepped, crossed)
        unit = variation.polynomial_mutation(unit, rng, rate=1.0 / unit.shape[1])
        choices = variation.cross_choices(first.choices, second.choices, rng)
        choices = np.where(by_step, first.choices, choices)
        return Genes(unit, variation.mutate_choices(choices, self._counts, rng, rate=MUTATED_CHOICES))


class Islands:
    """All islands of a leg: ask one batch for all, tell the results back to each."""

    def __init__(self, plans: Sequence[Plan], counts: tuple[int, ...], rng: np.random.Generator):
        streams = rng.spawn(len(plans))
        self._islands = [Island(plan, counts, own) for plan, own in zip(plans, streams, strict=True)]
        self._asked: list[tuple[Island, Genes]] = []

    @property
    def finished(self) -> bool:
        """Whether every island has used its designs."""
        return all(island.left <= 0 for island in self._islands)

    def ask(self) -> Genes:
        """Propose one batch made of every island's next generation."""
        self._asked = [(island, island.ask()) for island in self._islands if island.left > 0]
        return Genes.join([batch for _, batch in self._asked])

    def tell(self, values: np.ndarray, breach: np.ndarray) -> None:
        """Give the results of the last batch back: ``values`` (n, m) minimised, ``breach`` (n,)."""
        start = 0
        for island, batch in self._asked:
            rows = slice(start, start + len(batch))
            island.tell(Known(batch, values[rows], breach[rows]))
            start += len(batch)
