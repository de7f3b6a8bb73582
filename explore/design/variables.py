"""The design variables: names, units, default bounds, scales, and when each applies."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

LEAST_BOILING_LIFT_K = 8.0
STOP_LIFT_K = 15.0


@dataclass(frozen=True)
class Variable:
    """One continuous design variable: unit, static bounds, scale, and when it applies."""

    name: str
    unit: str
    low: float
    high: float
    about: str
    applies: Literal["always", "stratified", "mixed", "levels", "regenerator"] = "always"
    log: bool = False


@dataclass(frozen=True, order=True)
class Layout:
    """How the machine is built: store mode, stages and pressure levels that fit together."""

    store_mode: str
    stages: int
    pressure_levels: int


STORE_MODES = ("stratified", "mixed")
LAYOUTS = tuple(
    [Layout("stratified", stages, levels) for stages in (1, 2, 3) for levels in range(1, stages + 1)]
    + [Layout("mixed", stages, 1) for stages in (1, 2, 3)]
)

INPUTS = (
    "fluid",
    "store_mode",
    "top_temperature_degC",
    "evaporating_temperature_degC",
    "lowest_evaporating_temperature_degC",
    "boil_approach_K",
    "stop_temperature_degC",
    "superheat_K",
    "condensing_temperature_degC",
    "subcooling_K",
    "pinch_boiler_K",
    "pinch_condenser_K",
    "stages",
    "pressure_levels",
    "release_pressure_ratio",
    "regenerator_effectiveness",
    "store_volume_L",
    "insulation_mm",
    "collector",
    "collector_area_m2",
)


def variables(cooling_water_degC: float) -> tuple[Variable, ...]:
    """List the continuous variables with their default bounds, in the order of the genes.

    The order matters for decoding: a variable comes after those its bounds depend on.
    """
    cold = cooling_water_degC
    return (
        Variable("top_temperature_degC", "degC", 60, 97, "store temperature when full"),
        Variable("condensing_temperature_degC", "degC", cold + 3, cold + 25, "condensing temperature"),
        Variable("pinch_boiler_K", "K", 2, 12, "smallest difference to the water, boiler", "stratified"),
        Variable(
            "evaporating_temperature_degC", "degC", 30, 94.5, "evaporating, hottest boiler", "stratified"
        ),
        Variable(
            "lowest_evaporating_temperature_degC",
            "degC",
            cold + 3 + LEAST_BOILING_LIFT_K,
            89.5,
            "evaporating, coldest boiler",
            "levels",
        ),
        Variable("boil_approach_K", "K", 3, 15, "store above boiling temperature", "mixed"),
        Variable(
            "stop_temperature_degC",
            "degC",
            cold + 3 + STOP_LIFT_K,
            97,
            "store temperature that counts as empty",
            "mixed",
        ),
        Variable("superheat_K", "K", 0, 15, "superheat at boiler exit"),
        Variable("subcooling_K", "K", 0, 5, "subcooling at condenser exit"),
        Variable("pinch_condenser_K", "K", 2, 12, "smallest difference to the cooling water"),
        Variable("release_pressure_ratio", "-", 1, 2.5, "pressure at release over exhaust pressure"),
        Variable("regenerator_effectiveness", "-", 0.4, 0.8, "exhaust vapour warms the feed", "regenerator"),
        Variable("store_volume_L", "L", 50, 3000, "water in the store", log=True),
        Variable("insulation_mm", "mm", 30, 400, "insulation of the store", log=True),
        Variable("collector_area_m2", "m2", 0.5, 40, "collector area", log=True),
    )
