"""The one factor on films of tubes from a plant's log: what made a log is found again, by the tubes that were built."""

from __future__ import annotations

import json
import sys
from dataclasses import replace

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from explore import cli, evaluate, new_design
from explore.bench import overlay
from explore.bench.columns import BOILER, CONDENSER, RUNNING
from explore.bench.fit import UNTOUCHED, fit
from explore.bench.log import Log, Reckoned, Trial, read_log
from explore.bench.misread import JOINT_STEP
from explore.bench.plant import TUBE_FILMS
from explore.bench.problem import Problem
from explore.bench.reckoning import APART, SHARED, shared
from explore.bench.surfaces import with_factor
from explore.bench.trials import Bench, Way
from explore.config.compose import compose_case, load_scenario
from explore.doubt.draws import value
from explore.errors import InputError
from explore.model import Evaluator
from explore.model.details import details
from explore.tell.fit import words
from tests.bench.synthetic_log import Count
from tests.bench.synthetic_plant import COIL, STRATIFIED, TWO, of_tubes, plant, tubes_by_power

LOGS = 3
"""A stratified plant, a coil, and boilers in series; `python -m tests.benchmarks.fit 60 tubes` makes more."""
WHOLE = (
    "boiler_pressure_bar_a,condenser_pressure_bar_a,inlet_temperature_degC,flow_kg_per_h,exhaust_temperature_degC,"
    "hot_water_temperature_degC,cooling_water_temperature_degC,hot_water_flow_L_per_h,cooling_water_flow_L_per_h,"
    "feed_temperature_degC"
)
AT = "7.9,3,78,40,44,90,20,150,900,31"


@pytest.fixture(scope="module")
def case():
    """The default case with exchangers made of tubes."""
    plain = load_scenario("orchard")
    return plain.model_copy(update={"exchangers": plain.exchangers.model_copy(update={"method": "tubes"})})


@pytest.fixture(scope="module")
def plants(case):
    """Figures and plants of tubes: on a stratified store, with a coil, with two boilers."""
    return {"stratified": plant(case, STRATIFIED), "mixed": plant(case, COIL), "series": plant(case, TWO)}


def test_the_factor_of_a_log_is_found_again(case):
    """Of each kind of plant: it is identified, its 90 % interval holds what made the log and is a fifth of the band."""
    count = Count()
    for seed in range(LOGS):
        log, truth, bench = of_tubes(case, seed)
        count.add(fit(log, bench), truth)
    assert count.told == {TUBE_FILMS: LOGS}
    assert count.inside == {TUBE_FILMS: LOGS}
    assert max(count.widths[TUBE_FILMS]) < 0.2
    assert max(count.misfits) < 1.3


def test_the_factor_is_told_where_nobody_read_the_flow():
    """The engine that is fitted says it, with its doubt in both exchangers."""
    log, truth, bench = tubes_by_power(load_scenario("orchard"), 1)
    found = {one.item.name: one for one in fit(log, bench).coefficients}[TUBE_FILMS]
    assert found.identified
    assert found.fitted[1] <= truth[TUBE_FILMS] <= found.fitted[2]


def test_tubes_as_built_have_the_areas_of_the_design(plants):
    """Outside surface, pi d L of all: the boiler's area, in series the sum of both, and the condenser's."""
    for figures, built in plants.values():
        made = built.tubes
        surface = [
            np.pi * tube.outside * count * length
            for tube, count, length in zip(
                [*[made.boiler] * built.levels, made.condenser],
                [*made.boilers, made.condensers],
                made.lengths,
                strict=True,
            )
        ]
        assert sum(surface[:-1]) == pytest.approx(figures["boiler_area_m2"], rel=1e-9)
        assert surface[-1] == pytest.approx(figures["condenser_area_m2"], rel=1e-9)
        assert list(built.boilers) == pytest.approx(surface[:-1], rel=1e-9)
        assert built.films == (TUBE_FILMS,)
    figures, built = plants["stratified"]
    assert built.tubes.lost[0] * figures["boiler_pressure_bar_a"] == pytest.approx(
        figures["boiler_fluid_drop_bar"], rel=0.05
    )


