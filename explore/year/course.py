"""How sun and air go within the hours of one day: the year knows their means only.

By default they stay at these means for each hour, as the hourly march has them. Lines that bend at the ends and middles of
hours and keep every mean tell what that hides: a collector that needs some sun to begin makes more of sun that varies.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from explore.units import SECONDS_PER_HOUR
from explore.year.series import Year

Array = NDArray[np.float64]

HOURS = 24
"""Of a day."""
HALF_HOUR = SECONDS_PER_HOUR / 2.0
"""Seconds; between halves of hours every line bends, and there alone."""


@dataclass(frozen=True)
class Line:
    """A quantity that goes straight from ``start`` at the beginning of half an hour to ``end`` at its end."""

    start: float
    end: float

    def at(self, seconds: float) -> float:
        """Value ``seconds`` after the beginning."""
        return self.start + (self.end - self.start) * seconds / HALF_HOUR


@dataclass(frozen=True)
class Surroundings:
    """What half an hour brings: ``sun`` on the collector with its modifier [W/m2], ``air`` and ``room`` [K]."""

    sun: Line
    air: Line
    room: Line


@dataclass(frozen=True)
class Day:
    """One day of a year: 48 half hours, and in which of its 24 hours shaft power is asked for."""

    halves: tuple[Surroundings, ...]
    demand: tuple[bool, ...]


def day_of(year: Year, day: int, kind: int, *, smooth: bool = False) -> Day:
    """Lay out day number ``day`` (from 0) of a year for a collector of ``kind``, each hour's mean kept.

    ``smooth``: with sun and air that go from hour to hour along lines, else they are steady within each.
    """
    hours = slice(HOURS * day, HOURS * (day + 1))

    def lines(series: Array, *, least: float | None = None) -> list[Line]:
        if not smooth:
            return [Line(float(mean), float(mean)) for mean in np.repeat(series[hours], 2)]
        # the hours beside the day; before the first and after the last of a series stand these themselves
        ends = np.clip(np.arange(hours.start - 1, hours.stop + 1), 0, len(series) - 1)
        knots = kept_means(series[ends], least=least)
        return [Line(a, b) for a, b in pairwise(knots.tolist())]

    sun = lines(year.effective_irradiance[kind], least=0.0)
    air, room = lines(year.air_temperature_K), lines(year.room_temperature_K)
    halves = tuple(Surroundings(*three) for three in zip(sun, air, room, strict=True))
    return Day(halves, tuple(year.demand[hours].tolist()))


def kept_means(means: Array, *, least: float | None = None) -> Array:
    """Return values at the ends and middles of hours, straight lines between which keep each hour's mean.

    Args:
        means: of n + 2 hours, the first and the last beside those that are laid out.
        least: no value is below this, given that no mean is.

    Returns:
        2 n + 1 values. Between two hours stands the mean of both, at most twice either's height over ``least``; in
        the middle of an hour what its mean then asks for. An hour at ``least`` stays there throughout.
    """
    before, after = means[:-1], means[1:]
    ends = 0.5 * (before + after)
    if least is not None:
        ends = np.minimum(ends, 2.0 * np.minimum(before, after) - least)
    middles = 2.0 * means[1:-1] - 0.5 * (ends[:-1] + ends[1:])
    knots = np.empty(2 * len(middles) + 1)
    knots[::2], knots[1::2] = ends, middles
    return knots
