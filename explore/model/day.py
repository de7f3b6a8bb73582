"""A day of one design by the minute, with the pressures and the governor's settings that go with it."""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from explore import units
from explore.cycle.sizing import sizing_temperature
from explore.design.variables import INPUTS
from explore.errors import InputError
from explore.fluids.interface import CRITICAL_MARGIN, Array
from explore.model import years
from explore.plant.governor import GOVERNORS
from explore.year.course import HOURS, day_of
from explore.year.day import MINUTES, DayMarch, march_day
from explore.year.flowing import RUNNING
from explore.year.hours import BOOKS, HourBooks, hours_of, loss_ahead, runs
from explore.year.plants import MixedPlants, StratifiedPlants
from explore.year.weather import READING_YEAR

if TYPE_CHECKING:
    from explore.model import Evaluator
    from explore.model.runs import Group

Flags = NDArray[np.bool_]

PLACES = 33
"""Store temperatures at which the governor is asked, evenly from floor to full: between them its settings run straight."""
SERVING = 1e-6
"""Less of the power asked for is none."""


@dataclass(frozen=True)
class Told:
    """A day of one design: the march, what the hours of the year say of it, and what goes with each minute.

    ``minutes``: columns (1440,) by name, state at the beginning of each minute, flows as its mean; ``smooth``: the same day
    with sunshine that goes smoothly through the hours. ``governor``: its name, empty for a stratified store.
    """

    date: datetime.date
    stratified: bool
    march: DayMarch
    hours: HourBooks
    smooth: DayMarch
    minutes: dict[str, Array]
    serving: Flags
    """whether the engine runs in each minute"""
    governor: str
    sizing_temperature_K: float
    """below which the power of an engine on a fully mixed store fades; NaN for a stratified one"""
    warm_up_minutes: float
    """that the warm-up of the day takes at the engine's own heat flow; zero without demand"""
    asked: tuple[bool, ...]
    """whether power is asked for in each hour"""
    power_W: float
    """that is asked for"""
    sunshine_J: float
    """of the day on the collectors"""
    floor_K: float
    """below which an engine on a fully mixed store draws nothing; NaN for a stratified one"""
    top_K: float
    """of the full store"""
    loss_ahead_J: Array
    """what each hour of the year loses beyond the day by its order alone, (24,); nothing of a fully mixed store"""


def date_of(text: str) -> datetime.date:
    """Read a day of a typical year, month and day; raises :class:`InputError` for what is none."""
    if re.fullmatch(r"\d+-\d+-\d+", text):
        raise InputError(
            f"date={text[:40]}: the weather is a typical year, whose months come from different years; give month and day "
            "alone, date=07-15"
        )
    try:
        if re.fullmatch(r"[0-9]{1,2}-[0-9]{1,2}", text) is None:
            raise ValueError(text)
        month, day = map(int, text.split("-"))
        return datetime.date(READING_YEAR, month, day)
    except ValueError as error:
        leap = "; a typical year has no 29 February" if re.fullmatch("0?2-29", text) else ""
        raise InputError(
            f"date={text[:40]!r} is no day of a typical year: give month and day, date=07-15{leap}"
        ) from error


