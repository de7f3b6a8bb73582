"""What a part of the plant tells of itself: one record of functions, which every account of the whole goes through.

A room that adds up (books, state table, bill, charge, vessels, schematic) names no part: it asks all of them. What a
part has nothing to say of it leaves out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from explore.fluids.interface import Array, WorkingFluid
from explore.plant.circuit import Cycle, LinePart
from explore.plant.parts.schematic import Spot

if TYPE_CHECKING:
    from explore.config.schema import Case, Costs, Engine


class Section(IntEnum):
    """Sections of the fluid's way, in the order in which accounts and states are listed."""

    CONDENSATE = 1
    FEED = 2
    WARMING = 3
    BOILING = 4
    VAPOUR = 5
    EXPANSION = 6
    EXHAUST = 7
    CONDENSING = 8
    AROUND = 9
    """Beside the fluid: what turns into heat of the air."""


@dataclass(frozen=True)
class Account:
    """One component: energy in less energy out [J/kg], entropy generated and passed on [J/(kg K)], each (n,).

    ``heat_to_air`` [J/kg] is what it gives to the air around.
    """

    component: str
    section: Section
    energy_residual: Array
    entropy_generated: Array
    entropy_passed: Array
    heat_to_air: Array | None = None


class Balance(NamedTuple):
    """What accounts are drawn up from, per kg of working-fluid flow, each (n,).

    ``heat_in`` [J/kg] and ``entropy_in`` [J/(kg K)] are given up by the hot water, ``heat_out`` and ``entropy_out`` taken
    by the cooling water; ``ambient`` [K] is its temperature, that of the dead state.
    """

    fluid: WorkingFluid
    cycle: Cycle
    heat_in: Array
    entropy_in: Array
    heat_out: Array
    entropy_out: Array
    ambient: float


class Point(NamedTuple):
    """A state of the fluid: its name, its place, SI and kelvin, each (n,); ``quality`` [-] NaN where there is none.

    ``spot`` is where the schematic marks it; without one it stands in the table alone.
    """

    name: str
    place: str
    section: Section
    pressure: Array
    enthalpy: Array
    entropy: Array
    temperature: Array
    quality: Array | None = None
    spot: Spot | None = None


@dataclass(frozen=True)
class Sizes:
    """What the bill counts, in edge units; scalars hold for all designs, arrays are (n,).

    ``swept_volume_L`` is the sum over the stages. ``cylinders`` side by side in each stage; ``cut_off_gear`` 1 where the
    cut-off varies; ``drive_steps`` of 4 to 1 between engine and load; ``bank_EUR`` what takes a day's work;
    ``vapour_line`` names the parts that the case puts there.
    """

    collector_price_EUR_per_m2: ArrayLike
    collector_area_m2: ArrayLike
    store_volume_L: ArrayLike
    insulation_volume_m3: ArrayLike
    boiler_area_m2: ArrayLike
    condenser_area_m2: ArrayLike
    regenerator_area_m2: ArrayLike
    stages: ArrayLike
    swept_volume_L: ArrayLike
    pressure_levels: ArrayLike
    charge_kg: ArrayLike
    fluid_price_EUR_per_kg: ArrayLike
    cylinders: ArrayLike = 1
    cut_off_gear: ArrayLike = 0
    drive_steps: ArrayLike = 0.0
    bank_EUR: ArrayLike = 0.0
    vapour_line: tuple[str, ...] = ()


class Line(NamedTuple):
    """One line of the bill: its name and what it comes to [EUR] at prices and sizes."""

    name: str
    price: Callable[[Costs, Sizes], ArrayLike]


@dataclass(frozen=True)
class Contents:
    """What the parts hold: areas [m2], densities [kg/m3], each (n,) or a scalar.

    ``swept_volumes_L`` and ``receiver_vapour_kg_per_m3`` have shape (stages, n), NaN where a design has no such stage.
    """

    boiler_area_m2: ArrayLike
    condenser_area_m2: ArrayLike
    regenerator_area_m2: ArrayLike
    swept_volumes_L: ArrayLike
    boiler_liquid_kg_per_m3: ArrayLike
    boiler_vapour_kg_per_m3: ArrayLike
    condenser_liquid_kg_per_m3: ArrayLike
    condenser_vapour_kg_per_m3: ArrayLike
    receiver_vapour_kg_per_m3: ArrayLike


