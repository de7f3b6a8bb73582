"""A given machine: what flows, what it gives and what each loss costs, at any conditions.

Cylinders are as measured, and so are cut-off, clearance and speed; the same laws and the same stage as everywhere
else. Several stages stand in series; the receiver pressures between them follow.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from explore.errors import InputError
from explore.fluids.blend import Blend
from explore.fluids.interface import Array, WorkingFluid
from explore.plant.cylinder import Cylinders
from explore.plant.engine import LOSSLESS, Losses, Stage, expand
from explore.plant.given import Cylinder, as_arrays, bound_to, inlet_enthalpy, volume_ratio_of
from explore.plant.laws import Laws
from explore.plant.losses import (
    CARDLESS_CONDUCTIVITY,
    CARDLESS_VISCOSITY,
    Films,
    StageLosses,
    first_losses,
    port_violation,
)
from explore.plant.part_load import Ends, FixedEngine, run_at, run_given
from explore.plant.settle import Leaks

SWEEPS = 30
"""A single machine may take its time; losses rest to 1e-9."""
CURVE_POINTS = 24
"""Places of each stroke in an indicator diagram: enough for a smooth line a hand wide; they enter no figure."""


class StageResult(NamedTuple):
    """One stage, each (n,): pressures [Pa], powers [W], shares [-]; ``diagram`` (n, m, 2) of volume [m3] and pressure [Pa].

    The diagram is that of one side of one cylinder, a loop that starts where admission opens.
    """

    inlet_pressure: Array
    exhaust_pressure: Array
    exhaust_enthalpy: Array
    indicated_power: Array
    shaft_power: Array
    mean_pressure: Array
    losses: StageLosses
    lost_power: dict[str, Array]
    drawn: Callable[[], Array]

    @property
    def diagram(self) -> Array:
        """The indicator diagram, worked out when it is asked for: who fits coefficients looks at none of thousands."""
        return self.drawn()


class MachineResult(NamedTuple):
    """A machine at its conditions, each (n,).

    ``flow`` [kg/s]; ``indicated_power`` and ``shaft_power`` [W]; ``torque`` [N m]; ``indicated_efficiency`` and
    ``shaft_efficiency`` [-] over loss-free expansion of the flow from inlet to outlet; ``mechanical_efficiency`` [-]
    shaft over indicated; ``piston_speed`` [m/s] the greatest; ``port_violation`` positive where an admission port chokes;
    ``missing`` [-] share of the first stage's flow that leaks or condenses; ``residual`` [-] of the losses.
    """

    flow: Array
    indicated_power: Array
    shaft_power: Array
    torque: Array
    indicated_efficiency: Array
    shaft_efficiency: Array
    mechanical_efficiency: Array
    ideal_power: Array
    exhaust_temperature: Array
    piston_speed: Array
    missing: Array
    port_violation: Array
    residual: Array
    stages: list[StageResult]


def run_machine(
    fluid: str | Blend,
    cylinders: Sequence[Cylinder],
    conditions: Mapping[str, ArrayLike],
    laws: Laws | Losses | None = None,
    films: tuple[float, float] = (CARDLESS_CONDUCTIVITY, CARDLESS_VISCOSITY),
    clearance: float | None = None,
    sweeps: int = SWEEPS,
    properties: WorkingFluid | None = None,
) -> MachineResult:
    """Run a given machine.

    ``fluid`` any of the property library, air and nitrogen included. ``conditions`` holds ``inlet_pressure`` [Pa],
    ``inlet_temperature`` [K], ``outlet_pressure`` [Pa] and ``frequency`` [rev/s]; numbers or arrays of one length n.
    Instead of the temperature ``inlet_quality`` [-] may be given. ``laws`` are careful ones by default, or constants;
    ``clearance`` [-] is that of the machine in place of theirs. ``films`` conductivity of liquid [W/(m K)] and
    viscosity of vapour [Pa s]. ``sweeps`` until losses that scale rest; ``residual`` tells how far they do.
    Coefficients of careful laws may be arrays (n,) as well. ``properties`` of the fluid bound to n designs, quicker ones
    for example; the inlet is always judged by the equation of state.

    Raises :class:`~explore.errors.InputError` for an unknown fluid, a machine that cannot turn, or an inlet that is
    liquid or beyond the critical point.
    """
    laws, clearance = _with_clearance(laws, clearance)
    given = as_arrays(conditions)
    n = len(given["inlet_pressure"])
    ratios = [volume_ratio_of(c, clearance, j) for j, c in enumerate(cylinders, 1)]
    if not ratios:
        raise InputError("a machine needs at least one cylinder, give its bore and stroke")
    equation = bound_to(fluid, n)
    enthalpy = inlet_enthalpy(str(fluid), equation, given)
    bound = equation if properties is None else properties
    pressure, outlet, frequency = (given[k] for k in ("inlet_pressure", "outlet_pressure", "frequency"))

    built = built_of(cylinders, n)
    engine = engine_of(ratios, admitted_by(built, ratios, clearance, frequency), pressure, outlet)
    constants = Films(np.full(n, films[0]), np.full(n, films[1]))
    if isinstance(laws, Laws):
        start = [first_losses(laws, pressure)] * len(built)
        leaks = Leaks(laws, built, frequency, constants)
        done = run_at(bound, engine, Ends(pressure, enthalpy, outlet), leaks, start, sweeps)
        stages, flow, losses, residual = done
    else:
        stages, flow, losses, residual = _constant(bound, engine, pressure, enthalpy, outlet, laws)
    entropy = bound.from_enthalpy(pressure, enthalpy).entropy
    ideal = flow * (enthalpy - bound.from_entropy(outlet, entropy).enthalpy)
    ran = Ran(stages, [flow] * len(stages), losses, built, ideal, residual)
    return gathered(bound, ran, laws, outlet, frequency)


class Ran(NamedTuple):
    """Stages in series: ``flows`` [kg/s] through each, losses, cylinders; ``ideal`` power [W], ``residual`` of losses."""

    stages: list[Stage]
    flows: list[Array]
    losses: list[StageLosses]
    built: list[Cylinders]
    ideal: Array
    residual: Array


def built_of(cylinders: Sequence[Cylinder], n: int) -> list[Cylinders]:
    """Return the cylinders of each stage for n conditions."""
    return [
        Cylinders(np.full(n, c.bore), np.full(n, c.stroke), np.full(n, float(c.number)), c.acting)
        for c in cylinders
    ]


def admitted_by(
    built: Sequence[Cylinders], ratios: Sequence[Array], clearance: float | Array, frequency: Array
) -> list[Array]:
    """Volume [m3/s] that each stage admits at its built-in ratio and ``frequency`` [rev/s]."""
    return [
        own.displaced(frequency) * ((1.0 + clearance) / r - clearance)
        for own, r in zip(built, ratios, strict=True)
    ]


def gathered(
    bound: WorkingFluid, ran: Ran, laws: Laws | Losses, outlet: Array, frequency: Array
) -> MachineResult:
    """Gather what a machine does of its stages, exhausting to ``outlet`` [Pa]; constant losses choke no port."""
    stages, ideal = ran.stages, ran.ideal
    each = zip(stages, ran.flows, ran.losses, ran.built, strict=True)
    results = [stage_result(bound, *one) for one in each]
    indicated = np.asarray(np.sum([r.indicated_power for r in results], axis=0))
    shaft = np.asarray(np.sum([r.shaft_power for r in results], axis=0))
    ports = np.full_like(frequency, -np.inf)
    if isinstance(laws, Laws):
        choked = [
            port_violation(laws, own.piston_speed(frequency), s.inlet.pressure, s.inlet.receiver_volume)
            for s, own in zip(stages, ran.built, strict=True)
        ]
        ports = np.asarray(np.max(choked, axis=0))
    return MachineResult(
        flow=ran.flows[-1],
        indicated_power=indicated,
        shaft_power=shaft,
        torque=shaft / (2.0 * np.pi * frequency),
        indicated_efficiency=indicated / ideal,
        shaft_efficiency=shaft / ideal,
        mechanical_efficiency=shaft / indicated,
        ideal_power=ideal,
        exhaust_temperature=bound.from_enthalpy(outlet, stages[-1].exhaust_enthalpy).temperature,
        piston_speed=np.asarray(np.max([b.piston_speed(frequency) for b in ran.built], axis=0)),
        missing=1.0 - ran.losses[0].kept,
        port_violation=ports,
        residual=ran.residual,
        stages=results,
    )


def _with_clearance(laws: Laws | Losses | None, clearance: float | None) -> tuple[Laws | Losses, float]:
    """Laws with the machine's own clearance, and that clearance [-]; raises :class:`InputError` for a senseless one."""
    if clearance is not None and not 0.0 <= clearance < 1.0:
        raise InputError(f"clearance is {clearance:g} of the swept volume, give a share in 0-1")
    if laws is None:
        laws = Laws.careful()
    if isinstance(laws, Laws):
        laws = laws if clearance is None else replace(laws, clearance=clearance)
        return laws, laws.clearance
    laws = laws if clearance is None else replace(laws, clearance_fraction=clearance)
    return laws, laws.clearance_fraction


