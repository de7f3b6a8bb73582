"""The engine whose cylinders and losses agree.

Losses follow from cylinders, cylinders from the flow, the flow from the work, and the work from the losses. The
agreement is found by a fixed number of whole sweeps from the small side: a larger cylinder rubs and leaks
more, so that now and then two cylinders give the power asked, and the smaller counts. Nothing depends on the
batch.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from explore.fluids.interface import Array, WorkingFluid
from explore.plant import losses as laws_of
from explore.plant.cylinder import Cylinders, Make, from_stock, size
from explore.plant.engine import LOSSLESS, AnyLosses, Losses, Stage
from explore.plant.laws import Laws
from explore.plant.losses import Films, StageLosses, Wall

SWEEPS = 10
"""Leave under 0.05 % in work and 0.2 % in swept volume against 60 (tests/plant/test_settle.py); 8 do not."""
MORE_SWEEPS = {1: 2, 2: 5, 3: 8}
"""By number of stages, for an engine on a mixed store, where the sizing point is another than the rated."""
STOCK_SWEEPS = 4
"""From the converged cylinder with its bore rounded up to stock, whose losses are near."""
WALL_WEIGHT = 0.75
"""Weight of the newest wall loss where receiver pressures are unknown: taken whole, the walls of slow compound engines
swing with them for ever. The point of rest is the same."""
FIRST_SHARE = 0.5
"""Share of the loss-free work that the first cylinders count on."""
LEAST_SHARE = 0.05
"""Share of the loss-free work that an engine in a sweep counts with while it gives none (model, section 3L): 5 %."""
RESIDUAL_LIMIT = 0.01
"""Share by which the last sweep may still move an engine; one that moves more breaks a limit."""


class Run(NamedTuple):
    """Stages in series at one state of the plant; ``shares`` [-] their flows over the whole flow, each (n,)."""

    stages: list[Stage]
    shares: list[Array]


class Marched(NamedTuple):
    """What one march with given losses finds.

    ``runs`` at the states whose losses count: the rated point of an engine on a stratified store, the rated
    and the sizing point of one on a mixed store. ``volumes`` [m3/kg] swept by each stage per kg of whole flow,
    ``net_work`` and ``ideal_work`` [J/kg], at the point where the power is asked.
    """

    runs: list[Run]
    volumes: list[Array]
    net_work: Array
    ideal_work: Array


@dataclass(frozen=True)
class Leaks:
    """The law of leaks for given cylinders, for a solver whose receiver pressures are unknown.

    Leaks answer to those pressures at once: taken from the sweep before, they swing ever wider in slow compound engines.
    """

    laws: Laws
    cylinders: list[Cylinders]
    frequency: Array
    films: Films

    @cached_property
    def speeds(self) -> list[Array]:
        """Mean piston speed [m/s] of each stage."""
        return [own.piston_speed(self.frequency) for own in self.cylinders]

    def at(self, j: int, ratio: Array, inlet: Array, outlet: Array, volume: Array) -> Array:
        """Leakage [-] of stage ``j`` of built-in ``ratio`` between pressures [Pa], ``volume`` v1 [m3/kg] at its inlet."""
        bore, speed = self.cylinders[j].bore, self.speeds[j]
        return laws_of.leaked(self.laws, bore, speed, ratio, inlet, outlet, volume, self.films.viscosity)


class Trail(NamedTuple):
    """What the sweep before leaves to a march: the ``leaks`` of its cylinders, and the stages of every run."""

    leaks: Leaks
    runs: list[list[Stage]]


March = Callable[[Sequence[Sequence[AnyLosses]], Trail | None], Marched]
"""Losses of every stage in every run, and the trail -> the march; as many lists of losses as runs returned."""


@dataclass(frozen=True)
class Frame:
    """What an engine is asked: ``power`` [W] at its shaft, ``frequency`` [rev/s], ``number`` of cylinders; each (n,)."""

    power: Array
    frequency: Array
    number: Array
    make: Make


class Settled(NamedTuple):
    """An engine whose cylinders and losses agree.

    ``losses`` by run and stage; ``residual`` [-] change of net work in the last sweep, ``violation`` its excess over 1 %;
    ``port_violation`` of the worst admission port.
    """

    marched: Marched
    losses: Sequence[Sequence[AnyLosses]]
    cylinders: list[Cylinders]
    flow: Array
    residual: Array
    violation: Array
    port_violation: Array


def engine_set(name: str) -> Laws | Losses:
    """Losses of a named engine: `careful`, `lapped`, `home_made`, `ideal`, or the same for all, `constant`."""
    sets: dict[str, Laws | Losses] = {
        "careful": Laws.careful(),
        "lapped": Laws.lapped(),
        "home_made": Laws.home_made(),
        "ideal": LOSSLESS,
        "constant": Losses(),
    }
    return sets[name]


def wall_at(fluid: WorkingFluid, pressure: Array) -> Wall:
    """Saturation that the walls see at a stage's inlet pressure [Pa], (n,)."""
    sat = fluid.saturation(pressure)
    return Wall(sat.dew_temperature, sat.h_liquid, sat.h_vapour, sat.v_liquid, sat.v_vapour)


