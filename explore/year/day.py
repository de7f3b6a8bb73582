"""A day of one design by the minute: sun into the store, warm-up, running, stop and night, integrated with its events.

Between events the rates are smooth and ``scipy.integrate.solve_ivp`` follows them; an event (full, empty, warm, the day's
sum delivered) ends a mode of the store, and the next one begins from there. What is warmed at the first demand of the day
costs heat and no time, as in the hourly year.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from explore.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from explore.year.course import HALF_HOUR, HOURS, Day, Surroundings
from explore.year.flowing import ACCOUNTS, Flowing, Mode, Moment, Turn
from explore.year.flowing_mixed import FlowingMixed
from explore.year.flowing_stratified import FlowingStratified
from explore.year.hours import columns_of
from explore.year.plants import MixedPlants, StratifiedPlants

Array = NDArray[np.float64]

MINUTES = 1440
"""Of a day."""
RELATIVE = 1e-8
"""Tolerance of the integration: far below what the hours of the year agree to; the account closes whatever it is."""
ABSOLUTE = 1e-13
"""So small that the cold share of a store all but full, a billionth, is still followed."""
ABSOLUTE_ACCOUNT = 1e-6
"""A microjoule, a microsecond or a millilitre: nothing."""
MOST_TURNS = 500
"""Changes of mode in half an hour: more would be a mode that ends as it begins, which is a defect."""
PAID = 1e-9
"""Of a warm-up so little is nothing owed: rounding."""
HALF_MINUTES = 30
"""Minutes of half an hour, by definition."""
LONGEST_S = 120.0
"""Longest step: collectors that begin and stop within one would not be seen, and minutes lie on a line between steps that
swings past a bend of the engine's curves."""
METHOD = "DOP853"
"""Of high order, for rates that are smooth between events: the fewest calls of Python for the tolerance."""


@dataclass(frozen=True)
class Happening:
    """A change of mode at ``second`` of the day; ``warm_up_J``: what the first start of the day took at once."""

    second: float
    before: Mode
    after: Mode
    warm_up_J: float = 0.0


@dataclass(frozen=True)
class DayMarch:
    """What a day came to, by the minute: arrays (1441,) at the minutes from midnight to midnight."""

    hot_share: Array
    """of a stratified store; of a fully mixed one the share of its usable temperatures"""
    hottest_K: Array
    """of the store"""
    coldest_K: Array
    """of the store"""
    content_J: Array
    """heat in the store, above the same state for all minutes"""
    accounts: dict[str, Array]
    """each of :data:`~explore.year.flowing.ACCOUNTS` since midnight: heat [J], ``served`` [s], ``water`` [m3]"""
    modes: tuple[Mode, ...]
    """in which each of the 1440 minutes ends"""
    happenings: tuple[Happening, ...]
    forgotten_J: float = 0.0
    """of the warm-up: what the store lacked in its hour, so that it counts as done"""

    def by_hour(self, name: str) -> Array:
        """What an account grew by in each hour, (24,)."""
        return np.diff(self.accounts[name][:: int(SECONDS_PER_HOUR / SECONDS_PER_MINUTE)])

    def unclosed(self) -> float:
        """Heat that came but neither went nor stayed, over all that came and was there: zero but for rounding [-]."""
        last = {name: float(values[-1]) for name, values in self.accounts.items()}
        kept = float(self.content_J[-1] - self.content_J[0])
        rest = last["collected"] - last["drawn"] - last["lost"] - last["dumped"] - kept
        turned = max(last["collected"], last["drawn"] + abs(last["lost"]), float(np.ptp(self.content_J)), 1.0)
        return rest / turned


def march_day(plants: StratifiedPlants | MixedPlants, day: Day, start: tuple[float, ...]) -> DayMarch:
    """March the first design of ``plants`` through a day.

    Args:
        plants: what the hourly year asks of the designs.
        day: sun, air, room and demand.
        start: how the store stands at midnight, as :class:`explore.year.hours.HourBooks` says it.
    """
    columns = columns_of(plants)
    store: Flowing = (
        FlowingStratified(plants, columns)
        if isinstance(plants, StratifiedPlants)
        else FlowingMixed(plants, columns)
    )
    march = _March(store, day, store.begun(start))
    for half in range(2 * HOURS):
        march.pass_half(half)
    return march.told()


