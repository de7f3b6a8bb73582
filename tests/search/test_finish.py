"""What comes after the legs: the front is polished, and settles where there are evaluations for it."""

from __future__ import annotations

import numpy as np
import pytest

from explore.design.space import Space
from explore.judgement.front import hypervolume, normalise
from explore.search import finish, optimise
from explore.search.refine import refine
from tests.search.toy import ToyEvaluator, toy_case


def _watched(monkeypatch, share, polishing=1):
    """Search with a ``share`` for polishing; the outcome, and at each settling how many designs, turns and hypervolume."""
    passes = []

    def settle(front, rows, space, evaluate, objectives, turns):
        passes.append((len(rows), turns, hypervolume(normalise(front, objectives))))
        return real(front, rows, space, evaluate, objectives, turns)

    real = finish.settle
    monkeypatch.setattr(finish, "settle", settle)
    monkeypatch.setattr(finish, "POLISH_SHARE", share)
    monkeypatch.setattr(finish, "POLISH_TURNS", polishing)
    return optimise(toy_case(designs=2048, leg_designs=1024, seed=2), evaluator=ToyEvaluator), passes


@pytest.mark.parametrize(("share", "several"), [(0.0, False), (40.0, True)])
def test_a_front_settles_where_there_is_room(monkeypatch, share, several):
    """Passes over what the last one bettered: ever fewer designs, ever more hypervolume; without room the picks alone."""
    monkeypatch.setattr(finish, "FRONT_SETTLED", 1e-5)
    found, passes = _watched(monkeypatch, share)
    front = [count for count, turns, _ in passes if turns == 1]
    volumes = [volume for *_, volume in passes]
    assert (len(front) > 2) == several
    assert front == sorted(front, reverse=True)
    assert [*volumes, found.hypervolume] == sorted([*volumes, found.hypervolume])
    assert len(found.designs) == 2048 + found.polished
    if several:
        case = toy_case()
        gains = refine(
            found.front, Space.from_case(case), ToyEvaluator(case), case.scenario.objectives, count=100
        ).gains
        assert np.quantile(gains, 0.95) < 0.005


def test_what_polishing_made_of_a_design_makes_way_for_what_it_makes_next(monkeypatch):
    """No design is added twice, and few of what polishing added are beaten by others."""
    found, _ = _watched(monkeypatch, 40.0)
    added = found.designs.iloc[2048:]
    assert len(added) == found.polished > 0
    keys = finish._keys(added)
    assert len(keys) == len(set(keys))
    assert len(set(keys) & set(finish._keys(found.front))) > 0.8 * len(added)


def test_a_further_turn_finds_more(monkeypatch):
    """With evaluations left the whole front is improved again, from coarse to fine."""
    once, twice = (_watched(monkeypatch, 80.0, turns)[0].hypervolume for turns in (1, 2))
    assert twice > once
