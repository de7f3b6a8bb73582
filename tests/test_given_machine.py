"""A given machine: from its file to figures, tables and sentences."""

from __future__ import annotations

import math
import os
import sys
import threading
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import yaml

import explore
from explore import cli
from explore.config import files
from explore.config.machine import read_machine
from explore.errors import InputError
from explore.model.given import run_given
from explore.plant import machine as plant
from explore.run.reader import read_text
from tests.engines import engine_set

ONE = {"bore_mm": 50, "stroke_mm": 50, "cut_off": 0.6}
AIR = {
    "fluid": "Air",
    "cylinders": [ONE],
    "speed_rev_per_min": 300,
    "inlet_pressure_bar_a": 6,
    "inlet_temperature_degC": 20,
    "outlet_pressure_bar_a": 1.013,
}
LOSSES = ("valves", "clearance_and_release", "leak", "walls", "friction")


@pytest.fixture(scope="module")
def case():
    """The shipped case, careful losses."""
    return explore.load_scenario("orchard")


def typed(monkeypatch, *words):
    """Status of ``explore task=machine`` with more words."""
    monkeypatch.setattr(sys, "argv", ["explore", "task=machine", *words])
    return cli.main()


def written(folder, content, name="machine.yaml"):
    """Write a machine's file and return its path."""
    path = folder / name
    path.write_text(yaml.safe_dump(content))
    return path


def test_the_figures_are_those_of_the_plant(case):
    """Units at the edge and nothing else: the same machine in SI gives the same but for rounding."""
    figures = explore.run_machine({**AIR, "speed_rev_per_min": np.array([300.0, 900.0])}, case)
    si = {
        "inlet_pressure": 6e5,
        "inlet_temperature": 293.15,
        "outlet_pressure": 1.013e5,
        "frequency": [5.0, 15.0],
    }
    ours = plant.run_machine("Air", [plant.Cylinder(0.05, 0.05, cut_off=0.6)], si)
    np.testing.assert_allclose(figures["torque_Nm"], ours.torque, rtol=1e-9)
    np.testing.assert_allclose(figures["flow_kg_per_h"], 3600.0 * ours.flow, rtol=1e-9)
    np.testing.assert_allclose(
        figures["exhaust_temperature_degC"], ours.exhaust_temperature - 273.15, rtol=1e-9
    )
    np.testing.assert_allclose(
        figures["shaft_power_W"],
        figures["torque_Nm"] * 2 * math.pi * figures["speed_rev_per_min"] / 60,
        rtol=1e-12,
    )


def test_losses_and_shaft_power_make_up_the_ideal_power(case):
    """One stage: what is lost and what is left add up; two stages: none gives more than it has."""
    one = explore.run_machine(AIR, case)
    lost = sum(one[f"stage_1_lost_to_{what}_W"] for what in LOSSES)
    np.testing.assert_allclose(lost + one["shaft_power_W"], one["ideal_power_W"], rtol=1e-9)
    large = {"bore_mm": 80, "stroke_mm": 50, "cut_off": 0.6}
    two = explore.run_machine({**AIR, "cylinders": [ONE, large]}, case)
    parts = two["stage_1_shaft_power_W"] + two["stage_2_shaft_power_W"]
    np.testing.assert_allclose(parts, two["shaft_power_W"], rtol=1e-12)
    assert two["stage_1_exhaust_pressure_bar_a"][0] == pytest.approx(two["stage_2_inlet_pressure_bar_a"][0])


def test_the_engine_set_counts(case):
    """Lapped beats careful beats home made; constants run; ideal loses nothing but by cut-off."""
    vapour = {**AIR, "fluid": "n-Butane", "inlet_temperature_degC": 70, "outlet_pressure_bar_a": 2.5}
    sets = {
        name: explore.run_machine(vapour, case.model_copy(update={"engine": engine_set(name)}))[
            "shaft_efficiency"
        ][0]
        for name in ("lapped", "careful", "home_made", "constant", "ideal")
    }
    assert sets["ideal"] > sets["lapped"] > sets["careful"] > sets["home_made"]
    assert 0.3 < sets["constant"] < sets["ideal"]


