"""Films of boilers in series, of mixtures and of condensers with wet exhaust: what made a log is found again."""

from __future__ import annotations

import os
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from explore import evaluate, new_design
from explore.bench.columns import BETWEEN, BOILER, CONDENSER, FRESH, RUNNING
from explore.bench.fit import candidates, fit
from explore.bench.log import Trial, accuracies, read_log
from explore.bench.misread import COVERED
from explore.bench.problem import Problem
from explore.bench.reckoning import dry, weighed
from explore.bench.steps import step
from explore.bench.trials import PLAIN, Bench
from explore.config.compose import load_scenario
from explore.model import Evaluator
from explore.model.details import details
from tests.bench import synthetic_plant as invented
from tests.bench.synthetic_log import Count
from tests.bench.synthetic_plant import BOTTLED, STRATIFIED, THREE, TWO, plant

LOGS = 30 if os.environ.get("EXPLORE_ALL_FITS") == "1" else 2
"""All 30 take two and a half minutes."""
WATER = "hot_water_temperature_degC"


@pytest.fixture(scope="module")
def case():
    """The default case."""
    return load_scenario("orchard")


@pytest.fixture(scope="module")
def rated(case):
    """Plants at their rated point by name: bench, figures, states by name, and what a boiler's line would read."""
    found = {}
    for name, design in (("two", TWO), ("three", THREE), ("mixture", STRATIFIED | BOTTLED)):
        figures, built = plant(case, design)
        told = details(Evaluator(case, case.search.properties), evaluate(new_design(**design), case))[0]
        state = {one["name"]: one for one in told["states"]}
        line = {
            "boiler_pressure_bar_a": figures["boiler_pressure_bar_a"],
            "inlet_temperature_degC": state["vapour of boiler 1"]["T_degC"],
            "feed_temperature_degC": state["feed behind the pump"]["T_degC"],
            "flow_kg_per_h": 3600 * figures["fluid_flow_kg_per_s"],
            WATER: 0.0,
        }
        for i, (gauge, thermometer) in enumerate(FRESH[: built.levels - 1], start=2):
            vapour = state[f"vapour of boiler {i}"]
            line |= {gauge: vapour["p_bar_a"], thermometer: vapour["T_degC"], BETWEEN[i - 2]: 0.0}
        found[name] = Bench(built.machine, case, built), figures, state, line
    return found


@pytest.fixture(scope="module")
def series(case):
    """A log of boilers in series, the films that made it, its bench and its fit."""
    log, truth, bench = invented.in_series(case, 0)
    return log, truth, bench, fit(log, bench)


def one_line(kind, columns):
    """Return a test of one line."""
    return Trial(kind, (2,), {name: np.array([float(x)]) for name, x in columns.items()})


@pytest.mark.parametrize("name", ["two", "three", "mixture"])
def test_water_is_as_hot_as_the_store_of_the_design(case, rated, name):
    """At the rated point the model's own plant is what films and areas give: the other way round to how it was sized."""
    bench, figures, state, line = rated[name]
    density = 1e-3 * PropsSI("D", "T", 273.15 + 90, "P", 101325, "Water")
    assert sum(bench.plant.boilers) == pytest.approx(figures["boiler_area_m2"], rel=1e-12)
    for stream in (
        {"hot_water_flow_L_per_h": 3600 * figures["hot_water_flow_kg_per_s"] / density},
        {"hot_water_outlet_temperature_degC": figures["return_temperature_degC"]},
    ):
        read = bench.predict(case.engine, one_line(BOILER, line | stream))
        assert read[WATER][0] == pytest.approx(90.0, abs=0.02)
        if name != "mixture":  # water leaves each boiler by the pinch above what boils there: 74 and 6 K
            assert read[BETWEEN[0]][0] == pytest.approx(80.0, abs=0.02)
    cold = {
        "condenser_pressure_bar_a": figures["condenser_pressure_bar_a"],
        "exhaust_temperature_degC": state[f"vapour out of stage {len(bench.given.cylinders)}"]["T_degC"],
        "flow_kg_per_h": line["flow_kg_per_h"],
        "cooling_water_flow_L_per_h": 3600 * figures["cooling_water_flow_kg_per_s"] / 0.9991,
        "cooling_water_temperature_degC": 0.0,
    }
    read = bench.predict(case.engine, one_line(CONDENSER, cold))["cooling_water_temperature_degC"][0]
    assert read == pytest.approx(case.scenario.site.cooling_water_temperature_degC, abs=0.02)


