"""The two kinds of store, marched hour by hour: one chunk of designs each, operations in place.

Both take ``pass_hour``: collector heat, standing loss, the engine's draw, and what no longer fits is dumped;
``surround`` sets the temperature of the air around them. An hour that can move a fully mixed store by more than a few
kelvin is taken in several equal steps.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from explore.units import J_PER_KWH, L_PER_M3, SECONDS_PER_HOUR
from explore.year.series import Year

Array = NDArray[np.float64]
Columns = dict[str, Array]

FULLY_SERVED = 1.0 - 1e-9
"""What rounding leaves a billionth short is a served hour."""
LEAST_COLD = 1e-300
"""Keeps 0/0 from a store that is hot throughout and of which nothing is drawn: no cold water, nothing to mix."""
LEAST_EFFICIENCY = 1e-6
"""Below a millionth the net work is the rounding of its zero, and the heat drawn for it has no bound."""
NEWTON_STEPS = 7
"""On random designs three steps leave 1e-4 of the share served, five nothing but rounding; two are in reserve."""
LEAST_SLOPE = 0.005
"""Holds a step off infinity where the flow falls as fast as the place rises. 0.0005 to 0.05 give the same; 0.2 slows."""
LARGEST_STEP_K = 3.0
"""By this a step may move a fully mixed store: over it flow and efficiency of an engine change by a few per cent, and
those of its middle stand for the whole."""
DOUBLINGS = 4
"""Of the steps of an hour: sixteen are enough for the forty to fifty kelvin that lie at most between the floor and T_top,
and a sun that would boil the store several times an hour is dumped. A division by a power of two is exact."""
STEP_COUNTS = 2.0 ** np.arange(DOUBLINGS + 1)
STEP_BOUNDS_K = LARGEST_STEP_K * STEP_COUNTS[:-1]


class Tally:
    """What both kinds of store count, one chunk of designs; heat in units of the store's own.

    ``heat_unit`` [J] turns them into joule.
    """

    def __init__(self, d: Columns, heat_unit: Array) -> None:
        n = len(heat_unit)
        self.kind = d["kind"].astype(np.intp)
        self.heat_unit, self.area, self.power = heat_unit, d["area"], d["power"]
        per_hour = SECONDS_PER_HOUR * d["gain"] / heat_unit
        self.gain, self.a1, self.a2 = per_hour * d["eta0"], per_hour * d["a1"], per_hour * d["a2"]
        self.zero, self.one, self.nearly = np.zeros(n), np.ones(n), np.full(n, FULLY_SERVED)
        self.x, self.t, self.over = np.empty(n), np.empty(n), np.empty(n)
        self.flag = np.empty(n, dtype=np.bool_)
        self.collected, self.lost, self.dumped, self.drawn = (np.zeros(n) for _ in range(4))
        self.served, self.unserved, self.longest = (np.zeros(n) for _ in range(3))
        self.stagnation = np.zeros(n, dtype=np.int64)

    def heat_collected(self, gain: Array, hours: Array | None = None) -> Array:
        """Heat of ``hours`` (n,), or one, from ``gain`` and the rise above the air in ``self.x`` (ISO 9806)."""
        x, t = self.x, self.t
        np.multiply(self.a2, x, t)
        np.add(t, self.a1, t)
        np.multiply(t, x, t)
        np.subtract(gain, t, gain)
        np.maximum(gain, self.zero, out=gain)
        if hours is not None:
            gain *= hours
        np.add(self.collected, gain, self.collected)
        return gain

    def count_dumped(self, heat: Array) -> None:
        """Book the heat of one hour that found no room."""
        np.add(self.dumped, heat, self.dumped)
        np.greater(heat, self.zero, self.flag)
        np.add(self.stagnation, self.flag, self.stagnation)

    def serve(self, share: Array, heat: Array) -> None:
        """Book a demand hour: share of it served, heat drawn."""
        np.add(self.served, share, self.served)
        np.add(self.drawn, heat, self.drawn)
        np.subtract(self.one, share, self.t)
        np.add(self.unserved, self.t, self.unserved)
        np.less(share, self.nearly, self.flag)
        np.multiply(self.unserved, self.flag, self.unserved)
        np.maximum(self.longest, self.unserved, out=self.longest)

    def figures(
        self, year: Year, autonomy_hours: Array, cooling_water_m3: Array, stored_change: Array
    ) -> Columns:
        """All figures of :class:`SeasonResult`."""
        asked = max(int(np.count_nonzero(year.demand)), 1)
        shaft = self.served * self.power * SECONDS_PER_HOUR
        sunshine = self.area * np.sum(year.plane_irradiance) * SECONDS_PER_HOUR
        return {
            "served_share": self.served / asked,
            "shaft_energy_kWh": shaft / J_PER_KWH,
            "longest_unserved_hours": self.longest,
            "autonomy_hours": autonomy_hours,
            "stagnation_hours": self.stagnation.astype(np.float64),
            "collector_yield_kWh": (self.collected - self.dumped) * self.heat_unit / J_PER_KWH,
            "sun_to_shaft_efficiency": np.divide(
                shaft, sunshine, out=np.zeros_like(shaft), where=sunshine > 0.0
            ),
            "cooling_water_L": cooling_water_m3 * L_PER_M3,
            "collected_J": self.collected * self.heat_unit,
            "drawn_J": self.drawn * self.heat_unit,
            "lost_J": self.lost * self.heat_unit,
            "dumped_J": self.dumped * self.heat_unit,
            "stored_change_J": stored_change * self.heat_unit,
        }


class StratifiedStore(Tally):
    """A hot layer at T_top, share f of the mass, above a cold one.

    The cold layer is carried as half its distance below T_top, h = (T_top - T_cold)/2 [K], heat in units of
    2 m c: turning a share df from cold to hot takes h df of them.
    """

    def __init__(self, d: Columns, year: Year) -> None:
        self.half_drop = 0.5 * (d["top"] - d["back"])
        capacity = d["mass"] * d["heat"] / (d["top"] - d["back"])
        super().__init__(d, 2.0 * capacity)
        self.top, self.heat_loss = d["top"], d["UA"] * SECONDS_PER_HOUR
        self.need = d["power"] * SECONDS_PER_HOUR / (d["work"] * d["mass"])
        self.warm_up = d["warm_up"] / (d["heat"] * d["mass"])
        self.evaporating, self.cooling = d["evaporating"], d["cooling"]
        self.fall = np.minimum(d["UA"] * SECONDS_PER_HOUR / (d["mass"] * d["loss_capacity"]), 1.0)
        self.least_half = np.minimum(
            self.half_drop, 0.5 * (d["top"] - float(np.max(year.room_temperature_K)))
        )
        self.hot, self.half = np.zeros_like(self.top), self.half_drop.copy()
        self.spare = np.zeros_like(self.top)

    def pass_hour(self, gain: Array | None, air: Array, *, demand: bool, warming: bool) -> None:
        """March one hour; ``gain`` is what the collectors take in at no loss, absent without sun."""
        if gain is not None:
            self.collect(gain, air)
        self.lose()
        if demand:
            self.draw(warming=warming)
        if gain is not None:
            self.dump()

    def surround(self, room: float) -> None:
        """Set the air temperature [K] around the store."""
        above = self.top - room
        # Less than one hour's content, so that the hot layer never becomes negative.
        self.hot_loss = np.minimum(self.heat_loss * above / self.heat_unit, self.least_half)
        self.cold_pull = self.fall * 0.5 * above
        self.warming = np.maximum(self.warm_up * (self.evaporating - room), 0.0)

    def collect(self, gain: Array, air: Array) -> None:
        """Turn cold water hot; heat that a full store cannot take stays spare for the hour."""
        f, half, over = self.hot, self.half, self.over
        np.subtract(self.top, half, self.x)
        np.subtract(self.x, air, self.x)
        heat = self.heat_collected(gain)
        np.divide(heat, half, heat)
        np.add(f, heat, f)
        np.subtract(f, self.one, over)
        np.maximum(over, self.zero, out=over)
        np.subtract(f, over, f)
        np.multiply(over, half, self.spare)

    def lose(self) -> None:
        """Standing loss: hot water turns cold, cold water cools."""
        f, half, t, x = self.hot, self.half, self.t, self.x
        np.multiply(f, self.hot_loss, t)
        np.add(self.lost, t, self.lost)
        np.divide(t, half, t)
        np.subtract(f, t, f)
        np.multiply(half, self.fall, x)
        np.subtract(self.cold_pull, x, x)
        np.add(half, x, half)
        np.subtract(self.one, f, t)
        np.multiply(t, x, t)
        np.add(self.lost, t, self.lost)

    def draw(self, *, warming: bool) -> None:
        """Take hot water for the engine; it returns at T_out and mixes into the cold layer."""
        f, half, over = self.hot, self.half, self.over
        self._refill()
        cold = 1.0 - f
        available = f + over * half / self.half_drop  # spare heat works on water at T_out: the store is full
        warm_up = self.warming if warming else self.zero
        taken = np.minimum(available, self.need + warm_up)
        np.subtract(available, taken, f)
        half -= self.half_drop
        half *= cold / np.maximum(1.0 - f, LEAST_COLD)
        half += self.half_drop
        np.subtract(f, self.one, over)
        np.maximum(over, self.zero, out=over)
        np.subtract(f, over, f)
        np.multiply(over, half, self.spare)
        share = np.minimum(np.maximum(taken - warm_up, 0.0) / self.need, 1.0)
        self.serve(share, taken * self.half_drop)

    def _refill(self) -> None:
        """Give spare heat to the store; what it cannot take is left in ``over``, as a share of its mass."""
        f, over = self.hot, self.over
        np.divide(self.spare, self.half, self.t)
        np.add(f, self.t, f)
        np.subtract(f, self.one, over)
        np.maximum(over, self.zero, out=over)
        np.subtract(f, over, f)
        self.spare.fill(0.0)

    def dump(self) -> None:
        """Throw away the heat that found no room in the hour."""
        self._refill()
        np.multiply(self.over, self.half, self.over)
        self.count_dumped(self.over)

    def results(self, year: Year) -> Columns:
        """All figures of the year."""
        stored = self.half_drop - (1.0 - self.hot) * self.half
        water = self.served * self.power * SECONDS_PER_HOUR * self.cooling
        return self.figures(year, 1.0 / self.need, water, stored)


class MixedStore(Tally):
    """One temperature T [K]; heat in units of the store's capacity, that is in kelvin.

    It takes an hour in as many equal steps as keep each below ``LARGEST_STEP_K``, 16 at most. Within a step
    of a demand hour it may pass T_top by ``headroom``, from which the draw of the same step takes first; the rest is
    dumped before the step ends.
    """

    def __init__(self, d: Columns, year: Year) -> None:
        super().__init__(d, d["capacity"])
        n, size = d["efficiency"].shape
        self.top, self.floor, self.rise, self.start = d["top"], d["floor"], d["rise"], d["start"]
        self.roof = d["top"] + np.maximum(d["headroom"], 0.0)
        self.temperature = self.start.copy()
        self.step = (self.top - self.floor) / (size - 1)
        self.loss = np.minimum(d["UA"] * SECONDS_PER_HOUR / d["capacity"], 1.0)
        self.warm_up, self.evaporating = d["warm_up"] / d["capacity"], d["evaporating"]
        self.most = d["most"]
        fraction = np.clip(d["fraction"], 0.0, self.most[:, None])
        work = d["power"] * SECONDS_PER_HOUR / (d["capacity"] * self.step)
        flow = _grid_flow(d["efficiency"], fraction, work)
        self.greatest = np.max(flow, axis=1) * self.step
        self.flow, self.fraction, self.cooling = flow.ravel(), fraction.ravel(), d["cooling"].ravel()
        self.water = np.zeros(n)
        self.first_place, self.last_cell = np.arange(n, dtype=np.float64) * size, np.full(n, size - 2.0)
        self.last_place = np.full(n, size - 1.0)
        self.index, self.index_above = np.empty(n, dtype=np.intp), np.empty(n, dtype=np.intp)
        self.least_slope = np.full(n, LEAST_SLOPE)
        self.spilled, self.gained = np.zeros(n), np.empty(n)
        self.steps, self.part = np.ones(n), np.ones(n)
        self.left, self.share, self.heat = np.zeros(n), np.zeros(n), np.zeros(n)
        self.bank = np.full(n, np.inf)

    def pass_hour(self, gain: Array | None, air: Array, *, demand: bool, warming: bool) -> None:
        """March one hour; ``gain`` is what the collectors take in at no loss, absent without sun."""
        self._cut(gain, air, demand=demand)
        self.spilled.fill(0.0)
        self.left = self.warming.copy() if warming else self.zero
        self.share, self.heat = np.zeros_like(self.zero), np.zeros_like(self.zero)
        for step in range(int(np.max(self.steps))):
            runs = self.steps > step
            hours = np.where(runs, self.part, 0.0)
            if gain is not None:
                if step:
                    self._spill(self.top)
                np.copyto(self.gained, gain)
                self.collect(self.gained, air, hours)
            self.lose(hours)
            if demand:
                if gain is not None:
                    self._spill(self.roof)
                self.draw(runs, warming=warming)
        if gain is not None:
            self._spill(self.top)
            self.count_dumped(self.spilled)
        if demand:
            self.serve(self.share * self.part, self.heat)

    def _cut(self, gain: Array | None, air: Array, *, demand: bool) -> None:
        """Set the steps of an hour from what it can bring, and what can be drawn of that or is dumped."""
        if gain is None and not demand:
            self.steps, self.part = self.one, self.one
            return
        heat = self.zero
        if gain is not None:
            x = self.temperature + self.rise - air
            heat = np.maximum(gain - (self.a2 * x + self.a1) * x, self.zero)
        if demand:
            move = np.maximum(np.minimum(self.temperature + heat - self.floor, self.greatest), heat)
        else:
            move = np.minimum(heat, self.top - self.temperature)
        self.steps = STEP_COUNTS[np.searchsorted(STEP_BOUNDS_K, move)]
        self.part = 1.0 / self.steps

    def surround(self, room: float) -> None:
        """Set the air temperature [K] around the store."""
        self.pull = self.loss * room
        self.warming = np.maximum(self.warm_up * (self.evaporating - room), 0.0)

    def collect(self, gain: Array, air: Array, hours: Array) -> None:
        """Warm the store; it may pass T_top until heat is dumped."""
        np.add(self.temperature, self.rise, self.x)
        np.subtract(self.x, air, self.x)
        np.add(self.temperature, self.heat_collected(gain, hours), self.temperature)

    def lose(self, hours: Array) -> None:
        """Standing loss."""
        np.multiply(self.temperature, self.loss, self.t)
        np.subtract(self.t, self.pull, self.t)
        self.t *= hours
        np.subtract(self.temperature, self.t, self.temperature)
        np.add(self.lost, self.t, self.lost)

    def draw(self, runs: NDArray[np.bool_], *, warming: bool) -> None:
        """Take heat for the engines that run, at the flow, power and cooling of the middle of what each takes."""
        available = np.maximum(self.temperature - self.floor, 0.0) * runs
        warm_up = np.minimum(self.left, available) if warming else self.zero
        z = (available - warm_up) / self.step
        weight = self._locate(self._middle(z))
        flow, fraction, cooling = (
            low + weight * slope for low, slope in map(self._cell, (self.flow, self.fraction, self.cooling))
        )
        flow *= self.part
        taken = np.minimum(flow, z)
        np.maximum(np.minimum(fraction, self.most, out=fraction), self.zero, out=fraction)
        given, taken = self.wanted(fraction * (taken / flow), taken)
        self.share += given
        heat = taken * self.step
        self.water += heat * cooling
        heat += warm_up
        self.temperature -= heat
        self.heat += heat
        if warming:
            self.left -= warm_up

    def wanted(self, given: Array, taken: Array) -> tuple[Array, Array]:
        """What the load takes of the work given in a step, over P times the step, and of the heat taken for it."""
        return given, taken

    def _middle(self, z: Array) -> Array:
        """Grid place of the middle of the heat drawn in a step from place ``z``.

        Solves m = z - flow(m)/2 by Newton's steps, held between z and z/2, where all that is left is drawn.
        A fixed number of steps, enough for rounding, so that a design does not depend on its batch.
        """
        lower = 0.5 * z
        weight = self._locate(lower)
        flow, slope = self._cell(self.flow)
        half = 0.5 * self.part
        middle = np.maximum(lower, z - half * (flow + weight * slope), out=weight)
        for _ in range(NEWTON_STEPS):
            weight = self._locate(middle)
            flow, slope = self._cell(self.flow)
            flow += weight * slope
            flow *= half
            flow += middle
            flow -= z
            slope *= half
            slope += 1.0
            flow /= np.maximum(slope, self.least_slope, out=slope)
            middle -= flow
            np.maximum(middle, lower, out=middle)
            np.minimum(middle, z, out=middle)
        return middle

    def _locate(self, place: Array) -> Array:
        """Find the cell of each grid place, for ``_cell``; return how far into the cell it lies.

        A place beyond the end of the grid is that end.
        """
        held = np.minimum(place, self.last_place)
        cell = np.trunc(held)
        np.minimum(cell, self.last_cell, out=cell)
        weight = np.subtract(held, cell, out=held)
        cell += self.first_place
        np.copyto(self.index, cell, casting="unsafe")
        np.add(self.index, 1, self.index_above)
        return np.asarray(weight)

    def _cell(self, table: Array) -> tuple[Array, Array]:
        """Value at the foot of the located cells of a flattened grid, and the rise across them."""
        low = table.take(self.index, mode="wrap")
        rise = table.take(self.index_above, mode="wrap")
        rise -= low
        return low, rise

    def _spill(self, limit: Array) -> None:
        """Throw away the heat above ``limit`` [K]."""
        np.subtract(self.temperature, limit, self.over)
        np.maximum(self.over, self.zero, out=self.over)
        np.subtract(self.temperature, self.over, self.temperature)
        np.add(self.spilled, self.over, self.spilled)

    def results(self, year: Year) -> Columns:
        """All figures of the year."""
        hours = 1.0 / self.flow.reshape(len(self.top), -1)
        autonomy = np.sum(0.5 * (hours[:, 1:] + hours[:, :-1]), axis=1)
        return self.figures(year, autonomy, self.water * self.heat_unit, self.temperature - self.start)


class BankedStore(MixedStore):
    """A fully mixed store whose engine runs free into a bank: the demand of a calendar day is one sum.

    The engine runs in the demand hours at the power it has, until the sum is delivered; work counts times the bank's
    efficiency. A demand hour is unserved, and counts whole, while the sum lags P x hours so far. Nothing is
    carried over to the next day.
    """

    def __init__(self, d: Columns, year: Year) -> None:
        super().__init__(d, year)
        self.bank = d["bank"]
        self.days = iter(demand_hours_by_day(year))
        self.hours_so_far = 0
        self.sum, self.asked = np.zeros_like(self.bank), np.zeros_like(self.bank)

    def pass_hour(self, gain: Array | None, air: Array, *, demand: bool, warming: bool) -> None:
        """March one hour; the first demand hour of a day, in which the engine warms up, opens a new sum."""
        if warming:
            self.hours_so_far = 0
            self.sum = np.zeros_like(self.bank)
            self.asked = next(self.days) / self.bank
        super().pass_hour(gain, air, demand=demand, warming=warming)

    def wanted(self, given: Array, taken: Array) -> tuple[Array, Array]:
        """Hold work and heat of a step to what the day's sum still lacks."""
        lacking = np.maximum((self.asked - self.sum) * self.steps - self.share, 0.0)
        held = np.minimum(given, lacking)
        part = np.divide(held, given, out=np.ones_like(given), where=given > 0.0)
        return held, taken * part

    def serve(self, share: Array, heat: Array) -> None:
        """Book a demand hour: work into the bank over P times the hour, heat drawn."""
        self.hours_so_far += 1
        self.sum = self.sum + share
        self.served += share * self.bank
        self.drawn += heat
        lags = self.sum * self.bank < self.hours_so_far * FULLY_SERVED
        self.unserved = np.where(lags, self.unserved + 1.0, 0.0)
        np.maximum(self.longest, self.unserved, out=self.longest)


def demand_hours_by_day(year: Year) -> list[int]:
    """Demand hours of every day that has some, in their order."""
    days = year.day[np.flatnonzero(year.demand)]
    starts = np.flatnonzero(np.diff(days, prepend=-1) != 0)
    return np.diff(starts, append=len(days)).tolist()


def _grid_flow(efficiency: Array, fraction: Array, work: Array) -> Array:
    """Grid places that the engine draws in an hour at each grid place, (n, K); always positive.

    ``work`` is the work asked for in an hour, in heat of one place. At the zero of net work power and
    efficiency vanish together; the next place's flow serves there.
    """
    runs = (efficiency > LEAST_EFFICIENCY) & (fraction > 0.0)
    flow = np.where(runs, work[:, None] * fraction / np.where(runs, efficiency, 1.0), 0.0)
    for k in range(flow.shape[1] - 2, -1, -1):
        flow[:, k] = np.where(runs[:, k], flow[:, k], flow[:, k + 1])
    return flow
