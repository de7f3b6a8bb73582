"""A fixed engine away from its rated point.

The cut-off volumes and built-in ratios are those of the rated point; the receiver pressures follow from
the continuity of mass through the stages.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from explore.fluids.interface import Array, Index, WorkingFluid
from explore.plant.engine import Inlet, Losses, Stage, admit, finish
from explore.plant.roots import falling_root

SWEEPS = {1: 1, 2: 6, 3: 9}
EXTRAPOLATE_AFTER = (3, 6)
RELEASE_STEPS = 4
RECEIVER_STEPS = (4, 2)


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


def release_state(fluid: WorkingFluid, inlet: Inlet, volume_ratio: Array) -> tuple[Array, Array, Array]:
    """End of expansion (p2 [Pa], h2 [J/kg], v2 [m3/kg]) at v2 = r v1' and the inlet's entropy."""
    volume = volume_ratio * inlet.volume
    target = np.log(volume)

    def excess(ln_p: Array) -> Array:
        return np.asarray(np.log(fluid.from_entropy(np.exp(ln_p), inlet.entropy).volume) - target)

    high = np.log(inlet.throttled_pressure)
    low = np.minimum(np.log(fluid.pressure_floor), high)
    guess = high - 1.08 * np.log(volume_ratio)
    pressure = np.exp(falling_root(excess, low, high, guess, -0.95, RELEASE_STEPS))
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
                outlet = _receiver(fluid, engine, j, inlet, release, flow, kept[j + 1], guess, losses, steps)
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
    losses: Losses,
    steps: int,
) -> Array:
    """Pressure [Pa] of the receiver behind stage ``j``, from the volume that the next stage admits."""
    open_share = 1.0 - losses.admission_pressure_loss

    def excess(ln_p: Array) -> Array:
        p = np.exp(ln_p)
        stage = finish(fluid, inlet, p, release, losses)
        passed = engine.admissions[0] / (inlet.volume * stage.kept) if j == 0 else flow
        below = fluid.from_enthalpy(p * open_share, stage.exhaust_enthalpy)
        return np.asarray(np.log(below.volume * kept_below * passed / engine.admissions[j + 1]))

    high = np.log(inlet.pressure)
    low = np.minimum(np.log(fluid.pressure_floor), high)
    return np.asarray(np.exp(falling_root(excess, low, high, np.log(guess), -1.0, steps)))
