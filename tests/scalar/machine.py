"""Engines whose losses follow from their own cylinders: sizing, part load and governing.

Every stage is solved until its losses agree with the states they make, and the cylinders until they agree with
the flow: the converged fixed point is the contract. Symbols follow the design document's sections 3L, 4
and 4G; SI units, kelvin, speeds in rev/s.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from scipy.optimize import brentq

from tests.scalar.cycle import (
    Boiler,
    Cycle,
    InfeasibleError,
    Inputs,
    Stage,
    boiler_exit,
    close_cycle,
    finish_stage,
    level_flows,
    level_pumps,
    level_temperatures,
    receiver_pressures,
    subcooled,
)
from tests.scalar.laws import (
    BAR,
    Cylinder,
    Inlet,
    Laws,
    Load,
    StageLosses,
    cut_off_fraction,
    cylinder_of,
    friction_pressure,
    gap_flow,
    leak_fraction,
    port_mach,
    valve_drop,
    wall_fraction,
)
from tests.scalar.properties import Fluid, State, Water

SETTLED = 1e-12
# Sweeps taken whole settle in a dozen where the machine gives work; the rest is for designs near none.
SWEEPS, WHOLE = 400, 40
HALF_WORK, LEAST_WORK = 0.5, 0.05
CUT_OFF_LEAST = 0.05


class Ask(NamedTuple):
    """Engine's shaft power [W], its speed [rev/s], cylinders side by side in a stage, stock bores [m] if any."""

    power: float
    speed: float
    count: int
    bores: tuple[float, ...] = ()


class Plant(NamedTuple):
    """What all working points of a design have in common."""

    fluid: Fluid
    water: Water
    engine: Any
    inputs: Inputs
    laws: Laws
    load: Load
    ask: Ask


def inlet_of(fluid: Fluid, p: float, h: float) -> Inlet:
    """Return the state before a valve and the saturation that its walls see."""
    here, dew, bubble = fluid.ph(p, h), fluid.dew(p), fluid.bubble(p)
    return Inlet(p, here.T, here.v, dew.T, dew.v, dew.h - bubble.h, 1.0 / bubble.v, max(0.0, h - dew.h))


def losses_of(
    fluid: Fluid, laws: Laws, inlet: Inlet, stage: Stage, cylinder: Cylinder, speed: float
) -> StageLosses:
    """Losses that the laws give for the states of ``stage`` in ``cylinder`` at ``speed`` [rev/s]."""
    U = 2.0 * cylinder.stroke * speed
    eps = cut_off_fraction(laws.clearance, stage.ratio)
    v_out = fluid.ph(stage.p_out, stage.h_out).v
    j = gap_flow(laws, cylinder.bore, inlet.p, inlet.v, stage.p_out)
    swept_per_admitted = stage.swept / stage.k
    return StageLosses(
        valve_drop(laws, U, laws.port_in, inlet.p, inlet.v, 0.5),
        valve_drop(laws, U, laws.port_out, stage.p_out, v_out, 1.0),
        laws.clearance,
        leak_fraction(laws, j, cylinder.bore, U, eps),
        wall_fraction(laws, inlet, stage.T_star, cylinder, eps, speed),
        friction_pressure(laws, stage.indicated / swept_per_admitted, cylinder.bore, U) / BAR,
    )


def first_losses(laws: Laws) -> StageLosses:
    """Losses of the first march: still valves, nothing lost by leak, walls and friction."""
    return StageLosses(laws.drop_0, laws.drop_0, laws.clearance, 0.0, 0.0, 0.0)


def settle(
    fluid: Fluid, laws: Laws, inlet: Inlet, cylinder: Cylinder, speed: float,
    build: Callable[[StageLosses], Stage], losses: StageLosses,
) -> tuple[Stage, StageLosses]:  # fmt: skip
    """Return the stage whose losses are those of its own states; ``losses`` is where the search starts."""
    change = math.inf
    for sweep in range(SWEEPS):
        stage = build(losses)
        new = losses_of(fluid, laws, inlet, stage, cylinder, speed)
        last, change = change, max(abs(a - b) for a, b in zip(new, losses, strict=True))
        if change < SETTLED or (sweep > 8 and change < 1e-10 and change >= last):
            return stage, new
        if sweep >= WHOLE:
            new = StageLosses(*(0.5 * (a + b) for a, b in zip(new, losses, strict=True)))
        losses = new
    raise InfeasibleError("stage_losses", change)