def test_two_boilers_by_hand(case, rated):
    """Between the temperatures told each boiler needs just its own area, and their vapour is all the flow.

    Heats from CoolProp, logarithmic mean differences of Bergman et al., Fundamentals of Heat and Mass Transfer, ch. 11.
    Pumps between boilers lift for some 1 kJ/kg, which the hand leaves away.
    """
    bench = rated["two"][0]
    flow, stream, feed, p, t = 0.013, 0.041, 304.15, (9.0e5, 5.4e5), (273.15 + 80, 273.15 + 59)
    films = {"liquid": 140.0, "two_phase": 520.0, "vapour": 210.0}
    columns = {
        "boiler_pressure_bar_a": 9.0, "inlet_temperature_degC": 80, FRESH[0][0]: 5.4, FRESH[0][1]: 59, WATER: 0,
        BETWEEN[0]: 0, "flow_kg_per_h": 3600 * flow, "feed_temperature_degC": feed - 273.15,
    }  # fmt: skip
    engine = case.engine.model_copy(update={f"boiler_U_{zone}": film for zone, film in films.items()})

    def water(name, given, value):
        return PropsSI(name, given, value, "P", 101325, "Water")

    litres = 3600e3 * stream / water("D", "T", 273.15 + 85)
    read = bench.predict(engine, one_line(BOILER, columns | {"hot_water_flow_L_per_h": litres}))
    top, between = (273.15 + read[name][0] for name in (WATER, BETWEEN[0]))
    stream = litres / 3600e3 * water("D", "T", top)  # by volume, as it enters
    boil = [PropsSI("T", "P", one, "Q", 0, "n-Butane") for one in p]
    bubble, dew = ([PropsSI("H", "P", one, "Q", q, "n-Butane") for one in p] for q in (0, 1))
    out = [PropsSI("H", "P", one, "T", own, "n-Butane") for one, own in zip(p, t, strict=True)]
    h = water("H", "T", top), water("H", "T", between)
    first = stream * (h[0] - h[1]) / (out[0] - bubble[0])
    second = flow - first
    h += (h[1] - (second * (out[1] - bubble[1]) + first * (bubble[0] - bubble[1])) / stream,)
    h += (h[2] - flow * (bubble[1] - PropsSI("H", "P", p[1], "T", feed, "n-Butane")) / stream,)
    pinched, back = (water("T", "H", one) for one in h[2:])

    def area(zone, heat, one, other):
        return heat * np.log(one / other) / (films[zone] * (one - other))

    def boiler(i, own, entry, leaving):
        share = (out[i] - dew[i]) / (out[i] - bubble[i])
        met = entry - (entry - leaving) * share  # water has nearly one heat over these kelvin
        if i:  # of two streams that end at one temperature
            met = water(
                "T", "H", water("H", "T", entry) - (water("H", "T", entry) - water("H", "T", leaving)) * share
            )
        return area("vapour", own * (out[i] - dew[i]), entry - t[i], met - boil[i]) + area(
            "two_phase", own * (dew[i] - bubble[i]), met - boil[i], leaving - boil[i]
        )

    hotter = boiler(0, first, top, between) + area(
        "liquid", first * (bubble[0] - bubble[1]), between - boil[0], pinched - boil[1]
    )
    colder = boiler(1, second, between, pinched) + area(
        "liquid",
        flow * (bubble[1] - PropsSI("H", "P", p[1], "T", feed, "n-Butane")),
        pinched - boil[1],
        back - feed,
    )
    assert hotter == pytest.approx(bench.plant.boilers[0], rel=0.01)
    assert colder == pytest.approx(bench.plant.boilers[1], rel=0.01)


@pytest.mark.parametrize("name", ["two", "three"])
def test_vapour_joins_between_the_stages_as_in_the_design(case, rated, name):
    """At its rated point the compound engine takes the flow of the design, and its exhaust is that of its state."""
    bench, figures, state, line = rated[name]
    stages = len(bench.given.cylinders)
    columns = {
        name: x for name, x in line.items() if name not in (WATER, *BETWEEN, "boiler_pressure_bar_a")
    } | {
        "speed_rev_per_min": figures["speed_rev_per_min"],
        "inlet_pressure_bar_a": line["boiler_pressure_bar_a"],
        "outlet_pressure_bar_a": figures["condenser_pressure_bar_a"],
    }
    done = bench.run(case, one_line(RUNNING, columns), PLAIN)
    assert done.flow[0] == pytest.approx(figures["fluid_flow_kg_per_s"], rel=1e-4)
    assert done.exhaust_temperature[0] - 273.15 == pytest.approx(
        state[f"vapour out of stage {stages}"]["T_degC"], abs=0.02
    )
    for one, other in pairwise(done.stages):
        assert one.exhaust_pressure[0] == other.inlet_pressure[0]


