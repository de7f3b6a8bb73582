"""A run's folder: claimed first, written whole, read back."""

from __future__ import annotations

import itertools
import json
import logging
import os
import warnings
from datetime import UTC, datetime

import numpy as np
import pandas as pd
import pytest

from explore.config.compose import compose_case
from explore.errors import InputError
from explore.run import folder as runs
from explore.run import reader
from explore.run.files import digest, read_frame, write_bytes, write_frame, write_json, write_text

MOMENT = datetime(2026, 1, 2, 3, 4, 5, tzinfo=UTC)


@pytest.fixture(scope="module")
def default_case():
    """The default case, composed once."""
    return compose_case()


@pytest.fixture
def case(default_case, tmp_path):
    """The default case with its results in a folder of the test."""
    return default_case.model_copy(update={"results_folder": str(tmp_path / "results")})


def named(case, name):
    """Return the case with a scenario of another name."""
    return case.model_copy(update={"scenario": case.scenario.model_copy(update={"name": name})})


def test_folder_is_named_by_scenario_and_utc_time_without_colons(case, tmp_path):
    """The name sorts by time and is legal on every file system."""
    assert runs.claim(case, now=MOMENT) == tmp_path / "results" / "orchard" / "2026-01-02T030405Z"


def test_two_runs_of_one_second_have_two_folders(case):
    """No run ever writes into another's folder."""
    first, second = runs.claim(case, now=MOMENT), runs.claim(case, now=MOMENT)
    assert (first.name, second.name) == ("2026-01-02T030405Z", "2026-01-02T030405Z-2")


@pytest.mark.parametrize("name", ["../../elsewhere", "a/b", "..", "tea & cake"])
def test_scenario_names_cannot_leave_the_results_folder(case, tmp_path, name):
    """A name with slashes or dots becomes one plain folder name."""
    folder = runs.claim(named(case, name), now=MOMENT)
    assert folder.resolve().parents[1] == tmp_path / "results"


def test_results_folder_that_is_a_file_is_refused(case, tmp_path):
    """The refusal names the setting and the reason."""
    (tmp_path / "results").write_text("in the way")
    with pytest.raises(InputError, match=r"results_folder=.*cannot write there"):
        runs.claim(case)
    assert (tmp_path / "results").read_text() == "in the way"


def test_bad_input_leaves_no_folder(case, tmp_path):
    """A run refused after its folder was claimed takes with it all folders that were made for it."""
    with pytest.raises(InputError), runs.claimed(case):
        raise InputError("no")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("name", "kept"), [("a-leg", True), (".a-leg.7.part", False)])
def test_bad_input_after_a_leg_keeps_it(case, tmp_path, name, kept):
    """A campaign that can be gone on with is not lost; what a killed writer left of a leg is none."""
    with pytest.raises(InputError):
        refused_with(case, f"legs/{name}")
    assert any(tmp_path.rglob("legs")) == kept


def refused_with(case, file):
    """End a run by bad input when its folder holds a file."""
    with runs.claimed(case) as folder:
        write_bytes(folder / file, b"designs")
        raise InputError("nothing feasible")


def test_bad_input_leaves_folders_that_were_there(case, tmp_path):
    """A results folder of the user's own stays, empty or not."""
    (tmp_path / "results").mkdir()
    with pytest.raises(InputError), runs.claimed(case):
        raise InputError("no")
    assert list((tmp_path / "results").iterdir()) == []


def test_a_stopped_run_keeps_a_front_it_has_written(case):
    """Ctrl-C after the results were written does not throw them away."""
    folder = stopped_after_writing(case)
    assert (folder / "front.csv").exists()


def stopped_after_writing(case):
    """Stop a run by Ctrl-C after its front was written, and return its folder."""
    try:
        with runs.claimed(case) as folder:
            write_text(folder / "front.csv", "fluid\n")
            raise KeyboardInterrupt
    except KeyboardInterrupt:
        return folder


def test_a_defect_leaves_its_origin_in_the_log(case):
    """The traceback a user must not see stands in run.log."""
    with pytest.raises(ZeroDivisionError), runs.claimed(case) as folder:
        raise ZeroDivisionError("one over nothing")
    log = (folder / "run.log").read_text()
    assert "Traceback" in log
    assert "one over nothing" in log


