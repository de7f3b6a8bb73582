"""The hourly year: against its slow twin, closed books, order of the batch, and what must always hold."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from explore.year import season
from explore.year.season import SeasonResult, Year
from tests import season_designs, season_twin
from tests.season_designs import mixed_year, stratified_year

FIGURES = [field.name for field in fields(SeasonResult)]
MODES = {
    "stratified": (stratified_year, season_designs.stratified_designs, season_twin.stratified),
    "mixed": (mixed_year, season_designs.mixed_designs, season_twin.mixed),
    "small": (mixed_year, season_designs.small_mixed_designs, season_twin.mixed),
}


@pytest.fixture(scope="module")
def evenings():
    """A year of evening demand, store indoors."""
    return season_designs.greensboro()


@pytest.fixture(scope="module")
def outdoors():
    """Store outdoors, demand around the clock on 40 days from the middle of March."""
    year = season_designs.greensboro(room_temperature_K=None, hours=range(24), months=range(1, 13))
    return season_designs.days(year, 75, 40)


@pytest.fixture(scope="module")
def midday():
    """Demand while the sun shines, so that a full store is drawn from, on 60 days from June."""
    year = season_designs.greensboro(hours=(7, 11, 12, 13, 14, 20))
    return season_designs.days(year, 150, 60)


@pytest.fixture(scope="module")
def spring(evenings):
    """Ninety days from the middle of March."""
    return season_designs.days(evenings, 74, 90)


def dark(hours, *, demand=False, room=293.15):
    """Time without sun."""
    return Year(
        effective_irradiance=np.zeros((1, hours)),
        plane_irradiance=np.zeros(hours),
        air_temperature_K=np.full(hours, room),
        room_temperature_K=np.full(hours, room),
        demand=np.full(hours, demand),
        day=np.arange(hours) // 24,
    )


def changed(d, **values):
    """Return the designs with other values."""
    return d | {name: np.broadcast_to(value, d["area_m2"].shape) for name, value in values.items()}


@pytest.mark.parametrize("year", ["evenings", "outdoors", "midday"])
@pytest.mark.parametrize("mode", MODES)
def test_slow_twin(mode, year, request):
    """All figures equal those of the plain scalar year to 1e-9, collector kinds mixed in the batch."""
    march, designs, twin = MODES[mode]
    hours = request.getfixturevalue(year)
    d = designs(12)
    fast = march(hours, **d)
    slow = [twin(hours, season_designs.one(d, i)) for i in range(12)]
    for name in FIGURES:
        wanted = np.array([row[name] for row in slow], dtype=float)
        assert_allclose(
            getattr(fast, name), wanted, rtol=1e-9, atol=1e-9 * np.abs(wanted).max(), err_msg=name
        )


@pytest.mark.parametrize("mode", ["stratified", "mixed"])
def test_twin_meets_every_case(mode, evenings):
    """The designs compared with the twin are served well, in part and badly; some stagnate, some do not."""
    march, designs, _ = MODES[mode]
    year = march(evenings, **designs(12))
    assert year.served_share.max() > 0.9
    assert year.served_share.min() < 0.5
    assert year.stagnation_hours.max() > 100
    assert year.stagnation_hours.min() < 20


@pytest.mark.parametrize("mode", MODES)
def test_heat_books_close(mode, evenings):
    """Heat collected is drawn, lost, dumped or still in the store, to 1e-9."""
    march, designs, _ = MODES[mode]
    r = march(evenings, **designs(200, seed=2))
    assert_allclose(r.drawn_J + r.lost_J + r.dumped_J + r.stored_change_J, r.collected_J, rtol=1e-9)
    assert np.all(r.lost_J > 0.0)
    assert_allclose(r.collector_yield_kWh * 3.6e6, r.collected_J - r.dumped_J, rtol=1e-12)


def test_shaft_energy_follows_from_the_heat_drawn(evenings):
    """A stratified store without warm-up turns the heat drawn into work at one efficiency."""
    d = changed(season_designs.stratified_designs(50), warm_up_J_per_K=0.0)
    r = stratified_year(evenings, **d)
    work = r.drawn_J * d["work_per_kg_water_J"] / d["heat_per_kg_J"]
    assert_allclose(r.shaft_energy_kWh * 3.6e6, work, rtol=1e-9)
    assert_allclose(r.cooling_water_L, work * d["cooling_water_m3_per_J"] * 1000.0, rtol=1e-9)
    asked = np.count_nonzero(evenings.demand)
    assert asked == 4 * 214
    assert_allclose(r.shaft_energy_kWh, r.served_share * asked * d["power_W"] / 1000.0, rtol=1e-12)
    sunshine = d["area_m2"] * evenings.plane_irradiance.sum() / 1000.0
    assert_allclose(r.sun_to_shaft_efficiency, r.shaft_energy_kWh / sunshine, rtol=1e-12)


@pytest.mark.parametrize("mode", MODES)
def test_order_and_company_do_not_matter(mode, spring):
    """A design gives the same alone, in another order or in another batch (1e-12)."""
    march, designs, _ = MODES[mode]
    d = designs(40, seed=3)
    whole = march(spring, **d)
    order = np.random.default_rng(0).permutation(40)
    for index in (order, order[:7], order[:1]):
        part = march(spring, **season_designs.rows(d, index))
        for name in FIGURES:
            assert_allclose(getattr(part, name), getattr(whole, name)[index], rtol=1e-12, err_msg=name)


@pytest.mark.parametrize("mode", MODES)
def test_inputs_are_left_alone(mode, spring):
    """Neither the designs nor the year are written to."""
    march, designs, _ = MODES[mode]
    d = designs(5)
    for array in [*d.values(), *(getattr(spring, series.name) for series in fields(spring))]:
        array.flags.writeable = False
    before = [
        series.copy() for series in spring.laid_out
    ]  # these every batch reads again, and loops could write to
    march(spring, **d)
    for series, still in zip(spring.laid_out, before, strict=True):
        assert_array_equal(series, still)


@pytest.mark.parametrize("mode", MODES)
def test_large_batches_are_cut(mode, evenings):
    """A batch larger than one chunk gives each design what it gets alone."""
    march, designs, _ = MODES[mode]
    year = season_designs.days(evenings, 120, 3)
    d = designs(5000)
    whole = march(year, **d)
    part = march(year, **season_designs.rows(d, np.array([0, 2499, 4999])))
    assert_allclose(part.drawn_J, whole.drawn_J[[0, 2499, 4999]], rtol=1e-12)
    assert np.all(whole.collected_J > 0.0)


@given(seed=st.integers(0, 2**31), factor=st.floats(1.001, 2.0))
@settings(max_examples=15, deadline=None)
@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("name", ["area_m2", "UA_W_per_K"])
def test_more_collector_or_insulation_never_serves_less(mode, name, spring, seed, factor):
    """More collector area, or less heat loss, serves at least as much, within the coarseness of an hour.

    Stores are compared at the same number of steps: another one is another accuracy. An hour moves a store of a
    litre or two a square metre by tens of kelvin, so that they take sixteen: with four steps 1.8 times the
    collector once served 1.7e-3 less (seed 66), with sixteen 2.5e-4.
    """
    march, designs, _ = MODES[mode]
    d = designs(64, seed=seed)
    steps = 16 if mode == "small" else 4
    better = d[name] * factor if name == "area_m2" else d[name] / factor
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(season, "step_counts", lambda columns, year: np.full(len(columns["top"]), steps))
        before, after = march(spring, **d), march(spring, **changed(d, **{name: better}))
    assert np.all(after.served_share >= before.served_share - 3e-4)
    assert np.sum(after.served_share - before.served_share) >= 0.0


@given(seed=st.integers(0, 2**31))
@example(seed=502)
@settings(max_examples=15, deadline=None)
@pytest.mark.parametrize("mode", MODES)
def test_figures_stay_in_bounds(mode, spring, seed):
    """Shares lie between 0 and 1, nothing is negative, no stretch is longer than the demand."""
    march, designs, _ = MODES[mode]
    r = march(spring, **designs(20, seed=seed))
    for name in FIGURES:
        values = getattr(r, name)
        assert np.all(np.isfinite(values)), name
        assert np.all(values >= 0.0) or name == "stored_change_J", name
    asked = np.count_nonzero(spring.demand)
    assert np.all(r.served_share <= 1.0)
    assert np.all(r.sun_to_shaft_efficiency < 0.1)
    assert np.all(r.longest_unserved_hours <= asked * (1.0 - r.served_share) + 1e-9)


@pytest.mark.parametrize("mode", MODES)
def test_designs_that_cannot_work(mode, spring):
    """A design without work, room to cool or a finite number serves nothing and hurts no other."""
    march, designs, _ = MODES[mode]
    good = designs(6)
    bad = {name: value.copy() for name, value in good.items()}
    if mode == "stratified":
        bad["work_per_kg_water_J"][:2] = (0.0, -500.0)
        bad["return_temperature_K"][2] = bad["top_temperature_K"][2] + 1.0
        bad["heat_per_kg_J"][3] = np.nan
    else:
        bad["efficiency_grid"][0] = -0.01
        bad["power_fraction_grid"][1] = 0.0
        bad["floor_temperature_K"][2] = bad["top_temperature_K"][2]
        bad["cooling_water_grid"][3, 5] = np.nan
    known, result = march(spring, **good), march(spring, **bad)
    for name in FIGURES:
        values = getattr(result, name)
        assert_array_equal(values[4:], getattr(known, name)[4:])
        dead = np.count_nonzero(spring.demand) if name == "longest_unserved_hours" else 0.0
        assert_array_equal(values[:4], dead)


def test_no_collector_serves_nothing(spring):
    """Without collector area nothing is collected or served, and nothing divides by zero."""
    r = stratified_year(spring, **changed(season_designs.stratified_designs(3), area_m2=0.0))
    assert_array_equal(r.served_share, 0.0)
    assert_array_equal(r.sun_to_shaft_efficiency, 0.0)
    assert_array_equal(r.longest_unserved_hours, np.count_nonzero(spring.demand))


def test_collectors_stand_still_at_night():
    """A store colder than the night air takes no heat from it through the collectors."""
    d = changed(season_designs.mixed_designs(3), UA_W_per_K=0.0, collector_kind=0)
    night = dark(48, room=330.0)
    assert_array_equal(mixed_year(night, **d).collected_J, 0.0)


def test_collector_blind_for_the_hour_stands_still():
    """With sun for one kind of collector only, another kind in the same batch does not run."""
    year = dark(4, room=340.0)
    year.plane_irradiance[:] = 100.0
    d = changed(season_designs.mixed_designs(2), UA_W_per_K=0.0) | {"collector_kind": np.array([0, 1])}
    one_blind = replace(year, effective_irradiance=np.array([[100.0] * 4, [0.0] * 4]))
    assert_array_equal(mixed_year(one_blind, **d).collected_J > 0.0, [True, False])


def test_cooling_of_an_unheated_store():
    """481 kg at 95 degC lose 1.407 W/K into 20 degC and stand at 90.61 degC a day later.

    Lumped cooling, T_room + (T - T_room) exp(-UA t/(m c)) with c = 4.19 kJ/(kg K), to 0.01 K.
    """
    d = changed(
        season_designs.mixed_designs(1),
        UA_W_per_K=1.407,
        capacity_J_per_K=481.0 * 4190.0,
        start_temperature_K=368.15,
        top_temperature_K=369.0,
    )
    r = mixed_year(dark(24), **d)
    assert_allclose(95.0 + r.stored_change_J / d["capacity_J_per_K"], 90.61, atol=0.01)


def test_a_full_store_gives_its_collectors_what_the_engine_returns():
    """Cold water that has cooled to the room helps its collectors until it is used up, and no longer: by hand."""
    hours, room = 30, 283.15
    d = changed(
        season_designs.stratified_designs(20, seed=6), UA_W_per_K=40.0, area_m2=30.0, collector_kind=0
    )
    d = changed(d, store_mass_kg=60.0, eta0=0.7, a1=4.0, a2=0.01, pipe_loss=0.03)
    year = dark(hours, room=room)
    sun = np.zeros((1, hours))
    sun[0, -1] = 1000.0
    r = stratified_year(replace(year, effective_irradiance=sun, plane_irradiance=sun[0]), **d)

    def heat(cold):
        above = 0.5 * (cold + d["top_temperature_K"]) - year.air_temperature_K[-1]
        return 0.97 * 30.0 * 3600.0 * np.maximum(0.7 * 1000.0 - 4.0 * above - 0.01 * above**2, 0.0)

    back, top = d["return_temperature_K"], d["top_temperature_K"]
    fall = np.minimum(40.0 * 3600.0 / (60.0 * d["loss_heat_capacity_J_per_kgK"]), 1.0)
    cold = room + (back - room) * (1.0 - fall) ** (hours - 1)
    fill = 60.0 * d["heat_per_kg_J"] / (top - back) * (top - cold)
    assert np.all(heat(cold) > 1.2 * fill)
    assert_allclose(r.collected_J, fill + (1.0 - fill / heat(cold)) * heat(back), rtol=1e-9)
    assert np.all(r.collected_J < heat(cold))


def test_a_collector_far_too_large_still_fills_its_store():
    """In the middle of a step a store is no hotter than it may be: a thousand times the area brings no less."""
    d = changed(season_designs.mixed_designs(20, seed=6), UA_W_per_K=0.0, collector_kind=0, eta0=0.7)
    d = changed(d, a1=4.0, a2=0.01, start_temperature_K=d["floor_temperature_K"])
    year = dark(1)
    sunny = replace(year, effective_irradiance=np.array([[1000.0]]), plane_irradiance=np.array([1000.0]))
    for area in (5e2, 5e3, 5e5):
        r = mixed_year(sunny, **changed(d, area_m2=area))
        assert_allclose(
            r.stored_change_J / d["capacity_J_per_K"],
            d["top_temperature_K"] - d["floor_temperature_K"],
            rtol=1e-12,
        )


def test_stratified_loss_of_a_full_store():
    """A hot layer shrinks by exp(-UA (T_top - T_room) t/(m q)) while the cold layer is at the return."""
    hours = 48
    fill = {
        "effective_irradiance": np.concatenate([np.full((3, 1), 1e5), np.zeros((3, hours))], axis=1),
        "plane_irradiance": np.zeros(hours + 1),
        "air_temperature_K": np.full(hours + 1, 293.15),
        "room_temperature_K": np.full(hours + 1, 293.15),
        "demand": np.zeros(hours + 1, dtype=bool),
        "day": np.arange(hours + 1) // 24,
    }
    d = changed(season_designs.stratified_designs(30), return_temperature_K=293.15)
    d["heat_per_kg_J"] = 4190.0 * (d["top_temperature_K"] - 293.15)
    r = stratified_year(Year(**fill), **d)
    assert_array_equal(r.stagnation_hours, 1.0)
    full = d["store_mass_kg"] * d["heat_per_kg_J"]
    rate = d["UA_W_per_K"] * (d["top_temperature_K"] - 293.15) * 3600.0 / full
    assert_allclose(r.stored_change_J / full, (1.0 - rate) ** hours, rtol=2e-3)
    assert_allclose(r.stored_change_J / full, np.exp(-rate * hours), rtol=1e-2)


def test_hot_layer_never_becomes_negative(spring):
    """A store that would lose more in an hour than it holds loses what it holds, and its books close."""
    d = changed(season_designs.stratified_designs(20), store_mass_kg=5.0, area_m2=0.1, UA_W_per_K=60.0)
    fall = 60.0 * 3600.0 / (5.0 * 4190.0)
    assert fall > 1.0
    r = stratified_year(spring, **d)
    assert np.all(r.collected_J > 0.0)
    assert np.all(r.drawn_J >= 0.0)
    assert np.all(np.abs(r.stored_change_J) <= 5.0 * d["heat_per_kg_J"] * 5.0)
    assert_allclose(r.drawn_J + r.lost_J + r.dumped_J + r.stored_change_J, r.collected_J, rtol=1e-9)
    assert np.all(r.served_share <= 1.0)


def test_warm_up_is_drawn_once_a_day():
    """Each day's first demand hour draws the heat that brings the engine from the room to its boiling."""
    year = season_designs.days(season_designs.greensboro(), 150, 60)
    d = changed(season_designs.stratified_designs(40, seed=4), warm_up_J_per_K=0.0)
    d["area_m2"] = d["store_mass_kg"] / 20.0
    d["power_W"] = d["store_mass_kg"] * d["work_per_kg_water_J"] / 3.6e5
    cold = stratified_year(year, **d)
    warm = stratified_year(year, **changed(d, warm_up_J_per_K=100.0))
    always = (cold.longest_unserved_hours == warm.longest_unserved_hours) & (cold.served_share > 0.9)
    assert always.sum() > 5
    extra = 60 * 100.0 * (d["evaporating_temperature_K"] - 293.15)
    same = always & (cold.served_share == warm.served_share)
    assert same.sum() > 5
    assert_allclose((warm.drawn_J - cold.drawn_J)[same], extra[same], rtol=1e-6)


