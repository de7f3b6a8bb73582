"""Workers that die, that come of a process which died, and that end with the search."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pytest

from explore.search.crew import ATTEMPTS, LegError, all_done, crew_of
from explore.search.nursery import Nursery
from tests.doubt.toy import kit, model

divides = pytest.mark.skipif(not Nursery.possible(), reason="this system divides no processes")


@dataclass(frozen=True)
class Number:
    """Gives its number and that of its process; before, it kills that process unless the file is there."""

    number: int
    marker: str = ""
    lives: bool = True

    def carried_out(self, _model) -> tuple[int, int]:
        """Do so."""
        if self.marker and not Path(self.marker).exists():
            if self.lives:
                Path(self.marker).touch()
            os.kill(os.getpid(), signal.SIGKILL)
        return self.number, os.getpid()


@dataclass(frozen=True)
class Forever:
    """Says that it has begun, and comes to no end."""

    marker: str

    def carried_out(self, _model) -> None:
        """Wait."""
        Path(self.marker).write_text(str(os.getpid()))
        time.sleep(600.0)


@pytest.fixture(params=[True, False], ids=["divided", "started"])
def crew(request, monkeypatch):
    """A crew of two, by either way to a worker."""
    if request.param and not Nursery.possible():
        pytest.skip("this system divides no processes")
    monkeypatch.setattr(Nursery, "possible", staticmethod(lambda: request.param))
    with crew_of(2, kit(), lambda: model(None)) as engaged:
        yield engaged


def numbers(crew, tasks):
    """What tasks gave, without their processes."""
    return [number for number, _ in all_done(crew, tasks)]


def lives(pid):
    """Whether a process is there and no corpse."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def test_two_processes_do_all(crew):
    done = all_done(crew, [Number(n) for n in range(20)])
    assert [number for number, _ in done] == list(range(20))
    assert len({pid for _, pid in done} - {os.getpid()}) == 2


def test_one_that_dies_by_chance_is_made_anew_and_does_its_task(crew, tmp_path):
    tasks = [Number(n, str(tmp_path / str(n))) for n in range(3)]
    assert numbers(crew, tasks) == [0, 1, 2]
    assert numbers(crew, tasks) == [0, 1, 2]


def test_one_that_dies_of_its_task_is_told(crew, tmp_path):
    with pytest.raises(LegError, match=f"died {ATTEMPTS} times"):
        all_done(crew, [Number(1, str(tmp_path / "never"), lives=False)])
    assert numbers(crew, [Number(n) for n in range(4)]) == [0, 1, 2, 3]


@divides
def test_the_process_that_makes_workers_may_die_too(tmp_path):
    with crew_of(2, kit(), lambda: model(None)) as crew:
        assert numbers(crew, [Number(0), Number(1)]) == [0, 1]
        os.kill(crew._nursery._process.pid, signal.SIGKILL)
        crew._nursery._process.wait()
        tasks = [Number(n, str(tmp_path / str(n))) for n in range(2)]
        assert numbers(crew, tasks) == [0, 1]


def test_all_end_with_the_crew_whatever_they_do(crew, tmp_path):
    markers = [tmp_path / str(n) for n in range(2)]
    for place, marker in enumerate(markers):
        crew.submit(place, Forever(str(marker)))
    until = time.monotonic() + 60.0
    while not all(marker.exists() and marker.read_text() for marker in markers):
        assert time.monotonic() < until
        time.sleep(0.02)
    pids = [int(marker.read_text()) for marker in markers]
    assert all(map(lives, pids))
    crew.close()
    assert not any(map(lives, pids))


@divides
def test_none_outlives_the_process_that_asked(tmp_path):
    script = tmp_path / "asks.py"
    script.write_text(
        "import os, signal, sys\n"
        "from explore.search.crew import all_done, crew_of\n"
        "from tests.doubt.toy import kit, model\n"
        "from tests.search.test_crew import Number\n"
        "with crew_of(2, kit(), lambda: model(None)) as crew:\n"
        "    pids = {pid for _, pid in all_done(crew, [Number(n) for n in range(8)])}\n"
        "    print(*pids, crew._nursery._process.pid, flush=True)\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    path = os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    done = subprocess.run([sys.executable, script], env=path, capture_output=True, text=True, check=False)
    assert done.returncode == -signal.SIGKILL, done.stderr
    pids = [int(word) for word in done.stdout.split()]
    assert len(pids) == 3
    until = time.monotonic() + 20.0
    while any(map(lives, pids)):
        assert time.monotonic() < until
        time.sleep(0.02)


@pytest.fixture
def elsewhere(tmp_path, monkeypatch):
    """A folder to work in that has another program of this one's name in it."""
    (tmp_path / "explore").mkdir()
    (tmp_path / "explore" / "__init__.py").write_text("raise RuntimeError('another program')\n")
    monkeypatch.chdir(tmp_path)


def test_workers_have_the_modules_of_the_process_that_asked(elsewhere, crew):
    assert numbers(crew, [Number(0), Number(1)]) == [0, 1]
