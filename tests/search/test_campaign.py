"""The campaign's storage: resuming, crashes, torn files, foreign folders."""

from __future__ import annotations

import io
import json
import logging
import os
import shutil
import signal
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import numpy as np
import pytest

from explore.errors import InputError
from explore.search import optimise
from explore.search.campaign import next_focus
from explore.search.files import Shelf, TornError, pack, unpack
from explore.search.journal import mend
from explore.search.ledger import Ledger
from explore.search.storage import JOURNAL, LEGS
from tests.search.toy import SlowEvaluator, ToyEvaluator, toy_case

ROOT = Path(__file__).parents[2]
SETTINGS = {"designs": 6000, "leg_designs": 500, "legs_per_round": 4, "archive_designs": 1000}
CHILD = """
import sys
from pathlib import Path
from explore.search import optimise
from tests.search.toy import SlowEvaluator, toy_case
settings = {settings!r}
optimise(toy_case(**settings), evaluator=SlowEvaluator, run_folder=Path(sys.argv[1]))
"""

# Half a file, or half a record, and then the power fails: by the call at which it does.
TORN_LEG = """
import os, signal
count = [0]
whole = os.fsync
def tear(handle):
    name = os.readlink(f"/proc/self/fd/{{handle}}")
    if name.endswith(".part"):
        count[0] += 1
        if count[0] > {call}:
            os.ftruncate(handle, os.fstat(handle).st_size // 2)
            os.kill(os.getpid(), signal.SIGKILL)
    whole(handle)
os.fsync = tear
"""
TORN_RECORD = """
import os, signal
from optuna.storages.journal import JournalFileBackend
count = [0]
append = JournalFileBackend.append_logs
def tear(self, logs):
    append(self, logs)
    count[0] += 1
    if count[0] > {call}:
        os.truncate(self._file_path, os.path.getsize(self._file_path) - 12)
        os.kill(os.getpid(), signal.SIGKILL)
JournalFileBackend.append_logs = tear
"""


@pytest.fixture(scope="module")
def uninterrupted():
    return optimise(toy_case(**SETTINGS), evaluator=ToyEvaluator)


def test_a_run_in_a_folder_finds_what_a_run_in_memory_finds(tmp_path, uninterrupted):
    """Storing changes nothing; one file per leg is left."""
    found = optimise(toy_case(**SETTINGS), evaluator=ToyEvaluator, run_folder=tmp_path)
    assert found.front.equals(uninterrupted.front)
    assert len(list((tmp_path / LEGS).iterdir())) == 12


def test_a_resumed_run_equals_an_uninterrupted_one(tmp_path, uninterrupted):
    """A third of the budget, then the rest from the folder: the same front, counts and history."""
    optimise(toy_case(**SETTINGS | {"designs": 2000}), evaluator=ToyEvaluator, run_folder=tmp_path)
    found = optimise(toy_case(**SETTINGS), evaluator=ToyEvaluator, run_folder=tmp_path)
    assert found.front.equals(uninterrupted.front)
    assert found.evaluated == uninterrupted.evaluated
    assert [m.hypervolume for m in found.history] == [m.hypervolume for m in uninterrupted.history]


def test_resuming_in_the_middle_of_a_round_equals_an_uninterrupted_run(tmp_path, uninterrupted):
    """Legs of an unfinished round are taken from their files, the others done from the same archive."""

    class StoppedError(Exception):
        pass

    def stop(progress):
        if progress.legs == 6:
            raise StoppedError

    with pytest.raises(StoppedError):
        optimise(toy_case(**SETTINGS), evaluator=ToyEvaluator, run_folder=tmp_path, progress=stop)
    found = optimise(toy_case(**SETTINGS), evaluator=ToyEvaluator, run_folder=tmp_path)
    assert found.front.equals(uninterrupted.front)
    assert found.evaluated == uninterrupted.evaluated


