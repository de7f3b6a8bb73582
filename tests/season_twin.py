"""The year of one design at a time, in plain Python: the slow twin of the batch over hours.

Written with masses, joules and degrees where the batch carries scaled quantities, with bisection where
the batch takes Newton's steps, and from place to place where it looks up sums.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from tests.compiled import compiled

HOUR = 3600.0


class Books:
    """Heat that came and went, and demand served."""

    def __init__(self):
        self.collected = self.drawn = self.lost = self.dumped = 0.0
        self.served = self.run = self.longest = self.water = 0.0
        self.stagnation = 0

    def serve(self, share, heat):
        """Book one demand hour."""
        self.served += share
        self.drawn += heat
        self.run = 0.0 if share >= 1.0 - 1e-9 else self.run + 1.0 - share
        self.longest = max(self.longest, self.run)

    def bank(self, share, heat, lags):
        """Book one demand hour whose work went into a bank; ``lags`` says whether the day's sum lags."""
        self.served += share
        self.drawn += heat
        self.run = self.run + 1.0 if lags else 0.0
        self.longest = max(self.longest, self.run)

    def dump(self, heat):
        """Book heat without room."""
        if heat > 0.0:
            self.dumped += heat
            self.stagnation += 1


def stratified(year, d):
    """Run the year with the dictionary ``d`` of one design's numbers, named as the arguments of the batch."""
    kg, top, back = d["store_mass_kg"], d["top_temperature_K"], d["return_temperature_K"]
    c = d["heat_per_kg_J"] / (top - back)
    books, hot, cold_T = Books(), 0.0, back  # hot: kg at the top temperature
    day_before = -1
    for hour, room in enumerate(year.room_temperature_K.tolist()):
        heat = _collected(year, d, hour, 0.5 * (cold_T + top))
        hot, spare = _into_store(hot, kg, heat, c * (top - cold_T))
        books.collected += heat - spare
        # Where no cold water is left the collectors get what the engine returns for the rest of the hour.
        if spare > 0.0:
            cold_T = back
            spare *= _collected(year, d, hour, 0.5 * (back + top)) / heat
        books.collected += spare

        loss = min(hot * c * (top - cold_T), hot / kg * d["UA_W_per_K"] * (top - room) * HOUR)
        hot -= loss / (c * (top - cold_T))
        fall = min(1.0, d["UA_W_per_K"] * HOUR / (kg * d["loss_heat_capacity_J_per_kgK"])) * (cold_T - room)
        cold_T -= fall
        books.lost += loss + (kg - hot) * c * fall

        if year.demand[hour]:
            hot, spare = _into_store(hot, kg, spare, c * (top - cold_T))
            need = d["power_W"] * HOUR * d["heat_per_kg_J"] / d["work_per_kg_water_J"]
            warm_up = _warm_up(d, room) if year.day[hour] != day_before else 0.0
            day_before = year.day[hour]
            available = hot * d["heat_per_kg_J"] + spare
            taken = min(available, need + warm_up)
            cold = kg - hot
            hot, spare = _into_store(0.0, kg, available - taken, d["heat_per_kg_J"])
            returned = kg - hot - cold
            cold_T = (cold * cold_T + returned * back) / (kg - hot) if hot < kg else back
            books.serve(max(0.0, taken - warm_up) / need, taken)

        hot, spare = _into_store(hot, kg, spare, c * (top - cold_T))
        books.dump(spare)
    books.water = books.served * d["power_W"] * HOUR * d["cooling_water_m3_per_J"]
    change = c * (hot * (top - back) + (kg - hot) * (cold_T - back))
    hours_full = kg * d["work_per_kg_water_J"] / (d["power_W"] * HOUR)
    return _result(year, d, books, change, hours_full, hours_full)


