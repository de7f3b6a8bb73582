"""A run's folder is data, whoever sent it: nothing in it is run, resolved, followed or obeyed."""

from __future__ import annotations

import json
import os
import shutil
import sys
import time
from pathlib import Path

import pytest
import yaml

from explore import cli, load_scenario
from explore.errors import InputError

EXAMPLE = Path(__file__).parents[2] / "results" / "example"
TASKS = ("inspect", "day", "build", "report", "compare", "reprice", "resume")


@pytest.fixture
def run(tmp_path, monkeypatch):
    """A copy of the example run in the folder one stands in."""
    monkeypatch.chdir(tmp_path)
    folder = tmp_path / "run"
    shutil.copytree(EXAMPLE, folder)
    shutil.copy(folder / "front.csv", folder / "designs.csv")
    (folder / "campaign.journal").write_text("")
    return folder


def words(task):
    """What is typed for a task on the folder ``run``."""
    return {
        "inspect": ["task=inspect", "design=run/front.csv", "row=1"],
        "day": ["task=day", "design=run/front.csv", "row=1", "date=07-15", "output=told"],
        "build": ["task=build", "design=run/front.csv", "row=1", "output=told"],
        "report": ["task=report", "run=run"],
        "compare": ["task=compare", "runs=[run,run]"],
        "reprice": ["task=reprice", "run=run"],
        "resume": ["resume=run"],
    }[task]


@pytest.fixture
def refused(monkeypatch, capsys, tmp_path):
    """Run a task on the hostile folder: one sentence, status 2, within 5 s of processor, and nothing left behind."""

    def check(task, said):
        before = sorted(tmp_path.rglob("*"))
        monkeypatch.setattr(sys, "argv", ["explore", *words(task)])
        started = time.process_time()
        status = cli.main()
        took = time.process_time() - started
        _, err = capsys.readouterr()
        assert status == 2, err
        assert err.startswith("explore: ")
        assert err.count("\n") == 1
        assert said in err
        assert len(err) < 300 + len(str(tmp_path))
        assert took < 5.0
        assert sorted(tmp_path.rglob("*")) == before

    return check


def edit(run, text):
    """Put lines before the configuration of a run."""
    path = run / "config.yaml"
    path.write_text(text + path.read_text())


def change(run, **groups):
    """Change values of a run's configuration."""
    path = run / "config.yaml"
    content = yaml.safe_load(path.read_text())
    for group, values in groups.items():
        content[group] |= values
    path.write_text(yaml.safe_dump(content))


BOMB = "a: &a [x,x,x,x,x,x,x,x,x]\nb: &b [*a,*a,*a,*a,*a,*a,*a,*a,*a]\nc: [*b,*b,*b,*b,*b,*b,*b,*b,*b]\n"
HOSTILE = {
    "callback": ("hydra: {callbacks: {x: {_target_: os.mkdir, path: stranger}}}\n", "no key 'hydra'"),
    "output folder": ("hydra: {run: {dir: elsewhere}}\n", "no key 'hydra'"),
    "defaults": ("defaults: [x]\n", "no key 'defaults'"),
    "environment": ("note: ${oc.env:HOME}\n", "interpolation"),
    "tag": ("note: !!python/object/apply:os.mkdir [stranger]\n", "tag"),
    "bomb": (BOMB, "alias"),
    "nesting": ("note: " + "[" * 2000 + "]" * 2000 + "\n", "nest"),
}


@pytest.mark.parametrize("task", TASKS)
@pytest.mark.parametrize("name", HOSTILE)
def test_a_strangers_configuration_is_refused(run, refused, task, name):
    """What is no plain data in config.yaml is refused before anything of it acts."""
    text, said = HOSTILE[name]
    edit(run, text)
    refused(task, said)