def test_a_torn_last_record_and_torn_or_missing_legs_are_reported_and_repaired(
    tmp_path, uninterrupted, caplog
):
    """What a power cut can leave is cut off or done again, and the result is the same."""
    optimise(toy_case(**SETTINGS | {"designs": 4000}), evaluator=ToyEvaluator, run_folder=tmp_path)
    with (tmp_path / JOURNAL).open("ab") as file:
        file.write(b'{"op_code": 4, "wor')
    legs = sorted((tmp_path / LEGS).iterdir())
    legs[1].write_bytes(legs[1].read_bytes()[:1000])
    legs[2].unlink()
    with caplog.at_level(logging.WARNING, "explore.search"):
        found = optimise(toy_case(**SETTINGS), evaluator=ToyEvaluator, run_folder=tmp_path)
    assert "torn record" in caplog.text
    assert caplog.text.count("is done again") == 2
    assert found.front.equals(uninterrupted.front)
    assert found.evaluated == uninterrupted.evaluated


def test_a_folder_of_something_else_is_refused(tmp_path):
    """Another space, another cost: one sentence that names what changed, and nothing lost."""
    small = SETTINGS | {"designs": 1000}
    optimise(toy_case(**small), evaluator=ToyEvaluator, run_folder=tmp_path)
    before = (tmp_path / JOURNAL).read_bytes()
    with pytest.raises(InputError, match="the space changed"):
        optimise(toy_case({"stages": 1}, **small), evaluator=ToyEvaluator, run_folder=tmp_path)
    case = toy_case(**small)
    dearer = case.model_copy(update={"costs": case.costs.model_copy(update={"interest_rate": 0.09})})
    with pytest.raises(InputError, match="the costs changed"):
        optimise(dearer, evaluator=ToyEvaluator, run_folder=tmp_path)
    assert (tmp_path / JOURNAL).read_bytes().startswith(before)


def test_a_folder_in_use_is_refused(tmp_path):
    """Two searches cannot write into one folder."""
    held: list[str] = []

    def second(progress):
        with pytest.raises(InputError, match="another process") as error:
            optimise(toy_case(**SETTINGS), evaluator=ToyEvaluator, run_folder=tmp_path)
        held.append(str(error.value))

    small = toy_case(**SETTINGS | {"designs": 500})
    optimise(small, evaluator=ToyEvaluator, run_folder=tmp_path, progress=second)
    assert held


def test_a_folder_that_vanishes_does_not_end_the_search(tmp_path, uninterrupted, caplog):
    """The search goes on in memory, says so, and finds the same."""
    folder = tmp_path / "run"
    folder.mkdir()

    def vanish(progress):
        if progress.legs == 3:
            shutil.rmtree(folder)

    with caplog.at_level(logging.ERROR, "explore.search"):
        found = optimise(toy_case(**SETTINGS), evaluator=ToyEvaluator, run_folder=folder, progress=vanish)
    assert "went on in memory" in found.trouble
    assert "could not be stored" in caplog.text
    assert found.front.equals(uninterrupted.front)


def test_a_full_disk_does_not_end_the_search(tmp_path, uninterrupted, monkeypatch):
    """When the designs of a leg cannot be written the search goes on in memory and finds the same."""
    written = []

    def write(self, artifact_id, content_body):
        written.append(artifact_id)
        if len(written) > 2:
            raise OSError(28, "No space left on device")
        original(self, artifact_id, content_body)

    original = Shelf.write
    monkeypatch.setattr(Shelf, "write", write)
    found = optimise(toy_case(**SETTINGS), evaluator=ToyEvaluator, run_folder=tmp_path)
    assert "No space left on device" in found.trouble
    assert found.front.equals(uninterrupted.front)


def _start(folder: Path, prelude: str = "") -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-c", prelude + CHILD.format(settings=SETTINGS), str(folder)],
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )


def _ended_after(folder: Path, seconds: float, number: int) -> None:
    child = _start(folder)
    deadline = time.monotonic() + 60.0
    while not (folder / JOURNAL).exists() and time.monotonic() < deadline:
        time.sleep(0.02)
    time.sleep(seconds)
    child.send_signal(number)
    child.wait()


