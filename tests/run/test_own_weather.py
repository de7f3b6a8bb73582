"""A run carries what it needs, and paths are read where they were written."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pandas as pd
import pvlib
import pytest
import yaml

from explore import cli, load_scenario
from explore.config.compose import compose_case
from explore.config.refusals import VERSION
from explore.run import reader
from explore.run.files import digest, read_frame
from explore.search.identity import changed, facts
from tests.command_line import typed

CLIMATE = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
EXAMPLE = Path(__file__).parents[2] / "results" / "example"
TINY = [
    "search.designs=400",
    "search.leg_designs=200",
    "search.workers=1",
    "search.legs_per_round=2",
    "space.fluid=[n-Butane,Isopentane]",
    "scenario.limits.served_share_min=0.3",
    "engine=constant",  # the quickest: what is tried here knows of no engine, and of no store
    "space.store_mode=[stratified]",
    "report.sheets=10",  # the fewest: each costs as much as some hundred designs
]


@pytest.fixture(scope="module")
def searched(tmp_path_factory):
    """A search under a weather file and two files of own designs of one name, all relative to the working directory."""
    home = tmp_path_factory.mktemp("home")
    shutil.copy(CLIMATE, home / "site.csv")
    front = pd.read_csv(EXAMPLE / "front.csv")
    for line, name in enumerate(("a", "b")):
        (home / name).mkdir()
        front.iloc[[line]].to_csv(home / name / "mine.csv", index=False)
    before = Path.cwd()
    os.chdir(home)
    try:
        assert typed("scenario.site.weather=site.csv", "report.own=[a/mine.csv,b/mine.csv]", *TINY) == 0
    finally:
        os.chdir(before)
    (run,) = (home / "results" / "orchard").iterdir()
    return home, run


@pytest.fixture
def away(searched, tmp_path, monkeypatch):
    """The run moved to another folder than the one its search was started in, without the original weather file."""
    monkeypatch.chdir(tmp_path)
    return Path(shutil.copytree(searched[1], tmp_path / "moved"))


def test_a_bad_weather_file_is_named_as_it_was_given(tmp_path, monkeypatch, capsys):
    """Not as the copy in a run's folder that is gone by then; no folder is made."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "empty.csv").write_text("")
    assert typed("scenario.site.weather=empty.csv") == 2
    err = capsys.readouterr().err
    assert err.startswith("explore: weather file empty.csv cannot be read")
    assert "results" not in err
    assert os.listdir(tmp_path) == ["empty.csv"]


def test_the_run_holds_its_weather(searched):
    """A copy, named from the configuration, its digest in the summary; the version stands first."""
    home, run = searched
    assert (run / "weather" / "site.csv").read_bytes() == (home / "site.csv").read_bytes()
    content = yaml.safe_load((run / "config.yaml").read_text())
    assert content["scenario"]["site"]["weather"] == "weather/site.csv"
    assert next(iter(content.items())) == ("version", VERSION)
    assert str(home) not in (run / "config.yaml").read_text()
    assert reader.read_summary(run)["hashes"]["weather"] == digest(home / "site.csv")


def test_it_is_inspected_and_gone_on_with_from_anywhere(searched, away, monkeypatch, capsys):
    """Where the original is changed or out of reach, the figures stay the same, and own designs go with the run."""
    home, run = searched
    monkeypatch.chdir(home)
    assert typed("task=inspect", f"design={run / 'front.csv'}", "row=1") == 0
    there = capsys.readouterr().out
    monkeypatch.chdir(away.parent)
    Path("site.csv").write_text("another climate")
    assert typed("task=inspect", "design=moved/front.csv", "row=1") == 0
    assert capsys.readouterr().out == there
    own = ["own/1/mine.csv", "own/2/mine.csv"]
    assert yaml.safe_load((away / "config.yaml").read_text())["report"]["own"] == own
    assert not any(Path(name).exists() for name in ("a", "b"))
    assert typed("task=reprice", "run=moved") == 0
    (repriced,) = Path("results/orchard").iterdir()
    assert [(repriced / file).read_bytes() for file in own] == [(away / file).read_bytes() for file in own]
    fronts = [read_frame(place / "front.csv") for place in (repriced, run)]
    pd.testing.assert_frame_equal(
        *fronts, check_dtype=False, rtol=1e-9, atol=1e-9
    )  # another batch rounds otherwise
    assert (repriced / "weather" / "site.csv").is_file()
    before = pd.read_csv(away / "own.csv")
    assert typed("resume=moved", "search.designs=600") == 0, capsys.readouterr().err
    assert reader.read_summary(away)["designs_evaluated"] == 600
    assert pd.read_csv(away / "own.csv").equals(before)
    assert (
        yaml.safe_load((away / "config.yaml").read_text())["scenario"]["site"]["weather"]
        == "weather/site.csv"
    )
    here = load_scenario("moved").scenario.site.weather
    assert Path(here).samefile(away / "weather" / "site.csv")
    again = compose_case(folder=away)
    assert again.scenario.site.weather == here
    assert all(Path(file).is_relative_to(away) and Path(file).is_file() for file in again.report.own)
    capsys.readouterr()
    (away / own[1]).unlink()
    assert typed("resume=moved", "search.designs=800") == 2
    assert f"{own[1]} is missing" in capsys.readouterr().err


