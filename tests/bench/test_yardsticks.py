"""Other ways to the same work: published formulas, hand cases, and what is said of a design beside them."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from explore.bench import panels as panels_of
from explore.bench import yardsticks
from explore.config.compose import compose_case
from explore.config.schema import Costs
from explore.config.yardsticks import Yardsticks
from explore.model import Evaluator
from explore.model.details import records
from explore.tell import yardsticks as yardstick_words
from explore.tell.yardsticks import HEADER, rows, sentences, text
from explore.verify.influence import designs


def test_carnot_of_a_stream():
    """Heat of one temperature gives Carnot; a stream that cools from 360 to 300 K to the ambient of 300 K its exergy.

    By hand: 1 - 300 ln(1.2)/60 = 8.84 %, and 360 K alone would give 16.7 %.
    """
    assert yardsticks.stream_carnot(360.0, 360.0, 300.0) == pytest.approx(1.0 / 6.0)
    assert yardsticks.stream_carnot(360.0, 300.0, 300.0) == pytest.approx(0.08839, abs=1e-5)
    assert yardsticks.stream_carnot(360.0, 300.0, 300.0) == pytest.approx(
        1.0 - 300.0 / yardsticks.mean_temperature(360.0, 300.0)
    )


def test_an_engine_by_its_west_number():
    """At a temperature ratio of 2 the term of temperatures is 1/3, at 3 it is 1/2: West number, Wikipedia.

    So 1 W at 3 Pa, 4/s and a West number of 0.25 sweeps 1 m3 at the first.
    """
    assert yardsticks.stirling_sweep(1.0, 3.0, 4.0, (600.0, 300.0), 0.25) == pytest.approx(1.0)
    assert yardsticks.stirling_sweep(1.0, 2.0, 4.0, (900.0, 300.0), 0.25) == pytest.approx(1.0)


def test_the_band_of_hot_air_holds_what_was_measured():
    """2.91 N m at 20 rev/min are the 6.1 W told; 0.44 % of the heat at 439 K is 1.4 % of Carnot, with a cooler at 300 K.

    Kongtragool and Wongwises, Solar Energy 82 (2008) 493, abstract; the cooler's temperature is assumed. The lower end of
    the band is as good as that engine, the upper the best that they found reported.
    """
    assert 2.91 * 20.0 * 2.0 * math.pi / 60.0 == pytest.approx(6.1, abs=0.1)
    share = 0.0044 / (1.0 - 300.0 / 439.0)
    assert share == pytest.approx(0.014, abs=0.001)
    low, high = Yardsticks.model_fields["hot_air_carnot_share"].json_schema_extra["band"]
    assert share < low < high
    assert (low, high) == (0.02, 0.5)


def test_thermoelectric_limits():
    """ZT without end gives Carnot, none nothing; ZT = 1 from 500 to 300 K gives 8.2 %, by hand from Kim et al. 2015."""
    assert yardsticks.thermoelectric(500.0, 300.0, 1e12) == pytest.approx(0.4, rel=1e-4)
    assert yardsticks.thermoelectric(500.0, 300.0, 0.0) == 0.0
    assert yardsticks.thermoelectric(500.0, 300.0, 1.0) == pytest.approx(
        0.4 * 0.414214 / (1.414214 + 0.6), rel=1e-5
    )


def test_a_day_of_panel_and_battery_by_hand():
    """Two hours of sun at 100 W, a load of 60 W in the second and third: the battery takes 90 and 36 of 100 and 40 Wh.

    Of the third hour's 60 Wh all come from it. What does not fit is left over.
    """
    sun, load = np.array([1.0, 1.0, 0.0, 0.0]), np.array([0.0, 60.0, 60.0, 0.0])
    served, spare = panels_of.battery_year(sun, load, 100.0, 1000.0, 0.9)
    assert (served, spare) == pytest.approx((120.0, 0.0))
    served, spare = panels_of.battery_year(sun, load, 100.0, 45.0, 0.9)
    assert (served, spare) == pytest.approx((105.0, 50.0 + 40.0))
    assert panels_of.battery_year(sun, load, 100.0, 0.0, 0.9) == pytest.approx((60.0, 140.0))


def test_energy_is_kept():
    """What the panel makes is served, left over, lost in charging, or still in the battery, over random hours."""
    rng = np.random.default_rng(3)
    sun, load = rng.random(500), 50.0 * rng.random(500)
    served, spare = panels_of.battery_year(sun, load, 80.0, 200.0, 1.0)
    made = 80.0 * float(np.sum(sun))
    assert 0.0 <= made - served - spare <= 200.0 + 1e-9


def test_the_smallest_panel_just_serves():
    """A little smaller serves too little; a battery that holds nothing serves no night."""
    sun, load = np.tile([1.0, 0.0], 50), np.full(100, 10.0)
    size = panels_of.panel_for(sun, load, 100.0, 0.9, 0.95)
    assert panels_of.battery_year(sun, load, size, 100.0, 0.9)[0] >= 0.95 * 1000.0 - 1e-3
    assert panels_of.battery_year(sun, load, 0.98 * size, 100.0, 0.9)[0] < 0.95 * 1000.0
    assert panels_of.panel_for(sun, load, 0.0, 0.9, 0.95) is None


def test_all_of_a_load_is_served_though_its_sum_rounds():
    """Hour by hour a year's load adds up to a rounding less than all at once; that is no reason for a larger panel."""
    sun = np.tile(np.clip(np.sin(np.linspace(0.0, 2.0 * np.pi, 24)), 0.0, None), 365)
    load = np.tile(np.where(np.arange(24) >= 20, 250.0 / 0.83, 0.0), 365)
    served, _ = panels_of.battery_year(sun, load, 1e4, 2e3, 0.9)
    assert served < np.sum(load)
    whole, nearly = (panels_of.panel_for(sun, load, 2e3, 0.9, share) for share in (1.0, 1.0 - 1e-6))
    assert whole == pytest.approx(nearly, rel=1e-4)


