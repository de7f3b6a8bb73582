"""Plants as bought: what was sized in one world, run in another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from explore.config.compose import load_scenario
from explore.cycle.agreement import Tried, Unknowns, _step, agree
from explore.cycle.as_bought import Bought
from explore.cycle.as_bought_mixed import BoughtMixed, OwnedMixed
from explore.cycle.books import keep
from explore.cycle.source import CirculatingWater
from explore.model import Evaluator
from explore.model.as_bought import FIGURES, Purchase
from explore.model.evaluator import Evaluator as Model
from tests.system.bought_alone import same_alone, same_by_another_solver

LAYOUTS = [("stratified", 1, 1), ("stratified", 2, 1), ("stratified", 2, 2), ("stratified", 3, 1)]
LAYOUTS += [("stratified", 3, 2), ("stratified", 3, 3), ("mixed", 1, 1), ("mixed", 2, 1), ("mixed", 3, 1)]
GIVES = ("power_size_W", "work_per_litre_kJ", "served_share")
SMALL = 1e-6
"""What the solver may leave between two worlds: far below any difference that a coefficient makes."""

CLOSE = 1e-7
"""Share by which a condition may miss where books are to close to a millionth."""


@pytest.fixture(scope="module")
def sound(evaluator, designs):
    """A dozen designs of each layout that are possible and keep their exchangers' margins, as columns."""
    columns = designs(6000, 8)
    found = evaluator.evaluate(columns)
    ok = found["possible"].astype(bool) & (found["work_per_litre_kJ"] > 2.0) & (found["served_share"] > 0.2)
    for name in ("violation_boiler_hot_end_K", "violation_boiler_cold_end_K", "violation_condenser_pinch_K"):
        ok &= ~(found[name] > 0.0)
    kind, levels = evaluator.designs(columns), evaluator.boilers(evaluator.designs(columns))
    rows = []
    for mode, stages, boilers in LAYOUTS:
        here = (
            ok & (kind.stratified == (mode == "stratified")) & (kind.stages == stages) & (levels == boilers)
        )
        assert here.sum() >= 3, (mode, stages, boilers)
        rows += np.flatnonzero(here)[:12].tolist()
    return {name: values[rows] for name, values in columns.items()}


@pytest.fixture(scope="module")
def purchase(evaluator, sound):
    """Their plants."""
    return Purchase.of(evaluator, sound)


@pytest.fixture(scope="module")
def at_home(evaluator, purchase):
    """What they give in their own world."""
    return purchase.rated(evaluator)


@pytest.fixture(scope="module")
def elsewhere(evaluator, purchase):
    """A world of poorer films, and of each group there plants, what is owned of them, their state and its misses."""
    other = films(evaluator, 0.7)
    found = []
    for group, own in purchase.groups:
        bought = (
            BoughtMixed(other.plant, group.designs, own)
            if isinstance(own, OwnedMixed)
            else Bought(group.fluid, other.water, other.plant, group.designs, own)
        )
        found.append((group, own, *bought.rate()))
    return other, found


def world(evaluator, **changes) -> Model:
    """The model of the default case with another engine set."""
    case = evaluator.case
    engine = type(case.engine).model_validate(case.engine.model_dump() | changes)
    return evaluator.under(case.model_copy(update={"engine": engine}))


def films(evaluator, factor):
    """A world whose exchangers pass heat ``factor`` times as well."""
    engine = evaluator.case.engine
    names = [name for name in type(engine).model_fields if "_U_" in name or name == "regenerator_U"]
    assert len(names) == 10
    return world(evaluator, **{name: factor * getattr(engine, name) for name in names})


def test_in_its_own_world_a_plant_gives_back_its_figures(evaluator, sound, at_home):
    """Sizing and rating are two ways through the same equations: what one chose the other finds."""
    wanted = evaluator.evaluate(sound)
    for name in FIGURES:
        assert at_home[name] == pytest.approx(wanted[name], rel=1e-3, abs=1e-4), name


