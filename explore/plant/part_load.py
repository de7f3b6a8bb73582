"""A fixed engine away from its rated point.

The cut-off volumes and built-in ratios are those of the rated point; the receiver pressures follow from
the continuity of mass through the stages. Losses are constants, or follow at every state from the laws with the
cylinders as they are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import add
from typing import NamedTuple

import numpy as np

from explore.fluids.interface import Array, Index, Vapour, WorkingFluid
from explore.plant.engine import Inlet, Losses, Stage, admit, exhausted, finish
from explore.plant.losses import StageLosses
from explore.plant.roots import falling_root
from explore.plant.settle import Leaks, Walls, calmed, run_losses

SWEEPS = {1: 1, 2: 6, 3: 9}
"""By number of stages, with constant losses: against 20 and 30 sweeps they leave 1.4e-10 of the flow at most over 86
designs of the orchard; four and six left 2e-8, and the contract is 1e-8 (model, section 4)."""
EXTRAPOLATE_AFTER = (3, 6)
"""Sweeps after which Aitken's limit is taken of the shares kept: without it the same sweeps leave 2e-7 of the
flow."""
RELEASE_STEPS = 4
"""Newton's steps to the pressure at the end of expansion: they leave 1e-14 of the flow, three 4e-11."""
RECEIVER_STEPS = (4, 2)
"""Steps to a receiver's pressure, from a rough guess and from that of the sweep before. With constant losses they
leave 5e-11 of the flow; with the laws 1e-11 of the work of half the designs and 1.6e-4 of the worst of 184. Three and
one lose engines."""
LAW_SWEEPS = {1: 2, 2: 4, 3: 8}
"""By number of stages. Losses at a node start from those at the rated point; these leave 5e-4 of the power at most
(tests/plant/test_part_load.py)."""
WARM_STEPS = 1
"""Steps to a root whose value in the sweep before is the guess; the sweeps bring the rest."""


class FixedEngine(NamedTuple):
    """What is cut in metal, one array (n,) for each stage.

    The built-in ratio r [-], the admission volume of the rated point per kg [m3/kg] (v1' k), its share kept
    k [-] and its pressure ratio [-] as first guesses.
    """

    volume_ratios: list[Array]
    admissions: list[Array]
    kept: list[Array]
    pressure_ratios: list[Array]

    def take(self, index: Index) -> FixedEngine:
        """Return the engines ``index`` of the batch."""
        return FixedEngine(*([column[index] for column in columns] for columns in self))


def freeze(stages: list[Stage]) -> FixedEngine:
    """Take the fixed engine from its stages at the rated point."""
    return FixedEngine(
        [s.volume_ratio for s in stages],
        [s.inlet.volume * s.kept for s in stages],
        [s.kept for s in stages],
        [s.exhaust_pressure / s.inlet.pressure for s in stages],
    )


def release_state(
    fluid: WorkingFluid,
    inlet: Inlet,
    volume_ratio: Array,
    near: Array | None = None,
) -> tuple[Array, Array, Array]:
    """End of expansion (p2 [Pa], h2 [J/kg], v2 [m3/kg]) at v2 = r v1' and the inlet's entropy.

    ``near`` is its pressure [Pa] in a state close by, which saves steps.
    """
    volume = volume_ratio * inlet.volume
    target = np.log(volume)

    def excess(ln_p: Array) -> Array:
        return np.asarray(np.log(fluid.from_entropy(np.exp(ln_p), inlet.entropy).volume) - target)

    high = np.log(inlet.throttled_pressure)
    low = np.minimum(np.log(fluid.pressure_floor), high)
    guess = high - 1.08 * np.log(volume_ratio) if near is None else np.log(near)
    steps = RELEASE_STEPS if near is None else WARM_STEPS
    pressure = np.exp(falling_root(excess, low, high, guess, -0.95, steps))
    return pressure, fluid.from_entropy(pressure, inlet.entropy).enthalpy, volume


class Ends(NamedTuple):
    """What an engine expands between: ``pressure`` [Pa] and ``enthalpy`` [J/kg] before it, ``outlet`` [Pa] behind it."""

    pressure: Array
    enthalpy: Array
    outlet: Array


