"""The engine, its cylinders with a receiver before each, and what it drives: accounts, states, price, hold-up, vessels."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from explore.fluids.interface import Array, WorkingFluid
from explore.plant.circuit import Cycle
from explore.plant.engine import Stage
from explore.plant.parts.part import (
    Account,
    Balance,
    Contents,
    HoldUp,
    Line,
    Part,
    Point,
    Section,
    Sizes,
    Vessel,
    scaled_cost,
    vapour_point,
)
from explore.plant.parts.schematic import ABOVE, HEADER, HIGH, RIGHT, Spot, cylinder

if TYPE_CHECKING:
    from explore.config.schema import Costs, Engine

ENGINE_EXPONENT = 0.6
"""The six-tenths rule (Williams, Chem. Eng. 54, 1947), for a cylinder's volume and for cylinders side by side."""
STAGES = (1, 2, 3)
"""Expansions in series that an engine may have: a fourth gains little at the pressures of hot water (model, section
3b)."""


def accounts(balance: Balance) -> Iterable[Account]:
    """Mixing in the receivers, five losses of each stage, and friction, which warms the air."""
    fluid, cycle = balance.fluid, balance.cycle
    yield from _receivers(fluid, cycle)
    flows = list(zip(cycle.stage_flows, cycle.stages, strict=True))
    for number, (share, stage) in enumerate(flows, start=1):
        yield from _stage(fluid, stage, share, number)
    friction = np.sum([_friction(share, stage) for share, stage in flows], axis=0)
    lost = friction / balance.ambient
    yield Account("piston friction", Section.AROUND, np.zeros_like(friction), lost, lost, friction)


def _friction(share: Array, stage: Stage) -> Array:
    return share * stage.kept * stage.losses.friction_mean_pressure * stage.ideal_volume


def _receivers(fluid: WorkingFluid, cycle: Cycle) -> Iterable[Account]:
    if len(cycle.levels) == 1:
        return
    energy, entropy, passed = (np.zeros_like(cycle.heat) for _ in range(3))
    for j in range(1, len(cycle.levels)):
        stage, arrived, fresh = cycle.stages[j - 1], cycle.arriving[j].enthalpy, cycle.shares[j]
        before, after = cycle.stage_flows[j - 1], cycle.stage_flows[j]
        pressure = cycle.stages[j].inlet.pressure
        exhaust = fluid.from_enthalpy(pressure, stage.exhaust_enthalpy)
        vapour = fluid.from_enthalpy(pressure, arrived)
        mixture = fluid.from_enthalpy(pressure, cycle.receiver_enthalpies[j])
        energy = energy + before * exhaust.enthalpy + fresh * vapour.enthalpy - after * mixture.enthalpy
        entropy = entropy + after * mixture.entropy - before * exhaust.entropy - fresh * vapour.entropy
        passed = passed + np.abs(after * mixture.entropy)
    yield Account("receivers", Section.EXPANSION, energy, entropy, passed)


def _stage(fluid: WorkingFluid, stage: Stage, share: Array, number: int) -> Iterable[Account]:
    """Split a stage into admission, release, exhaust, leakage and walls by the states between them."""
    h1, work, tight = stage.inlet.enthalpy, stage.indicated_work, 1.0 - stage.losses.leakage_fraction
    out, back = stage.exhaust_pressure, stage.back_pressure
    s = [
        fluid.from_enthalpy(stage.inlet.pressure, h1).entropy,
        stage.inlet.entropy,
        fluid.from_enthalpy(back, h1 - work).entropy,
        fluid.from_enthalpy(out, h1 - work).entropy,
        fluid.from_enthalpy(out, h1 - tight * work).entropy,
        fluid.from_enthalpy(out, stage.exhaust_enthalpy).entropy,
    ]
    names = ("admission valve", "release", "exhaust valve", "leakage", "cylinder wall")
    energy = share * (h1 - stage.kept * work - stage.exhaust_enthalpy)
    zero = np.zeros_like(energy)
    for name, a, b in zip(names, s[:-1], s[1:], strict=True):
        residual = energy if name == "release" else zero
        yield Account(
            f"stage {number} {name}", Section.EXPANSION, residual, share * (b - a), np.abs(share * a)
        )


def points(fluid: WorkingFluid, cycle: Cycle) -> Iterable[Point]:
    """What enters and what leaves each stage."""
    for number, (stage, h) in enumerate(zip(cycle.stages, cycle.receiver_enthalpies, strict=True), start=1):
        x, last = cylinder(number), number == len(cycle.stages)
        out = Spot(865, 110, RIGHT) if last else Spot(x + 52, HEADER, HIGH)
        ends = (
            ("into", "inlet", stage.inlet.pressure, h, Spot(x + 18, HEADER, ABOVE)),
            ("out of", "outlet", stage.exhaust_pressure, stage.exhaust_enthalpy, out),
        )
        for way, end, pressure, enthalpy, spot in ends:
            name, place = f"vapour {way} stage {number}", f"stage {number} {end}"
            yield vapour_point(fluid, name, place, Section.EXPANSION, pressure, enthalpy, spot)


def price(costs: Costs, size: Sizes) -> ArrayLike:
    """Each stage by its cylinders, and what all of them sweep [EUR]."""
    return np.multiply(
        costs.engine_EUR_per_stage, np.multiply(size.stages, np.power(size.cylinders, ENGINE_EXPONENT))
    ) + scaled_cost(costs.engine_EUR_per_L06, size.swept_volume_L, ENGINE_EXPONENT)


def hold_up(engine: Engine, contents: Contents) -> Iterable[HoldUp]:
    """Each cylinder has a receiver of so many of its strokes, filled with vapour."""
    filling = np.nansum(np.multiply(contents.swept_volumes_L, contents.receiver_vapour_kg_per_m3), axis=0)
    yield HoldUp("receiver_volume_strokes", filling)


def vessels(engine: Engine, figures: Mapping[str, float]) -> Iterable[Vessel]:
    """Cylinders, and the receivers before them."""
    for stage in STAGES:
        bore, swept = (float(figures[name]) for name in (f"bore_{stage}_mm", f"swept_volume_{stage}_L"))
        if math.isfinite(bore) and swept > 0.0:
            volume = engine.receiver_volume_strokes * swept
            yield Vessel(f"receiver before cylinder {stage}", volume_L=volume)
            yield Vessel(f"cylinder {stage}", bore)


ENGINE = Part(
    "engine",
    accounts,
    points,
    (
        Line("engine", price),
        Line("cut_off_gear", lambda costs, size: np.multiply(costs.cut_off_gear_EUR, size.cut_off_gear)),
    ),
    hold_up,
    vessels,
)
DRIVE = Part(
    "drive",
    lines=(
        Line("drive", lambda costs, size: np.multiply(costs.drive_EUR_per_ratio_4, size.drive_steps)),
        Line("bank", lambda _, size: np.asarray(size.bank_EUR)),
    ),
)
