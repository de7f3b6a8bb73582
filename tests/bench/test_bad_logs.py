"""Bad logs, overlays and keys of task=fit: one sentence each, with line and column, and nothing is written."""

from __future__ import annotations

import sys
from dataclasses import replace

import pytest

from explore import cli
from explore.bench.columns import COLUMNS
from explore.bench.log import read_log
from explore.config.compose import compose_case
from explore.errors import InputError
from explore.tasks.new import starting_log
from explore.tell.fit.words import gauges

RUN = "speed_rev_per_min,inlet_pressure_bar_a,outlet_pressure_bar_a,inlet_temperature_degC,shaft_power_W\n"
LEAK = (
    "test,inlet_pressure_bar_a,outlet_pressure_bar_a,inlet_temperature_degC,held_volume_L,duration_s,"
    "end_pressure_bar_a\n"
)
COOL = "test,store_temperature_degC,room_temperature_degC,duration_h,store_volume_L,insulation_mm,end_temperature_degC\n"
LOGS = [
    ("", ["a line of names"]),
    ("# only a comment\n", ["a line of names"]),
    (RUN, ["one or more lines of readings"]),
    (RUN + "\n\n# none\n", ["one or more lines of readings"]),
    (RUN.replace(",", ";") + "300;7;3;70;150\n", ["parted by commas"]),
    (RUN + "300,7,3,70,1,5\n", ["line 2", "6 cells", "write 1.5, not 1,5"]),
    (RUN + "300,7,3,70,much\n", ["line 2, column shaft_power_W", "'much' is no number"]),
    (RUN + "300,7,3,70,nan\n", ["line 2, column shaft_power_W", "is no number"]),
    (RUN + "300,7,3,70,\"150,5\"\n", ["line 2, column shaft_power_W", "write 150.5"]),
    (RUN + "300,7,3,70,inf\n", ["is no number"]),
    (RUN + "300,7,3,70,-150\n", ["column shaft_power_W", "-150 cannot be"]),
    (RUN + "300,700,3,70,150\n", ["column inlet_pressure_bar_a", "from 0.01 to 200", "another unit"]),
    (RUN + "300,7,3,343,150\n300,7,3,616,150\n", ["line 3, column inlet_temperature_degC", "616"]),
    (RUN + "0,7,3,70,150\n", ["column speed_rev_per_min", "0 cannot be"]),
    (RUN + "300,3,7,70,150\n", ["line 2", "outlet_pressure_bar_a is 7", "lower"]),
    (RUN + "300,7,,70,150\n", ["line 2, column outlet_pressure_bar_a", "a running test needs it"]),
    (RUN + "300,7,3,70,\n", ["line 2", "nothing is measured"]),
    (RUN + "300,7,3,70,1_50\n", ["line 2, column shaft_power_W", "is no number"]),
    (RUN + "300,7,3,\uff17\uff10,150\n", ["line 2, column inlet_temperature_degC", "is no number"]),
    ("exhaust_temperature_degC," + RUN + "80,300,7,3,70,150\n", ["exhaust_temperature_degC is 80", "gets no hotter"]),
    (RUN + "300,7,3,,150\n", ["either inlet_temperature_degC or inlet_quality"]),
    (RUN.replace("shaft_power_W", "shaft_power_kW") + "300,7,3,70,1\n", ["shaft_power_kW", "did you mean shaft_power_W"]),
    (RUN.replace("inlet_pressure_bar_a", "inlet_pressure_psi") + "3,7,3,70,1\n", ["line 1", "inlet_pressure_psi is not"]),
    (RUN.replace("shaft_power_W", "") + "300,7,3,70,1\n", ["number 5, which has no name"]),
    (RUN.replace("shaft_power_W", "=cmd|x") + "300,7,3,70,1\n", ["=cmd|x is not known"]),
    (RUN.replace("outlet_pressure_bar_a", "inlet_pressure_bar_g") + "3,7,6,70,1\n", ["inlet_pressure_bar_a stands there"]),
    ("test," + RUN + "runing,300,7,3,70,150\n", ["column test", "did you mean running"]),
    ("test," + RUN + "motoring,300,7,,,\n", ["inlet_pressure_bar_a", "says nothing in a motoring test"]),
    ("test," + RUN + "motoring,300,,,,\n", ["nothing is measured in this motoring test; give torque_Nm"]),
    ("stage," + RUN + "1.5,300,7,3,70,150\n", ["column stage", "no whole number"]),
    ("stage," + RUN + "2,300,7,3,70,150\n", ["line 2, column stage: 2, and the machine has 1"]),
    ("indicated_power_W," + RUN + "100,300,7,3,70,150\n", ["shaft gives more than is indicated"]),
    ("torque_Nm," + RUN + ",300,7,3,70,150\n4.8,300,7,3,70,150\n", ["line 3", "shaft_power_W and torque_Nm", "one of"]),
    ("indicated_power_W,indicated_mean_pressure_bar," + RUN + "150,1.6,300,7,3,70,\n",
     ["line 2", "indicated_power_W and indicated_mean_pressure_bar", "one of the two"]),
    (RUN + "300,7,3,40,150\n", ["line 2", "liquid", "inlet_quality"]),
    (RUN + "300,7,3,70,150\n300,39,3,150,150\n", ["line 3", "critical point"]),
    (RUN + '300,7,3,70,"150\n', ["line 2 is no line of a CSV table"]),
    (LEAK + "leak_down,6,1,20,2,10,7\n", ["end_pressure_bar_a is 7", "lower"]),
    (LEAK + "leak_down,6,1,20,,10,3\n", ["column held_volume_L", "a leak_down test needs it"]),
    (COOL + "cool_down,80,15,12,500,100,82\n", ["end_temperature_degC is 82"]),
    (COOL + "cool_down,80,90,12,500,100,75\n", ["room_temperature_degC", "from -40 to 60"]),
    ("hot_water_temperature_degC," + RUN + "80,300,7,3,70,150\n", ["column hot_water_temp", "design=FILE", "machine="]),
    ("test,condenser_pressure_bar_a\ncondenser,3\n", ["condenser_pressure_bar_a", "give design=FILE"]),
    (COOL + "cool_down,353,15,12,500,100,75\n", ["store_temperature_degC", "353 cannot be"]),
]  # fmt: skip


