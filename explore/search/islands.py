"""Several populations bred in lockstep, so that the model always sees one large batch.

A population of 50 to 200 converges best, the model is fastest on a thousand designs and more:
populations of different fluids and of different layouts therefore breed side by side and one call evaluates them all.
What lives in one of them need not be near the front: a kind of plant that pays late is not lost early.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from explore.design.space import Space
from explore.search import variation
from explore.search.optimiser import Assignment
from explore.search.population import (
    ANY_FLUID,
    ANY_LAYOUT,
    FLUID,
    LAYOUT,
    Genes,
    Known,
    Population,
    best,
)

MUTATED_CHOICES = 0.015
"""Of the four choices of a design one in about seventeen children changes: rarer, and a layout once lost from
an island comes back too late; oftener, and children no longer resemble the parents that were chosen."""
REACH = 5.0
"""Mates stand about five places apart in the order of likeness: an island of 100 holds some twenty such groups."""
NEAR_MATES = 0.8
"""Most children come of like parents, which refines; one in five crosses the island, which joins what it found."""
STEPPED = 0.2
"""Differential steps follow a front that lies askew to the axes; more than a fifth of them shrinks the spread."""
GUESTS = 0.9
"""A fluid's island of 24 breeds poorly by itself: nine tenths of its children descend from the whole's
designs with their fluid exchanged, one tenth from its own, which keeps what suits that fluid alone."""
GUESTS_OF_LAYOUT = 0.3
"""A layout asks for other temperatures and sizes than the whole's designs have: most children here are its own."""
LEAST_SHARE_PER_LAYOUT = 0.02
"""As a fluid's: a dozen layouts take a quarter of a leg, of which what is good joins the whole."""
HOPELESS_SHARE = 0.25
"""What a fluid keeps of its share that no feasible design is known of after the first round: a fluid may come late."""
FLUID_POPULATION = 24
"""Enough to hold a front's ends and middle for each of some twenty fluids, in a twentieth of a leg."""
LEAST_LAYOUT_DESIGNS = 12
"""Half a population: with fewer children a leg an island of one layout would only copy the whole's."""
FRONT_SAMPLE = 4
"""Of a long front four times the population is drawn before the best are chosen: legs differ, at little cost."""


@dataclass(frozen=True)
class Plan:
    """One island: its fluid (or :data:`ANY_FLUID`), how many live, how many are born in all, and who is there.

    ``known`` are evaluated designs of the island, ``layout`` the one that all its designs have (or :data:`ANY_LAYOUT`).
    """

    fluid: int
    population: int
    designs: int
    known: Known
    layout: int = ANY_LAYOUT

    @property
    def whole(self) -> bool:
        """Whether designs of any kind may live here."""
        return self.fluid == ANY_FLUID and self.layout == ANY_LAYOUT

    @property
    def guests(self) -> float:
        """Share of the children that descend from the whole's designs, made over to the island's kind."""
        return GUESTS if self.layout == ANY_LAYOUT else GUESTS_OF_LAYOUT


@dataclass(frozen=True)
class Colony:
    """All islands of a leg, as they start."""

    plans: tuple[Plan, ...]

    def begin(self, space: Space, rng: np.random.Generator) -> Islands:
        """Settle them."""
        return Islands(self.plans, space.choice_counts, rng)


