"""Measured machines and parts: whole rows, arithmetic that holds, and what is red is shown and binds nothing."""

from __future__ import annotations

import math
import re
import sys

import numpy as np
import pandas as pd
import pytest
from CoolProp.CoolProp import PropsSI

import explore
from explore import cli
from explore.config.compose import load_scenario
from explore.errors import InputError
from explore.model.translation import plant_of
from explore.plant import store
from explore.plant.given import Cylinder
from explore.plant.machine import run_machine
from explore.tell.checks import by_machine, checks_text
from explore.tell.narrator import LOSSES_ALIKE, LOSSES_HELD
from explore.verify import measured, run, verdict
from explore.verify.check import given
from explore.verify.reading import rows
from explore.verify.registry import all_checks

FILES = ("measured_machines", "measured_parts")
ROWS = [(file, row) for file in FILES for row in rows(file)]
VALUES = {row["id"]: float(row["value"]) for _, row in ROWS if row["value"]}
SIZES = {row["id"]: row for row in rows("measured_parts")}
MACHINES = {row["id"]: row for row in rows("measured_machines")}
NUMBERS = (
    "bore_mm", "stroke_mm", "cylinders", "displacement_cm3", "clearance", "built_in_ratio", "cutoff",
    "speed_rev_per_min", "inlet_pressure_bar_a", "inlet_temperature_degC", "outlet_pressure_bar_a", "volume_L",
    "height_mm", "diameter_mm", "insulation_mm", "rise_K", "value", "low", "high", "accuracy",
)  # fmt: skip
NEEDED = [f"M{number}" for number in range(1, 34)]


def named(given_row):
    """Id of a row in a test's name."""
    return given_row[1]["id"]


@pytest.fixture(scope="module")
def parts():
    """Results of all measured topics."""
    return run([*measured.TOPICS.values()])


@pytest.mark.parametrize("found", ROWS, ids=named)
def test_a_row_is_whole(found):
    """Source and mark stand in every row; numbers are finite and positive; a row has a value or a band."""
    row = found[1]
    assert len(row["source"]) > 15
    assert row["mark"] in ("V", "D", "M")
    assert row["quantity"]
    assert row["unit"]
    for name in NUMBERS:
        for cell in (row.get(name) or "").split():
            number = float(cell)
            assert math.isfinite(number), name
            assert number > 0.0 or name == "rise_K", name
    assert bool(row["value"]) != bool(row["low"])
    assert bool(row["low"]) == bool(row["high"])
    if row["low"]:
        assert float(row["low"]) < float(row["high"])


@pytest.mark.parametrize("found", ROWS, ids=named)
def test_what_is_assumed_is_a_figure_of_the_row(found):
    """Every column named as assumed exists, and holds a figure unless it names what no column holds."""
    file, row = found
    for name in row["assumed"].split():
        assert row.get(name) or (file == "measured_parts" and name in ("foam", "fluid")), name


@pytest.mark.parametrize("found", ROWS, ids=named)
def test_what_is_derived_rests_on_rows_seen(found):
    """A derived row names rows that exist, none of them from memory."""
    row = found[1]
    for name in row["derived_from"].split():
        assert name == "store_classes" or (MACHINES | SIZES)[name]["mark"] in ("V", "D"), name
    assert not row["derived_from"] or row["mark"] == "D"


def test_every_measured_entry_has_a_row():
    """M1 to M33 are there, ids are unique, and every row found since carries its quotation."""
    ids = [row["id"] for _, row in ROWS]
    assert len(set(ids)) == len(ids)
    heads = {re.match(r"[MF]\d+", name).group() for name in ids}
    assert set(NEEDED) <= heads
    found = [row for _, row in ROWS if row["id"].startswith("F")]
    assert len(found) >= 6
    assert all(len(row["quotation"]) > 20 for row in found)


LB_KG, IN_M, HP_W = 0.45359237, 0.0254, 745.69987


def mean_pressure_of_torque(torque, displacement_cm3):
    """Shaft mean pressure [bar] of a machine that takes one charge a revolution."""
    return 2.0 * math.pi * torque / (displacement_cm3 * 1e-6) / 1e5


def mean_pressure_of_power(watts, swept_cm3_per_rev, rev_per_min):
    """Shaft mean pressure [bar]."""
    return watts / (swept_cm3_per_rev * 1e-6 * rev_per_min / 60.0) / 1e5