def test_longest_unserved_stretch():
    """Without sun, a store serves what it holds and the unserved rest of the demand is one stretch."""
    year = dark(30, demand=True)
    d = changed(
        season_designs.mixed_designs(2),
        UA_W_per_K=0.0,
        warm_up_J_per_K=0.0,
        power_W=1000.0,
        capacity_J_per_K=1e6,
        top_temperature_K=360.0,
        floor_temperature_K=340.0,
        start_temperature_K=360.0,
        collector_kind=0,
    )
    grid = np.ones_like(d["efficiency_grid"])
    d |= {"efficiency_grid": 0.5 * grid, "power_fraction_grid": grid, "cooling_water_grid": 1e-8 * grid}
    r = mixed_year(year, **d)
    # 20 MJ at half of it work run 1 kW for 10 MJ / 3.6 MJ an hour.
    assert_allclose(r.served_share * 30, 10.0 / 3.6, rtol=1e-12)
    assert_allclose(r.autonomy_hours, 10.0 / 3.6, rtol=1e-12)
    assert_allclose(r.longest_unserved_hours, 30 - 10.0 / 3.6, rtol=1e-12)
    assert_allclose(r.cooling_water_L, 20e6 * 1e-8 * 1000.0, rtol=1e-12)
    assert_allclose(r.stored_change_J, -20e6, rtol=1e-12)


