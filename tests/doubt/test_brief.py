"""The short study at the end of a search: what it asks, and that nothing is told of what it does not."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from explore.doubt import answers
from explore.doubt import brief as short
from explore.doubt.study import _worth
from explore.model import Evaluator
from explore.run import reader
from explore.tell import doubts


def test_a_short_study_of_a_run(real_run, monkeypatch):
    """Its picks under its own ceiling; every sentence about it has something to tell of."""
    monkeypatch.setattr(short, "WORLDS", 4)
    case, picks = reader.judged_case(real_run), reader.read_summary(real_run)["picks"]
    front, designs = (pd.read_csv(real_run / name) for name in ("front.csv", "designs.csv"))
    found = short.brief(Evaluator(case), front, designs, picks, 1)
    assert found["worlds"] == 4
    assert {one["row"] for one in found["designs"]} == {pick["row"] for pick in picks}
    assert [one["ceiling_bar_g"] for one in found["ceilings"]] == [
        case.scenario.limits.pressure_ceiling_bar_g
    ]
    assert doubts.measure_words(found) == []
    said = doubts.told(found, case)
    assert all(said)
    assert doubts.BRIEF in said[0]
    assert sum("keeps every limit in" in one for one in said) == len(picks)
    assert not any("no design" in one.lower() for one in said if "stays within 2 %" not in one)


@pytest.mark.parametrize(("share", "told"), [(0.04, False), (0.06, True)])
def test_worlds_in_which_nothing_serves_are_told_from_half_of_one_in_ten_on(orchard, share, told):
    """The headline rounds to tenths."""
    best = [{"best": "n-Butane", "probability": 1.0 - share}, {"best": doubts.NOTHING, "probability": share}]
    found = {"ceilings": [{"ceiling_bar_g": 6.0, "fluid": {"best": best}}]}
    assert ("none of the designs tried" in doubts.headline(found, orchard)) == told


def test_a_design_that_breaks_a_limit_is_worth_the_reference(orchard, monkeypatch):
    """Not nothing, which would be the best cost there is."""
    seen = []
    monkeypatch.setattr(answers, "value_of_knowing", lambda utility, _: (seen.append(utility), (0.0, 0.0))[1])
    objectives = orchard.scenario.objectives
    done = SimpleNamespace(
        case=orchard,
        draws=SimpleNamespace(groups=["seal"]),
        sample=SimpleNamespace(factors=np.zeros((1, 1))),
        worlds=SimpleNamespace(
            feasible=np.array([[True, False]]),
            figures={one.figure: np.array([[7.0, 9.0]]) for one in objectives},
        ),
    )
    _worth(done, "seal")
    for objective, utility in zip(objectives, seen, strict=True):
        sign = 1.0 if objective.direction == "maximise" else -1.0
        assert utility.tolist() == [[sign * 7.0, sign * objective.reference]], objective.figure
    assert any(objective.reference for objective in objectives)


@pytest.mark.parametrize(("error", "told"), [(0.73, True), (0.36, True), (0.1, False)])
def test_a_share_within_its_error_of_nothing_is_said_to_be_untold(error, told):
    """36 % with an error of 73 are no reason to measure this first."""
    one = {"topic": "friction", "total": 0.36, "total_confidence": error, "first": 0.2, "worth": {}}
    (said,) = doubts.measure_words({"measure_first": [one]})
    assert ("too few worlds to tell" in said) == told