def end_readings(height_m, diameter_m, room):
    """Heat loss [W/K] of M26 from its first and last reading over 5.5 h, water of 974 kg/m3 and 4.19 kJ/(kg K)."""
    mass = math.pi / 4.0 * diameter_m**2 * height_m * 974.0
    fall = (VALUES["M26a"] - VALUES["M26b"]) / 100.0
    level = (VALUES["M26a"] + VALUES["M26b"]) / 200.0
    watts = mass * 4190.0 * 27.0 * fall / (5.5 * 3600.0)
    return watts / (55.0 + 27.0 * level - room)


def of_heater(row):
    """Heat loss [W/K] of an electric heater from its loss a litre and day."""
    return VALUES[f"{row}1"] * float(SIZES[row]["volume_L"]) / 24.0 / 45.0


def foam_loss():
    """Heat loss [W/K] of shell and ends of M27 at its own sizes, foam of 0.024 W/(m K), 10 W/(m2 K) outside."""
    inner, outer, height, k, film = 0.225, 0.275, 1.932, 0.024, 10.0
    shell = math.log(outer / inner) / (2.0 * math.pi * k * height) + 1.0 / (
        film * 2.0 * math.pi * outer * height
    )
    return 1.0 / shell + 2.0 * math.pi * inner**2 / (0.05 / k + 1.0 / film)


def swept(row):
    """Swept volume a revolution [cm3] of a double-acting cylinder."""
    bore, stroke = float(row["bore_mm"]) / 10.0, float(row["stroke_mm"]) / 10.0
    return 2.0 * math.pi / 4.0 * bore**2 * stroke


ARITHMETIC = {
    "M7e": (lambda: VALUES["M7a"] / VALUES["M7c"], 0.005),
    "M7f": (lambda: VALUES["M7b"] / VALUES["M7d"], 0.005),
    "M8c": (lambda: 100.0 * VALUES["M8a"] / VALUES["M8b"], 0.05),
    "M8g": (lambda: VALUES["M8d"] * VALUES["M8e"] / 100.0 / VALUES["M8f"], 0.05),
    "M10c": (lambda: mean_pressure_of_torque(VALUES["M10a"], 100.0), 0.005),
    "M10d": (lambda: mean_pressure_of_power(VALUES["M10b"], 100.0, 1320.0), 0.005),
    "M14d": (lambda: VALUES["M14b"] / VALUES["M14a"], 0.005),
    "M14e": (lambda: VALUES["M14c"] / VALUES["M14a"], 0.005),
    "M26c": (lambda: end_readings(2.96, 1.15, 25.0), 0.05),
    "M26d": (lambda: end_readings(2.76, 0.95, 25.0), 0.05),
    "M27": (lambda: VALUES["M27a"] / 45.0, 0.005),
    "M27b": (lambda: VALUES["M27"] - foam_loss(), 0.05),
    "M28a": (lambda: of_heater("M28a"), 0.005),
    "M28b": (lambda: of_heater("M28b"), 0.005),
    "M28c": (lambda: of_heater("M28c"), 0.005),
    "M28d": (lambda: of_heater("M28d"), 0.005),
    "F5": (lambda: HP_W / 32.0, 0.5),
    "F7b": (lambda: mean_pressure_of_power(VALUES["F7a"], swept(MACHINES["F7a"]), 1000.0), 0.005),
}
HANDED_DOWN = {"M26"}


@pytest.mark.parametrize("name", ARITHMETIC)
def test_arithmetic_of_derived_rows(name):
    """A derived figure follows from the figures seen in print."""
    reckoned, tolerance = ARITHMETIC[name]
    assert reckoned() == pytest.approx(VALUES[name], abs=tolerance)


def test_no_derived_value_goes_unreckoned():
    """Every derived value is worked out again here, but the one that was handed down with readings we have not."""
    derived = {row["id"] for _, row in ROWS if row["mark"] == "D" and row["value"]}
    assert derived == set(ARITHMETIC) | HANDED_DOWN


