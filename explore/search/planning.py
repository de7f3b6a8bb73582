"""What the legs of a round are to do, decided from what is known when the round starts.

A leg breeds islands side by side: one for each fluid, with the least share of the leg's designs, so that
every fluid has its share whenever the search stops; and one for the leg's focus with the rest. The
campaign's sampler says what the focus is: the whole front, or one fluid.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from explore.config.schema import Search
from explore.design.space import Space
from explore.search.archive import Archive
from explore.search.islands import ANY_FLUID, Known, Plan
from explore.search.leg import Order
from explore.search.ranking import survivors

FRONT = "front"
BATCH = 4096
LEAST_GENERATIONS = 2
FLUID_POPULATION = 24


@dataclass(frozen=True)
class Budget:
    """How the designs are cut into legs: of ``leg_designs`` each, the last with what is left of ``designs``."""

    leg_designs: int
    designs: int | None

    @classmethod
    def of(cls, search: Search) -> Budget:
        """Read the budget of the search settings."""
        return cls(search.leg_designs, search.designs)

    @property
    def legs(self) -> int | None:
        """Number of legs in all; None: until the time is up."""
        return None if self.designs is None else -(-self.designs // self.leg_designs)

    def size(self, leg: int) -> int:
        """Designs of leg number ``leg``."""
        if self.designs is None:
            return self.leg_designs
        return min(self.leg_designs, self.designs - leg * self.leg_designs)

    def round(self, legs_done: int, per_round: int) -> range:
        """Numbers of the legs of the round that comes after ``legs_done`` legs."""
        first = legs_done // per_round * per_round
        last = first + per_round if self.legs is None else min(first + per_round, self.legs)
        return range(first, last)


def order(
    number: int, focus: str, designs: int, archive: Archive, space: Space, search: Search, *, keep_all: bool
) -> Order:
    """Order a leg of ``designs`` designs on a focus: the front, or the name of a fluid."""
    share = int(np.ceil(min(search.least_share_per_fluid, 1.0 / len(space.fluids)) * designs))
    share = min(share, designs // len(space.fluids))
    size = search.population
    plans = [
        Plan(fluid, FLUID_POPULATION, share, best(archive.of_fluid(fluid), FLUID_POPULATION))
        for fluid in range(len(space.fluids))
    ]
    rest = designs - share * len(space.fluids)
    if focus == FRONT:
        front = archive.front if len(archive.front) else archive.known
        rng = np.random.default_rng((search.seed, number, 1))
        some = front.take(np.sort(rng.permutation(len(front))[: 4 * size]))
        plans.append(Plan(ANY_FLUID, size, rest, best(some, size)))
    else:
        place = space.fluids.index(focus)
        plans.append(Plan(place, size, rest, best(archive.of_fluid(place), size)))
    generations = max(LEAST_GENERATIONS, -(-designs // BATCH))
    plans = [p for p in plans if p.designs > 0]
    return Order(number, focus, (search.seed, number), tuple(plans), generations, keep_all)


def best(known: Known, count: int) -> Known:
    """The best ``count`` designs by constrained rank and crowding."""
    return known.take(survivors(known.values, known.breach, count)[0]) if len(known) > count else known