@pytest.fixture(scope="module")
def compared():
    """Figures, ways and what goes beside of four designs on both stores."""
    case = compose_case(["task=inspect"])
    evaluator, columns = Evaluator(case), designs(case)
    table = records(pd.DataFrame(columns | dict(evaluator.evaluate(columns))))
    return evaluator, [
        (one, yardsticks.ways(evaluator, one), yardsticks.beside(evaluator, one)) for one in table
    ]


def test_panels_give_the_same_service(compared):
    """The panel found serves the share that the design does in the same hours, and bridges at least as many."""
    evaluator, found = compared
    keys, year = evaluator.case.yardsticks, evaluator.year
    power = evaluator.case.scenario.demand.shaft_power_W
    for figures, ways, _ in found:
        own, panels = ways[:2]
        load = year.demand * power / keys.motor_efficiency
        sun = year.plane_irradiance / 1000.0 * keys.panel_performance
        usable = panels.about["battery_kWh"] * 1000.0 * keys.battery_depth
        served, _ = panels_of.battery_year(sun, load, panels.about["peak_W"], usable, keys.battery_efficiency)
        assert served / np.sum(load) == pytest.approx(figures["served_share"], abs=2e-4)
        assert panels.hours >= own.hours - 1e-9
        assert panels.area == pytest.approx(panels.about["peak_W"] / 200.0)


def test_panels_that_serve_less_say_so(compared, monkeypatch):
    """Where no panel and battery tried serves as much, the missing share is told instead of the same share claimed."""
    evaluator, found = compared
    figures, ways, beside = found[0]
    assert "the same share served" in " ".join(yardstick_words.sentences(ways, beside))
    monkeypatch.setattr(yardsticks, "panel_for", lambda *_: None)
    monkeypatch.setattr(yardsticks, "MOST", 0.5)
    panels = yardsticks.ways(evaluator, figures)[1]
    lacks = panels.about["lacks_percent"]
    assert 1.0 < lacks < 100.0
    said = " ".join(yardstick_words.sentences([ways[0], panels, *ways[2:]], beside))
    assert f"{lacks:.1f} % of the demand less" in said
    assert "the same share served" not in said