def _rated(case, figures):
    """Conditions of both exchangers at the design's rated point, by kind."""
    told = details(Evaluator(case, case.search.properties), evaluate(new_design(**STRATIFIED), case))[0]
    state = {one["name"]: one for one in told["states"]}
    density = 1e-3 * PropsSI("D", "T", 273.15 + 90, "P", 101325, "Water")
    flow = 3600 * figures["fluid_flow_kg_per_s"]
    boiler = {
        "boiler_pressure_bar_a": figures["boiler_pressure_bar_a"],
        "inlet_temperature_degC": state["vapour of boiler 1"]["T_degC"],
        "feed_temperature_degC": state["feed behind the pump"]["T_degC"],
        "flow_kg_per_h": flow,
        "hot_water_flow_L_per_h": 3600 * figures["hot_water_flow_kg_per_s"] / density,
        "hot_water_temperature_degC": 0.0,
    }
    condenser = {
        "condenser_pressure_bar_a": figures["condenser_pressure_bar_a"],
        "exhaust_temperature_degC": state["vapour out of stage 1"]["T_degC"],
        "flow_kg_per_h": flow,
        "cooling_water_flow_L_per_h": 3600 * figures["cooling_water_flow_kg_per_s"] / 0.9991,
        "cooling_water_temperature_degC": 0.0,
    }
    return {
        kind: Trial(kind, (2,), {name: np.array([x]) for name, x in columns.items()})
        for kind, columns in ((BOILER, boiler), (CONDENSER, condenser))
    }


def test_water_is_as_hot_as_the_store_of_the_design(case, plants):
    """At its rated point the plant needs the tubes it has; with better films the water is nearer to the fluid."""
    figures, built = plants["stratified"]
    bench, lines = Bench(built.machine, case, built), _rated(case, figures)
    hot = [
        bench.predict(case.engine, lines[BOILER], Way(tube_films=x))["hot_water_temperature_degC"][0]
        for x in (None, 1.0, 1.25)
    ]
    cold = [
        bench.predict(case.engine, lines[CONDENSER], Way(tube_films=x))["cooling_water_temperature_degC"][0]
        for x in (None, 1.0, 1.25)
    ]
    site = case.scenario.site.cooling_water_temperature_degC
    assert hot[0] == hot[1] == pytest.approx(90.0, abs=0.02)
    assert cold[0] == cold[1] == pytest.approx(site, abs=0.05)
    assert hot[2] < 89.0
    assert cold[2] > site + 0.5


def test_a_factor_is_as_much_more_surface(case, plants):
    """Films times 1.2 on the tubes there are read as the correlations' own on tubes 1.2 times as long."""
    figures, built = plants["stratified"]
    longer = replace(built, areas={part: 1.2 * area for part, area in built.areas.items()})
    for line in _rated(case, figures).values():
        better = Bench(built.machine, case, built).predict(case.engine, line, Way(tube_films=1.2))
        larger = Bench(built.machine, case, longer).predict(case.engine, line)
        for name, read in better.items():
            assert read == pytest.approx(larger[name], abs=1e-6)


def test_one_engine_a_line(case):
    """Factors as an array are those of each line alone."""
    log, _, bench = of_tubes(case, 1)
    for test in log.tests:
        factors = np.linspace(0.8, 1.25, len(test.lines))
        together = bench.predict(case.engine, test, Way(tube_films=factors))
        for name, read in together.items():
            alone = [
                bench.predict(case.engine, test, Way(tube_films=x))[name][i] for i, x in enumerate(factors)
            ]
            assert read == pytest.approx(alone, abs=1e-9)
    tubing = bench.surfaces(case.engine, 1.1).tubing
    assert tubing == with_factor(bench.surfaces(case.engine).tubing, 1.1)


def test_what_a_line_has_read_once_is_wrong_for_both_exchangers(case):
    """By hand: the covariance of both waters of a line is the product of their slopes by flow and condenser pressure."""
    log, _, bench = of_tubes(case, 1)
    problem = Problem("x", log.tests, bench, [])
    n = len(log.tests[0].lines)
    both = problem.errors.of_all(log.tests)[:n, n:]
    assert both == pytest.approx(np.diag(np.diag(both)), abs=1e-15)
    slopes = []
    for test in log.tests:
        name = "flow_kg_per_h"
        step = 0.1 * test.accuracy[name] / 1.959964
        moved = replace(test, columns={**test.columns, name: test.columns[name] + step})
        water = test.measured()[0]
        way = Way(tube_films=1.0)
        slopes.append(
            10
            * (bench.predict(case.engine, moved, way)[water] - bench.predict(case.engine, test, way)[water])
        )
    assert np.diag(both) == pytest.approx(slopes[0] * slopes[1], rel=1e-3)
    apart = tuple(
        replace(test, lines=tuple(100 * i + k for k in test.lines)) for i, test in enumerate(log.tests)
    )
    assert not Problem("x", apart, bench, []).errors.of_all(apart)[:n, n:].any()


