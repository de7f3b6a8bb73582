"""A fluid has one name in a word, wherever the tool speaks of it."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest

from explore.tell import doubts
from explore.tell.beside import described
from explore.tell.page.data import read_run
from explore.tell.page.fluids import compare
from tests.report.synthetic import make_run


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Bottled gas, butane and propane 70/30 by mass", "Bottled gas"),
        ("R134a (1,1,1,2-tetrafluoroethane)", "R134a"),
        ("Butane (R-600)", "Butane"),
    ],
)
def test_lessons_doubts_and_page_call_a_fluid_the_same(tmp_path, title, name):
    """Its card's title without brackets and without what stands behind a comma."""
    run = read_run(make_run(tmp_path / "run", count=200))
    row = run.front.row(0)
    cards = {
        key: card.model_copy(update={"title": title}) if card.name == row["fluid"] else card
        for key, card in run.case.fluids.items()
    }
    case = run.case.model_copy(update={"fluids": cards})
    plant = pd.Series(
        {
            "fluid": row["fluid"],
            "store_mode": "mixed",
            "stages": 1,
            "pressure_levels": 1,
            "governing": "throttle",
            "name": "1",
        }
    )
    assert described(plant, case).startswith(f"{name}, mixed")
    assert doubts.fluid(row["fluid"], case) == name
    (short,) = (one.short for one in compare(replace(run, case=case)) if one.name == row["fluid"])
    assert short == name