def _rated_build(
    fluid: Fluid, inlet: Inlet, h: float, p_out: float, theta: float
) -> Callable[[StageLosses], Stage]:
    """Stage whose built-in ratio is chosen for release at ``theta`` times the back pressure."""

    def build(losses: StageLosses) -> Stage:
        p1 = inlet.p * (1.0 - losses.admission_pressure_loss)
        admitted = fluid.ph(p1, h)
        p3 = p_out * (1.0 + losses.exhaust_pressure_loss)
        p2 = min(max(theta * p3, p3), p1)
        back = fluid.ps(p3, admitted.s)
        end = back if p2 == p3 else fluid.ps(p2, admitted.s)
        return finish_stage(
            fluid, losses, inlet.p, h, inlet.T, p_out, admitted, end.v / admitted.v, end.h - p2 * end.v, back
        )

    return build


class _Entry(NamedTuple):
    """A stage of given ratio up to the end of its expansion, which does not depend on what lies behind."""

    inlet: Inlet
    h: float
    admitted: State
    ratio: float
    u2: float


def _enter(plant: Plant, cylinder: Cylinder, speed: float, p: float, h: float, ratio: float) -> _Entry:
    fluid, laws = plant.fluid, plant.laws
    inlet = inlet_of(fluid, p, h)
    drop = valve_drop(laws, 2.0 * cylinder.stroke * speed, laws.port_in, p, inlet.v, 0.5)
    admitted = fluid.ph(p * (1.0 - drop), h)
    u2 = fluid.internal_energy_vs(ratio * admitted.v, admitted.s, admitted.T * ratio**-0.1)
    return _Entry(inlet, h, admitted, ratio, u2)


def _leave_build(fluid: Fluid, entry: _Entry, p_out: float) -> Callable[[StageLosses], Stage]:
    def build(losses: StageLosses) -> Stage:
        back = fluid.ps(p_out * (1.0 + losses.exhaust_pressure_loss), entry.admitted.s)
        return finish_stage(
            fluid, losses, entry.inlet.p, entry.h, entry.inlet.T, p_out, entry.admitted, entry.ratio,
            entry.u2, back,
        )  # fmt: skip

    return build


def rated_march(
    plant: Plant, boilers: list[Boiler], flows: list[float], p_c: float,
    cylinders: list[Cylinder] | None, known: list[StageLosses] | None,
) -> tuple[list[Stage], list[float], list[StageLosses]]:  # fmt: skip
    """Stages in series with fresh vapour joining at the receivers, losses those of ``cylinders``.

    Without ``cylinders`` it is the first march, with the losses of :func:`first_losses`. ``known``: losses to start
    from. Return stages, the flow through each (as ``flows``) and their losses.
    """
    fluid, laws, n = plant.fluid, plant.laws, plant.inputs.stages
    p = receiver_pressures([b.sat.p for b in boilers], p_c, n)
    stages: list[Stage] = []
    through: list[float] = []
    found: list[StageLosses] = []
    flow, h = 0.0, 0.0
    for j in range(n):
        if j < len(boilers):
            h = (flow * h + flows[j] * boilers[j].exit.h) / (flow + flows[j])
            flow += flows[j]
        inlet = inlet_of(fluid, p[j], h)
        build = _rated_build(fluid, inlet, h, p[j + 1], plant.inputs.theta)
        losses = known[j] if known else first_losses(laws)
        if cylinders is None:
            stage = build(losses)
        else:
            stage, losses = settle(fluid, laws, inlet, cylinders[j], plant.ask.speed, build, losses)
        h = stage.h_out
        stages.append(stage)
        through.append(flow)
        found.append(losses)
    return stages, through, found


def isentropic_drop(fluid: Fluid, boilers: list[Boiler], flows: list[float], p_c: float) -> float:
    """Work [J/kg] of loss-free expansion from the boilers to the condenser, summed over the levels."""
    drops = [b.exit.h - fluid.ps(p_c, b.exit.s).h for b in boilers]
    return sum(f * d for f, d in zip(flows, drops, strict=True)) / sum(flows)


