"""A fully mixed store, marched hour by hour.

One that an hour can move by more than a few kelvin takes hours of sun in several equal steps. An hour of demand without
sun needs none: how far the store falls is looked up.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from explore.units import SECONDS_PER_HOUR
from explore.year.discharge import Discharge
from explore.year.series import Year, demand_hours_by_day
from explore.year.tally import FULLY_SERVED, Array, Columns, Tally

LEAST_EFFICIENCY = 1e-6
"""Below a millionth the net work is the rounding of its zero, and the heat drawn for it has no bound."""
NEWTON_STEPS = 7
"""On random designs three steps leave 1e-4 of the share served, five nothing but rounding; two are in reserve."""
LEAST_SLOPE = 0.005
"""Holds a step off infinity where the flow falls as fast as the place rises. 0.0005 to 0.05 give the same; 0.2 slows."""
STEP_COUNTS = (1, 2, 4, 8, 16, 32)
"""Steps that a fully mixed store takes in an hour of sun: few counts, so that a batch falls into few chunks. Thirty-two do
for an engine that empties its store of forty kelvin in less than half an hour."""
FINER = 2
"""Times as many if power is asked for in that hour: a step then goes through the bends of flow and power."""
LARGEST_STEP_K = 3.0
"""One step may move the store so far, over which collector, flow and efficiency stand for the whole. Against hours cut into
steps of 0.05 K the share served of random designs is then off by a ten-thousandth (median; 99 in 100: 0.2 %)."""


class MixedStore(Tally):
    """One temperature T [K]; heat in units of the store's capacity, that is in kelvin.

    It takes an hour of sun in ``steps`` equal steps, in twice as many if the engine draws as well. In a step without
    demand collectors and loss see the store of the middle of its warming, T_top at most; where the engine draws too
    the two nearly cancel, and the collectors see that of its start. Within a step it may pass T_top by ``headroom``, from
    which the draw of the same step takes first; the rest is dumped before the step ends.
    """

    def __init__(self, d: Columns, year: Year, steps: int = 1) -> None:
        super().__init__(d, d["capacity"])
        n, size = d["efficiency"].shape
        self.steps, self.finer = steps, FINER * steps
        self.top, self.floor, self.rise, self.start = d["top"], d["floor"], d["rise"], d["start"]
        self.roof = d["top"] + np.maximum(d["headroom"], 0.0)
        self.temperature = self.start.copy()
        self.step = (self.top - self.floor) / (size - 1)
        self.loss = np.minimum(d["UA"] * SECONDS_PER_HOUR / d["capacity"], 1.0)
        self.warm_up, self.evaporating = d["warm_up"] / d["capacity"], d["evaporating"]
        self.most = d["most"]
        fraction = np.clip(d["fraction"], 0.0, self.most[:, None])
        self.flow = grid_flow(
            d["efficiency"], fraction, d["power"] * SECONDS_PER_HOUR / (d["capacity"] * self.step)
        )
        self.discharge = Discharge(self.flow.reshape(n, size), fraction, d["cooling"])
        self.flow /= self.finer
        self.fraction, self.cooling = fraction.ravel(), d["cooling"].ravel()
        self.water = np.zeros(n)
        self.first_place, self.last_cell = np.arange(n, dtype=np.float64) * size, np.full(n, size - 2.0)
        self.last_place = np.full(n, size - 1.0)
        self.index, self.index_above = np.empty(n, dtype=np.intp), np.empty(n, dtype=np.intp)
        self.least_slope = np.full(n, LEAST_SLOPE)
        self.spilled, self.gained, self.begun = np.zeros(n), np.empty(n), np.empty(n)
        self.left, self.share, self.heat = np.zeros(n), np.zeros(n), np.zeros(n)
        self.bank = np.full(n, np.inf)
        self.alone = True

    @property
    def level(self) -> Array:
        """Temperature of the store [K]."""
        return self.temperature

    def pass_hour(self, gain: Array | None, air: Array, *, demand: bool, warming: bool) -> None:
        """March one hour; ``gain`` is what the collectors take in at no loss, absent without sun."""
        if gain is not None:
            self.spilled.fill(0.0)
        self.alone = not demand
        if demand:
            self.left = self.warming.copy() if warming else self.zero
            share, heat = self._draw_down() if gain is None else self._serve_hour(gain, air, warming=warming)
            self.serve(share, heat)
        else:
            self._stand_hour(gain, air)
        if gain is not None:
            self._spill(self.top)
            self.count_dumped(self.spilled)

    def _stand_hour(self, gain: Array | None, air: Array) -> None:
        """An hour without demand; one without sun needs no steps, for standing loss moves no store by kelvins."""
        if gain is None:
            self.lose(1.0)
            return
        for step in range(self.steps):
            if step:
                self._spill(self.top)
            self._gain_and_lose(gain, air, 1.0 / self.steps)

    def _serve_hour(self, gain: Array, air: Array, *, warming: bool) -> tuple[Array, Array]:
        """A demand hour with sun, step by step; the share of it served and the heat drawn."""
        self.share, self.heat = np.zeros_like(self.zero), np.zeros_like(self.zero)
        for step in range(self.finer):
            if step:
                self._spill(self.top)
            np.copyto(self.begun, self.temperature)
            self._gain_and_lose(gain, air, 1.0 / self.finer)
            self._spill(self.roof)
            self.draw(warming=warming)
        self.share /= self.finer
        return self.share, self.heat

    def _draw_down(self) -> tuple[Array, Array]:
        """A demand hour without sun; the share of it served and the heat drawn.

        Half of what is lost while the engine runs goes before the engine draws and half after, which the engine leaves.
        All that is lost in the hour is that of the store's mean temperature. What lies above T_top is not drawn.
        """
        d, lost = self.discharge, self.temperature * self.loss - self.pull
        available = np.maximum(self.temperature - self.floor, 0.0)
        warm_up = np.minimum(self.left, available)
        z = (available - warm_up) / self.step
        running = np.minimum(d.at(d.hours, np.minimum(z, self.last_place)), 1.0)
        least = np.minimum(0.5 * (np.maximum(lost, 0.0) * running) / self.step, 0.5 * z)
        start = np.minimum(z - least, self.last_place)
        hours, work = d.at(d.hours, start), d.at(d.work, start)
        end = np.minimum(np.maximum(d.place(d.hours, np.maximum(hours - 1.0, 0.0)), least), start)
        end, left = self.stopped(end, d.at(d.work, end), work)
        ran = hours - d.at(d.hours, end)
        heat = (start - end) * self.step
        self.water += (d.at(d.water, start) - d.at(d.water, end)) * self.step
        heat += warm_up
        self.temperature -= heat
        lost = (self.temperature + 0.5 * ran * heat) * self.loss - self.pull
        self.temperature -= lost
        self.lost += lost
        return np.minimum(work - left, self.most), heat

    def stopped(self, end: Array, left: Array, work: Array) -> tuple[Array, Array]:
        """Place at which the engine stops in a sunless hour and the work left there, from a store holding ``work``."""
        return end, left

    def _gain_and_lose(self, gain: Array, air: Array, hours: float) -> None:
        """Collector heat and standing loss of ``hours``."""
        if hours != 1.0:
            np.copyto(self.gained, gain)
            gain = self.gained
        self.collect(gain, air, hours)
        self.lose(hours, gain if self.alone else None)

    def surround(self, room: float) -> None:
        """Set the air temperature [K] around the store."""
        self.pull = self.loss * room
        self.warming = np.maximum(self.warm_up * (self.evaporating - room), 0.0)

    def collect(self, gain: Array, air: Array, hours: float) -> None:
        """Warm the store; it may pass T_top until heat is dumped."""
        np.add(self.temperature, self.rise, self.x)
        np.subtract(self.x, air, self.x)
        if self.alone:
            np.multiply(self.a2, self.x, self.t)
            np.add(self.t, self.a1, self.t)
            np.multiply(self.t, self.x, self.t)
            np.subtract(gain, self.t, self.t)
            np.maximum(self.t, self.zero, out=self.t)
            self.t *= 0.5 * hours
            np.subtract(self.top, self.temperature, self.over)
            np.minimum(self.t, self.over, out=self.t)
            np.add(self.x, self.t, self.x)
        np.add(self.temperature, self.heat_collected(gain, hours), self.temperature)

    def lose(self, hours: float, came: Array | None = None) -> None:
        """Standing loss, of the store as it is or when half of what ``came`` had come."""
        if came is None:
            np.multiply(self.temperature, self.loss, self.t)
        else:
            np.multiply(came, 0.5, self.t)
            np.subtract(self.temperature, self.t, self.t)
            np.multiply(self.t, self.loss, self.t)
        np.subtract(self.t, self.pull, self.t)
        if hours != 1.0:
            self.t *= hours
        np.subtract(self.temperature, self.t, self.temperature)
        np.add(self.lost, self.t, self.lost)

    def draw(self, *, warming: bool) -> None:
        """Take heat for the engine, at the flow, power and cooling of the middle between the step's start and end.

        What came in during the step has half arrived at its middle, and half of what the engine takes has gone.
        """
        available = np.maximum(self.temperature - self.floor, 0.0)
        warm_up = np.minimum(self.left, available) if warming else self.zero
        z = (available - warm_up) / self.step
        came = np.minimum((self.temperature - self.begun) / self.step, z)
        weight = self._locate(self._middle(z, came))
        flow, fraction, cooling = (
            low + weight * slope for low, slope in map(self._cell, (self.flow, self.fraction, self.cooling))
        )
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

    def _middle(self, z: Array, came: Array) -> Array:
        """Grid place of the middle of a step that could draw down from ``z``, of which ``came`` came in during it.

        Solves m = z - came/2 - flow(m)/2 by Newton's steps, held above where it lies if all that is left is drawn.
        A fixed number of steps, enough for rounding, so that a design does not depend on its batch. They begin from the
        flow at the upper end if that leaves more: where a cut-off springs there may be two middles, and a store that can
        stay above the spring does.
        """
        upper = z - 0.5 * came
        lower = np.maximum(upper - 0.5 * z, self.zero)
        weight = self._locate(lower)
        flow, slope = self._cell(self.flow)
        flow += weight * slope
        weight = self._locate(upper)
        above, slope = self._cell(self.flow)
        flow = np.minimum(flow, above + weight * slope)
        middle = np.maximum(lower, upper - 0.5 * flow, out=weight)
        for _ in range(NEWTON_STEPS):
            weight = self._locate(middle)
            flow, slope = self._cell(self.flow)
            flow += weight * slope
            flow *= 0.5
            flow += middle
            flow -= upper
            slope *= 0.5
            slope += 1.0
            flow /= np.maximum(slope, self.least_slope, out=slope)
            middle -= flow
            np.maximum(middle, lower, out=middle)
            np.minimum(middle, upper, out=middle)
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
        hours, work = self.discharge.hours[:, -1], self.discharge.work[:, -1]
        bridged = work * np.where(np.isfinite(self.bank), self.bank, 1.0)
        return self.figures(year, hours, bridged, self.water * self.heat_unit, self.temperature - self.start)


class BankedStore(MixedStore):
    """A fully mixed store whose engine runs free into a bank: the demand of a calendar day is one sum.

    The engine runs in the demand hours at the power it has, until the sum is delivered; work counts times the bank's
    efficiency. A demand hour is unserved, and counts whole, while the sum lags P x hours so far. Nothing is
    carried over to the next day.
    """

    def __init__(self, d: Columns, year: Year, steps: int = 1) -> None:
        super().__init__(d, year, steps)
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

    def stopped(self, end: Array, left: Array, work: Array) -> tuple[Array, Array]:
        """The engine stops where the day's sum is delivered."""
        done = np.maximum(work - np.maximum(self.asked - self.sum, 0.0), left)
        found = self.discharge.place(self.discharge.work, done)
        return np.where(done > left, found, end), done

    def wanted(self, given: Array, taken: Array) -> tuple[Array, Array]:
        """Hold work and heat of a step to what the day's sum still lacks."""
        lacking = np.maximum((self.asked - self.sum) * self.finer - self.share, 0.0)
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