@pytest.mark.parametrize("task", TASKS)
@pytest.mark.parametrize("name", ["run.log", "campaign.journal", "sheets.json"])
def test_a_link_out_of_the_folder_is_refused(run, refused, task, name, tmp_path):
    """No file is read or written through a link out of the folder."""
    target = tmp_path / "precious"
    target.write_text("mine")
    (run / name).unlink(missing_ok=True)
    (run / name).symlink_to(target)
    refused(task, "link out of the run's folder")
    assert target.read_text() == "mine"


def test_a_pipe_in_the_folder_is_refused(run, refused):
    """Reading a named pipe would wait for ever."""
    os.mkfifo(run / "sheets.json")
    refused("report", "neither a file nor a folder")


def test_a_database_named_by_a_folder_is_asked_for_again(run, refused):
    """A stranger's database would be sent one's password."""
    change(run, search={"storage": "postgresql://someone@127.0.0.1:1/x"})
    refused("resume", "search.storage")


def test_the_results_folder_is_the_commands(run, monkeypatch, tmp_path):
    """A past run says what was judged, not where to write."""
    path = run / "config.yaml"
    path.write_text(path.read_text().replace("results_folder: ", "results_folder: /elsewhere # "))
    from explore.run.reader import borrowed, read_case

    assert read_case(run).results_folder == "/elsewhere"
    assert borrowed(read_case(run))["results_folder"] == "results"


@pytest.mark.parametrize("task", ["report", "compare"])
@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("summary.json", "[1]", "mapping"),
        ("summary.json", json.dumps({"format": 99}), "format"),
        ("summary.json", json.dumps({"designs_evaluated": "many"}), "designs_evaluated"),
        ("sheets.json", json.dumps({"designs": [1]}), "designs"),
        ("sheets.json", "[" * 100_000, "nested too deep"),
        ("checks.json", "{}", "list of checks"),
    ],
)
def test_files_of_another_shape_are_refused(run, refused, task, name, content, said):
    """Each file has a model; the complaint names the file and the key."""
    (run / name).write_text(content)
    refused(task, said)


@pytest.mark.parametrize("cell", ["1e999", "-inf", "Infinity"])
@pytest.mark.parametrize("task", ["report", "compare"])
def test_a_number_without_end_is_refused(run, refused, task, cell):
    """A table's line is named; words of a sentence cannot be made of it."""
    lines = (run / "front.csv").read_text().split("\n")
    lines[4] = ",".join([*lines[4].split(",")[:-1], cell])
    (run / "front.csv").write_text("\n".join(lines))
    refused(task, f"front.csv line 5 has {cell} in a cell")


@pytest.mark.parametrize("name", ["cost_EUR", "store_volume_L"])
@pytest.mark.parametrize("task", ["report", "compare"])
def test_a_word_for_a_number_is_refused(run, refused, task, name):
    """Its line and column are named; a design without a cost is neither cheap nor dear."""
    lines = (run / "front.csv").read_text().split("\n")
    place = lines[0].split(",").index(name)
    lines[4] = ",".join("cheap" if k == place else cell for k, cell in enumerate(lines[4].split(",")))
    (run / "front.csv").write_text("\n".join(lines))
    refused(task, f"front.csv line 5 has 'cheap' as {name}; a number is expected")


def test_a_fluid_that_nobody_knows_is_told(run, monkeypatch, capsys):
    """The page is made of what the tables say, and why its cautions are not worked out is said in a sentence."""
    (run / "told.json").unlink(missing_ok=True)
    lines = (run / "front.csv").read_text().split("\n")
    fluid = lines[0].split(",").index("fluid")
    lines[3] = ",".join("A<b>" if place == fluid else cell for place, cell in enumerate(lines[3].split(",")))
    (run / "front.csv").write_text("\n".join(lines))
    monkeypatch.setattr(sys, "argv", ["explore", *words("report")])
    assert cli.main() == 0
    said = " ".join("".join(capsys.readouterr()).split())
    assert "fluid in row 3 is 'A<b>'" in said
    assert "A<b>" not in (run / "report.html").read_text()


