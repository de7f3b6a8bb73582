"""The engine with fixed cut-off volumes away from its rated point, and the emptying of a mixed store."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator
from scipy.optimize import brentq

from tests.compiled import compiled
from tests.scalar.cycle import (
    Boiler,
    Cycle,
    InfeasibleError,
    Inputs,
    Stage,
    admission,
    boiler_exit,
    close_cycle,
    finish_stage,
    subcooled,
)
from tests.scalar.machine import FixedMachine
from tests.scalar.properties import Fluid, State, Water

GAUSS_X, GAUSS_W = (tuple(float(a) for a in row) for row in np.polynomial.legendre.leggauss(8))


class FixedEngine(NamedTuple):
    """Built-in volume ratios [-] and cut-off volumes [m3 per kg of rated flow] of the stages."""

    ratios: list[float]
    cut_offs: list[float]


class Point(NamedTuple):
    """Working point at one store temperature [K]; ``filling``: flow per revolution, 1 at the rated point."""

    T: float
    cycle: Cycle
    filling: float


def fix_engine(engine: Any, rated: Cycle) -> FixedEngine:
    """Freeze the rated engine."""
    c = engine.clearance_fraction
    return FixedEngine(
        [s.ratio for s in rated.stages], [((1.0 + c) / s.ratio - c) * s.swept for s in rated.stages]
    )


class _Entry(NamedTuple):
    """Everything of a stage that does not depend on the pressure behind it."""

    p: float
    h: float
    T: float
    admitted: State
    ratio: float
    u2: float


def _enter(fluid: Fluid, engine: Any, p: float, h: float, ratio: float) -> _Entry:
    T = fluid.ph(p, h).T
    _, admitted = admission(fluid, engine, p, h)
    # Ideal-gas cooling with an exponent of 1.1 is near enough to start the search for the end state.
    u2 = fluid.internal_energy_vs(ratio * admitted.v, admitted.s, admitted.T * ratio**-0.1)
    return _Entry(p, h, T, admitted, ratio, u2)


def _leave(fluid: Fluid, engine: Any, entry: _Entry, p_out: float) -> Stage:
    back = fluid.ps(p_out * (1.0 + engine.exhaust_pressure_loss), entry.admitted.s)
    return finish_stage(
        fluid, engine, entry.p, entry.h, entry.T, p_out, entry.admitted, entry.ratio, entry.u2, back
    )


def _solve_receiver(
    fluid: Fluid, engine: Any, fixed: FixedEngine, j: int, entry: _Entry, k_next: float | None, p_c: float,
    guess: float, reach: float,
) -> float:  # fmt: skip
    """Pressure [Pa] behind stage ``j`` at which the next stage admits what stage ``j`` passes.

    ``k_next`` is the next stage's loss factor; None if that stage is the last, whose factor is then known.
    """

    def miss(p: float) -> float:
        stage = _leave(fluid, engine, entry, p)
        if k_next is None:
            follower = _leave(fluid, engine, _enter(fluid, engine, p, stage.h_out, fixed.ratios[j + 1]), p_c)
            v, k = follower.v_in, follower.k
        else:
            v, k = admission(fluid, engine, p, stage.h_out)[1].v, k_next
        return fixed.cut_offs[j] / (stage.v_in * stage.k) * v * k / fixed.cut_offs[j + 1] - 1.0

    floor, ceiling = max(0.02 * p_c, fluid.p_lowest), entry.p
    low, high = max(floor, guess * (1.0 - reach)), min(ceiling, guess * (1.0 + reach))
    f_low, f_high = miss(low), miss(high)
    while f_low < 0 and low > floor:
        low, high, f_high = max(floor, 0.8 * low), low, f_low
        f_low = miss(low)
    while f_high > 0 and high < ceiling:
        low, f_low, high = high, f_high, min(ceiling, 1.25 * high)
        f_high = miss(high)
    if f_low * f_high > 0:
        raise InfeasibleError("receiver_pressure", abs(f_low))
    return float(brentq(miss, low, high, xtol=1e-11 * guess, rtol=1e-11))


def _march(
    fluid: Fluid, engine: Any, fixed: FixedEngine, first: _Entry, receivers: list[float], p_c: float
) -> list[Stage]:
    """All stages at given receiver pressures [Pa], whatever continuity says."""
    entry, stages = first, []
    for j, p in enumerate(receivers, 1):
        stages.append(_leave(fluid, engine, entry, p))
        entry = _enter(fluid, engine, p, stages[-1].h_out, fixed.ratios[j])
    return [*stages, _leave(fluid, engine, entry, p_c)]


def _quick_march(
    fluid: Fluid, engine: Any, fixed: FixedEngine, first: _Entry, guesses: list[float], p_c: float
) -> list[Stage] | None:
    """Broyden's method on the logarithms of the receiver pressures; None where it does not settle."""
    n = len(guesses)
    x = np.log(guesses)
    # An ideal gas at equal temperature gives this Jacobian: volume falls as pressure rises.
    jacobian = -np.eye(n) + np.eye(n, k=-1)
    low, high = math.log(max(0.02 * p_c, fluid.p_lowest)), math.log(first.p)
    old = step = None
    for _ in range(12):
        if x.min() < low or x.max() > high:
            return None
        stages = _march(fluid, engine, fixed, first, [float(p) for p in np.exp(x)], p_c)
        volumes = [math.log(s.v_in * s.k / a) for s, a in zip(stages, fixed.cut_offs, strict=True)]
        miss = np.diff(volumes)
        if abs(miss).max() < 1e-10:
            return stages
        if old is not None:
            jacobian += np.outer(miss - old - jacobian @ step, step) / (step @ step)
        step = -np.linalg.solve(jacobian, miss)
        x, old = x + step, miss
    return None


