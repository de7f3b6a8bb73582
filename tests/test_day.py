"""A day by the minute: the limit of the hourly march, an account that closes, bounds, and cases by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from explore.year.course import Day, Line, Surroundings, day_of, kept_means
from explore.year.day import MINUTES, march_day
from explore.year.flowing import Mode
from explore.year.hours import BOOKS, made
from explore.year.plants import StratifiedPlants
from explore.year.series import NO_SUN, Year, first_demand_hours
from tests import season_designs
from tests.season_designs import mixed_plants, stratified_plants
from tests.test_bank import strong

MIDDAY = (0, 7, 11, 12, 13, 14, 20, 23)
ROOM = 293.15
CLOSES = 1e-9
"""Far above rounding and a thousandth of what is promised."""


@pytest.fixture(scope="module")
def midday():
    """A year of demand by day and by night, store indoors."""
    return season_designs.greensboro(hours=MIDDAY, months=range(1, 13))


def stratified(i, **values):
    """One stratified design."""
    return stratified_plants(**(season_designs.rows(season_designs.stratified_designs(12), [i]) | values))


def mixed(i, make=season_designs.mixed_designs, **values):
    """One design on a fully mixed store."""
    return mixed_plants(**(season_designs.rows(make(12), [i]) | values))


def even(fraction=1.0, **values):
    """An engine whose heat flow and power are the same at any temperature of a fully mixed store, at 5 %."""
    grid = np.ones((1, 5))
    d = {
        "efficiency_grid": 0.05 * grid,
        "power_fraction_grid": fraction * grid,
        "cooling_water_grid": 1e-8 * grid,
        "top_temperature_K": np.array([365.0]),
        "floor_temperature_K": np.array([325.0]),
        "start_temperature_K": np.array([325.0]),
        "capacity_J_per_K": np.array([2e7]),
        "area_m2": np.array([8.0]),
        "power_W": np.array([250.0]),
    }
    return mixed(3, **(d | values))


def banked(i):
    """One that runs free into a bank."""
    return mixed_plants(**season_designs.rows(strong(season_designs.mixed_designs, 12), [i]))


def start_of(plants, share):
    """How a store stands that is full by a share."""
    top = float(np.ravel(plants.top_temperature_K)[0])
    if isinstance(plants, StratifiedPlants):
        return share, 0.5 * (top - float(np.ravel(plants.return_temperature_K)[0]))
    floor = float(np.ravel(plants.floor_temperature_K)[0])
    return (floor + share * (top - floor),)


def steady(*, sun=0.0, hours=(), air=ROOM):
    """A day with the same sun from morning to night."""
    half = Surroundings(Line(sun, sun), Line(air, air), Line(ROOM, ROOM))
    return Day((half,) * 48, tuple(hour in hours for hour in range(24)))


def in_parts(year, plants, day, start, parts):
    """Books of a day, marched as the year does it but with each hour cut into ``parts``.

    An hour of a plant with a n-th of its area, loss and power is a n-th of an hour of the plant.
    """
    hours = np.repeat(np.arange(24 * day, 24 * (day + 1)), parts)
    fine = Year(
        year.effective_irradiance[:, hours],
        year.plane_irradiance[hours],
        year.air_temperature_K[hours],
        year.room_temperature_K[hours],
        year.demand[hours],
        np.zeros(len(hours), dtype=np.int64),
    )
    small = replace(
        plants,
        field=replace(plants.field, area_m2=plants.field.area_m2 / parts),
        service=replace(plants.service, power_W=plants.service.power_W / parts),
        UA_W_per_K=plants.UA_W_per_K / parts,
    )
    store, first = made(fine, small), first_demand_hours(fine)
    names = ("hot", "half") if isinstance(plants, StratifiedPlants) else ("temperature",)
    for name, value in zip(names, start, strict=True):
        getattr(store, name)[:] = value
    store.surround(ROOM)
    for hour, sun in enumerate(fine.effective_irradiance[int(store.kind[0])]):
        sunny = np.any(fine.effective_irradiance[:, hour] > 0.0)
        gain = store.gain * (sun if sun > 0.0 else NO_SUN) if sunny else None
        air = fine.air_temperature_K[hour : hour + 1]
        store.pass_hour(gain, air, demand=bool(fine.demand[hour]), warming=hour in first)
    books = {name: float(getattr(store, name)[0]) for name in BOOKS}
    return {name: x * (1.0 / parts if name == "served" else store.heat_unit[0]) for name, x in books.items()}


@pytest.mark.parametrize("day", [20, 200])
@pytest.mark.parametrize(
    ("plants", "share"),
    [(stratified(1), 0.4), (stratified(6), 0.9), (mixed(0), 0.3), (mixed(5), 0.8), (banked(3), 0.6)],
)
def test_the_day_is_the_limit_of_the_hourly_march(midday, plants, share, day):
    """With its hours cut finer and finer the year's march comes to the day, every account of it."""
    start = start_of(plants, share)
    march = march_day(plants, day_of(midday, day, int(np.ravel(plants.field.kind)[0])), start)
    own = {name: march.accounts[name][-1] / (3600.0 if name == "served" else 1.0) for name in BOOKS}
    off = {}
    for parts in (4, 64):
        theirs = in_parts(midday, plants, day, start, parts)
        most = max(theirs[name] for name in ("collected", "drawn", "lost"))
        off[parts] = {
            name: abs(own[name] - theirs[name]) / (max(theirs[name], 1.0) if name == "served" else most)
            for name in BOOKS
        }
    assert max(off[64].values()) < 2e-3, off
    assert max(off[64].values()) < max(0.3 * max(off[4].values()), 5e-4), off


