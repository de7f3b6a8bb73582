"""What many worlds say: bands, probabilities with their standard errors, steady designs, regret, optimistic corners."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from explore.doubt.draws import Array
from explore.judgement.front import nondominated, normalise

if TYPE_CHECKING:
    from explore.config.schema import Objective

BAND = (0.1, 0.5, 0.9)
"""Low, likely and high: a tenth of the worlds lies below, half, and a tenth above."""
TIE = 1e-3
"""Share by which two figures differ at least if one of them is to win: about what properties from tables are good for."""
TIED, NONE = "a tie", "nothing feasible"
STEADY = 0.02
"""Share of the front's range within which a design counts as on the front: twice what the picks themselves tolerate."""
SELDOM = 0.25
"""Share of worlds below which a winner is asked whether its worlds are a corner: a favourite wins more often."""
CORNER = 0.8
"""Spreads by which a group lies on the good side on average where a fluid wins; beyond chance, see :data:`SURE`."""
SURE = 3.0
"""Standard errors beyond which a mean is no chance: one in some hundred of true chance, and there are 20 groups."""
ADDED = 2.0
"""Draws of either kind added before an error is told: half the square of the normal's 95 % point, as the source has it."""
PARTS = 4
"""Pieces a factor is cut into when it is taken as known: a bench measurement tells about as much of a group."""
HALVES = 1
"""Seed by which worlds are split in two, one half to choose in and one to count in: any will do."""


@dataclass(frozen=True)
class Worldly:
    """n designs in N worlds: ``figures`` by name (N, n), which keep every limit, and which physics allows, (N, n)."""

    figures: Mapping[str, Array]
    feasible: NDArray[np.bool_]
    possible: NDArray[np.bool_]
    broken: NDArray[np.int64]

    @staticmethod
    def of(told: Array, names: Sequence[str]) -> Worldly:
        """Read the array of a study: (N, n, figures and flags)."""
        figures = {name: told[:, :, place] for place, name in enumerate(names)}
        feasible, possible, broken = (told[:, :, len(names) + place] for place in range(3))
        return Worldly(figures, feasible > 0.0, possible > 0.0, broken.astype(int))

    def values(self, objectives: Sequence[Objective]) -> Array:
        """Objectives on the scenario's normalised axes, less is better, (N, n, m)."""
        count, n = self.feasible.shape
        flat = {one.figure: self.figures[one.figure].ravel() for one in objectives}
        return normalise(flat, objectives).reshape(count, n, -1)


def chance(wins: NDArray[np.bool_]) -> dict[str, float]:
    """Return how often something is so, with its standard error, that of independent draws.

    The error is taken at the share with two more draws either way (Agresti and Coull 1998, 'Approximate is better than
    "exact"', The American Statistician 52, 119-126): what was seen in none or all of the worlds is not certain.
    """
    n, share = len(wins), float(np.mean(wins))
    near = (float(np.sum(wins)) + ADDED) / (n + 2.0 * ADDED)
    return {"probability": share, "standard_error": sqrt(near * (1.0 - near) / (n + 2.0 * ADDED))}


def mean_difference(first: Array, second: Array, *, paired: bool) -> tuple[float, float]:
    """Return the mean difference of two figures over worlds and its standard error.

    ``paired``: both were drawn in the same worlds (common random numbers), so that what moves both cancels.
    """
    n = len(first)
    difference = float(np.mean(first) - np.mean(second))
    if paired:
        return difference, float(np.std(first - second, ddof=1) / sqrt(n))
    return difference, float(sqrt((np.var(first, ddof=1) + np.var(second, ddof=1)) / n))


def band(values: Array, below: float = 0.0) -> dict[str, float | None]:
    """Return low, likely and high of the finite ones of some values, empty where there are none.

    ``below`` is the share of worlds that count as lower than all of these; an end that falls among them is empty.
    """
    sound = values[np.isfinite(values)]
    found: list[float | None] = [
        None
        if below >= place or not len(sound)
        else float(np.quantile(sound, (place - below) / (1.0 - below)))
        for place in BAND
    ]
    return dict(zip(("low", "likely", "high"), found, strict=True))