def test_faded_power_below_sizing():
    """Where the engine gives half the power asked for, half of each hour's energy is served."""
    d = changed(season_designs.mixed_designs(2), collector_kind=0, capacity_J_per_K=1e9, UA_W_per_K=0.0)
    d = changed(d, start_temperature_K=d["top_temperature_K"], warm_up_J_per_K=0.0)
    grid = np.ones_like(d["efficiency_grid"])
    d |= {"efficiency_grid": 0.1 * grid, "power_fraction_grid": 0.5 * grid}
    r = mixed_year(dark(10, demand=True), **d)
    assert_allclose(r.served_share, 0.5, rtol=1e-9)
    assert_allclose(r.longest_unserved_hours, 5.0, rtol=1e-9)
    assert_allclose(r.drawn_J, 0.5 * d["power_W"] * 36000.0 / 0.1, rtol=1e-9)
    assert_allclose(r.bridged_hours, 0.5 * r.autonomy_hours, rtol=1e-12)


def test_efficiency_at_the_middle_of_the_heat_drawn():
    """Where efficiency rises with temperature, an hour's work is the heat times that of its middle."""
    d = changed(season_designs.mixed_designs(4), collector_kind=0, UA_W_per_K=0.0, warm_up_J_per_K=0.0)
    d = changed(d, start_temperature_K=d["top_temperature_K"], power_W=1e9)
    T = np.linspace(d["floor_temperature_K"], d["top_temperature_K"], 129, axis=1)
    d |= {"efficiency_grid": 0.001 * (T - 290.0), "power_fraction_grid": np.ones_like(T)}
    r = mixed_year(dark(1, demand=True), **d)
    drop = d["top_temperature_K"] - d["floor_temperature_K"]
    assert_allclose(r.drawn_J, drop * d["capacity_J_per_K"], rtol=1e-9)
    middle = 0.5 * (d["top_temperature_K"] + d["floor_temperature_K"])
    work = r.drawn_J * 0.001 * (middle - 290.0)
    # The heat flow is interpolated, so the work is met to the square of a step over the distance to 290 K.
    assert_allclose(r.shaft_energy_kWh * 3.6e6, work, rtol=2e-4)


