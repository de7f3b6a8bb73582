"""The regenerator between exhaust and feed: account, states, price and hold-up."""

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
    vapour_point,
)
from explore.plant.parts.schematic import ABOVE, LEFT, Spot

if TYPE_CHECKING:
    from explore.config.schema import Engine


def accounts(balance: Balance) -> Iterable[Account]:
    """Entropy that the feed gains less that which the exhaust gives up."""
    fluid, cycle = balance.fluid, balance.cycle
    if not np.any(cycle.regenerator.fitted):
        return
    exhaust = cycle.stages[-1].exhaust_enthalpy
    warm = fluid.from_enthalpy(cycle.condenser_pressure, exhaust).entropy
    cool = fluid.from_enthalpy(cycle.condenser_pressure, cycle.regenerator.exhaust_enthalpy).entropy
    heated = fluid.liquid_from_enthalpy(cycle.levels[-1].pressure, cycle.warmed).entropy
    gained = heated - cycle.feed.entropy
    energy = (exhaust - cycle.regenerator.exhaust_enthalpy) - (cycle.warmed - cycle.feed.enthalpy)
    yield Account("regenerator", Section.WARMING, energy, gained - (warm - cool), gained)


def points(fluid: WorkingFluid, cycle: Cycle) -> Iterable[Point]:
    """The feed it warms and the exhaust it cools."""
    if not np.any(cycle.regenerator.fitted):
        return
    low = cycle.levels[-1].pressure
    warm = fluid.liquid_from_enthalpy(low, cycle.warmed)
    yield Point(
        "feed warmed by the exhaust",
        "regenerator liquid outlet",
        Section.WARMING,
        low,
        warm.enthalpy,
        warm.entropy,
        warm.temperature,
        spot=Spot(560, 478, ABOVE),
    )
    name, place = "exhaust cooled by the feed", "regenerator vapour outlet"
    behind = (cycle.condenser_pressure, cycle.into_condenser)
    yield vapour_point(fluid, name, place, Section.EXHAUST, *behind, Spot(865, 300, LEFT))


def hold_up(engine: Engine, contents: Contents) -> Iterable[HoldUp]:
    """Passages like the boiler's, at the densities of the condenser."""
    between = mixed_density(
        contents.condenser_liquid_kg_per_m3, contents.condenser_vapour_kg_per_m3, engine.liquid_share_boiler
    )
    yield HoldUp("boiler_hold_up_L_per_m2", np.multiply(contents.regenerator_area_m2, between))


REGENERATOR = Part(
    "regenerator",
    accounts,
    points,
    (
        Line(
            "regenerator",
            lambda costs, size: np.multiply(costs.regenerator_EUR_per_m2, size.regenerator_area_m2),
        ),
    ),
    hold_up,
)
