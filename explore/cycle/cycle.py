"""The order of the components around the working fluid: feed, boilers, expander, condenser.

One function serves both store modes: what differs between hot water that circulates and a coil in the store is told by
:mod:`explore.cycle.source`.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from operator import add
from typing import NamedTuple

import numpy as np

from explore.cycle.source import Source
from explore.cycle.supply import Machine, Settings, Supply, ideal_work_of, supply
from explore.fluids.interface import Array, WorkingFluid
from explore.fluids.water import Water
from explore.plant import boiler, glide, pump
from explore.plant.circuit import Cycle, Drops
from explore.plant.condenser import Condenser, cold_side, condense, cooling_water
from explore.plant.engine import AnyLosses, Stage, expand, receiver_pressures
from explore.plant.exchange import feed_side, regenerate, regenerated_heat, without_regenerator


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
        return reduce(add, (f * s.shaft_work for f, s in zip(self.flows, self.stages, strict=True)))


def in_line(stages: list[Stage], flow_ratio: Array) -> Expansion:
    """Return the expansion of a fixed engine with one boiler, all flow through every stage.

    ``flow_ratio`` [-], (n,): flow over that of the rated point.
    """
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
        cooling_water_work=_cooling_work(
            machine,
            _cold_volume(water, machine, cooled.water_flow),
            cooled.water_flow,
            cooled.outlet_temperature,
            drops,
        ),
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


class Closing:
    """The way back from an expansion as far as its net work asks.

    Between the same boilers and condenser an engine expands a dozen times, until its losses and its governor rest: what no
    expansion changes is looked up once.
    """

    def __init__(
        self, fluid: WorkingFluid, water: Water, machine: Machine, settings: Settings, given: Supply
    ) -> None:
        self._of = fluid, water, machine, settings, given
        if fluid.glides:
            return
        T_c, T_cw = settings.condensing_temperature, machine.cooling_water_temperature
        self._cold = cold_side(water, T_c, settings.pinch_condenser, T_cw)
        self._volume = _cold_volume(water, machine, T_c)
        self._pumps = given.feed_work + given.lift_work
        self._feed = None
        if np.any(settings.regenerator_effectiveness > 0.0):
            feed = (given.feed.temperature, given.feed_enthalpy)
            self._feed = feed_side(fluid, given.condenser_pressure, feed, given.levels[-1].pressure)

    def net_work(self, expansion: Expansion) -> Array:
        """Shaft work less all pumps [J/kg], (n,), of the cycle that :func:`go_round` closes, without its other states."""
        fluid, water, machine, settings, given = self._of
        if fluid.glides:
            return go_round(fluid, water, machine, settings, given, expansion).net_work
        entering = expansion.stages[-1].exhaust_enthalpy
        if self._feed is not None:
            last = expansion.stages[-1]
            same = given.drops is None  # the condenser's pressure is that behind the engine
            exhaust = last.exhaust if same else fluid.from_enthalpy(given.condenser_pressure, entering)
            entering = entering - regenerated_heat(
                fluid, settings.regenerator_effectiveness, exhaust, self._feed
            )
        flow, outlet = cooling_water(
            water, self._cold, entering, given.condensing.h_vapour, given.condensate.enthalpy
        )
        cooling = _cooling_work(machine, self._volume, flow, outlet, given.drops)
        return np.asarray(expansion.shaft_work - self._pumps - (given.hot_water_work + cooling))


def _cold_volume(water: Water, machine: Machine, like: Array) -> Array:
    """Volume [m3/kg] of the cooling water where it enters, for arrays like ``like``."""
    return np.asarray(1.0 / water.density(np.full_like(like, machine.cooling_water_temperature)))


def _cooling_work(machine: Machine, volume: Array, flow: Array, outlet: Array, drops: Drops | None) -> Array:
    """Pump work [J/kg] of the cooling water against the drop of its tubes, one that follows its warming, or a constant."""
    drop: Array | float = machine.water_pressure_drop
    if drops is not None:
        drop = drops.cooling_water
    elif machine.cooling_drop_follows_rise:
        drop = pump.cooling_drop(outlet - machine.cooling_water_temperature, machine.water_pressure_drop)
    return pump.circulation_work(
        flow, volume, drop, machine.cooling_water_lift, machine.water_pump_efficiency
    )


def march(
    fluid: WorkingFluid,
    losses: Sequence[AnyLosses],
    given: Supply,
    release_ratio: Array,
    before: Sequence[Stage] | None = None,
) -> Expansion:
    """Expand through stages at their rated point, one loss record each; ``before`` are they with losses close by.

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
        known = None
        if j >= len(arriving):
            known = done[-1].exhaust
        elif j == 0 and before:
            known = before[0].inlet.before
        done.append(expand(fluid, boundaries[j], enthalpy, boundaries[j + 1], release_ratio, own, known))
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
    return ideal_work_of(fluid, cycle.levels, cycle.shares, cycle.condenser_pressure)
