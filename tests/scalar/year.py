"""The hourly year of one design: a plain loop over the hours. SI units, kelvin, joule.

Order within an hour: collector, standing loss, draw of the engine, dump. A mixed store that one hour could
move by more than :data:`MOST_MOVE` goes through the same order several times within the hour.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from tests.compiled import compiled
from tests.scalar.part_load import GAUSS_W, GAUSS_X, PowerMap, looked_up

HOUR = 3600.0
# Steps of 3 K lose up to three hundredths of what an engine serves that empties its store within the hour, of 1 K 0.3 %.
MOST_MOVE = 1.0


class Weather(NamedTuple):
    """Hourly series: effective irradiance [W/m2], air temperature [K], whether shaft power is asked for."""

    irradiance: Sequence[float]
    T_air: Sequence[float]
    demand: Sequence[bool]


class CollectorField(NamedTuple):
    """ISO 9806 coefficients [-, W/(m2 K), W/(m2 K2)], area [m2], share of the heat lost in pipes [-]."""

    eta0: float
    a1: float
    a2: float
    area: float
    pipe_loss: float

    def heat(self, G: float, rise: float) -> float:
        """Heat [J] of one hour at irradiance ``G`` [W/m2] and ``rise`` [K] of the collector above the air."""
        return gathered(float(G), rise, tuple(map(float, self)))


@compiled
def gathered(G, rise, field):
    """Heat [J] of one hour, ``field`` being the numbers of a :class:`CollectorField`."""
    eta0, a1, a2, area, pipe_loss = field
    q = eta0 * G - a1 * rise - a2 * rise * rise
    return max(0.0, q) * area * HOUR * (1.0 - pipe_loss)


class Vessel(NamedTuple):
    """Heat capacity of the full store [J/K], loss [W/K], air around it [K] (one value, or one an hour)."""

    capacity: float
    loss: float
    T_room: float | Sequence[float]


class Season(NamedTuple):
    """What the year gave, in hours of demand: asked, served, longest run of hours unserved."""

    asked: float
    served: float
    longest_unserved: float
    stagnation_hours: float
    collected: float
    heat_drawn: float

    @property
    def share(self) -> float:
        """Served share of the energy asked [-]."""
        return self.served / self.asked if self.asked else 1.0


class _Tally:
    """Running sums of one year."""

    def __init__(self) -> None:
        self.asked = self.served = self.run = self.longest = 0.0
        self.stagnation = self.collected = self.drawn = 0.0
        self.day_of_last_demand = -1

    def first_of_day(self, hour: int) -> bool:
        """Say whether this demand hour is the first of its day."""
        first = hour // 24 != self.day_of_last_demand
        self.day_of_last_demand = hour // 24
        return first

    def serve(self, share: float, heat: float) -> None:
        """Book a demand hour of which ``share`` was served from ``heat`` [J]."""
        self.asked += 1.0
        self.served += share
        self.drawn += heat
        self._lag(0.0 if share > 1.0 - 1e-9 else 1.0 - share)

    def bank(self, share: float, heat: float, kept_up: bool) -> None:
        """Book a demand hour of a banked day: ``kept_up`` says whether the day's sum does not lag."""
        self.asked += 1.0
        self.served += share
        self.drawn += heat
        self._lag(0.0 if kept_up else 1.0)

    def _lag(self, unserved: float) -> None:
        self.run = self.run + unserved if unserved > 0.0 else 0.0
        self.longest = max(self.longest, self.run)

    def season(self) -> Season:
        """Close the books."""
        return Season(
            self.asked, self.served, self.longest, self.stagnation, self.collected, self.drawn
        )  # fmt: skip


