"""The boilers on the hot water, or the coil in the store: account, states, price and hold-up."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from explore.fluids.interface import WorkingFluid
from explore.plant.circuit import Cycle
from explore.plant.parts.feed_pump import lifts
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
    mixed_density,
    saturation_points,
)
from explore.plant.parts.schematic import ABOVE, BELOW, LEFT, Spot, boilers, in_store

if TYPE_CHECKING:
    from explore.config.schema import Costs, Engine


def accounts(balance: Balance) -> Iterable[Account]:
    """One account of all boilers together: the water passes them in series."""
    fluid, cycle = balance.fluid, balance.cycle
    feed = fluid.liquid_from_enthalpy(cycle.levels[-1].pressure, cycle.warmed)
    lift_energy, lift_entropy = lifts(fluid, cycle)
    energy = np.sum([m * v.exit_enthalpy for m, v in zip(cycle.shares, cycle.levels, strict=True)], axis=0)
    entropy = np.sum([m * v.exit_entropy for m, v in zip(cycle.shares, cycle.levels, strict=True)], axis=0)
    gained = entropy - feed.entropy - lift_entropy
    residual = balance.heat_in - (energy - cycle.warmed - lift_energy)
    yield Account("boilers", Section.BOILING, residual, gained - balance.entropy_in, gained)


def points(fluid: WorkingFluid, cycle: Cycle) -> Iterable[Point]:
    """A mixture's ends of boiling, and the vapour that leaves each boiler."""
    yield from saturation_points(fluid, "boil", "boiler 1", Section.BOILING, cycle.levels[0].pressure)
    first = Spot(380, 160, ABOVE) if in_store(cycle) else Spot(450, 52, LEFT)
    spots = [first, *(Spot(500, y, BELOW) for y in boilers(cycle)[1:])]
    for number, (level, spot) in enumerate(zip(cycle.levels, spots, strict=True), start=1):
        yield Point(
            f"vapour of boiler {number}",
            f"boiler {number} outlet",
            Section.BOILING,
            level.pressure,
            level.exit_enthalpy,
            level.exit_entropy,
            level.exit_temperature,
            spot=spot,
        )


def hold_up(engine: Engine, contents: Contents) -> Iterable[HoldUp]:
    """Inner volume per area, partly filled with liquid."""
    hot = mixed_density(
        contents.boiler_liquid_kg_per_m3, contents.boiler_vapour_kg_per_m3, engine.liquid_share_boiler
    )
    yield HoldUp("boiler_hold_up_L_per_m2", np.multiply(contents.boiler_area_m2, hot))


def each_level(costs: Costs, size: Sizes) -> ArrayLike:
    """Shell, receiver, feed pump and safety valve of every pressure level [EUR]."""
    each = (
        costs.boiler_set_EUR_per_level
        + costs.receiver_EUR_per_level
        + costs.feed_pump_EUR_per_level
        + costs.safety_valve_EUR
    )
    return np.multiply(each, size.pressure_levels)


BOILER = Part(
    "boiler",
    accounts,
    points,
    (Line("boiler", lambda costs, size: np.multiply(costs.boiler_EUR_per_m2, size.boiler_area_m2)),),
    hold_up,
)
LEVEL_SET = Part("level set", lines=(Line("levels", each_level),))