@pytest.mark.parametrize("factor", [0.8, 0.5])
def test_poorer_films_never_give_more(evaluator, purchase, factor):
    """Fouling costs power, work per litre and served share, and more fouling more of them."""
    before, after = purchase.rated(films(evaluator, 1.1 * factor)), purchase.rated(films(evaluator, factor))
    for name in GIVES:
        assert not np.any(after[name] > before[name] * (1.0 + SMALL)), name
    assert np.nanmedian(after["work_per_litre_kJ"]) < 0.99 * np.nanmedian(before["work_per_litre_kJ"])


@pytest.mark.parametrize(
    "worse",
    [
        {"friction_idle_bar": 0.10},
        {"friction_load_share": 0.12},
        {"pump_packing_bar": 3.0},
        {"water_pump_efficiency": 0.25},
        {"ring_gap_um": 18.0},
    ],
    ids=lambda worse: next(iter(worse)),
)
def test_a_worse_engine_never_gives_more(evaluator, purchase, at_home, worse):
    """More friction, leaks or pump work: less power and less work a litre, nothing else being better.

    A leak in a compound engine feeds the stage below, so that its power at one temperature may even rise.
    """
    before, after = at_home, purchase.rated(world(evaluator, **worse))
    for name in GIVES[1:] if "ring_gap_um" in worse else GIVES:
        assert not np.any(after[name] > before[name] * (1.0 + SMALL)), name
        assert np.nanmean(after[name] < before[name]) > 0.95, name


def test_colder_cooling_water_lowers_the_condenser(evaluator, purchase, at_home):
    """Areas and flow of water stay, so that the condensing pressure follows the water."""
    case = evaluator.case
    site = case.scenario.site.model_copy(update={"cooling_water_temperature_degC": 10.0})
    colder = evaluator.under(
        case.model_copy(update={"scenario": case.scenario.model_copy(update={"site": site})})
    )
    before, after = at_home, purchase.rated(colder)
    known = np.isfinite(after["power_size_W"])
    assert known.mean() > 0.95
    assert np.all(after["condenser_pressure_bar_a"][known] < before["condenser_pressure_bar_a"][known])
    assert np.median(after["power_size_W"][known] / before["power_size_W"][known]) > 1.0


def test_books_close_in_another_world(elsewhere):
    """Energy and exergy close to 1e-6 of the heat at the state found, and every area is the one bought."""
    other, found = elsewhere
    for group, own, state, miss in found:
        if isinstance(own, OwnedMixed):
            source = replace(group, cycle=state.rated, designs=state.designs).source
            cycle = state.rated
        else:
            cycle = state.cycle
            source = CirculatingWater(group.designs.top_temperature, state.pinches[-1])
            for needed, had in zip(state.areas[:-1], own.areas[:-1], strict=True):
                assert needed[miss < CLOSE] == pytest.approx(had[miss < CLOSE], rel=2.0 * CLOSE)
        sound = miss < CLOSE
        assert sound.mean() >= 0.8
        books = keep(group.fluid, other.water, other.plant.machine, cycle, source)
        assert np.abs(books.energy_residual() / cycle.heat)[sound].max() < 1e-6
        assert np.abs(books.exergy_residual() / cycle.heat)[sound].max() < 1e-6


def number_of_transfer_units(hot, cold, area_U, least):
    """Effectiveness of a counterflow exchanger of UA [W/K] between two streams [W/K], the lesser ``least``.

    Bergman et al., Fundamentals of Heat and Mass Transfer, eqs. 11.29a and 11.35a (M).
    """
    ratio = least / np.maximum(hot, cold)
    N = area_U / least
    e = np.exp(-N * (1.0 - ratio))
    return (1.0 - e) / (1.0 - ratio * e)


