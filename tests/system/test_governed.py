"""Governed engines on a fully mixed store: they hold what they are asked for, and the curves of a discharge follow them."""

from __future__ import annotations

import numpy as np
import pytest

from explore.config.compose import load_scenario
from explore.cycle.curves import governed_curves, work_per_kg
from explore.cycle.discharge import floor_temperature, held_from
from explore.cycle.sizing import sizing_temperature
from explore.design.space import Space
from explore.model import Evaluator
from explore.model.years import mixed_plants
from explore.plant.governor import GOVERNORS, built_cut_off, with_cut_off
from explore.year.season import Diary, mixed_year

WORDS = ["scenario.demand.speed_may_fall=true", "scenario.demand.bank=day"]
PLACES = np.array([0.01, 0.03, 0.1, 0.3, 1.0])
"""Of the way from the sizing point to the full store: most of them where a governor begins to act."""

WORK_WITHIN = {"throttle": 1e-4, "cut_off": 1e-4, "speed": 1e-3, "free": 1e-3}
"""A cut-off as one polynomial of the temperature misses 2e-4, a free engine without its bend 1.4e-3."""
LEAST_WORK_J_PER_KG = 1000.0


@pytest.fixture(scope="module")
def groups():
    """Random designs on a fully mixed store, by number of stages, and the evaluator."""
    case = load_scenario("orchard", WORDS)
    evaluator = Evaluator(case)
    many = Space.from_case(case).sample(3000, np.random.default_rng(11))
    mixed = np.flatnonzero(np.asarray(many["store_mode"]).astype(str) == "mixed")
    columns = {name: np.asarray(values)[mixed[:600]] for name, values in many.items()}
    return evaluator, evaluator.run(evaluator.designs(columns)).groups


@pytest.mark.parametrize("governing", ["throttle", "cut_off", "speed"])
def test_the_power_is_held(groups, governing):
    """Also just above the sizing point, where a shorter cut-off or a lower speed gives as much power or more at first."""
    evaluator, found = groups
    off = []
    for group in found:
        rows = np.flatnonzero(group.engine.built.governing == GOVERNORS.index(governing))
        engine = group.engine.take(np.repeat(rows, len(PLACES)))
        own = group.designs.take(rows)
        low, high = sizing_temperature(own)[:, None], own.top_temperature[:, None]
        T = (low + PLACES * (high - low)).ravel()
        asked, plain = engine.built.frame.power, engine.at(T)
        strong = engine.built.rate * plain.flow_ratio * plain.net_work > asked * (1.0 + 1e-4)
        off.append(np.abs(engine.governed(T, evaluator.plant.power_may_rise).power / asked - 1.0)[strong])
    off = np.concatenate(off)
    assert len(off) > 150
    assert np.median(off) < 1e-5
    assert np.mean(off < 3e-3) > 0.97


def test_curves_follow_the_engine(groups):
    """The work of a discharge is that of two hundred states of the engine, taken one by one on each of its stretches.

    States that are found beside those of the curves are what each would be alone.
    """
    evaluator, found = groups
    group = found[0]
    engine, own = group.engine, group.designs
    top, sizing, rise = own.top_temperature, sizing_temperature(own), evaluator.plant.power_may_rise
    stop = np.minimum(own.stop_temperature, top - 1.0)
    work = (engine.net_work_at(stop), group.cycle.net_work, engine.net_work_at(top))
    floor = floor_temperature(engine, stop, top, work)
    limited = held_from(engine, sizing, top, engine.governed(top, rise).power, rise)
    works = np.flatnonzero((floor < sizing - 0.5) & (sizing < top - 0.5))
    middle = 0.5 * (top + stop)
    curves, states = governed_curves(engine, (floor, sizing, top), middle, limited, rise, works)
    told = work_per_kg(evaluator.water, curves.efficiency, floor, top)[works]
    bend = top.copy()
    bend[limited.rows] = limited.temperature
    wanted = np.zeros(len(works))
    for low, high, governed in ((floor, sizing, False), (sizing, bend, True), (bend, top, True)):
        root = (np.arange(70) + 0.5) / 70  # close together above the lower end, where a root may begin
        share, weight = root**2, 2.0 * root / 70
        T = (low + (high - low) * share[:, None]).T[works]
        part = engine.take(np.repeat(works, len(share)))
        cycle = part.governed(T.ravel(), rise).cycle if governed else part.at(T.ravel())
        each = (cycle.net_work / cycle.heat).reshape(T.shape) * evaluator.water.heat_capacity(T)
        wanted += (high - low)[works] * (each * weight).sum(axis=1)
    off, governing = np.abs(told / wanted - 1.0), engine.built.governing[works]
    for name, most in WORK_WITHIN.items():
        own = off[(governing == GOVERNORS.index(name)) & (wanted > LEAST_WORK_J_PER_KG)]
        assert len(own) >= 8
        assert own.max() < most, name
    falling = np.flatnonzero(engine.built.governing == GOVERNORS.index("speed"))
    for rows, T, state in (
        (np.arange(len(top)), top, states.full),
        (limited.rows, limited.temperature, states.held),
        (falling, middle[falling], states.turning),
    ):
        assert len(rows) > 10
        alone = engine.take(rows).governed(T, rise)
        np.testing.assert_array_equal(state.power, alone.power)
        np.testing.assert_array_equal(state.frequency, alone.frequency)