def command(words, monkeypatch, capsys):
    """Type a command; return its status and what it said."""
    monkeypatch.setattr(sys, "argv", ["explore", *map(str, words)])
    status = cli.main()
    return status, capsys.readouterr().err


def refused(words, says, monkeypatch, capsys, folder):
    """Hold that a command is refused in one short sentence that holds some words, and leaves nothing."""
    before = sorted(folder.iterdir())
    status, said = command(words, monkeypatch, capsys)
    assert status == 2, said
    assert said.count("\n") == 1
    assert len(said.replace(str(folder), "")) < 300, said
    for part in says:
        assert part in said
    assert sorted(folder.iterdir()) == before


@pytest.mark.parametrize(("text", "says"), LOGS, ids=range(len(LOGS)))
def test_bad_logs(text, says, tmp_path, monkeypatch, capsys):
    """As the command line refuses them."""
    file = tmp_path / "log.csv"
    file.write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    machine = tmp_path / "m.yaml"
    machine.write_text(
        "{fluid: n-Butane, cylinders: [{bore_mm: 63, stroke_mm: 60, cut_off: 0.35}], speed_rev_per_min: [300, 400], "
        "inlet_pressure_bar_a: [7, 8], outlet_pressure_bar_a: [3, 3.1], inlet_temperature_degC: [70, 80]}"
    )
    refused(["task=fit", f"log={file}", f"machine={machine}"], says, monkeypatch, capsys, tmp_path)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], ["needs log=FILE.csv and either machine=FILE.yaml"]),
        (["log=mine.csv"], ["needs log=FILE.csv and either machine=FILE.yaml"]),
        (["log=mine.txt", "machine=butane_engine"], ["ending in .csv", "task=new what=log"]),
        (["log=gone.csv", "machine=butane_engine"], ["cannot read it: No such file"]),
        (["log=bytes.csv", "machine=butane_engine"], ["no text in UTF-8"]),
        (["log=.", "machine=butane_engine"], ["ending in .csv"]),
        (["log=mine.csv", "machine=butan_engine"], ["butane_engine"]),
        (["log=mine.csv", "machine=butane_engine", "accuracy={torque: 0.1}"], ["no column torque", "torque_Nm"]),
        (["log=mine.csv", "machine=butane_engine", "accuracy={torque_Nm: 0}"], ["torque_Nm", "positive"]),
        (["log=mine.csv", "machine=butane_engine", "accuracy={torque_Nm: much}"], ["torque_Nm"]),
        (["log=mine.csv", "machine=butane_engine", "accuracy={torque_Nm: 1e300}"], ["torque_Nm is 1e+300", "can read"]),
        (["log=mine.csv", "machine=butane_engine", "output=there"], ["it is there already"]),
        (["log=mine.csv", "machine=butane_engine", "output=no/fit"], ["there is no folder no"]),
        (["log=mine.csv", "machine=butane_engine", "run=there"], ["no run to fit there"]),
        (["log=mine.csv", "machine=butane_engine", "engine=constant"], ["constant has no laws"]),
        (["log=mine.csv", "machine=butane_engine", "row=1"], ["row: a machine's file says"]),
        (["log=mine.csv", "machine=butane_engine", "design=d.yaml"], ["either machine=FILE.yaml", "or design=FILE.yaml"]),
        (["log=mine.csv", "design=d.yaml", "fitted=f.yaml"], ["size the plant of design= anew", "front.csv row=N"]),
    ],
)  # fmt: skip
def test_bad_keys(words, says, tmp_path, monkeypatch, capsys):
    """Of the task itself."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "mine.csv").write_text(starting_log(), encoding="utf-8")
    (tmp_path / "bytes.csv").write_bytes(b"\xff\xfe\x00a")
    (tmp_path / "there").mkdir()
    refused(["task=fit", *words], says, monkeypatch, capsys, tmp_path)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", ["lines of `key: value`"]),
        ("costs: {store_EUR_per_L065: 1}", ["costs is not known"]),
        ("engine: 3", ["engine: lines of"]),
        ("engine: {ring_gap: 3}", ["no ring_gap", "ring_gap_um"]),
        ("engine: {ring_gap_um: wide-open}", ["engine.ring_gap_um is 'wide-open'; a number"]),
        ("engine: {ring_gap_um: [1, 2]}", ["a number is expected"]),
        ("engine: {ring_gap_um: .nan}", ["a number is expected"]),
        (f"engine: {{ring_gap_um: {'9' * 401}}}", ["ring_gap_um is '999", "a number is expected"]),
        ("engine: {ring_gap_um: -3}", ["engine.ring_gap_um"]),
        ("engine: {ring_gap_um: '${oc.env:HOME}'}", ["interpolation"]),
        ("engine: !!python/name:os.system x", ["tag"]),
        (
            "exchangers: {roughness_um: 3}",
            ["exchangers.roughness_um is nothing that a bench tells", "tube_films_factor"],
        ),
        ("exchangers: {tube_films_facto: 1}", ["did you mean tube_films_factor?"]),
        (
            "exchangers: {tube_films_factor: 1.1}",
            ["does not count with exchangers.method=coefficients", "tubes as well"],
        ),
        ("exchangers: {method: tubes, tube_films_factor: much}", ["exchangers.tube_films_factor"]),
        (
            "exchangers: {method: tubes, tube_films_factor: -1}",
            ["exchangers.tube_films_factor", "greater than 0"],
        ),
        (
            "exchangers: {method: tubes, tube_films_factor: [1]}",
            ["exchangers.tube_films_factor is '[1]'", "a number is expected"],
        ),
        ("exchangers: 3", ["exchangers: lines of"]),
        ("doubt: {seed: 3}", ["doubt.seed is not known"]),
        ("doubt: {bands: {ring_gap_um: 3}}", ["two numbers, [low, high]"]),
        ("doubt: {bands: {ring_gap_um: [14, 11]}}", ["crossed or empty"]),
        ("doubt: {bands: {ring_gap_um: [a, 11]}}", ["a number is expected"]),
        ("doubt: {bands: {stroke_over_bore: [1, 2]}}", ["no assumption of this name"]),
    ],
)
def test_bad_overlays(text, says, tmp_path):
    """A file that someone else wrote is data: what is no coefficient is refused."""
    file = tmp_path / "fitted.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as error:
        compose_case([f"fitted={file}"])
    said = str(error.value)
    assert len(said.replace(str(file), "")) < 300
    for part in says:
        assert part in said


def test_an_overlay_is_one_file(tmp_path):
    """A name without ending, or several, are refused; one that is not there is named."""
    for name, says in (
        ("lapped", "fitted.yaml that task=fit wrote"),
        (str(tmp_path / "gone.yaml"), "cannot read"),
    ):
        with pytest.raises(InputError, match=says):
            compose_case([f"fitted={name}"])


def test_a_good_log_is_read(tmp_path):
    """Comments, a byte-order mark, gauges, short lines, words in time and note; conditions that the machine's file has."""
    file = tmp_path / "log.csv"
    file.write_text(
        "\ufeff# invented\n"
        "time,inlet_pressure_bar_g,outlet_pressure_bar_a,torque_Nm,note\n"
        '10:15,6,3,4.5,"a, b"\n\n10:30,6.5,3,4.9,"a\u2028b\x0c"\n',
        encoding="utf-8",
    )
    log = read_log(
        file, {"speed_rev_per_min": 300.0, "inlet_temperature_degC": 70.0}, 0.95, {"torque_Nm": 0.3}
    )
    (test,) = log.tests
    assert test.lines == (3, 5)
    assert "0.950 bar of air were added" in gauges(log)[0]
    assert gauges(replace(log, air_bar=None)) == []
    assert test.columns["inlet_pressure_bar_a"].tolist() == [6.95, 7.45]
    assert test.columns["speed_rev_per_min"].tolist() == [300.0, 300.0]
    assert test.accuracy["torque_Nm"] == 0.3
    assert test.accuracy["speed_rev_per_min"] == pytest.approx(1.5)


def test_the_starting_log_tells_of_every_column():
    """Its comments or those of a plant's name each column and test, in one of the forms in which it can be typed."""
    told = starting_log() + starting_log("plant_log")
    for name in COLUMNS:
        assert name.removesuffix("_bar_a") in told, name