def test_a_card_lends_its_constants_and_the_file_overrides_them(case):
    """A thicker vapour leaks less; a fluid without a card says what is assumed."""
    assert run_given(AIR, case).assumed != ()
    thick = run_given({**AIR, "vapour_viscosity_Pa_s": 2.1e-5, "liquid_conductivity_W_per_mK": 0.1}, case)
    assert thick.assumed == ()
    assert thick.figures["missing_quantity"][0] < 0.9 * run_given(AIR, case).figures["missing_quantity"][0]
    vapour = {**AIR, "fluid": "R1234zeE", "inlet_temperature_degC": 70, "outlet_pressure_bar_a": 4}
    lent = {"liquid_conductivity_W_per_mK": 0.07, "vapour_viscosity_Pa_s": 2e-5}
    card = case.fluids["R1234zeE"].model_copy(update=lent)
    kept = case.model_copy(update={"fluids": {**case.fluids, "R1234zeE": card}})
    by_card, by_file = run_given(vapour, kept), run_given({**vapour, **lent}, case)
    assert by_card.assumed == ()
    pd.testing.assert_frame_equal(by_card.figures, by_file.figures)


def test_acting_and_number_count(case):
    """Two double-acting cylinders move four times the gas of one that is single acting, at the same efficiency."""
    many = explore.run_machine({**AIR, "cylinders": [{**ONE, "number": 2, "acting": "double"}]}, case)
    one = explore.run_machine(AIR, case)
    np.testing.assert_allclose(many["flow_kg_per_h"], 4.0 * one["flow_kg_per_h"], rtol=1e-6)
    np.testing.assert_allclose(many["torque_Nm"], 4.0 * one["torque_Nm"], rtol=1e-6)


def test_a_mixture_runs(case):
    """Bottled gas by its card."""
    gas = {**AIR, "fluid": "Butane-propane-70-30", "inlet_temperature_degC": 80, "outlet_pressure_bar_a": 3}
    assert 0.2 < explore.run_machine(gas, case)["shaft_efficiency"][0] < 1.0


def test_the_diagram_encloses_the_indicated_work(case):
    """The points of each condition are a closed loop of the work of one turn."""
    done = run_given({**AIR, "inlet_pressure_bar_a": [4, 6]}, case)
    for number, loop in done.diagram.groupby("condition"):
        volume, pressure = loop["volume_cm3"].to_numpy(), loop["pressure_bar_a"].to_numpy()
        area = 0.5 * np.sum(volume[1:] * pressure[:-1] - volume[:-1] * pressure[1:])
        swept = math.pi / 4 * 5.0**2 * 5.0
        mean = done.figures["stage_1_indicated_mean_pressure_bar"][number - 1]
        assert area == pytest.approx(mean * swept, rel=2e-3)
        assert (volume[0], pressure[0]) == (volume[-1], pressure[-1])


def test_conditions_from_a_table(case, tmp_path):
    """A column replaces a key that the file leaves out; each line is what it is alone."""
    table = tmp_path / "c.csv"
    pd.DataFrame({"speed_rev_per_min": [200, 400, 800], "inlet_pressure_bar_a": [4, 5, 6]}).to_csv(
        table, index=False
    )
    rest = {k: v for k, v in AIR.items() if k not in ("speed_rev_per_min", "inlet_pressure_bar_a")}
    three = explore.run_machine(written(tmp_path, rest), case, conditions=table)
    alone = explore.run_machine({**AIR, "speed_rev_per_min": 400, "inlet_pressure_bar_a": 5}, case)
    pd.testing.assert_series_equal(three.loc[1], alone.loc[0], check_names=False)