def run_fixed(
    fluid: WorkingFluid, engine: FixedEngine, ends: Ends, losses: Losses
) -> tuple[list[Stage], Array]:
    """Run the fixed engine from the boiler's exit to the condenser.

    Returns the stages per kg of flow and the flow per revolution relative to the rated point [-].
    Continuity: v1'_j k_j over its rated value is the same for all stages. The receiver pressures are found
    one after another with the shares kept of the stages below from the sweep before; the number of sweeps is
    fixed and good for 1e-8.
    """
    count = len(engine.volume_ratios)
    history = [list(engine.kept)]
    stages: list[Stage] = []
    receivers: list[Array] = []
    for sweep in range(SWEEPS[count]):
        kept = history[-1]
        inlet_pressure, inlet_enthalpy, flow = ends.pressure, ends.enthalpy, np.ones_like(ends.pressure)
        marched: list[Stage] = []
        for j in range(count):
            known = sweep > 0 and j == 0
            before = marched[-1].exhaust if marched else None
            inlet = stages[0].inlet if known else admit(fluid, inlet_pressure, inlet_enthalpy, losses, before)
            release = _release(stages[0]) if known else release_state(fluid, inlet, engine.volume_ratios[j])
            if j == count - 1:
                outlet = ends.outlet
            else:
                guess = receivers[j] if sweep else inlet_pressure * engine.pressure_ratios[j]
                steps = RECEIVER_STEPS[min(sweep, 1)]
                passage = _PlainPassage(fluid, engine, j, inlet, release, flow, losses, kept[j + 1])
                outlet = passage.receiver(guess, steps)
            stage = finish(fluid, inlet, outlet, release, losses)
            if j == 0:
                flow = engine.admissions[0] / (inlet.volume * stage.kept)
            marched.append(stage)
            inlet_pressure, inlet_enthalpy = outlet, stage.exhaust_enthalpy
        stages = marched
        history.append([s.kept for s in stages])
        if sweep + 1 in EXTRAPOLATE_AFTER:
            history.append([_limit(*three) for three in zip(*history[-3:], strict=True)])
        receivers = [s.exhaust_pressure for s in stages]
    return stages, flow


class Operation(NamedTuple):
    """A fixed engine at one state of every design.

    ``stages`` per kg of flow; ``flow`` per revolution over that of the rated point [-]; ``losses`` by stage, found from
    the stages of the last sweep but one; ``residual`` [-] change of shaft work in the last sweep.
    """

    stages: list[Stage]
    flow: Array
    losses: list[StageLosses]
    residual: Array


def run_given(
    fluid: WorkingFluid,
    engine: FixedEngine,
    ends: Ends,
    losses: Sequence[StageLosses],
    leaks: Leaks | None = None,
    before: Sequence[Stage] | None = None,
) -> tuple[list[Stage], Array]:
    """Run the fixed engine with the ``losses`` of every stage given: one pass, for the shares kept are known.

    The ``ends`` begin at the first inlet, behind a governor's throttle; ``before`` are the stages at a state close by. With
    ``leaks`` those in ``losses`` give way to the law at the receiver pressures found.
    Returns the stages per kg and the flow per revolution over the rated one [-].
    """
    count = len(engine.volume_ratios)
    stages: list[Stage] = []
    pressure, enthalpy, condenser_pressure = ends
    flow = np.ones_like(pressure)
    for j in range(count):
        near = before[j] if before else None
        if stages:
            known: Vapour | None = stages[-1].exhaust
        else:
            known = None if near is None else _unchanged(near.inlet, pressure, enthalpy)
        inlet = admit(fluid, pressure, enthalpy, losses[j], known)
        guess = near and near.release_pressure * inlet.throttled_pressure / near.inlet.throttled_pressure
        release = release_state(fluid, inlet, engine.volume_ratios[j], guess)
        outlet = condenser_pressure
        if j < count - 1:
            last = j == count - 2
            ratio = _pressure_ratio(before[j + 1]) if before else engine.pressure_ratios[j + 1]
            bend = _bend(before[j + 1].inlet) if before else np.ones_like(pressure)
            passage = _Passage(
                fluid, engine, j, inlet, release, flow, losses[j], losses[j + 1], leaks,
                condenser_pressure if last else None, ratio, bend,
            )  # fmt: skip
            guess = pressure * (_pressure_ratio(near) if near else engine.pressure_ratios[j])
            outlet = passage.receiver(guess, RECEIVER_STEPS[1 if near else 0])
        own = losses[j]
        if leaks is not None:
            lost = leaks.at(j, engine.volume_ratios[j], pressure, outlet, inlet.receiver_volume)
            own = own.leaking(lost)
        if j == 0:
            flow = engine.admissions[0] / (inlet.volume * own.kept)
        stages.append(finish(fluid, inlet, outlet, release, own))
        pressure, enthalpy = outlet, stages[-1].exhaust_enthalpy
    return stages, flow


def _unchanged(inlet: Inlet, pressure: Array, enthalpy: Array) -> Vapour | None:
    """State in the receiver before an inlet at a state close by, if pressure [Pa] and enthalpy [J/kg] are still these."""
    same = np.array_equal(inlet.pressure, pressure) and np.array_equal(inlet.enthalpy, enthalpy)
    return inlet.before if same else None


def _bend(inlet: Inlet) -> Array:
    """By how much p v changes through an admission valve, before over behind [-]."""
    return np.asarray(inlet.pressure * inlet.receiver_volume / (inlet.throttled_pressure * inlet.volume))


def _pressure_ratio(stage: Stage) -> Array:
    return np.asarray(stage.exhaust_pressure / stage.inlet.pressure)


