"""The condenser: account, states, price and hold-up."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from explore.fluids.interface import WorkingFluid
from explore.plant.circuit import Cycle
from explore.plant.parts.part import (
    Account,
    Balance,
    Contents,
    HoldUp,
    Line,
    Part,
    Point,
    Section,
    mixed_density,
    saturation_points,
)
from explore.plant.parts.schematic import RIGHT, Spot

if TYPE_CHECKING:
    from explore.config.schema import Engine


def accounts(balance: Balance) -> Iterable[Account]:
    """Entropy that the cooling water gains less that which the fluid gives up."""
    fluid, cycle = balance.fluid, balance.cycle
    entering = cycle.into_condenser
    given = fluid.from_enthalpy(cycle.condenser_pressure, entering).entropy - cycle.condensate.entropy
    residual = entering - cycle.condensate.enthalpy - balance.heat_out
    yield Account("condenser", Section.CONDENSING, residual, balance.entropy_out - given, given)


def points(fluid: WorkingFluid, cycle: Cycle) -> Iterable[Point]:
    """The liquid that leaves, and a mixture's ends of condensing."""
    pressure, liquid = cycle.condenser_pressure, cycle.condensate
    yield Point(
        "liquid leaving the condenser",
        "condenser outlet",
        Section.CONDENSATE,
        pressure,
        liquid.enthalpy,
        liquid.entropy,
        liquid.temperature,
        spot=Spot(865, 420, RIGHT),
    )
    yield from reversed(saturation_points(fluid, "condense", "condenser", Section.CONDENSING, pressure))


def hold_up(engine: Engine, contents: Contents) -> Iterable[HoldUp]:
    """Inner volume per area, a little of it filled with liquid."""
    cold = mixed_density(
        contents.condenser_liquid_kg_per_m3,
        contents.condenser_vapour_kg_per_m3,
        engine.liquid_share_condenser,
    )
    yield HoldUp("condenser_hold_up_L_per_m2", np.multiply(contents.condenser_area_m2, cold))


CONDENSER = Part(
    "condenser",
    accounts,
    points,
    (Line("condenser", lambda costs, size: np.multiply(costs.condenser_EUR_per_m2, size.condenser_area_m2)),),
    hold_up,
)
