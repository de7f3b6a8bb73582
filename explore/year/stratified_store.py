"""A stratified store, marched hour by hour."""

from __future__ import annotations

import numpy as np

from explore.units import SECONDS_PER_HOUR
from explore.year.series import Year
from explore.year.tally import Array, Columns, Tally

LEAST_COLD = 1e-300
"""Keeps 0/0 from a store that is hot throughout and of which nothing is drawn: no cold water, nothing to mix."""


class StratifiedStore(Tally):
    """A hot layer at T_top, share f of the mass, above a cold one.

    The cold layer is carried as half its distance below T_top, h = (T_top - T_cold)/2 [K], heat in units of
    2 m c: turning a share df from cold to hot takes h df of them. Once collectors have used it up, what they see for
    the rest of the hour, and what next turns cold, is at T_out, as water leaves the engine: no layer is left that could
    be colder.
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
        self.spare, self.sun = np.zeros_like(self.top), np.empty_like(self.top)

    @property
    def level(self) -> Array:
        """Share of the store that is hot [-]."""
        return self.hot

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
        """Turn cold water hot; what comes once the store is full stays spare for the hour."""
        f, half, over, sun = self.hot, self.half, self.over, self.sun
        np.copyto(sun, gain)
        np.subtract(self.top, half, self.x)
        np.subtract(self.x, air, self.x)
        heat = self.heat_collected(gain)
        np.divide(heat, half, self.t)
        np.add(f, self.t, f)
        np.subtract(f, self.one, over)
        np.maximum(over, self.zero, out=over)
        np.subtract(f, over, f)
        np.multiply(over, half, over)
        np.subtract(self.collected, over, self.collected)
        full = np.greater(over, self.zero, out=self.flag)
        np.copyto(half, self.half_drop, where=full)
        rest = np.divide(over, heat, out=over, where=full)  # of the hour
        np.minimum(rest, self.one, out=rest)
        np.subtract(self.top, half, self.x)
        np.subtract(self.x, air, self.x)
        np.multiply(self.heat_at(sun), rest, self.spare)
        np.add(self.collected, self.spare, self.collected)

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
        hours = 1.0 / self.need
        return self.figures(year, hours, hours, water, stored)
