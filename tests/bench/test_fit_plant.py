"""Films of a plant from its log: what made a log is found again, by the areas that the design's own run gives it."""

from __future__ import annotations

import json
import os
import sys
from dataclasses import replace

import numpy as np
import pytest
import yaml
from CoolProp.CoolProp import PropsSI

from explore import cli, evaluate, new_design
from explore.bench.columns import BOILER, CONDENSER, COOL_DOWN, MOTORING, RUNNING
from explore.bench.fit import UNTOUCHED, candidates, fit
from explore.bench.log import Reckoned, Trial, read_log
from explore.bench.plant import as_built
from explore.bench.problem import Problem
from explore.bench.reckoning import fed
from explore.bench.sheet import with_stock
from explore.bench.trials import Bench
from explore.config.compose import compose_case, load_scenario
from explore.config.tasks import FitTask
from explore.errors import InputError
from explore.model import Evaluator
from explore.model.details import details, records
from explore.model.translation import plant_of
from explore.run.design_file import evaluated
from explore.run.reader import judged_case
from explore.tasks import fit as fit_task
from explore.tasks.new import starting_log
from tests.bench.synthetic_log import Count
from tests.bench.synthetic_plant import COIL, STRATIFIED, TWO, by_power, plant, synthetic_plant
from tests.documents import CLONE

LOGS = 100 if os.environ.get("EXPLORE_ALL_FITS") == "1" else 2
"""All 100 take two minutes."""
FRONT = CLONE / "results" / "example" / "front.csv"
AT = "7,3,75,40,44,90,20"
WATER = "hot_water_temperature_degC"
FULL = (
    "boiler_pressure_bar_a,condenser_pressure_bar_a,inlet_temperature_degC,flow_kg_per_h,exhaust_temperature_degC,"
    "hot_water_temperature_degC,cooling_water_temperature_degC"
)
SECOND = f"{FULL},boiler_2_pressure_bar_a,boiler_2_temperature_degC,boiler_2_water_temperature_degC"
FLOWS = "hot_water_flow_L_per_h"
TWO_AT = "8.9,3,78,40,44,90,20"


@pytest.fixture(scope="module")
def case():
    """The default case."""
    return load_scenario("orchard")


@pytest.fixture(scope="module")
def built(case):
    """An invented plant on a stratified store, one with a coil, by kind of store."""
    return {
        "stratified": plant(case, STRATIFIED)[1],
        "mixed": plant(case, COIL)[1],
        "series": plant(case, TWO)[1],
    }


def test_the_films_of_a_log_are_found_again(case):
    """Logs with noise in readings and conditions: 90 % intervals hold the films that made them."""
    count = Count()
    for seed in range(LOGS):
        log, truth, bench = synthetic_plant(case, seed)
        count.add(fit(log, bench), truth)
    assert sum(count.told.values()) >= 3 * LOGS
    assert count.told["condenser_U_two_phase"] == LOGS
    assert count.share >= (0.88 if LOGS == 100 else 0.8)


def test_a_flow_that_was_not_read_is_that_of_the_engine(case):
    """Brake and water, no flow: films are told by that of the fitted engine, with its doubt; without one they are not."""
    log, truth, bench = by_power(case, 3)
    done = fit(log, bench)
    found = {one.item.name: one for one in done.coefficients}
    for name in ("coil_U_two_phase", "condenser_U_two_phase", "ring_gap_um"):
        assert found[name].identified
        assert found[name].fitted[1] <= truth[name] <= found[name].fitted[2]
    assert done.untold == ()
    untold = []
    assert fed(log.tests[-1], None, untold).lines == ()
    assert untold[0].startswith("Of the condenser lines 2, 3, 4")


