"""The rated cycle of one design: stages in series, one or several boilers, condenser, regenerator.

Symbols follow the design document's section 3 and 3b; SI units and kelvin throughout. ``engine``
is any object with the attributes of ``explore.config.schema.Engine``.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any, NamedTuple

from tests.scalar.laws import CONSTANT, Laws, cooling_drop, pump_efficiency
from tests.scalar.properties import GRAVITY, Fluid, Saturation, State, Water


class InfeasibleError(Exception):
    """A design that cannot be computed: the constraint it breaks and by how much (> 0)."""

    def __init__(self, name: str, amount: float) -> None:
        super().__init__(f"{name}: {amount}")
        self.name, self.amount = name, amount


class Inputs(NamedTuple):
    """One design and its surroundings in SI units; temperatures in K, not-applicable values are nan."""

    stratified: bool
    T_top: float
    T_evap: float
    T_evap_low: float
    boil_approach: float
    T_stop: float
    superheat: float
    T_cond: float
    subcooling: float
    pinch_boiler: float
    pinch_condenser: float
    stages: int
    levels: int
    theta: float
    effectiveness: float
    T_cw: float
    lift: float


class Stage(NamedTuple):
    """Results of one stage, per kg flowing through it.

    ``indicated`` [J] is the work per kg admitted, before leak and walls; ``T_star`` [K] belongs to loss-free
    expansion down to the back pressure; ``chi`` is the wall loss. ``v_in`` lies behind the valve.
    """

    p_in: float
    h_in: float
    v_in: float
    ratio: float
    k: float
    work: float
    h_out: float
    swept: float
    clearance_margin: float
    recompression_margin: float
    p_out: float
    T_star: float
    indicated: float
    chi: float


class Boiler(NamedTuple):
    """One boiler: saturation, exit state."""

    sat: Saturation
    exit: State


class Cycle(NamedTuple):
    """One working point; flows and works are per kg of the total fluid flow unless said otherwise.

    ``lifted``: liquid pumped from each boiler to the one above, counted from the second boiler.
    """

    boilers: list[Boiler]
    shares: list[float]
    stages: list[Stage]
    stage_flows: list[float]
    condenser: Saturation
    liquid: State
    h_feed: float
    T_feed: float
    T_exhaust: float
    h_to_condenser: float
    work: float
    pump_work: float
    circulation: float
    heat: float
    water: float
    T_out: float
    cooling: float
    lifted: list[State]

    @property
    def net(self) -> float:
        """Net work [J/kg]."""
        return self.work - self.pump_work - self.circulation


def boiler_exit(fluid: Fluid, T_evap: float, superheat: float) -> Boiler:
    """Saturation at ``T_evap`` [K] and the vapour ``superheat`` [K] above it."""
    sat = fluid.saturation(T_evap)
    out = fluid.single(sat.p, T_evap + superheat, sat.vapour) if superheat > 0 else sat.vapour
    return Boiler(sat, out)


def admission(fluid: Fluid, engine: Any, p_in: float, h_in: float) -> tuple[float, State]:
    """Pressure [Pa] and state behind the admission valve."""
    p = p_in * (1.0 - engine.admission_pressure_loss)
    return p, fluid.ph(p, h_in)


def finish_stage(
    fluid: Fluid, engine: Any, p_in: float, h_in: float, T_in: float, p_out: float, admitted: State,
    ratio: float, u2: float, back: State,
) -> Stage:  # fmt: skip
    """Work and exit of a stage whose expansion ends at ``u2`` [J/kg], built-in ratio ``ratio`` [-].

    ``back`` is the state at the back pressure with the entropy of admission. ``engine`` may be the engine's
    configuration (wall loss in proportion to the temperatures) or a ``StageLosses`` (wall loss given).
    """
    c = engine.clearance_fraction
    p_back = p_out * (1.0 + engine.exhaust_pressure_loss)
    span = max((1.0 + c) / ratio - c, 1e-6)
    m = c / span
    indicated = h_in - (1.0 + m) * (u2 + p_back * ratio * admitted.v) + m * back.h
    kept = 1.0 - engine.leakage_fraction
    chi = getattr(engine, "wall_loss_fraction", None)
    if chi is None:
        T_out = fluid.ph(p_out, h_in - kept * indicated).T
        chi = max(0.0, engine.wall_loss_per_K * (T_in - T_out))
    k = kept * (1.0 - chi)
    swept = admitted.v / span
    work = k * (indicated - engine.friction_mean_pressure_bar * 1e5 * swept)
    return Stage(
        p_in, h_in, admitted.v, ratio, k, work, h_in - k * indicated, k * swept,
        ratio * c / (1.0 + c) - 1.0, c * back.v / admitted.v / (1.0 + c) - 1.0,
        p_out, back.T, indicated, chi,
    )  # fmt: skip


def rated_stage(fluid: Fluid, engine: Any, p_in: float, h_in: float, p_out: float, theta: float) -> Stage:
    """Return a stage whose built-in ratio is chosen for release at ``theta`` [-] times the back pressure."""
    T_in = fluid.ph(p_in, h_in).T
    p1, admitted = admission(fluid, engine, p_in, h_in)
    p3 = p_out * (1.0 + engine.exhaust_pressure_loss)
    p2 = min(max(theta * p3, p3), p1)
    back = fluid.ps(p3, admitted.s)
    end = back if p2 == p3 else fluid.ps(p2, admitted.s)
    return finish_stage(
        fluid, engine, p_in, h_in, T_in, p_out, admitted, end.v / admitted.v, end.h - p2 * end.v, back
    )


def receiver_pressures(boiler_pressures: list[float], p_c: float, stages: int) -> list[float]:
    """Inlet pressures [Pa] of all stages and, last, the condenser pressure."""
    last = boiler_pressures[-1]
    n = stages - len(boiler_pressures) + 1
    return boiler_pressures[:-1] + [last * (p_c / last) ** (j / n) for j in range(n)] + [p_c]


def level_temperatures(inputs: Inputs) -> list[float]:
    """Evaporating temperatures [K] from the hottest boiler to the coldest."""
    if inputs.levels == 1:
        return [inputs.T_evap]
    middle = [math.sqrt(inputs.T_evap * inputs.T_evap_low)] if inputs.levels == 3 else []
    return [inputs.T_evap, *middle, inputs.T_evap_low]


def level_pumps(
    engine: Any, boilers: list[Boiler], laws: Laws = CONSTANT, drive: str = "engine"
) -> list[float]:
    """Work [J/kg] of the pump from each boiler to the one above; the first has none above it."""
    return [0.0] + [
        low.sat.liquid.v * (high.sat.p - low.sat.p)
        / pump_efficiency(laws, engine, high.sat.p - low.sat.p, drive)
        for high, low in pairwise(boilers)
    ]  # fmt: skip


def level_flows(
    boilers: list[Boiler], pumps: list[float], water: Water, T_top: float, pinch: float
) -> list[float]:
    """Flow made by each boiler, kg per kg of water; ``pumps`` [J/kg] lift the liquid to the level above."""
    flows: list[float] = []
    h_hot = water.h(T_top)
    for i, boiler in enumerate(boilers):
        h_cold = water.h(boiler.sat.T + pinch)
        left = h_hot - h_cold
        if i:
            lifted = boilers[i - 1].sat.liquid.h - boiler.sat.liquid.h - pumps[i]
            left -= sum(flows) * lifted
        flows.append(left / (boiler.exit.h - boiler.sat.liquid.h))
        if flows[i] <= 0:
            raise InfeasibleError(f"flow_of_level_{i + 1}", 1e-9 - flows[i] / abs(flows[0]))
        h_hot = h_cold
    return flows


def march(
    fluid: Fluid, engine: Any, boilers: list[Boiler], flows: list[float], inputs: Inputs, p_c: float
) -> tuple[list[Stage], list[float]]:
    """Stages in series with fresh vapour joining at the receivers; flows as in ``flows``."""
    p = receiver_pressures([b.sat.p for b in boilers], p_c, inputs.stages)
    stages: list[Stage] = []
    through: list[float] = []
    flow, h = 0.0, 0.0
    for j in range(inputs.stages):
        if j < len(boilers):
            h = (flow * h + flows[j] * boilers[j].exit.h) / (flow + flows[j])
            flow += flows[j]
        stage = rated_stage(fluid, engine, p[j], h, p[j + 1], inputs.theta)
        h = stage.h_out
        stages.append(stage)
        through.append(flow)
    return stages, through


def subcooled(fluid: Fluid, sat: Saturation, subcooling: float) -> State:
    """Liquid leaving the condenser."""
    return fluid.single(sat.p, sat.T - subcooling, sat.liquid) if subcooling > 0 else sat.liquid


def regenerate(
    fluid: Fluid, effectiveness: float, h_exhaust: float, cond: Saturation, boil: Saturation,
    h_feed: float, feed: State,
) -> float:  # fmt: skip
    """Heat [J/kg] from the exhaust vapour to the feed, which is not warmed beyond its bubble point."""
    if not effectiveness > 0 or h_exhaust <= cond.vapour.h:
        return 0.0
    T_exhaust = fluid.ph(cond.p, h_exhaust).T
    if T_exhaust <= feed.T:
        return 0.0
    coldest = fluid.single(cond.p, feed.T, cond.vapour).h if feed.T > cond.T else cond.vapour.h
    warmest = boil.liquid.h
    if T_exhaust < boil.T:
        warmest = min(warmest, fluid.single(boil.p, T_exhaust, fluid.saturation(T_exhaust).liquid).h)
    return effectiveness * max(0.0, min(h_exhaust - coldest, warmest - h_feed))


def close_cycle(
    fluid: Fluid, water: Water, engine: Any, inputs: Inputs, boilers: list[Boiler], flows: list[float],
    pumps: list[float], stages: list[Stage], through: list[float], cond: Saturation, liquid: State,
    laws: Laws = CONSTANT, pump_drive: str = "engine",
) -> Cycle:  # fmt: skip
    """Add pump, regenerator, both water streams and the works to the marched stages.

    ``flows`` and ``through`` are per kg of water on a stratified store, per kg of fluid on a mixed one.
    """
    total = sum(flows)
    coldest = boilers[-1].sat
    feed_work = liquid.v * (coldest.p - cond.p)
    feed_work /= pump_efficiency(laws, engine, coldest.p - cond.p, pump_drive)
    lift_work = sum(sum(flows[:i]) * pumps[i] for i in range(1, len(flows))) / total
    lifted = [
        fluid.liquid_ph(high.sat.p, low.sat.liquid.h + pump, low.sat.liquid)
        for (high, low), pump in zip(pairwise(boilers), pumps[1:], strict=True)
    ]
    h_feed = liquid.h + feed_work
    feed = fluid.liquid_ph(coldest.p, h_feed, liquid)
    q = regenerate(fluid, inputs.effectiveness, stages[-1].h_out, cond, coldest, h_feed, feed)
    T_feed = feed.T
    if q > 0:
        h_feed += q
        T_feed = fluid.liquid_ph(coldest.p, h_feed, feed).T
    h_to_condenser = stages[-1].h_out - q
    h_pinch = water.h(max(inputs.T_cond - inputs.pinch_condenser, inputs.T_cw + 0.01))
    cooling = (min(h_to_condenser, cond.vapour.h) - liquid.h) / (h_pinch - water.h(inputs.T_cw))
    if inputs.stratified:
        h_low = water.h(coldest.T + inputs.pinch_boiler) - total * (coldest.liquid.h - h_feed)
        T_out, per_fluid = water.temperature(h_low), 1.0 / total
        heat = (water.h(inputs.T_top) - h_low) / total
    else:
        T_out, per_fluid, heat = math.nan, 0.0, boilers[0].exit.h - h_feed
    work = sum(f * s.work for f, s in zip(through, stages, strict=True)) / total
    warmed = water.temperature(water.h(inputs.T_cw) + (h_to_condenser - liquid.h) / cooling)
    streams = per_fluid * engine.water_pressure_drop_bar * 1e5 / water.rho(inputs.T_top)
    drop = cooling_drop(laws, engine, warmed - inputs.T_cw)
    streams += cooling * (drop / water.rho(inputs.T_cw) + GRAVITY * inputs.lift)
    return Cycle(
        boilers, [f / total for f in flows], stages, [f / total for f in through], cond, liquid, h_feed,
        T_feed, fluid.ph(cond.p, h_to_condenser).T, h_to_condenser, work, feed_work + lift_work,
        streams / engine.water_pump_efficiency, heat, per_fluid, T_out, cooling, lifted,
    )  # fmt: skip


def rated_cycle(fluid: Fluid, water: Water, engine: Any, inputs: Inputs) -> Cycle:
    """Return the cycle at its rated point; on a mixed store ``T_evap`` is the rated boiler temperature."""
    cond = fluid.saturation(inputs.T_cond)
    boilers = [boiler_exit(fluid, T, inputs.superheat) for T in level_temperatures(inputs)]
    pumps = level_pumps(engine, boilers)
    flows = [1.0]
    if inputs.stratified:
        flows = level_flows(boilers, pumps, water, inputs.T_top, inputs.pinch_boiler)
    stages, through = march(fluid, engine, boilers, flows, inputs, cond.p)
    liquid = subcooled(fluid, cond, inputs.subcooling)
    return close_cycle(fluid, water, engine, inputs, boilers, flows, pumps, stages, through, cond, liquid)