def mixed(year, d):
    """Run the year with the dictionary ``d`` of one design's numbers and grids."""
    capacity, top, floor = d["capacity_J_per_K"], d["top_temperature_K"], d["floor_temperature_K"]
    size = len(d["efficiency_grid"])
    most, bank = float(d.get("power_may_rise", 1.0)), float(d.get("bank_efficiency", np.inf))
    hours_of_day = np.bincount(year.day, weights=year.demand).tolist()
    banked = hours_so_far = 0.0  # P x hours of the day, as the load gets them
    fraction = [min(most, max(0.0, p)) for p in d["power_fraction_grid"]]
    flow = [0.0] * size
    for k in reversed(range(size)):
        p, eta = fraction[k], d["efficiency_grid"][k]
        flow[k] = d["power_W"] * HOUR * p / eta if eta > 1e-6 and p > 0.0 else flow[k + 1]
    T, roof = float(d["start_temperature_K"]), top + d.get("headroom_K", 0.0)
    books, day_before = Books(), -1
    steps = _steps(year, d, max(flow) / capacity)
    field = tuple(float(d[name]) for name in FIELD)
    store = tuple(map(float, (capacity, d["UA_W_per_K"], floor, top, roof, d["rise_K"])))
    grids = np.array([flow, fraction, d["cooling_water_grid"]], dtype=float)

    for hour, room in enumerate(year.room_temperature_K.tolist()):
        asked = year.demand[hour]
        sun = year.effective_irradiance[:, hour].max() > 0.0
        parts = (2 * steps if asked else steps) if sun else 1
        warm_up_left = _warm_up(d, room) / capacity if asked and year.day[hour] != day_before else 0.0
        if asked and year.day[hour] != day_before:
            banked = hours_so_far = 0.0
        day_before = year.day[hour] if asked else day_before
        lacking = (hours_of_day[year.day[hour]] - banked) / bank if bank < np.inf else np.inf
        dumped = 0.0
        if asked and not sun:
            leak = d["UA_W_per_K"] * HOUR / capacity
            share, heat_drawn, seconds, water = _hour_down(d, flow, fraction, T, warm_up_left, room, lacking)
            T -= heat_drawn / capacity
            fall = min(1.0, leak) * (T + 0.5 * heat_drawn / capacity * seconds / HOUR - room)
            T -= fall
            lost = fall * capacity
        else:
            sunshine, air = (
                year.effective_irradiance[d["collector_kind"], hour],
                year.air_temperature_K[hour],
            )
            around = bool(asked), bool(sun), float(sunshine), float(air), room
            T, *booked = _hour_in_parts(
                T, parts, around, field, store, grids, most, float(warm_up_left), float(lacking)
            )
            share, heat_drawn, dumped, collected, lost, water = booked
            books.collected += collected
        books.lost += lost
        books.water += water
        if asked and bank < np.inf:
            banked += share * bank
            hours_so_far += 1.0
            books.bank(share * bank, heat_drawn, banked < hours_so_far * (1.0 - 1e-9))
        elif asked:
            books.serve(share, heat_drawn)
        books.dump(dumped)
    step = (top - floor) / (size - 1)
    hours_full = sum(0.5 * capacity * step * (1 / a + 1 / b) for a, b in pairwise(flow))
    given = [p / q for p, q in zip(fraction, flow, strict=True)]
    bridged = sum(0.5 * capacity * step * (a + b) for a, b in pairwise(given)) * (
        bank if bank < np.inf else 1.0
    )
    return _result(year, d, books, capacity * (T - d["start_temperature_K"]), hours_full, bridged)


@compiled
def _at(grid, temperature, floor, top):
    size = len(grid)
    place = min(size - 1.0, max(0.0, (temperature - floor) / (top - floor) * (size - 1)))
    cell = min(int(place), size - 2)
    return grid[cell] + (place - cell) * (grid[cell + 1] - grid[cell])


