"""What the legs of a round are to do, decided from what is known when the round starts.

The campaign says what a leg's focus is: the whole front, or one fluid. The sampler that ``search.sampler`` names makes
of it, and of what is known, what it starts from.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from explore.config.schema import Search
from explore.design.space import Space
from explore.search import island_sampler, sampler
from explore.search.archive import Archive
from explore.search.leg import Order
from explore.search.optimiser import Assignment, Start
from explore.search.population import ANY_FLUID

FRONT = "front"
OPTIMISERS: dict[str, Callable[[Assignment], Start]] = {
    "islands": island_sampler.plan_leg,
    **dict.fromkeys(sampler.SAMPLERS, sampler.plan),
}
"""What plans a leg, by the name of a sampler; one that is not here is a class of the user's."""


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


def check(search: Search) -> None:
    """Raise :class:`InputError` if there is no such sampler as the settings name."""
    if search.sampler not in OPTIMISERS:
        sampler.check(search)


def order(number: int, focus: str, designs: int, archive: Archive, space: Space, search: Search) -> Order:
    """Order a leg of ``designs`` designs on a focus: the front, or the name of a fluid.

    Legs that begin within the archive's bound hand in all their designs, whatever the budget; later ones
    those worth keeping, so that the files of a long campaign stay small.
    """
    place = ANY_FLUID if focus == FRONT else space.fluids.index(focus)
    plan = OPTIMISERS.get(search.sampler, sampler.plan)
    start = plan(Assignment(number, place, designs, archive, space, search))
    keep_all = number * search.leg_designs < search.archive_designs
    return Order(number, focus, (search.seed, number), start, designs, keep_all)
