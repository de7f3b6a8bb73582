"""What is made before designs are: for the fluids that are asked for and no more, in two processes."""

from __future__ import annotations

import os
import signal
import sys

import numpy as np
import pytest

import explore
from explore.fluids import tables
from explore.model import Evaluator, ahead

FLUIDS = ["n-Butane", "n-Pentane"]
OTHER = "R134a"


@pytest.fixture
def shelf(tmp_path, monkeypatch):
    """An empty folder of kept files; what the session has in memory is none of its."""
    monkeypatch.setenv("EXPLORE_CACHE", str(tmp_path / "kept"))
    return tmp_path / "kept"


def few():
    """A case of two fluids."""
    return explore.load_scenario("orchard", [f"scenario.fluids=[{','.join(FLUIDS)}]"])


def kept(folder, name):
    """Whether a folder holds a fluid's tables."""
    return (folder / f"{tables.cache_key(name)}.npz").exists()


def test_tables_are_made_of_the_fluids_that_the_scenario_lists(shelf):
    explore.evaluate(explore.new_design(fluid=FLUIDS[0]), few())
    assert [kept(shelf, name) for name in (*FLUIDS, OTHER)] == [True, True, False]


def test_designs_on_other_fluids_have_the_same_figures(evaluator, designs):
    columns = designs(80)
    own = Evaluator(few())
    listed = {key: value[np.isin(columns["fluid"], FLUIDS)] for key, value in columns.items()}
    assert 0 < len(listed["fluid"]) < 80
    for asked in (columns, listed):
        there, here = evaluator.evaluate(asked), own.evaluate(asked)
        for name in ("work_per_litre_kJ", "cost_EUR", "peak_pressure_bar_g", "served_share"):
            np.testing.assert_array_equal(here[name], there[name])


def test_a_second_process_makes_what_designs_ask_for(shelf, monkeypatch):
    with ahead.made_ahead(few()):
        pass
    assert all(kept(shelf, name) for name in FLUIDS)
    assert not kept(shelf, OTHER)
    for made in ("tables.build", "water._build", "fault._computed"):
        monkeypatch.setattr(f"explore.fluids.{made}", lambda *_: pytest.fail("made a second time"))
    Evaluator(few()).prepare()


def test_where_all_is_there_no_process_is_started(shelf, monkeypatch):
    for name in FLUIDS[1:]:
        tables.load(name)
    monkeypatch.setattr(ahead.subprocess, "Popen", lambda *_, **__: pytest.fail("started"))
    with ahead.made_ahead(few()):  # the one that is lacking is made as quickly here
        pass


def test_nothing_depends_on_the_second_process(shelf, monkeypatch):
    monkeypatch.setattr(sys, "executable", str(shelf / "no such program"))
    with ahead.made_ahead(few()):
        pass
    assert not any(kept(shelf, name) for name in FLUIDS)
    monkeypatch.undo()


def test_it_ends_with_the_search(shelf, monkeypatch):
    begun = []
    start = ahead.subprocess.Popen
    monkeypatch.setattr(
        ahead.subprocess, "Popen", lambda *words, **how: begun.append(start(*words, **how)) or begun[0]
    )
    with pytest.raises(KeyboardInterrupt), ahead.made_ahead(few()):
        raise KeyboardInterrupt
    assert begun[0].returncode == -signal.SIGKILL
    with pytest.raises(ProcessLookupError):
        os.kill(begun[0].pid, 0)
