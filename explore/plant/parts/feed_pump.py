"""Feed pump, the pumps between pressure levels and the pipes they fill: account, state and hold-up."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from explore.fluids.interface import Array, WorkingFluid
from explore.plant.circuit import Cycle
from explore.plant.parts.part import Account, Balance, Contents, HoldUp, Part, Point, Section
from explore.plant.parts.schematic import ABOVE, FAR_LEFT, Spot

if TYPE_CHECKING:
    from explore.config.schema import Engine


def lifts(fluid: WorkingFluid, cycle: Cycle) -> tuple[Array, Array]:
    """Energy [J/kg] and entropy [J/(kg K)] that the pumps between levels add, per kg of total flow."""
    energy, entropy = np.zeros_like(cycle.heat), np.zeros_like(cycle.heat)
    passed = np.zeros_like(cycle.heat)
    for i, level in enumerate(cycle.levels):
        if i:
            lifted = fluid.liquid_from_enthalpy(
                cycle.levels[i - 1].pressure, level.bubble_enthalpy + level.lift_work
            )
            energy = energy + passed * (lifted.enthalpy - level.bubble_enthalpy)
            entropy = entropy + passed * (lifted.entropy - level.bubble_entropy)
        passed = passed + cycle.shares[i]
    return energy, entropy


def accounts(balance: Balance) -> Iterable[Account]:
    """The feed pump's, and one of all pumps between levels."""
    fluid, cycle = balance.fluid, balance.cycle
    feed, condensate = cycle.feed, cycle.condensate
    residual = cycle.feed_work - (feed.enthalpy - condensate.enthalpy)
    passed = np.abs(feed.entropy)
    yield Account("feed pump", Section.FEED, residual, feed.entropy - condensate.entropy, passed)
    if len(cycle.levels) > 1:
        energy, entropy = lifts(fluid, cycle)
        yield Account("pumps between levels", Section.FEED, cycle.lift_work - energy, entropy, passed)


def points(fluid: WorkingFluid, cycle: Cycle) -> Iterable[Point]:
    """The feed behind the pump."""
    feed, pressure = cycle.feed, cycle.levels[-1].pressure
    yield Point(
        "feed behind the pump",
        "feed pump outlet",
        Section.FEED,
        pressure,
        feed.enthalpy,
        feed.entropy,
        feed.temperature,
        spot=Spot(790, 400, FAR_LEFT) if np.any(cycle.regenerator.fitted) else Spot(640, 460, ABOVE),
    )


def hold_up(engine: Engine, contents: Contents) -> Iterable[HoldUp]:
    """Pipes and pump are full of condensate."""
    yield HoldUp("pipe_volume_L", np.asarray(contents.condenser_liquid_kg_per_m3, dtype=float))


FEED_PUMP = Part("feed pump", accounts, points, hold_up=hold_up)
