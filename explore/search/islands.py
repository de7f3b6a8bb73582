"""Several populations bred in lockstep, so that the model always sees one large batch.

A population of 50 to 200 converges best, the model is fastest on a thousand designs and more:
populations of different fluids and of different layouts therefore breed side by side and one call evaluates them all.
What lives in one of them need not be near the front: a kind of plant that pays late is not lost early.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from explore.design.space import Space
from explore.search import climb, variation
from explore.search.climb import TRIES_A_SLOPE, Climb, Climbers
from explore.search.judge import Judged
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
from explore.search.tending import TENDED_SHARE, by_expansions, tended

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
FEW_SLOW, FEW_SHARE = 16, 1.0 / 16.0
"""Fewer children of slow layouts with as many expansions than sixteen, and than a sixteenth of the batch, are made over to
quick ones: the model takes a quarter of a second for three of them. They come of nests, and where they lie on the front."""
CLIMBERS_SHARE = 0.9
"""In a nest: a slope is worth more than as many children while a layout lies far from its best."""
CLIMBING_STEPS = 8
"""Two slopes' worth: of sixteen steps the first bring some four fifths of the gain, and the next leg goes on from there."""
DESIGNS_A_STEP = 9
"""Sixteen or seventeen genes of eighteen matter and are probed for four steps, four tries are made at each, and
candidates come before the first."""
HOPELESS_SHARE = 0.25
"""What a fluid keeps of its share that no feasible design is known of after the first round: a fluid may come late."""
FLUID_POPULATION = 24
"""Enough to hold a front's ends and middle for each of some twenty fluids, in a twentieth of a leg."""
LARGEST_WHOLE, BIRTHS_A_PLACE = 3, 6
"""The whole holds three times ``search.population`` where a leg has six designs for each. Of an orchard's search with legs
up to 8,192 three hundred lives in place of a hundred brought four seeds from 0.4110 to 0.4122 in a minute of processor
time, each of them more; eight hundred to 0.4115, and less in the first twenty seconds."""
GENERATIONS = 3
"""Of what breeds in a leg, at least: half of it fits into one batch, and would learn nothing within."""
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
class Nest:
    """A layout that is tended by itself for part of a leg: its island, and the designs that climb beside it."""

    plan: Plan
    climb: Climb


@dataclass(frozen=True)
class Colony:
    """All islands of a leg, as they start."""

    plans: tuple[Plan, ...]
    nests: tuple[Nest, ...] = ()