def test_warnings_go_to_the_log_and_not_to_the_terminal(case, capfd):
    """Python warnings and log records of a run are kept in run.log."""
    with runs.claimed(case) as folder, warnings.catch_warnings():
        warnings.simplefilter("always")
        warnings.warn("lukewarm", stacklevel=1)
        logging.getLogger("explore.search").info("a leg")
    log = (folder / "run.log").read_text()
    assert "lukewarm" in log
    assert "a leg" in log
    assert capfd.readouterr().err == ""


def test_an_interrupted_write_leaves_the_old_file(tmp_path, monkeypatch):
    """Either the old content or all of the new one stands under the name, and no remains beside it."""
    path = tmp_path / "summary.json"
    write_json(path, {"a": 1})

    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match=r"summary\.json: No space left on device"):
        write_json(path, {"a": 2})
    assert json.loads(path.read_text()) == {"a": 1}
    assert [entry.name for entry in tmp_path.iterdir()] == ["summary.json"]


def test_json_holds_plain_numbers(tmp_path):
    """Numpy numbers become plain; what is not finite becomes null, so that any reader can read it."""
    data = {"a": np.float64(1.5), "b": [np.int64(2), float("nan")], "c": np.array([True, False]), "d": np.inf}
    write_json(tmp_path / "x.json", data)
    found = json.loads((tmp_path / "x.json").read_text(), parse_constant=pytest.fail)
    assert found == {"a": 1.5, "b": [2, None], "c": [True, False], "d": None}


def test_tables_keep_all_digits_of_the_inputs(tmp_path):
    """Inputs come back bit for bit; shortened figures to nine digits, others whole; empty cells stay empty."""
    frame = pd.DataFrame(
        {"fluid": ["a", "b"], "T": [1 / 3, np.nan], "feasible": [True, False], "w": [2 / 3, np.nan]}
    )
    write_frame(tmp_path / "t.csv", frame, shorten_from="feasible")
    assert (tmp_path / "t.csv").read_text().splitlines()[2] == "b,,False,"
    back = read_frame(tmp_path / "t.csv")
    assert back["T"][0] == 1 / 3
    assert back["w"][0] == pytest.approx(2 / 3, rel=1e-8)
    assert back["w"][0] != 2 / 3
    write_frame(tmp_path / "t.csv", frame, shorten_from="feasible", whole={"w"})
    assert read_frame(tmp_path / "t.csv")["w"][0] == 2 / 3
    write_frame(tmp_path / "t.csv", frame)
    pd.testing.assert_frame_equal(read_frame(tmp_path / "t.csv"), frame)


def test_digest_is_sha256(tmp_path):
    """The published check value of the empty message (FIPS 180-4 examples, NIST)."""
    (tmp_path / "empty").write_bytes(b"")
    assert digest(tmp_path / "empty").startswith("e3b0c44298fc1c149afbf4c8996fb924")


def test_reading_what_is_no_run_is_refused(tmp_path):
    """A folder without a configuration is no run; a broken summary is named."""
    with pytest.raises(InputError, match="is no run"):
        reader.read(tmp_path)
    (tmp_path / "summary.json").write_text("{")
    with pytest.raises(InputError, match=r"summary\.json"):
        reader.read_summary(tmp_path)


def test_sheets_are_spread_over_the_front():
    """All lines of a short front; of a long one as many as asked, both ends and the wanted lines among them."""
    from explore.model.details import spread

    assert spread(5, 10) == [1, 2, 3, 4, 5]
    lines = spread(3000, 400, [7, 1234])
    assert {1, 7, 1234, 3000} <= set(lines)
    assert 400 <= len(lines) <= 402
    assert max(b - a for a, b in itertools.pairwise(lines)) <= 8


def test_a_run_of_before_has_the_hours_it_bridges(tmp_path):
    """Where the engine never fades they are those of running; of a mixed store nothing is known."""
    path = tmp_path / "front.csv"
    path.write_text("store_mode,autonomy_hours\nstratified,7.5\nmixed,9\n", encoding="utf-8")
    assert read_frame(path)["bridged_hours"].tolist() == pytest.approx([7.5, np.nan], nan_ok=True)
    path.write_text("store_mode,autonomy_hours,bridged_hours\nmixed,9,6\n", encoding="utf-8")
    assert read_frame(path)["bridged_hours"].tolist() == [6.0]