def test_a_flow_of_the_engine_is_wrong_for_both_exchangers(case):
    """Where nobody read the flow the engine's doubt about it joins all lines of both: slopes times its covariance."""
    log, _, bench = of_tubes(case, 0)
    n, name = len(log.tests[0].lines), "flow_kg_per_h"
    doubt = 0.02 * np.eye(n) + 0.3
    tests = [
        replace(
            test,
            accuracy=dict.fromkeys(test.accuracy, 0.0) | {test.measured()[0]: 0.5},
            joint={name: Reckoned(doubt, {})},
        )
        for test in log.tests
    ]
    both = Problem("x", tests, bench, []).errors.of_all(tests)[:n, n:]
    slopes, step = [], JOINT_STEP * float(np.max(log.tests[0].columns[name]))
    for test in tests:
        moved = replace(test, columns={**test.columns, name: test.columns[name] + step})
        water = test.measured()[0]
        slopes.append(
            (1 / step) * (bench.predict(case.engine, moved)[water] - bench.predict(case.engine, test)[water])
        )
    assert both == pytest.approx(np.outer(*slopes) * doubt, rel=1e-6)
    assert (both[0] < -1e-3).all()


def test_without_its_water_nothing_is_told(case):
    """A log without the channel says so, and what would measure it; fitted.yaml then has no exchangers."""
    log, _, bench = of_tubes(case, 0)
    lines = np.array([300.0, 600.0])
    alone = Trial("motoring", (2, 3), {"speed_rev_per_min": lines, "torque_Nm": np.array([0.9, 1.1])})
    accuracy = {"speed_rev_per_min": 1.0, "torque_Nm": 0.02}
    done = fit(Log(log.path, (replace(alone, accuracy=accuracy),)), bench)
    (found,) = (one for one in done.coefficients if one.item.name == TUBE_FILMS)
    assert not found.identified
    assert found.why == UNTOUCHED
    assert done.exchangers == case.exchangers
    assert "exchangers" not in overlay.overlay(done, case)
    assert any(
        "tube_films_factor" in one and "the water of boiler or condenser" in one
        for one in words.missing(done)
    )


def test_tubes_fouled_beyond_their_band_are_told_to_be_so(case):
    """Films of half what they were lie beyond 3 deviations: the interval is open there, and the band to type finds them."""
    log, _, bench = of_tubes(case, 0)
    fouled = [
        replace(test, columns={**test.columns, **bench.predict(case.engine, test, Way(tube_films=0.5))})
        for test in log.tests
    ]
    (stopped,) = (done := fit(Log("fouled.csv", tuple(fouled)), bench)).identified()
    assert stopped.fitted[0] == pytest.approx(0.593, abs=1e-3)  # exp(-3 ln(1.25) / 1.2816)
    assert words.interval(stopped) == ["< 0.593", words.number(stopped.fitted[2])]
    assert "< 0.593" in words.coefficients(done)
    assert "or less" in overlay.text(done, log.path, "plant", case)
    (said,) = words.edges(done)
    assert "may be less" in said
    typed = said.split("'")[1]
    wider = compose_case(["scenario=orchard", "exchangers=tubes", typed])
    (found,) = (
        done := fit(Log("fouled.csv", tuple(fouled)), Bench(bench.given, wider, bench.plant))
    ).identified()
    assert found.fitted[1] <= 0.5 <= found.fitted[2]
    assert not words.edges(done)
    assert words.interval(found) == [words.number(end) for end in found.fitted[1:]]


