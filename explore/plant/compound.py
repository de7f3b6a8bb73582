"""A given machine of several stages to which boilers in series send vapour: each feeds the receiver before its stage.

Pressures of the receivers that a boiler feeds are those of the boilers, so that each of their stages runs between two
pressures that are known; what joins is what the stage swallows beyond what comes from above. Laws, stages and cylinders
are those of :mod:`explore.plant.machine`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from explore.fluids.blend import Blend
from explore.fluids.interface import Array, WorkingFluid
from explore.plant.cylinder import Cylinders
from explore.plant.given import Cylinder, as_arrays, bound_to, inlet_enthalpy, volume_ratio_of
from explore.plant.laws import Laws
from explore.plant.losses import Films, first_losses
from explore.plant.machine import SWEEPS, MachineResult, Ran, admitted_by, built_of, engine_of, gathered
from explore.plant.part_load import Ends, Operation, run_at
from explore.plant.settle import Leaks

JOINS = 4
"""Times that what joins is found anew from what the stage swallows: each leaves a thirtieth of the error before it."""


@dataclass(frozen=True)
class Joining:
    """Vapour of a boiler behind the first, (n,): ``pressure`` [Pa] and ``temperature`` [K], no less than its dew point."""

    pressure: Array
    temperature: Array


def run_compound(
    fluid: str | Blend,
    cylinders: Sequence[Cylinder],
    conditions: Mapping[str, ArrayLike],
    joining: Sequence[Joining],
    laws: Laws,
    films: tuple[float, float],
    sweeps: int = SWEEPS,
    properties: WorkingFluid | None = None,
) -> MachineResult:
    """Run a machine whose stages 2, 3 ... take the vapour of ``joining`` as well, in their order.

    Arguments and errors as of :func:`explore.plant.machine.run_machine`. ``flow`` is all that leaves the last stage,
    ``missing`` that of the first. Where a stage swallows less than comes from above nothing joins: such pressures the
    engine cannot have.
    """
    clearance = laws.clearance
    given = as_arrays(conditions)
    n = len(given["inlet_pressure"])
    equation = bound_to(fluid, n)
    enthalpy = inlet_enthalpy(str(fluid), equation, given)
    bound = equation if properties is None else properties
    frequency, constants = given["frequency"], Films(np.full(n, films[0]), np.full(n, films[1]))
    built = built_of(cylinders, n)
    ratios = [volume_ratio_of(c, clearance, j) for j, c in enumerate(cylinders, 1)]
    ends = [given["inlet_pressure"], *(one.pressure for one in joining), given["outlet_pressure"]]
    done, flows = list[Operation](), list[Array]()
    for i in range(len(ends) - 1):
        own = slice(i, i + 1 if i < len(joining) else None)
        admitted = admitted_by(built[own], ratios[own], clearance, frequency)
        engine = engine_of(ratios[own], admitted, ends[i], ends[i + 1])
        leaks = Leaks(laws, built[own], frequency, constants)
        start = [first_losses(laws, ends[i])] * len(admitted)
        if not i:
            done.append(run_at(bound, engine, Ends(ends[0], enthalpy, ends[1]), leaks, start, sweeps))
            flows.append(done[0].flow)
            continue
        above, passed = done[-1].stages[-1].exhaust_enthalpy, flows[-1]
        fresh = _enthalpy(bound, joining[i - 1])
        entering, before = fresh, None
        for _ in range(JOINS):
            one = run_at(
                bound, engine, Ends(ends[i], entering, ends[i + 1]), leaks, start, max(1, sweeps // 2), before
            )
            start, before = one.losses, one.stages
            share = np.minimum(passed / one.flow, 1.0)
            entering = share * above + (1.0 - share) * fresh
        done.append(one)
        flows.append(np.maximum(one.flow, passed))
    return _result(
        bound, given, done, (built, flows), (laws, [enthalpy, *(_enthalpy(bound, j) for j in joining)])
    )


def _enthalpy(bound: WorkingFluid, one: Joining) -> Array:
    """Enthalpy [J/kg] of what a boiler sends."""
    dew = bound.saturation(one.pressure).dew_temperature
    return bound.superheated(one.pressure, np.maximum(one.temperature - dew, 0.0)).enthalpy


def _result(
    bound: WorkingFluid,
    given: Mapping[str, Array],
    done: Sequence[Operation],
    sizes: tuple[Sequence[Cylinders], Sequence[Array]],
    vapours: tuple[Laws, Sequence[Array]],
) -> MachineResult:
    """Put the stages of all sections together; ``sizes``: cylinders, flow [kg/s] through each section; ``vapours``: laws,
    enthalpies [J/kg] of what the boilers send."""
    (built, flows), (laws, sent) = sizes, vapours
    through = [flow for one, flow in zip(done, flows, strict=True) for _ in one.stages]
    own = [flows[0], *(below - above for above, below in pairwise(flows))]
    ideal, outlet = np.zeros_like(flows[0]), given["outlet_pressure"]
    for one, flow, enthalpy in zip(done, own, sent, strict=True):
        entropy = bound.from_enthalpy(one.stages[0].inlet.pressure, enthalpy).entropy
        ideal = ideal + flow * (enthalpy - bound.from_entropy(outlet, entropy).enthalpy)
    ran = Ran(
        [s for one in done for s in one.stages],
        through,
        [s for one in done for s in one.losses],
        list(built),
        ideal,
        np.asarray(np.max([one.residual for one in done], axis=0)),
    )
    return gathered(bound, ran, laws, outlet, given["frequency"])
