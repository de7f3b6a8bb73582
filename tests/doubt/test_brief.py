"""The short study at the end of a search: what it asks, and that nothing is told of what it does not."""

from __future__ import annotations

import pandas as pd

from explore.doubt import brief as short
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
