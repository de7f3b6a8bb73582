"""Checks of the hot-water store and of the hourly year that runs it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from explore.plant.store import held_fraction, held_temperature, loss_coefficient, radius
from explore.units import J_PER_KWH, celsius, kelvin
from explore.verify.bench import Bench
from explore.verify.check import Check, given, on_bench
from explore.verify.reading import rows
from explore.verify.sources import cite
from explore.year.plants import Field, MixedPlants, Service
from explore.year.season import SeasonResult, Year, mixed_year

TOPIC = "hot-water store"
TEST_RISE_K = 45.0
DAY_S = 86400.0
ROOM_K = kelvin(20.0)
COOLING_W_PER_K, COOLING_J_PER_K = 1.407, 481.0 * 4190.0


def checks() -> Iterator[Check]:
    """Every check of this module."""
    yield from _conduction()
    yield from _classes()
    yield from _cooling()
    yield from _year()


def shell_resistance() -> float:
    """Resistance of a cylindrical shell [K/W], 0.9 m inside, 1.0 m outside, 20 W/(m K), 10 m high.

    The plant's store, 1.8 m high at that bore and with no resistance of the air, less its ends, which are plane walls.
    """
    r1, thickness, conductivity, height = 0.45, 0.05, 20.0, 10.0
    volume = np.array([4.0 * np.pi * r1**3])
    whole = loss_coefficient(volume, np.array([thickness]), conductivity, 1e12, 0.0)
    ends = 2.0 * np.pi * radius(volume) ** 2 * conductivity / thickness
    own_height = 4.0 * radius(volume)
    return float(1.0 / ((whole - ends) * height / own_height)[0])


def _conduction() -> Iterator[Check]:
    yield Check(
        "store-shell",
        TOPIC,
        "cylindrical shell 0.9/1.0 m, 20 W/(m K), 10 m: resistance",
        "K/W",
        8.384323e-5,
        1e-6,
        True,
        cite("bergman/ch. 3, digits as in the package ht"),
        "published",
        "component",
        given(shell_resistance),
    )


def class_limit(name: str, volume_L: float) -> float:
    """Largest standing loss of a class [W] at 45 K."""
    row = next(row for row in rows("store_classes") if row["class"] == name)
    return float(row["a"]) + float(row["b"]) * volume_L**0.4


def standing_loss(bench: Bench, volume_L: float, insulation_mm: float) -> float:
    """Standing loss [W] at 45 K of a store of the plant as stores are declared: whole insulation, no pipes.

    The plant's own store counts joints and fittings as well.
    """
    loss = bench.figure(
        "store_loss_W_per_K",
        settings=("engine.insulation_joints_factor=1", "engine.fittings_W_per_K=0.3"),
        store_volume_L=volume_L,
        insulation_mm=insulation_mm,
    )
    return loss * TEST_RISE_K


def _classes() -> Iterator[Check]:
    """A store of the plant against the classes of stores on sale; the band is the tolerance."""
    low, high = class_limit("A", 500.0), class_limit("B", 500.0)
    yield Check(
        "store-class",
        TOPIC,
        "500 L store, 100 mm of insulation: standing loss at 45 K; band of class B",
        "W",
        0.5 * (low + high),
        0.5 * (high - low),
        False,
        cite("eu812/Annex II"),
        "from memory",
        "system",
        on_bench(standing_loss, 500.0, 100.0),
    )


def daily_loss_kwh() -> float:
    """Heat that a 1000 L store at the class C limit loses in a day at 45 K [kWh], by the plant's holding time."""
    loss, capacity = class_limit("C", 1000.0) / TEST_RISE_K, 1e13
    top = np.array([ROOM_K + TEST_RISE_K])
    left = held_temperature(np.array([loss]), top, ROOM_K, DAY_S, np.array([capacity]))
    return float((top - left)[0]) * capacity / J_PER_KWH


def layer_lost() -> float:
    """Share of the hot layer of the example that is lost in 12 h [-], by the plant's holding time."""
    top, mass = np.array([ROOM_K + 75.0]), np.array([481.0])
    left = held_fraction(np.array([COOLING_W_PER_K]), top, ROOM_K, 0.5 * DAY_S, mass, np.array([200e3]))
    return float(1.0 - left[0])