def test_prices_by_hand(compared):
    """Panel, battery and motor of the first design add up at the prices of the keys, and a year at their lives."""
    _, found = compared
    _, panels, *_ = found[0][1]
    panel, battery = panels.about["peak_W"] * 1.05, panels.about["battery_kWh"] * 350.0
    assert panels.cost == pytest.approx(panel + battery + 250.0 * 0.8)

    def a_year(price, life):
        return price * (0.04 / (1.0 - 1.04**-life) + 0.02)

    yearly = a_year(panel, 25) + a_year(battery, 10) + a_year(200.0, 12)
    assert panels.annual == pytest.approx(yearly, rel=1e-9)


def test_heat_engines_need_heat_by_their_efficiency(compared):
    """Twice the efficiency is half the collectors; a hot-air engine has half of Carnot between the same waters."""
    _, found = compared
    for figures, ways, _ in found:
        own, _, hot_air, modules = ways
        for one in (hot_air, modules):
            assert one.area / own.area == pytest.approx(one.heat_ratio)
            assert one.heat_ratio == pytest.approx(
                own.about["efficiency_percent"] / one.about["efficiency_percent"]
            )
        mixed = figures["store_mode"] == "mixed"
        low = figures["stop_temperature_degC" if mixed else "return_temperature_degC"] + 273.15
        carnot = yardsticks.stream_carnot(figures["top_temperature_degC"] + 273.15, low, 287.15)
        assert hot_air.about["efficiency_percent"] == pytest.approx(50.0 * carnot, rel=1e-6)
        assert modules.about["efficiency_percent"] < hot_air.about["efficiency_percent"]


def test_bands_hold_the_cost(compared):
    """The better end is never dearer, the worse never cheaper; a value that a user sets is taken as known."""
    evaluator, found = compared
    for _, ways, _ in found:
        for one in ways:
            assert one.low <= one.cost <= one.high
    known = evaluator.case.yardsticks.model_copy(update={"battery_life_years": 7.0})
    assert yardsticks.at_an_end(known, worse=True).battery_life_years == 7.0
    assert yardsticks.at_an_end(known, worse=True).motor_efficiency == 0.65


def test_heat_beside_the_work_closes(compared):
    """Heat into the cooling water and work are the heat drawn, and warm the water from 14 degC."""
    _, found = compared
    for figures, _, beside in found:
        work = figures["shaft_energy_kWh_per_year"]
        drawn = work / (figures["thermal_efficiency"] * figures["drive_efficiency"])
        assert beside["heat_kWh"] + work == pytest.approx(drawn)
        warmed = figures["cooling_water_L_per_year"] * 4190.0 * (beside["warm_degC"] - 14.0) / 3.6e6
        assert warmed == pytest.approx(beside["heat_kWh"])


def test_it_is_told_where_the_vapour_engine_loses(compared):
    """With the shipped prices it loses; with dear panels it wins; and both name what each has."""
    _, found = compared
    _, ways, beside = found[0]
    said = " ".join(sentences(ways, beside))
    assert "the vapour engine loses" in said
    for words in ("no cells to buy again", "pressure equipment", "kWh of heat a year", "sweep"):
        assert words in said
    dear = yardsticks.Way(**(vars(ways[1]) | {"cost": 10.0 * ways[0].cost}))
    assert "is the cheaper" in " ".join(sentences([ways[0], dear, *ways[2:]], beside))
    alike = yardsticks.Way(**(vars(ways[1]) | {"cost": 1.1 * ways[0].cost}))
    told = sentences([ways[0], alike, *ways[2:]], beside)
    assert "about as much" in told[0]
    assert told[0].endswith("what decides is what can be had and mended.")
    assert all(one.endswith(".") for one in told)