def grid_flow(efficiency: Array, fraction: Array, work: Array) -> Array:
    """Grid places that the engine draws in a step of time at each grid place, flattened; always positive.

    ``work`` is the work asked for in a step of time, in heat of one place. At the zero of net work power and
    efficiency vanish together; the next place's flow serves there.
    """
    runs = (efficiency > LEAST_EFFICIENCY) & (fraction > 0.0)
    flow = np.where(runs, work[:, None] * fraction / np.where(runs, efficiency, 1.0), 0.0)
    for k in range(flow.shape[1] - 2, -1, -1):
        flow[:, k] = np.where(runs[:, k], flow[:, k], flow[:, k + 1])
    return flow.ravel()


def step_counts(d: Columns, year: Year) -> NDArray[np.intp]:
    """Steps (one of ``STEP_COUNTS``) in which each fully mixed store takes an hour of sun, from design and year only.

    One, unless the strongest sun of the year into a store at its start, or the greatest draw with the greatest
    loss, moves it by more than ``LARGEST_STEP_K``. What would pass T_top though the engine draws is dumped, and what would
    pass the floor though the sun shines is not drawn; neither asks for steps.
    """
    kind = d["kind"].astype(np.intp)
    sun = np.max(year.effective_irradiance, axis=1, initial=0.0).take(kind, mode="clip")
    per_kelvin = SECONDS_PER_HOUR / d["capacity"]
    above = np.maximum(d["start"] + d["rise"] - np.max(year.air_temperature_K), 0.0)
    gain = per_kelvin * d["gain"] * (d["eta0"] * sun - d["a1"] * above - d["a2"] * above**2)
    span = d["top"] - d["floor"]
    fraction = np.clip(d["fraction"], 0.0, d["most"][:, None])
    draw = grid_flow(d["efficiency"], fraction, per_kelvin * d["power"]).reshape(fraction.shape).max(axis=1)
    loss = per_kelvin * d["UA"] * (d["top"] - np.min(year.room_temperature_K))
    move = np.maximum(
        np.minimum(gain, d["top"] - d["start"] + draw), np.minimum(draw, span + gain) + np.minimum(loss, span)
    )
    place = np.searchsorted(np.array(STEP_COUNTS) * LARGEST_STEP_K, move)
    return np.asarray(np.array(STEP_COUNTS)[np.minimum(place, len(STEP_COUNTS) - 1)], dtype=np.intp)