@pytest.mark.parametrize("make", [season_designs.mixed_designs, season_designs.small_mixed_designs])
@pytest.mark.parametrize("share", [0.1, 0.5, 1.0])
def test_a_sunless_hour_of_a_mixed_store_is_its_parts(midday, make, share):
    """However far and through whatever bends the engine draws the store down in it: nothing is lost by one look."""
    night = replace(midday, effective_irradiance=np.zeros_like(midday.effective_irradiance))
    for i in range(12):
        plants = mixed(i, make, UA_W_per_K=np.zeros(1))
        whole, parts = (in_parts(night, plants, 200, start_of(plants, share), n) for n in (1, 16))
        assert whole["drawn"] == pytest.approx(parts["drawn"], rel=1e-9)
        assert whole["served"] == pytest.approx(parts["served"], rel=1e-9)
        plants = mixed(i, make, UA_W_per_K=np.full(1, 0.2))
        whole, parts = (in_parts(night, plants, 200, start_of(plants, share), n) for n in (1, 16))
        assert whole["served"] == pytest.approx(parts["served"], rel=5e-4)


@settings(max_examples=15, deadline=None)
@given(
    kind=st.sampled_from(["stratified", "mixed", "small", "banked"]),
    i=st.integers(0, 11),
    share=st.sampled_from([0.0, 1.0]) | st.floats(0.0, 1.0),
    day=st.integers(0, 364),
    smooth=st.booleans(),
)
def test_the_account_closes_and_nothing_leaves_its_bounds(midday, kind, i, share, day, smooth):
    """Any design on any day: heat closes, a store is never more than full, no more is served than asked."""
    plants = {
        "stratified": stratified,
        "mixed": mixed,
        "small": lambda i: mixed(i, season_designs.small_mixed_designs),
        "banked": banked,
    }[kind](i)
    course = day_of(midday, day, int(np.ravel(plants.field.kind)[0]), smooth=smooth)
    march = march_day(plants, course, start_of(plants, share))
    assert abs(march.unclosed()) < CLOSES
    assert len(march.modes) + 1 == len(march.hot_share) == MINUTES + 1
    assert np.all((march.hot_share > -1e-9) & (march.hot_share < 1.0 + 1e-9))
    assert np.all(march.hottest_K < np.ravel(plants.top_temperature_K)[0] + 1e-6)
    for name in ("collected", "dumped", "drawn", "served", "water"):
        assert np.all(np.diff(march.accounts[name]) > -1e-3 * max(march.accounts[name][-1], 1.0) / MINUTES), (
            name
        )
    served = march.by_hour("served") / 3600.0
    assert np.sum(served) < sum(course.demand) * (1.0 + 1e-6)
    assert np.all(served[~np.array(course.demand)] == 0.0)


def test_smooth_lines_keep_the_mean_of_each_hour():
    """Sun that bends at ends and middles of hours has each hour's mean, is never below zero and dark where it was."""
    means = np.array([0.0, 0.0, 3.0, 200.0, 900.0, 40.0, 0.0, 0.0])
    knots = kept_means(means, least=0.0)
    assert_allclose(0.25 * (knots[:-2:2] + 2.0 * knots[1::2] + knots[2::2]), means[1:-1], atol=1e-12)
    assert knots.min() >= 0.0
    assert_allclose(knots[[0, 1, 2, -3, -2, -1]][[0, 1, 4, 5]], 0.0)


def test_a_mixed_store_at_rest_cools_by_newtons_law():
    """T - T_room falls by exp(-UA t/C): Newton's law of cooling, of any textbook on heat transfer."""
    plants = mixed(4)
    start = start_of(plants, 0.9)
    march = march_day(plants, steady(), start)
    rate = np.ravel(plants.UA_W_per_K)[0] / np.ravel(plants.capacity_J_per_K)[0]
    wanted = ROOM + (start[0] - ROOM) * np.exp(-rate * 60.0 * np.arange(MINUTES + 1))
    assert_allclose(march.hottest_K, wanted, rtol=1e-9)


