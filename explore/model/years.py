"""From scenario and performance to the arguments of the hourly year, and from its result to figures."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from explore import units
from explore.cache import stamp
from explore.cycle.performance import Performance
from explore.cycle.rated import LEAST_WORK, Plant
from explore.design.designs import Designs
from explore.fluids.interface import Array, Index
from explore.fluids.water import Water
from explore.plant.governor import GOVERNORS, drive_efficiency
from explore.year import sun
from explore.year.plants import Field, MixedPlants, Service, StratifiedPlants
from explore.year.season import Diary, SeasonResult, mixed_year, stratified_year
from explore.year.series import Year, remembered_year

if TYPE_CHECKING:
    from explore.config.engine import Engine
    from explore.config.schema import Case

WARM_UP_VOLUME_M3 = 0.5e-3
"""Swept volume of the stage whose iron the coefficient states."""
DIARIES = 64
"""Designs whose hours are written down at a time: 13 MB."""
DRAWN = "drawn_kWh_per_year"
"""Heat that the engine drew, for the guards of the year; no figure that is reported."""


def weather(case: Case) -> sun.Weather:
    """Read the scenario's typical year; a file that has not changed since is not read again."""
    file = case.scenario.site.weather
    return _weather(file, stamp(Path(file).expanduser()))


@lru_cache(maxsize=4)
def _weather(file: str, seen: tuple[int, ...]) -> sun.Weather:
    return sun.read_weather(file)


def altitude_m(case: Case, weather: sun.Weather) -> float:
    """Return the altitude of a case's site [m]: its own, else that of the weather file."""
    own = case.scenario.site.altitude_m
    return weather.altitude_m if own is None else own


def year(case: Case, weather: sun.Weather) -> Year:
    """Lay the typical year out for every kind of collector of the case; one that was laid out lately is kept."""
    site, demand = case.scenario.site, case.scenario.demand
    return _laid_out(
        weather,
        site.tilt_deg,
        site.azimuth_deg,
        site.albedo,
        tuple(kind.iam_b0 for kind in case.collectors.values()),
        tuple(demand.hours),
        tuple(demand.months),
        units.kelvin(site.room_temperature_degC) if site.room == "indoor" else None,
    )


@lru_cache(maxsize=8)
def _laid_out(
    weather: sun.Weather,
    tilt_deg: float,
    azimuth_deg: float,
    albedo: float,
    incidence_b0: tuple[float, ...],
    demand_hours: tuple[int, ...],
    demand_months: tuple[int, ...],
    room_temperature_K: float | None,
) -> Year:
    return remembered_year(
        weather,
        tilt_deg=tilt_deg,
        azimuth_deg=azimuth_deg,
        albedo=albedo,
        incidence_b0=incidence_b0,
        demand_hours=demand_hours,
        demand_months=demand_months,
        room_temperature_K=room_temperature_K,
    )


@dataclass(frozen=True)
class Calendar:
    """When a plant serves.

    ``served``: share of the demand by month and clock hour (n, 12, 24), NaN where none is asked; by month (n, 12) the
    heat the collectors brought into the store and the shaft energy [kWh].
    """

    served: Array
    collector_yield_kWh: Array
    shaft_energy_kWh: Array