def test_water_is_as_hot_as_the_store_of_the_design(case):
    """At its rated point the model's own plant is what films and areas give: the other way round to how it was sized."""
    design = new_design(**STRATIFIED)
    outcome = evaluate(design, case)
    figures, stands = plant(case, STRATIFIED)
    told = details(Evaluator(case, case.search.properties), outcome)[0]
    state = {one["name"]: one for one in told["states"]}
    site = case.scenario.site.cooling_water_temperature_degC
    bench = Bench(stands.machine, case, stands)
    density = 1e-3 * PropsSI("D", "T", 273.15 + 90, "P", 101325, "Water")
    base = {
        "boiler_pressure_bar_a": figures["boiler_pressure_bar_a"],
        "inlet_temperature_degC": state["vapour of boiler 1"]["T_degC"],
        "feed_temperature_degC": state["feed behind the pump"]["T_degC"],
        "flow_kg_per_h": 3600 * figures["fluid_flow_kg_per_s"],
        "hot_water_temperature_degC": 0.0,
    }
    for stream in (
        {"hot_water_flow_L_per_h": 3600 * figures["hot_water_flow_kg_per_s"] / density},
        {"hot_water_outlet_temperature_degC": figures["return_temperature_degC"]},
    ):
        line = Trial(BOILER, (2,), {name: np.array([x]) for name, x in (base | stream).items()})
        assert bench.predict(case.engine, line)["hot_water_temperature_degC"][0] == pytest.approx(
            90.0, abs=0.02
        )
    cold = {
        "condenser_pressure_bar_a": figures["condenser_pressure_bar_a"],
        "exhaust_temperature_degC": state["vapour out of stage 1"]["T_degC"],
        "flow_kg_per_h": base["flow_kg_per_h"],
        "cooling_water_flow_L_per_h": 3600 * figures["cooling_water_flow_kg_per_s"] / 0.9991,
        "cooling_water_temperature_degC": 0.0,
    }
    line = Trial(CONDENSER, (2,), {name: np.array([x]) for name, x in cold.items()})
    assert bench.predict(case.engine, line)["cooling_water_temperature_degC"][0] == pytest.approx(
        site, abs=0.02
    )


@pytest.mark.parametrize("more", [{}, {"stages": 2, "cylinders_per_stage": 2}])
def test_the_engine_is_the_design_s_own(case, more):
    """Run as a machine at the rated point it swallows the design's flow and gives its shaft work, two stages as well."""
    figures, stands = plant(case, STRATIFIED | more)
    given = {
        "speed_rev_per_min": figures["speed_rev_per_min"],
        "inlet_pressure_bar_a": figures["boiler_pressure_bar_a"],
        "inlet_temperature_degC": figures["evaporating_temperature_degC"] + figures["superheat_K"],
        "outlet_pressure_bar_a": figures["condenser_pressure_bar_a"],
        "flow_kg_per_h": 0.0,
        "shaft_power_W": 0.0,
    }
    line = Trial(RUNNING, (2,), {name: np.array([x]) for name, x in given.items()})
    found = Bench(stands.machine, case, stands).predict(case.engine, line)
    flow = 3600 * figures["fluid_flow_kg_per_s"]
    assert found["flow_kg_per_h"][0] == pytest.approx(flow, rel=3e-3)
    work = 3.6 * found["shaft_power_W"][0] / found["flow_kg_per_h"][0]
    assert work == pytest.approx(figures["shaft_work_kJ_per_kg"], rel=3e-3)


