"""What the legs of a round are to do, decided from what is known when the round starts.

Every fluid first gets its share: legs of a round are given to the fluids that would otherwise fall
below the least share of all designs before the next round ends. The other legs are free, and the
campaign's sampler says where they go: to the whole front, or to one fluid.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from explore.schema import Search
from explore.search.archive import Archive
from explore.search.islands import ANY_FLUID, Genes, Known, Plan
from explore.search.leg import Order
from explore.search.ranking import survivors
from explore.space import Space

SHARE, FRONT = "every fluid", "front"
GENERATIONS = 8
SMALLEST_POPULATION = 8
MIGRANT_SHARE = 0.1


@dataclass(frozen=True)
class Budget:
    """How the designs are cut into legs: ``legs`` of them in all (None: until the time is up)."""

    leg_designs: int
    legs: int | None
    designs: int | None

    @classmethod
    def of(cls, search: Search) -> Budget:
        """Cut ``search.designs`` into equal legs of about ``search.leg_designs``."""
        if search.designs is None:
            return cls(search.leg_designs, None, None)
        return cls(search.leg_designs, -(-search.designs // search.leg_designs), search.designs)

    def size(self, leg: int) -> int:
        """Designs of leg number ``leg``; all legs together use exactly the budget."""
        if self.legs is None or self.designs is None:
            return self.leg_designs
        return (leg + 1) * self.designs // self.legs - leg * self.designs // self.legs

    def round(self, first_leg: int, per_round: int) -> range:
        """Numbers of the legs of the round that starts with ``first_leg``."""
        last = first_leg + per_round
        return range(first_leg, last if self.legs is None else min(last, self.legs))


def share_needs(evaluated: Mapping[str, int], share: float, total: int) -> dict[str, int]:
    """Designs each fluid lacks to have ``share`` of ``total``."""
    lacking = {fluid: int(np.ceil(share * total)) - count for fluid, count in evaluated.items()}
    return {fluid: need for fluid, need in lacking.items() if need > 0}


def first_legs(fluids: Sequence[str], sizes: Sequence[int]) -> list[dict[str, int]]:
    """Deal all fluids evenly to the legs of the first round; with few fluids several legs try the same."""
    count = len(sizes)
    hands = [list(fluids[place::count]) or [fluids[place % len(fluids)]] for place in range(count)]
    return [_filled(dict.fromkeys(hand, 1), size) for hand, size in zip(hands, sizes, strict=True)]


def share_legs(needs: Mapping[str, int], sizes: Sequence[int]) -> list[dict[str, int]]:
    """Deal the fluids in need to legs of the given sizes; each leg's allotments fill it.

    As few legs are used as hold the needs, never more than ``sizes`` lists.
    """
    if not needs:
        return []
    enough = int((np.cumsum(sizes) < sum(needs.values())).sum()) + 1
    count = min(len(sizes), len(needs), enough)
    hands: list[list[str]] = [[] for _ in range(count)]
    for place, fluid in enumerate(sorted(needs, key=lambda name: (-needs[name], name))):
        hands[place % count].append(fluid)
    return [_filled({f: needs[f] for f in hand}, size) for hand, size in zip(hands, sizes, strict=False)]


def _filled(needs: Mapping[str, int], size: int) -> dict[str, int]:
    """Scale allotments so that they add up to ``size`` exactly."""
    edges = np.round(np.cumsum(list(needs.values())) * size / sum(needs.values())).astype(int)
    return dict(zip(needs, np.diff(edges, prepend=0).tolist(), strict=True))


def share_order(
    number: int, allotment: Mapping[str, int], archive: Archive, space: Space, search: Search, keep_all: bool
) -> Order:
    """Order a leg that breeds several fluids side by side, each from what is known of it."""
    rng = np.random.default_rng((search.seed, number, 1))
    plans = [
        _fluid_plan(space.fluids.index(fluid), designs, archive, search, rng)
        for fluid, designs in allotment.items()
        if designs > 0
    ]
    return Order(number, SHARE, (search.seed, number), tuple(plans), keep_all)


def free_order(
    number: int, focus: str, designs: int, archive: Archive, space: Space, search: Search, keep_all: bool
) -> Order:
    """Order a leg on the whole front, or on one fluid."""
    rng = np.random.default_rng((search.seed, number, 1))
    if focus == FRONT:
        known = archive.front if len(archive.front) else archive.known
        size = population(designs, 5 * search.population)
        plan = Plan(ANY_FLUID, size, designs, best(known, size), _no_genes(space))
    else:
        plan = _fluid_plan(space.fluids.index(focus), designs, archive, search, rng)
    return Order(number, focus, (search.seed, number), (plan,), keep_all)


def population(designs: int, most: int) -> int:
    """Population for a number of designs: small enough to leave some generations."""
    return int(np.clip(designs // GENERATIONS, SMALLEST_POPULATION, most))


def best(known: Known, count: int) -> Known:
    """The best ``count`` designs by constrained rank and crowding."""
    return known.take(survivors(known.values, known.breach, count)[0]) if len(known) > count else known


def _fluid_plan(fluid: int, designs: int, archive: Archive, search: Search, rng: np.random.Generator) -> Plan:
    size = population(designs, search.population)
    front = archive.front.genes
    guests = rng.permutation(len(front))[: int(MIGRANT_SHARE * designs)]
    return Plan(fluid, size, designs, best(archive.of_fluid(fluid), size), front.take(guests))


def _no_genes(space: Space) -> Genes:
    return Genes(np.empty((0, space.dimensions)), np.empty((0, len(space.choice_counts)), int))