def test_the_command_prints_and_writes(monkeypatch, capsys, tmp_path):
    """The shipped example: a line a condition, each loss, cautions; both tables written, and never over others."""
    out = tmp_path / "out.csv"
    assert typed(monkeypatch, "machine=air_motor", f"output={out}") == 0
    said = " ".join(capsys.readouterr().out.split())
    for part in (
        "torque",
        "valves",
        "clearance",
        "leak",
        "walls",
        "friction",
        "licensed practitioner",
        str(out),
    ):
        assert part in said
    figures, diagram = pd.read_csv(out), pd.read_csv(tmp_path / "out-diagram.csv")
    assert len(figures) == 2
    assert set(diagram["condition"]) == {1, 2}
    assert f"{figures['torque_Nm'][0]:.2f}" in said
    before = out.read_bytes()
    assert typed(monkeypatch, "machine=air_motor", f"output={out}") == 2
    assert "is there already" in capsys.readouterr().err
    assert out.read_bytes() == before


def test_the_engine_set_is_that_of_the_command(monkeypatch, capsys):
    """``engine=ideal`` reaches the machine."""
    assert typed(monkeypatch, "machine=air_motor", "engine=ideal") == 0
    assert capsys.readouterr().out.count("1.000") >= 2


BAD = [
    ({"cylinders": [{**ONE, "bore_mm": 0}]}, "cylinders.0.bore_mm=0: it must be greater than 0"),
    ({"cylinders": [{**ONE, "acting": "triple"}]}, "'single' or 'double'"),
    ({"cylinders": [{**ONE, "volume_ratio": 3}]}, "either cut_off or volume_ratio"),
    ({"cylinders": [{**ONE, "bore": 3}]}, "unknown key cylinders.0.bore; did you mean cylinders.0.bore_mm?"),
    ({"cylinders": []}, "give 1 to 6 stages"),
    ({"cylinders": 3}, "it must be a list"),
    (
        {"cylinders": [{"bore_mm": 50, "stroke_mm": 50, "volume_ratio": 6}], "clearance_fraction": 0.2},
        "a clearance of 0.2 leaves no cut-off at volume ratio 6",
    ),
    ({"clearance_fraction": 0.6}, "clearance_fraction=0.6: it must be less than 0.5"),
    ({"fluid": "Airr"}, "did you mean Air?"),
    ({"fluid": "Water"}, "Water is liquid, 20.00 degC at 6 bar where it boils at 158.83 degC"),
    ({"fluid": "R245fa", "inlet_pressure_bar_a": 50}, "near or above the critical point"),
    ({"fluid": "R245fa", "inlet_temperature_degC": 1400}, "no state of R245fa"),
    ({"speed_rev_per_min": [1, 2], "inlet_pressure_bar_a": [5, 6, 7]}, "must be of one length"),
    ({"speed_rev_per_min": []}, "is an empty list"),
    ({"speed_rev_per_min": "fast"}, "must be a number"),
    ({"speed_rev_per_min": [5, True]}, "is no value here"),
    ({"speed_rev_per_min": -1}, "greater than 0"),
    ({"speed_rev_per_min": float("nan")}, "finite number"),
    ({"speed_rev_per_min": [300.0] * 5001}, "more than 5000 conditions"),
    ({"pressure": 3}, "unknown key pressure"),
    ({"inlet_quality": 0.9}, "one of the two"),
    ({"outlet_pressure_bar_a": 7}, "not below its inlet pressure"),
    ({"fluid": None}, "fluid"),
]


@pytest.mark.parametrize(("changed", "words"), BAD, ids=[words for _, words in BAD])
def test_bad_machines(case, tmp_path, changed, words):
    """One sentence that names the file."""
    path = written(tmp_path, {**AIR, **changed})
    with pytest.raises(InputError) as refused:
        run_given(path, case)
    sentence = str(refused.value)
    assert sentence.startswith(f"{path}: ")
    assert words in sentence
    assert "\n" not in sentence