def fixed_march(
    fluid: Fluid, engine: Any, fixed: FixedEngine, boiler: Boiler, p_c: float, guesses: list[float],
    losses: list[float],
) -> list[Stage]:  # fmt: skip
    """All stages at the receiver pressures that continuity asks for.

    ``guesses``: inlet pressures [Pa] of stages 2.. to start from; ``losses``: their factors k.
    """
    first = _enter(fluid, engine, boiler.sat.p, boiler.exit.h, fixed.ratios[0])
    if not guesses:
        return [_leave(fluid, engine, first, p_c)]
    try:
        stages = _quick_march(fluid, engine, fixed, first, guesses, p_c)
    except (ArithmeticError, ValueError, np.linalg.LinAlgError):
        stages = None
    return stages or bracketed_march(fluid, engine, fixed, first, p_c, guesses, losses)


def bracketed_march(
    fluid: Fluid, engine: Any, fixed: FixedEngine, first: _Entry, p_c: float, guesses: list[float],
    losses: list[float],
) -> list[Stage]:  # fmt: skip
    """Return the same as :func:`fixed_march`, surely but slowly: one receiver after another by brentq."""
    n = len(fixed.ratios)
    receivers, ks = list(guesses), list(losses)
    for sweep in range(40):
        entry, stages, reach = first, [], 0.002 if sweep else 0.03
        for j in range(n - 1):
            k_next = ks[j] if j + 2 < n else None
            receivers[j] = _solve_receiver(fluid, engine, fixed, j, entry, k_next, p_c, receivers[j], reach)
            stages.append(_leave(fluid, engine, entry, receivers[j]))
            entry = _enter(fluid, engine, receivers[j], stages[-1].h_out, fixed.ratios[j + 1])
        stages.append(_leave(fluid, engine, entry, p_c))
        change = max((abs(s.k / k - 1.0) for s, k in zip(stages[1:-1], ks, strict=False)), default=0.0)
        ks = [s.k for s in stages[1:]]
        if change < 1e-9:
            return stages
    raise InfeasibleError("receiver_pressure", change)