class _March:
    """The day as far as it has gone."""

    def __init__(self, store: Flowing, day: Day, y: Array) -> None:
        self.store, self.day, self.y = store, day, y
        self.owed_J, self.forgotten_J, self.mode = 0.0, 0.0, Mode.REST
        self.asked_s = sum(day.demand) * SECONDS_PER_HOUR
        self.states, self.modes, self.happenings = [y], list[Mode](), list[Happening]()
        self.collecting = False
        self.served, self.warmed = (store.own + ACCOUNTS.index(name) for name in ("served", "warmed"))

    def pass_half(self, half: int) -> None:
        """Go through half an hour, from one event to the next."""
        hour, beside = divmod(half, 2)
        around = self.day.halves[half]
        if beside == 0:
            self._strike(hour, around)
        at, left = 0.0, None
        self.collecting = self.store.gain(self.y, _moment(around, at)) > 0.0
        for _ in range(MOST_TURNS):
            self._settle(half, at, around, left)
            at, sun = self._follow(half, at, around)
            if at >= HALF_HOUR:
                return
            self.collecting ^= sun
            left = None if sun else self.mode
        raise RuntimeError(f"hour {hour}: the store changes its mode without end")

    def _strike(self, hour: int, around: Surroundings) -> None:
        """An hour begins: what is still owed of a warm-up is forgotten, and the first demand of the day warms up."""
        self.forgotten_J += self.owed_J
        self.owed_J = 0.0
        demand = self.day.demand
        if demand[hour] and not any(demand[:hour]):
            self.y, self.owed_J = self.store.warm(self.y, around.room.start)
            taken = float(self.y[self.warmed])
            self.happenings.append(Happening(hour * SECONDS_PER_HOUR, self.mode, self.mode, taken))

    def _wanted(self, half: int) -> bool:
        delivered = self.store.banked and self.y[self.served] >= self.asked_s * (1.0 - 1e-12)
        return self.day.demand[half // 2] and not delivered

    def _settle(self, half: int, at: float, around: Surroundings, left: Mode | None) -> None:
        """Find the mode that begins ``at`` [s] of half an hour, and write down where it differs from the last."""
        now = _moment(around, at)
        mode = self.store.mode(self.y, now, wanted=self._wanted(half), owed=self.owed_J, left=left)
        self.y = self.store.settled(self.y)
        if mode is not self.mode:
            self.happenings.append(Happening(half * HALF_HOUR + at, self.mode, mode))
        self.mode = mode

    def _follow(self, half: int, at: float, around: Surroundings) -> tuple[float, bool]:
        """Integrate until something ends or half an hour does, and take the minutes down.

        Return when it was [s], and whether it was the collectors that began or stopped.
        """
        from scipy.integrate import solve_ivp

        store, mode, owed, before = self.store, self.mode, self.owed_J > 0.0, self.y

        def slope(t: float, y: Array) -> Array:
            return store.slope(y, _moment(around, t), mode, owed=owed)

        turns = [Turn(store.gain, rising=not self.collecting), *self._turns(owed)]
        found = solve_ivp(
            slope,
            (at, HALF_HOUR),
            before,
            method=METHOD,
            t_eval=SECONDS_PER_MINUTE * np.arange(int(at / SECONDS_PER_MINUTE) + 1, HALF_MINUTES + 1),
            events=[_Event(turn, around) for turn in turns],
            max_step=LONGEST_S,
            rtol=RELATIVE,
            atol=[ABSOLUTE] * store.own + [ABSOLUTE_ACCOUNT] * len(ACCOUNTS),
        )
        if not found.success:
            raise RuntimeError(f"minute {half * HALF_MINUTES}: {found.message}")
        passed = list(np.array(found.y).T)  # an event before the next minute leaves none
        self.states += passed
        self.modes += [mode] * len(passed)
        times = [when[0] if len(when) else np.inf for when in found.t_events]
        first = int(np.argmin(times))
        ended = times[first] < np.inf
        self.y = found.y_events[first][0] if ended else passed[-1]
        if owed and mode is Mode.SHORT:
            left = self.owed_J - float(self.y[self.warmed] - before[self.warmed])
            self.owed_J = left if left > self.owed_J * PAID else 0.0
        return (float(times[first]) if ended else HALF_HOUR), ended and first == 0

    def _turns(self, owed: bool) -> list[Turn]:
        """What may end the mode: the store's own, the end of the warm-up and of a sum that is banked."""
        found = self.store.turns(self.mode, owed=owed)
        if owed and self.mode is Mode.SHORT:
            due = float(self.y[self.warmed]) + self.owed_J
            found.append(Turn(lambda y, now: float(y[self.warmed]) - due, rising=True))
        if self.store.banked and self.mode not in (Mode.REST, Mode.FULL):
            found.append(Turn(lambda y, now: float(y[self.served]) - self.asked_s, rising=True))
        return found

    def told(self) -> DayMarch:
        """The day by its minutes."""
        levels = np.array([self.store.level(y) for y in self.states]).T
        own, whole = self.store.own, np.array(self.states).T
        hot_share, hottest, coldest = levels
        return DayMarch(
            hot_share,
            hottest,
            coldest,
            content_J=np.array([self.store.content(y) for y in self.states]),
            accounts=dict(zip(ACCOUNTS, whole[own:], strict=True)),
            modes=tuple(self.modes),
            happenings=tuple(self.happenings),
            forgotten_J=self.forgotten_J + self.owed_J,
        )


def _moment(around: Surroundings, at: float) -> Moment:
    return Moment(around.sun.at(at), around.air.at(at), around.room.at(at))


class _Event:
    """A turn as ``solve_ivp`` takes it: a function of time and state that says whether it ends, and from which side."""

    terminal = True

    def __init__(self, turn: Turn, around: Surroundings) -> None:
        self.turn, self.around = turn, around
        self.direction = 1.0 if turn.rising else -1.0

    def __call__(self, t: float, y: Array) -> float:
        """Return how far the turn is off, which changes sign where it is reached."""
        return self.turn.of(y, _moment(self.around, t))