def _resumed(folder):
    return optimise(toy_case(**SETTINGS), evaluator=SlowEvaluator, run_folder=folder)


MOMENTS = 20 if os.environ.get("EXPLORE_ALL_CRASHES") else 6
WRITES = 10 if os.environ.get("EXPLORE_ALL_CRASHES") else 4


@pytest.mark.parametrize("seconds", np.linspace(0.02, 0.9, MOMENTS).round(3).tolist())
def test_kill_at_any_moment_loses_at_most_the_legs_in_flight(tmp_path, uninterrupted, seconds):
    """A search killed with SIGKILL and resumed finds what an uninterrupted one finds."""
    _ended_after(tmp_path, seconds, signal.SIGKILL)
    found = _resumed(tmp_path)
    assert found.front.equals(uninterrupted.front)
    assert found.evaluated == uninterrupted.evaluated


@pytest.mark.parametrize("place", range(WRITES))
def test_kill_inside_a_write_loses_at_most_the_legs_in_flight(tmp_path, uninterrupted, place):
    """Killed half-way through writing a leg's file, or a record of the journal: the same front."""
    target, call = (TORN_LEG, place // 2) if place % 2 else (TORN_RECORD, 7 * place + 9)
    child = _start(tmp_path, target.format(call=call))
    assert child.wait() == -signal.SIGKILL
    assert list(tmp_path.rglob("*.part")) or not (tmp_path / JOURNAL).read_bytes().endswith(b"\n")
    found = _resumed(tmp_path)
    assert found.front.equals(uninterrupted.front)
    assert found.evaluated == uninterrupted.evaluated


def test_ctrl_c_finishes_the_leg_and_keeps_what_was_found(tmp_path):
    """SIGINT ends a search in good order: exit status 0 and legs on disk that can be continued."""
    _ended_after(tmp_path, 0.3, signal.SIGINT)
    before = len(list((tmp_path / LEGS).iterdir()))
    assert before >= 1
    assert _resumed(tmp_path).legs == 12


def test_a_leg_survives_its_file_bit_for_bit_and_a_damaged_file_is_noticed(tmp_path):
    """What is read back is what was written; any flipped byte in the arrays raises TornError."""
    optimise(toy_case(**SETTINGS | {"designs": 500}), evaluator=ToyEvaluator, run_folder=tmp_path)
    content = next((tmp_path / LEGS).iterdir()).read_bytes()
    result = unpack(content)
    again = unpack(pack(result))
    assert np.array_equal(again.known.genes.unit, result.known.genes.unit)
    assert again.tally == result.tally
    middle = len(content) // 2
    with pytest.raises(TornError):
        unpack(content[:middle] + bytes([content[middle] ^ 1]) + content[middle + 1 :])


def part(name, header, data=b""):
    """An array of a leg's file that says of itself what ``header`` says."""
    text = header.encode().ljust(118) + b"\n"
    return f"{name}.npy", b"\x93NUMPY\x01\x00" + len(text).to_bytes(2, "little") + text + data


def plain(shape, kind="<f8"):
    """The header of an array."""
    return f"{{'descr': '{kind}', 'fortran_order': False, 'shape': {shape}, }}"


@pytest.mark.parametrize(
    ("replaced", "packing"),
    [
        (part("unit", plain("(10000000000000,)")), zipfile.ZIP_STORED),
        (part("unit", plain("(-1, 4)")), zipfile.ZIP_STORED),
        (part("unit", plain("(1,)", "|O"), b"cos\nsystem\n(S'false'\ntR."), zipfile.ZIP_STORED),
        (part("facts", plain("(200000,)", "|u1"), b"[" * 200000), zipfile.ZIP_STORED),
        (part("facts", plain("(2,)", "|u1"), b"[]"), zipfile.ZIP_STORED),
        (part("values", plain("(50000000,)"), bytes(8)), zipfile.ZIP_DEFLATED),
        (part("values", plain("(50000000,)"), bytes(8)), zipfile.ZIP_LZMA),
    ],
    ids=["of 80 TB", "of less than nothing", "objects", "deep", "of no facts", "packed", "packed otherwise"],
)
def test_a_leg_that_somebody_else_wrote_is_torn_and_nothing_more(tmp_path, replaced, packing):
    """Whatever its arrays say of themselves: it is no leg, and neither memory nor recursion ends the search."""
    optimise(toy_case(**SETTINGS | {"designs": 500}), evaluator=ToyEvaluator, run_folder=tmp_path)
    with zipfile.ZipFile(next((tmp_path / LEGS).iterdir())) as leg:
        parts = {name: leg.read(name) for name in leg.namelist()}
    name, content = replaced
    assert name in parts
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", packing) as leg:
        for one, data in (parts | {name: content}).items():
            leg.writestr(one, data)
    with pytest.raises(TornError):
        unpack(made.getvalue())


def test_mending_leaves_a_whole_journal_alone(tmp_path):
    """Only a torn end is cut, and what is cut is kept."""
    journal = tmp_path / JOURNAL
    first, second = (
        json.dumps({"op_code": 0, "worker_id": "w", "study_name": name, "directions": [2]}).encode() + b"\n"
        for name in ("one", "two")
    )
    journal.write_bytes(first + second)
    assert mend(journal) == {"one", "two"}
    assert journal.read_bytes() == first + second
    assert os.listdir(tmp_path) == [JOURNAL]
    for number, torn in enumerate((second[:-2], b"\0" * 40, b"[1]\n"), 1):
        journal.write_bytes(first + torn)
        assert mend(journal) == {"one"}
        assert journal.read_bytes() == first
        assert (tmp_path / f"{JOURNAL}.cut-{number}").read_bytes() == torn


def test_the_next_leg_goes_to_the_focus_that_gains_and_tries_each_of_them():
    """Great gains draw legs; what was never tried gets its turn as the rest dries up."""
    options = ["front", "A", "B"]
    choose = next_focus
    assert choose(options, [], []) == "front"
    assert choose(options, [("front", 1.0), ("A", 0.1), ("B", 0.1)], []) == "front"
    assert choose(options, [("front", 0.01)] * 5 + [("A", 0.1)], []) == "A"
    assert choose(options, [("front", 1.0)] * 9 + [("front", 1e-9)] * 60, []) != "front"


def test_an_older_gain_counts_half_of_the_next():
    """A focus that gained 1 and then 0.2 stands at 0.6: behind one at 0.65, before one at 0.55, both tried as often."""
    past = [("A", 1.0), ("A", 0.2)]
    assert next_focus(["A", "B"], [*past, ("B", 0.65), ("B", 0.65)], []) == "B"
    assert next_focus(["A", "B"], [*past, ("B", 0.55), ("B", 0.55)], []) == "A"


def test_what_was_never_tried_waits_for_some_sixty_legs():
    """B's turn comes when half of A's steady gain times sqrt(ln(1 + legs)) passes that gain: after e^4 legs, and a few."""
    assert next_focus(["A", "B"], [("A", 0.2)] * 55, []) == "A"
    assert next_focus(["A", "B"], [("A", 0.2)] * 70, []) == "B"


def test_a_campaign_is_an_optuna_study_of_legs():
    """Each leg is a trial with its focus as parameter and its gain as value."""
    from explore.design.space import Space
    from explore.search.crew import Alone, Kit
    from explore.search.hunt import Hunt

    case = toy_case(designs=2000)
    space = Space.from_case(case)
    ledger = Ledger.in_memory(space.fluids)
    kit = Kit(case, space, ToyEvaluator)
    Hunt(case, space, ledger).run(Alone(kit, lambda: ToyEvaluator(case)), None)
    trials = ledger.study.trials
    assert [t.user_attrs["leg"] for t in trials] == [0, 1, 2, 3]
    assert all(t.state.name == "COMPLETE" and "focus" in t.params for t in trials)
    assert trials[0].value > 0.0