class Sized(NamedTuple):
    """Cylinders that give the power asked for, and the cycles they run.

    ``rated``: the cycle at the rated point; ``at_size``: where the cylinders were sized (the same on a stratified
    store); ``flow`` [kg/s] there; ``losses``: those of the rated point; ``residual``: last relative change.
    """

    cylinders: list[Cylinder]
    rated: Cycle
    losses: list[StageLosses]
    at_size: Cycle
    flow: float
    residual: float
    mach: float


def _next_volumes(old: list[float], new: list[float], sweep: int) -> list[float]:
    """Sweeps are taken whole; later the geometric mean calms those that swing."""
    return new if sweep < WHOLE else [math.sqrt(a * b) for a, b in zip(old, new, strict=True)]


def worst_mach(plant: Plant, stages: list[Stage], cylinders: list[Cylinder], speed: float) -> float:
    """Greatest port Mach index of the stages, less its limit."""
    values = []
    for stage, cylinder in zip(stages, cylinders, strict=True):
        v = plant.fluid.ph(stage.p_in, stage.h_in).v
        values.append(port_mach(plant.laws, 2.0 * cylinder.stroke * speed, stage.p_in, v))
    return max(values)


def stock_bore(bore: float, stock: tuple[float, ...]) -> float:
    """Next larger bore [m] in stock; beyond the largest there is none, and the bore stays as it is."""
    return min((b for b in stock if b >= bore), default=bore)


def _to_fixed_point(
    plant: Plant, volumes: list[float], sweep: Callable[[list[Cylinder]], list[float]]
) -> tuple[list[Cylinder], float]:
    """Sweep the volumes [m3] until they stay; then, with stock bores, once more with the bores held.

    ``sweep`` makes the volumes that the flow through given cylinders asks for. Return the cylinders and the last
    relative change.
    """
    bores: list[float | None] = [None] * len(volumes)
    for _ in range(2 if plant.ask.bores else 1):
        for step in range(SWEEPS):
            cylinders = [
                cylinder_of(plant.laws, v, plant.ask.count, b) for v, b in zip(volumes, bores, strict=True)
            ]
            new = sweep(cylinders)
            change = max(abs(b / a - 1.0) for a, b in zip(volumes, new, strict=True))
            if change < 1e-10:
                break
            volumes = _next_volumes(volumes, new, step)
        bores = [stock_bore(c.bore, plant.ask.bores) for c in cylinders]
    return cylinders, change


def size_stratified(plant: Plant) -> Sized:
    """Cylinders of an engine that always runs at its rated point."""
    fluid, inputs, laws, ask = plant.fluid, plant.inputs, plant.laws, plant.ask
    cond = fluid.saturation(inputs.T_cond)
    liquid = subcooled(fluid, cond, inputs.subcooling)
    boilers = [boiler_exit(fluid, T, inputs.superheat) for T in level_temperatures(inputs)]
    pumps = level_pumps(plant.engine, boilers, laws, plant.load.pump_drive)
    flows = level_flows(boilers, pumps, plant.water, inputs.T_top, inputs.pinch_boiler)
    drop, turning = isentropic_drop(fluid, boilers, flows, cond.p), ask.speed * laws.acting
    total = sum(flows)

    def volumes_for(stages: list[Stage], through: list[float], work: float) -> list[float]:
        return [
            s.swept * f / total * ask.power / work / turning for s, f in zip(stages, through, strict=True)
        ]

    stages, through, _ = rated_march(plant, boilers, flows, cond.p, None, None)
    first = volumes_for(stages, through, HALF_WORK * drop)
    state: dict[str, Any] = {"losses": None}

    def sweep(cylinders: list[Cylinder]) -> list[float]:
        stages, through, losses = rated_march(plant, boilers, flows, cond.p, cylinders, state["losses"])
        cycle = close_cycle(
            fluid, plant.water, plant.engine, inputs, boilers, flows, pumps, stages, through, cond, liquid,
            laws, plant.load.pump_drive,
        )  # fmt: skip
        work = cycle.net if cycle.net > 0 else LEAST_WORK * drop
        state.update(losses=losses, cycle=cycle, work=work)
        return volumes_for(stages, through, work)

    cylinders, change = _to_fixed_point(plant, first, sweep)
    cycle = state["cycle"]
    mach = worst_mach(plant, cycle.stages, cylinders, ask.speed)
    return Sized(cylinders, cycle, state["losses"], cycle, ask.power / state["work"], change, mach)


