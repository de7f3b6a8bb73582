"""What the legs of a round are to do, decided from what is known when the round starts.

The campaign says what a leg's focus is: the whole front, or one fluid. The sampler that ``search.sampler`` names makes
of it, and of what is known, what it starts from.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

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


ROUNDS_ALIKE = 1
"""After so many rounds legs double, to the largest: first they learn often, then the model has its large batches. Of an
orchard's search a design so takes 220 to 350 us of processor time in the end, in legs of 2,048 all along 480."""


@dataclass(frozen=True)
class Budget:
    """How the designs are cut into legs: of ``leg_designs`` each at first and of ``largest`` in the end.

    The last has what is left of ``designs``. All legs of a round, ``per_round`` of them, are alike.
    """

    leg_designs: int
    largest: int
    designs: int | None
    per_round: int

    @classmethod
    def of(cls, search: Search) -> Budget:
        """Read the budget of the settings; only the islands' legs grow: others' would take longer by the design."""
        grows = search.sampler == "islands"
        largest = max(search.leg_designs, search.largest_leg_designs or 0) if grows else search.leg_designs
        return cls(search.leg_designs, largest, search.designs, search.legs_per_round)

    @property
    def legs(self) -> int | None:
        """Number of legs in all; None: until the time is up."""
        if self.designs is None:
            return None
        legs = 0
        while self.before(legs) < self.designs and self._whole(legs) < self.largest:
            legs += 1
        return legs - (self.before(legs) - self.designs) // self.largest

    def size(self, leg: int) -> int:
        """Designs of leg number ``leg``."""
        whole = self._whole(leg)
        return whole if self.designs is None else min(whole, self.designs - self.before(leg))

    def before(self, leg: int) -> int:
        """Designs of all legs before number ``leg``, if none was cut short."""
        done, size, alike = 0, self.leg_designs, self.per_round * ROUNDS_ALIKE
        while leg > alike and size < self.largest:
            done, leg, size = done + alike * size, leg - alike, min(2 * size, self.largest)
        return done + leg * size

    def round(self, legs_done: int) -> range:
        """Numbers of the legs of the round that comes after ``legs_done`` legs."""
        first = legs_done // self.per_round * self.per_round
        last = first + self.per_round if self.legs is None else min(first + self.per_round, self.legs)
        return range(first, last)

    def after(self, leg: int, designs: int) -> Budget:
        """Return the budget once a leg is done; one that a smaller budget had cut leaves its rest to those after it."""
        if self.designs is None or designs >= self.size(leg):
            return self
        return replace(self, designs=self.designs + self._whole(leg) - designs)

    def _whole(self, leg: int) -> int:
        return self.before(leg + 1) - self.before(leg)


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
    keep_all = Budget.of(search).before(number) < search.archive_designs
    return Order(number, focus, (search.seed, number), start, designs, keep_all)