def test_grid_is_fine_enough(evenings, monkeypatch):
    """129 temperatures give the served share within 2e-4 of 1025 of them, hours cut alike.

    Within 7e-4 where the store rests for hours near the zero of net work, which then is its floor.
    """
    monkeypatch.setattr(season, "step_counts", lambda columns, year: np.full(len(columns["top"]), 8))
    coarse, fine = (season_designs.mixed_designs(60, seed=5, size=size) for size in (129, 1025))
    off = np.abs(mixed_year(evenings, **coarse).served_share - mixed_year(evenings, **fine).served_share)
    resting = coarse["efficiency_grid"][:, 0] == 0.0
    assert off[~resting].max() < 2e-4
    assert off[resting].max() < 7e-4
    assert 10 < resting.sum() < 50


def test_autonomy_of_a_stratified_store(spring):
    """A full store runs the engine for its work over the power asked for."""
    d = season_designs.stratified_designs(5)
    hours = d["store_mass_kg"] * d["work_per_kg_water_J"] / d["power_W"] / 3600.0
    r = stratified_year(spring, **d)
    assert_allclose(r.autonomy_hours, hours, rtol=1e-12)
    assert_array_equal(r.bridged_hours, r.autonomy_hours)


def test_demand_of_hours_and_months(evenings):
    """Demand falls on the clock hours and months asked for, 214 days from April to October."""
    asked = evenings.demand.reshape(365, 24)
    assert_array_equal(np.flatnonzero(asked.any(axis=0)), [18, 19, 20, 21])
    assert_array_equal(np.flatnonzero(asked.any(axis=1)), np.arange(90, 304))