def test_the_condenser_gets_its_water_in_the_busiest_state(groups):
    """That with most heat of sizing point and full store; free engines, whose load takes thrice the power, among them."""
    case = load_scenario("orchard", [*WORDS, "scenario.demand.power_may_rise=3"])
    evaluator, (_, found) = Evaluator(case), groups
    told, needed, free = [], [], []
    for group in found:
        own = evaluator.run(group.designs)
        (again,), done = own.groups, own.done
        greatest, water = np.zeros(len(again.index)), np.zeros(len(again.index))
        for T in (sizing_temperature(again.designs), again.designs.top_temperature):
            state = again.engine.governed(T, evaluator.plant.power_may_rise)
            more = state.heat_flow > greatest
            greatest = np.where(more, state.heat_flow, greatest)
            water = np.where(more, state.flow * state.cycle.condenser.water_flow, water)
        told.append(done.exchangers.cooling_water[again.index])
        needed.append(water)
        free.append(again.engine.built.governing == GOVERNORS.index("free"))
    told, needed, free = map(np.concatenate, (told, needed, free))
    sound = np.isfinite(told) & (needed > 0.0)
    close = np.abs(told / needed - 1.0) < 1e-3
    assert close[sound & ~free].mean() > 0.99
    # Where the load takes no more a free engine is held, and busiest between the two.
    assert (sound & free).sum() > 100
    assert close[sound & free].mean() > 0.95
    assert (told >= 0.999 * needed)[sound & free].all()


def test_a_held_power_counts_as_served():
    """The longest stretch without a fully served hour is that of hours short by more than a ten-thousandth.

    Curves through a few states missed the power held by as much, and hours that got all that was asked for joined the
    shortfalls of a whole year into one stretch: so it was for half of these designs. Of the rest hours end just short.
    """
    case = load_scenario("orchard")
    space = Space.from_case(case.model_copy(update={"space": {"store_mode": "mixed"}}))
    many = space.sample(3000, np.random.default_rng(12))
    evaluator = Evaluator(case)
    run = evaluator.run(evaluator.designs(many))
    plants = mixed_plants(case, evaluator.plant, evaluator.water, run.designs, run.done)
    diary = Diary(evaluator.year, len(run.designs))
    year = mixed_year(evaluator.year, plants, diary=diary)
    share = np.diff(diary.served, axis=0)[evaluator.year.demand]
    own = np.zeros(share.shape[1])
    longest = own.copy()
    for hour in share:
        own = np.where(hour < 0.9999, own + 1.0 - hour, 0.0)
        longest = np.maximum(longest, own)
    works = year.served_share > 0.2
    assert works.sum() > 200
    off = np.abs(year.longest_unserved_hours / np.maximum(longest, 1.0) - 1.0)[works]
    assert np.mean(off < 0.02) > 0.93


def test_a_cut_off_as_built_changes_nothing(groups):
    """To the last bit: engines that are not cut off stand in one batch with such as are."""
    _, found = groups
    for group in found:
        engine, clearance = group.engine.engine, 0.06
        same = with_cut_off(engine, clearance, built_cut_off(engine, clearance))
        for name in ("volume_ratios", "admissions"):
            for own, other in zip(getattr(engine, name), getattr(same, name), strict=True):
                np.testing.assert_array_equal(own, other)
        shorter = with_cut_off(engine, clearance, 0.9 * built_cut_off(engine, clearance))
        assert (shorter.volume_ratios[0] > engine.volume_ratios[0]).all()
        np.testing.assert_allclose(shorter.admissions[0], 0.9 * engine.admissions[0], rtol=1e-12)


@pytest.mark.filterwarnings("error")
def test_an_engine_whose_clearance_holds_all_it_admits_is_refused_in_silence(evaluator):
    """Its cut-off is less than none: the design breaks a limit, and no warning of a logarithm reaches the user."""
    design = {
        "fluid": "Ethanol", "store_mode": "mixed", "top_temperature_degC": 97.0, "stop_temperature_degC": 97.0,
        "boil_approach_K": 4.0413, "superheat_K": 18.729, "condensing_temperature_degC": 23.823, "subcooling_K": 1.853,
        "pinch_condenser_K": 2.0005, "stages": 1, "pressure_levels": 1, "release_pressure_ratio": 1.0,
        "regenerator_effectiveness": 0.40314, "store_volume_L": 425.0, "insulation_mm": 232.6,
        "collector": "evacuated_tube", "collector_area_m2": 5.1308, "speed_rev_per_min": 301.9, "cylinders_per_stage": 1.0,
        "governing": "cut_off", "sizing_share": 0.53534, "evaporating_temperature_degC": np.nan,
        "lowest_evaporating_temperature_degC": np.nan, "pinch_boiler_K": np.nan,
    }  # fmt: skip
    out = evaluator.evaluate({name: np.array([value]) for name, value in design.items()})
    assert not out["feasible"][0]
    assert out["violation_clearance_fraction"][0] > 0.0