class HoldUp(NamedTuple):
    """Fluid in a part: litres a unit of its size by the name of the key that gives them, and kg/m3 times units, (n,)."""

    litres: str
    filling: Array


class Vessel(NamedTuple):
    """A shell under pressure: inner diameter [mm], or the volume [L] of an upright vessel twice as high as wide."""

    name: str
    diameter_mm: float = float("nan")
    volume_L: float = float("nan")


def _no_accounts(balance: Balance) -> Iterable[Account]:
    return ()


def _no_points(fluid: WorkingFluid, cycle: Cycle) -> Iterable[Point]:
    return ()


def _no_hold_up(engine: Engine, contents: Contents) -> Iterable[HoldUp]:
    return ()


def _not_in_the_line(case: Case) -> Iterable[LinePart]:
    return ()


def _no_vessels(engine: Engine, figures: Mapping[str, float]) -> Iterable[Vessel]:
    return ()


@dataclass(frozen=True)
class Part:
    """One part of the plant.

    ``accounts`` of energy and entropy, which also find what it destroys; ``points`` are the states it makes; ``lines`` of
    the bill; ``hold_up`` of fluid; ``vessels`` under pressure, from a design's reported figures; ``vapour_line``
    is what vapour passes on its way to the engine.
    """

    key: str
    accounts: Callable[[Balance], Iterable[Account]] = _no_accounts
    points: Callable[[WorkingFluid, Cycle], Iterable[Point]] = _no_points
    lines: tuple[Line, ...] = ()
    hold_up: Callable[[Engine, Contents], Iterable[HoldUp]] = _no_hold_up
    vessels: Callable[[Engine, Mapping[str, float]], Iterable[Vessel]] = _no_vessels
    vapour_line: Callable[[Case], Iterable[LinePart]] = _not_in_the_line


def vapour_point(
    fluid: WorkingFluid,
    name: str,
    place: str,
    section: Section,
    pressure: Array,
    enthalpy: Array,
    spot: Spot | None = None,
) -> Point:
    """The state of vapour at (p [Pa], h [J/kg]), with its quality where it is wet."""
    state = fluid.from_enthalpy(pressure, enthalpy)
    if fluid.glides:
        quality = fluid.quality(pressure, enthalpy)
    else:
        sat = fluid.saturation(pressure)
        quality = (enthalpy - sat.h_liquid) / (sat.h_vapour - sat.h_liquid)
    wet = np.where(quality < 1.0 - ROUNDING, quality, np.nan)
    return Point(name, place, section, pressure, enthalpy, state.entropy, state.temperature, wet, spot)


ROUNDING = 1e-9
"""Vapour on the dew line is dry: its quality misses one by the rounding of two enthalpies."""


def saturation_points(
    fluid: WorkingFluid, verb: str, place: str, section: Section, pressure: Array
) -> list[Point]:
    """Bubble and dew point of a mixture at one pressure [Pa]; none of a pure fluid, for which they are one."""
    if not fluid.glides:
        return []
    sat, none = fluid.saturation(pressure), np.zeros_like(pressure)
    bubble = (pressure, sat.h_liquid, sat.s_liquid, sat.temperature, none)
    dew = (pressure, sat.h_vapour, sat.s_vapour, sat.dew_temperature, none + 1.0)
    return [
        Point(f"bubble point of what {verb}s", f"{place}, bubble point", section, *bubble),
        Point(f"dew point of what {verb}s", f"{place}, dew point", section, *dew),
    ]


def mixed_density(liquid: ArrayLike, vapour: ArrayLike, liquid_share: float) -> Array:
    """Mean density [kg/m3] of a part filled by ``liquid_share`` [-] of its volume with liquid."""
    return np.asarray(
        liquid_share * np.asarray(liquid, dtype=float)
        + (1.0 - liquid_share) * np.asarray(vapour, dtype=float)
    )


def scaled_cost(coefficient: float, size: ArrayLike, exponent: float) -> Array:
    """Return coefficient x size^exponent [EUR], the six-tenths rule at exponent 0.6.

    Source: Williams, Six-tenths factor aids in approximating costs, Chem. Eng. 54(12), 1947, 124.

    >>> round(float(scaled_cost(1.0, 2.0, 0.6)), 4)
    1.5157
    """
    return np.asarray(coefficient * np.power(np.asarray(size, dtype=float), exponent))
