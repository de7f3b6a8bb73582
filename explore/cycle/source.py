"""What heats the fluid: hot water that circulates through boilers in series, or a coil in a fully mixed store.

Both answer the same questions; nothing else in the cycle asks which of them it is.
"""

from __future__ import annotations

from typing import NamedTuple, TypeVar

import numpy as np

from explore.cycle.duties import boiler_duties, coil_duties
from explore.fluids.interface import Array, WorkingFluid
from explore.fluids.water import Water
from explore.plant import boiler, glide, pump
from explore.plant.circuit import Cycle
from explore.plant.tube_zone import Duty

T = TypeVar("T")


class CirculatingWater(NamedTuple):
    """Hot water of a stratified store: top temperature [K] and pinch of the boilers [K], each (n,)."""

    top_temperature: Array
    pinch: Array

    @property
    def entering(self) -> Array:
        """Temperature [K] of the water that enters the hottest boiler."""
        return self.top_temperature

    def pick(self, boiler: T, coil: T) -> T:
        """Return that of the boilers, of what is given for them and for a coil."""
        return boiler

    def raised(self, fluid: WorkingFluid, water: Water, levels: list[boiler.Level]) -> list[Array]:
        """Vapour raised by each boiler [kg per kg of hot water]."""
        if fluid.glides:
            return [1.0 / glide.water_flow(fluid, water, self.top_temperature, levels[0], self.pinch)]
        return boiler.flows(water, self.top_temperature, levels, self.pinch)

    def pump_work(self, water: Water, total: Array, drop: Array | float, efficiency: float) -> Array:
        """Work [J/kg of fluid] that circulates it against ``drop`` [Pa]; ``total`` fluid per kg of water."""
        volume = 1.0 / water.density(self.top_temperature)
        return pump.circulation_work(1.0 / total, volume, drop, 0.0, efficiency)

    def leaving(
        self, fluid: WorkingFluid, water: Water, coldest: boiler.Level, total: Array, warmed: Array
    ) -> tuple[Array, Array]:
        """Water per kg of fluid [kg/kg] and its temperature [K] behind the boilers; ``warmed`` [J/kg] feeds them."""
        if fluid.glides:
            drawn = total * (coldest.exit_enthalpy - warmed)
            enthalpy = water.enthalpy(self.top_temperature) - drawn
        else:
            enthalpy = boiler.return_enthalpy(water, coldest, self.pinch, total, warmed)
        return 1.0 / total, water.temperature(enthalpy)

    def given_up(self, water: Water, cycle: Cycle) -> tuple[Array, Array]:
        """Heat [J/kg] and entropy [J/(kg K)] given up, per kg of fluid."""
        top, back = self.top_temperature, cycle.return_temperature
        return (
            cycle.hot_water * (water.enthalpy(top) - water.enthalpy(back)),
            cycle.hot_water * (water.entropy(top) - water.entropy(back)),
        )

    def counted_on(self, cycle: Cycle, flow: Array) -> Array:
        """Flow [kg/s] of the stream on which the heat of :meth:`zones` is counted: the water's."""
        return flow * cycle.hot_water

    def zones(self, fluid: WorkingFluid, water: Water, cycle: Cycle) -> list[boiler.Zone]:
        """Zones of all boilers, heat per kg of hot water."""
        feed = cycle.warmed_temperature
        if fluid.glides:
            return glide.boiler_zones(
                fluid, water, self.top_temperature, cycle.levels[0], cycle.raised[0], cycle.warmed, feed
            )
        return boiler.stratified_zones(
            water,
            self.top_temperature,
            cycle.return_temperature,
            cycle.levels,
            [self.pinch] * len(cycle.levels),
            cycle.raised,
            cycle.warmed,
            feed,
        )

    def duties(self, cycle: Cycle, zones: list[boiler.Zone], flow: Array) -> list[list[Duty]]:
        """Duties of all boilers, hottest first, for ``flow`` [kg/s] of fluid."""
        water = self.counted_on(cycle, flow)
        return boiler_duties(cycle.levels, cycle.raised, water, zones, cycle.warmed_temperature)

    def rated(
        self, water: Water, level: boiler.Level, cycle: Cycle, flow: Array, distance: Array
    ) -> tuple[Array, list[Duty]]:
        """Pinch [K] and duties of one boiler whose fluid boils ``distance`` [K] below the entering water."""
        raised, feed = cycle.raised[0], cycle.warmed_temperature
        h_top = water.enthalpy(self.top_temperature)
        pinched = water.temperature(h_top - raised * (level.exit_enthalpy - level.bubble_enthalpy))
        pinch = pinched - level.temperature
        back = water.temperature(h_top - raised * (level.exit_enthalpy - cycle.warmed))
        zones = boiler.stratified_zones(
            water, self.top_temperature, back, [level], [pinch], [raised], cycle.warmed, feed
        )
        return pinch, boiler_duties([level], [raised], flow * cycle.hot_water, zones, feed)[0]