@pytest.mark.parametrize(("changed", "words"), [BAD[0], BAD[11]], ids=["file", "fluid"])
def test_a_bad_machine_ends_the_command(monkeypatch, capfd, tmp_path, changed, words):
    """One sentence that names the file, status 2, nothing written."""
    path = written(tmp_path, {**AIR, **changed})
    assert typed(monkeypatch, f"machine={path}", f"output={tmp_path / 'out.csv'}") == 2
    out, err = capfd.readouterr()
    assert out == ""
    assert err.startswith(f"explore: {path}: ")
    assert words in err
    assert err.count("\n") == 1
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "needs machine=FILE.yaml"),
        (["machine=nosuch"], "a shipped machine is expected (air_motor, butane_engine)"),
        (["machine=nosuch.yaml"], "cannot read nosuch.yaml: No such file"),
        (["machine=air_motor", "output=out.txt"], "ending in .csv"),
        (["machine=air_motor", "output=no/out.csv"], "there is no folder no"),
        (["machine=air_motor", "conditions=no.csv"], "cannot read it: No such file"),
        (["conditions=no.csv", "design=x"], "design: task=machine does not use it"),
    ],
)
def test_bad_words(monkeypatch, capfd, tmp_path, words, says):
    """What is typed wrong, in a folder that stays empty."""
    monkeypatch.chdir(tmp_path)
    assert typed(monkeypatch, *words) == 2
    out, err = capfd.readouterr()
    assert (out, list(tmp_path.iterdir())) == ("", [])
    assert says in err
    assert err.count("\n") == 1


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("speed\n3\n", "unknown column speed"),
        ("speed_rev_per_min\nfast\n", "speed_rev_per_min of line 1 is no number"),
        (f"speed_rev_per_min\n{'9' * 401}\n", "speed_rev_per_min of line 1 is no number"),
        ("speed_rev_per_min\n", "one or more lines of numbers"),
        ("", "cannot read it"),
        ("speed_rev_per_min\n300,5\n", "the first line has 2 cells, the line of names 1; write 1.5, not 1,5"),
        ("inlet_pressure_bar_a\n5\n", "inlet_pressure_bar_a stands in machine too"),
    ],
)
def test_bad_tables(tmp_path, text, says):
    """A table of conditions that is none."""
    path = tmp_path / "c.csv"
    path.write_text(text)
    rest = {k: v for k, v in AIR.items() if k != "speed_rev_per_min"}
    with pytest.raises(InputError) as said:
        read_machine(rest, path)
    assert says in str(said.value)
    assert "\n" not in str(said.value)


def test_a_table_in_another_encoding(tmp_path):
    """Bytes that are no UTF-8 are told as such, not in a codec's words."""
    path = tmp_path / "c.csv"
    path.write_bytes("speed_rev_per_min,größe\n300,1\n".encode("latin-1"))
    with pytest.raises(InputError, match=r"conditions=.*c\.csv: cannot read it: it is no text in UTF-8$"):
        read_machine({k: v for k, v in AIR.items() if k != "speed_rev_per_min"}, path)


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="this system has no file without end")
def test_a_table_without_end(monkeypatch):
    """A device, whose size nobody can ask for, is read no further than a table may be long."""
    monkeypatch.setattr(files, "MOST_TABLE", 1000)
    with pytest.raises(InputError, match="conditions=/dev/zero: larger than"):
        read_machine(AIR, "/dev/zero")
    with pytest.raises(InputError, match=r"larger than 500 kB"):
        read_text(Path("/dev/zero"))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_table_may_come_through_a_pipe(tmp_path):
    """As from ``conditions=<(...)``: what is read of a pipe is gone, so it is read once."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    writer = threading.Thread(target=pipe.write_text, args=("speed_rev_per_min\n300\n450\n",))
    writer.start()
    given = read_machine({k: v for k, v in AIR.items() if k != "speed_rev_per_min"}, pipe)
    writer.join()
    assert given.speed_rev_per_min == (300.0, 450.0)


def test_a_file_is_data(tmp_path):
    """Tags, anchors and interpolation are refused; a list or a number is no machine."""
    for text in (
        "fluid: !!python/name:os.system x",
        "fluid: &a Air\nx: *a",
        "fluid: ${oc.env:HOME}",
        "[1]",
        "3",
    ):
        path = tmp_path / "m.yaml"
        path.write_text(text)
        with pytest.raises(InputError):
            read_machine(path)
    for thing in (3, None, [1]):
        with pytest.raises(InputError, match="mapping is expected"):
            read_machine(thing)
