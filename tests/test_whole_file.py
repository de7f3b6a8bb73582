"""Files are written whole or not at all, and what killed writers leave is cleared away."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from explore import cache
from explore.fluids import tables
from explore.run.files import UnwritableError, write_text
from explore.search import optimise
from explore.search.storage import LEGS
from explore.verify import memory
from explore.whole_file import LONGEST_NAME, clean, part_of, replacing, write_whole
from tests.search.toy import ToyEvaluator, toy_case

ROOT = Path(__file__).parents[1]
KILLED = """
import os, signal, sys
from pathlib import Path
from explore import whole_file
os.replace = lambda *_: os.kill(os.getpid(), signal.SIGKILL)
whole_file.write_whole(Path(sys.argv[1]), b"new")
"""
ALIVE = """
import sys
from pathlib import Path
from explore.whole_file import replacing
with replacing(Path(sys.argv[1])) as file:
    file.write(b"new")
    file.flush()
    print("writing", flush=True)
    sys.stdin.readline()
"""


def writer(program, path, **streams):
    """A process of its own that writes ``path``."""
    env = os.environ | {"PYTHONPATH": str(ROOT)}
    return subprocess.Popen([sys.executable, "-c", program, str(path)], env=env, text=True, **streams)


def killed(path):
    """Kill a writer of ``path`` between the last byte and the renaming; returns what it left."""
    child = writer(KILLED, path)
    assert child.wait(timeout=60) == -signal.SIGKILL
    left = path.with_name(f".{path.name}.{child.pid}.part")
    assert left.read_bytes() == b"new"
    return left


def start_search(folder):
    """Begin, or go on with, a search in ``folder``."""
    optimise(toy_case(designs=500), evaluator=ToyEvaluator, run_folder=folder)


STARTS = {
    "run": (lambda folder: folder, start_search),
    "legs": (lambda folder: folder / LEGS, start_search),
    "tables": (lambda folder: folder, lambda folder: tables.load("Water", folder)),
    "checks": (lambda folder: folder, memory.remembered),
}


@pytest.mark.parametrize("start", STARTS)
def test_a_killed_writer_leaves_the_old_file_and_its_part_goes_at_the_next_start(
    tmp_path, monkeypatch, start
):
    """Killed before the renaming: the old file is whole; a resumed run, the table cache and the checks clear it away."""
    monkeypatch.setattr(tables, "build", lambda name: tables.FluidTables(*[np.zeros(1)] * 7))
    monkeypatch.setattr(memory, "run", lambda: type("Rows", (), {"to_json": lambda *_, orient: "[]"})())
    place, begin = STARTS[start]
    place(tmp_path).mkdir(exist_ok=True)
    path = place(tmp_path) / "front.csv"
    path.write_bytes(b"old")
    left = killed(path)
    assert path.read_bytes() == b"old"
    begin(tmp_path)
    assert not left.exists()
    assert path.read_bytes() == b"old"


def test_the_part_of_a_living_process_is_left_alone(tmp_path):
    """Cleaning goes by the writer's life; the file then appears whole."""
    path = tmp_path / "front.csv"
    child = writer(ALIVE, path, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert child.stdout.readline() == "writing\n"
    clean(tmp_path)
    assert (tmp_path / f".front.csv.{child.pid}.part").read_bytes() == b"new"
    child.communicate("go on\n", timeout=60)
    assert child.returncode == 0
    assert path.read_bytes() == b"new"
    assert os.listdir(tmp_path) == ["front.csv"]


def test_a_process_knows_its_own_parts_from_those_of_an_earlier_one_of_its_number(tmp_path):
    """In a container each run may have the same number: what this process is not writing is left over."""
    left = part_of(tmp_path / "left.csv")
    left.write_bytes(b"half")
    with replacing(tmp_path / "now.csv") as file:
        file.write(b"whole")
        clean(tmp_path)
    assert os.listdir(tmp_path) == ["now.csv"]


def test_cleaning_takes_nothing_else(tmp_path):
    """Other hidden files, folders and names that are no part stay; a folder that is missing is no error."""
    names = [".notes.part", ".a.12x.part", "a.99999999.part", ".a.99999999.part.txt"]
    for name in names:
        (tmp_path / name).write_text("")
    (tmp_path / ".folder.99999999.part").mkdir()
    clean(tmp_path)
    assert sorted(os.listdir(tmp_path)) == sorted([*names, ".folder.99999999.part"])
    clean(tmp_path / "none")


@pytest.mark.parametrize("name", ["x" * LONGEST_NAME, "ü" * (LONGEST_NAME // 2)])
def test_the_longest_names_can_be_written(tmp_path, name):
    """The name of the unfinished file is cut to what the file system takes."""
    path = tmp_path / name
    assert len(os.fsencode(part_of(path).name)) <= LONGEST_NAME
    write_whole(path, b"whole")
    assert os.listdir(tmp_path) == [name]


def test_errors_stay_those_of_each_writer(tmp_path, monkeypatch):
    """A full disk: results are refused in a sentence, caches are done without, nothing is left."""

    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    (tmp_path / "front.csv").write_text("old")
    with pytest.raises(UnwritableError, match=r"front\.csv: No space left on device"):
        write_text(tmp_path / "front.csv", "new")
    cache.store(tmp_path / "Water.npz", {"line": np.zeros(3)})
    with pytest.raises(OSError, match="No space left"):
        write_whole(tmp_path / "leg.npz", b"leg")
    assert os.listdir(tmp_path) == ["front.csv"]
    assert (tmp_path / "front.csv").read_text() == "old"
