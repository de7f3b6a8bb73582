"""The order of the components around the working fluid: feed, boilers, expander, condenser.

One function serves both store modes: what differs between hot water that circulates and a coil in the store is told by
:mod:`explore.cycle.source`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from explore.cycle.source import Source
from explore.fluids.interface import Array, Index, Liquid, Saturation, WorkingFluid
from explore.fluids.water import Water
from explore.plant import boiler, glide, pump
from explore.plant.circuit import Cycle, Drops, LinePart, Passed, Vapour
from explore.plant.condenser import Condenser, condense, cooling_water
from explore.plant.engine import AnyLosses, Losses, Stage, expand, receiver_pressures
from explore.plant.exchange import regenerate, regenerated_heat, without_regenerator


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
    """States of all boilers; limits of temperature are the caller's."""
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
        return _ideal_work(fluid, self.levels, self.shares, self.condenser_pressure)


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


def run_cycle(
    fluid: WorkingFluid,
    water: Water,
    machine: Machine,
    settings: Settings,
    temperatures: list[Array],
    stages: int,
    source: Source,
) -> Cycle:
    """Go once round the cycle of an engine sized here with constant losses, shapes (n,).

    ``temperatures`` are the evaporating temperatures [K] of the boilers from the hottest down. They are heated
    by ``source``. Only the water streams lose pressure, a constant ``machine.water_pressure_drop``.
    Evaporating and condensing temperatures of a mixture are those of its bubble points: it boils and condenses
    between them and the dew points above (:mod:`explore.plant.glide`), and has one boiler.
    """
    given = supply(fluid, water, machine, settings, temperatures, source)
    expansion = march(fluid, [machine.losses] * stages, given, settings.release_ratio)
    return go_round(fluid, water, machine, settings, given, expansion)


class Expansion(NamedTuple):
    """Stages in series, the share of the total flow through each, what enters each [J/kg], flow over the rated one."""

    stages: list[Stage]
    flows: list[Array]
    receivers: list[Array]
    flow_ratio: Array

    @property
    def shaft_work(self) -> Array:
        """Work of all stages at the shaft [J/kg of total flow]."""
        return np.asarray(
            np.sum([f * s.shaft_work for f, s in zip(self.flows, self.stages, strict=True)], axis=0)
        )


def in_line(stages: list[Stage], flow_ratio: Array) -> Expansion:
    """Return the expansion of a fixed engine with one boiler, all flow through every stage."""
    ones = np.ones_like(flow_ratio)
    return Expansion(stages, [ones] * len(stages), [s.inlet.enthalpy for s in stages], flow_ratio)


def go_round(
    fluid: WorkingFluid,
    water: Water,
    machine: Machine,
    settings: Settings,
    given: Supply,
    expansion: Expansion,
) -> Cycle:
    """Close the cycle behind an expansion: regenerator, condenser, water and pumps, shapes (n,)."""
    levels, shares, p_c = given.levels, given.shares, given.condenser_pressure
    drops = given.drops
    done, flows, receivers, flow_ratio = expansion
    exhaust = done[-1].exhaust_enthalpy
    if np.any(settings.regenerator_effectiveness > 0.0):
        regenerator = regenerate(
            fluid,
            settings.regenerator_effectiveness,
            exhaust,
            p_c,
            given.feed_enthalpy,
            levels[-1].pressure,
            given.feed,
        )
    else:
        regenerator = without_regenerator(given.feed, given.feed_enthalpy, exhaust)
    warmed, entering = regenerator.feed_enthalpy, regenerator.exhaust_enthalpy
    cooled = _condense(fluid, water, machine, settings, given, entering)
    heat = _heat(levels, shares, given.lift_work, warmed)
    hot_water, returned = given.source.leaving(fluid, water, levels[-1], given.total, warmed)
    return Cycle(
        levels=levels,
        raised=given.raised,
        shares=shares,
        stages=done,
        stage_flows=flows,
        receiver_enthalpies=receivers,
        condensate=given.condensate,
        feed=given.feed,
        warmed=warmed,
        regenerator=regenerator,
        condenser=cooled,
        condenser_pressure=p_c,
        hot_water=hot_water,
        hot_water_work=given.hot_water_work,
        cooling_water_work=_cooling_work(water, machine, cooled.water_flow, cooled.outlet_temperature, drops),
        feed_work=given.feed_work,
        lift_work=given.lift_work,
        return_temperature=returned,
        shaft_work=expansion.shaft_work,
        heat=heat,
        flow_ratio=flow_ratio,
        arriving=given.arriving,
        passed=given.passed,
        drops=drops,
    )


