"""The two kinds of store, marched hour by hour: one chunk of designs each, operations in place.

Both offer the steps of an hour, called in the order ``collect``, ``lose``, ``draw``, ``dump``; ``surround``
sets the temperature of the air around them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from explore.units import J_PER_KWH, L_PER_M3, SECONDS_PER_HOUR
from explore.year.series import Year

Array = NDArray[np.float64]
Columns = dict[str, Array]

FULLY_SERVED = 1.0 - 1e-9
LEAST_COLD = 1e-300
LEAST_EFFICIENCY = 1e-6
NEWTON_STEPS = 7
LEAST_SLOPE = 0.005


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

    def heat_collected(self, gain: Array) -> Array:
        """Heat of one hour from ``gain`` and the collector's rise above the air in ``self.x`` (ISO 9806)."""
        x, t = self.x, self.t
        np.multiply(self.a2, x, t)
        np.add(t, self.a1, t)
        np.multiply(t, x, t)
        np.subtract(gain, t, gain)
        np.maximum(gain, self.zero, out=gain)
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
        self.top, self.UA = d["top"], d["UA"]
        self.need = d["power"] * SECONDS_PER_HOUR / (d["work"] * d["mass"])
        self.warm_up = d["warm_up"] / (d["heat"] * d["mass"])
        self.evaporating, self.cooling = d["evaporating"], d["cooling"]
        self.fall = np.minimum(d["UA"] * SECONDS_PER_HOUR / (d["mass"] * d["loss_capacity"]), 1.0)
        self.least_half = np.minimum(
            self.half_drop, 0.5 * (d["top"] - float(np.max(year.room_temperature_K)))
        )
        self.hot, self.half = np.zeros_like(self.top), self.half_drop.copy()
        self.spare = np.zeros_like(self.top)

    def surround(self, room: float) -> None:
        """Set the air temperature [K] around the store."""
        above = self.top - room
        # Less than one hour's content, so that the hot layer never becomes negative.
        self.hot_loss = np.minimum(self.UA * SECONDS_PER_HOUR * above / self.heat_unit, self.least_half)
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
    """One temperature T [K]; heat in units of the store's capacity, that is in kelvin."""

    def __init__(self, d: Columns, year: Year) -> None:
        super().__init__(d, d["capacity"])
        n, size = d["efficiency"].shape
        self.top, self.floor, self.rise, self.start = d["top"], d["floor"], d["rise"], d["start"]
        self.temperature = self.start.copy()
        self.step = (self.top - self.floor) / (size - 1)
        self.loss = np.minimum(d["UA"] * SECONDS_PER_HOUR / d["capacity"], 1.0)
        self.warm_up, self.evaporating = d["warm_up"] / d["capacity"], d["evaporating"]
        fraction = np.clip(d["fraction"], 0.0, 1.0)
        self.flow = _hourly_steps(
            d["efficiency"], fraction, d["power"] * SECONDS_PER_HOUR / (d["capacity"] * self.step)
        )
        self.fraction, self.cooling = fraction.ravel(), d["cooling"].ravel()
        self.water = np.zeros(n)
        self.first_place, self.last_cell = np.arange(n, dtype=np.float64) * size, np.full(n, size - 2.0)
        self.index, self.index_above = np.empty(n, dtype=np.intp), np.empty(n, dtype=np.intp)
        self.least_slope = np.full(n, LEAST_SLOPE)

    def surround(self, room: float) -> None:
        """Set the air temperature [K] around the store."""
        self.pull = self.loss * room
        self.warming = np.maximum(self.warm_up * (self.evaporating - room), 0.0)

    def collect(self, gain: Array, air: Array) -> None:
        """Warm the store; it may pass T_top until the hour ends."""
        np.add(self.temperature, self.rise, self.x)
        np.subtract(self.x, air, self.x)
        np.add(self.temperature, self.heat_collected(gain), self.temperature)

    def lose(self) -> None:
        """Standing loss."""
        np.multiply(self.temperature, self.loss, self.t)
        np.subtract(self.t, self.pull, self.t)
        np.subtract(self.temperature, self.t, self.temperature)
        np.add(self.lost, self.t, self.lost)

    def draw(self, *, warming: bool) -> None:
        """Take heat for the engine, at the flow, power and cooling of the middle of what it takes."""
        available = np.maximum(self.temperature - self.floor, 0.0)
        warm_up = np.minimum(self.warming, available) if warming else self.zero
        z = (available - warm_up) / self.step
        weight = self._locate(self._middle(z))
        flow, fraction, cooling = (
            low + weight * slope for low, slope in map(self._cell, (self.flow, self.fraction, self.cooling))
        )
        taken = np.minimum(flow, z)
        np.maximum(np.minimum(fraction, self.one, out=fraction), self.zero, out=fraction)
        share = fraction * (taken / flow)
        heat = taken * self.step
        self.water += heat * cooling
        heat += warm_up
        self.temperature -= heat
        self.serve(share, heat)

    def _middle(self, z: Array) -> Array:
        """Grid place of the middle of the heat drawn in an hour from place ``z``.

        Solves m = z - flow(m)/2 by Newton's steps, held between z and z/2, where all that is left is drawn.
        A fixed number of steps, enough for rounding, so that a design does not depend on its batch.
        """
        lower = 0.5 * z
        weight = self._locate(lower)
        flow, slope = self._cell(self.flow)
        middle = np.maximum(lower, z - 0.5 * (flow + weight * slope), out=weight)
        for _ in range(NEWTON_STEPS):
            weight = self._locate(middle)
            flow, slope = self._cell(self.flow)
            flow += weight * slope
            flow *= 0.5
            flow += middle
            flow -= z
            slope *= 0.5
            slope += 1.0
            flow /= np.maximum(slope, self.least_slope, out=slope)
            middle -= flow
            np.maximum(middle, lower, out=middle)
            np.minimum(middle, z, out=middle)
        return middle

    def _locate(self, place: Array) -> Array:
        """Find the cell of each grid place, for ``_cell``; return how far into the cell it lies."""
        cell = np.trunc(place)
        np.minimum(cell, self.last_cell, out=cell)
        weight = place - cell
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

    def dump(self) -> None:
        """Throw away the heat above T_top."""
        np.subtract(self.temperature, self.top, self.over)
        np.maximum(self.over, self.zero, out=self.over)
        np.subtract(self.temperature, self.over, self.temperature)
        self.count_dumped(self.over)

    def results(self, year: Year) -> Columns:
        """All figures of the year."""
        hours = 1.0 / self.flow.reshape(len(self.top), -1)
        autonomy = np.sum(0.5 * (hours[:, 1:] + hours[:, :-1]), axis=1)
        return self.figures(year, autonomy, self.water * self.heat_unit, self.temperature - self.start)


def _hourly_steps(efficiency: Array, fraction: Array, hourly_work: Array) -> Array:
    """Grid steps that the engine draws in an hour at each grid place, flattened; always positive.

    ``hourly_work`` is the work asked for in an hour, in heat of one step. At the zero of net work power and
    efficiency vanish together; the next place's flow serves there.
    """
    runs = (efficiency > LEAST_EFFICIENCY) & (fraction > 0.0)
    flow = np.where(runs, hourly_work[:, None] * fraction / np.where(runs, efficiency, 1.0), 0.0)
    for k in range(flow.shape[1] - 2, -1, -1):
        flow[:, k] = np.where(runs[:, k], flow[:, k], flow[:, k + 1])
    return flow.ravel()