def calendar(
    year: Year, case: Case, plant: Plant, water: Water, designs: Designs, done: Performance
) -> Calendar:
    """Run the year of all designs and sort what it gives by month and hour."""
    n, hours = len(designs), np.arange("1990-01-01T00", "1991-01-01T00", dtype="datetime64[h]")
    months = hours.astype("datetime64[M]").astype(int) % 12
    served, asked, heat = np.zeros((n, 12, 24)), np.zeros((12, 24)), np.zeros((n, 12))
    np.add.at(asked, (months, np.arange(len(months)) % 24), year.demand.astype(float))
    for mask, march in ((designs.stratified, _stratified), (~designs.stratified, _mixed)):
        for index in np.split(np.flatnonzero(mask), range(DIARIES, n, DIARIES)):
            if len(index) == 0:
                continue
            diary = Diary(year, len(index))
            march(year, case, plant, water, designs.take(index), done.take(index), diary)
            for hour, (work, came) in enumerate(zip(*_hourly(diary), strict=True)):
                served[index, months[hour], hour % 24] += work
                heat[index, months[hour]] += came
    with np.errstate(invalid="ignore"):
        share = served / np.where(asked > 0.0, asked, np.nan)
    shaft = served.sum(axis=2) * case.scenario.demand.shaft_power_W * units.SECONDS_PER_HOUR / units.J_PER_KWH
    return Calendar(share, heat / units.J_PER_KWH, shaft)


def _hourly(diary: Diary) -> tuple[Array, Array]:
    """Hours served in each hour of the year, and heat kept in it [J], (hours, n)."""
    return np.diff(diary.served, axis=0), np.diff(diary.heat, axis=0)


def run(
    year: Year, case: Case, plant: Plant, water: Water, designs: Designs, done: Performance
) -> dict[str, Array]:
    """Run the year of all designs and return its figures and :data:`DRAWN`, each (n,)."""
    figures: dict[str, Array] = {}
    for mask, march in ((designs.stratified, _stratified), (~designs.stratified, _mixed)):
        index = np.flatnonzero(mask)
        if len(index) == 0:
            continue
        result = march(year, case, plant, water, designs.take(index), done.take(index))
        for name, values in _figures(result).items():
            figures.setdefault(name, np.full(len(designs), np.nan))[index] = values
    return figures


def _figures(result: SeasonResult) -> dict[str, Array]:
    return {
        "served_share": result.served_share,
        "shaft_energy_kWh_per_year": result.shaft_energy_kWh,
        "longest_unserved_hours": result.longest_unserved_hours,
        "autonomy_hours": result.autonomy_hours,
        "bridged_hours": result.bridged_hours,
        "stagnation_hours": result.stagnation_hours,
        "collector_yield_kWh_per_year": result.collector_yield_kWh,
        "sun_to_shaft_efficiency": result.sun_to_shaft_efficiency,
        "cooling_water_L_per_year": result.cooling_water_L,
        DRAWN: result.drawn_J / units.J_PER_KWH,
    }


def _field(case: Case, designs: Designs) -> Field:
    kinds = list(case.collectors.values())
    pick = designs.collector
    return Field(
        kind=pick,
        area_m2=designs.collector_area,
        eta0=np.array([kind.eta0 for kind in kinds])[pick],
        a1=np.array([kind.a1 for kind in kinds])[pick],
        a2=np.array([kind.a2 for kind in kinds])[pick],
        pipe_loss=case.engine.pipe_loss_fraction,
    )


def _service(case: Case, designs: Designs, done: Performance, evaporating: Array) -> Service:
    return Service(
        power_W=case.scenario.demand.shaft_power_W,
        warm_up_J_per_K=warm_up_capacity(case.engine, designs.stages, done.engine.swept_volumes),
        evaporating_temperature_K=evaporating,
    )


def warm_up_capacity(engine: Engine, stages: Index, swept_volumes: Array) -> Array:
    """Heat capacity [J/K] warmed before the first work of a day, (n,): iron of ``swept_volumes`` [m3] (n, 3), NaN for none.

    The coefficient stands for a stage of half a litre and grows with its volume, with a least for each; by the constant
    law every one of ``stages`` has it. Assumption: a large slow cylinder is much iron.
    """
    if engine.warm_up_law == "constant":
        return np.asarray(engine.warm_up_kJ_per_K_per_stage * units.J_PER_KJ * stages)
    per_stage = engine.warm_up_kJ_per_K_per_stage * swept_volumes / WARM_UP_VOLUME_M3
    least = np.where(np.isnan(swept_volumes), np.nan, engine.warm_up_least_kJ_per_K)
    return np.asarray(np.nansum(np.maximum(per_stage, least), axis=1) * units.J_PER_KJ)


