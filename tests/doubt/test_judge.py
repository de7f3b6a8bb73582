"""The driver: chunks on many workers, the same bytes with any number of them, and on with it after a stop."""

from __future__ import annotations

import os
import subprocess

import numpy as np
import pytest

from explore.doubt.judge import ALWAYS, FLAGS, Batch, Shelf, batches, carry_out, figures_of, told
from explore.search import nursery
from explore.search.crew import Alone, Kit, engaged
from tests.doubt.toy import Squares, kit, model

POINTS = np.random.default_rng(1).random((100, 2))
CHUNKS = [POINTS[i : i + 7] for i in range(0, 100, 7)]


def done(errands, workers=1, *shelf_and_progress):
    """Carry errands out with so many workers."""
    with engaged(workers, kit(), lambda: model(None)) as engage:
        return carry_out(errands, engage, *shelf_and_progress)


def squares(marker="", at=5):
    """Errands over all points; the one at ``at`` stops the user's work unless the marker file is there."""
    return [Squares(chunk, marker if place == at else "") for place, chunk in enumerate(CHUNKS)]


def test_all_come_in_order_with_any_number_of_workers(tmp_path):
    """One worker and two give the same bytes, in memory and in files."""
    alone = done(squares(), 1, Shelf(tmp_path / "a"))
    two = done(squares(), 2, Shelf(tmp_path / "b"))
    assert alone.tobytes() == two.tobytes()
    assert alone == pytest.approx(np.sin(POINTS[:, 0]) ** 2 + 2.0 * POINTS[:, 1])
    files = sorted(path.name for path in (tmp_path / "a").iterdir())
    assert len(files) == len(CHUNKS)
    for name in files:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()


@pytest.mark.parametrize("divides", [True, False])
def test_processes_stay_for_the_errands_that_follow(monkeypatch, divides):
    """Two parts of a study have two workers, not four, and none while one task is all there is."""
    monkeypatch.setattr(nursery.Nursery, "possible", staticmethod(lambda: divides))
    started, start, made, make = [], subprocess.Popen, [], nursery.Nursery.worker
    monkeypatch.setattr(
        subprocess,
        "Popen",
        lambda *words, **more: started.append(start(*words, **more)) or started[-1],
    )
    monkeypatch.setattr(nursery.Nursery, "worker", lambda self: made.append(make(self)) or made[-1])
    expected = (1, 2) if divides else (2, 0)
    with engaged(2, kit(), lambda: model(None)) as engage:
        one = carry_out(squares()[:1], engage)
        assert not started
        assert carry_out(squares(), engage)[: len(one)].tobytes() == one.tobytes()
        assert (len(started), len(made)) == expected
        carry_out(squares(), engage)
    assert (len(started), len(made)) == expected
    assert all(one.poll() is not None for one in started)
    for one in made:
        with pytest.raises(ProcessLookupError):
            os.kill(one.pid, 0)


def test_stopped_work_goes_on_from_whole_chunks(tmp_path):
    """What was done before a stop is not done again, a torn chunk is; the result is that of a run without a stop."""
    shelf, marker = Shelf(tmp_path / "a"), tmp_path / "go on"
    with pytest.raises(KeyboardInterrupt):
        done(squares(str(marker)), 1, shelf)
    kept = sorted((tmp_path / "a").iterdir())
    assert len(kept) == 5
    kept[2].write_bytes(kept[2].read_bytes()[:-9])
    times = [path.stat().st_mtime_ns for path in kept]
    marker.touch()
    seen = []
    whole = done(squares(str(marker)), 1, shelf, seen.append)
    again = [path.stat().st_mtime_ns for path in kept]
    assert [a == b for a, b in zip(times, again, strict=True)] == [True, True, False, True, True]
    assert whole.tobytes() == done(squares(), 1).tobytes()
    assert (seen[0].worlds, seen[0].of, seen[0].seconds_left) == (28, 100, None)
    assert (seen[-1].worlds, seen[-1].seconds_left) == (100, 0.0)


def test_designs_under_worlds(evaluator, orchard, designs, tmp_path):
    """Figures and flags of each design in each world; the shelf of another study is another one."""
    columns = designs(12, 6)
    figures = figures_of(orchard)
    assert set(ALWAYS) <= set(figures)
    assert figures[0] == orchard.scenario.objectives[0].figure
    from explore.doubt.draws import Draws, points

    cloud = points(4, Draws.of(orchard).dimensions, 1)
    (batch,) = batches(cloud, columns, figures)
    found = carry_out([batch], lambda tasks: Alone(Kit(orchard, None, None), lambda: evaluator))
    assert found.shape == batch.shape == (4, 12, len(figures) + len(FLAGS))
    assert len(np.unique(found[:, 0, figures.index("cost_EUR")])) == 4
    feasible, broken = found[:, :, len(figures)] > 0, found[:, :, -1]
    assert np.array_equal(broken == -1, feasible)
    plain = told(evaluator.evaluate(columns), figures)
    assert plain.shape == found.shape[1:]
    one, two = (Shelf.of(tmp_path, orchard, given, figures, "draws") for given in (columns, designs(12, 7)))
    assert one.folder != two.folder
    assert one == Shelf.of(tmp_path, orchard, columns, figures, "draws")


def test_the_number_of_designs_decides_the_chunks():
    """Neither workers nor time do, so that a stopped study goes on with the same chunks."""
    cloud = np.zeros((1000, 3))
    many = batches(cloud, {"fluid": np.zeros(300)}, ())
    few = batches(cloud, {"fluid": np.zeros(4)}, ())
    assert [len(many), len(few)] == [125, 40]
    assert isinstance(many[0], Batch)
    assert sum(len(one.points) for one in many) == 1000