class MixedEngine:
    """A fixed engine on a fully mixed store; solves working points on demand, each one once."""

    def __init__(self, fluid: Fluid, water: Water, engine: Any, inputs: Inputs, rated: Cycle) -> None:
        self.fluid, self.water, self.engine, self.inputs = fluid, water, engine, inputs
        self.fixed = fix_engine(engine, rated)
        self.condenser = rated.condenser
        self.liquid = subcooled(fluid, rated.condenser, inputs.subcooling)
        self.points = {self._rated_temperature(): Point(self._rated_temperature(), rated, 1.0)}

    def _rated_temperature(self) -> float:
        return self.inputs.T_evap + self.inputs.boil_approach

    def point(self, T: float) -> Point:
        """Working point with the store at ``T`` [K]."""
        if T not in self.points:
            self.points[T] = self._solve(T)
        return self.points[T]

    def _guess(self, p_boiler: float) -> tuple[list[float], list[float]]:
        """Receiver pressures [Pa] and loss factors extrapolated from the two nearest points solved."""
        log_p = math.log(p_boiler)

        def distance(point: Point) -> float:
            return abs(math.log(point.cycle.boilers[0].sat.p) - log_p)

        near = sorted(self.points.values(), key=distance)[:2]
        stages = near[0].cycle.stages
        slope = [1.0] * len(stages)
        gap = math.log(near[-1].cycle.boilers[0].sat.p / near[0].cycle.boilers[0].sat.p)
        if abs(gap) > 1e-6:
            slope = [
                math.log(b.p_in / a.p_in) / gap for a, b in zip(stages, near[1].cycle.stages, strict=True)
            ]
        ahead = p_boiler / near[0].cycle.boilers[0].sat.p
        receivers = [s.p_in * ahead**k for s, k in zip(stages[1:], slope[1:], strict=True)]
        return receivers, [s.k for s in stages[1:]]

    def _solve(self, T: float) -> Point:
        fluid, inputs = self.fluid, self.inputs
        boiler = boiler_exit(fluid, T - inputs.boil_approach, inputs.superheat)
        stages = fixed_march(
            fluid, self.engine, self.fixed, boiler, self.condenser.p, *self._guess(boiler.sat.p)
        )
        cycle = close_cycle(
            fluid, self.water, self.engine, inputs, [boiler], [1.0], [0.0], stages, [1.0] * len(stages),
            self.condenser, self.liquid,
        )  # fmt: skip
        first = stages[0]
        return Point(T, cycle, self.fixed.cut_offs[0] / (first.v_in * first.k))

    def lowest_temperature(self) -> float:
        """Store temperature [K] below which nothing is drawn: T_stop, or the zero of the net work."""
        low, high = self.inputs.T_stop, self._rated_temperature()
        if self.point(low).cycle.net > 0:
            return low
        if self.point(high).cycle.net <= 0:
            raise InfeasibleError("net_work", 1.0)
        return float(brentq(lambda T: self.point(float(T)).cycle.net, low, high, xtol=1e-7))


def work_of_store(plant: MixedEngine, water: Water, T_low: float, T_held: float) -> float:
    """Work [J per kg of water] from a store that cools from ``T_held`` to ``T_low`` [K]."""
    total = 0.0
    for x, weight in zip(GAUSS_X, GAUSS_W, strict=True):
        T = T_low + 0.5 * (x + 1.0) * (T_held - T_low)
        cycle = plant.point(T).cycle
        total += weight * water.c(T) * cycle.net / cycle.heat
    return 0.5 * (T_held - T_low) * total


class PowerMap(NamedTuple):
    """Engine on a mixed store over temperature: equally spaced samples from ``T_low`` [K]."""

    T_low: float
    spacing: float
    heat_rate: Sequence[float] | np.ndarray
    efficiency: Sequence[float] | np.ndarray

    def at(self, T: float) -> tuple[float, float]:
        """Heat rate [W] drawn in steady running, and efficiency [-], at store temperature ``T`` [K].

        Beyond the ends of the map the engine is taken as at the end.
        """
        rates, efficiencies = np.asarray(self.heat_rate, float), np.asarray(self.efficiency, float)
        return looked_up(float(T), float(self.T_low), float(self.spacing), rates, efficiencies)


