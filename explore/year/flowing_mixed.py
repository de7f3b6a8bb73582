"""A fully mixed store from moment to moment: one temperature T [K].

Heat flow and power of the engine lie straight between the temperatures of its grid, as in the steps of the hourly march.
In the limit of short steps nothing passes T_top: what the draw does not take at once is dumped.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from explore.year.flowing import (
    ACCOUNTS,
    FULL,
    RUNNING,
    Collectors,
    Engine,
    Mode,
    Moment,
    Rates,
    Turn,
    full_slope,
)
from explore.year.mixed_store import grid_flow
from explore.year.plants import MixedPlants
from explore.year.tally import Columns

Array = NDArray[np.float64]

NEAR_K = 1e-9
"""So near to T_top or to the floor the store is there: rounding."""
NEAR = 1e-9
"""A heat flow that by so little misses the engine's reaches it: rounding where one meets the other."""
NO_HEAT_W = 1e-6
"""Less is no heat: rounding where what comes in meets what is lost."""


class FlowingMixed:
    """One design on a fully mixed store; see :class:`explore.year.flowing.Flowing`."""

    own = 1

    def __init__(self, plants: MixedPlants, d: Columns) -> None:
        self.capacity, self.top, self.floor, self.UA, self.rise, most = (
            float(d[name][0]) for name in ("capacity", "top", "floor", "UA", "rise", "most")
        )
        self.collectors, self.engine = Collectors(d), Engine(d)
        grids = {name: grid[:1] for name, grid in plants.grids().items()}
        fraction = np.clip(grids["fraction"], 0.0, most)
        self.flow = grid_flow(grids["efficiency"], fraction, np.array([self.engine.power]))
        self.fraction, self.cooling = fraction.ravel(), grids["cooling"].ravel()
        self.grid = np.linspace(self.floor, self.top, len(self.flow))
        bank = float(np.ravel(np.asarray(plants.bank_efficiency, dtype=np.float64))[0])
        self.banked = bool(np.isfinite(bank))
        self.bank = bank if self.banked else 1.0

    def begun(self, start: tuple[float, ...]) -> Array:
        """The state at midnight from the temperature [K]."""
        return np.array([*start, *[0.0] * len(ACCOUNTS)])

    def content(self, y: Array) -> float:
        """Heat [J] above a store at the floor."""
        return float(self.capacity * (y[0] - self.floor))

    def level(self, y: Array) -> tuple[float, float, float]:
        """Share of the usable temperatures, and the temperature twice."""
        T = float(y[0])
        return min(max((T - self.floor) / (self.top - self.floor), 0.0), 1.0), T, T

    def warm(self, y: Array, room: float) -> tuple[Array, float]:
        """Draw the warm-up's heat at once, down to the floor."""
        heat = self.engine.warm_up(room)
        drawn = min(heat, max(self.content(y), 0.0))
        after = y.copy()
        after[0] -= drawn / self.capacity
        after[self.own + ACCOUNTS.index("drawn")] += drawn
        after[self.own + ACCOUNTS.index("warmed")] += drawn
        return after, heat - drawn

    def mode(self, y: Array, now: Moment, *, wanted: bool, owed: float, left: Mode | None) -> Mode:
        """Full at T_top where heat is over; short at the floor where some comes; cold below it."""
        T = float(y[0])
        if self.top - NEAR_K <= T and left not in FULL:
            full = Mode.FULL_RUN if wanted else Mode.FULL
            if self._net(y, now, full) > 0.0:
                return full
        if not wanted:
            return Mode.REST
        if self.floor + NEAR_K < T:
            return Mode.RUN
        comes = self._net(y, now, Mode.REST)
        if self.floor - NEAR_K > T or comes <= NO_HEAT_W:
            return Mode.COLD
        return Mode.RUN if not owed and comes > self.flow[0] * (1.0 - NEAR) else Mode.SHORT

    def settled(self, y: Array) -> Array:
        """The state as a mode takes it over: as it is."""
        return y

    def gain(self, y: Array, now: Moment) -> float:
        """What each square metre of the collectors would bring [W/m2]."""
        return self.collectors.gain(now.sun, float(y[0]) + self.rise - now.air)

    def rates(self, y: Array, now: Moment, mode: Mode, *, owed: bool) -> Rates:
        """Heat flows and service."""
        T = float(y[0])
        came, lost = self._came(T, now), self.UA * (T - now.room)
        heat = given = 0.0
        if mode in RUNNING:
            heat, given = self._at(self.flow, T), self._at(self.fraction, T)
        elif mode is Mode.SHORT:
            heat = max(came - lost, 0.0)
            given = 0.0 if owed else float(self.fraction[0] * heat / self.flow[0])
        dumped = came - lost - heat if mode in FULL else 0.0
        worked = 0.0 if owed and mode is Mode.SHORT else heat
        return Rates(
            came, lost, dumped, heat, given * self.bank, worked * self._at(self.cooling, T), heat - worked
        )

    def slope(self, y: Array, now: Moment, mode: Mode, *, owed: bool) -> Array:
        """Change of the state a second."""
        done = self.rates(y, now, mode, owed=owed)
        kept = done.collected - done.lost - done.dumped - done.drawn
        return full_slope([kept / self.capacity], done)

    def turns(self, mode: Mode, *, owed: bool) -> list[Turn]:
        """What may end a mode."""
        full = Turn(lambda y, now: float(y[0]) - self.top, rising=True)
        low = float(self.flow[0])
        found = {
            Mode.REST: [full],
            Mode.FULL: [Turn(lambda y, now: self._net(y, now, Mode.FULL), rising=False)],
            Mode.FULL_RUN: [Turn(lambda y, now: self._net(y, now, Mode.FULL_RUN), rising=False)],
            Mode.RUN: [full, Turn(lambda y, now: float(y[0]) - self.floor, rising=False)],
            Mode.COLD: [Turn(lambda y, now: float(y[0]) - self.floor, rising=True)],
            Mode.SHORT: [Turn(lambda y, now: self._net(y, now, Mode.REST), rising=False)],
        }[mode]
        if mode is Mode.SHORT and not owed:
            found.append(Turn(lambda y, now: self._net(y, now, Mode.REST) - low, rising=True))
        return found

    def _came(self, T: float, now: Moment) -> float:
        return self.collectors.heat(now.sun, T + self.rise - now.air)

    def _net(self, y: Array, now: Moment, mode: Mode) -> float:
        """Heat [W] that would warm the store in a mode."""
        T = float(y[0])
        drawn = self._at(self.flow, T) if mode in RUNNING else 0.0
        return self._came(T, now) - self.UA * (T - now.room) - drawn

    def _at(self, table: Array, T: float) -> float:
        return float(np.interp(T, self.grid, table))