def losses_of(leaks: Leaks, j: int, stage: Stage, wall: Wall) -> StageLosses:
    """Losses of stage ``j`` in its present state, each (n,).

    ``leaks`` know the cylinders, their speed and the laws; ``wall`` is the saturation at p1.
    """
    laws, own, inlet = leaks.laws, leaks.cylinders[j], stage.inlet
    eps = laws_of.cut_off(laws.clearance, stage.volume_ratio)
    swept = laws_of.Swept(own.bore, own.stroke, leaks.frequency, eps)
    seen = laws_of.Seen(
        inlet.pressure, inlet.receiver_volume, inlet.enthalpy, inlet.temperature, stage.exhaust_pressure,
        stage.exhaust.volume, stage.clearance_temperature, stage.indicated_work, stage.ideal_volume,
    )  # fmt: skip
    return laws_of.losses(laws, swept, leaks.speeds[j], stage.volume_ratio, seen, wall, leaks.films)


class Walls:
    """Saturation at the inlets of one run, looked up again only where the pressures of a sweep have moved."""

    def __init__(self, fluid: WorkingFluid) -> None:
        self._fluid = fluid
        self._known: dict[int, tuple[Array, Wall]] = {}

    def at(self, j: int, pressure: Array) -> Wall:
        """Saturation at the inlet pressure [Pa] of stage ``j``."""
        known = self._known.get(j)
        if known is None or not np.array_equal(known[0], pressure):
            known = self._known[j] = (pressure, wall_at(self._fluid, pressure))
        return known[1]


def run_losses(stages: Sequence[Stage], leaks: Leaks, walls: Walls) -> list[StageLosses]:
    """Losses of all stages in their present state; ``leaks`` know the cylinders, their speed and the laws."""
    return [losses_of(leaks, j, stage, walls.at(j, stage.inlet.pressure)) for j, stage in enumerate(stages)]


def calmed(found: list[StageLosses], before: Sequence[StageLosses]) -> list[StageLosses]:
    """Losses of stages in series behind unknown receiver pressures, for the next sweep: walls not taken whole."""
    if len(found) == 1:
        return found
    return [
        replace(new, wall_share=old.wall_share + WALL_WEIGHT * (new.wall_share - old.wall_share))
        for new, old in zip(found, before, strict=True)
    ]


def worst_port(
    laws: Laws, stages: Sequence[Stage], cylinders: Sequence[Cylinders], frequency: Array
) -> Array:
    """Violation [-] of the admission port's Mach index at ``frequency`` [1/s], (n,), the greatest of all stages."""
    return np.asarray(
        np.max(
            [
                laws_of.port_violation(
                    laws, own.piston_speed(frequency), s.inlet.pressure, s.inlet.receiver_volume
                )
                for s, own in zip(stages, cylinders, strict=True)
            ],
            axis=0,
        )
    )