@dataclass(frozen=True)
class _PlainPassage:
    """As :class:`_Passage`, of stages that all lose the same shares; the one below keeps ``kept_below`` [-]."""

    fluid: WorkingFluid
    engine: FixedEngine
    j: int
    inlet: Inlet
    release: tuple[Array, Array, Array]
    flow: Array
    losses: Losses
    kept_below: Array

    def receiver(self, guess: Array, steps: int) -> Array:
        """Pressure [Pa] at which the stage below admits what this one lets out."""
        return _receiver(self.fluid, self._excess, self.inlet.pressure, guess, steps)

    def _excess(self, ln_p: Array) -> Array:
        p, admissions, losses = np.exp(ln_p), self.engine.admissions, self.losses
        stage = finish(self.fluid, self.inlet, p, self.release, losses)
        passed = admissions[0] / (self.inlet.volume * stage.kept) if self.j == 0 else self.flow
        open_share = 1.0 - losses.admission_pressure_loss
        below = self.fluid.from_enthalpy(p * open_share, stage.exhaust_enthalpy)
        return np.asarray(np.log(below.volume * self.kept_below * passed / admissions[self.j + 1]))


def _receiver(
    fluid: WorkingFluid, excess: Callable[[Array], Array], inlet_pressure: Array, guess: Array, steps: int
) -> Array:
    """Pressure [Pa] below that of a stage's inlet where ``excess`` of its logarithm is zero."""
    high = np.log(inlet_pressure)
    low = np.minimum(np.log(fluid.pressure_floor), high)
    return np.asarray(np.exp(falling_root(excess, low, high, np.log(guess), -1.0, steps)))


@dataclass(frozen=True)
class _Passage:
    """Stage ``j`` and the one below it, joined by a receiver whose pressure is sought.

    ``outlet_below`` [Pa] is that behind the stage below if it is known; else it stands in the ``ratio_below`` to its inlet.
    ``bend_below`` [-] is the change of p v through the valve below, of the sweep before.
    """

    fluid: WorkingFluid
    engine: FixedEngine
    j: int
    inlet: Inlet
    release: tuple[Array, Array, Array]
    flow: Array
    own: StageLosses
    below: StageLosses
    leaks: Leaks | None
    outlet_below: Array | None
    ratio_below: Array
    bend_below: Array

    def receiver(self, guess: Array, steps: int) -> Array:
        """Pressure [Pa] at which the stage below admits what this one lets out."""
        return _receiver(self.fluid, self._excess, self.inlet.pressure, guess, steps)

    def _excess(self, ln_p: Array) -> Array:
        p, engine, j = np.exp(ln_p), self.engine, self.j
        own, below = self.own, self.below
        if self.leaks is not None:
            lost = self.leaks.at(
                j, engine.volume_ratios[j], self.inlet.pressure, p, self.inlet.receiver_volume
            )
            own = own.leaking(lost)
        enthalpy = exhausted(self.fluid, self.inlet, p, self.release, own)
        behind = self.fluid.from_enthalpy(p * (1.0 - below.admission_pressure_loss), enthalpy)
        if self.leaks is not None:
            outlet = p * self.ratio_below if self.outlet_below is None else self.outlet_below
            volume = behind.volume * (1.0 - below.admission_pressure_loss) * self.bend_below
            lost = self.leaks.at(j + 1, engine.volume_ratios[j + 1], p, outlet, volume)
            below = below.leaking(lost)
        passed = engine.admissions[0] / (self.inlet.volume * own.kept) if j == 0 else self.flow
        return np.asarray(np.log(behind.volume * below.kept * passed / engine.admissions[j + 1]))


def run_at(
    fluid: WorkingFluid,
    engine: FixedEngine,
    ends: Ends,
    leaks: Leaks,
    start: Sequence[StageLosses],
    sweeps: int | None = None,
    before: Sequence[Stage] | None = None,
) -> Operation:
    """Run the fixed engine with losses that follow from its cylinders, its speed and its present pressures.

    ``leaks`` know the cylinders, their speed and the laws; ``start`` are losses at a state close by (the rated
    point's), ``before`` its stages if they are known. The number of sweeps is fixed.
    """
    walls, losses = Walls(fluid), list(start)
    stages, flow = run_given(fluid, engine, ends, losses, leaks, before)
    work = _work(stages)
    last = work
    for _ in range(LAW_SWEEPS[len(stages)] if sweeps is None else sweeps):
        found = run_losses(stages, leaks, walls)
        losses = calmed(found, losses)
        stages, flow = run_given(fluid, engine, ends, losses, leaks, stages)
        last, work = work, _work(stages)
    return Operation(stages, flow, losses, np.abs(work - last) / np.abs(work))


def _work(stages: Sequence[Stage]) -> Array:
    return reduce(add, (s.shaft_work for s in stages))


def _limit(first: Array, second: Array, third: Array) -> Array:
    """Aitken's limit of a sequence that closes in geometrically; the last value where it does not."""
    step, bend = third - second, third - 2.0 * second + first
    sound = np.abs(step) < 0.9 * np.abs(second - first)
    return np.where(sound, third - step**2 / np.where(sound, bend, 1.0), third)


def _release(stage: Stage) -> tuple[Array, Array, Array]:
    volume = stage.release_volume
    return stage.release_pressure, stage.release_energy + stage.release_pressure * volume, volume