@pytest.mark.parametrize(
    ("kind", "text", "says"),
    [
        ("stratified", f"speed_rev_per_min,torque_Nm,{WHOLE}\n300,9,{AT}\n",
         ["line 2, column inlet_pressure_bar_a", "loses pressure in the tubes of this design's boiler", "at the engine"]),
        ("stratified", f"speed_rev_per_min,torque_Nm,inlet_pressure_bar_a,{WHOLE}\n300,9,7.8,{AT}\n",
         ["line 2, column outlet_pressure_bar_a", "tubes of this design's condenser"]),
        ("stratified", f"test,{WHOLE}\nboiler,7.9,,78,40,,90,,150,,31\n", ["column inlet_pressure_bar_a: a boiler test"]),
        ("series", f"test,inlet_pressure_bar_a,{WHOLE}\nboiler,7.8,7.9,,78,40,,90,,150,,31\n",
         ["line 2, test boiler", "boilers in series", "lines of the condenser"]),
    ],
)  # fmt: skip
def test_lines_that_tubes_cannot_be_told_of(plants, tmp_path, kind, text, says):
    """One short sentence each, with the line."""
    file, built = tmp_path / "log.csv", plants[kind][1]
    file.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_log(file, {}, 1.013, plant=built)
    said = str(error.value)
    assert len(said.replace(str(file), "")) < 300, said
    for part in says:
        assert part in said


def test_a_gauge_of_an_exchanger_stands_for_no_other(case, plants, tmp_path):
    """Lines say to each part what they have; of the boiler they lack the pressure behind its tubes, and it is named."""
    file = tmp_path / "log.csv"
    file.write_text(f"{WHOLE}\n{AT}\n", encoding="utf-8")
    log = read_log(file, {}, 1.013, plant=plants["stratified"][1])
    assert [test.kind for test in log.tests] == [CONDENSER]
    assert log.untold == ("Of the boiler line 2 says nothing: inlet_pressure_bar_a is not there.",)
    file.write_text(f"inlet_pressure_bar_a,{WHOLE}\n7.8,{AT}\n", encoding="utf-8")
    assert [test.kind for test in read_log(file, {}, 1.013, plant=plants["stratified"][1]).tests] == [
        BOILER,
        CONDENSER,
    ]
    log = read_log(file, {}, 1.013, plant=plants["series"][1])
    assert [test.kind for test in log.tests] == [CONDENSER]
    assert "how tubes of boilers in series divide the flow" in log.untold[0]
    coefficients = replace(plants["stratified"][1], tubes=None)
    assert shared(BOILER, coefficients) == SHARED[BOILER]
    assert shared(BOILER, plants["stratified"][1]) == SHARED[BOILER] | APART
    assert shared(CONDENSER, plants["stratified"][1]) == {}


def test_vapour_of_a_colder_boiler_joins_behind_its_tubes(case, plants):
    """Its gauge is where it boils: the engine sees what is left, by the share that the design's own run loses there."""
    figures, built = plants["series"]
    bench, asked = Bench(built.machine, case, built), []
    assert built.tubes.lost[1] > 0.003
    columns = {
        "speed_rev_per_min": figures["speed_rev_per_min"],
        "inlet_pressure_bar_a": figures["boiler_pressure_bar_a"],
        "inlet_temperature_degC": figures["evaporating_temperature_degC"] + 6.0,
        "outlet_pressure_bar_a": figures["condenser_pressure_bar_a"],
        "boiler_2_pressure_bar_a": 5.5,
        "boiler_2_temperature_degC": 60.0,
        "flow_kg_per_h": 0.0,
    }
    for lost, gauge in ((built.tubes.lost, 5.5), ((0.0, 0.0), 5.5 * (1.0 - built.tubes.lost[1]))):
        own = Bench(built.machine, case, replace(built, tubes=replace(built.tubes, lost=lost)))
        line = Trial(
            RUNNING,
            (2,),
            {name: np.array([x]) for name, x in (columns | {"boiler_2_pressure_bar_a": gauge}).items()},
        )
        asked.append(own.predict(bench.case.engine, line)["flow_kg_per_h"][0])
    assert asked[0] == pytest.approx(asked[1], rel=1e-9)