CHANCE = {"probability": 0.5, "standard_error": 0.1}
KINDS = {"nominal": "Water", "best": [{"best": "Water", **CHANCE}]}
UNDER = {"figure": "work_per_litre_kJ", "fluid": KINDS, "store_mode": KINDS, "stages": KINDS, "corners": []}
DOUBT = {
    "worlds": 8, "designs_tried": 2, "designs": [], "steady": [], "measure_first": [],
    "ceilings": [{"ceiling_bar_g": 6.0, **UNDER}],
}  # fmt: skip
READ = {
    "reading": "likely", "worlds": 4, "needed": 2, "beside": "", "front_designs": 0, "front_kept": 0, "promises": [],
}  # fmt: skip
BOUGHT = {
    "row": 1, "role": "least cost", "fluid": "Water", "not_rated": "",
    "gives_power": {"best": "x", **CHANCE}, "serves": {"best": "x", **CHANCE}, "both": {"best": "x", **CHANCE},
}  # fmt: skip
SHAPES = [
    ("summary.json", {"hypervolume_history": [[1]]}, "hypervolume_history.0"),
    ("summary.json", {"hypervolume_history": [[1024, "x"]]}, "hypervolume_history.0.1"),
    ("summary.json", {"picks": [{"row": "first"}]}, "picks.0.row"),
    ("summary.json", {"picks": [{"row": 1, "cautions": 3}]}, "picks.0.cautions"),
    ("summary.json", {"seconds": "long"}, "seconds"),
    ("summary.json", {"air_pressure_bar_a": -1.0}, "air_pressure_bar_a"),
    ("summary.json", {"lost_to": {"violation_room_m3": -4}}, "lost_to.violation_room_m3"),
    ("summary.json", {"refinement": {"gains": ["much"]}}, "refinement.gains.0"),
    ("summary.json", {"fluids_left_out": {"Water": ["a", "b"]}}, "fluids_left_out.Water"),
    ("summary.json", {"against": {"reading": "bold", "worlds": 4, "needed": 4}}, "against.reading"),
    (
        "summary.json",
        {"against": {**READ, "promises": [{"figure": "cost_EUR"}]}},
        "against.promises.0.nominal",
    ),
    (
        "summary.json",
        {"against": {name: one for name, one in READ.items() if name != "beside"}},
        "against.beside",
    ),
    ("doubt.json", {"weather": {"years": 2}}, "weather.resampled"),
    (
        "doubt.json",
        {"as_bought": {"worlds": 8, "served_share_min": 0.8, "designs": [BOUGHT]}},
        "as_bought.designs.0",
    ),
    (
        "doubt.json",
        {"as_bought": {"worlds": 8, "served_share_min": 0.8, "designs": [{**BOUGHT, "settled": 1.0}]}},
        "needs power_asked_W",
    ),
    ("doubt.json", {"weather": {"years": -1}}, "weather.years"),
    ("doubt.json", {"worlds": 0}, "worlds"),
    ("doubt.json", {"ceilings": []}, "ceilings"),
    ("doubt.json", {"ceilings": [{"ceiling_bar_g": "six", **UNDER}]}, "ceilings.0.ceiling_bar_g"),
    (
        "doubt.json",
        {"ceilings": [{"ceiling_bar_g": 6.0, **UNDER, "fluid": {"nominal": "x", "best": []}}]},
        "fluid.best",
    ),
    ("doubt.json", {"measure_first": [{"topic": "films"}]}, "measure_first.0.first"),
    ("doubt.json", {"designs": [{"row": -1}]}, "designs.0.row"),
    ("sheets.json", {"designs": {"1": {"states": [{"T_degC": "hot"}]}}}, "states.0.T_degC"),
    ("sheets.json", {"designs": {"1": {"served": [[0.5] * 25]}}}, "served.0"),
    ("sheets.json", {"designs": {"1": {"hazards": {"walls": ["thick"]}}}}, "hazards.walls.0"),
    (
        "sheets.json",
        {"designs": {"1": {"exergy": {"accounts": [{"destroyed_kJ_per_kg": 1.0}]}}}},
        "component",
    ),
    ("sheets.json", {"domes": {"Water": {"T_degC": 5}}}, "domes.Water.T_degC"),
    ("checks.json", [{"published": "one", "ours": 1.0}], "0.published"),
    ("checks.json", [{"topic": ["a"]}], "0.topic"),
]