class Node(NamedTuple):
    """A working point of a fixed engine: store temperature [K], speed [rev/s], flow [kg/s], inlet [Pa], cut-off.

    ``losses``: those of its stages.
    """

    T: float
    cycle: Cycle
    speed: float
    flow: float
    p_inlet: float
    cut_off: float
    losses: list[StageLosses]

    @property
    def power(self) -> float:
        """Net power [W] at the engine's shaft."""
        return self.flow * self.cycle.net

    @property
    def heat_rate(self) -> float:
        """Heat [W] taken from the store."""
        return self.flow * self.cycle.heat


class FixedMachine:
    """An engine with given cylinders and built-in ratios on a fully mixed store."""

    def __init__(self, plant: Plant, cylinders: list[Cylinder], ratios: list[float]) -> None:
        self.plant, self.cylinders, self.ratios = plant, cylinders, ratios
        c, inputs, fluid = plant.laws.clearance, plant.inputs, plant.fluid
        self.cut_offs = [(1.0 + c) / r - c for r in ratios]
        self.condenser = fluid.saturation(inputs.T_cond)
        self.liquid = subcooled(fluid, self.condenser, inputs.subcooling)
        self.losses = [first_losses(plant.laws) for _ in ratios]
        self.receivers: list[float] = []
        self.nodes: dict[tuple[str, float], Node] = {}

    def _leave(self, j: int, entry: _Entry, p_out: float, speed: float) -> Stage:
        plant = self.plant
        stage, self.losses[j] = settle(
            plant.fluid, plant.laws, entry.inlet, self.cylinders[j], speed,
            _leave_build(plant.fluid, entry, p_out), self.losses[j],
        )  # fmt: skip
        return stage

    def _march(self, first: _Entry, receivers: list[float], speed: float) -> list[Stage]:
        entry, stages = first, []
        for j, p in enumerate(receivers, 1):
            stages.append(self._leave(j - 1, entry, p, speed))
            entry = _enter(self.plant, self.cylinders[j], speed, p, stages[-1].h_out, self.ratios[j])
        return [*stages, self._leave(len(receivers), entry, self.condenser.p, speed)]

    def _per_turn(self, j: int, stage: Stage, cut_off: float) -> float:
        """Mass [kg] that passes stage ``j`` in a revolution."""
        return cut_off * self.cylinders[j].volume * self.plant.laws.acting / (stage.v_in * stage.k)

    def _quick(
        self, first: _Entry, cut_offs: list[float], guesses: list[float], speed: float
    ) -> list[Stage] | None:
        """Broyden's method on the logarithms of the receiver pressures; None where it does not settle."""
        n = len(guesses)
        x = np.log(guesses)
        jacobian = -np.eye(n) + np.eye(n, k=-1)
        low = math.log(max(0.02 * self.condenser.p, self.plant.fluid.p_lowest))
        high = math.log(first.inlet.p)
        old = step = None
        for _ in range(25):
            if x.min() < low or x.max() > high:
                return None
            stages = self._march(first, [float(p) for p in np.exp(x)], speed)
            flows = [self._per_turn(j, s, e) for j, (s, e) in enumerate(zip(stages, cut_offs, strict=True))]
            miss = np.diff(-np.log(flows))
            if abs(miss).max() < 1e-11:
                return stages
            if old is not None and step is not None:
                jacobian += np.outer(miss - old - jacobian @ step, step) / (step @ step)
            step = np.clip(-np.linalg.solve(jacobian, miss), -0.3, 0.3)
            x, old = x + step, miss
        return None

    def tail(self, j: int, entry: _Entry, cut_offs: list[float], speed: float) -> list[Stage]:
        """Stages ``j`` to the last, surely but slowly: the receiver behind ``j`` by bracketing."""
        n = len(self.ratios)
        if j == n - 1:
            return [self._leave(j, entry, self.condenser.p, speed)]

        def follow(p: float) -> list[Stage]:
            stage = self._leave(j, entry, p, speed)
            after = _enter(self.plant, self.cylinders[j + 1], speed, p, stage.h_out, self.ratios[j + 1])
            return [stage, *self.tail(j + 1, after, cut_offs, speed)]

        def miss(x: float) -> float:
            stages = follow(math.exp(x))
            ahead = self._per_turn(j, stages[0], cut_offs[j])
            return math.log(ahead / self._per_turn(j + 1, stages[1], cut_offs[j + 1]))

        low = math.log(max(0.02 * self.condenser.p, self.plant.fluid.p_lowest))
        high = math.log(entry.inlet.p)
        grid = np.linspace(high, low, 13)
        f_above = miss(grid[0])
        for above, below in pairwise(grid):
            f_below = miss(below)
            if f_above <= 0.0 <= f_below:
                return follow(math.exp(brentq(miss, below, above, xtol=1e-12, rtol=1e-12)))
            f_above = f_below
        raise InfeasibleError("receiver_pressure", abs(f_above))

    def working(
        self, T: float, speed: float, p_inlet: float | None = None, cut_off: float | None = None
    ) -> Node:
        """Working point at store temperature ``T`` [K], ``speed`` [rev/s], behind a throttle at ``p_inlet`` [Pa].

        ``cut_off`` of stage 1 is the built one unless given.
        """
        plant = self.plant
        inputs, c = plant.inputs, plant.laws.clearance
        boiler = boiler_exit(plant.fluid, T - inputs.boil_approach, inputs.superheat)
        p = boiler.sat.p if p_inlet is None else p_inlet
        eps = self.cut_offs[0] if cut_off is None else cut_off
        cut_offs = [eps, *self.cut_offs[1:]]
        ratio = (1.0 + c) / (eps + c)
        first = _enter(plant, self.cylinders[0], speed, p, boiler.exit.h, ratio)
        stages = self._stages(first, cut_offs, speed)
        cycle = close_cycle(
            plant.fluid, plant.water, plant.engine, inputs, [boiler], [1.0], [0.0], stages,
            [1.0] * len(stages), self.condenser, self.liquid, plant.laws, plant.load.pump_drive,
        )  # fmt: skip
        flow = speed * self._per_turn(0, stages[0], eps)
        return Node(T, cycle, speed, flow, p, eps, list(self.losses))

    def _stages(self, first: _Entry, cut_offs: list[float], speed: float) -> list[Stage]:
        n = len(self.ratios)
        if n == 1:
            return [self._leave(0, first, self.condenser.p, speed)]
        even = receiver_pressures([first.inlet.p], self.condenser.p, n)[1:-1]
        guesses = [p * first.inlet.p for p in self.receivers] or even
        try:
            stages = self._quick(first, cut_offs, guesses, speed)
            stages = stages or self._quick(first, cut_offs, even, speed)
        except (ArithmeticError, ValueError, np.linalg.LinAlgError, InfeasibleError):
            stages = None
        stages = stages or self.tail(0, first, cut_offs, speed)
        self.receivers = [s.p_in / first.inlet.p for s in stages[1:]]
        return stages

    def full(self, T: float) -> Node:
        """Full admission at full speed, no governor."""
        return self._kept("full", T, lambda: self.working(T, self.plant.ask.speed))

    def governed(self, T: float, how: str) -> Node:
        """Working point under the governor ``how``; at and below the sizing temperature the ungoverned one."""
        return self._kept(how, T, lambda: self._govern(T, how))

    def _kept(self, how: str, T: float, solve: Callable[[], Node]) -> Node:
        if (how, T) not in self.nodes:
            self.nodes[how, T] = solve()
        return self.nodes[how, T]

    def _govern(self, T: float, how: str) -> Node:
        power, speed = self.plant.ask.power, self.plant.ask.speed
        most = power * (self.plant.load.power_may_rise if how == "free" else 1.0)
        full = self.full(T)
        if full.power <= most * (1.0 + 1e-7):
            return full
        if how == "speed":
            return _hold(full, most, lambda x: self.working(T, speed * math.exp(-x)), math.inf)
        if how == "cut_off":
            built = self.cut_offs[0]
            reach = math.log(built / min(CUT_OFF_LEAST, built))
            earliest = self.working(T, speed, cut_off=built * math.exp(-reach))
            if earliest.power <= most:
                return _hold(
                    full, most, lambda x: self.working(T, speed, cut_off=built * math.exp(-x)), reach
                )
            eps = earliest.cut_off
            return _hold(
                earliest, most, lambda x: self.working(T, speed, full.p_inlet * math.exp(-x), eps), math.inf
            )
        return _hold(full, most, lambda x: self.working(T, speed, full.p_inlet * math.exp(-x)), math.inf)