def test_the_condenser_bought_passes_its_heat_by_the_other_textbook_way(elsewhere):
    """The areas that its zones need sum to the one bought, and the two-phase zone's gives its heat by transfer units."""
    other, found = elsewhere
    coefficients = other.plant.condenser_coefficients
    for _, own, state, _ in found:
        if isinstance(own, OwnedMixed):
            continue
        condenser = state.cycle.condenser
        needed = np.zeros_like(state.flow)
        for zone in condenser.zones:
            needed = needed + exchange_area(zone, zone.heat * state.flow, coefficients[zone.name])
        bought = own.areas[-2]
        assert needed == pytest.approx(bought, rel=2e-3)
        T = state.settings.condensing_temperature
        boiling = next(zone for zone in condenser.zones if zone.name == "two_phase")
        heat = boiling.heat * state.flow
        water = heat / (boiling.cold_difference - boiling.hot_difference)  # W/K, the fluid stays at T
        others = sum(
            exchange_area(zone, zone.heat * state.flow, coefficients[zone.name])
            for zone in condenser.zones
            if zone is not boiling
        )
        left = (bought - others) * coefficients["two_phase"]
        e = number_of_transfer_units(np.full_like(T, 1e12), water, left, water)
        assert e * water * boiling.cold_difference == pytest.approx(heat, rel=5e-3)


def exchange_area(zone, heat, U):
    """Area [m2] by the log-mean difference, worked out here; none for a zone that passes nothing."""
    a, b = zone.hot_difference, zone.cold_difference
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = np.where(np.abs(a - b) < 1e-9, a, (a - b) / np.log(a / b))
    return np.where(heat > 0.0, heat / (U * mean), 0.0)


def test_another_solver_finds_the_same_state(evaluator, purchase):
    """SciPy's hybrid method of Powell, losses repeated twice in each trial."""
    same_by_another_solver(purchase, films(evaluator, 0.7), sweeps=2, tolerance=1e-10, close_K=1e-3)


def test_a_plant_alone_or_among_others(evaluator, sound):
    """What a plant does elsewhere does not depend on what is rated beside it."""
    same_alone(evaluator, sound, films(evaluator, 0.75), 9)


def test_constant_losses_too(designs):
    """An engine with the same losses at every size is rated by the same way."""
    model = Evaluator(load_scenario("orchard", ["engine=constant"]))
    columns = designs(600, 12)
    found = model.evaluate(columns)
    ok = found["possible"].astype(bool) & (found["work_per_litre_kJ"] > 2.0)
    rows = np.flatnonzero(ok)[:20]
    assert len(rows) == 20
    rated = Purchase.of(model, {name: values[rows] for name, values in columns.items()}).rated(model)
    for name in ("work_per_litre_kJ", "served_share", "condenser_pressure_bar_a"):
        assert rated[name] == pytest.approx(found[name][rows], rel=1e-3, abs=1e-4), name


def test_newton_finds_a_known_root_and_keeps_its_margins():
    """Two circles of Cartesian fame meet at (3, 4); no trial leaves the side on which the margins are positive."""
    seen = []

    def attempt(x, places, carried):
        lack = np.stack(
            [x[:, 0] ** 2 + x[:, 1] ** 2 - 25.0, x[:, 0] - 3.0 * carried[places] / carried[places]], 1
        )
        seen.append(x.min())
        return Tried(lack, x, carried)

    unknowns = Unknowns(np.full(2, 1e-6), np.full(2, 2.0), np.zeros(2))
    x, _ = agree(attempt, np.array([[0.5, 9.0], [8.0, 0.5]]), np.ones(6), unknowns, steps=20)
    assert x == pytest.approx(np.array([[3.0, 4.0], [3.0, 4.0]]), abs=1e-9)
    assert min(seen) > 0.0


def test_newton_where_there_is_no_root():
    """It stays finite, and the caller sees how far the conditions are off."""

    def attempt(x, places, carried):
        return Tried(x**2 + 1.0, np.ones_like(x), carried)

    x, _ = agree(
        attempt, np.array([[0.7]]), np.ones(2), Unknowns(np.array([1e-6]), np.array([1.0]), np.zeros(1))
    )
    assert np.isfinite(x).all()


def test_a_step_leaves_fifteen_hundredths_of_a_margin():
    """A whole step would be 1 and take the margin of 0.5 twice over."""
    one = np.ones((1, 1))
    unknowns = Unknowns(np.ones(1), np.ones(1), np.ones(1))
    step = _step(one, -one[None], 0.5 * one, -one[None], unknowns)
    assert step == pytest.approx(0.5 * (1.0 - 0.15))