@pytest.mark.filterwarnings("error")
def test_a_poor_gauge_takes_no_reading_below_nothing(case, rated):
    """An accuracy far above the reading says little, and still has a slope: that of the reading, for all that is told."""
    bench, figures, _, line = rated["two"]
    columns = {name: x for name, x in line.items() if name not in (WATER, *BETWEEN, "boiler_pressure_bar_a")}
    columns |= {
        "speed_rev_per_min": figures["speed_rev_per_min"],
        "inlet_pressure_bar_a": line["boiler_pressure_bar_a"],
        "outlet_pressure_bar_a": figures["condenser_pressure_bar_a"],
        "shaft_power_W": 200.0,
    }
    found = []
    for accuracy in (0.1, 190.0):
        test = one_line(RUNNING, columns)
        test = replace(test, accuracy=accuracies(test, {FRESH[0][0]: accuracy}))
        items = [one for one in candidates(case, False) if one.name == "ring_gap_um"]
        found.append(Problem("x", (test,), bench, items).deviation)
    assert (found[1] > 20.0 * found[0]).any()
    assert np.isfinite(found[1]).all()


def test_the_least_quality_is_moved_up():
    """A reading at the end of what can be read is no reason to refuse what lies beyond it; others go down."""
    assert step("inlet_quality", np.array([0.3, 0.9, 1.0]), 0.01).tolist() == [0.001, -0.001, -0.001]
    assert step("inlet_pressure_bar_a", np.array([6.0]), 100.0) == pytest.approx(-0.3)
    assert step("condensate_temperature_degC", np.array([np.nan, 30.0]), 100.0).tolist() == [2.0, 2.0]


def test_the_films_of_boilers_in_series_are_found_again(case, series):
    """Logs with noise in readings and conditions: 90 % intervals hold the films that made them."""
    count, (_, films, _, done) = Count(), series
    count.add(done, films)
    for seed in range(1, LOGS):
        log, truth, bench = invented.in_series(case, seed)
        count.add(fit(log, bench), truth)
    assert count.told["boiler_U_two_phase"] == count.told["boiler_U_liquid"] == LOGS
    assert count.share >= (0.88 if LOGS == 30 else 0.8)


def test_a_compound_plant_tells_of_engine_and_boilers(case):
    """Brake and water, no flow: what the fitted engine swallows, fresh vapour with it, is the flow of the boilers."""
    log, truth, bench = invented.compound(case, 1)
    assert np.isnan(next(one for one in log.tests if one.kind == BOILER).columns["flow_kg_per_h"]).all()
    done = fit(log, bench)
    found = {one.item.name: one for one in done.coefficients}
    for name in ("boiler_U_two_phase", "condenser_U_two_phase", "ring_gap_um", "friction_idle_bar"):
        assert found[name].identified
        assert found[name].fitted[1] <= truth[name] <= found[name].fitted[2]


def test_what_lines_of_boilers_in_series_lack(rated, series, tmp_path):
    """The second boiler's gauge is needed, the water between is not; an engine alone has no second boiler."""
    stands, file = rated["two"][0].plant, tmp_path / "log.csv"
    names = (
        "boiler_pressure_bar_a,condenser_pressure_bar_a,inlet_temperature_degC,flow_kg_per_h,hot_water_temperature_degC,"
        "hot_water_flow_L_per_h,boiler_2_pressure_bar_a,boiler_2_temperature_degC"
    )
    file.write_text(f"{names}\n8.9,3,78,40,90,150,,60\n8.9,3,78,40,90,150,5.5,60\n", encoding="utf-8")
    read = read_log(file, {}, 1.013, plant=stands)
    assert {test.kind: test.lines for test in read.tests} == {BOILER: (3,)}
    assert read.untold == ("Of the boiler line 2 says nothing: boiler_2_pressure_bar_a is not there.",)
    log, _, bench, full = series
    columns = {name: x for name, x in log.tests[0].columns.items() if name not in BETWEEN}
    done = fit(replace(log, tests=(replace(log.tests[0], columns=columns),)), bench)
    width = {one.item.name: one.width for one in done.coefficients}
    whole = {one.item.name: one.width for one in full.coefficients}
    assert whole["boiler_U_two_phase"] < width["boiler_U_two_phase"] < 1.0


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize(
    "stream", [{"hot_water_flow_L_per_h": 150.0}, {WATER.replace("_t", "_outlet_t"): 45.0}]
)
def test_boilers_far_below_the_freezing_point_of_water(case, rated, stream):
    """No first guess of a flow divides by nothing where the pinch lies in ice: a number comes out, no warning."""
    cold = {"boiler_pressure_bar_a": 0.05, FRESH[0][0]: 0.02, "inlet_temperature_degC": 78, FRESH[0][1]: 60}
    flow = {"feed_temperature_degC": -60, "flow_kg_per_h": 40, WATER: 0, BETWEEN[0]: 0}
    read = rated["two"][0].predict(case.engine, one_line(BOILER, cold | flow | stream))
    assert np.isfinite([read[WATER][0], read[BETWEEN[0]][0]]).all()


