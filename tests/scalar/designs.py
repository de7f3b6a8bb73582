"""Random designs, a plain case and a made-up year for the checks of the two implementations."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np

from explore.config.schema import Collector, Limits, Scenario
from tests.engines import engine_set
from tests.scalar.properties import ZERO_C, fluid_named
from tests.scalar.year import Weather

FLUIDS = (
    "n-Butane", "IsoButane", "n-Propane", "Isopentane", "n-Pentane", "Neopentane", "Cyclopentane",
    "DimethylEther", "Ammonia", "R134a", "R152A", "R1234yf", "R1234ze(E)", "R1233zd(E)", "R245fa",
    "R1336mzz(Z)", "R1336mzz(E)", "R227EA", "R236ea", "Ethanol", "Methanol", "Acetone", "Water",
)  # fmt: skip
COOLING_WATER_DEGC = 14.0


def plain_case(**site: Any) -> SimpleNamespace:
    """Engine defaults, 14 degC cooling water, 250 W for four evening hours from April to October."""
    scenario = Scenario(
        name="check",
        title="Check of the two implementations",
        objectives=[
            {"figure": "work_per_litre_kJ", "direction": "maximise", "ideal": 20, "reference": 0},
            {"figure": "peak_pressure_bar_g", "direction": "minimise", "ideal": 0, "reference": 16},
        ],
        site={"altitude_m": 0.0, **site},
        limits=Limits(),
    )  # fmt: skip
    flat = Collector(
        name="flat_plate", title="flat plate", eta0=0.80, a1=3.5, a2=0.015, area_basis="aperture",
        iam_b0=0.1, price_EUR_per_m2=230, source="made up for the check",
    )  # fmt: skip
    return SimpleNamespace(engine=engine_set("constant"), scenario=scenario, collectors={"flat_plate": flat})


def made_up_year(seed: int = 1) -> Weather:
    """8760 hours of a sunny temperate place with cloudy spells; no place on earth."""
    rng = np.random.default_rng(seed)
    hour = np.arange(8760)
    season = -np.cos(2.0 * np.pi * (hour / 8760 - 0.03))
    sun = np.clip(np.sin(np.pi * (hour % 24 - 6.0 + season) / (12.0 + 2.0 * season)), 0.0, None)
    cloud = np.repeat(rng.choice([1.0, 0.75, 0.3], 365, p=[0.5, 0.3, 0.2]), 24)
    irradiance = (720.0 + 180.0 * season) * sun * cloud
    air = 14.0 + 10.0 * season + 4.0 * np.sin(2.0 * np.pi * (hour - 9) / 24.0) + ZERO_C
    month_like = (hour > 90 * 24) & (hour < 304 * 24)
    demand = month_like & (hour % 24 >= 18) & (hour % 24 < 22)
    return Weather(irradiance.tolist(), air.tolist(), demand.tolist())


def random_designs(
    n: int, seed: int, store_mode: str, collectors: tuple[str, ...] = ("flat_plate",)
) -> list[dict[str, Any]]:
    """Return ``n`` plausible designs with all input columns, walking through all fluids in turn.

    They keep the limits that can be known beforehand (distance from the critical point, pinches, order of
    temperatures) for cooling water of 14 degC at sea level; most of them are feasible, not all.
    """
    rng = np.random.default_rng(seed)
    draw = _stratified if store_mode == "stratified" else _mixed
    return [draw(rng, FLUIDS[i % len(FLUIDS)], collectors) for i in range(n)]


GOVERNORS = ("throttle", "cut_off", "speed", "free")


def machine_designs(n: int, seed: int, store_mode: str) -> list[dict[str, Any]]:
    """Return ``n`` designs of :func:`random_designs` with the columns of the machine: speed and so on.

    Speeds from 60 to 900 rev/min on a log scale; all governors in turn; some with much superheat.
    """
    rng = np.random.default_rng((seed, 4))
    designs = random_designs(n, seed, store_mode)
    for i, design in enumerate(designs):
        design["speed_rev_per_min"] = math.exp(rng.uniform(math.log(60.0), math.log(900.0)))
        design["cylinders_per_stage"] = int(rng.choice([1, 1, 2]))
        warm = rng.uniform(0.0, 15.0)
        if store_mode == "mixed":
            design["governing"] = GOVERNORS[i % len(GOVERNORS)]
            design["sizing_share"] = rng.uniform(0.1, 0.9)
        elif i % 3 == 0:
            top, boiling = design["top_temperature_degC"], design["evaporating_temperature_degC"]
            design["superheat_K"] = min(warm, top - boiling - design["pinch_boiler_K"])
    return designs


def _common(rng: np.random.Generator, fluid: str, collectors: tuple[str, ...]) -> dict[str, Any]:
    hottest = min(95.0, fluid_named(fluid).T_limit - ZERO_C - 5.5)
    pinch = rng.uniform(2.0, 8.0)
    stages = int(rng.integers(1, 4))
    return {
        "fluid": fluid,
        "store_mode": "",
        "top_temperature_degC": rng.uniform(max(65.0, hottest - 20.0), hottest),
        "evaporating_temperature_degC": math.nan,
        "lowest_evaporating_temperature_degC": math.nan,
        "boil_approach_K": math.nan,
        "stop_temperature_degC": math.nan,
        "superheat_K": float(rng.choice([0.0, rng.uniform(0.0, 6.0)])),
        "condensing_temperature_degC": COOLING_WATER_DEGC + pinch + rng.uniform(1.5, 8.0),
        "subcooling_K": float(rng.choice([0.0, rng.uniform(0.0, 4.0)])),
        "pinch_boiler_K": math.nan,
        "pinch_condenser_K": pinch,
        "stages": stages,
        "pressure_levels": 1,
        "release_pressure_ratio": rng.uniform(1.0, 2.5),
        "regenerator_effectiveness": float(rng.choice([0.0, rng.uniform(0.4, 0.8)])),
        "store_volume_L": math.exp(rng.uniform(math.log(100.0), math.log(3000.0))),
        "insulation_mm": rng.uniform(40.0, 300.0),
        "collector": str(rng.choice(collectors)),
        "collector_area_m2": rng.uniform(4.0, 40.0),
    }


def _stratified(rng: np.random.Generator, fluid: str, collectors: tuple[str, ...]) -> dict[str, Any]:
    design = _common(rng, fluid, collectors) | {"store_mode": "stratified"}
    levels = int(rng.integers(1, design["stages"] + 1))
    pinch = rng.uniform(2.0, 8.0)
    cold = design["condensing_temperature_degC"]
    room = design["top_temperature_degC"] - pinch - cold
    share = rng.uniform(0.45, 0.7) if levels == 1 else rng.uniform(0.65, 0.85)
    design |= {
        "pinch_boiler_K": pinch,
        "pressure_levels": levels,
        "superheat_K": min(design["superheat_K"], (1.0 - share) * room),
        "evaporating_temperature_degC": cold + share * room,
    }
    if levels > 1:
        low_share = rng.uniform(0.3, 0.42) if levels == 2 else rng.uniform(0.2, 0.3)
        design["lowest_evaporating_temperature_degC"] = cold + low_share * room
    return design


def _mixed(rng: np.random.Generator, fluid: str, collectors: tuple[str, ...]) -> dict[str, Any]:
    design = _common(rng, fluid, collectors) | {"store_mode": "mixed"}
    approach = rng.uniform(3.0, 9.0)
    lowest = design["condensing_temperature_degC"] + approach + 8.0
    top = design["top_temperature_degC"]
    design |= {
        "boil_approach_K": approach,
        "stop_temperature_degC": lowest + rng.uniform(0.1, 0.6) * (top - lowest),
    }
    return design