def test_room_is_indoors_or_out():
    """The room is a constant indoors and the outdoor air otherwise."""
    outside = season_designs.greensboro(room_temperature_K=None)
    assert_array_equal(outside.room_temperature_K, outside.air_temperature_K)
    inside = season_designs.greensboro(room_temperature_K=291.0)
    assert_array_equal(inside.room_temperature_K, 291.0)


def test_collector_kinds_differ_in_incidence(evenings):
    """The kind with the larger incidence coefficient gets less effective irradiance over the year."""
    sums = evenings.effective_irradiance.sum(axis=1)
    assert evenings.effective_irradiance.shape == (3, 8760)
    assert sums[0] > sums[1] == sums[2]
    assert np.all(sums < evenings.plane_irradiance.sum())


def test_small_mixed_store_makes_nothing_from_nothing(midday):
    """What does not fit is dumped inside the hour: no figure below zero, no work beyond the best efficiency."""
    d = season_designs.small_mixed_designs(400, seed=5)
    r = mixed_year(midday, **d)
    assert np.all(r.collector_yield_kWh >= 0.0)
    assert np.all(r.drawn_J >= 0.0)
    assert np.all(r.cooling_water_L >= 0.0)
    best = d["efficiency_grid"].max(axis=1)
    assert np.all(r.shaft_energy_kWh * 3.6e6 <= r.drawn_J * best * (1.0 + 1e-9))
    assert np.all(r.dumped_J <= r.collected_J)