def test_what_was_handed_down_lies_between_its_readings():
    """The loss of M26 lies between what its end readings give for either meaning of its sizes."""
    assert VALUES["M26d"] < VALUES["M26"] < VALUES["M26c"]
    assert float(SIZES["M26"]["volume_L"]) == pytest.approx(math.pi / 4 * 1.15**2 * 2.96 * 1e3, abs=1.0)
    assert float(SIZES["M26d"]["volume_L"]) == pytest.approx(math.pi / 4 * 0.95**2 * 2.76 * 1e3, abs=1.0)


@pytest.mark.parametrize("volume", [300, 500, 1000])
def test_class_lines(volume):
    """The bands of M30 are the lines of the regulation."""
    lines = {row["class"]: float(row["a"]) + float(row["b"]) * volume**0.4 for row in rows("store_classes")}
    row = SIZES[f"M30-{volume}"]
    assert float(row["low"]) == pytest.approx(lines["B"], abs=0.06)
    assert float(row["high"]) == pytest.approx(lines["C"], abs=0.06)


def test_missing_quantity_is_that_of_the_abstract():
    """The figures of M4 stand in its quotation."""
    for name in ("M4a", "M4b", "M4c", "M4d", "M4e", "M4f"):
        row = MACHINES[name]
        assert re.search(rf"\b{re.escape(row['value'])} per cent", row["quotation"])


def test_store_law_is_that_of_the_plant(monkeypatch):
    """The predicted loss moves with the plant's own law: 2.88 W/K for 300 L with 50 mm."""
    assert measured.store_loss(300.0, 50.0) == pytest.approx(2.88, abs=0.005)
    right = store.radius
    monkeypatch.setattr(store, "radius", lambda volume: 1.02 * right(volume))
    assert measured.store_loss(300.0, 50.0) > 2.9


def test_plate_is_the_certified_one():
    """The plant's curve gives the certificate's six heats to its last digit, and no heat at stagnation."""
    for rise in (0, 10, 30, 50, 70, 83):
        assert measured.plate_heat(float(rise)) == pytest.approx(VALUES[f"M31-{rise}"], abs=0.6)
    assert measured.plate_heat(140.0) == 0.0


def test_only_plain_measured_rows_count(parts):
    """Rows from memory or under assumed conditions are shown and left out of the statistics."""
    counted = measured.statistics(parts).set_index("machine")
    assert "M26" not in counted.index
    assert counted.loc["M27", "mean"] == pytest.approx(2.883 / 2.07, abs=1e-3)
    assert counted.loc["M27", "error"] == pytest.approx(counted.loc["M27", "mean"] - 1.0)
    assert counted.loc["M31", "rows"] == 6
    remembered = parts.assign(kind="measured, from memory")
    assert measured.statistics(remembered).empty
    assert "not counted" in measured.in_words(remembered)


def test_kinds_follow_the_marks():
    """M is from memory, an assumed condition is said, all else is measured."""
    assert measured.kind(MACHINES["M3"]) == "measured, from memory"
    assert measured.kind(MACHINES["M10c"]) == "measured, conditions assumed"
    assert measured.kind(MACHINES["M9"]) == "measured"


def test_a_band_is_its_middle_and_half_its_width():
    """A band from 0.34 to 0.54 is 0.44 with 0.10 allowed; a value keeps its accuracy."""
    assert measured.measured(SIZES["M24"]) == pytest.approx((0.44, 0.10))
    assert measured.measured(MACHINES["M1"]) == (0.53, 0.03)


def test_machines_take_predictions_by_id():
    """The engine's predictions come in by id; rows without one are passed over, unknown ids are refused."""
    found = list(measured.machine_checks({"M10c": given(lambda: 5.0), "M3": given(lambda: 0.7)}))
    assert [check.id for check in found] == ["measured-M3", "measured-M10c"]
    assert all(check.topic == measured.MACHINES_TOPIC and not check.binding for check in found)
    assert found[1].published == 6.28
    assert not found[1].within(5.0)
    with pytest.raises(ValueError, match="no row M99"):
        list(measured.machine_checks({"M99": given(lambda: 1.0)}))


