"""What a search shows before it has ended."""

from __future__ import annotations

import json
from types import SimpleNamespace

import pytest

import explore.search.so_far as module
from explore.config.compose import load_scenario
from explore.judgement.front import nondominated, normalise
from explore.search import optimise
from explore.search.outcome import UNDER_WAY, Progress
from explore.search.so_far import AGAIN_S, LEAST_LEFT_S, SHARE, Looks
from explore.tasks import search as task
from tests.search.toy import ToyEvaluator, toy_case


def state(**changes):
    """A search in its middle."""
    kept = {
        "legs": 2,
        "designs": 4096,
        "designs_per_second": 300.0,
        "feasible_share": 0.2,
        "front_designs": 12,
        "hypervolume": 0.2,
        "seconds": 12.0,
        "share_done": 0.3,
        "seconds_left": 30.0,
    }
    return Progress(**kept | changes)


def looks(monkeypatch, cost=0.0):
    """A watcher on a search of two legs a round, and the list of what it was shown; a look takes ``cost`` seconds."""
    shown, clock = [], SimpleNamespace(now=100.0)
    hunt = SimpleNamespace(search=SimpleNamespace(legs_per_round=2), stop_reason="", seconds=12.0)
    monkeypatch.setattr(module, "so_far", lambda hunt, evaluator: "known")
    monkeypatch.setattr(module.time, "perf_counter", lambda: clock.now)

    def look(outcome):
        shown.append(outcome)
        clock.now += cost

    return Looks(hunt, None, look), hunt, shown


def test_the_first_look_is_after_the_first_round(monkeypatch):
    """Not after a single leg, not where nothing is feasible, and not where the search is nearly over."""
    watcher, hunt, shown = looks(monkeypatch)
    for early in (
        {"legs": 1},
        {"front_designs": 0},
        {"seconds_left": LEAST_LEFT_S - 1.0},
        {"seconds_left": None},
    ):
        watcher.after_leg(state(**early))
    hunt.stop_reason = "interrupted"
    watcher.after_leg(state())
    assert shown == []
    hunt.stop_reason = ""
    watcher.after_leg(state())
    assert shown == ["known"]


@pytest.mark.parametrize(("cost", "pause"), [(0.1, AGAIN_S), (30.0, 30.0 / SHARE)])
def test_looks_come_ever_more_seldom(monkeypatch, cost, pause):
    """The next is due when the reader has read this one, and when it costs little of the time that has passed."""
    watcher, _, shown = looks(monkeypatch, cost)
    watcher.after_leg(state(seconds_left=1e5))
    watcher.after_leg(state(seconds=12.0 + pause - 1.0, seconds_left=1e5))
    assert len(shown) == 1
    watcher.after_leg(state(seconds=12.0 + pause + 1.0, seconds_left=1e5))
    assert len(shown) == 2


def test_looking_changes_nothing_that_is_found(monkeypatch):
    """The front is the same with looks and without; what was shown on the way is a front of feasible designs, and grows."""
    monkeypatch.setattr(module, "LEAST_LEFT_S", -1.0)
    monkeypatch.setattr(module, "AGAIN_S", 0.0)
    monkeypatch.setattr(module, "SHARE", 1e9)
    seen = []
    case = toy_case(legs_per_round=2)
    watched = optimise(case, evaluator=ToyEvaluator, look=seen.append)
    alone = optimise(case, evaluator=ToyEvaluator)
    assert watched.front.equals(alone.front)
    assert len(seen) > 2
    assert [one.stop_reason for one in seen] == [UNDER_WAY] * len(seen)
    assert watched.stop_reason == "designs"
    for one in seen:
        values = normalise(one.front, case.scenario.objectives)
        assert one.front["feasible"].all()
        assert nondominated(values).all()
        assert set(one.designs["fluid"]) >= set(one.front["fluid"])
    assert seen[-1].hypervolume >= seen[0].hypervolume > 0.0


def test_a_page_is_there_before_the_search_ends(monkeypatch, tmp_path):
    """It says so and offers a newer one, the last one does not; what cannot be written on the way stops nothing."""
    monkeypatch.setattr(module, "LEAST_LEFT_S", -1.0)
    case = load_scenario("orchard", overrides=[
        "search.designs=1200", "search.leg_designs=400", "search.legs_per_round=1", "search.workers=1",
        "search.seconds=null", "space.store_mode=[stratified]", f"results_folder={tmp_path}",
    ])  # fmt: skip
    pages, kept = [], task.keep_so_far

    def keep(folder, *rest):
        page = kept(folder, *rest)
        pages.append((page.read_text(encoding="utf-8"), json.loads((folder / "summary.json").read_text())))
        monkeypatch.setattr(task, "write_results", _full)
        assert kept(folder, *rest) is None
        monkeypatch.undo()
        return page

    def _full(*rest, **settings):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(task, "keep_so_far", keep)
    folder = task.run(case, case.task, "explore")
    (html, summary), *more = pages
    assert more == []
    assert summary["stop_reason"] == UNDER_WAY
    assert "search that was then still going on" in html
    assert "data-newer" in html
    last = (folder / "report.html").read_text(encoding="utf-8")
    assert "still going on" not in last
    assert "data-newer>" not in last
    summary = json.loads((folder / "summary.json").read_text())
    assert summary["stop_reason"] == "designs"
    assert any(pick["leeway"] for pick in summary["picks"])


def test_under_way_is_no_way_to_end():
    """The word that the page knows a search under way by."""
    from explore.tell.page import sentences

    assert sentences.still_going_on(
        SimpleNamespace(summary={"stop_reason": UNDER_WAY, "seconds": 9.0})
    ).startswith("A first page, after 9.00 s")
    assert sentences.still_going_on(SimpleNamespace(summary={"stop_reason": "designs"})) == ""
