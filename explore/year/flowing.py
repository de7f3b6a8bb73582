"""Both kinds of store as they go on from moment to moment: the limit of the hourly march for ever shorter hours.

A store is at every moment in one of a few :class:`Mode`; within one its rates bend nowhere but where the collectors begin
or stop. It carries its own state and, behind that, what has come and gone since midnight, whose rates are those of the
state: so the account of a day closes to rounding, whatever the steps. Laws of collector, loss and draw are those of
:mod:`explore.year.stratified_store` and :mod:`explore.year.mixed_store`.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from explore.year.tally import Columns

Array = NDArray[np.float64]


class Mode(Enum):
    """What holds a store and its engine."""

    REST = "rest"
    """no power is asked for, or the day's sum is delivered"""
    FULL = "full"
    """so, and the store is full: heat that finds no room is dumped"""
    RUN = "run"
    """the engine runs"""
    FULL_RUN = "full_run"
    """so, and the store stays full"""
    SHORT = "short"
    """power is asked for and the store is empty: the engine gets what comes in, no more than it takes"""
    COLD = "cold"
    """power is asked for and the store, fully mixed, is colder than the engine can use"""


FULL = (Mode.FULL, Mode.FULL_RUN)
"""In which the store is full and heat is dumped."""
RUNNING = (Mode.RUN, Mode.FULL_RUN)
"""In which the engine runs with all the heat that it takes."""


class Rates(NamedTuple):
    """What goes on in a moment: heat flows [W], the share of the power asked that the load gets [-]."""

    collected: float
    lost: float
    dumped: float
    drawn: float
    served: float
    """of the power asked for, as the load gets it"""
    water: float
    """cooling water [m3/s]"""
    warmed: float
    """what of the heat drawn still warms the engine"""


ACCOUNTS = Rates._fields
"""What is summed from midnight on, behind a store's own state: joule, but ``served`` [s] and ``water`` [m3]."""


class Moment(NamedTuple):
    """What surrounds a store: ``sun`` [W/m2] with the collector's modifier, ``air`` and ``room`` [K]."""

    sun: float
    air: float
    room: float


class Turn(NamedTuple):
    """A quantity whose passing through zero, ``rising`` or falling, ends a mode."""

    of: Callable[[Array, Moment], float]
    rising: bool


class Flowing(Protocol):
    """A store and its engine from moment to moment; ``y`` is its own state, then the accounts."""

    own: int
    """numbers of its own state"""
    banked: bool
    """whether the day's work is one sum, after which the engine stops"""

    def begun(self, start: tuple[float, ...]) -> Array:
        """The state at midnight, accounts at zero; ``start`` as :class:`explore.year.hours.HourBooks` has it."""
        ...

    def content(self, y: Array) -> float:
        """Heat in the store [J], above the same in all states."""
        ...

    def level(self, y: Array) -> tuple[float, float, float]:
        """Hot share [-], hottest and coldest temperature in the store [K]."""
        ...

    def warm(self, y: Array, room: float) -> tuple[Array, float]:
        """Take the heat of the day's warm-up at once; the state after it, and what of the heat [J] is still owed."""
        ...

    def mode(self, y: Array, now: Moment, *, wanted: bool, owed: float, left: Mode | None) -> Mode:
        """Which mode the store is in; ``left``: the one that has just ended here."""
        ...

    def settled(self, y: Array) -> Array:
        """The state as a mode takes it over."""
        ...

    def gain(self, y: Array, now: Moment) -> float:
        """What each square metre of the collectors would bring [W/m2], below zero where they do not run."""
        ...

    def rates(self, y: Array, now: Moment, mode: Mode, *, owed: bool) -> Rates:
        """What goes on; ``owed``: heat that comes in still goes into the warm-up."""
        ...

    def slope(self, y: Array, now: Moment, mode: Mode, *, owed: bool) -> Array:
        """How the whole state changes a second."""
        ...

    def turns(self, mode: Mode, *, owed: bool) -> list[Turn]:
        """What may end a mode."""
        ...


class Collectors:
    """The collectors of one design."""

    def __init__(self, d: Columns) -> None:
        self.area, self.eta0, self.a1, self.a2 = (float(d[name][0]) for name in ("gain", "eta0", "a1", "a2"))

    def heat(self, sun: float, above_air: float) -> float:
        """Heat that arrives [W] at a mean temperature ``above_air`` [K] (ISO 9806, pipe loss taken off)."""
        return self.area * max(self.gain(sun, above_air), 0.0) if sun > 0.0 else 0.0

    def gain(self, sun: float, above_air: float) -> float:
        """What each square metre would bring [W/m2], below zero where it would cool the store."""
        return self.eta0 * sun - (self.a1 + self.a2 * above_air) * above_air


class Engine:
    """What one design asks of its store: the power, and the heat of its first start of the day."""

    def __init__(self, d: Columns) -> None:
        self.power, self.capacity, self.evaporating = (
            float(d[name][0]) for name in ("power", "warm_up", "evaporating")
        )

    def warm_up(self, room: float) -> float:
        """Heat [J] of the warm-up from the temperature of the ``room`` [K]."""
        return max(self.capacity * (self.evaporating - room), 0.0)


def full_slope(own: list[float], rates: Rates) -> Array:
    """Change of a whole state: that of the store's own, then of the accounts."""
    return np.array([*own, *rates])
