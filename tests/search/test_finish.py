"""What comes after the legs: turns of polishing as long as there are evaluations for them."""

from __future__ import annotations

import pytest

from explore.judgement.front import hypervolume, normalise
from explore.search import finish, optimise
from tests.search.toy import ToyEvaluator, toy_case


@pytest.mark.parametrize(("share", "several"), [(0.25, False), (20.0, True)])
def test_a_long_search_polishes_in_turns(monkeypatch, share, several):
    """Two thousand designs allow one turn; where evaluations are left another follows, on the front that the first made."""
    rooms, volumes, bettered = [], [], []

    def watched(front, space, evaluate, objectives, room):
        rooms.append(room)
        volumes.append(hypervolume(normalise(front, objectives)))
        better = polish(front, space, evaluate, objectives, room)
        bettered.append(len(better))
        return better

    polish = finish.polish
    monkeypatch.setattr(finish, "polish", watched)
    monkeypatch.setattr(finish, "POLISH_SHARE", share)
    found = optimise(toy_case(designs=2048, leg_designs=1024), evaluator=ToyEvaluator)
    assert rooms[0] == int(share * 2048)
    assert (len(rooms) > 1) == several
    assert len(rooms) <= finish.POLISH_TURNS
    assert rooms == sorted(rooms, reverse=True)
    assert found.polished >= sum(bettered) > 0
    assert not several or volumes[1] > volumes[0]
    assert [*volumes, found.hypervolume] == sorted([*volumes, found.hypervolume])
    assert found.hypervolume > volumes[0]