def net_work(
    fluid: WorkingFluid,
    water: Water,
    machine: Machine,
    settings: Settings,
    given: Supply,
    expansion: Expansion,
) -> Array:
    """Shaft work less all pumps [J/kg] of the cycle that :func:`go_round` closes, without its other states."""
    p_c, entering = given.condenser_pressure, expansion.stages[-1].exhaust_enthalpy
    if fluid.glides:
        return go_round(fluid, water, machine, settings, given, expansion).net_work
    if np.any(settings.regenerator_effectiveness > 0.0):
        entering = entering - regenerated_heat(
            fluid, settings.regenerator_effectiveness, fluid.from_enthalpy(p_c, entering), p_c,
            (given.feed.temperature, given.feed_enthalpy), given.levels[-1].pressure,
        )  # fmt: skip
    flow, outlet = cooling_water(
        water, entering, (settings.condensing_temperature, given.condensing.h_vapour), given.condensate.enthalpy,
        settings.pinch_condenser, machine.cooling_water_temperature,
    )  # fmt: skip
    pumps = given.feed_work + given.lift_work
    circulation = given.hot_water_work + _cooling_work(water, machine, flow, outlet, given.drops)
    return np.asarray(expansion.shaft_work - pumps - circulation)


def _cooling_work(water: Water, machine: Machine, flow: Array, outlet: Array, drops: Drops | None) -> Array:
    """Pump work [J/kg] of the cooling water against the drop of its tubes, one that follows its warming, or a constant."""
    drop: Array | float = machine.water_pressure_drop
    if drops is not None:
        drop = drops.cooling_water
    elif machine.cooling_drop_follows_rise:
        drop = pump.cooling_drop(outlet - machine.cooling_water_temperature, machine.water_pressure_drop)
    volume = 1.0 / water.density(np.full_like(flow, machine.cooling_water_temperature))
    return pump.circulation_work(
        flow, volume, drop, machine.cooling_water_lift, machine.water_pump_efficiency
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
    """Work to pump liquid from each level to the next hotter one, per kg of total flow."""
    work, passed = np.zeros_like(shares[0]), np.zeros_like(shares[0])
    for i, level in enumerate(levels):
        work = work + passed * level.lift_work
        passed = passed + shares[i]
    return work


def march(fluid: WorkingFluid, losses: Sequence[AnyLosses], given: Supply, release_ratio: Array) -> Expansion:
    """Expand through stages at their rated point, one loss record each.

    At each receiver the exhaust mixes with fresh vapour.
    """
    arriving, shares = given.arriving, given.shares
    boundaries = receiver_pressures([vapour.pressure for vapour in arriving], given.end, len(losses))
    flow, enthalpy = np.zeros_like(given.end), np.zeros_like(given.end)
    done: list[Stage] = []
    flows: list[Array] = []
    receivers: list[Array] = []
    for j, own in enumerate(losses):
        if j < len(arriving):
            joined = flow + shares[j]
            enthalpy = (flow * enthalpy + shares[j] * arriving[j].enthalpy) / joined
            flow = joined
        done.append(expand(fluid, boundaries[j], enthalpy, boundaries[j + 1], release_ratio, own))
        flows.append(flow)
        receivers.append(enthalpy)
        enthalpy = done[-1].exhaust_enthalpy
    return Expansion(done, flows, receivers, np.ones_like(given.end))


def _condense(
    fluid: WorkingFluid, water: Water, machine: Machine, settings: Settings, given: Supply, enthalpy: Array
) -> Condenser:
    pressure, condensate, sat = given.condenser_pressure, given.condensate, given.condensing
    exhaust = (fluid.from_enthalpy(pressure, enthalpy).temperature, enthalpy)
    if fluid.glides:
        return glide.condense(
            fluid, water, pressure, exhaust, (condensate.temperature, condensate.enthalpy),
            settings.pinch_condenser, machine.cooling_water_temperature,
        )  # fmt: skip
    return condense(
        water,
        exhaust,
        (settings.condensing_temperature, sat.h_vapour),
        sat.h_liquid,
        (condensate.temperature, condensate.enthalpy),
        settings.pinch_condenser,
        machine.cooling_water_temperature,
    )


def _heat(levels: list[boiler.Level], shares: list[Array], lift_work: Array, warmed: Array) -> Array:
    """Heat taken from the water [J/kg of total flow]: enthalpy out of all boilers less feed and lift work."""
    out = np.sum([m * level.exit_enthalpy for m, level in zip(shares, levels, strict=True)], axis=0)
    return np.asarray(out - warmed - lift_work)


def ideal_work(fluid: WorkingFluid, cycle: Cycle) -> Array:
    """Work of loss-free expansion of every boiler's vapour to the condenser [J/kg of total flow]."""
    return _ideal_work(fluid, cycle.levels, cycle.shares, cycle.condenser_pressure)


def _ideal_work(
    fluid: WorkingFluid, levels: list[boiler.Level], shares: list[Array], condenser_pressure: Array
) -> Array:
    drops = [
        m * (level.exit_enthalpy - fluid.from_entropy(condenser_pressure, level.exit_entropy).enthalpy)
        for m, level in zip(shares, levels, strict=True)
    ]
    return np.asarray(np.sum(drops, axis=0))