def test_the_films_of_a_mixture_are_found_again(case):
    """Along the glide of its condenser."""
    log, truth, bench = invented.synthetic_plant(case, 0, (CONDENSER,), STRATIFIED | BOTTLED)
    found = {one.item.name: one for one in fit(log, bench).coefficients}
    one = found["condenser_U_two_phase"]
    assert one.identified
    assert one.fitted[1] <= truth["condenser_U_two_phase"] <= one.fitted[2]


def test_wet_exhaust_is_weighed_in_its_cooling_water(case):
    """The films that made a log of wet exhaust are found again; without its outlet lines are named; read wetness counts."""
    log, truth, bench = invented.weighed(case, 0)
    done = fit(log, bench)
    found = {one.item.name: one for one in done.coefficients}
    for name in ("condenser_U_liquid", "condenser_U_two_phase"):
        assert found[name].identified
        assert found[name].fitted[1] <= truth[name] <= found[name].fitted[2]
    test, outlet = log.tests[0], "cooling_water_outlet_temperature_degC"
    untold, wet = [], {"exhaust_temperature_degC": np.full(12, 28.0), outlet: np.full(12, np.nan)}
    assert dry(replace(test, columns={**test.columns, **wet}), bench, untold).lines == ()
    assert "exhaust_quality would say" in untold[0]
    read = replace(test, columns={**test.columns, "exhaust_quality": np.full(12, 0.9)})
    assert dry(read, bench, untold).lines == test.lines
    assert weighed(read, bench).joint == {}


def test_a_line_without_the_outlet_stands_beside_one_that_is_weighed(case):
    """Dry exhaust needs no outlet of the water: how wet another line's is, is what it is without it."""
    log, _, bench = invented.weighed(case, 0)
    test, outlet = log.tests[0], "cooling_water_outlet_temperature_degC"
    alone, columns = weighed(test, bench), {name: x.copy() for name, x in test.columns.items()}
    columns["exhaust_temperature_degC"][3], columns[outlet][3] = 52.0, np.nan
    read = weighed(replace(test, columns=columns), bench)
    quality = read.columns["exhaust_quality"]
    assert np.isnan(quality[3])
    others = np.arange(len(quality)) != 3
    assert quality[others].tolist() == alone.columns["exhaust_quality"][others].tolist()
    assert np.isfinite(np.concatenate(list(read.joint["exhaust_quality"].slopes.values()))).all()


def test_errors_of_what_was_weighed(case):
    """How far the model is off by noise in all readings of a line, against as many lines with noise drawn.

    The water's entry is both what is told and a part of what is weighed, so that its error counts more than once.
    """
    log, _, bench = invented.weighed(case, 1)
    line = {name: x[:1] for name, x in log.tests[0].columns.items()}
    fine = {"condenser_pressure_bar_a": 0.01, "cooling_water_outlet_temperature_degC": 0.1}
    accuracy = accuracies(
        replace(log.tests[0], columns=line), fine
    )  # so that the entry's own error is the greatest
    line["exhaust_temperature_degC"] = np.array([-20.0])  # wet, whatever the gauge
    whole = weighed(replace(log.tests[0], lines=(2,), columns=line, accuracy=accuracy), bench)
    items = [one for one in candidates(case, False, bench.films) if one.name.startswith("condenser")]
    told = Problem("x", (whole,), bench, items).deviation[0]
    draw, count = np.random.default_rng(0), 2000
    many = {name: np.full(count, x[0]) for name, x in line.items()}
    many = {name: x + accuracy[name] / COVERED * draw.standard_normal(count) for name, x in many.items()}
    drawn = weighed(Trial(CONDENSER, tuple(range(count)), many, accuracy), bench)
    water = "cooling_water_temperature_degC"
    off = bench.predict(case.engine, drawn)[water] - many[water]
    assert np.std(off) == pytest.approx(told, rel=0.08)