def test_the_doubt_of_a_reckoned_flow_is_that_of_its_lines_together(case):
    """J C J^T by hand, J the slope of the water's temperature by the flow; a pressure read wrong moves the flow too."""
    log, _, bench = by_power(case, 1)
    test = next(one for one in log.tests if one.kind == BOILER)
    flow = np.full(12, 45.0)
    plain = replace(test, columns=test.columns | {"flow_kg_per_h": flow})
    items = [one for one in candidates(case, False, bench.films) if one.name.startswith("coil")]
    slope = (
        bench.predict(case.engine, replace(plain, columns=plain.columns | {"flow_kg_per_h": flow + 0.01}))[
            WATER
        ]
        - bench.predict(case.engine, plain)[WATER]
    ) / 0.01
    doubt = Reckoned(4.0 * np.ones((12, 12)), {})
    errors = [
        Problem("x", (replace(plain, joint=joint),), bench, items).errors.of(replace(plain, joint=joint))
        for joint in ({}, {"flow_kg_per_h": doubt})
    ]
    np.testing.assert_allclose(errors[1] - errors[0], 4.0 * np.outer(slope, slope), rtol=0.02)
    follows = Reckoned(np.zeros((12, 12)), {"boiler_pressure_bar_a": np.full(12, 5.0)})
    joint = {"flow_kg_per_h": follows}
    wider = Problem("x", (replace(plain, joint=joint),), bench, items).errors.of(replace(plain, joint=joint))
    assert (np.diag(wider) > np.diag(errors[0])).all()


def test_a_coil_by_hand(case, built):
    """At the temperature told the three zones of a coil in still water need just its area.

    Heats from CoolProp, logarithmic mean differences of Bergman et al., Fundamentals of Heat and Mass Transfer, ch. 11.
    """
    stands, p, flow, feed, superheat = built["mixed"], 6.5e5, 0.012, 303.15, 3.0
    boiling = PropsSI("T", "P", p, "Q", 0, "n-Butane")
    columns = {
        "boiler_pressure_bar_a": 6.5, "inlet_temperature_degC": boiling + superheat - 273.15, "flow_kg_per_h": 3600 * flow,
        "feed_temperature_degC": feed - 273.15, "hot_water_temperature_degC": 0.0,
    }  # fmt: skip
    line = Trial(BOILER, (2,), {name: np.array([x]) for name, x in columns.items()})
    engine = case.engine.model_copy(
        update={"coil_U_liquid": 120.0, "coil_U_two_phase": 500.0, "coil_U_vapour": 90.0}
    )
    water = (
        273.15 + Bench(stands.machine, case, stands).predict(engine, line)["hot_water_temperature_degC"][0]
    )
    h = [
        PropsSI("H", "T", feed, "P", p, "n-Butane"),
        *(PropsSI("H", "P", p, "Q", q, "n-Butane") for q in (0, 1)),
    ]
    h.append(PropsSI("H", "T", boiling + superheat, "P", p, "n-Butane"))
    ends = [water - feed, water - boiling, water - boiling - 1e-9, water - boiling - superheat]
    area = sum(
        flow * (h[i + 1] - h[i]) / (film * (ends[i] - ends[i + 1]) / np.log(ends[i] / ends[i + 1]))
        for i, film in ((0, 120.0), (2, 90.0))
    ) + flow * (h[2] - h[1]) / (500.0 * (water - boiling))
    assert area == pytest.approx(stands.areas["boiler"], rel=2e-3)


def test_films_without_their_channel_are_not_identified(case, built, tmp_path):
    """Of an exchanger whose water is not measured nothing is told; where only its flow lacks, the lines are named."""
    log, _, bench = synthetic_plant(case, 0, kinds=(CONDENSER,))
    done = fit(log, bench)
    named = {one.item.name: one for one in done.coefficients}
    assert named["condenser_U_two_phase"].identified
    for zone in ("liquid", "two_phase", "vapour"):
        assert (named[f"boiler_U_{zone}"].identified, named[f"boiler_U_{zone}"].why) == (False, UNTOUCHED)
    assert not any(name.startswith("coil") or name == "regenerator_U" for name in named)
    file = tmp_path / "log.csv"
    file.write_text(FULL + f"\n{AT}\n7,3,75,40,44,,20\n", encoding="utf-8")
    read = read_log(file, {}, 1.013, plant=built["stratified"])
    assert read.tests == ()
    assert [said.partition(":")[0] for said in read.untold] == [
        "Of the boiler line 2 says nothing",
        "Of the condenser lines 2, 3 say nothing",
    ]
    assert "hot_water_flow_L_per_h or hot_water_outlet_temperature_degC is not there" in read.untold[0]


