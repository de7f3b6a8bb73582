"""What a front says of itself: what its designs share and lean on, what one step along it costs, what lies beside it.

All of it is counted or read off designs that were evaluated; nothing is fitted or drawn beyond them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import floor, isfinite, log10
from typing import TYPE_CHECKING

import numpy as np

from explore.judgement.front import normalise

if TYPE_CHECKING:
    import pandas as pd

    from explore.config.schema import Objective
    from explore.design.variables import Variable

MIDDLE = (0.05, 0.95)
"""Nine of ten designs: a few at the ends of a front are no reason to say that nothing is shared."""
NARROW = 0.2
"""Share of a searched range within which nine of ten designs lie when they are told as alike: a fifth; no source."""
NEARLY_ALL = 0.9
"""Share of designs that must have chosen the same before it is told as shared."""
AT_BOUND = 0.01
"""Of a searched range, and of a limit: what is nearer counts as at it."""
LEANING = 0.25
"""Share of designs that must lie at a bound or limit before they are told to lean on it: a quarter; no source."""
TIE = 0.02
"""Of an objective's scale, from ideal to reference: what is worse by no more is told as a near tie."""
STEP_SHARES = (0.01, 0.3)
"""Shares of a front's range between which one unit is a step along it; else a tenth of the range, made round, is."""


@dataclass(frozen=True)
class Alike:
    """A choice that nearly all designs share: ``count`` of ``of``."""

    name: str
    value: str
    count: int
    of: int


@dataclass(frozen=True)
class Narrow:
    """A number of which nine of ten of ``of`` designs have one between ``low`` and ``high`` [its column's unit]."""

    name: str
    low: float
    high: float
    of: int


@dataclass(frozen=True)
class Leaning:
    """A bound or limit at which ``count`` of ``of`` designs lie, within ``within`` [its column's unit] of ``at``."""

    name: str
    at: float
    within: float
    count: int
    of: int
    end: str = ""


@dataclass(frozen=True)
class Exchange:
    """One step along a front: to which row, by how much the figure and its price in another one change."""

    row: int
    change: float
    price: float

    @property
    def rate(self) -> float:
        """What one unit of the figure costs."""
        return self.price / self.change


@dataclass(frozen=True)
class Trade:
    """What one ``step`` of a figure costs from a design on: to the better, and what one step back saves.

    ``sign`` is 1 where more of the figure is better, else -1; the changes of an exchange are towards the better.
    """

    figure: str
    sign: int
    currency: str
    step: float
    better: Exchange | None
    back: Exchange | None
    elsewhere: int | None = None
    """where nothing is better at no worse other objectives: of what is better by a step, the row nearest to the ideal"""


def alike(front: pd.DataFrame, options: Mapping[str, int]) -> list[Alike]:
    """Find the choices that nearly all designs of a front share, of those that had more than one of ``options``."""
    found = []
    for name in (name for name, count in options.items() if count > 1 and name in front):
        values = front[name].dropna().astype(str)
        counts = values[values != ""].value_counts()
        if len(counts) and counts.iloc[0] >= NEARLY_ALL * counts.sum():
            found.append(Alike(name, str(counts.index[0]), int(counts.iloc[0]), int(counts.sum())))
    return found


def narrow(
    front: pd.DataFrame, variables: Sequence[Variable], bounds: Mapping[str, tuple[float, float]]
) -> list[Narrow]:
    """Find the numbers that hardly differ along a front, narrowest first, each measured as the search spreads it."""
    found = []
    for one in _free(variables, bounds):
        values = _values(front, one.name)
        if not len(values):
            continue
        low, high = (float(x) for x in np.quantile(values, MIDDLE))
        ends = _placed(np.array([low, high]), one, bounds[one.name])
        if ends[1] - ends[0] <= NARROW:
            found.append((float(ends[1] - ends[0]), Narrow(one.name, low, high, len(values))))
    return [one for _, one in sorted(found, key=lambda pair: pair[0])]


def at_bounds(
    front: pd.DataFrame, variables: Sequence[Variable], bounds: Mapping[str, tuple[float, float]]
) -> list[Leaning]:
    """Find the ends of searched ranges at which many designs of a front lie, most first."""
    found = []
    for one in _free(variables, bounds):
        values = _values(front, one.name)
        low, high = bounds[one.name]
        places = _placed(values, one, (low, high))
        for end, at, near in (("least", low, places <= AT_BOUND), ("most", high, places >= 1.0 - AT_BOUND)):
            count = int(near.sum())
            if count and count >= LEANING * len(values):
                edge = _unplaced(AT_BOUND if end == "least" else 1.0 - AT_BOUND, one, (low, high))
                found.append(Leaning(one.name, at, abs(edge - at), count, len(values), end))
    return sorted(found, key=lambda one: -one.count / one.of)


def at_limits(front: pd.DataFrame, limits: Mapping[str, float]) -> list[Leaning]:
    """Find the limits that many designs of a front keep only just, most first.

    ``limits`` gives, for each margin's column, the value of the limit [same unit]: within a hundredth of it counts.
    """
    found = []
    for name, limit in limits.items():
        values = _values(front, name)
        within = AT_BOUND * abs(limit)
        count = int((values >= -within).sum())
        if within and count and count >= LEANING * len(values):
            found.append(Leaning(name, limit, within, count, len(values)))
    return sorted(found, key=lambda one: -one.count / one.of)