@compiled
def _hour_in_parts(T, parts, hour, field, store, grids, most, warm_up_left, lacking):
    """Go through an hour in equal parts: where it ends [K], share given, heat drawn, dumped, collected, lost [J], water.

    ``lacking`` is what a bank still takes [P x hours].
    """
    asked, sun, sunshine, air, room = hour
    capacity, UA, floor, top, roof, rise = store
    flow, fraction, cooling = grids[0], grids[1], grids[2]
    step = (top - floor) / (len(flow) - 1)
    share = heat_drawn = dumped = collected = lost = water = 0.0
    for _ in range(parts):
        begun, seen = T, T + rise
        if not asked:
            seen += min(top - T, 0.5 * _gain(sunshine, seen - air, field) / parts / capacity)
        heat = _gain(sunshine, seen - air, field) / parts
        collected += heat
        T += heat / capacity
        losing = T if asked else T - 0.5 * heat / capacity
        loss = min(1.0, UA * HOUR / capacity) * (losing - room) / parts
        T -= loss
        lost += loss * capacity
        if asked:
            if sun:
                dumped += max(0.0, T - roof) * capacity
                T = min(T, roof)
            available = max(0.0, T - floor)
            warm_up = min(available, warm_up_left)
            warm_up_left -= warm_up
            came = min(T - begun, available - warm_up)
            T -= warm_up
            high = T - 0.5 * came  # half of what came is there, half of what is drawn gone
            low = max(floor, high - 0.5 * (available - warm_up))
            per, target = capacity * parts, T - 0.5 * came
            # Where the flow falls steeply there may be several middles: the greatest counts, sought place by place.
            below = high
            while below > low and below + 0.5 * _at(flow, below, floor, top) / per >= target:
                high, below = (
                    below,
                    max(low, floor + step * (math.ceil((below - floor) / step - 1e-9) - 1)),
                )
            if below + 0.5 * _at(flow, below, floor, top) / per < target:
                low = below
                for _ in range(52):
                    middle = 0.5 * (low + high)
                    if middle + 0.5 * _at(flow, middle, floor, top) / per > target:
                        high = middle
                    else:
                        low = middle
            running = min(1.0, (available - warm_up) / (_at(flow, low, floor, top) / per))
            taken = running * _at(flow, low, floor, top) / per
            given = running * min(most, max(0.0, _at(fraction, low, floor, top))) / parts
            if lacking < math.inf:
                left = max(0.0, lacking - share)
                taken *= min(1.0, left / given) if given > 0.0 else 1.0
                given = min(given, left)
            T -= taken
            water += taken * capacity * _at(cooling, low, floor, top)
            share += given
            heat_drawn += (taken + warm_up) * capacity
        if sun:
            dumped += max(0.0, T - top) * capacity
            T = min(T, top)
    return T, share, heat_drawn, dumped, collected, lost, water


def _hour_down(d, flow, fraction, T, warm_up, room, lacking):
    """Draw for an hour without sun: share given, heat [J] with the warm-up [K], seconds run, water [m3].

    Cell by cell of the grid, in each of which seconds, work and water go evenly over the mean of its ends.
    """
    capacity, floor, size = d["capacity_J_per_K"], d["floor_temperature_K"], len(flow)
    step = (d["top_temperature_K"] - floor) / (size - 1)

    def cell(k):
        """Seconds, work [P x seconds] and water [m3] of the cell above place ``k``."""
        ends = [
            (HOUR / flow[j], HOUR * fraction[j] / flow[j], d["cooling_water_grid"][j]) for j in (k, k + 1)
        ]
        return [0.5 * capacity * step * (a + b) for a, b in zip(*ends, strict=True)]

    def down(begin, end, seconds, work):
        """Go from one temperature to another, or until seconds or work are over: where, and what that took."""
        took = [0.0, 0.0, 0.0]
        while begin > end:
            k = min(size - 2, max(0, math.ceil((begin - floor) / step - 1e-9) - 1))
            low, whole = max(end, floor + k * step), cell(k)
            span = (begin - low) / step
            reach = [
                (x - y) / z if z > 0.0 else np.inf
                for x, y, z in zip((seconds, work), took, whole, strict=False)
            ]
            part = max(0.0, min(span, *reach))
            took = [x + part * y for x, y in zip(took, whole, strict=True)]
            if part < span:
                return begin - part * step, took
            begin = low
        return begin, took

    warm_up = min(warm_up, max(0.0, T - floor))
    usable = max(0.0, T - floor) - warm_up
    _, (to_floor, *_) = down(min(floor + usable, d["top_temperature_K"]), floor, np.inf, np.inf)
    leak = min(1.0, d["UA_W_per_K"] * HOUR / capacity) * max(0.0, T - room) * min(1.0, to_floor / HOUR)
    least = 0.5 * min(leak, usable)
    begin = min(floor + usable - least, d["top_temperature_K"])
    end, (seconds, work, water) = down(begin, floor + least, HOUR, max(0.0, lacking) * HOUR)
    return work / HOUR, (begin - end + warm_up) * capacity, seconds, water