def winners(first: Array, allowed: NDArray[np.bool_], kinds: Sequence[str]) -> list[str]:
    """Say for each world which kind is best, :data:`TIED` or :data:`NONE`.

    ``first`` (N, n) is what counts, less is better, in any unit with a meaningful zero; only ``allowed`` designs count;
    ``kinds`` (n,) is what is told apart.
    """
    names = list(dict.fromkeys(kinds))
    value = np.where(allowed, first, np.inf)
    best = np.stack([value[:, [kind == name for kind in kinds]].min(axis=1) for name in names], axis=1)
    order = np.argsort(best, axis=1, kind="stable")
    top = np.take_along_axis(best, order[:, :1], axis=1)[:, 0]
    second = (
        np.take_along_axis(best, order[:, 1:2], axis=1)[:, 0] if len(names) > 1 else np.full(len(top), np.inf)
    )
    nothing = ~np.isfinite(top)
    with np.errstate(invalid="ignore"):
        tied = np.isfinite(second) & (second - top <= TIE * np.abs(top))
    return [
        NONE if none else TIED if tie else names[place]
        for none, tie, place in zip(nothing, tied, order[:, 0], strict=True)
    ]


def shares(won: Sequence[str]) -> list[dict[str, Any]]:
    """Return each class that came up with its probability and standard error, likeliest first; they sum to one."""
    given = np.array(won)
    names = sorted(set(won), key=lambda name: (-int(np.sum(given == name)), name))
    return [{"best": name} | chance(given == name) for name in names]


def corner(won: NDArray[np.bool_], factors: Array, groups: Sequence[str]) -> dict[str, float]:
    """Return the groups that must be better than likely where something wins, and by how many spreads on average.

    ``factors`` (N, g) are standard normal, towards worse. Empty where it wins often, or wherever the dice fall.
    """
    wins = int(np.sum(won))
    if wins == 0 or wins > SELDOM * len(won):
        return {}
    mean = factors[won].mean(axis=0)
    found = {
        group: -float(one)
        for group, one in zip(groups, mean, strict=True)
        if -one >= CORNER and -one * sqrt(wins) >= SURE
    }
    return dict(sorted(found.items(), key=lambda item: -item[1]))


def behind(values: Array, feasible: NDArray[np.bool_]) -> Array:
    """Return how far each design lies behind the front of its world, (N, n), infinite where it breaks a limit.

    In shares of the front's range in each objective: by so much in every objective at once would the design have to be
    better for no other to beat it in all. ``values`` (N, n, m), less is better.
    """
    found = np.full(feasible.shape, np.inf)
    for world, (points, sound) in enumerate(zip(values, feasible, strict=True)):
        able = points[sound]
        if len(able) == 0:
            continue
        front = able[nondominated(able)]
        span = np.ptp(front, axis=0)
        gaps = (able[:, None, :] - front[None, :, :]) / np.where(span > 0.0, span, 1.0)
        found[world, sound] = np.maximum(gaps.min(axis=2).max(axis=1), 0.0)
    return found


def regret(figure: Array, best: Array, feasible: NDArray[np.bool_]) -> dict[str, float | None]:
    """Return the band of what a design gives away against the best of its world, over worlds where it keeps its limits."""
    return band(np.abs(figure - best)[feasible])


def best_figure(figure: Array, feasible: NDArray[np.bool_], *, most: bool) -> Array:
    """Return the best feasible figure of each world, (N,), NaN where nothing is feasible."""
    hidden = np.where(feasible, figure, -np.inf if most else np.inf)
    best = hidden.max(axis=1) if most else hidden.min(axis=1)
    return np.where(np.isfinite(best), best, np.nan)


def value_of_knowing(utility: Array, factor: Array) -> tuple[float, float]:
    """Return what knowing a factor (N,) beforehand adds to the utility (N, n) of the design chosen, and its standard error.

    The worlds are cut into :data:`PARTS` of the factor; in each the design best on average over every other world is
    chosen, and what it gives in the rest is counted, so that luck does not.
    """
    halves = np.random.default_rng(HALVES).permutation(len(factor)) % 2 == 0  # quasi-random points alternate
    place = np.argsort(np.argsort(factor, kind="stable"), kind="stable") * PARTS // len(factor)
    gained = np.zeros(len(factor))
    for learn in (halves, ~halves):
        blind = int(np.argmax(utility[learn].mean(axis=0)))
        for part in range(PARTS):
            seen = place == part
            if not np.any(seen & learn):
                continue
            choice = int(np.argmax(utility[seen & learn].mean(axis=0)))
            rest = seen & ~learn
            gained[rest] = utility[rest, choice] - utility[rest, blind]
    return float(np.mean(gained)), float(np.std(gained, ddof=1) / sqrt(len(gained)))