def _hold(full: Node, power: float, at: Callable[[float], Node], reach: float) -> Node:
    """Node at the depth x of governing (0: none, ``reach``: most) where the power is ``power`` [W]."""

    def miss(x: float) -> float:
        return at(x).power / power - 1.0

    low, f_low = 0.0, full.power / power - 1.0
    high = min(reach, max(1.1 * math.log1p(f_low), 0.02))
    while miss(high) > 0.0:
        if high >= reach:
            return at(reach)
        low, high = high, min(reach, 1.4 * high)
        if high > 20.0:
            raise InfeasibleError("governor", 1.0)
    x = brentq(miss, low, high, xtol=1e-13, rtol=1e-11) if miss(low) > 0 else low
    return at(float(x))


class MixedMachine(NamedTuple):
    """A sized engine on a fully mixed store, and the temperature [K] it was sized at."""

    sized: Sized
    fixed: FixedMachine
    T_size: float


def size_mixed(plant: Plant, T_size: float) -> MixedMachine:
    """Cylinders that give the power at ``T_size`` [K], ratios and proportions those of the rated point.

    First volumes: the loss-free march of the rated point with half the work of loss-free expansion.
    """
    fluid, inputs, laws, ask = plant.fluid, plant.inputs, plant.laws, plant.ask
    cond = fluid.saturation(inputs.T_cond)
    liquid = subcooled(fluid, cond, inputs.subcooling)
    boilers = [boiler_exit(fluid, inputs.T_evap, inputs.superheat)]
    at_size = boiler_exit(fluid, T_size - inputs.boil_approach, inputs.superheat)
    drop = isentropic_drop(fluid, boilers, [1.0], cond.p)
    drop_size = isentropic_drop(fluid, [at_size], [1.0], cond.p)
    turning = ask.speed * laws.acting
    stages, _, _ = rated_march(plant, boilers, [1.0], cond.p, None, None)
    state: dict[str, Any] = {"losses": None, "fixed": None}

    def sweep(cylinders: list[Cylinder]) -> list[float]:
        stages, _, losses = rated_march(plant, boilers, [1.0], cond.p, cylinders, state["losses"])
        before = state["fixed"]
        fixed = FixedMachine(plant, cylinders, [s.ratio for s in stages])
        if before is not None:
            fixed.receivers, fixed.losses = before.receivers, before.losses
        node = fixed.working(T_size, ask.speed)
        work = node.cycle.net if node.cycle.net > 0 else LEAST_WORK * drop_size
        first = node.cycle.stages[0].swept * ask.power / (work * turning)
        state.update(losses=losses, fixed=fixed, node=node, stages=stages)
        return [first * s.swept / stages[0].swept for s in stages]

    start = [s.swept * ask.power / (HALF_WORK * drop * turning) for s in stages]
    cylinders, change = _to_fixed_point(plant, start, sweep)
    stages, losses, fixed, node = (state[k] for k in ("stages", "losses", "fixed", "node"))
    rated = close_cycle(
        fluid, plant.water, plant.engine, inputs, boilers, [1.0], [0.0], stages, [1.0] * len(stages), cond,
        liquid, laws,
        plant.load.pump_drive,
    )  # fmt: skip
    fixed.nodes["full", T_size] = node
    mach = max(worst_mach(plant, s, cylinders, ask.speed) for s in (stages, node.cycle.stages))
    return MixedMachine(Sized(cylinders, rated, losses, node.cycle, node.flow, change, mach), fixed, T_size)


def limit_temperature(fixed: FixedMachine, T_size: float, T_top: float) -> float:
    """Store temperature [K] from which a free engine gives more than its load takes; ``T_top`` if it never does."""
    most = fixed.plant.ask.power * fixed.plant.load.power_may_rise
    if fixed.full(T_top).power <= most:
        return T_top
    return float(brentq(lambda T: fixed.full(float(T)).power - most, T_size, T_top, xtol=1e-4))


def lowest_temperature(fixed: FixedMachine, T_stop: float, T_high: float) -> float:
    """Store temperature [K] below which nothing is drawn: ``T_stop``, or the zero of the net work."""
    if fixed.full(T_stop).cycle.net > 0:
        return T_stop
    if fixed.full(T_high).cycle.net <= 0:
        raise InfeasibleError("net_work", 1.0)
    return float(brentq(lambda T: fixed.full(float(T)).cycle.net, T_stop, T_high, xtol=1e-7))