def engine_of(ratios: list[Array], admitted: list[Array], pressure: Array, outlet: Array) -> FixedEngine:
    """The fixed engine, (n,), with its admissions [m3/s], so that its flow comes out [kg/s].

    ``ratios`` [-] and ``admitted`` [m3/s] of each stage, ``pressure`` and ``outlet`` [Pa].
    """
    n, count = len(pressure), len(ratios)
    share = (outlet / pressure) ** (1.0 / count)
    ones = np.ones(n)
    return FixedEngine(
        [np.array(np.broadcast_to(r, n)) for r in ratios], admitted, [ones] * count, [share] * count
    )


def _constant(
    bound: WorkingFluid,
    engine: FixedEngine,
    pressure: Array,
    enthalpy: Array,
    outlet: Array,
    losses: Losses,
) -> tuple[list[Stage], Array, list[StageLosses], Array]:
    """Run with losses that are the same at every size; walls from the temperatures of the sweep before."""
    n = len(pressure)
    full = StageLosses(
        np.full(n, losses.admission_pressure_loss),
        np.full(n, losses.exhaust_pressure_loss),
        np.full(n, losses.clearance_fraction),
        np.full(n, losses.leakage_fraction),
        np.zeros(n),
        np.full(n, losses.friction_mean_pressure),
    )
    each, ends = [full] * len(engine.volume_ratios), Ends(pressure, enthalpy, outlet)
    stages, flow = run_given(bound, engine, ends, each)
    tight = 1.0 - losses.leakage_fraction
    for _ in range(SWEEPS):
        each = []
        for s in stages:
            before = s.inlet.enthalpy - tight * s.indicated_work
            cold = bound.from_enthalpy(s.exhaust_pressure, before).temperature
            share = np.clip(losses.wall_loss_per_K * (s.inlet.temperature - cold), 0.0, 0.95)
            each.append(replace(full, wall_share=share))
        stages, flow = run_given(bound, engine, ends, each, before=stages)
    return stages, flow, each, np.zeros(n)