def _steps(year, d, draw):
    """Steps of an hour; ``draw`` is the greatest of an hour [K]."""
    capacity, top, floor, start = (
        d[name]
        for name in ("capacity_J_per_K", "top_temperature_K", "floor_temperature_K", "start_temperature_K")
    )
    sun = max(year.effective_irradiance[d["collector_kind"]].tolist())
    x = max(0.0, start + d["rise_K"] - year.air_temperature_K.max())
    flux = d["eta0"] * sun - d["a1"] * x - d["a2"] * x * x
    gain = flux * d["area_m2"] * (1.0 - d["pipe_loss"]) * HOUR / capacity
    loss = d["UA_W_per_K"] * HOUR / capacity * (top - year.room_temperature_K.min())
    move = max(min(gain, top - start + draw), min(draw, top - floor + gain) + min(loss, top - floor))
    steps = 1
    while steps < 32 and move > 3.0 * steps:
        steps *= 2
    return steps


FIELD = ("eta0", "a1", "a2", "area_m2", "pipe_loss")


def _collected(year, d, hour, mean_T):
    """Heat of one hour that reaches the store [J]."""
    sunshine, x = year.effective_irradiance[d["collector_kind"], hour], mean_T - year.air_temperature_K[hour]
    return _gain(float(sunshine), float(x), tuple(float(d[name]) for name in FIELD))


@compiled
def _gain(sunshine, x, field):
    """Heat of one hour [J] at ``sunshine`` [W/m2] and the collectors ``x`` [K] above the air."""
    if sunshine <= 0.0:
        return 0.0
    eta0, a1, a2, area, pipe_loss = field
    flux = max(0.0, eta0 * sunshine - a1 * x - a2 * x * x)
    return flux * area * (1.0 - pipe_loss) * HOUR


def _into_store(hot, kg, heat, per_kg):
    """Heat cold water with ``heat`` [J]; what a full store cannot take is handed back."""
    hot += heat / per_kg
    return (kg, (hot - kg) * per_kg) if hot > kg else (hot, 0.0)


def _warm_up(d, room):
    return d["warm_up_J_per_K"] * max(0.0, d["evaporating_temperature_K"] - room)


def _result(year, d, books, change, hours_full, bridged):
    shaft = books.served * d["power_W"] * HOUR
    return {
        "served_share": books.served / np.count_nonzero(year.demand),
        "shaft_energy_kWh": shaft / 3.6e6,
        "longest_unserved_hours": books.longest,
        "autonomy_hours": hours_full,
        "bridged_hours": bridged,
        "stagnation_hours": books.stagnation,
        "collector_yield_kWh": (books.collected - books.dumped) / 3.6e6,
        "sun_to_shaft_efficiency": shaft / (d["area_m2"] * year.plane_irradiance.sum() * HOUR),
        "cooling_water_L": books.water * 1000.0,
        "collected_J": books.collected,
        "drawn_J": books.drawn,
        "lost_J": books.lost,
        "dumped_J": books.dumped,
        "stored_change_J": change,
    }