class Coil(NamedTuple):
    """A coil in a fully mixed store: temperature [K] of the water around it, (n,)."""

    store_temperature: Array

    @property
    def entering(self) -> Array:
        """Temperature [K] of the water around the coil."""
        return self.store_temperature

    def pick(self, boiler: T, coil: T) -> T:
        """Return that of the coil, of what is given for boilers and for it."""
        return coil

    def raised(self, fluid: WorkingFluid, water: Water, levels: list[boiler.Level]) -> list[Array]:
        """Ones: all flow passes the one coil."""
        return [np.ones_like(levels[0].pressure)]

    def pump_work(self, water: Water, total: Array, drop: Array | float, efficiency: float) -> Array:
        """Nothing: no water is pumped along it."""
        return np.zeros_like(total)

    def leaving(
        self, fluid: WorkingFluid, water: Water, coldest: boiler.Level, total: Array, warmed: Array
    ) -> tuple[Array, Array]:
        """No water, and no temperature [K] of any."""
        return np.zeros_like(total), np.full_like(total, np.nan)

    def given_up(self, water: Water, cycle: Cycle) -> tuple[Array, Array]:
        """Heat [J/kg] and entropy [J/(kg K)] given up at one temperature, per kg of fluid."""
        return cycle.heat, cycle.heat / self.store_temperature

    def counted_on(self, cycle: Cycle, flow: Array) -> Array:
        """Flow [kg/s] of the stream on which the heat of :meth:`zones` is counted: the fluid's."""
        return flow

    def zones(self, fluid: WorkingFluid, water: Water, cycle: Cycle) -> list[boiler.Zone]:
        """Zones of the coil, heat per kg of fluid."""
        level, warmed, feed = cycle.levels[0], cycle.warmed, cycle.warmed_temperature
        if fluid.glides:
            return glide.coil_zones(fluid, level, self.store_temperature, warmed, feed)
        return boiler.coil_zones(level, self.store_temperature, warmed, feed)

    def duties(self, cycle: Cycle, zones: list[boiler.Zone], flow: Array) -> list[list[Duty]]:
        """Duties of the coil for ``flow`` [kg/s] of fluid."""
        return [coil_duties(cycle.levels[0], zones, flow, cycle.warmed_temperature, self.store_temperature)]

    def rated(
        self, water: Water, level: boiler.Level, cycle: Cycle, flow: Array, distance: Array
    ) -> tuple[Array, list[Duty]]:
        """Approach [K] and duties of a coil whose fluid boils ``distance`` [K] below the store."""
        feed = cycle.warmed_temperature
        zones = boiler.coil_zones(level, self.store_temperature, cycle.warmed, feed)
        return distance, coil_duties(level, zones, flow, feed, self.store_temperature)


Source = CirculatingWater | Coil


class Boiling(NamedTuple):
    """A source, and the zones of boilers or coil that it heats in a cycle."""

    source: Source
    zones: list[boiler.Zone]