def test_a_stratified_store_gives_what_its_water_holds():
    """Without loss, sun and warm-up: hours of running by the work of its hot water, which returns at T_out."""
    plants = replace(stratified(2), UA_W_per_K=np.array([0.0]))
    plants = replace(plants, service=replace(plants.service, warm_up_J_per_K=np.array([0.0])))
    mass, work, heat = (
        float(np.ravel(x)[0])
        for x in (plants.store_mass_kg, plants.work_per_kg_water_J, plants.heat_per_kg_J)
    )
    share = 5.5 * 3600.0 * float(np.ravel(plants.service.power_W)[0]) / (mass * work)
    march = march_day(plants, steady(hours=range(3, 21)), start_of(plants, share))
    assert_allclose(march.accounts["served"][-1] / 3600.0, 5.5, rtol=1e-9)
    assert_allclose(march.accounts["drawn"][-1], share * mass * heat, rtol=1e-9)
    (started, emptied, ended) = march.happenings[1:]  # the first is a warm-up of nothing
    assert (started.after, emptied.after, ended.after) == (Mode.RUN, Mode.SHORT, Mode.REST)
    assert_allclose([started.second, emptied.second, ended.second], [3 * 3600, 8.5 * 3600, 21 * 3600])


@pytest.mark.parametrize(
    "plants",
    [stratified(3, store_mass_kg=np.array([2e4])), even()],
)
def test_the_warm_up_is_drawn_once_before_anything_is_served(plants):
    """C (T_evap - T_room) at the first demand of the day, none at the second."""
    service = replace(plants.service, warm_up_J_per_K=np.array([12_000.0]))
    plants = replace(plants, service=service)
    march = march_day(plants, steady(hours=(6, 15)), start_of(plants, 0.6))
    wanted = 12_000.0 * (float(np.ravel(service.evaporating_temperature_K)[0]) - ROOM)
    warmed = march.accounts["warmed"]
    assert_allclose(warmed[[359, 362, -1]], [0.0, wanted, wanted], rtol=1e-12)
    assert march.by_hour("drawn")[6] - march.by_hour("drawn")[15] == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("plants", [stratified(3), even()])
def test_an_empty_store_owes_its_warm_up_for_an_hour(plants):
    """What comes in goes into the warm-up and serves nothing; after that hour it counts as done, as in the year."""
    service = replace(plants.service, warm_up_J_per_K=np.array([1e9]))
    march = march_day(
        replace(plants, service=service), steady(sun=800.0, hours=(6, 7)), start_of(plants, 0.0)
    )
    warmed, served = march.accounts["warmed"], march.by_hour("served")
    assert served[6] == 0.0
    assert served[7] > 0.0
    assert warmed[-1] == pytest.approx(warmed[420])
    assert march.by_hour("drawn")[6] == pytest.approx(warmed[420])


def test_a_full_store_dumps_what_it_can_neither_hold_nor_give():
    """Strong sun all day: full throughout, dumped is what came less loss and draw, and the cold water is what returned."""
    plants = stratified(1)
    plants = replace(plants, field=replace(plants.field, area_m2=np.array([60.0])))
    march = march_day(plants, steady(sun=900.0, hours=(9, 10)), (1.0, start_of(plants, 1.0)[1] * 1.1))
    assert march.hot_share.min() > 1.0 - 1e-6 - march.accounts["warmed"][-1] / march.content_J[0]
    last = {name: values[-1] for name, values in march.accounts.items()}
    assert last["dumped"] == pytest.approx(last["collected"] - last["lost"] - last["drawn"], rel=1e-5)
    assert march.coldest_K[600] == pytest.approx(float(np.ravel(plants.return_temperature_K)[0]), abs=1e-6)
    assert Mode.FULL_RUN in march.modes


def test_a_bank_takes_its_sum_and_the_engine_stops():
    """A strong engine delivers the day's demand before its hours are over, and no more."""
    plants = even(2.0, power_may_rise=np.array([2.5]), bank_efficiency=np.array([0.85]))
    march = march_day(plants, steady(hours=range(8, 14)), start_of(plants, 1.0))
    assert march.accounts["served"][-1] == pytest.approx(6 * 3600.0, rel=1e-9)
    drawn = march.accounts["drawn"][-1] - march.accounts["warmed"][-1]
    assert drawn == pytest.approx(6 * 3600.0 * 250.0 / 0.85 / 0.05, rel=1e-9)
    stopped = march.happenings[-1]
    assert stopped.after is Mode.REST
    assert stopped.second == pytest.approx(3600.0 * (8.0 + 6.0 / (2.0 * 0.85)))


def test_a_store_too_cold_for_its_engine_waits_for_the_sun():
    """Below the floor nothing is drawn though power is asked for; the sun brings it there."""
    plants = mixed(4, season_designs.small_mixed_designs)
    floor = float(np.ravel(plants.floor_temperature_K)[0])
    march = march_day(plants, steady(sun=850.0, hours=range(24)), (floor - 4.0,))
    modes = [one.after for one in march.happenings]
    assert modes[1] is Mode.COLD
    assert set(modes) & {Mode.SHORT, Mode.RUN}
    waits = march.hottest_K < floor - 1e-6
    assert np.all(np.diff(march.accounts["drawn"])[waits[1:]] == 0.0)