def test_the_same_budget_reprices_all_designs_of_a_time_budget(tmp_path, monkeypatch):
    """What a search under a time budget kept is all that it evaluated, and all of it is judged again."""
    monkeypatch.chdir(tmp_path)
    words = [word for word in TINY if "designs=400" not in word]
    words += ["search.designs=null", "search.seconds=500", "search.largest_leg_designs=200"]
    # A leg counts as a fifth of the budget, and none is cut for want of time: as many are whole on any machine.
    monkeypatch.setattr("explore.search.hunt.Hunt.seconds", property(lambda hunt: 100.0 * hunt.legs_here))
    assert typed(*words, "search.archive_designs=50000") == 0
    (run,) = (tmp_path / "results" / "orchard").iterdir()
    summary = reader.read_summary(run)
    assert summary["all_designs_written"]
    assert summary["designs_evaluated"] == 5 * 200
    written = summary["designs_evaluated"] + summary["polished_designs"]
    assert len(read_frame(run / "designs.csv")) == written
    assert typed("task=reprice", f"run={run}", "results_folder=again") == 0
    (repriced,) = (tmp_path / "again" / "orchard").iterdir()
    assert reader.read_summary(repriced)["designs_evaluated"] == written
    assert reader.read_summary(repriced)["all_designs_written"]


TASKS = {
    "inspect": ["task=inspect", "design=moved/front.csv", "row=1"],
    "reprice": ["task=reprice", "run=moved"],
    "resume": ["resume=moved"],
}


def _changed(run):
    with (run / "weather" / "site.csv").open("a") as file:
        file.write("\n")


def _missing(run):
    (run / "weather" / "site.csv").unlink()


def _linked(run):
    _missing(run)
    (run / "weather" / "site.csv").symlink_to(CLIMATE)


def _elsewhere(run):
    path = run / "config.yaml"
    path.write_text(path.read_text().replace("weather/site.csv", "weather/../../site.csv"))


def _newer(run):
    path = run / "config.yaml"
    path.write_text(path.read_text().replace(f"version: {VERSION}", f"version: {VERSION + 1}\nnovelty: 3"))


SPOILT = {
    _changed: ["weather/site.csv is not the weather file this run was judged by"],
    _missing: ["weather/site.csv is missing"],
    _linked: ["link out of the run's folder"],
    _elsewhere: ["a run's weather file stands in its own folder"],
    _newer: [f"version {VERSION + 1} ", f"version {VERSION},"],
}