def test_what_costs_nothing_is_not_compared(compared):
    """Panels, fixing, battery and motor for nothing, or an engine: all is told but how many times as much one costs."""
    evaluator, found = compared
    free = dict.fromkeys(
        ("panel_EUR_per_W", "panel_fixing_EUR_per_W", "battery_EUR_per_kWh", "motor_EUR_per_W"), 0.0
    )
    case = evaluator.case
    given = Evaluator(case.model_copy(update={"yardsticks": case.yardsticks.model_copy(update=free)}))
    figures, ways, beside = found[0]
    gift = yardsticks.Way(**(vars(ways[0]) | {"cost": 0.0}))
    for both in (yardsticks.ways(given, figures), [gift, *ways[1:]]):
        told = sentences(both, beside)
        assert "times as much" not in told[0]
        assert told[1].startswith("They are ")
        assert text(both, beside)


def test_the_table_is_whole(compared):
    """Four ways, a cell under each heading, and nothing of a design without work."""
    _, found = compared
    _, ways, beside = found[0]
    assert {len(line) for line in rows(ways)} == {len(HEADER)}
    assert "hours bridged" in text(ways, beside)
    assert text([], beside) == ""


def test_a_design_without_work_has_no_rivals(compared):
    """Where nothing is served there is no same work."""
    evaluator, found = compared
    assert yardsticks.ways(evaluator, found[0][0] | {"shaft_energy_kWh_per_year": 0.0}) == []


def test_every_assumption_says_its_source_and_band():
    """A unit, a meaning, a source and a band around the value, for each."""
    for name, field in Yardsticks.model_fields.items():
        extra = field.json_schema_extra
        low, high = extra["band"]
        assert low <= field.default <= high, name
        assert low < high, name
        assert extra["assumption"], name
        assert all((extra["source"], extra["unit"], field.description)), name


FIGURES = {
    "cost_collectors_EUR": 100.0, "cost_store_EUR": 200.0, "cost_insulation_EUR": 50.0, "cost_boiler_EUR": 30.0,
    "cost_condenser_EUR": 20.0, "thermal_efficiency": 0.1, "drive_efficiency": 0.8, "collector_area_m2": 6.0,
    "bridged_hours": 30.0, "store_volume_L": 300.0, "store_mode": "stratified", "top_temperature_degC": 90.0,
    "return_temperature_degC": 50.0,
}  # fmt: skip


def plain_model():
    """What the prices of another way are read from."""
    return SimpleNamespace(
        case=SimpleNamespace(
            costs=Costs(), scenario=SimpleNamespace(demand=SimpleNamespace(shaft_power_W=250.0))
        ),
        plant=SimpleNamespace(machine=SimpleNamespace(cooling_water_temperature=288.0)),
        air_pressure=1e5,
    )


def test_insulation_goes_by_the_shell():
    """Of eight times the heat: eight times the collectors, four times the insulation."""
    found = yardsticks._sunny(FIGURES, 8.0)
    assert (found["collectors"], found["insulation"]) == (pytest.approx(800.0), pytest.approx(200.0))


def test_other_ways_pay_for_fittings_too():
    """On all their parts the share that the design pays on its own."""
    costs = Costs()
    way = yardsticks._on_the_store(plain_model(), FIGURES, "other", 0.08, [(1000.0, 10.0)])
    parts = 100.0 + 200.0 + 50.0 + costs.instruments_EUR + 1000.0
    assert costs.fittings_fraction > 0.0
    assert way.cost == pytest.approx(parts * (1.0 + costs.fittings_fraction))


def test_hot_air_needs_more_surface():
    """Twice the factor adds once more what passes its heat, at the prices of boiler and condenser, with fittings."""
    model, costs = plain_model(), Costs()
    one, two = (
        yardsticks._hot_air(model, FIGURES, Yardsticks(hot_air_surface_factor=factor))
        for factor in (2.0, 4.0)
    )
    added = 2.0 * 50.0 * one.heat_ratio * (1.0 + costs.fittings_fraction)
    assert two.cost - one.cost == pytest.approx(added)