def stratified_year(
    weather: Weather, field: CollectorField, vessel: Vessel, T_top: float, T_out: float, heat_rate: float,
    warm_up: float, T_evap: float,
) -> Season:  # fmt: skip
    """Year of a stratified store at hot fraction f, engine drawing ``heat_rate`` [W], ``warm_up`` [J/K]."""
    K, UA = vessel.capacity, vessel.loss
    rooms = _rooms(vessel, weather)
    f, T_cold, tally = 0.0, T_out, _Tally()
    hour_heat, full_draw = heat_rate * HOUR, K * (T_top - T_out)
    for hour, (G, T_air, T_room, asked) in enumerate(
        zip(weather.irradiance, weather.T_air, rooms, weather.demand, strict=True)
    ):
        gained = field.heat(G, 0.5 * (T_cold + T_top) - T_air) if G > 0 else 0.0
        to_hot = K * (T_top - T_cold)
        if f + gained / to_hot > 1.0:  # full: what the engine returns then goes to the collectors
            early = (1.0 - f) * to_hot
            T_cold, to_hot = T_out, full_draw
            gained = early + (1.0 - early / gained) * field.heat(G, 0.5 * (T_out + T_top) - T_air)
            f = 1.0 + (gained - early) / to_hot
        else:
            f += gained / to_hot
        tally.collected += gained
        f = max(0.0, f - f * UA * (T_top - T_room) * HOUR / to_hot)
        T_cold -= UA * (T_cold - T_room) * HOUR / K
        if asked:
            first = warm_up * (T_evap - T_room) if tally.first_of_day(hour) else 0.0
            drawn = min(f * full_draw, first + hour_heat)
            tally.serve(max(0.0, drawn - first) / hour_heat, drawn)
            moved, cold = drawn / full_draw, max(0.0, 1.0 - f)
            if moved > 0:
                T_cold = (cold * T_cold + moved * T_out) / (cold + moved)
                f -= moved
        if f > 1.0:
            tally.stagnation += 1.0
            tally.collected -= (f - 1.0) * K * (T_top - T_cold)
            f = 1.0
    return tally.season()


def _rooms(vessel: Vessel, weather: Weather) -> Sequence[float]:
    if isinstance(vessel.T_room, float):
        return [vessel.T_room] * len(weather.T_air)
    return vessel.T_room


def steps_of_hour(gained: float, drawn: float, K: float) -> int:
    """Into how many equal steps an hour is cut that may gain or draw so much heat [J] at ``K`` [J/K]."""
    return max(1, math.ceil(max(gained, drawn) / (K * MOST_MOVE) - 1e-9))