def plan(task: Assignment) -> Colony:
    """Plan a leg's islands: one a fluid and one a layout with the least share of the designs, one with the rest."""
    archive, search, fluids = task.archive, task.search, len(task.space.fluids)
    share = int(np.ceil(min(search.least_share_per_fluid, 1.0 / fluids) * task.designs))
    share = min(share, task.designs // fluids)
    size = search.population
    hopeful = archive.feasible_fluids()
    shares = [
        share if fluid in hopeful or not hopeful else int(HOPELESS_SHARE * share) for fluid in range(fluids)
    ]
    plans = [
        Plan(fluid, FLUID_POPULATION, own, best(archive.of_fluid(fluid), FLUID_POPULATION))
        for fluid, own in enumerate(shares)
    ]
    plans += _layouts(task, task.designs - sum(shares))
    rest = task.designs - sum(p.designs for p in plans)
    if task.focus == ANY_FLUID:
        front = archive.front if len(archive.front) else archive.known
        rng = np.random.default_rng((search.seed, task.number, 1))
        some = front.take(np.sort(rng.permutation(len(front))[: FRONT_SAMPLE * size]))
        plans.append(Plan(ANY_FLUID, size, rest, best(some, size)))
    else:
        plans.append(Plan(task.focus, size, rest, best(archive.of_fluid(task.focus), size)))
    return Colony(tuple(p for p in plans if p.designs > 0))


def _layouts(task: Assignment, left: int) -> list[Plan]:
    """Plan an island a layout; none where there is no choice, or the ``left`` designs are too few for it to breed."""
    layouts = len(task.space.layouts)
    share = min(int(LEAST_SHARE_PER_LAYOUT * task.designs), left // layouts)
    if layouts == 1 or share < LEAST_LAYOUT_DESIGNS:
        return []
    known = [best(task.archive.of_layout(layout), FLUID_POPULATION) for layout in range(layouts)]
    return [Plan(ANY_FLUID, FLUID_POPULATION, share, known[layout], layout) for layout in range(layouts)]


class Island:
    """One population with constraint domination, crossover, mutation and differential steps."""

    def __init__(self, plan: Plan, counts: tuple[int, ...], rng: np.random.Generator):
        self.plan = plan
        self.left = plan.designs
        self.population = Population(plan.population, plan.known)
        self._counts = counts
        self._rng = rng
        self._like = self._place = np.empty(0, int)
        if len(plan.known):
            self._sort()

    def ask(self, n: int, guests: Island | None) -> Genes:
        """Propose ``n`` designs, never more than are left; some may descend from ``guests``."""
        n = min(n, self.left)
        self.left -= n
        lent = (
            int(n * (self.plan.guests if len(self.population) else 1.0))
            if guests and len(guests.population)
            else 0
        )
        parts = [guests.breed(lent, self._rng)] if guests and lent else []
        n -= lent
        living = len(self.population)
        fresh = n if living == 0 else min(n, max(0, self.plan.population // 2 - living))
        parts += [self._random(fresh)] + ([self.breed(n - fresh, self._rng)] if fresh < n else [])
        batch = Genes.join(parts)
        if self.plan.fluid != ANY_FLUID:
            batch.choices[:, FLUID] = self.plan.fluid
        if self.plan.layout != ANY_LAYOUT:
            batch.choices[:, LAYOUT] = self.plan.layout
        return batch

    def tell(self, batch: Known) -> None:
        """Take an evaluated batch in and keep the best designs."""
        self.population.take_in(batch)
        self._sort()

    def _sort(self) -> None:
        """Put the designs into the order of likeness."""
        alive = self.population.alive
        # Neighbours in this order are alike: same fluid and layout, near in the first objective.
        choices = alive.genes.choices
        self._like = np.lexsort((alive.values[:, 0], choices[:, LAYOUT], choices[:, FLUID]))
        self._place = np.argsort(self._like)

    def breed(self, n: int, rng: np.random.Generator) -> Genes:
        """Half the children by crossover, half by differential steps among like designs; then mutate."""
        alive = self.population.alive.genes
        base = self.population.parents(n, rng)
        near = self._near(base, rng)
        mate = np.where(rng.random(n) < NEAR_MATES, near, self.population.parents(n, rng))
        first, second, other = alive.take(base), alive.take(mate), alive.take(self._near(base, rng))
        crossed = variation.simulated_binary_crossover(first.unit, second.unit, rng)
        stepped = variation.differential_step(first.unit, alive.unit[near], other.unit, rng)
        by_step = rng.random((n, 1)) < STEPPED
        unit = np.where(by_step, stepped, crossed)
        # One gene and a half a child: few children stay what crossover alone made of them.
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

    def __init__(self, plans: Sequence[Plan], counts: tuple[int, ...], rng: np.random.Generator):
        streams = rng.spawn(len(plans))
        self._islands = [Island(plan, counts, own) for plan, own in zip(plans, streams, strict=True)]
        self._whole = next((island for island in self._islands if island.plan.whole), None)
        self._generations = 0
        self._asked: list[tuple[Island, slice]] = []

    def ask(self, n: int) -> Genes:
        """Propose one batch made of every island's next generation.

        The first ``n`` divides the leg's designs into generations; every island has its part of each.
        """
        if not self._generations:
            self._generations = -(-sum(island.left for island in self._islands) // n)
        batches, start = [], 0
        self._asked = []
        for island in self._islands:
            if island.left > 0:
                brood = -(-island.plan.designs // self._generations)
                batches.append(island.ask(brood, self._whole if island is not self._whole else None))
                self._asked.append((island, slice(start, start + len(batches[-1]))))
                start += len(batches[-1])
        return Genes.join(batches)

    def tell(self, genes: Genes, values: np.ndarray, breach: np.ndarray) -> None:
        """Give the results of the last batch back: ``values`` (n, m) minimised, ``breach`` (n,).

        An island of one fluid or layout takes in its own designs, the whole's everybody's.
        """
        everything = Known(genes, values, breach)
        for island, rows in self._asked:
            island.tell(everything if island is self._whole else everything.take(rows))