def test_store_never_stands_above_the_margin(midday):
    """No hour ends above T_top, and no step is served from more than the headroom above it."""
    d = season_designs.small_mixed_designs(50, seed=6)
    diary = season.Diary(midday, 50)
    mixed_year(midday, **d, diary=diary)
    assert diary.level.max(axis=1).shape == (len(midday.demand) + 1,)
    assert np.all(diary.level - d["top_temperature_K"] < 1e-9)
    assert np.any(diary.level > d["top_temperature_K"] - 0.01)


def test_grids_are_not_read_beyond_their_ends(midday):
    """Above T_top the engine gives what it gives at T_top: the slope of its last cell changes nothing there."""
    d = changed(season_designs.small_mixed_designs(3), area_m2=1000.0, headroom_K=500.0, power_W=1.0)
    steep = d["efficiency_grid"].copy()
    steep[:, :-1] *= 0.5
    r = mixed_year(midday, **d | {"efficiency_grid": steep, "cooling_water_grid": 1e-8 / (0.01 + steep)})
    assert np.all(r.shaft_energy_kWh * 3.6e6 <= r.drawn_J * steep.max(axis=1) * (1.0 + 1e-9))
    assert np.all(r.cooling_water_L >= 0.0)


def test_small_store_serves_in_steps():
    """A store that one hour would empty several times over is filled and drawn from within the hour."""
    year = season_designs.days(season_designs.greensboro(hours=(11, 12, 13)), 150, 60)
    d = changed(season_designs.small_mixed_designs(100, seed=7), area_m2=40.0, power_W=300.0)
    r = mixed_year(year, **d)
    in_one = r.drawn_J / (
        180 * d["capacity_J_per_K"] * (d["top_temperature_K"] - d["floor_temperature_K"] + 5.0)
    )
    assert in_one.max() > 1.5


def test_a_room_that_once_is_warmer_than_the_store_serves_nothing(spring):
    """The hottest hour decides, and not the coldest: in it the store would gain what the engine draws."""
    designs = season_designs.stratified_designs(3)
    assert (stratified_year(spring, **designs).served_share > 0.0).all()
    room = spring.room_temperature_K.copy()
    room[-1] = 400.0
    once = stratified_year(replace(spring, room_temperature_K=room), **designs)
    assert_array_equal(once.served_share, 0.0)