@compiled
def looked_up(T, T_low, spacing, q, e):
    """Look up what :meth:`PowerMap.at` returns in the map's numbers."""
    x = max(0.0, (T - T_low) / spacing)
    i = min(int(x), len(q) - 2)
    x = min(x - i, 1.0)
    return q[i] + x * (q[i + 1] - q[i]), e[i] + x * (e[i + 1] - e[i])


def power_map(plant: MixedEngine, power: float, T_low: float, T_size: float, T_top: float) -> PowerMap:
    """Draw the map through the working points solved so far and the ends of the range.

    At full speed the flow is sized for ``power`` [W] at ``T_size``; warmer, the speed falls to hold it.
    """
    size, low, top = plant.point(T_size), plant.point(T_low), plant.point(T_top)
    solved = [p for T, p in sorted(plant.points.items()) if low.T <= T <= top.T]
    apart = [solved[0]]
    for point in solved[1:]:
        if point.T - apart[-1].T > 1e-3:
            apart.append(point)
    rows = np.array([(p.cycle.net, p.cycle.heat, p.filling) for p in apart])
    net, heat, filling = CubicSpline([p.T for p in apart], rows)(np.linspace(T_low, T_top, 401)).T
    full = power / size.cycle.net * filling / size.filling
    # At the zero of the net work the heat rate stays finite: it is limited by the flow, not by the power.
    rate = np.minimum(full * heat, power * heat / np.maximum(net, 1e-9))
    return PowerMap(T_low, (T_top - T_low) / 400, rate, np.maximum(net / heat, 0.0))


def governed_work_of_store(
    fixed: FixedMachine, water: Water, how: str, bends: Sequence[float], T_held: float
) -> float:
    """Shaft work [J per kg of water] of an engine governed by ``how`` on a store that cools to the first of the ``bends``.

    Between two ``bends`` [K] (lowest temperature, where the governor begins to act, where a load begins to hold a free
    engine, full store) by itself, for there the engine's line has a corner.
    """
    total = 0.0
    for start, end in pairwise(bends):
        low, high = min(start, T_held), min(end, T_held)
        for x, weight in zip(GAUSS_X, GAUSS_W, strict=True):
            if high > low:
                T = low + 0.5 * (x + 1.0) * (high - low)
                cycle = fixed.governed(T, how).cycle
                total += 0.5 * (high - low) * weight * water.c(T) * cycle.net / cycle.heat
    return total


# Between so many points the engine's heat rate and efficiency run straight to 1e-4.
POINTS_BELOW, POINTS_ABOVE = 6, 9
# A cut-off may spring where it begins to act: the line starts anew just above. Half a millikelvin changes nothing else.
JUST_ABOVE = 5e-4


def governed_map(fixed: FixedMachine, how: str, drive: float, bends: Sequence[float]) -> PowerMap:
    """Heat rate, and efficiency at the load behind a drive of efficiency ``drive``, over the temperature.

    A curve between each two ``bends`` [K], as in :func:`governed_work_of_store`. Above the second a cut-off may fall like
    a square root at first: the points stand closer towards it.
    """
    T_low, T_top = bends[0], bends[-1]
    apart = [T for T in bends[1:-1] if T_low + 2.0 * JUST_ABOVE < T < T_top - 2.0 * JUST_ABOVE]
    grid = np.linspace(T_low, T_top, 401)
    found = np.empty((401, 2))
    for j, (low, high) in enumerate(pairwise([T_low, *dict.fromkeys(apart), T_top])):
        n, power = (POINTS_ABOVE, 2) if j else (POINTS_BELOW, 1)
        T = low + (high - low) * np.linspace(0.0, 1.0, n) ** power
        T[0] += JUST_ABOVE if j else 0.0
        nodes = [fixed.governed(float(one), how) for one in T]
        values = np.array([(n.heat_rate, drive * n.cycle.net / n.cycle.heat) for n in nodes])
        here = (grid > low) if j else (grid >= low)
        found[here] = PchipInterpolator(T, values)(np.clip(grid[here], T[0], high))
    rate, efficiency = found.T
    return PowerMap(T_low, (T_top - T_low) / 400, rate, np.maximum(efficiency, 0.0))