def test_what_is_red_is_shown_and_binds_nothing(parts, monkeypatch):
    """A part outside the accuracy of its measurement is marked, named, and not called a failed check."""
    monkeypatch.setenv("COLUMNS", "200")
    assert not parts["binding"].any()
    assert not parts["within"].all()
    text = checks_text(parts)
    assert "pred/meas" in text
    (line,) = (line for line in text.splitlines() if "300 L cylinder" in line)
    assert re.search(
        r"heat loss \[W/K\] +2\.88\S+ +2\.07 +1\.39 +0\.06  <-- outside +measured \[\d+\]$", line
    )
    assert "OUTSIDE" not in text
    assert text.endswith(verdict(parts))
    assert "measured stores 1.39" in verdict(parts)
    assert re.search(r"outside the accuracy of the measurement: .*M27", verdict(parts))


def test_a_narrow_window_parts_no_row(parts, monkeypatch):
    """What has no room beside its label follows in a block below, behind the label again."""
    monkeypatch.setenv("COLUMNS", "60")
    text = checks_text(parts)
    assert max(map(len, text.split("\n\nSources")[0].splitlines())) <= 60
    assert re.search(r"foam: heat loss \[W/K\] +2\.88\S+ +2\.07 +1\.39\n", text)
    assert re.search(r"\[W/K\] +0\.06  <-- outside\n", text)


def test_each_machine_has_its_mean_error(parts):
    """The table states the mean error of each machine or part that counts, and says nothing where none does."""
    lines = by_machine(parts).splitlines()
    assert any(re.match(r"  M27   measured stores +1 +1.39 +1.39 +1.39 +39.3 %", line) for line in lines)
    assert not any(line.startswith("  M26") for line in lines)
    assert "\n".join(lines) in checks_text(parts)
    money = run(["money"])
    assert by_machine(money) == ""
    assert "mean error" not in checks_text(money)


def test_published_checks_are_counted_without_the_measured(parts):
    """'n checks' counts what was published; the measured rows follow in a sentence of their own."""
    money = run(["money"])
    both = run(["money", *measured.TOPICS.values()])
    assert verdict(both) == f"{verdict(money)}\n{verdict(parts)}"
    assert verdict(money).startswith(f"{len(money)} checks")


def test_command_does_not_fail_for_what_was_measured(monkeypatch, capsys):
    """Exit status 0 although a store on sale lies outside."""
    monkeypatch.setattr(sys, "argv", ["explore", "task=verify", "detail=measured stores"])
    assert cli.main() == 0
    assert "<-- outside" in capsys.readouterr().out


def test_topics_are_offered():
    """The topics exist by name, and one that has no row yet is refused like any other."""
    topics = {check.topic for check in all_checks()}
    assert set(measured.TOPICS.values()) <= topics
    with pytest.raises(InputError, match="prices on sale"):
        run(["measured wine"])
    assert np.isfinite([check.published for check in all_checks()]).all()


@pytest.mark.parametrize("ratio", [3.0, 4.0, 5.0, 6.0])
def test_equal_shares_of_loss_promise_more_than_was_measured(ratio):
    """What page and terminal say of the losses: M1 gave less than its constant shares promise, at any built-in ratio.

    Dumont and others, Energy 165 (2018) 1119: 195 cm3, best shaft isentropic efficiency 0.53. Five square cylinders,
    135 degC and 1500 rev/min are assumed.
    """
    side = (4.0 * 195e-6 / 5.0 / math.pi) ** (1.0 / 3.0)
    state = {"inlet_pressure": 24e5, "inlet_temperature": 408.15, "outlet_pressure": 2.5e5, "frequency": 25.0}
    losses = plant_of(load_scenario("orchard", ["engine=constant"])).machine.losses
    found = run_machine("R245fa", [Cylinder(side, side, 5, volume_ratio=ratio)], state, laws=losses)
    assert found.shaft_efficiency[0] > VALUES["M1"]
    assert "gave less than such shares promise" in LOSSES_ALIKE


def test_what_is_told_of_the_losses_is_what_the_machines_show():
    """Work of the default engine over that measured: M1 organic vapour, M5 steam (less steam is more work), M10 air."""
    found = run([measured.MACHINES_TOPIC]).set_index("check")
    ratio = found["ours"] / found["published"]
    steam = [1.0 / ratio[f"measured-{name}"] for name in ("M5b", "M5a")]
    air = [ratio[f"measured-{name}"] for name in ("M10a", "M10b")]
    told = [float(x) for x in re.findall(r"\d\.\d+", re.sub(r"\(.*?\)", "", LOSSES_HELD))]
    assert told == pytest.approx([ratio["measured-M1"], *steam, *air], abs=0.006)


