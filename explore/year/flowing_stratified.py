"""A stratified store from moment to moment: a hot layer at T_top above a cold one.

State: the cold share c [-] of the mass and u = c (h - h_out) [K], where h = (T_top - T_cold)/2 is carried as by the hourly
march and h_out is that of water as the boiler returns it. Drawing at a rate d gives c' = d and leaves u as it is, for what
returns has h = h_out; so nothing is divided by a cold share that is nearly nothing but to find h.
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
from explore.year.plants import StratifiedPlants
from explore.year.tally import Columns

Array = NDArray[np.float64]

LEAST_COLD = 1e-9
"""Cold share at which the store counts as full: a billionth of its heat, and still far above rounding."""
EMPTY = 1e-12
"""Hot share below which nothing is left to draw: rounding."""


class FlowingStratified:
    """One design on a stratified store; see :class:`explore.year.flowing.Flowing`."""

    own = 2
    banked = False

    def __init__(self, plants: StratifiedPlants, d: Columns) -> None:
        top, back, mass, heat = (float(d[name][0]) for name in ("top", "back", "mass", "heat"))
        self.top, self.half_out = top, 0.5 * (top - back)
        self.unit = 2.0 * mass * heat / (top - back)  # J for each kelvin of h and all of the mass
        self.UA = float(d["UA"][0])
        self.ageing = self.UA / (mass * float(d["loss_capacity"][0]))
        self.collectors, self.engine = Collectors(d), Engine(d)
        self.need = self.engine.power / (float(d["work"][0]) * mass)
        self.cooling = float(d["cooling"][0]) * self.engine.power

    def begun(self, start: tuple[float, ...]) -> Array:
        """The state at midnight from the hot share and h [K]."""
        hot, half = start
        cold = max(1.0 - hot, LEAST_COLD)
        return np.array([cold, cold * (half - self.half_out), *[0.0] * len(ACCOUNTS)])

    def content(self, y: Array) -> float:
        """Heat [J] above a store filled with water as it returns from the boiler."""
        return float(self.unit * (self.half_out - y[1] - y[0] * self.half_out))

    def half(self, y: Array) -> float:
        """Half the distance [K] of the cold water below T_top."""
        return float(self.half_out + y[1] / max(y[0], 0.5 * LEAST_COLD))

    def level(self, y: Array) -> tuple[float, float, float]:
        """Hot share, T_top and the temperature of the cold water; without hot water that is the hottest."""
        hot, cold = max(1.0 - float(y[0]), 0.0), self.top - 2.0 * self.half(y)
        return hot, self.top if hot > EMPTY else cold, cold

    def warm(self, y: Array, room: float) -> tuple[Array, float]:
        """Draw the warm-up's heat at once, as far as the hot water goes."""
        heat = self.engine.warm_up(room)
        wanted = heat / (self.half_out * self.unit)
        taken = min(wanted, max(1.0 - float(y[0]), 0.0))
        after = y.copy()
        after[0] += taken
        drawn = taken * self.half_out * self.unit
        after[self.own + ACCOUNTS.index("drawn")] += drawn
        after[self.own + ACCOUNTS.index("warmed")] += drawn
        return after, heat - drawn if taken < wanted else 0.0

    def mode(self, y: Array, now: Moment, *, wanted: bool, owed: float, left: Mode | None) -> Mode:
        """Full where heat is over, short where hot water is gone and what comes does not suffice."""
        if y[0] <= 2.0 * LEAST_COLD and left not in FULL:
            full = Mode.FULL_RUN if wanted else Mode.FULL
            if self._over(y, now, full) > 0.0:
                return full
        if not wanted:
            return Mode.REST
        if 1.0 - y[0] <= EMPTY and left is not Mode.SHORT and (owed or self._lack(y, now) > 0.0):
            return Mode.SHORT
        return Mode.RUN

    def settled(self, y: Array) -> Array:
        """The state as a mode takes it over: once a store is full, what next turns cold is at T_out, as what returns is."""
        if y[0] > 2.0 * LEAST_COLD:
            return y
        after = y.copy()
        after[0], after[1] = y[0] + y[1] / self.half_out, 0.0
        return after

    def gain(self, y: Array, now: Moment) -> float:
        """What each square metre of the collectors would bring [W/m2]."""
        return self.collectors.gain(now.sun, self.top - self.half(y) - now.air)

    def rates(self, y: Array, now: Moment, mode: Mode, *, owed: bool) -> Rates:
        """Heat flows and service."""
        half = self.half(y)
        came, hot_loss = self._came(half, now), self._hot_loss(y, now)
        drawn = served = 0.0
        if mode in RUNNING:
            drawn = self.need
            served = 1.0
        elif mode is Mode.SHORT:
            drawn = came / (self.unit * half)
            served = 0.0 if owed else drawn / self.need
        dumped = self._over(y, now, mode) if mode in FULL else 0.0
        cooled = 0.0 if mode in FULL else self.unit * y[0] * self._ageing(half, now)
        heat = drawn * self.half_out * self.unit
        warmed = heat if owed and mode is Mode.SHORT else 0.0
        return Rates(came, hot_loss + cooled, dumped, heat, served, served * self.cooling, warmed)

    def slope(self, y: Array, now: Moment, mode: Mode, *, owed: bool) -> Array:
        """Change of the state a second."""
        done = self.rates(y, now, mode, owed=owed)
        half = self.half(y)
        hot_loss = self._hot_loss(y, now)
        turned = (hot_loss - done.collected + done.dumped) / (self.unit * half)  # hot water to cold
        cold = turned + done.drawn / (self.half_out * self.unit)
        away = turned * (half - self.half_out) + (done.lost - hot_loss) / self.unit
        if mode in (*FULL, Mode.SHORT):
            cold = 0.0
        if mode in FULL:
            away = 0.0
        return full_slope([cold, away], done)

    def turns(self, mode: Mode, *, owed: bool) -> list[Turn]:
        """What may end a mode."""
        if mode in FULL:
            return [Turn(lambda y, now: self._over(y, now, mode), rising=False)]
        full = Turn(lambda y, now: float(y[0]) - LEAST_COLD, rising=False)
        if mode is Mode.RUN:
            return [full, Turn(lambda y, now: 1.0 - float(y[0]), rising=False)]
        if mode is Mode.SHORT and not owed:
            return [Turn(self._lack, rising=False)]
        return [] if mode is Mode.SHORT else [full]

    def _came(self, half: float, now: Moment) -> float:
        return self.collectors.heat(now.sun, self.top - half - now.air)

    def _hot_loss(self, y: Array, now: Moment) -> float:
        return max(1.0 - float(y[0]), 0.0) * self.UA * (self.top - now.room)

    def _ageing(self, half: float, now: Moment) -> float:
        """Kelvin a second by which h grows, for the cold water tends to the room."""
        return self.ageing * (0.5 * (self.top - now.room) - half)

    def _over(self, y: Array, now: Moment, mode: Mode) -> float:
        """Heat [W] that a full store cannot take."""
        drawn = self.need * self.unit * self.half_out if mode is Mode.FULL_RUN else 0.0
        return self._came(self.half_out, now) - self._hot_loss(y, now) - drawn

    def _lack(self, y: Array, now: Moment) -> float:
        """What the engine wants [1/s] over what turns hot, as shares of the store."""
        half = self.half(y)
        return self.need - self._came(half, now) / (self.unit * half)
