"""The campaign's tasks as typed: going on from an archive, working for a database, passwords."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

from explore.config.compose import complete, load_scenario
from explore.config.urls import without_passwords

ROOT = Path(__file__).parents[2]
TINY = [
    "search.designs=1200",
    "search.leg_designs=600",
    "search.workers=1",
    "space.fluid=[n-Pentane,Acetone]",
]


def explore(folder: Path, *words: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "explore", *words],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def campaign(tmp_path_factory):
    """A tiny campaign in SQLite: its folder, the words that name it, and the run it left."""
    folder = tmp_path_factory.mktemp("campaign")
    words = [*TINY, "search.storage=sqlite:///campaign.db", "search.artifacts=legs"]
    explore(folder, *words)
    (run,) = (folder / "results" / "orchard").iterdir()
    return folder, words, run


def test_a_worker_finds_a_finished_campaign_finished(campaign):
    """task=work joins, sees that nothing is left, and leaves no folder behind."""
    folder, words, _ = campaign
    assert "0 legs carried out here" in explore(folder, "task=work", *words)
    assert len(list((folder / "results" / "orchard").iterdir())) == 1


def test_a_run_is_repriced_into_a_run_of_its_own(campaign):
    """An engine dearer by 860 EUR a stage costs 860 EUR a stage more, and its share of fittings; nothing is searched."""
    folder, _, run = campaign
    costs = load_scenario(run).costs
    said = explore(
        folder, "task=reprice", f"run={run.relative_to(folder)}", "costs.engine_EUR_per_stage=1260"
    )
    assert "Nothing was searched anew" in " ".join(said.split())
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