def test_a_line_tells_each_part_what_it_has(built, tmp_path):
    """Gauges stand for each other where no throttle lies between; store and insulation are the design's."""
    file = tmp_path / "log.csv"
    file.write_text(
        "test,speed_rev_per_min,torque_Nm,cooling_water_flow_L_per_h,hot_water_flow_L_per_h,duration_h,"
        f"store_temperature_degC,room_temperature_degC,end_temperature_degC,{FULL}\n"
        ",300,9,700,300,,,,,7,3,75,40,44,90,20\n,,,700,300,,,,,7,3,75,40,44,90,20\ncool_down,,,,,12,80,15,76\n",
        encoding="utf-8",
    )
    read = {test.kind: test for test in read_log(file, {}, 1.013, plant=built["stratified"]).tests}
    assert {kind: test.lines for kind, test in read.items()} == {
        RUNNING: (2,), COOL_DOWN: (4,), BOILER: (2, 3), CONDENSER: (2, 3),
    }  # fmt: skip
    assert read[RUNNING].columns["inlet_pressure_bar_a"] == [7.0]
    assert read[RUNNING].columns["outlet_pressure_bar_a"] == [3.0]
    assert "hot_water_temperature_degC" not in read[RUNNING].columns
    assert read[COOL_DOWN].columns["store_volume_L"] == [800.0]


def test_two_gauges_of_one_pressure_may_differ_by_what_they_are_good_for(built, tmp_path):
    """0.15 bar between two of 0.1 bar is no contradiction, and one of gauges better than that."""
    file = tmp_path / "log.csv"
    file.write_text(
        f"speed_rev_per_min,torque_Nm,inlet_pressure_bar_a,{FULL}\n300,9,7.15,{AT}\n", encoding="utf-8"
    )
    read = read_log(file, {}, 1.013, plant=built["mixed"])
    assert RUNNING in {test.kind for test in read.tests}
    better = {"inlet_pressure_bar_a": 0.05, "boiler_pressure_bar_a": 0.05}
    with pytest.raises(InputError, match=r"inlet_pressure_bar_a is 7\.15 .* must not be higher"):
        read_log(file, {}, 1.013, better, built["mixed"])