def sizing_volumes(rated: Sequence[Stage], sized: Sequence[Stage]) -> list[Array]:
    """Volumes swept per kg at the sizing point of a mixed store [m3/kg], in the proportions of the rated point."""
    first = sized[0].swept_volume
    return [first * s.swept_volume / rated[0].swept_volume for s in rated]


def settle(
    fluid: WorkingFluid,
    march: March,
    runs: int,
    stages: int,
    frame: Frame,
    laws: Laws | Losses,
    films: Films,
    sweeps: int | None = None,
) -> Settled:
    """Find the engine of ``stages`` stages that gives ``frame.power``, marched at ``runs`` states.

    The first march knows only the valves of a standing engine, its cylinders are those of half the ideal work. Then
    whole sweeps, a number fixed by stages and runs: cylinders from the flow, losses from the cylinders, a march with
    them. A bore from stock is taken from the result and held through a few sweeps more. Losses that are the same
    for all need no sweep.
    """
    if isinstance(laws, Losses):
        return _constant(march, [[laws] * stages] * runs, frame)
    if sweeps is None:
        sweeps = SWEEPS + (MORE_SWEEPS[stages] if runs > 1 else 0)
    walls = [Walls(fluid) for _ in range(runs)]
    first = laws_of.first_losses(laws, frame.power)
    losses = [[first] * stages for _ in range(runs)]
    marched = march(losses, None)
    flow = frame.power / (FIRST_SHARE * marched.ideal_work)
    before, bores = marched.net_work, None
    cylinders: list[Cylinders] = []
    stocked = STOCK_SWEEPS if frame.make.stock_bores and not frame.make.one_throw else 0
    for sweep in range(sweeps + stocked):
        if sweep == sweeps:
            bores = [from_stock(frame.make, c.bore) for c in cylinders]
        cylinders = _cylinders(frame, marched, flow, bores)
        leaks = Leaks(laws, cylinders, frame.frequency, films)
        found = [run_losses(run.stages, leaks, known) for run, known in zip(marched.runs, walls, strict=True)]
        losses = [found[0], *(calmed(*pair) for pair in zip(found[1:], losses[1:], strict=True))]
        trail = Trail(leaks, [run.stages for run in marched.runs])
        before, marched = marched.net_work, march(losses, trail)
        flow = _flow(frame, marched)
    cylinders = _cylinders(frame, marched, flow, bores)
    scale = np.maximum(np.abs(marched.net_work), LEAST_SHARE * marched.ideal_work)
    residual = np.abs(marched.net_work - before) / scale
    ports = [worst_port(laws, run.stages, cylinders, frame.frequency) for run in marched.runs]
    return Settled(
        marched,
        losses,
        cylinders,
        flow,
        residual,
        residual - RESIDUAL_LIMIT,
        np.asarray(np.max(ports, axis=0)),
    )


def _constant(march: March, losses: list[list[Losses]], frame: Frame) -> Settled:
    marched = march(losses, None)
    flow, none = _flow(frame, marched), np.zeros_like(frame.power)
    cylinders = _cylinders(frame, marched, flow, None)
    if frame.make.stock_bores and not frame.make.one_throw:
        cylinders = _cylinders(frame, marched, flow, [from_stock(frame.make, c.bore) for c in cylinders])
    no_limit = np.full_like(none, -np.inf)
    return Settled(marched, losses, cylinders, flow, none, none - RESIDUAL_LIMIT, no_limit)


def _flow(frame: Frame, marched: Marched) -> Array:
    """Whole flow [kg/s] that gives the power; that of a twentieth of the ideal work where there is none."""
    work = marched.net_work
    return np.asarray(frame.power / np.where(work > 0.0, work, LEAST_SHARE * marched.ideal_work))


def _cylinders(frame: Frame, marched: Marched, flow: Array, bores: list[Array] | None) -> list[Cylinders]:
    displaced = [volume * flow for volume in marched.volumes]
    return size(frame.make, displaced, frame.frequency, frame.number, bores)