def day(evaluator: Evaluator, figures: Mapping[str, Any], date: datetime.date) -> Told:
    """March one possible design through a day of the typical year.

    Args:
        evaluator: the model of a case.
        figures: inputs and figures of the design.
        date: of :func:`date_of`.
    """
    run = evaluator.run(evaluator.designs({name: np.array([figures[name]]) for name in INPUTS}))
    (group,), number = run.groups, (date - datetime.date(READING_YEAR, 1, 1)).days
    stratified = bool(run.designs.stratified[0])
    make = years.stratified_plants if stratified else years.mixed_plants
    plants: StratifiedPlants | MixedPlants = make(
        evaluator.case, evaluator.plant, evaluator.water, run.designs, run.done
    )
    if not runs(plants):
        raise InputError("this design's engine gives no work from a full store: it has no day to tell of")
    kind = int(run.designs.collector[0])
    hours = hours_of(evaluator.year, plants, number)
    steady, smooth = (day_of(evaluator.year, number, kind, smooth=one) for one in (False, True))
    march = march_day(plants, steady, hours.start)
    sizing = np.nan if stratified else float(sizing_temperature(run.designs)[0])
    serving = np.diff(march.accounts["served"]) > SERVING * units.SECONDS_PER_MINUTE
    minutes = _minutes(evaluator, march, number) | _pressures(evaluator, group, figures, march, serving)
    governor = ""
    if isinstance(plants, MixedPlants):
        assert group.engine is not None
        assert group.engine.built is not None
        governor = GOVERNORS[int(group.engine.built.governing[0])]
        minutes |= _governed(evaluator, group, plants, march, serving)
    return Told(
        date,
        stratified,
        march,
        hours,
        march_day(plants, smooth, hours.start),
        minutes,
        serving,
        governor,
        sizing,
        _warm_up_minutes(plants, march),
        steady.demand,
        evaluator.case.scenario.demand.shaft_power_W,
        _sunshine(minutes, run.designs.collector_area),
        float(run.done.discharge.floor_temperature[0]),
        float(run.designs.top_temperature[0]),
        np.zeros(HOURS)
        if isinstance(plants, MixedPlants)
        else loss_ahead(plants, hours, march.by_hour("warmed")),
    )


def _sunshine(minutes: Mapping[str, Array], area: Array) -> float:
    return float(np.sum(minutes["sunshine_W_per_m2"]) * units.SECONDS_PER_MINUTE * area[0])