@pytest.mark.parametrize(
    ("kind", "change", "text", "says"),
    [
        ("stratified", {}, FULL + f",torque_Nm\n{AT},9\n", ["line 2", "speed_rev_per_min", "running test needs"]),
        ("stratified", {}, FULL + "\n3,7,75,40,44,90,20\n", ["line 2", "condenser_pressure_bar_a is 7", "lower"]),
        ("stratified", {}, f"test,{FULL}\nboiler,7,,75,40,,90,\n", ["feed_temperature_degC or condenser_pressure"]),
        ("stratified", {}, f"test,{FULL}\ncondenser,,3,,40,44,,20\n", ["cooling_water_flow_L_per_h or", "needs it"]),
        ("stratified", {}, f"test,{FULL}\ncondenser,,3,,40,44,90,20\n", ["hot_water_temp", "nothing in a condenser"]),
        ("stratified", {}, f"inlet_pressure_bar_a,{FULL}\n8,{AT}\n", ["is 8 and boiler_pressure", "not be higher"]),
        ("stratified", {}, f"{FULL}\n{AT}\n", ["no line tells anything. Of the boiler line 2", "is not there"]),
        ("stratified", {}, f"test,cooling_water_flow_L_per_h,{FULL}\ncondenser,700,,3,,40,32.5,,20\n",
         ["no line tells anything. Of the condenser line 2", "no warmer than its dew point", "exhaust_quality would say"]),
        ("stratified", {}, "test,cooling_water_flow_L_per_h,cooling_water_outlet_temperature_degC," + f"{FULL}\n"
         "condenser,300,30,,3,,40,31.5,,12\n", ["line 2", "would be 1", "% vapour", "check flow_kg_per_h"]),
        ("stratified", {}, f"test,exhaust_quality,cooling_water_flow_L_per_h,{FULL}\ncondenser,0.9,700,,3,,40,44,,20\n",
         ["line 2", "exhaust_quality is 0.9", "44", "leave exhaust_quality empty"]),
        ("mixed", {}, "store_temperature_degC,torque_Nm\n80,9\n", ["nothing in a running test", "it is hot_water_temp"]),
        ("stratified", {}, f"boiler_2_pressure_bar_a,{FULL}\n5,{AT}\n", ["boiler_2_pressure", "has one boiler", "empty"]),
        ("mixed", {}, f"boiler_3_temperature_degC,{FULL}\n60,{AT}\n", ["boiler_3_temp", "has a coil", "empty"]),
        ("series", {}, f"boiler_3_pressure_bar_a,{FULL}\n4,{AT}\n", ["boiler_3_pressure", "has 2 boilers", "empty"]),
        ("series", {}, f"speed_rev_per_min,torque_Nm,boiler_2_temperature_degC,{FULL}\n300,9,58,{AT}\n",
         ["line 2", "boiler_2_pressure_bar_a", "2 boilers joins", "running test needs"]),
        ("series", {}, "speed_rev_per_min,torque_Nm,boiler_pressure_bar_a,condenser_pressure_bar_a,inlet_temperature_degC,"
         "boiler_2_pressure_bar_a,boiler_2_temperature_degC\n300,9,8.9,3,78,5.5,50\n", ["line 2", "is 50", "no vapour"]),
        ("series", {}, f"test,{FULL}\nboiler,8.9,3,78,40,,90,\n", ["boiler_2_pressure_bar_a: a boiler test"]),
        ("series", {}, f"{FLOWS},{SECOND}\n300,{TWO_AT},9,60,\n", ["boiler_2_pressure_bar_a is 9", "lower"]),
        ("series", {}, f"{FLOWS},{SECOND}\n300,{TWO_AT},2.5,60,\n", ["condenser_pressure_bar_a is 3", "lower"]),
        ("series", {}, f"{FLOWS},{SECOND}\n300,{TWO_AT},5.5,88,80\n", ["boiler_2_temp", "the water heats the vapour"]),
        ("series", {}, f"{FLOWS},{SECOND}\n300,{TWO_AT},5.5,60,91\n", ["boiler_2_water_temp", "is 91", "lower"]),
        ("series", {}, f"{FLOWS},{SECOND}\n300,{TWO_AT},5.5,50,\n", ["boiler_2_temperature_degC is 50", "no vapour"]),
        ("series", {}, f"{FLOWS},{SECOND}\n300,{TWO_AT},5.5,54,53.3\n", ["line 2", "is 53.3", "boils at 54", "heat it"]),
        ("series", {}, f"{FLOWS},feed_temperature_degC,{SECOND}\n300,60,{TWO_AT},5.5,60,\n", ["feed_temp", "no liquid"]),
        ("mixed", {}, f"hot_water_flow_L_per_h,{FULL}\n300,{AT}\n", ["coil in still water", "leave it empty"]),
        ("mixed", {"throttled": True}, f"speed_rev_per_min,torque_Nm,{FULL}\n300,9,{AT}\n", ["behind the throttle"]),
        ("mixed", {}, FULL + "\n7,3,60,40,44,60,20\n", ["line 2", "n-Butane boils at 63.", "fluid of this design"]),
        ("stratified", {}, f"cooling_water_flow_L_per_h,{FULL}\n700,7,3,75,40,44,90,32\n", ["condenses at 31."]),
        ("mixed", {}, f"{FULL}\n7,3,95,40,44,90,20\n", ["inlet_temperature_degC is 95", "the water heats the vapour"]),
        ("mixed", {}, f"{FULL}\n7,3,75,40,78,90,20\n", ["exhaust_temperature_degC is 78", "gets no hotter"]),
        ("mixed", {}, f"{FULL}\n7,3,75,40,18,90,20\n", ["cooling_water_temperature_degC is 20", "cools the exhaust"]),
        ("mixed", {}, f"condensate_temperature_degC,{FULL}\n18,{AT}\n", ["is 20 and condensate", "cools the condensate"]),
        ("mixed", {}, f"outlet_pressure_bar_a,{FULL}\n2.7,{AT}\n", ["is 3 and outlet_pressure", "to the condenser"]),
        ("stratified", {}, f"cooling_water_outlet_temperature_degC,{FULL}\n47,{AT}\n", ["heated by the exhaust"]),
        ("stratified", {}, f"feed_temperature_degC,hot_water_outlet_temperature_degC,{FULL}\n50,40,{AT}\n",
         ["feed_temperature_degC is 50", "the water heats the feed"]),
        ("mixed", {}, f"feed_temperature_degC,{FULL}\n70,{AT}\n", ["feed_temp", "degC at most", "no liquid", "fluid of"]),
        ("mixed", {}, f"test,{FULL}\nboiler,7,3,55,40,,90,\n", ["inlet_temp", "degC at least", "no vapour", "fluid of"]),
        ("mixed", {}, f"test,inlet_pressure_bar_a,{FULL}\nboiler,6.9,7,3,65,40,,90,\nboiler,,7,3,55,40,,90,\n",
         ["line 3", "degC at least", "no vapour"]),
        ("mixed", {}, f"test,{FULL}\nboiler,25,3,99,40,,109,\n", ["line 2: boiler_pressure_bar_a is 25", "up to 17"]),
        ("stratified", {}, f"test,cooling_water_flow_L_per_h,{FULL}\ncondenser,700,,3,,40,150,,20\n", ["150, hotter"]),
        ("mixed", {}, f"stage,speed_rev_per_min,torque_Nm,{FULL}\n2,300,9,{AT}\n", ["machine has 1"]),
    ],
)  # fmt: skip
def test_what_a_plant_cannot_have_is_refused(case, built, tmp_path, kind, change, text, says):
    """One short sentence each, with the line."""
    file, stands = tmp_path / "log.csv", replace(built[kind], **change)
    file.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as error:
        fit(read_log(file, {}, 1.013, plant=stands), Bench(stands.machine, case, stands))
    said = str(error.value)
    assert len(said.replace(str(file), "")) < 300, said
    for part in says:
        assert part in said