def mixed_year(
    weather: Weather, field: CollectorField, vessel: Vessel, T_top: float, T_stop: float, power: float,
    engine_map: PowerMap, warm_up: float, T_evap: float, collector_rise: float,
    bank_efficiency: float | None = None,
) -> Season:  # fmt: skip
    """Year of a fully mixed store; ``engine_map`` gives heat rate and efficiency over its temperature.

    With a ``bank_efficiency`` the demand of a calendar day is one sum: the engine runs in the demand hours until
    that is delivered, and what it gives counts times the efficiency. What a store at ``T_top`` cannot
    hold is dumped at once.
    """
    K, rooms = vessel.capacity, _rooms(vessel, weather)
    T, tally = float(T_stop), _Tally()
    numbers = tuple(map(float, field))
    store = tuple(map(float, (K, vessel.loss, T_top, collector_rise)))
    engine = _as_arrays(engine_map)
    hottest_draw, hour_work = HOUR * max(engine_map.heat_rate), power * HOUR
    day_hours: dict[int, int] = {}
    for hour, asked in enumerate(weather.demand):
        if asked:
            day_hours[hour // 24] = day_hours.get(hour // 24, 0) + 1
    day_sum, hours_so_far = 0.0, 0
    for hour, (G, T_air, T_room, asked) in enumerate(
        zip(weather.irradiance, weather.T_air, rooms, weather.demand, strict=True)
    ):
        if hour % 24 == 0:
            day_sum, hours_so_far = 0.0, 0
        sunny = field.heat(G, T + collector_rise - T_air) if G > 0 else 0.0
        n = steps_of_hour(sunny, hottest_draw if asked else 0.0, K)
        warm_left = warm_up * (T_evap - T_room) if asked and tally.first_of_day(hour) else 0.0
        lacking = math.inf
        if asked and bank_efficiency is not None:
            lacking = day_hours[hour // 24] * hour_work / bank_efficiency - day_sum
        T, taken_in, dumped, drawn, work = mixed_hour(
            T,
            n,
            bool(asked),
            float(G),
            float(T_air),
            float(T_room),
            numbers,
            store,
            engine,
            warm_left,
            lacking,
        )
        tally.collected += taken_in
        if dumped > 0:
            tally.stagnation += 1.0
            tally.collected -= dumped
        if asked and bank_efficiency is None:
            tally.serve(min(1.0, work / hour_work), drawn)
        elif asked and bank_efficiency is not None:
            day_sum += work
            hours_so_far += 1
            banked = day_sum * bank_efficiency
            kept_up = banked >= hours_so_far * hour_work * (1.0 - 1e-9)
            tally.bank(work * bank_efficiency / hour_work, drawn, kept_up)
    return tally.season()


@compiled
def mixed_hour(T, n, asked, G, T_air, T_room, field, store, engine, warm_left, lacking):
    """Go through an hour in ``n`` steps from ``T`` [K]: where it ends, heat taken in, dumped and drawn, and work [J].

    ``warm_left`` [J] is the warm-up still owed, ``lacking`` [J] what a bank still takes today.
    """
    K, UA, T_top, rise = store
    T_low, spacing, rates, efficiencies = engine
    taken_in = drawn = work = dumped = 0.0
    for _ in range(n):
        T_begin, seen = T, T + rise - T_air
        if not asked and G > 0:  # nothing is drawn: the collectors see the middle of the warming
            seen += 0.5 * gathered(G, seen, field) / n / K
        gained = gathered(G, seen, field) / n if G > 0 else 0.0
        taken_in += gained
        T += gained / K
        T -= UA * (T - T_room) * HOUR / n / K
        if asked:
            available = max(0.0, T - T_low) * K
            first = min(warm_left, available)
            warm_left -= first
            came = min((T - T_begin) * K, available - first)
            heat = _drawn(engine, T - first / K, available - first, K, HOUR / n, came)
            middle = max(T_low, T - (first + 0.5 * (came + heat)) / K)
            given = heat * looked_up(middle, T_low, spacing, rates, efficiencies)[1]
            if given > lacking - work:
                heat *= max(0.0, lacking - work) / given
                given = max(0.0, lacking - work)
            work += given
            drawn += first + heat
            T -= (first + heat) / K
        if T_top < T:
            dumped += (T - T_top) * K
            T = T_top
    return T, taken_in, dumped, drawn, work


def _as_arrays(engine_map: PowerMap) -> tuple[float, float, np.ndarray, np.ndarray]:
    return (
        float(engine_map.T_low), float(engine_map.spacing),
        np.asarray(engine_map.heat_rate, float), np.asarray(engine_map.efficiency, float),
    )  # fmt: skip


def hour_draw(
    engine_map: PowerMap, T: float, available: float, K: float, span: float = HOUR, came: float = 0.0
) -> float:
    """Heat [J] the engine takes in ``span`` [s] from a store that would stand at ``T`` [K] without it.

    Heat rate and efficiency are those at the middle of the span, when half of what ``came`` [J] has come and
    half of what the engine takes has gone.
    """
    return _drawn(_as_arrays(engine_map), T, available, K, span, came)


@compiled
def _missed(engine, heat, T, K, span, came):
    T_low, spacing, rates, efficiencies = engine
    middle = max(T_low, T - 0.5 * (came + heat) / K)
    return heat - span * looked_up(middle, T_low, spacing, rates, efficiencies)[0]


@compiled
def _drawn(engine, T, available, K, span, came):
    if available <= 0:
        return 0.0
    low, high = 0.0, available
    f_low, f_high = _missed(engine, low, T, K, span, came), _missed(engine, high, T, K, span, came)
    if f_high <= 0:
        return available
    heat = high
    for _ in range(60):
        heat = high - f_high * (high - low) / (f_high - f_low)
        f = _missed(engine, heat, T, K, span, came)
        if abs(f) < 1e-9 * available:
            break
        # The side that stays is halved in weight (the Illinois rule), or it would stay for ever.
        if f > 0:
            high, f_high, f_low = heat, f, 0.5 * f_low
        else:
            low, f_low, f_high = heat, f, 0.5 * f_high
    return heat


def mixed_autonomy(engine_map: PowerMap, T_size: float, T_top: float, K: float) -> float:
    """Running time [s] of a full store without sun or loss, down to the map's lowest temperature."""
    total = 0.0
    for low, high in ((engine_map.T_low, T_size), (T_size, T_top)):
        if high <= low:
            continue
        for x, weight in zip(GAUSS_X, GAUSS_W, strict=True):
            T = low + 0.5 * (x + 1.0) * (high - low)
            total += 0.5 * (high - low) * weight * K / engine_map.at(T)[0]
    return total