def plan(task: Assignment) -> Colony:
    """Plan a leg: some layouts, each by itself, then an island for each fluid and one with the rest."""
    archive, search, fluids = task.archive, task.search, len(task.space.fluids)
    nests = _nests(task)
    left = task.designs - sum(nest.plan.designs for nest in nests)
    # What tends layouts gives fluids no share of their own: the rest makes up for it.
    least = search.least_share_per_fluid / (1.0 - TENDED_SHARE)
    share = int(np.ceil(min(least, 1.0 / fluids) * left))
    share = min(share, left // fluids)
    size = max(search.population, min(LARGEST_WHOLE * search.population, task.designs // BIRTHS_A_PLACE))
    hopeful = archive.feasible_fluids()
    shares = [
        share if fluid in hopeful or not hopeful else int(HOPELESS_SHARE * share) for fluid in range(fluids)
    ]
    plans = [
        Plan(fluid, FLUID_POPULATION, own, best(archive.of_fluid(fluid), FLUID_POPULATION))
        for fluid, own in enumerate(shares)
        if own > 0
    ]
    rest = left - sum(shares)
    if task.focus == ANY_FLUID:
        front = archive.front if len(archive.front) else archive.known
        rng = np.random.default_rng((search.seed, task.number, 1))
        some = front.take(np.sort(rng.permutation(len(front))[: FRONT_SAMPLE * size]))
        plans.append(Plan(ANY_FLUID, size, rest, best(some, size)))
    else:
        plans.append(Plan(task.focus, size, rest, best(archive.of_fluid(task.focus), size)))
    return Colony(tuple(plans), nests)


def _nests(task: Assignment) -> tuple[Nest, ...]:
    """Plan the layouts that a leg tends; one on a fluid alone has none."""
    if task.focus != ANY_FLUID:
        return ()
    rng = np.random.default_rng((task.search.seed, task.number, 3))
    nests = []
    for layout, designs in tended(task).items():
        climbers = max(1, int(CLIMBERS_SHARE * designs / (DESIGNS_A_STEP * CLIMBING_STEPS)))
        known = best(task.archive.of_layout(layout), FLUID_POPULATION)
        own = Plan(ANY_FLUID, FLUID_POPULATION, designs, known, layout)
        nests.append(Nest(own, climb.plan(task.archive, task.space, layout, climbers, rng)))
    return tuple(nests)


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
        """Breed four in five by crossover and one by a differential step among like designs; then mutate."""
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


class Tended:
    """A nest under way: in each batch what the climbers want, and some children of the layout's island."""

    def __init__(self, nest: Nest, space: Space, rng: np.random.Generator):
        self.island = Island(nest.plan, space.choice_counts, rng)
        self.climbers = Climbers(nest.climb, space, rng)
        self._climbing = len(self.climbers) > 0
        self._asked = 0
        # One batch of probes and as many of tries as a slope serves make as many steps; the first is of the candidates.
        batches = 1 + CLIMBING_STEPS * (1 + TRIES_A_SLOPE) // TRIES_A_SLOPE
        self._brood = max(1, -(-int((1.0 - CLIMBERS_SHARE) * nest.plan.designs) // batches))

    @property
    def left(self) -> int:
        """Designs that are left."""
        return self.island.left

    @property
    def climbs(self) -> bool:
        """Whether the climbers' next batch fits into what is left."""
        return self._climbing and 0 < self.climbers.wanted <= self.left

    def ask(self, guests: Island | None) -> Genes:
        """Propose the next batch; what is left when no step fits in any more is bred."""
        self._asked = self.climbers.wanted if self._climbing else 0
        self._climbing = 0 < self._asked <= self.left
        if not self._climbing:
            self._asked = 0
            return self.island.ask(self.left, guests)
        self.island.left -= self._asked
        batch = self.climbers.ask()
        if not self.left:
            return batch
        return Genes.join([batch, self.island.ask(self._brood, guests)])

    def tell(self, batch: Known, judged: Judged) -> None:
        """Give the results of the last batch to the climbers and the island."""
        if self._asked:
            self.climbers.tell(judged.take(slice(self._asked)))
        self.island.tell(batch)


class Islands:
    """All islands of a leg: first the layouts by themselves, then one batch for all fluids and the whole.

    In that order the whole learns what climbing found; and since the model costs by the batch and the layouts in
    it, many small batches of a few layouts cost no more than one large batch of all.
    """

    def __init__(self, colony: Colony, space: Space, rng: np.random.Generator):
        streams = rng.spawn(len(colony.plans) + len(colony.nests))
        counts = space.choice_counts
        plans = colony.plans
        self._islands = [Island(plan, counts, own) for plan, own in zip(plans, streams, strict=False)]
        self._nests = [
            Tended(nest, space, own) for nest, own in zip(colony.nests, streams[len(plans) :], strict=True)
        ]
        self._whole = next((island for island in self._islands if island.plan.whole), None)
        self._generations = 0
        self._kinds = by_expansions(space)
        self._asked: list[tuple[Island | Tended, slice]] = []

    def ask(self, n: int) -> Genes:
        """Propose one batch: of the layouts that are tended, then of every island's next generation.

        The first ``n`` divides the designs of the islands into three generations or more; each island has its part of all.
        """
        batches: list[Genes] = []
        self._asked = []
        climb.think([nest.climbers for nest in self._nests if nest.climbs])
        for nest in self._nests:
            if nest.left > 0:
                self._append(nest, nest.ask(self._whole), batches)
        if batches:
            return Genes.join(batches)
        if not self._generations:
            self._generations = max(GENERATIONS, -(-sum(island.left for island in self._islands) // n))
        for island in self._islands:
            if island.left > 0:
                brood = -(-island.plan.designs // self._generations)
                guests = self._whole if island is not self._whole else None
                self._append(island, island.ask(brood, guests), batches)
        return self._without_few(Genes.join(batches))

    def _without_few(self, genes: Genes) -> Genes:
        """Make children over to quick layouts where too few are of slow ones to be worth a call of the model."""
        layouts = genes.choices[:, LAYOUT]
        for quick, slow in self._kinds.values():
            rows = np.flatnonzero(np.isin(layouts, slow))
            if quick and len(rows) < min(FEW_SLOW, FEW_SHARE * len(genes)):
                layouts[rows] = np.resize(quick, len(rows))
        return genes

    def _append(self, one: Island | Tended, batch: Genes, batches: list[Genes]) -> None:
        start = sum(len(other) for other in batches)
        batches.append(batch)
        self._asked.append((one, slice(start, start + len(batch))))

    def tell(self, genes: Genes, judged: Judged) -> None:
        """Give the results of the last batch back.

        An island of one fluid or layout takes in its own designs, the whole's everybody's.
        """
        everything = Known(genes, judged.values, judged.breach)
        for one, rows in self._asked:
            if isinstance(one, Tended):
                one.tell(everything.take(rows), judged.take(rows))
            elif one is not self._whole:
                one.tell(everything.take(rows))
        if self._whole is not None:
            self._whole.tell(everything)