def test_any_run_takes_the_overlay(case, tmp_path):
    """Its factor, its band and that exchangers are of tubes; what is typed after it counts, and a later fit keeps it."""
    log, _, bench = of_tubes(case, 0)
    done = fit(log, bench)
    (found,) = done.identified()
    file = tmp_path / "fitted.yaml"
    file.write_text(overlay.text(done, log.path, "plant", case), encoding="utf-8")
    taken = compose_case([f"fitted={file}"])
    assert taken.exchangers.method == "tubes"
    assert taken.exchangers.tube_films_factor == pytest.approx(found.fitted[0], rel=1e-5)
    assert taken.doubt.bands[TUBE_FILMS] == pytest.approx(found.band, rel=1e-5)
    for words_typed in (
        [f"fitted={file}", "exchangers.tube_films_factor=0.9"],
        ["exchangers.tube_films_factor=0.9", f"fitted={file}"],
    ):
        assert compose_case(words_typed).exchangers.tube_films_factor == 0.9
    # in any order, and by the group as by its key: nothing typed is overruled in silence
    for otherwise in ("exchangers.method=coefficients", "exchangers=coefficients"):
        for words_typed in ([f"fitted={file}", otherwise], [otherwise, f"fitted={file}"]):
            with pytest.raises(InputError, match=r"does not count with exchangers\.method=coefficients"):
                compose_case(words_typed)
    assert compose_case([f"fitted={file}", "exchangers=tubes"]).exchangers == taken.exchangers
    # the next log is of the pump alone: what the first has told goes along
    later = Trial("pump", (2,), {name: np.array([x]) for name, x in (
        ("pump_pressure_rise_bar", 5.0), ("pump_displacement_L_per_h", 60.0), ("pump_flow_L_per_h", 50.0))},
        {"pump_pressure_rise_bar": 0.1, "pump_displacement_L_per_h": 0.0, "pump_flow_L_per_h": 1.0})  # fmt: skip
    again = fit(Log("later.csv", (later,)), Bench(bench.given, taken))
    kept = overlay.overlay(again, taken)
    assert kept["exchangers"] == {"method": "tubes", TUBE_FILMS: taken.exchangers.tube_films_factor}
    assert kept["doubt"]["bands"][TUBE_FILMS] == list(taken.doubt.bands[TUBE_FILMS])
    low, high = (float(value(found.item, np.array([z]))[0]) for z in (-1.2816, 1.2816))
    assert (low, high) == pytest.approx((0.8, 1.25), rel=1e-3)


def test_by_the_command(case, plants, tmp_path, monkeypatch, capsys):
    """A design file sized with tubes: terminal, page and figures tell its factor and how many tubes there are."""
    monkeypatch.chdir(tmp_path)
    log, truth, _ = of_tubes(case, 0)
    names = list(dict.fromkeys(name for test in log.tests for name in test.columns))
    rows = [
        [f"{test.columns[name][i]:.6g}" if name in test.columns else "" for name in names]
        for test in log.tests
        for i in range(len(test.lines))
    ]
    kinds = [test.kind for test in log.tests for _ in test.lines]
    text = "\n".join(
        ",".join(line)
        for line in [["test", *names], *([k, *row] for k, row in zip(kinds, rows, strict=True))]
    )
    (tmp_path / "mine.csv").write_text(text + "\n", encoding="utf-8")
    design = new_design(**STRATIFIED)
    (tmp_path / "mine.yaml").write_text(
        "\n".join(f"{name}: {one}" for name, one in design.items()) + "\n", encoding="utf-8"
    )
    words_typed = [
        "task=fit",
        "log=mine.csv",
        "design=mine.yaml",
        "exchangers=tubes",
        "scenario=orchard",
        "output=out",
    ]
    monkeypatch.setattr(sys, "argv", ["explore", *words_typed])
    assert cli.main() in (0, None)
    said = " ".join(capsys.readouterr().out.split())
    assert "tube_films_factor" in said
    assert "(tubes side by side: boiler 2 of 7.4 m, condenser 3 of 9.4 m)" in said
    found = json.loads((tmp_path / "out" / "fit.json").read_text(encoding="utf-8"))
    (one,) = (one for one in found["coefficients"] if one["name"] == TUBE_FILMS)
    assert one["identified"]
    assert one["fitted"] == pytest.approx(truth[TUBE_FILMS], abs=0.08)  # bores from stock move areas a little
    assert "exchangers: # made of tubes" in (tmp_path / "out" / "fitted.yaml").read_text(encoding="utf-8")
    assert "coefficients of heat transfer of all tubes" in (tmp_path / "out" / "fit.html").read_text(
        encoding="utf-8"
    )