def test_the_plant_log_to_start_from(tmp_path):
    """Each line of it tells all parts of the sample front's plant what it should."""
    file = tmp_path / "plant.csv"
    file.write_text(starting_log("plant_log"), encoding="utf-8")
    own = with_stock(judged_case(FRONT.parent), ())
    stands = as_built(records(evaluated(FRONT, own, 142))[0], own)
    log = read_log(file, {}, 1.013, plant=stands)
    assert {test.kind: len(test.lines) for test in log.tests} == {
        RUNNING: 10, MOTORING: 4, "leak_down": 2, COOL_DOWN: 2, BOILER: 10, CONDENSER: 10,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ({"machine": "butane_engine", "design": "d.yaml"}, ["either machine=FILE.yaml", "or", "design=FILE.yaml"]),
        ({"machine": "butane_engine", "bores_mm": (50.0,)}, ["bores_mm: a machine's file says its cylinders"]),
        ({"design": "gone.yaml"}, ["gone.yaml"]),
        ({"design": "d.yaml"}, ["d.yaml: columns", "are missing", "task=new what=design"]),
        ({"design": str(FRONT)}, ["is a table", "row=N"]),
        ({"design": str(FRONT), "row": 999}, ["row=999 is out of range", "1 to"]),
        ({"design": str(FRONT), "row": 142, "bores_mm": (2.0,)}, ["physics forbids", "bores_mm=[...] names those"]),
        ({"design": str(FRONT), "row": 142, "run": "past"}, ["run=past", "is of another run"]),
        ({"design": str(FRONT), "row": 142, "tubes": True}, ["was sized with exchangers=coefficients"]),
    ],
)  # fmt: skip
def test_designs_that_no_plant_is_of(case, tmp_path, monkeypatch, keys, says):
    """One short sentence each, and nothing is written."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "d.yaml").write_text("{fluid: n-Butane, store_mode: stratified, stages: 1}", encoding="utf-8")
    if "tubes" in keys:
        case = case.model_copy(update={"exchangers": case.exchangers.model_copy(update={"method": "tubes"})})
    asked = FitTask(
        name="fit", log="mine.csv", **{name: value for name, value in keys.items() if name != "tubes"}
    )
    with pytest.raises(InputError) as error:
        fit_task.run(case, asked, "explore")
    said = str(error.value)
    assert len(said.replace(str(FRONT), "")) < 300, said
    for part in says:
        assert part in said
    assert [file.name for file in tmp_path.iterdir()] == ["d.yaml"]


def test_the_plant_is_the_one_its_run_sized(tmp_path, monkeypatch, capsys):
    """By the command: what is typed moves priors, not the plant; the overlay holds the films, which any command takes.

    The readings of the log to start from were invented with films of 490 and 380 W/(m2 K).
    """
    lines = [line for line in starting_log("plant_log").splitlines() if not line.startswith("#")]
    names = lines[0].split(",")
    gone = {
        names.index(name) for name in ("indicated_mean_pressure_bar", "shaft_power_W", "speed_rev_per_min")
    }
    cells = [["" if i in gone else cell for i, cell in enumerate(line.split(","))] for line in lines[1:11]]
    (tmp_path / "mine.csv").write_text(
        lines[0] + "\n" + "\n".join(map(",".join, cells)) + "\n", encoding="utf-8"
    )
    monkeypatch.chdir(tmp_path)
    words = ["task=fit", "log=mine.csv", f"design={FRONT}", "row=142", "output=out", "engine.ring_gap_um=20"]
    monkeypatch.setattr(sys, "argv", ["explore", *words])
    assert cli.main() == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "cylinders 100.0 x 98.9 mm, cut-off 33 %; boiler 0.95 m2, condenser 1.99 m2" in said
    held = yaml.safe_load((tmp_path / "out" / "fitted.yaml").read_text(encoding="utf-8"))
    told = json.loads((tmp_path / "out" / "fit.json").read_text(encoding="utf-8"))["coefficients"]
    for name, true in {"boiler_U_two_phase": 490.0, "condenser_U_two_phase": 380.0}.items():
        (ends,) = (one["fitted_90_percent"] for one in told if one["name"] == name)
        assert ends[0] <= true <= ends[1]
    again = plant_of(compose_case(["fitted=out/fitted.yaml"]))
    assert again.boiler_coefficients["two_phase"] == held["engine"]["boiler_U_two_phase"]
    assert again.condenser_coefficients["two_phase"] == held["engine"]["condenser_U_two_phase"]
    assert set(held["doubt"]["bands"]) <= {f"{part}_U_{zone}" for part in ("boiler", "condenser")
                                           for zone in ("liquid", "two_phase", "vapour")}  # fmt: skip
    page = (tmp_path / "out" / "fit.html").read_text(encoding="utf-8")
    for text in (said, " ".join(page.split())):
        assert "What runs on a bench is hot and under pressure" in text
        assert (
            "with the water of the boiler, feed_temperature_degC" in text
        )  # what tells a film that is not identified
    assert "boiler 0.95 m2" in page