def _minutes(evaluator: Evaluator, march: DayMarch, number: int) -> dict[str, Array]:
    """Clock, weather, state and mean flows of each minute."""
    hours = np.repeat(np.arange(HOURS * number, HOURS * (number + 1)), MINUTES // HOURS)
    year, case = evaluator.year, evaluator.case

    def mean(name: str) -> Array:
        return np.diff(march.accounts[name]) / units.SECONDS_PER_MINUTE

    return {
        "sunshine_W_per_m2": year.plane_irradiance[hours],
        "air_temperature_degC": units.celsius(year.air_temperature_K[hours]),
        "collected_W": mean("collected"),
        "lost_W": mean("lost"),
        "dumped_W": mean("dumped"),
        "drawn_W": mean("drawn"),
        "warm_up_W": mean("warmed"),
        "asked_W": case.scenario.demand.shaft_power_W * year.demand[hours].astype(float),
        "shaft_W": case.scenario.demand.shaft_power_W * mean("served"),
        "hot_share": march.hot_share[:-1],
        "hottest_degC": units.celsius(march.hottest_K[:-1]),
        "coldest_degC": units.celsius(march.coldest_K[:-1]),
        "heat_kWh": march.content_J[:-1] / units.J_PER_KWH,
    }


def _pressures(
    evaluator: Evaluator, group: Group, figures: Mapping[str, Any], march: DayMarch, serving: Flags
) -> dict[str, Array]:
    """Pressures of boiler and condenser [bar gauge].

    While the engine stands the boiler has the saturation pressure of the hottest water in the store, which it comes to in
    time, or the pressure at which it last ran this day if that is more: the most it can have after that run, for what its
    metal and liquid lose to the room is not counted. Nothing is carried over from the evening before. Engine and condenser,
    shut off from it, have the pressure of the coldest room or cooling water.
    """
    air = float(evaluator.air_pressure)
    fluid = group.fluid.take(np.zeros(MINUTES, dtype=np.intp))
    hottest, roof = march.hottest_K[:-1], CRITICAL_MARGIN * fluid.critical_temperature
    standing = fluid.saturation_pressure(np.minimum(hottest, roof))
    if group.engine is None:
        running = np.full(MINUTES, float(figures["boiler_pressure_bar_a"]) * units.PA_PER_BAR)
    else:
        running = fluid.dew_pressure(np.minimum(hottest - float(group.designs.boil_approach[0]), roof))
    before = running[last_set(serving)]
    standing = np.where(np.logical_or.accumulate(serving), np.maximum(standing, before), standing)
    condensing = float(figures["condenser_pressure_bar_a"]) * units.PA_PER_BAR
    rest = units.pascal_from_gauge(float(figures["rest_pressure_bar_g"]), air)
    return {
        "boiler_pressure_bar_g": units.bar_gauge(np.where(serving, running, standing), air),
        "condenser_pressure_bar_g": units.bar_gauge(np.where(serving, condensing, rest), air),
    }


def last_set(flags: Flags) -> NDArray[np.intp]:
    """Return of each place the last one up to it at which ``flags`` is set; 0 where none is. Both (n,)."""
    return np.maximum.accumulate(np.where(flags, np.arange(len(flags)), 0))


def _governed(
    evaluator: Evaluator, group: Group, plants: MixedPlants, march: DayMarch, serving: Flags
) -> dict[str, Array]:
    """What the governor holds: inlet pressure [bar gauge], cut-off [-], speed [rev/min]; NaN while the engine stands."""
    assert group.engine is not None
    floor, top = (float(np.ravel(x)[0]) for x in (plants.floor_temperature_K, plants.top_temperature_K))
    T = np.linspace(floor, top, PLACES)
    held = group.engine.take(np.zeros(PLACES, dtype=np.intp)).governed(T, evaluator.plant.power_may_rise)
    found = {
        "inlet_pressure_bar_g": units.bar_gauge(held.inlet_pressure, float(evaluator.air_pressure)),
        "cut_off": held.cut_off,
        "speed_rev_per_min": held.frequency * units.SECONDS_PER_MINUTE,
    }
    return {
        name: np.where(serving, np.interp(march.hottest_K[:-1], T, values), np.nan)
        for name, values in found.items()
    }


def _warm_up_minutes(plants: StratifiedPlants | MixedPlants, march: DayMarch) -> float:
    """Minutes that the day's warm-up takes at the heat flow that the engine has in its first full minute after."""
    heat = sum(one.warm_up_J for one in march.happenings)
    ran = [i for i, mode in enumerate(march.modes) if mode in RUNNING]
    drawn, warmed = march.accounts["drawn"], march.accounts["warmed"]
    first = next((i for i in ran if warmed[i + 1] == warmed[i]), None)
    if heat <= 0.0 or first is None:
        return 0.0
    return heat / float(drawn[first + 1] - drawn[first])


class Agreement(NamedTuple):
    """How far the minutes and the year's hours agree in one account, as shares; zero where there is nothing."""

    day: float
    """of the day's sum: minutes over hours, less one"""
    own_hour: float
    """greatest difference in an hour, over the greatest hour of that account"""
    hour: float
    """the same over the greatest hour of heat of any account, that of the service over an hour of the power asked for"""


def agreement(told: Told) -> dict[str, Agreement]:
    """Compare each account of the day by the minute with that of the year's hours."""
    heat = max(float(np.max(np.abs(getattr(told.hours, name)))) for name in BOOKS if name != "served")
    found = {}
    for name in BOOKS:
        own, theirs = by_hour(told.march, name), getattr(told.hours, name)
        whole, most = float(np.sum(theirs)), float(np.max(np.abs(theirs)))
        off = float(np.max(np.abs(own - theirs)))
        common = 1.0 if name == "served" else heat
        found[name] = Agreement(
            float(np.sum(own)) / whole - 1.0 if whole else 0.0,
            off / most if most else 0.0,
            off / common if common else 0.0,
        )
    return found


def by_hour(march: DayMarch, name: str) -> Array:
    """What an account of the minutes came to in each hour, (24,): heat [J], or hours served."""
    return march.by_hour(name) / (units.SECONDS_PER_HOUR if name == "served" else 1.0)