def held_a_day() -> float:
    """Temperature [degC] of the store of the lumped example after a day, by the plant's holding time."""
    top, capacity = np.array([kelvin(95.0)]), np.array([COOLING_J_PER_K])
    return celsius(float(held_temperature(np.array([COOLING_W_PER_K]), top, ROOM_K, DAY_S, capacity)[0]))


def _cooling() -> Iterator[Check]:
    yield Check(
        "store-daily-loss",
        TOPIC,
        "1000 L store at the class C limit of 148.7 W: heat lost in a day",
        "kWh",
        3.568,
        0.001,
        True,
        cite("eu814/Annex II, as on data sheets of stores"),
        "published",
        "component",
        given(daily_loss_kwh),
    )
    yield Check(
        "store-hot-layer",
        TOPIC,
        "hot layer of 481 kg, 1.407 W/K, 75 K above the air, 200 kJ drawn per kg: share lost in 12 h",
        "-",
        0.046282,
        1e-4,
        True,
        cite("bergman/ch. 5, lumped capacitance, of a layer that shrinks at its temperature"),
        "recomputed",
        "component",
        given(layer_lost),
    )
    yield Check(
        "store-held-a-day",
        TOPIC,
        "481 kg at 95 degC, 1.407 W/K, 20 degC around: after a day",
        "degC",
        90.61,
        0.01,
        False,
        cite("bergman/ch. 5, lumped capacitance"),
        "recomputed",
        "component",
        given(held_a_day),
    )


def run_hours(hours: int, *, irradiance: float, start: float, capacity: float, loss: float) -> SeasonResult:
    """Run a fully mixed store through so many hours of constant sun without demand, by the plant's year.

    One square metre of the SPF evacuated tube, air and room at 20 degC; ``start`` [K], ``capacity`` [J/K],
    ``loss`` [W/K].
    """
    steady = np.full(hours, ROOM_K)
    year = Year(
        effective_irradiance=np.full((1, hours), irradiance),
        plane_irradiance=np.full(hours, irradiance),
        air_temperature_K=steady,
        room_temperature_K=steady,
        demand=np.zeros(hours, dtype=bool),
        day=np.arange(hours) // 24,
    )
    flat = np.full((1, 2), 0.05)
    plants = MixedPlants(
        field=Field(kind=0, area_m2=1.0, eta0=0.623, a1=1.52, a2=0.0146, pipe_loss=0.0),
        service=Service(power_W=100.0, warm_up_J_per_K=0.0, evaporating_temperature_K=start),
        rise_K=0.0, capacity_J_per_K=capacity, top_temperature_K=kelvin(97.0), floor_temperature_K=ROOM_K,
        start_temperature_K=start, UA_W_per_K=loss, efficiency_grid=flat, power_fraction_grid=flat + 1.0,
        cooling_water_grid=flat,
    )  # fmt: skip
    return mixed_year(year, plants)


def _year() -> Iterator[Check]:
    def collected(bench: Bench) -> float:
        result = run_hours(24, irradiance=800.0, start=ROOM_K + 40.0, capacity=1e12, loss=0.0)
        return float(result.collected_J[0]) / J_PER_KWH

    def lost(bench: Bench) -> float:
        result = run_hours(
            24, irradiance=0.0, start=kelvin(95.0), capacity=COOLING_J_PER_K, loss=COOLING_W_PER_K
        )
        return float(result.lost_J[0]) / J_PER_KWH

    found: list[tuple[str, str, float, float, str, Callable[[Bench], float]]] = [
        ("collected", "1 m2 of evacuated tube, 24 h at 800 W/m2, 40 K above the air: heat", 9.9418, 1e-3,
         "spf/coefficients as quoted in public, efficiency 0.5178", collected),
        ("lost", "481 kg from 95 degC, 1.407 W/K, 20 degC around, 24 h: heat lost", 2.4577, 2e-3,
         "bergman/ch. 5, lumped capacitance", lost),
    ]  # fmt: skip
    for name, words, value, tolerance, source, ours in found:
        yield Check(
            f"year-{name}", "hourly year", words, "kWh", value, tolerance, True, cite(source), "recomputed",
            "system", ours,
        )  # fmt: skip
