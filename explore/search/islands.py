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
MUTATED_CHOICES = 0.015
REACH = 5.0
NEAR_MATES = 0.8
STEPPED = 0.2
GUESTS = 0.9


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
    """One island: its fluid (or :data:`ANY_FLUID`), how many live, how many are born in all, and who is there.

    ``known`` are evaluated designs of the island.
    """

    fluid: int
    population: int
    designs: int
    known: Known


class Island:
    """One population with constraint domination, crossover, mutation and differential steps."""

    def __init__(self, plan: Plan, counts: tuple[int, ...], rng: np.random.Generator):
        self.plan = plan
        self.left = plan.designs
        self.alive = plan.known
        self._counts = counts
        self._rng = rng
        self._ranks, self._worth = np.empty(0, int), np.empty(0)
        self._like = self._place = np.empty(0, int)
        if len(plan.known):
            self.tell(plan.known.take(slice(0)))

    def ask(self, n: int, guests: Island | None) -> Genes:
        """Propose ``n`` designs, never more than are left; some may descend from ``guests``."""
        n = min(n, self.left)
        self.left -= n
        lent = int(n * (GUESTS if len(self.alive) else 1.0)) if guests and len(guests.alive) else 0
        parts = [guests.breed(lent, self._rng)] if guests and lent else []
        n -= lent
        fresh = n if len(self.alive) == 0 else min(n, max(0, self.plan.population // 2 - len(self.alive)))
        parts += [self._random(fresh)] + ([self.breed(n - fresh, self._rng)] if fresh < n else [])
        batch = Genes.join(parts)
        if self.plan.fluid != ANY_FLUID:
            batch.choices[:, 0] = self.plan.fluid
        return batch

    def tell(self, batch: Known) -> None:
        """Take an evaluated batch in and keep the best designs."""
        pool = Known.join([self.alive, batch])
        kept, self._ranks, self._worth = survivors(pool.values, pool.breach, self.plan.population)
        self.alive = pool.take(kept)
        # Neighbours in this order are alike: same fluid and layout, near in the first objective.
        choices = self.alive.genes.choices
        self._like = np.lexsort((self.alive.values[:, 0], choices[:, 1], choices[:, 0]))
        self._place = np.argsort(self._like)

    def breed(self, n: int, rng: np.random.Generator) -> Genes:
        """Half the children by crossover, half by differential steps among like designs; then mutate."""
        alive = self.alive.genes
        base = tournament(self._ranks, self._worth, n, rng)
        near = self._near(base, rng)
        mate = np.where(rng.random(n) < NEAR_MATES, near, tournament(self._ranks, self._worth, n, rng))
        first, second, other = alive.take(base), alive.take(mate), alive.take(self._near(base, rng))
        crossed = variation.simulated_binary_crossover(first.unit, second.unit, rng)
        stepped = variation.differential_step(first.unit, alive.unit[near], other.unit, rng)
        by_step = rng.random((n, 1)) < STEPPED
        unit = np.where(by_step, stepped, crossed)
        unit = variation.polynomial_mutation(unit, rng, rate=1.5 / unit.shape[1])
        choices = variation.cross_choices(first.choices, second.choices, rng)
        choices = np.where(by_step, first.choices, choices)
        return Genes(unit, variation.mutate_choices(choices, self._counts, rng, rate=MUTATED_CHOICES))

    def _random(self, n: int) -> Genes:
        unit = self._rng.random((n, self.plan.known.genes.unit.shape[1]))
        return Genes(unit, (self._rng.random((n, len(self._counts))) * self._counts).astype(int))

    def _near(self, rows: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        """For each of ``rows`` another design that is like it."""
        offset = np.ceil(rng.exponential(REACH, len(rows))).astype(int)
        offset *= rng.choice([-1, 1], len(rows))
        return self._like[np.clip(self._place[rows] + offset, 0, len(self._like) - 1)]


class Islands:
    """All islands of a leg: ask one batch for all, tell the results back to each."""

    def __init__(
        self, plans: Sequence[Plan], generations: int, counts: tuple[int, ...], rng: np.random.Generator
    ):
        streams = rng.spawn(len(plans))
        self._islands = [Island(plan, counts, own) for plan, own in zip(plans, streams, strict=True)]
        self._whole = next((island for island in self._islands if island.plan.fluid == ANY_FLUID), None)
        self._generations = generations
        self._asked: list[tuple[Island, slice]] = []
        self._batch = Genes(np.empty((0, 0)), np.empty((0, 0), int))

    @property
    def finished(self) -> bool:
        """Whether every island has used its designs."""
        return all(island.left <= 0 for island in self._islands)

    def ask(self) -> Genes:
        """Propose one batch made of every island's next generation."""
        batches, start = [], 0
        self._asked = []
        for island in self._islands:
            if island.left > 0:
                brood = -(-island.plan.designs // self._generations)
                batches.append(island.ask(brood, self._whole if island is not self._whole else None))
                self._asked.append((island, slice(start, start + len(batches[-1]))))
                start += len(batches[-1])
        self._batch = Genes.join(batches)
        return self._batch

    def tell(self, values: np.ndarray, breach: np.ndarray) -> None:
        """Give the results of the last batch back: ``values`` (n, m) minimised, ``breach`` (n,).

        An island of one fluid takes in its own designs, one of all fluids everybody's.
        """
        everything = Known(self._batch, values, breach)
        for island, rows in self._asked:
            island.tell(everything if island is self._whole else everything.take(rows))
