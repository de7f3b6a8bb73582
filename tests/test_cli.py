"""The command end to end: search, inspect, report, sweeps, and every way to be refused."""

from __future__ import annotations

import itertools
import json
import os
import re
import signal
import subprocess
import sys
import threading
from pathlib import Path
from types import SimpleNamespace

import pandas as pd
import pytest
import yaml
from hydra._internal.hydra import Hydra

import explore
from explore import cli
from explore.config.compose import load_scenario
from explore.design.variables import INPUTS
from explore.run import reader
from explore.run.files import digest, read_frame
from tests import real_run as runs

CLONE = Path(__file__).resolve().parents[1]
PROGRESS = re.compile(r"\d+:\d\d(:\d\d)? (left|so far)(, |$)")
"""A line a minute, where a machine is slow."""
TINY = (
    "search.designs=1200",
    "search.leg_designs=400",
    "search.workers=1",
    "scenario.fluids=[n-Butane,IsoButane,Isopentane]",
    "scenario.limits.served_share_min=0.3",
    "search.seconds=null",  # the budget is in designs, however slow the machine
    "engine=constant",  # the quickest: what is tried here knows of no engine, and of no store
    "space.store_mode=[stratified]",
    "report.sheets=10",  # the fewest: each costs as much as some hundred designs
)
ONE_LEG = ("search.designs=400", *TINY[1:])
FILES = {
    "config.yaml",
    "designs.csv",
    "front.csv",
    "fluids.csv",
    "layouts.csv",
    "own.csv",
    "sheets.json",
    "told.json",
    "summary.json",
    "report.html",
    "checks.json",
    "run.log",
}
CAMPAIGN = {"campaign.journal", "designs.journal", "legs"}
DESIGN = {
    "fluid": "n-Butane",
    "store_mode": "stratified",
    "top_temperature_degC": 90,
    "evaporating_temperature_degC": 65,
    "superheat_K": 3,
    "condensing_temperature_degC": 22,
    "subcooling_K": 1,
    "pinch_boiler_K": 3,
    "pinch_condenser_K": 3,
    "stages": 1,
    "pressure_levels": 1,
    "release_pressure_ratio": 1.2,
    "regenerator_effectiveness": 0,
    "store_volume_L": 500,
    "insulation_mm": 150,
    "collector": "flat_plate",
    "collector_area_m2": 8,
}