def stage_result(
    bound: WorkingFluid, stage: Stage, flow: Array, losses: StageLosses, own: Cylinders
) -> StageResult:
    """One stage at ``flow`` [kg/s] with its powers [W], its losses [W] and its diagram.

    Losses in the order in which they act: clearance and early release, valves, leak, walls, friction. That of valves
    and that of clearance and release are what the stage would gain without them at the same flow of vapour.
    """
    kept, tight = stage.kept, 1.0 - losses.leakage_fraction
    indicated = flow * kept * stage.indicated_work
    rubbed = flow * kept * losses.friction_mean_pressure * stage.ideal_volume
    free = bound.from_entropy(
        stage.exhaust_pressure, bound.from_enthalpy(stage.inlet.pressure, stage.inlet.enthalpy).entropy
    )
    ideal = stage.inlet.enthalpy - free.enthalpy
    # the same stage expanding fully and without clearance between the pressures behind its valves
    bare = expand(
        bound, stage.inlet.throttled_pressure, stage.inlet.enthalpy, stage.back_pressure,
        np.ones_like(flow), LOSSLESS,
    )  # fmt: skip
    lost = {
        "valves": flow * (ideal - bare.indicated_work),
        "clearance and release": flow * (bare.indicated_work - stage.indicated_work),
        "leak": flow * losses.leakage_fraction * stage.indicated_work,
        "walls": flow * tight * losses.wall_share * stage.indicated_work,
        "friction": rubbed,
    }
    return StageResult(
        stage.inlet.pressure,
        stage.exhaust_pressure,
        stage.exhaust_enthalpy,
        indicated,
        indicated - rubbed,
        stage.indicated_work / stage.ideal_volume,
        losses,
        lost,
        partial(diagram, bound, stage, losses, own),
    )


def diagram(bound: WorkingFluid, stage: Stage, losses: StageLosses, own: Cylinders) -> Array:
    """Indicator diagram of one side of one cylinder, (n, m, 2): volume [m3], pressure [Pa]; a closed loop.

    Admission, expansion at constant entropy, release, exhaust, complete recompression of the clearance.
    """
    swept = own.swept_volume / own.number
    c = losses.clearance_fraction
    full, top = (1.0 + c) * swept, c * swept
    high, back, release = stage.inlet.throttled_pressure, stage.back_pressure, stage.release_pressure
    volume, entropy = stage.inlet.volume, stage.inlet.entropy
    cut = full / stage.volume_ratio
    points = [(top, high)]
    points += _isentrope(bound, entropy, high, release, cut / volume)
    points += [(full, release), (full, back)]
    points += _isentrope(bound, entropy, back, high, top / volume)
    points.append((top, high))
    return np.stack([np.stack(pair, axis=-1) for pair in points], axis=1)


def _isentrope(
    bound: WorkingFluid, entropy: Array, start: Array, end: Array, mass: Array
) -> list[tuple[Array, Array]]:
    """Volumes [m3] of a ``mass`` [kg] on its way between two pressures [Pa]."""
    path = []
    for share in np.linspace(0.0, 1.0, CURVE_POINTS):
        p = start * (end / start) ** share
        path.append((mass * bound.from_entropy(p, entropy).volume, p))
    return path
