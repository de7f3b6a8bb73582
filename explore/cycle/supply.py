"""What boilers and feed pump give the engine, whatever the engine makes of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from explore.cycle.source import Source
from explore.fluids.interface import Array, Index, Liquid, Saturation, WorkingFluid
from explore.fluids.water import Water
from explore.plant import boiler, pump
from explore.plant.circuit import Drops, LinePart, Passed, Vapour
from explore.plant.engine import Losses


@dataclass(frozen=True)
class Machine:
    """Scalar parameters of the cycle, SI and kelvin (defaults and sources: explore.config.schema.Engine)."""

    losses: Losses
    feed_pump: pump.FeedPump | float
    water_pressure_drop: float
    water_pump_efficiency: float
    cooling_water_temperature: float
    cooling_water_lift: float
    cooling_drop_follows_rise: bool = False
    vapour_line: tuple[LinePart, ...] = ()


class Settings(NamedTuple):
    """What a design sets on the cycle, each (n,), SI and kelvin."""

    superheat: Array
    condensing_temperature: Array
    subcooling: Array
    pinch_condenser: Array
    release_ratio: Array
    regenerator_effectiveness: Array

    def take(self, index: Index) -> Settings:
        """Return the settings of the designs ``index``."""
        return Settings(*(column[index] for column in self))


def evaporating_temperatures(highest: Array, lowest: Array | None, levels: int) -> list[Array]:
    """Evaporating temperatures [K] from the hottest boiler down; the middle one the geometric mean."""
    if levels == 1 or lowest is None:
        return [highest]
    middle = [np.sqrt(highest * lowest)] if levels == 3 else []
    return [highest, *middle, lowest]


def boiler_levels(
    fluid: WorkingFluid, temperatures: list[Array], superheat: Array, feed_pump: pump.FeedPump | float
) -> list[boiler.Level]:
    """States of all boilers at ``temperatures`` and ``superheat`` [K], (n,); limits of temperature are the caller's."""
    levels: list[boiler.Level] = []
    for T in temperatures:
        pressure = fluid.saturation_pressure(T)
        sat = fluid.saturation(pressure)
        out = fluid.superheated(pressure, superheat)
        dew = T + (sat.dew_temperature - sat.temperature)
        lift, lifted = np.zeros_like(T), T
        if levels:
            above = levels[-1].pressure
            lift = pump.pumped(feed_pump, sat.v_liquid, pressure, above)
            lifted = fluid.liquid_from_enthalpy(above, sat.h_liquid + lift).temperature
        levels.append(
            boiler.Level(
                T,
                pressure,
                sat.h_liquid,
                sat.s_liquid,
                sat.v_liquid,
                sat.h_vapour,
                out.enthalpy,
                fluid.from_enthalpy(pressure, out.enthalpy).entropy,
                dew + superheat,
                lift,
                lifted,
                dew,
            )
        )
    return levels


@dataclass(frozen=True)
class Supply:
    """What boilers and feed pump give the engine, whatever the engine's losses: shapes (n,), per kg of total flow.

    Fields as in :class:`Cycle`; ``total`` [kg of fluid per kg of hot water]; ``arriving`` the vapour at the receivers that
    the boilers feed, behind what it ``passed``; ``end`` the pressure [Pa] behind the last stage.
    """

    levels: list[boiler.Level]
    raised: list[Array]
    shares: list[Array]
    total: Array
    condenser_pressure: Array
    condensing: Saturation
    condensate: Liquid
    feed: Liquid
    feed_work: Array
    lift_work: Array
    hot_water_work: Array
    arriving: list[Vapour]
    passed: list[Passed]
    end: Array
    source: Source
    drops: Drops | None

    @property
    def feed_enthalpy(self) -> Array:
        """Enthalpy behind the feed pump [J/kg]."""
        return self.condensate.enthalpy + self.feed_work

    def ideal_work(self, fluid: WorkingFluid) -> Array:
        """Work of loss-free expansion of every boiler's vapour to the condenser [J/kg of total flow]."""
        return ideal_work_of(fluid, self.levels, self.shares, self.condenser_pressure)


def supply(
    fluid: WorkingFluid,
    water: Water,
    machine: Machine,
    settings: Settings,
    temperatures: list[Array],
    source: Source,
    drops: Drops | None = None,
) -> Supply:
    """Find boilers, feed and their flows; arguments as in :func:`run_cycle`.

    ``drops`` are the pressures lost in the exchangers: the engine starts below the boiler's pressure and exhausts above
    the condenser's; without them only the water streams lose some.
    """
    levels = boiler_levels(fluid, temperatures, settings.superheat, machine.feed_pump)
    p_c = fluid.saturation_pressure(settings.condensing_temperature)
    condensate = fluid.liquid(p_c, settings.condensing_temperature - settings.subcooling)
    feed_work = pump.pumped(machine.feed_pump, condensate.volume, p_c, levels[-1].pressure)
    raw = source.raised(fluid, water, levels)
    raised = [np.maximum(m, 1e-9) for m in raw]
    total = np.sum(raised, axis=0)
    shares = [m / total for m in raised]
    end = p_c if drops is None else p_c + drops.condenser
    arriving, passed = _vapour_line(fluid, machine, levels, end, drops)
    hot_drop = machine.water_pressure_drop if drops is None else drops.hot_water
    hot_work = source.pump_work(water, total, hot_drop, machine.water_pump_efficiency)
    return Supply(
        levels,
        raw,
        shares,
        total,
        p_c,
        fluid.saturation(p_c),
        condensate,
        fluid.liquid_from_enthalpy(levels[-1].pressure, condensate.enthalpy + feed_work),
        feed_work,
        lift_work_of(levels, shares),
        hot_work,
        arriving,
        passed,
        end,
        source,
        drops,
    )


def _vapour_line(
    fluid: WorkingFluid, machine: Machine, levels: list[boiler.Level], end: Array, drops: Drops | None
) -> tuple[list[Vapour], list[Passed]]:
    """Vapour of each boiler at the receiver it feeds, behind its exchanger's drop and the parts of the vapour line."""
    arriving: list[Vapour] = []
    passed: list[Passed] = []
    for number, level in enumerate(levels):
        pressure = level.pressure if drops is None else level.pressure - drops.boilers[number]
        vapour = Vapour(pressure, level.exit_enthalpy)
        for one in machine.vapour_line:
            behind = one.passing(fluid, vapour, end)
            passed.append(Passed(one.part, number, vapour, behind))
            vapour = behind
        arriving.append(vapour)
    return arriving, passed


def lift_work_of(levels: list[boiler.Level], shares: list[Array]) -> Array:
    """Work [J per kg of total flow], (n,), to pump liquid from each level to the next hotter one."""
    work, passed = np.zeros_like(shares[0]), np.zeros_like(shares[0])
    for i, level in enumerate(levels):
        work = work + passed * level.lift_work
        passed = passed + shares[i]
    return work


def ideal_work_of(
    fluid: WorkingFluid, levels: list[boiler.Level], shares: list[Array], condenser_pressure: Array
) -> Array:
    """Work of loss-free expansion of every boiler's vapour to a condenser's pressure [Pa], J/kg of total flow."""
    drops = [
        m * (level.exit_enthalpy - fluid.from_entropy(condenser_pressure, level.exit_entropy).enthalpy)
        for m, level in zip(shares, levels, strict=True)
    ]
    return np.asarray(np.sum(drops, axis=0))
