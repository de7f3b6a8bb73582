"""The campaign's tasks as typed: going on from an archive, working for a database, passwords."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import optuna
import pandas as pd
import pytest

from explore import cli
from explore.config.compose import complete, load_scenario
from explore.config.urls import without_passwords
from tests.command_line import typed

ROOT = Path(__file__).parents[2]
TINY = [
    "search.designs=1200",
    "search.leg_designs=600",
    "search.workers=1",
    "space.fluid=[n-Pentane,Acetone]",
    "engine=constant",  # the quickest: what is tried here knows of no engine, and of no store
    "space.store_mode=[stratified]",
    "report.sheets=10",  # the fewest: each costs as much as some hundred designs
]


@pytest.fixture(scope="module")
def campaign(tmp_path_factory):
    """A tiny campaign in SQLite: its folder, the words that name it, and the run it left."""
    folder = tmp_path_factory.mktemp("campaign")
    words = [*TINY, "search.storage=sqlite:///campaign.db", "search.artifacts=legs"]
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        assert typed(*words) == 0
    (run,) = (folder / "results" / "orchard").iterdir()
    return folder, words, run


def test_a_worker_finds_a_finished_campaign_finished(campaign, monkeypatch, capsys):
    """task=work joins, sees that nothing is left, and leaves no folder behind."""
    folder, words, _ = campaign
    monkeypatch.chdir(folder)
    assert typed("task=work", *words) == 0
    assert "0 legs carried out here" in capsys.readouterr().out
    assert len(list((folder / "results" / "orchard").iterdir())) == 1


JOIN_AGAIN = "explore: stopped; the campaign goes on; join it again with the same command"


def test_sigterm_ends_a_worker_in_good_order_and_says_how_to_go_on(tmp_path):
    """SIGTERM in the middle of a leg: it is finished and handed in, status 130, one sentence, no run folder."""
    words = ["task=work", *TINY, "search.designs=null", "search.seconds=600"]
    child = subprocess.Popen(
        [sys.executable, "-m", "explore", *words, "search.storage=sqlite:///c.db", "search.artifacts=legs"],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    deadline = time.monotonic() + 120.0
    while not any(tmp_path.glob("legs/*")) and time.monotonic() < deadline:
        time.sleep(0.1)
    child.send_signal(signal.SIGTERM)
    out, err = child.communicate(timeout=120)
    assert child.returncode == 130, err
    assert err == f"{JOIN_AGAIN}\n"
    done = int(out.split(" legs carried out here")[0].split()[-1])
    assert done >= 1
    study = optuna.load_study(study_name=None, storage=f"sqlite:///{tmp_path}/c.db")
    states = [trial.state.name for trial in study.trials if trial.state.name != "WAITING"]
    assert states == ["COMPLETE"] * done
    assert not (tmp_path / "results").exists()


@pytest.mark.parametrize("times", [1, 2])
def test_sigterm_before_a_worker_s_first_leg_or_twice_says_the_same(tmp_path, monkeypatch, capfd, times):
    """While the model is made, and again while the legs in flight are finished: status 130, the same sentence."""
    before = signal.getsignal(signal.SIGTERM)

    def ended(*arguments):
        for _ in range(times):
            os.kill(os.getpid(), signal.SIGTERM)
        pytest.fail("it went on")

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("explore.search.run.model" if times == 1 else "explore.search.hunt.Hunt.run", ended)
    words = ["task=work", *TINY, "search.storage=sqlite:///c.db", "search.artifacts=legs"]
    monkeypatch.setattr(sys, "argv", ["explore", *words])
    assert cli.main() == 130
    assert capfd.readouterr().err.splitlines()[-1] == JOIN_AGAIN
    assert signal.getsignal(signal.SIGTERM) is before


def test_a_worker_stopped_while_the_database_is_away_says_both(tmp_path, monkeypatch, capfd):
    """Legs that wait for the database are told of, and the status is still 130."""

    def stopped(case, *, evaluator, progress, stopped):
        stopped("2 legs wait in legs")
        return 2

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("explore.search.work", stopped)
    monkeypatch.setattr(sys, "argv", ["explore", "task=work", "search.storage=sqlite:///c.db"])
    assert cli.main() == 130
    assert capfd.readouterr().err == f"{JOIN_AGAIN}; 2 legs wait in legs\n"


def test_a_run_is_repriced_into_a_run_of_its_own(campaign, monkeypatch, capsys):
    """An engine dearer by 860 EUR a stage costs 860 EUR a stage more, and its share of fittings; nothing is searched."""
    folder, _, run = campaign
    costs = load_scenario(run).costs
    monkeypatch.chdir(folder)
    assert typed("task=reprice", f"run={run.relative_to(folder)}", "costs.engine_EUR_per_stage=1260") == 0
    assert "Nothing was searched anew" in " ".join(capsys.readouterr().out.split())
    (new,) = set((folder / "results" / "orchard").iterdir()) - {run}
    before, after = pd.read_csv(run / "designs.csv"), pd.read_csv(new / "designs.csv")
    rise = (after["cost_EUR"] - before["cost_EUR"]) / before["stages"]
    asked = (1260.0 - costs.engine_EUR_per_stage) * (1.0 + costs.fittings_fraction)
    assert asked == pytest.approx(860.0 * 1.1)
    possible = before["possible"].to_numpy(bool)
    assert (possible == after["possible"]).all()
    assert rise[possible].to_numpy() == pytest.approx(asked, abs=0.01)
    assert rise[~possible].isna().all()  # what cannot be has no bill
    summary = json.loads((new / "summary.json").read_text())
    assert summary["stop_reason"] == "repriced"
    assert "nothing was searched anew" in (new / "report.html").read_text(encoding="utf-8")


def test_a_password_is_neither_stored_nor_shown():
    """The configuration a run keeps, and the command on record, name the database without its password."""
    case = load_scenario("orchard", ["search.storage='postgresql+psycopg://me:p@ss/w@host/db'"])
    assert complete(case)["search"]["storage"] == "postgresql+psycopg://me@host/db"
    assert without_passwords("explore search.storage=mysql://me:pw@h/d x=1") == (
        "explore search.storage=mysql://me@h/d x=1"
    )
    assert without_passwords("results/a:b@c sqlite:///x.db") == "results/a:b@c sqlite:///x.db"