OUTLETS = (2.0, 2.5, 3.0)
INLETS = [(bar, PropsSI("T", "P", bar * 1e5, "Q", 1, "R245fa") - 263.15) for bar in (18.0, 24.0, 30.0)]
"""What M1 was tested at, by its row: behind [bar], and before with 10 K of superheat [bar, degC]."""


def test_the_best_of_tests_is_held_against_the_best_of_their_range(tmp_path, monkeypatch):
    """`task=machine` gives M1's best shaft efficiency within its band: 18 to 30 bar to 2 to 3 bar, 10 K of superheat.

    Dumont and others, Energy 165 (2018) 1119: 0.53 with 0.03; ratio and speed are assumed as in the row.
    """
    row = MACHINES["M1"]
    machine, table, out = (tmp_path / name for name in ("m1.yaml", "range.csv", "found.csv"))
    machine.write_text(
        f"fluid: R245fa\ncylinders: [{{bore_mm: {row['bore_mm']}, stroke_mm: {row['stroke_mm']}, number: 5, "
        f"volume_ratio: {row['built_in_ratio']}}}]\nspeed_rev_per_min: {row['speed_rev_per_min']}\n"
    )
    lines = [f"{bar},{degC:.2f},{behind}" for bar, degC in INLETS for behind in OUTLETS]
    table.write_text("inlet_pressure_bar_a,inlet_temperature_degC,outlet_pressure_bar_a\n" + "\n".join(lines))
    words = ["task=machine", f"machine={machine}", f"conditions={table}", f"output={out}"]
    monkeypatch.setattr(sys, "argv", ["explore", *words])
    assert cli.main() == 0
    best = pd.read_csv(out)["shaft_efficiency"].max()
    assert best == pytest.approx(VALUES["M1"], abs=float(row["accuracy"]))
    assert run([measured.MACHINES_TOPIC]).set_index("check").loc["measured-M1", "ours"] == pytest.approx(
        best, abs=1e-3
    )
    assert best > shaft_efficiency([INLETS[1]], [2.5]) + 0.05, "the middle of the range is not its best"


@pytest.mark.parametrize(("turns", "ratio", "told"), [(1000, 5.0, 0.75), (3000, 3.0, 1.09)])
def test_what_is_told_spans_what_was_assumed_of_the_engine(turns, ratio, told):
    """The ends of the span that is told: M1's ratio from 2 to 5 and its speed from 1000 to 3000 rev/min are assumed."""
    best = shaft_efficiency(INLETS, OUTLETS, turns, ratio)
    assert best / VALUES["M1"] == pytest.approx(told, abs=0.006)
    assert f"{told:.2f}" in LOSSES_HELD
    if told > 1.0:
        around = [(turns, 2.0), (turns, 2.5), (turns, 4.0), (2000, ratio)]
        assert all(shaft_efficiency(INLETS, OUTLETS, *one) < best for one in around)
    else:
        around = [(turns, 2.0), (turns, 3.0), (turns, 4.0), (1500, ratio)]
        assert all(shaft_efficiency(INLETS, OUTLETS, *one) > best for one in around)


def shaft_efficiency(inlets, outlets, turns=1500, ratio=4.0):
    """Best shaft efficiency of M1 over inlets (bar, degC), each against each outlet [bar], as Python users run it."""
    row = MACHINES["M1"]
    cylinder = {"bore_mm": float(row["bore_mm"]), "stroke_mm": float(row["stroke_mm"]), "number": 5}
    pairs = [(*inlet, behind) for inlet in inlets for behind in outlets]
    names = ("inlet_pressure_bar_a", "inlet_temperature_degC", "outlet_pressure_bar_a")
    machine = {
        "fluid": "R245fa",
        "cylinders": [cylinder | {"volume_ratio": ratio}],
        "speed_rev_per_min": turns,
    }
    found = explore.run_machine(
        machine | {name: list(each) for name, each in zip(names, zip(*pairs, strict=True), strict=True)}
    )
    return float(found["shaft_efficiency"].max())


def test_machines_that_are_run_state_their_geometry():
    """Every machine with a prediction counts as measured under assumed conditions, for no row states all of them."""
    for name in measured.MACHINES:
        assert measured.kind(MACHINES[name]) != "measured"