def command(folder, *words, **settings):
    """Run ``python -m explore`` in ``folder`` as a user does, in a process of its own."""
    environment = os.environ | {"PYTHONPATH": str(CLONE)} | settings
    return subprocess.run(
        [sys.executable, "-m", "explore", *words],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


@pytest.fixture
def here(tmp_path, monkeypatch, capfd):
    """An empty working folder, and a function that runs the command in it within this process."""
    monkeypatch.chdir(tmp_path)

    def run(*words):
        monkeypatch.setattr(sys, "argv", ["explore", *words])
        status = cli.main()
        out, err = capfd.readouterr()
        return status, out, err

    run.folder = tmp_path
    return run


@pytest.fixture(scope="module")
def searched(tmp_path_factory):
    """A tiny search, run once: the working folder, the run's folder and the finished process."""
    folder, path = tmp_path_factory.mktemp("work"), design_file(tmp_path_factory.mktemp("own"))
    done = command(folder, *TINY, f"report.own=[{path}]")
    assert done.returncode == 0, done.stderr
    (run,) = (folder / "results" / "orchard").iterdir()
    return folder, run, done


def refused(result, *parts):
    """Check that the command ended with status 2 and one sentence that holds ``parts``."""
    status, out, err = result
    assert status == 2
    assert out == ""
    assert err.startswith("explore: ")
    assert err.count("\n") == 1
    assert "Traceback" not in err
    for part in parts:
        assert part in err


def design_file(folder, **changes):
    """Write a design as YAML, changed; a value of None leaves the key out."""
    content = {key: value for key, value in (DESIGN | changes).items() if value is not None}
    path = folder / "design.yaml"
    path.write_text(yaml.safe_dump(content))
    return path


def test_search_leaves_one_folder_with_its_files_and_nothing_else(searched):
    """All files of a run stand in its folder; no log or output folder of a library stands about."""
    folder, run, _ = searched
    assert {path.name for path in run.iterdir() if not path.name.startswith(".")} == FILES | CAMPAIGN | {
        "own"
    }
    assert [path.name for path in folder.iterdir()] == ["results"]
    assert {path.name for path in (folder / "results").iterdir()} == {"handbook.html", "orchard"}
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d{6}Z", run.name)


def test_search_tells_what_it_found(searched):
    """The closing text names the recommended designs, the fluids, and the page; errors stay empty of noise."""
    _, run, done = searched
    assert "Recommended designs" in done.stdout
    assert "n-Butane" in done.stdout
    assert f"Page: results/orchard/{run.name}/report.html" in done.stdout
    noise = [line for line in done.stderr.splitlines() if not PROGRESS.match(line)]
    assert noise == []
    assert load_scenario("orchard").scenario.title in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 90


def test_summary_agrees_with_the_tables(searched):
    """Counts, digests and recommended lines of summary.json are those of the files."""
    _, run, _ = searched
    summary, front = reader.read_summary(run), read_frame(run / "front.csv")
    designs = read_frame(run / "designs.csv")
    assert summary["designs_evaluated"] == sum(summary["designs_per_fluid"].values()) == 1200
    assert summary["front_designs"] == len(front)
    assert summary["designs_written"] == len(designs)
    assert {name: digest(run / name) for name in summary["hashes"]} == summary["hashes"]
    assert set(summary["hashes"]) == FILES - {"summary.json", "report.html", "run.log"}
    assert summary["versions"]["CoolProp"]


def test_the_summary_names_the_line_with_most_work(real_run):
    """Nearly the most of those that keep their limits with tubes and the reference cost; each pick has its cautions."""
    summary, front = reader.read_summary(real_run), read_frame(real_run / "front.csv")
    most_work = next(pick for pick in summary["picks"] if "most work" in pick["role"])
    best = front.loc[most_work["row"] - 1, "work_per_litre_kJ"]
    broken = {int(line) - 1 for line in summary["broken_with_tubes"]}
    kept = (front["cost_EUR"] <= 15_000) & ~front.index.isin(broken)
    assert best >= 0.99 * front.loc[kept, "work_per_litre_kJ"].max()
    topics = {pick["row"]: {caution["topic"] for caution in pick["cautions"]} for pick in summary["picks"]}
    assert topics[most_work["row"]] >= {"pressure equipment", "hot water", "law and licence"}
    burning = [
        row
        for row in topics
        if front.loc[row - 1, "fluid"] in ("Acetone", "Ethanol", "Isopentane", "n-Pentane", "Cyclopentane")
    ]
    assert burning
    assert all("flammable fluid" in topics[row] for row in burning)


def test_tables_have_the_public_columns(searched, real_run):
    """front.csv and designs.csv begin with the inputs, in order; cells that do not apply are empty."""
    _, run, _ = searched
    for folder, name in itertools.product((run, real_run), ("front.csv", "designs.csv")):
        table = pd.read_csv(folder / name)
        assert tuple(table.columns[: len(INPUTS)]) == INPUTS
        assert table.loc[table["store_mode"] == "mixed", "pinch_boiler_K"].isna().all()
    assert "mixed" in set(table["store_mode"])  # of the real run; the tiny one has none
    front = read_frame(run / "front.csv")
    assert front["feasible"].all()


def test_a_run_is_read_back(searched):
    """The run's case, tables and summary come back from its folder."""
    _, run, _ = searched
    back = reader.read(run)
    assert back.case.search.designs == 1200
    assert len(back.front) == back.summary["front_designs"]


def test_a_run_is_repeated_from_its_own_configuration(searched, here):
    """The config.yaml of a run gives the same front again, digit for digit, from another folder and process."""
    _, run, _ = searched
    status, _, err = here("-cp", os.path.relpath(run, here.folder), "-cn", "config")
    assert status == 0, err
    (again,) = (here.folder / "results" / "orchard").iterdir()
    assert (again / "front.csv").read_bytes() == (run / "front.csv").read_bytes()
    assert (again / "config.yaml").read_bytes() == (run / "config.yaml").read_bytes()


def test_a_run_goes_on_as_if_it_had_never_stopped(searched, here):
    """A search of 800 designs resumed to 1200 has the front of one of 1200; a changed model is refused, nothing lost."""
    assert here("search.designs=800", *TINY[1:])[0] == 0
    (run,) = (here.folder / "results" / "orchard").iterdir()
    before = {path: path.read_bytes() for path in run.rglob("*") if path.is_file()}
    refused(here(f"resume={run}", "engine.friction_load_share=0.08"), "engine")
    assert {path: path.read_bytes() for path in run.rglob("*") if path.is_file()} == before
    status, _, err = here(f"resume={run}", "search.designs=1200")
    assert status == 0, err
    assert (run / "front.csv").read_bytes() == (searched[1] / "front.csv").read_bytes()


def test_only_a_run_can_be_resumed(here):
    """A folder that is no run, or a run's configuration given twice, is refused in one sentence."""
    refused(here(f"resume={here.folder}"), "no run to go on with")
    refused(here("resume="), "no run to go on with")
    assert list(here.folder.iterdir()) == []


def test_page_is_built_again(searched, here):
    """task=report writes the page of a past run from its files."""
    _, run, _ = searched
    page = run / "report.html"
    before = page.read_text(encoding="utf-8")
    page.unlink()
    status, out, _ = here("task=report", f"run={run}")
    assert status == 0
    assert "report.html" in out
    assert page.read_text(encoding="utf-8") == before


def test_inspecting_a_line_of_the_front_gives_its_numbers(searched, here):
    """Work, cost and pressure printed for a line are those in the table."""
    _, run, _ = searched
    front = read_frame(run / "front.csv")
    status, out, err = here("task=inspect", f"design={run / 'front.csv'}", f"row={len(front)}")
    assert (status, err) == (0, "")
    last = front.iloc[-1]
    assert "Feasible: it keeps every limit" in out  # under the run's own scenario, which asks for less
    assert f"{last['work_per_litre_kJ']:#.3g} kJ/L" in out
    assert re.search(rf"Sum +{last['cost_EUR']:.0f}\b", out)
    assert re.search(rf"Peak pressure +[\d.]+ +{last['peak_pressure_bar_g']:.3f}\b", out)


def test_a_design_of_a_run_can_be_inspected_under_another_scenario(searched, here):
    """A scenario that is asked for overrules the one of the run; values can be changed either way."""
    design = f"design={searched[1] / 'front.csv'}"
    _, plain, _ = here("task=inspect", design, "row=1")
    _, strict, _ = here("task=inspect", design, "row=1", "scenario=orchard")
    _, dear, _ = here("task=inspect", design, "row=1", "costs.instruments_EUR=9999")
    assert plain != strict
    assert "9999" in dear
    assert "9999" not in plain


def test_inspecting_a_file_prints_the_design_whole(here):
    """States, both pressures, cylinders, exchangers, bill, year, limits and cautions are all there."""
    status, out, err = here("task=inspect", f"design={design_file(here.folder)}")
    assert (status, err) == (0, "")
    for part in (
        "State points, rated",
        "bar abs.",
        "bar gauge",
        "Cylinders",
        "Exchangers",
        "Bill, prices of",
        "The year",
        "Distance to each limit",
        "Relief valve opens",
        "Hazards and cautions",
        "liquid lock",
    ):
        assert part in out
    bar_a, bar_g = re.search(r"Condenser pressure +([\d.]+) +([\d.]+)", out).groups()
    assert float(bar_a) - float(bar_g) == pytest.approx(0.981, abs=0.002)  # 270 m above the sea


def test_bill_sums_to_the_cost(here):
    """The printed lines add up to the printed sum, within their rounding."""
    _, out, _ = here("task=inspect", f"design={design_file(here.folder)}")
    lines = out.partition("Bill, prices")[2].partition("Sum")
    costs = [float(line.split()[-1]) for line in lines[0].splitlines()[1:] if line.strip()]
    assert sum(costs) == pytest.approx(float(lines[2].split()[0]), abs=len(costs) / 2)


def test_changed_values_reach_the_model(here):
    """A price and a coefficient changed on the command line change the printed design."""
    path = design_file(here.folder)
    _, plain, _ = here("task=inspect", f"design={path}")
    _, dear, _ = here("task=inspect", f"design={path}", "fluids.n-Butane.price_EUR_per_kg=300")
    _, lossy, _ = here("task=inspect", f"design={path}", "engine.pump_volumetric_efficiency=0.3")
    assert plain != dear != lossy != plain


@pytest.mark.parametrize(
    ("changes", "parts"),
    [
        ({"superheat_K": None}, ["design.yaml", "superheat_K", "missing"]),
        ({"superheat_K": None, "superheet_K": 3}, ["superheat_K is missing; is it called superheet_K?"]),
        ({"evaporating_temperature_degC": None}, ["evaporating_temperature_degC is missing"]),
        ({"colour": "red"}, ["unknown column colour"]),
        ({"superheat_K": "three"}, ["superheat_K is 'three'", "number"]),
        ({"stages": 1.5}, ["stages is 1.5", "whole number"]),
        ({"top_temperature_degC": 900}, ["top_temperature_degC", "900"]),
        ({"fluid": "Butan"}, ["fluid is 'Butan'", "n-Butane"]),
        ({"collector": "mirror"}, ["collector is 'mirror'", "flat_plate"]),
        ({"store_mode": "layered"}, ["store_mode is 'layered'", "stratified"]),
        ({"superheat_K": [1, 2]}, ["superheat_K must be a single number or word"]),
    ],
)
def test_bad_design_files_are_refused(here, changes, parts):
    """The sentence names file, column and what would be right."""
    refused(here("task=inspect", f"design={design_file(here.folder, **changes)}"), *parts)


def test_rows_out_of_range_are_refused(searched, here):
    """A line that the table does not have, and a table without a line, are named."""
    table = searched[1] / "front.csv"
    refused(here("task=inspect", f"design={table}", "row=9999"), "row=9999", "1 to")
    refused(here("task=inspect", f"design={table}", "row=0"), "task.row=0")
    refused(here("task=inspect", f"design={table}"), "row=N")


def test_a_bad_cell_of_a_table_is_named_by_its_row(searched, here):
    """Row numbers in complaints are those of the file."""
    front = read_frame(searched[1] / "front.csv").astype({"superheat_K": object})
    front.loc[2, "superheat_K"] = "much"
    front.to_csv("changed.csv", index=False)
    refused(here("task=inspect", "design=changed.csv", "row=3"), "changed.csv", "row 3", "'much'")


@pytest.mark.parametrize(
    ("words", "parts"),
    [
        (["task=inspect"], ["design=FILE.yaml"]),
        (["task=inspect", "design=nowhere.yaml"], ["nowhere.yaml"]),
        (["task=inspect", "design=notes.txt"], [".yaml or .csv"]),
        (["task=report"], ["run=results"]),
        (["task=report", "run=nowhere"], ["run=nowhere"]),
        (["task=work"], ["task=work", "search"]),
        (["task=reprice"], ["task=reprice", "run="]),
        (["task=reprice", "run=nowhere"], ["run=nowhere"]),
        (["scenario=orchrd"], ["did you mean orchard?"]),
        (["engine.pump_eficiency=0.5"], ["did you mean engine.pump_efficiency?"]),
        (["scenario.demand.hours=[18,18]"], ["scenario.demand.hours must name each", "once", "[18, 18]"]),
        (["scenario.materials=[steel,coper]"], ["scenario.materials: 'coper'", "did you mean copper?"]),
        (["engine.pump_efficiency=2"], ["less than or equal to 1"]),
        (["costs.instruments_EUR=1.7e308"], ["costs.instruments_EUR=1.7e+308", "at most 1e+12"]),
        (
            ["yardsticks.thermoelectric_drop_share=1e-300"],
            ["thermoelectric_drop_share=1e-300", "from 1e-12 on"],
        ),
        (["report.pressure_ceilings_bar_g=[4,1e300]"], ["report.pressure_ceilings_bar_g", "at most 1e+12"]),
        (["hydra.mode=sideways"], ["hydra.mode=sideways", "RUN, MULTIRUN"]),
        (["space.fluid=Butan"], ["space.fluid", "Butan"]),
        (["space.store_volume_L=5"], ["space.store_volume_L=5", "50"]),
        (["scenario.site.weather=nowhere.epw"], ["nowhere.epw"]),
        (["orchard"], ["key=value"]),
        (["--colour"], ["--colour", "--help"]),
        (["-cp", "nowhere"], ["nowhere"]),
        (["-m", "scenario=orchard,nowhere"], ["scenario=nowhere"]),
    ],
)
def test_bad_words_are_refused_and_leave_nothing(here, words, parts):
    """Status 2, one sentence, and the folder as empty as before."""
    refused(here(*words), *parts)
    assert list(here.folder.iterdir()) == []


def test_results_folder_is_tried_before_the_search(here, monkeypatch):
    """A results folder that cannot be written is refused before any design is evaluated."""
    (here.folder / "taken").write_text("a file")
    monkeypatch.setattr("explore.search.optimise", lambda *a, **k: pytest.fail("searched all the same"))
    refused(here(*TINY, "results_folder=taken/results"), "results_folder=taken/results", "cannot write")
    assert [path.name for path in here.folder.iterdir()] == ["taken"]


def test_a_read_only_file_system_is_refused(here):
    """A folder in which not even root can make anything is refused by name."""
    place = next(path for path in map(Path, ("/sys/kernel", "/System/Library")) if path.is_dir())
    refused(here(*TINY, f"results_folder={place}"), f"results_folder={place}")


def test_an_infeasible_scenario_keeps_its_legs(here):
    """Where nothing can serve the demand the binding constraint is named; the legs stay, and the way to go on is told."""
    result = here(*TINY, "scenario.limits.pressure_ceiling_bar_g=0.01", "scenario.fluids=[n-Propane]")
    (run,) = here.folder.glob("results/orchard/*")
    refused(
        result,
        "pressure",
        "legs are kept, with a greater budget",
        f"explore resume=results/orchard/{run.name}",
    )
    assert len(list((run / "legs").iterdir())) == 3
    assert not list(here.folder.rglob("*.csv"))


def test_a_sweep_goes_through_all_jobs(here):
    """Every job of a sweep runs, also after one was refused, and the worst status is that of the command."""
    path = design_file(here.folder)
    words = ["task=inspect", f"design={path}", "engine.pump_volumetric_efficiency=0.9,0.75"]
    status, out, _ = here("-m", *words)
    assert (status, out.count("Hazards and cautions")) == (0, 2)
    status, out, err = here(*words[:1], "-m", f"design=nowhere.yaml,{path.name}")
    assert (status, out.count("Hazards and cautions"), err.count("nowhere.yaml")) == (2, 1, 1)
    assert [entry.name for entry in here.folder.iterdir()] == [path.name]


@pytest.mark.parametrize("elsewhere", [False, True])
def test_a_sweep_of_searches_ends_with_one_comparison(searched, here, monkeypatch, elsewhere):
    """Searches of a sweep, also in processes of a launcher, leave their runs and one page that compares them."""
    if elsewhere:  # no two calls see one process; what is left there was searched before
        system = SimpleNamespace(**vars(os) | {"getpid": itertools.count(1).__next__})
        monkeypatch.setattr(cli, "os", system)

        def left(case, task, command):
            return runs.copy(searched[1], Path("results") / "orchard" / f"seed {case.search.seed}")

        monkeypatch.setattr("explore.tasks.search.run", left)
    status, out, err = here("-m", *ONE_LEG, "search.seed=1,2")
    assert status == 0, err
    assert len(list((here.folder / "results" / "orchard").iterdir())) == 2
    (page,) = (here.folder / "results").glob("comparison-*.html")
    assert out.rstrip().endswith(str(page.relative_to(here.folder)))


def test_runs_can_be_compared(searched, here):
    """task=compare writes one page of two runs; a folder that is none is named."""
    _, run, _ = searched
    status, _, err = here("task=compare", f"runs=[{run},{run}]")
    assert status == 0, err
    assert len(list((here.folder / "results").glob("comparison-*.html"))) == 1
    refused(here("task=compare", "runs=[nowhere,elsewhere]"), "nowhere", "no such folder")


def test_own_designs_are_evaluated_beside_the_front(searched):
    """report.own puts the reader's own design into own.csv, evaluated."""
    own = read_frame(searched[1] / "own.csv")
    assert own.loc[0, "name"] == "design"
    assert own.loc[0, "work_per_litre_kJ"] > 5


def test_interrupt_is_no_traceback(here, monkeypatch):
    """Ctrl-C ends with status 130 and one word, and leaves no folder."""

    def interrupted(*words, **options):
        raise KeyboardInterrupt

    monkeypatch.setattr("explore.search.optimise", interrupted)
    status, out, err = here(*TINY)
    assert (status, out) == (130, "")
    assert err.splitlines()[-1] == "explore: stopped"
    assert not list(here.folder.glob("results/*/*"))


@pytest.mark.parametrize("legs", [False, True])
def test_sigterm_ends_with_130_at_any_moment_and_says_how_to_go_on(here, monkeypatch, legs):
    """Before the first leg nothing is left; after it the run stays, and the sentence names it."""
    before = signal.getsignal(signal.SIGTERM)

    def ended(case, run_folder, **options):
        if legs:
            (run_folder / "legs").mkdir()
            (run_folder / "legs" / "one").touch()
        os.kill(os.getpid(), signal.SIGTERM)
        pytest.fail("it went on")

    monkeypatch.setattr("explore.search.optimise", ended)
    status, out, err = here(*TINY)
    assert (status, out) == (130, "")
    if legs:
        (folder,) = here.folder.glob("results/*/*")
        assert err.splitlines()[-1].endswith(f"go on with: explore resume={folder.relative_to(here.folder)}")
    else:
        assert err.splitlines()[-1] == "explore: stopped"
        assert not list(here.folder.glob("results/*/*"))
    assert signal.getsignal(signal.SIGTERM) is before


def test_a_defect_is_told_without_a_traceback(here, monkeypatch):
    """An error of the program itself has status 1, and its origin stands in run.log."""

    def broken(*words, **options):
        raise ZeroDivisionError("one over nothing")

    monkeypatch.setattr("explore.search.optimise", broken)
    status, out, err = here(*TINY)
    assert (status, out) == (1, "")
    assert "Traceback" not in err
    assert "one over nothing" in err
    (log,) = here.folder.rglob("run.log")
    assert "Traceback" in log.read_text()


def test_a_reader_that_has_gone_is_no_error(here):
    """``explore ... | head`` ends quietly."""
    path = design_file(here.folder)
    words = f"{sys.executable} -m explore task=inspect design={path.name} | head -1"
    done = subprocess.run(
        ["bash", "-c", f"set -o pipefail; {words}"],
        cwd=here.folder,
        env=os.environ | {"PYTHONPATH": str(CLONE)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("n-Butane")


def test_help_tells_tasks_and_choices(here):
    """--help is our own text: tasks, pins, choices found in the configs."""
    status, out, err = here("--help")
    assert (status, err) == (0, "")
    for part in ("task=search", "task=inspect", "space.store_volume_L=500", "n-Butane", "orchard", "-m"):
        assert part in out


def test_help_is_quick():
    """--help loads none of the heavy libraries."""
    code = (
        "import sys; sys.argv = ['explore', '--help']; from explore.cli import main; main();"
        "print(sorted({'numpy', 'pandas', 'scipy', 'optuna', 'plotly', 'pvlib', 'CoolProp'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=CLONE, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_version_is_ours(here):
    """--version names this program, not a library."""
    status, out, _ = here("--version")
    assert status == 0
    assert out.startswith("explore ")


@pytest.mark.parametrize(
    ("words", "times"),
    [
        (["task=report", "run=nowhere"], 1),
        (["scenario=orchrd"], 1),
        (["-m", "task=report", "run=nowhere"], 2),
    ],
)
def test_a_command_is_composed_once(here, monkeypatch, words, times):
    """To compose takes as long as all the rest of a short command; a sweep asks once more, whether it is one."""
    compose, seen = Hydra.compose_config, []
    monkeypatch.setattr(
        Hydra, "compose_config", lambda *given, **named: seen.append(named) or compose(*given, **named)
    )
    refused(here(*words))
    assert len(seen) == times


def test_the_whole_configuration_can_be_seen(here):
    """--cfg job prints the composed configuration, cards and free variables included, as YAML."""
    status, out, _ = here("--cfg", "job", "engine.friction_load_share=0.08")
    config = yaml.safe_load(out)
    assert status == 0
    assert config["engine"]["friction_load_share"] == 0.08
    assert config["fluids"]["R1234zeE"]["name"] == "R1234ze(E)"
    assert config["space"]["stages"] is None


def test_package_exports_lazily():
    """``import explore`` is quick and offers the few public names, each loaded when used."""
    assert {"load_scenario", "evaluate", "optimise", "InputError"} <= set(dir(explore))
    code = (
        "import sys, explore; print(len({'numpy', 'hydra', 'pydantic'} & set(sys.modules))); explore.nothing"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=CLONE, capture_output=True, text=True, check=False
    )
    assert done.stdout.strip() == "0"
    assert "no attribute 'nothing'" in done.stderr


def test_public_names_work_from_a_notebook():
    """Two of the three public calls fit together, load and evaluate; tests/test_notebook.py has optimise beside them."""
    case = explore.load_scenario("orchard", TINY)
    outcome = explore.evaluate(pd.DataFrame([DESIGN]).reindex(columns=list(INPUTS)), case)
    assert outcome.loc[0, "work_per_litre_kJ"] == pytest.approx(8.37, abs=0.2)


def test_json_files_of_a_run_are_strict_json(searched):
    """Neither file holds NaN or Infinity, which a browser would refuse."""
    for name in ("summary.json", "sheets.json"):
        json.loads((searched[1] / name).read_text(encoding="utf-8"), parse_constant=pytest.fail)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (
            ["exchangers.boiler.inside_diameter_mm=13"],
            "inside_diameter_mm 13 leaves no wall in outside_diameter_mm 12",
        ),
        (["exchangers.boiler.inside_diameter_mm=0"], "its wall would be as thick as the radius"),
        (["exchangers.condenser.jacket_inside_diameter_mm=11"], "must be larger than outside_diameter_mm 12"),
        (
            ["exchangers.condenser.count=0"],
            "exchangers.condenser.count=0: it must be greater than or equal to 1",
        ),
        (["exchangers.coil.length_m=-2"], "exchangers.coil.length_m=-2: it must be greater than 0"),
        (
            [
                "exchangers.boiler.kind=bundle",
                "exchangers.boiler.count=20",
                "exchangers.boiler.jacket_inside_diameter_mm=40",
            ],
            "count 20 tubes of 12 mm do not fit into a shell of 40 mm; at most 7 do",
        ),
        (["exchangers.boiler.kind=coil"], "a coil in the store has no jacket"),
        (["exchangers.boiler.material=glass"], "it must be 'copper', 'aluminium'"),
        (["space.fluid=Butane-propane-70-30"], "films in tubes are known here for pure fluids only"),
    ],
    ids=lambda value: value[0] if isinstance(value, list) else "",
)
def test_tubes_that_cannot_exist(here, words, sentence):
    """Impossible tubes, and fluids that no film is known for, are refused in one sentence and leave nothing."""
    refused(here("exchangers=tubes", *words), sentence)
    assert not list(here.folder.iterdir())


def test_a_search_with_tubes_tells_ranges_and_sources(here):
    """Tubes come to the tables with the ranges they leave, the fluids with the sources of their transport properties."""
    status, _, err = here("exchangers=tubes", *ONE_LEG)
    assert status == 0, err
    (run,) = (here.folder / "results" / "orchard").iterdir()
    for name in ("front.csv", "designs.csv"):
        table = pd.read_csv(run / name, keep_default_na=False)
        assert table["outside_ranges"].str.contains("below|above").any()
        possible = table["possible"].astype(str) == "True"
        assert (pd.to_numeric(table["boiler_tubes_1_length_m"])[possible] > 0).all()
    fluids = read_frame(run / "fluids.csv")
    assert fluids["transport_properties"].str.startswith("liquid viscosity: ").all()
    status, out, err = here("task=inspect", f"design={run / 'front.csv'}", "row=1")
    assert status == 0, err
    for words in (
        "Boiler tubes, length of each",
        "Transport properties, where they come from",
        "liquid viscosity",
    ):
        assert words in out


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["-sc", "query=bash"], "is asked by a shell that completes words"),
        (["--experimental-rerun", "job.pickle"], "would run what its file holds, and is refused"),
        (["--package", "nope"], "--package nope says what part --cfg shows, and runs nothing"),
        (["task=new", "what=scenario", f"file={'x' * 300}.yaml"], "File name too long; give another path"),
        (["scenario=bad\udcff.yaml"], r"scenario=bad\udcff.yaml: it holds bytes that are no UTF-8"),
    ],
    ids=("completion", "rerun", "package", "long", "bytes"),
)
def test_words_that_no_file_could_hold(here, monkeypatch, words, sentence):
    """What the system refuses, or could not write down, is bad input and no defect of the program."""
    monkeypatch.delenv("COMP_LINE", raising=False)
    _, _, err = told = here(*words)
    refused(told, sentence)
    assert len(err) < 300
    assert not list(here.folder.iterdir())


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize(
    "words",
    [
        ("task=fit", "log=pipe.csv", "machine=butane_engine"),
        ("scenario=pipe.csv",),
        ("-cp", "pipe.csv"),
        ("report.own=[results, 'pipe.csv']",),
    ],
)
def test_a_pipe_is_not_waited_for(here, words):
    """What nobody writes into would be waited for without end, and nothing said."""
    os.mkfifo(here.folder / "pipe.csv")
    refused(here(*words), "that is a pipe, and can be read but once")
    assert [path.name for path in here.folder.iterdir()] == ["pipe.csv"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_conditions_may_come_through_a_pipe(here):
    """As from ``conditions=<(...)``, which a shell makes a pipe of: they are read once."""
    machine = yaml.safe_load((CLONE / "configs" / "machine" / "butane_engine.yaml").read_text())
    del machine["speed_rev_per_min"]
    (here.folder / "machine.yaml").write_text(yaml.safe_dump(machine))
    pipe = here.folder / "pipe"
    os.mkfifo(pipe)
    writer = threading.Thread(target=pipe.write_text, args=("speed_rev_per_min\n300\n200\n",))
    writer.start()
    status, out, err = here("task=machine", "machine=machine.yaml", "conditions=pipe")
    writer.join()
    assert status == 0, err
    assert "200" in out


def test_absurd_values_are_judged_and_libraries_stay_silent(tmp_path):
    """A coefficient that no engine has gives a design that breaks limits, told in our words alone."""
    design = f"design={CLONE / 'results' / 'example' / 'front.csv'}"
    done = command(tmp_path, "task=inspect", design, "row=1", "engine.inlet_port_share=1e-12")
    assert done.returncode == 0
    assert "NOT feasible" in done.stdout
    assert done.stderr == ""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no device that is always full")
@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        ("group=space >/dev/full", 2, "explore: no more can be written (No space left on device); make room"),
        ("group=space >&-", 0, ""),
        ("group=spice 2>&-", 2, ""),
    ],
    ids=("full", "no output", "no errors"),
)
def test_output_that_goes_nowhere(tmp_path, words, status, said):
    """A full disk behind a redirection is told in a sentence; a stream that the caller closed is done without."""
    shell = f"{sys.executable} -m explore task=keys {words}"
    environment = os.environ | {"PYTHONPATH": str(CLONE)}
    done = subprocess.run(
        ["sh", "-c", shell], cwd=tmp_path, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == status
    assert done.stdout == ""  # what is said of errors does not go there either
    assert done.stderr.startswith(said)
    assert done.stderr.count("\n") == (1 if said else 0)


def test_a_table_with_a_decimal_comma_is_refused(here):
    """pandas would take the first cell for the line's name and move all others by one column."""
    (here.folder / "own.csv").write_text("fluid,top_temperature_degC\nEthanol,90,5\n", encoding="utf-8")
    refused(here("task=inspect", "design=own.csv", "row=1"), "own.csv", "has 3 cells", "names 2", "not 1,5")
