"""A fixed engine away from its rated point.

The cut-off volumes and built-in ratios are those of the rated point; the receiver pressures follow from
the continuity of mass through the stages. Losses are constants, or follow at every state from the laws with the
cylinders as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from explore.fluids.interface import Array, Index, WorkingFluid
from explore.plant.cylinder import Cylinders
from explore.plant.engine import AnyLosses, Inlet, Losses, Stage, admit, finish
from explore.plant.losses import Films, Laws, StageLosses
from explore.plant.roots import falling_root
from explore.plant.settle import Walls, run_losses

SWEEPS = {1: 1, 2: 6, 3: 9}
EXTRAPOLATE_AFTER = (3, 6)
RELEASE_STEPS = 4
RECEIVER_STEPS = (4, 2)
LAW_SWEEPS = 8
"""Losses at a node start from those at the rated point: 8 leave 1e-5 of the work (tests/plant/test_part_load.py)."""
WARM_STEPS = 2
"""Steps to a root whose value in the sweep before is the guess."""


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


def run_fixed(
    fluid: WorkingFluid,
    engine: FixedEngine,
    pressure: Array,
    enthalpy: Array,
    condenser_pressure: Array,
    losses: Losses,
) -> tuple[list[Stage], Array]:
    """Run the fixed engine from (p_e [Pa], h_exit [J/kg]) to the condenser.

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
        inlet_pressure, inlet_enthalpy, flow = pressure, enthalpy, np.ones_like(pressure)
        marched: list[Stage] = []
        for j in range(count):
            known = sweep > 0 and j == 0
            inlet = stages[0].inlet if known else admit(fluid, inlet_pressure, inlet_enthalpy, losses)
            release = _release(stages[0]) if known else release_state(fluid, inlet, engine.volume_ratios[j])
            if j == count - 1:
                outlet = condenser_pressure
            else:
                guess = receivers[j] if sweep else inlet_pressure * engine.pressure_ratios[j]
                steps = RECEIVER_STEPS[min(sweep, 1)]
                outlet = _receiver(
                    fluid, engine, j, inlet, release, flow, kept[j + 1], guess, (losses, losses), steps
                )
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
    pressure: Array,
    enthalpy: Array,
    condenser_pressure: Array,
    losses: Sequence[StageLosses],
    before: Sequence[Stage] | None = None,
) -> tuple[list[Stage], Array]:
    """Run the fixed engine with the ``losses`` of every stage given: one pass, for the shares kept are known.

    ``pressure`` p1 [Pa] and ``enthalpy`` h1 [J/kg] at the first inlet, behind a governor's throttle; ``before`` are
    the stages at a state close by. Returns the stages per kg and the flow per revolution over the rated one [-].
    """
    count = len(engine.volume_ratios)
    stages: list[Stage] = []
    flow = np.ones_like(pressure)
    for j in range(count):
        near = before[j] if before else None
        inlet = admit(fluid, pressure, enthalpy, losses[j])
        if j == 0:
            flow = engine.admissions[0] / (inlet.volume * losses[0].kept)
        release = release_state(fluid, inlet, engine.volume_ratios[j], near and near.release_pressure)
        outlet = condenser_pressure
        if j < count - 1:
            guess = near.exhaust_pressure if near else pressure * engine.pressure_ratios[j]
            steps = RECEIVER_STEPS[1 if near else 0]
            pair = (losses[j], losses[j + 1])
            outlet = _receiver(
                fluid, engine, j, inlet, release, flow, losses[j + 1].kept, guess, pair, steps
            )  # fmt: skip
        stages.append(finish(fluid, inlet, outlet, release, losses[j]))
        pressure, enthalpy = outlet, stages[-1].exhaust_enthalpy
    return stages, flow


def run_at(
    fluid: WorkingFluid,
    engine: FixedEngine,
    cylinders: Sequence[Cylinders],
    frequency: Array,
    pressure: Array,
    enthalpy: Array,
    condenser_pressure: Array,
    laws: Laws,
    films: Films,
    start: Sequence[StageLosses],
    sweeps: int = LAW_SWEEPS,
    before: Sequence[Stage] | None = None,
) -> Operation:
    """Run the fixed engine with losses that follow from its ``cylinders``, its speed [rev/s] and its present pressures.

    ``start`` are losses at a state close by (the rated point's), ``before`` its stages if they are known. The number of
    sweeps is fixed.
    """
    walls = Walls(fluid)
    losses = list(start)
    stages, flow = run_given(fluid, engine, pressure, enthalpy, condenser_pressure, losses, before)
    work = _work(stages)
    last = work
    for _ in range(sweeps):
        losses = run_losses(fluid, laws, stages, cylinders, frequency, films, walls)
        stages, flow = run_given(fluid, engine, pressure, enthalpy, condenser_pressure, losses, stages)
        last, work = work, _work(stages)
    return Operation(stages, flow, losses, np.abs(work - last) / np.abs(work))


def _work(stages: Sequence[Stage]) -> Array:
    return np.asarray(np.sum([s.shaft_work for s in stages], axis=0))


def _limit(first: Array, second: Array, third: Array) -> Array:
    """Aitken's limit of a sequence that closes in geometrically; the last value where it does not."""
    step, bend = third - second, third - 2.0 * second + first
    sound = np.abs(step) < 0.9 * np.abs(second - first)
    return np.where(sound, third - step**2 / np.where(sound, bend, 1.0), third)


def _release(stage: Stage) -> tuple[Array, Array, Array]:
    volume = stage.release_volume
    return stage.release_pressure, stage.release_energy + stage.release_pressure * volume, volume


def _receiver(
    fluid: WorkingFluid,
    engine: FixedEngine,
    j: int,
    inlet: Inlet,
    release: tuple[Array, Array, Array],
    flow: Array,
    kept_below: Array,
    guess: Array,
    losses: tuple[AnyLosses, AnyLosses],
    steps: int,
) -> Array:
    """Pressure [Pa] of the receiver behind stage ``j``, from the volume that the next stage admits.

    ``losses`` are those of this stage and the next.
    """
    own, following = losses
    open_share = 1.0 - following.admission_pressure_loss

    def excess(ln_p: Array) -> Array:
        p = np.exp(ln_p)
        stage = finish(fluid, inlet, p, release, own)
        passed = engine.admissions[0] / (inlet.volume * stage.kept) if j == 0 else flow
        below = fluid.from_enthalpy(p * open_share, stage.exhaust_enthalpy)
        return np.asarray(np.log(below.volume * kept_below * passed / engine.admissions[j + 1]))

    high = np.log(inlet.pressure)
    low = np.minimum(np.log(fluid.pressure_floor), high)
    return np.asarray(np.exp(falling_root(excess, low, high, np.log(guess), -1.0, steps)))
