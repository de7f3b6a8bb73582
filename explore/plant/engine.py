"""The piston expander: one stage, and stages in series with or without fresh vapour between them.

One stage takes vapour at (p1, h1), throttles it through the admission valve, expands it without heat
exchange over the built-in volume ratio r, releases the rest at constant volume, exhausts against the
back pressure and recompresses the clearance gas completely. Leakage, wall loss and friction follow.
The formulas are the indicator-diagram energy balance of a reciprocating expander with clearance.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from explore.fluids.interface import Array, Vapour, WorkingFluid
from explore.machine_code import called, loaded
from explore.plant import kernels
from explore.plant.losses import StageLosses

LEAST_ADMISSION = 1e-3
"""Least share of the stroke that admits: where clearance takes all of it a stage is huge, and a constraint says why."""


@dataclass(frozen=True)
class Losses:
    """Loss parameters of a stage, the same for every design and at every size, speed and pressure.

    admission_pressure_loss, exhaust_pressure_loss, clearance_fraction, leakage_fraction [-];
    wall_loss_per_K [1/K]; friction_mean_pressure [Pa].
    """

    admission_pressure_loss: float = 0.04
    exhaust_pressure_loss: float = 0.04
    clearance_fraction: float = 0.06
    leakage_fraction: float = 0.05
    wall_loss_per_K: float = 0.002
    friction_mean_pressure: float = 0.15e5


LOSSLESS = Losses(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
"""An engine without any loss, from which ideal work is told."""
AnyLosses = Losses | StageLosses
"""Constants, or arrays that follow from the laws of :mod:`explore.plant.losses`."""


FINISHED = (
    "volume_ratio", "indicated_work", "kept", "ideal_volume", "swept_volume", "shaft_work", "exhaust_enthalpy",
    "release_energy", "violation_clearance", "violation_recompression",
)  # fmt: skip
"""What :func:`finish` works out of a stage once its end of expansion and its clearance gas are known."""


class Inlet(NamedTuple):
    """Pressure [Pa] and state before the admission valve, and pressure, entropy and volume behind it; (n,)."""

    pressure: Array
    before: Vapour
    throttled_pressure: Array
    entropy: Array
    volume: Array

    @property
    def enthalpy(self) -> Array:
        """Enthalpy [J/kg], which the valve leaves as it is."""
        return self.before.enthalpy

    @property
    def temperature(self) -> Array:
        """Temperature [K] in the receiver."""
        return self.before.temperature

    @property
    def receiver_volume(self) -> Array:
        """Specific volume [m3/kg] in the receiver."""
        return self.before.volume


class Stage(NamedTuple):
    """One expansion per kg of vapour flowing through it, each (n,).

    indicated_work, shaft_work, exhaust_enthalpy [J/kg]; exhaust, the state behind it; volume_ratio [-] (built in, cut-off
    to end of expansion); ideal_volume [m3/kg] swept per kg admitted; swept_volume [m3/kg] per kg flowing;
    kept [-] the share left by leakage and walls; release_pressure, back_pressure [Pa]; inlet; violations.
    """

    inlet: Inlet
    exhaust_pressure: Array
    back_pressure: Array
    release_pressure: Array
    volume_ratio: Array
    indicated_work: Array
    kept: Array
    ideal_volume: Array
    swept_volume: Array
    shaft_work: Array
    exhaust_enthalpy: Array
    exhaust: Vapour
    release_energy: Array
    release_volume: Array
    clearance_enthalpy: Array
    clearance_volume: Array
    clearance_temperature: Array
    violation_clearance: Array
    violation_recompression: Array
    losses: AnyLosses


def admit(
    fluid: WorkingFluid, pressure: Array, enthalpy: Array, losses: AnyLosses, before: Vapour | None = None
) -> Inlet:
    """Throttle vapour at (p1 [Pa], h1 [J/kg]) through the admission valve at constant enthalpy.

    ``before`` is its state in the receiver where that has been looked up already.
    """
    throttled = pressure * (1.0 - losses.admission_pressure_loss)
    before = before or fluid.from_enthalpy(pressure, enthalpy)
    throttles = np.asarray(losses.admission_pressure_loss).any()
    behind = fluid.from_enthalpy(throttled, enthalpy) if throttles else before
    return Inlet(pressure, before, throttled, behind.entropy, behind.volume)


def finish(
    fluid: WorkingFluid,
    inlet: Inlet,
    exhaust_pressure: Array,
    release: tuple[Array, Array, Array],
    losses: AnyLosses,
) -> Stage:
    """Complete a stage whose end of expansion ``release`` = (p2 [Pa], h2 [J/kg], v2 [m3/kg]) is known.

    Trapped clearance gas per kg admitted m = c / ((1 + c)/r - c); indicated work
    w_i = h1 - (1 + m)(u2 + p3' v2) + m h(p3', s1'); swept volume v1' / ((1 + c)/r - c);
    share kept k = (1 - leakage)(1 - chi), chi = k_w (T1 - T3) or given; shaft work k (w_i - fmep V_s); h3 = h1 - k w_i.
    Source: energy balance of a cylinder with clearance (model, section 3).
    """
    back = exhaust_pressure * (1.0 + losses.exhaust_pressure_loss)
    clearance = fluid.from_entropy(back, inlet.entropy)
    values = _finished(fluid, inlet, exhaust_pressure, release, back, clearance, losses)
    finished = dict(zip(FINISHED, values, strict=True))
    return Stage(
        inlet=inlet,
        exhaust_pressure=exhaust_pressure,
        exhaust=fluid.from_enthalpy(exhaust_pressure, finished["exhaust_enthalpy"]),
        back_pressure=back,
        release_pressure=release[0],
        release_volume=release[2],
        clearance_enthalpy=clearance.enthalpy,
        clearance_volume=clearance.volume,
        clearance_temperature=clearance.temperature,
        losses=losses,
        **finished,
    )


def exhausted(
    fluid: WorkingFluid,
    inlet: Inlet,
    exhaust_pressure: Array,
    release: tuple[Array, Array, Array],
    losses: AnyLosses,
) -> Array:
    """Enthalpy [J/kg] behind a stage, as :func:`finish` finds it: all that is asked while its receiver is sought."""
    back = exhaust_pressure * (1.0 + losses.exhaust_pressure_loss)
    clearance = fluid.from_entropy(back, inlet.entropy)
    finished = _finished(fluid, inlet, exhaust_pressure, release, back, clearance, losses)
    return finished[FINISHED.index("exhaust_enthalpy")]


def _finished(
    fluid: WorkingFluid,
    inlet: Inlet,
    exhaust_pressure: Array,
    release: tuple[Array, Array, Array],
    back: Array,
    clearance: Vapour,
    losses: AnyLosses,
) -> list[Array]:
    """Work out what :func:`finish` says, in the order of FINISHED."""
    compiled = loaded(kernels, back.size)
    if compiled is not None and isinstance(losses, StageLosses):
        own = (
            losses.clearance_fraction,
            losses.leakage_fraction,
            losses.wall_share,
            losses.friction_mean_pressure,
        )
        given = (inlet.enthalpy, inlet.volume, *release, back, *own, clearance.enthalpy, clearance.volume)
        finished = np.empty((len(FINISHED), len(back)))
        called(compiled.finish, *given, LEAST_ADMISSION, finished)
        return list(finished)
    c = losses.clearance_fraction
    p2, h2, v2 = release
    ratio = v2 / inlet.volume
    admission = np.maximum((1.0 + c) / ratio - c, LEAST_ADMISSION)
    trapped = c / admission
    u2 = h2 - p2 * v2
    indicated = inlet.enthalpy - (1.0 + trapped) * (u2 + back * v2) + trapped * clearance.enthalpy
    kept = _kept(fluid, inlet, exhaust_pressure, indicated, losses)
    ideal_volume = inlet.volume / admission
    return [
        ratio,
        indicated,
        kept,
        ideal_volume,
        kept * ideal_volume,
        kept * (indicated - losses.friction_mean_pressure * ideal_volume),
        inlet.enthalpy - kept * indicated,
        u2,
        ratio * c / (1.0 + c) - 1.0,
        c * clearance.volume / inlet.volume / (1.0 + c) - 1.0,
    ]


def _kept(
    fluid: WorkingFluid, inlet: Inlet, exhaust_pressure: Array, indicated: Array, losses: AnyLosses
) -> Array:
    """Share of the ideal stage left by leakage and wall loss, T3 taken before the wall loss."""
    if isinstance(losses, StageLosses):
        return losses.kept
    tight = 1.0 - losses.leakage_fraction
    if losses.wall_loss_per_K == 0.0:
        return np.full_like(indicated, tight)
    cold = fluid.from_enthalpy(exhaust_pressure, inlet.enthalpy - tight * indicated).temperature
    wall = np.clip(losses.wall_loss_per_K * (inlet.temperature - cold), 0.0, 0.95)
    return np.asarray(tight * (1.0 - wall))


def expand(
    fluid: WorkingFluid,
    pressure: Array,
    enthalpy: Array,
    exhaust_pressure: Array,
    release_ratio: Array,
    losses: AnyLosses,
    before: Vapour | None = None,
) -> Stage:
    """Size and run one stage between two receivers.

    ``pressure`` p1 [Pa], ``enthalpy`` h1 [J/kg], ``exhaust_pressure`` p3 [Pa], ``release_ratio`` theta [-]
    (pressure at the end of expansion over the back pressure); all (n,). ``before`` as in :func:`admit`.
    """
    inlet = admit(fluid, pressure, enthalpy, losses, before)
    back = exhaust_pressure * (1.0 + losses.exhaust_pressure_loss)
    p2 = np.minimum(np.maximum(release_ratio * back, back), inlet.throttled_pressure)
    end = fluid.from_entropy(p2, inlet.entropy)
    return finish(fluid, inlet, exhaust_pressure, (p2, end.enthalpy, end.volume), losses)


def receiver_pressures(level_pressures: list[Array], condenser_pressure: Array, stages: int) -> list[Array]:
    """Return the stage boundaries [Pa], from the first inlet to the condenser: ``stages + 1`` arrays.

    Each section between boiler levels is one stage; the last section, down to the condenser, is
    divided into the remaining stages of equal pressure ratio.
    """
    last = stages - len(level_pressures) + 1
    bottom = level_pressures[-1]
    ratio = condenser_pressure / bottom
    return [*level_pressures, *(bottom * ratio ** (j / last) for j in range(1, last)), condenser_pressure]