@pytest.mark.parametrize("task", TASKS)
@pytest.mark.parametrize("spoil", SPOILT)
def test_a_spoilt_run_is_refused(away, capsys, task, spoil):
    """Status 2, one sentence, nothing left."""
    spoil(away)
    before = {path: path.lstat().st_mtime for path in away.parent.rglob("*")}
    assert typed(*TASKS[task]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("explore: ")
    assert err.count("\n") == 1
    for part in SPOILT[spoil]:
        assert part in err
    assert {path: path.lstat().st_mtime for path in away.parent.rglob("*")} == before


def test_a_run_of_before_is_read_as_it_was(tmp_path, monkeypatch, capsys):
    """Without a version: the weather file stands where the configuration says, seen from the working directory."""
    monkeypatch.chdir(tmp_path)
    shutil.copytree(EXAMPLE, "old")
    shutil.copy(CLIMATE, "here.csv")
    path = Path("old/config.yaml")
    path.write_text(path.read_text().replace(f"version: {VERSION}\n", ""))
    assert "version" not in yaml.safe_load(path.read_text())
    assert typed("task=inspect", "design=old/front.csv", "row=1") == 0
    there = capsys.readouterr().out
    path.write_text(path.read_text().replace("weather: pvlib:723170TYA.CSV", "weather: here.csv"))
    assert typed("task=inspect", "design=old/front.csv", "row=1") == 0
    assert capsys.readouterr().out == there
    assert compose_case(folder=Path("old")).scenario.site.weather == "here.csv"


@pytest.fixture
def own(tmp_path, monkeypatch):
    """A folder of the user's own configuration, beside the one stood in."""
    folder = tmp_path / "mine"
    (folder / "scenario").mkdir(parents=True)
    (folder / "report").mkdir()
    stood_in = tmp_path / "stood_in"
    stood_in.mkdir()
    monkeypatch.chdir(stood_in)
    scenario = load_scenario("orchard").scenario.model_dump(mode="json")
    scenario["site"]["weather"] = "../climate/site.csv"
    (folder / "scenario" / "mine.yaml").write_text(yaml.safe_dump(scenario))
    (folder / "report" / "mine.yaml").write_text("own: [a.yaml, sub/b.yaml]\n")
    (folder / "climate").mkdir()
    shutil.copy(CLIMATE, folder / "climate" / "site.csv")
    return folder


def test_paths_are_read_against_the_file_that_names_them(own):
    """A scenario's file by its path, a folder of the user's, and its main file."""
    meant = own / "climate" / "site.csv"
    by_path = load_scenario(own / "scenario" / "mine.yaml").scenario.site.weather
    assert Path(by_path).samefile(meant)
    by_word = compose_case(["scenario=../mine/scenario/mine.yaml"]).scenario.site.weather
    assert by_word == by_path
    main = own / "main.yaml"
    main.write_text(
        "defaults: [schema_defaults, catalogue, scenario: mine, report: mine, _self_]\nsearch: {name: x}\n"
    )
    case = compose_case(folder=own, config_name="main")
    assert Path(case.scenario.site.weather).samefile(meant)
    assert case.report.own == (str(own / "report" / "a.yaml"), str(own / "report" / "sub" / "b.yaml"))
    main.write_text(
        main.read_text() + "scenario: {site: {weather: climate/site.csv}}\nreport: {own: [c.yaml]}\n"
    )
    case = compose_case(folder=own, config_name="main")
    assert Path(case.scenario.site.weather).samefile(meant)
    assert case.report.own == (str(own / "c.yaml"),)


def test_paths_typed_are_read_where_one_stands(own):
    """The command line is relative to the working directory, whatever files say."""
    words = ["scenario.site.weather=../climate/site.csv", "report.own=[a.yaml]"]
    case = compose_case([f"scenario={own / 'scenario' / 'mine.yaml'}", *words])
    assert (case.scenario.site.weather, case.report.own) == ("../climate/site.csv", ("a.yaml",))
    (own / "main.yaml").write_text(
        "defaults: [schema_defaults, catalogue, scenario: mine, report: mine, _self_]\nsearch: {name: x}\n"
    )
    case = compose_case(words, folder=own, config_name="main")
    assert (case.scenario.site.weather, case.report.own) == ("../climate/site.csv", ("a.yaml",))


@pytest.mark.parametrize("how", ["-cd", "-cp", "path"])
def test_the_command_reads_paths_as_python_does(own, capsys, how):
    """Hydra's folders and a scenario's path; typed, the same words name nothing here."""
    shutil.copy(EXAMPLE / "front.csv", "design.csv")
    (own / "main.yaml").write_text(
        "defaults: [schema_defaults, catalogue, scenario: mine, task: inspect, engine: careful, "
        "costs: default, exchangers: coefficients, search: quick, report: default, _self_]\n"
    )
    words = {
        "-cd": ["-cd", own, "scenario=mine", "task=inspect"],
        "-cp": ["-cp", own, "-cn", "main", "hydra.searchpath=[pkg://none]"],
        "path": [f"scenario={own / 'scenario' / 'mine.yaml'}", "task=inspect"],
    }[how]
    if how == "-cp":
        for group in ("task", "engine", "costs", "exchangers", "search"):
            shutil.copytree(Path(__file__).parents[2] / "configs" / group, own / group)
        shutil.copy(Path(__file__).parents[2] / "configs" / "report" / "default.yaml", own / "report")
        words = words[:-1]
    assert typed(*words, "design=design.csv", "row=1") == 0, capsys.readouterr().err
    assert "pvlib" not in capsys.readouterr().err
    assert typed(*words, "design=design.csv", "row=1", "scenario.site.weather=../climate/site.csv") == 2
    assert "../climate/site.csv does not exist" in capsys.readouterr().err


def test_where_the_weather_stands_is_no_part_of_the_identity(tmp_path):
    """The same climate in another place is the same study."""
    found = []
    for place in ("one.csv", "two.csv"):
        shutil.copy(CLIMATE, tmp_path / place)
        found.append(facts(load_scenario("orchard", [f"scenario.site.weather={tmp_path / place}"]), cli.main))
    assert changed(*found) == []


def test_a_name_longer_than_any_file_has_is_refused(tmp_path, monkeypatch, capsys):
    """One sentence, and nothing left behind."""
    monkeypatch.chdir(tmp_path)
    assert typed(f"scenario.site.weather={'x' * 300}.epw", *TINY) == 2
    err = capsys.readouterr().err
    assert "does not exist or is no file" in err
    assert len(err) < 300
    assert list(tmp_path.iterdir()) == []
