"""Which layouts a leg tends by themselves, and with how many of its designs."""

from __future__ import annotations

import math

import numpy as np

from explore.design.space import Space
from explore.search.archive import Archive
from explore.search.optimiser import Assignment
from explore.search.population import LAYOUT

TENDED_SHARE = 0.5
"""Half of a leg tends some layouts by themselves, the rest breeds all kinds together: the first finds what a layout has in
it whether or not it is near the front, the second goes where hypervolume is won. Legs that did only one or the other took
up to five times as long as their neighbours, and those of a round wait for one another."""
NEST_DESIGNS = 340
"""Four climbers take eight steps, and some children are born beside them; so a leg of 4,096 tends six layouts."""
QUICK = "stratified"
"""Of the stores the one whose engine and year are reckoned some ten times as fast: every leg tends its layouts."""
SLOW_EVERY, SLOW_AFTER = 4, 3000
"""Every fourth round tends layouts of other stores too, from the second one or, before so many designs, the third."""
SLOW_DESIGNS = 680
"""In a nest of those: a batch of few costs nearly as much as one of twice as many."""
OFF_FRONT = 3
"""Of the turns of slow layouts with nothing on the front those that lie on it most take two in three."""
LEAST_LAYOUT_DESIGNS = 120
"""One climber with its steps and a few children: with fewer designs to a nest a leg has none."""


def tended(task: Assignment) -> dict[int, int]:
    """Choose the layouts that a leg tends, each with its designs: in turn and not by promise.

    While nothing is known all designs of a leg are for that, and quick layouts begin: what climbers find of store,
    collector and fluid, breeding brings to the others at a fraction of their price. What nests do not need goes where the
    front lies: in a minute of processor time that brought four seeds of an orchard from 0.4103 to 0.4110.
    """
    kinds = task.space.layouts
    share = TENDED_SHARE if len(task.archive.known) else 1.0
    designs = int(share * task.designs)
    slow = _slow(task)
    shares = dict.fromkeys(slow, min(SLOW_DESIGNS, designs // max(1, len(slow))))
    quick = [layout for layout, kind in enumerate(kinds) if kind.store_mode == QUICK]
    left = designs - sum(shares.values())
    count = min(len(quick), round(left / NEST_DESIGNS))
    # Legs of one round know the same: by their numbers they choose different ones.
    places = range(task.number * count, (task.number + 1) * count)
    shares |= {quick[place % len(quick)]: min(NEST_DESIGNS, left // count) for place in places}
    if not shares or min(shares.values()) < LEAST_LAYOUT_DESIGNS:
        return {}
    front = _front_layouts(task.archive)
    on_front = np.array([np.count_nonzero(front == layout) for layout in shares])
    weight = on_front / on_front.sum() if on_front.any() else np.full(len(shares), 1.0 / len(shares))
    surplus = ((designs - sum(shares.values())) * weight).astype(int)
    found = {layout: least + int(more) for (layout, least), more in zip(shares.items(), surplus, strict=True)}
    found[next(iter(found))] += designs - sum(found.values())
    return found


def _slow(task: Assignment) -> list[int]:
    """Choose the slow layouts that a leg tends, if it does: those of as many expansions, which the model does as one."""
    kinds = by_expansions(task.space).values()
    groups = [slow for _, slow in kinds if slow]
    if not groups:
        return []
    quick = sum(len(own) for own, _ in kinds)
    turn = _turn(task, quick, len(groups)) if quick else task.number
    if turn is None:
        return []
    again, chosen = divmod(turn, len(groups))
    held = [int(np.isin(_front_layouts(task.archive), group).sum()) for group in groups]
    if again % OFF_FRONT and any(held) and not held[chosen]:
        chosen = int(np.argmax(held))
    return groups[chosen]


def _turn(task: Assignment, quick: int, groups: int) -> int | None:
    """Which turn of slow layouts a leg is, beside so many quick ones; ``None`` if it is none.

    Legs of a first round have those turns once all quick layouts have begun.
    """
    per_round = task.search.legs_per_round
    if not len(task.archive.known):
        turn = task.number - math.ceil(quick / max(1, round(task.designs / NEST_DESIGNS)))
        return turn if 0 <= turn < groups else None
    first = 1 if per_round * task.search.leg_designs >= SLOW_AFTER else 2
    turn, place = divmod(task.number, per_round)
    return turn // SLOW_EVERY * per_round + place if turn % SLOW_EVERY == first else None


def by_expansions(space: Space) -> dict[int, tuple[list[int], list[int]]]:
    """By number of expansions the quick layouts and the slow ones."""
    found: dict[int, tuple[list[int], list[int]]] = {
        kind.stages: ([], []) for kind in sorted(space.layouts, key=lambda kind: kind.stages)
    }
    for layout, kind in enumerate(space.layouts):
        found[kind.stages][kind.store_mode != QUICK].append(layout)
    return found


def _front_layouts(archive: Archive) -> np.ndarray:
    """Layout of every design on the front."""
    return archive.front.genes.choices[:, LAYOUT] if len(archive.front) else np.empty(0, int)