def _cooling_density(water: Water, plant: Plant) -> float:
    return float(water.density(np.array(plant.machine.cooling_water_temperature)))


def _stratified(
    year: Year,
    case: Case,
    plant: Plant,
    water: Water,
    designs: Designs,
    done: Performance,
    diary: Diary | None = None,
) -> SeasonResult:
    return stratified_year(year, stratified_plants(case, plant, water, designs, done), diary=diary)


def stratified_plants(
    case: Case, plant: Plant, water: Water, designs: Designs, done: Performance
) -> StratifiedPlants:
    """Return what the hourly year asks of plants on stratified stores."""
    drive = drive_efficiency(designs.speed, plant.load_speed)
    work = drive * np.where(done.rated.net_work > LEAST_WORK, done.rated.net_work, 0.0)
    used = done.rated.cooling_water / np.maximum(drive * done.rated.net_work, LEAST_WORK)
    cooling = used / _cooling_density(water, plant)
    return StratifiedPlants(
        field=_field(case, designs),
        service=_service(case, designs, done, designs.evaporating_temperature),
        store_mass_kg=done.store.mass,
        top_temperature_K=designs.top_temperature,
        return_temperature_K=done.rated.return_temperature,
        heat_per_kg_J=done.circulation.heat,
        loss_heat_capacity_J_per_kgK=done.store.heat_capacity,
        UA_W_per_K=done.store.loss,
        work_per_kg_water_J=work / np.maximum(done.rated.hot_water, 1e-12),
        cooling_water_m3_per_J=cooling,
    )


def _mixed(
    year: Year,
    case: Case,
    plant: Plant,
    water: Water,
    designs: Designs,
    done: Performance,
    diary: Diary | None = None,
) -> SeasonResult:
    return mixed_year(year, mixed_plants(case, plant, water, designs, done), diary=diary)


def mixed_plants(case: Case, plant: Plant, water: Water, designs: Designs, done: Performance) -> MixedPlants:
    """Return what the hourly year asks of plants on fully mixed stores."""
    middle = 0.5 * (designs.top_temperature + designs.stop_temperature)
    demand = case.scenario.demand
    banked = (designs.governing == GOVERNORS.index("free")) & (demand.bank == "day")
    return MixedPlants(
        field=_field(case, designs),
        service=_service(case, designs, done, middle - designs.boil_approach),
        rise_K=case.engine.collector_rise_mixed_K,
        capacity_J_per_K=done.store.mass * done.store.heat_capacity,
        top_temperature_K=designs.top_temperature,
        floor_temperature_K=done.discharge.floor_temperature,
        start_temperature_K=designs.stop_temperature,
        UA_W_per_K=done.store.loss,
        efficiency_grid=done.discharge.efficiencies,
        power_fraction_grid=done.discharge.powers,
        cooling_water_grid=done.discharge.cooling / _cooling_density(water, plant),
        headroom_K=case.scenario.limits.standstill_margin_K,
        power_may_rise=np.where(banked, demand.power_may_rise, 1.0),
        bank_efficiency=np.where(banked, demand.bank_efficiency, np.inf),
    )


def best_efficiency(plant: Plant, designs: Designs, done: Performance) -> Array:
    """Greatest work at the load per heat drawn [-] that each design reaches at any store temperature, (n,)."""
    drive = drive_efficiency(designs.speed, plant.load_speed)
    work = drive * np.where(done.rated.net_work > LEAST_WORK, done.rated.net_work, 0.0)
    rated = work / np.maximum(done.rated.hot_water, 1e-12)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(
            designs.stratified, rated / done.circulation.heat, np.max(done.discharge.efficiencies, axis=1)
        )