def step_of(figure: pd.Series, unit_step: float) -> float:
    """Return one unit if that is a step along a front with this figure, else a tenth of its range, made round."""
    values = figure.to_numpy(float)
    values = values[np.isfinite(values)]
    span = float(np.ptp(values)) if len(values) else 0.0
    if not span > 0.0:
        return unit_step
    if STEP_SHARES[0] * span <= unit_step <= STEP_SHARES[1] * span:
        return unit_step
    return _round(span / 10.0)


def trade(
    front: pd.DataFrame,
    start: int,
    objectives: Sequence[Objective],
    figure: tuple[str, int],
    currency: Objective,
    step: float,
) -> Trade:
    """Find what one ``step`` of a figure costs from row ``start`` on, all other objectives no worse than there.

    ``figure`` is its column and sign, 1 where more is better, -1 where less is. Better: of all rows that are better by
    a step at least, the one that costs least. Back: of all that are worse by a step at most, the one that costs least.
    An exchange of nothing against nothing is none.
    """
    name, sign = figure
    gain = sign * (front[name].to_numpy(float) - float(front[name].iloc[start]))
    direction = 1.0 if currency.direction == "minimise" else -1.0
    price = direction * (front[currency.figure].to_numpy(float) - float(front[currency.figure].iloc[start]))
    others = [one for one in objectives if one.figure not in (name, currency.figure)]
    values = normalise(front, others) if others else np.zeros((len(front), 0))
    free = (values <= values[start]).all(axis=1) & np.isfinite(gain) & np.isfinite(price)
    # Halves of the last digit that a file keeps: a step of exactly one is one.
    little = 1e-9 * max(1.0, abs(step))
    ahead = gain >= step - little
    better = _cheapest(free & ahead, gain, price)
    back = _cheapest(free & (gain >= -step - little) & (gain < 0.0) & (price < 0.0), gain, price)
    elsewhere = nearest(front, objectives, ahead) if better is None else None
    return Trade(name, sign, currency.figure, step, better, back, elsewhere)


def nearest(frame: pd.DataFrame, objectives: Sequence[Objective], among: np.ndarray) -> int | None:
    """Return the row, of those ``among`` (bool, n), that is nearest to the ideal of all objectives; None of none."""
    if not among.any():
        return None
    return int(np.where(among, distances(frame, objectives), np.inf).argmin())


def distances(frame: pd.DataFrame, objectives: Sequence[Objective]) -> np.ndarray:
    """Distance of each row from the ideal of all objectives, (n,), by the rule of the compromise; inf where unknown."""
    worse = np.maximum(normalise(frame, objectives), 0.0)
    far = np.sqrt((worse * worse).sum(axis=1))
    return np.where(np.isfinite(far), far, np.inf)


def ties(
    frame: pd.DataFrame, start: int, objectives: Sequence[Objective], kind: Sequence[object]
) -> list[int]:
    """Return rows of another ``kind`` (n) than row ``start`` that are worse by no more than :data:`TIE` in any objective.

    One row a kind, that nearest to the ideal; nearest first.
    """
    values = normalise(frame, objectives)
    close = (values <= values[start] + TIE).all(axis=1)
    far = distances(frame, objectives)
    found: dict[object, int] = {}
    for row in sorted(np.flatnonzero(close).tolist(), key=lambda row: (far[row], row)):
        if kind[row] != kind[start]:
            found.setdefault(kind[row], row)
    return list(found.values())


def _cheapest(among: np.ndarray, gain: np.ndarray, price: np.ndarray) -> Exchange | None:
    if not among.any():
        return None
    row = int(np.where(among, price, np.inf).argmin())
    return Exchange(row, float(gain[row]), float(price[row]))


def _free(variables: Sequence[Variable], bounds: Mapping[str, tuple[float, float]]) -> list[Variable]:
    """Return the variables that the search was free to move; whole numbers are choices."""
    return [one for one in variables if not one.whole and bounds[one.name][0] < bounds[one.name][1]]


def _values(front: pd.DataFrame, name: str) -> np.ndarray:
    """Return the numbers of a column that designs have; a regenerator that is left out has no effectiveness."""
    if name not in front:
        return np.empty(0)
    values = front[name].to_numpy(float)
    values = values[np.isfinite(values)]
    return values[values > 0.0] if name == "regenerator_effectiveness" else values


def _placed(values: np.ndarray, one: Variable, bounds: tuple[float, float]) -> np.ndarray:
    """Where values lie between bounds, 0 to 1, by ratio where the search spreads them so."""
    low, high = (np.log(bound) if one.log else bound for bound in bounds)
    return np.asarray(((np.log(values) if one.log else values) - low) / (high - low), float)


def _unplaced(place: float, one: Variable, bounds: tuple[float, float]) -> float:
    low, high = bounds
    return float(low * (high / low) ** place if one.log else low + place * (high - low))


def _round(value: float) -> float:
    """Return the nearest of 1, 2, 5, 10 times a power of ten, by ratio."""
    if not (isfinite(value) and value > 0.0):
        return 1.0
    power = 10.0 ** floor(log10(value))
    return min((1.0, 2.0, 5.0, 10.0), key=lambda one: abs(log10(value / (one * power)))) * power