@pytest.mark.parametrize(("name", "content", "where"), SHAPES)
def test_what_is_typed_otherwise_within_a_file_is_refused_by_its_place(run, refused, name, content, where):
    """Whatever a reader or the page takes for granted is asked for, deep inside a file too."""
    whole = DOUBT | content if name == "doubt.json" else content
    (run / name).write_text(json.dumps(whole))
    refused("report", where)


TOLD = {"kept": [], "sentences": [["warning", "heat", "Hot: \u0001 °C."]], "parts": [["boiler", "steel"]]}


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ({"designs": [[[1, "80"]]]}, "not there"),
        ({"designs": [[[-1, "80"]]]}, "not there"),
        ({"designs": [[["0", "80"]]]}, "not there"),
        ({"designs": [[[0]]]}, "places of its sentence"),
        ({"designs": [[[0, "80", "90"]]]}, "places of its sentence"),
        ({"designs": [[[0, 80]]]}, "places of its sentence"),
        ({"walls": [[1.0, 2.0]]}, "other walls"),
        ({"relief": []}, "another number"),
        ({"kept": [0]}, "kept.0"),
    ],
)
def test_cautions_that_do_not_fit_are_refused(run, refused, content, said):
    """Packed cautions point into lists of their own: each place is looked at before it is used."""
    told = TOLD | {"designs": [[[0, "80"]]], "walls": [[1.0]], "relief": [9.0]} | content
    (run / "told.json").write_text(json.dumps(told))
    refused("report", said)


def test_the_header_of_an_array_is_not_believed(tmp_path):
    """A file that claims more than it holds, another type or another order is refused without reserving its size."""
    import numpy as np

    from explore.run.files import write_array
    from explore.run.reader import read_array

    path = tmp_path / "chunk.npy"
    sound = np.arange(6.0).reshape(2, 3)
    write_array(path, sound)
    assert np.array_equal(read_array(path, (2, 3)), sound)
    whole = path.read_bytes()
    for content in (
        whole[:-1],
        whole + b"0",
        whole.replace(b"(2, 3)", b"(2,10**9)"),
        whole.replace(b"<f8", b"|O8"),
        b"",
    ):
        path.write_bytes(content)
        with pytest.raises(InputError, match="another array"):
            read_array(path, (2, 3))
    write_array(path, sound)
    with pytest.raises(InputError, match="another array"):
        read_array(path, (3, 2))
    with pytest.raises(InputError, match="cannot read"):
        read_array(tmp_path / "none.npy", (2, 3))


def test_a_run_loaded_in_python_resolves_nothing(run):
    """The Python way to read a run is as careful as the command's."""
    edit(run, "results_folder_: ${oc.env:HOME}\n")
    with pytest.raises(InputError, match="interpolation"):
        load_scenario(run)


@pytest.mark.parametrize(
    ("sheet", "where"),
    [
        ({"condenser": {"q_kJ_per_kg": [0.0, 1.0], "fluid_T_degC": [20.0]}}, "several lengths"),
        ({"indicator": [{"V_L": [1.0, 2.0], "p_bar_a": [3.0]}]}, "several lengths"),
        ({"exergy": {"work_kJ_per_kg": 1e999}}, "work_kJ_per_kg"),
    ],
)
def test_curves_are_whole_and_numbers_finite(run, refused, sheet, where):
    """Lists that belong together are equally long, and 1e999 is no number."""
    (run / "sheets.json").write_text(json.dumps({"designs": {"1": sheet}}).replace("Infinity", "1e999"))
    refused("report", where)
