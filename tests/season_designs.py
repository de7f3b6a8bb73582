"""Random designs for the hourly year, and the years they run through."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from explore.year import season
from explore.year.plants import Field, MixedPlants, Service, StratifiedPlants
from explore.year.season import make_year
from explore.year.sun import read_weather

ETA0, A1, A2, B0 = (0.72, 0.80, 0.75), (1.2, 3.5, 5.5), (0.006, 0.015, 0.020), (0.05, 0.10, 0.10)


def greensboro(*, room_temperature_K=293.15, hours=(18, 19, 20, 21), months=range(4, 11)):
    """Lay out the typical year with three kinds of collector."""
    return make_year(
        read_weather("pvlib:723170TYA.CSV"),
        tilt_deg=35.0,
        azimuth_deg=180.0,
        albedo=0.2,
        incidence_b0=B0,
        demand_hours=hours,
        demand_months=months,
        room_temperature_K=room_temperature_K,
    )


def days(year, first, count):
    """Cut ``count`` days out of a year."""
    part = slice(24 * first, 24 * (first + count))
    return replace(
        year,
        effective_irradiance=year.effective_irradiance[:, part],
        plane_irradiance=year.plane_irradiance[part],
        air_temperature_K=year.air_temperature_K[part],
        room_temperature_K=year.room_temperature_K[part],
        demand=year.demand[part],
        day=year.day[part],
    )


def _common(rng, n):
    kind = rng.integers(0, 3, n)
    volume = rng.uniform(100.0, 3000.0, n)
    top = rng.uniform(333.0, 370.0, n)
    return volume, {
        "collector_kind": kind,
        "area_m2": volume * rng.uniform(0.002, 0.02, n),
        "eta0": np.array(ETA0)[kind],
        "a1": np.array(A1)[kind],
        "a2": np.array(A2)[kind],
        "pipe_loss": rng.uniform(0.0, 0.1, n),
        "top_temperature_K": top,
        "UA_W_per_K": rng.uniform(0.8, 4.0, n),
        "power_W": rng.uniform(100.0, 500.0, n),
        "warm_up_J_per_K": 8000.0 * rng.integers(0, 4, n),
        "evaporating_temperature_K": top - rng.uniform(3.0, 20.0, n),
    }


def stratified_designs(n, seed=1):
    """Stratified designs at random."""
    rng = np.random.default_rng(seed)
    volume, d = _common(rng, n)
    back = rng.uniform(300.0, d["top_temperature_K"] - 10.0)
    heat = 4190.0 * (d["top_temperature_K"] - back) * rng.uniform(0.99, 1.01, n)
    return d | {
        "store_mass_kg": 0.97 * volume,
        "return_temperature_K": back,
        "heat_per_kg_J": heat,
        "loss_heat_capacity_J_per_kgK": rng.uniform(4180.0, 4195.0, n),
        "work_per_kg_water_J": heat * rng.uniform(0.02, 0.09, n),
        "cooling_water_m3_per_J": rng.uniform(1e-7, 3e-7, n),
    }


def mixed_designs(n, seed=1, size=129):
    """Fully mixed designs at random; some have their floor at the zero of net work."""
    rng = np.random.default_rng(seed)
    volume, d = _common(rng, n)
    top = d["top_temperature_K"]
    floor = rng.uniform(312.0, top - 8.0)
    zero = np.where(rng.random(n) < 0.3, floor, floor - rng.uniform(3.0, 12.0, n))
    T = np.linspace(floor, top, size, axis=1)
    above = T - zero[:, None]
    sizing = floor + 0.25 * (top - floor)
    return d | {
        "rise_K": rng.uniform(1.0, 5.0, n),
        "capacity_J_per_K": volume * 0.97 * 4187.0,
        "floor_temperature_K": floor,
        "start_temperature_K": floor - rng.uniform(0.0, 2.0, n),
        "efficiency_grid": above * 0.0012,
        "power_fraction_grid": (above / (sizing - zero)[:, None]) ** 1.6,
        "cooling_water_grid": 1e-8 * (1.0 + 0.01 * above),
    }


def small_mixed_designs(n, seed=1):
    """Fully mixed stores of 30 to 150 L under up to 40 m2, which one hour can move by tens of kelvin."""
    rng = np.random.default_rng(seed)
    volume = rng.uniform(30.0, 150.0, n)
    return mixed_designs(n, seed) | {
        "capacity_J_per_K": volume * 0.97 * 4187.0,
        "area_m2": rng.uniform(2.0, 40.0, n),
        "headroom_K": np.full(n, 5.0),
    }


def one(d, i):
    """Design ``i`` of a batch as plain numbers; grids as lists."""
    return {name: value[i].tolist() for name, value in d.items()}


def rows(d, index):
    """Designs ``index`` of a batch."""
    return {name: value[index] for name, value in d.items()}


def stratified_year(year, *, diary=None, plain=False, **d):
    """Run the year of designs given as columns, see :func:`explore.year.season.stratified_year`."""
    return season.stratified_year(year, _plants(StratifiedPlants, d), diary=diary, plain=plain)


def mixed_year(year, *, diary=None, plain=False, **d):
    """Run the year of designs given as columns, see :func:`explore.year.season.mixed_year`."""
    return season.mixed_year(year, _plants(MixedPlants, d), diary=diary, plain=plain)


def stratified_plants(**d):
    """Designs given as columns, as the year takes them."""
    return _plants(StratifiedPlants, d)


def mixed_plants(**d):
    """Designs given as columns, as the year takes them."""
    return _plants(MixedPlants, d)


def _plants(kind, d):
    """Sort columns into the records of the year."""
    rest = dict(d)
    field = {"kind": rest.pop("collector_kind")}
    field |= {name: rest.pop(name) for name in ("area_m2", "eta0", "a1", "a2", "pipe_loss")}
    names = ("power_W", "warm_up_J_per_K", "evaporating_temperature_K")
    return kind(field=Field(**field), service=Service(**{name: rest.pop(name) for name in names}), **rest)
