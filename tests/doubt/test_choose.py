"""Which designs are tried: the recommended ones and the best of each kind always, the rest spread."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from explore.design.variables import INPUTS
from explore.doubt.choose import LINE, ROLE, TO_SPARE, _spread, ceilings, chosen
from explore.errors import InputError
from explore.judgement.front import feasible_front


@pytest.fixture(scope="module")
def archive(orchard, evaluator, designs):
    """Random designs with their figures; what they break is forgiven, so that there is a choice."""
    columns = designs(400, 11)
    frame = pd.DataFrame(
        {name: columns[name] for name in INPUTS if name in columns} | evaluator.evaluate(columns)
    )
    return frame[frame["possible"]].assign(feasible=True).reset_index(drop=True)


def test_recommended_and_best_are_there(orchard, archive):
    """Once each, whatever the number asked for, with their lines and roles."""
    front = feasible_front(archive, orchard.scenario.objectives)
    picks = [{"row": 1, "role": "most work per litre"}, {"row": 3, "role": "compromise"}]
    few = chosen(orchard, front, archive, picks, None)
    assert few[ROLE].tolist()[:2] == ["most work per litre", "compromise"]
    assert few[LINE].tolist()[:2] == [1, 3]
    under = archive[archive["peak_pressure_bar_g"] <= ceilings(orchard)[-1]]
    best = under.groupby("fluid")["work_per_litre_kJ"].max()
    for fluid, figure in best.items():
        assert few.loc[few["fluid"] == fluid, "work_per_litre_kJ"].max() == pytest.approx(figure)
    many = chosen(orchard, front, archive, picks, 90)
    assert len(many) == 90
    inputs = [name for name in INPUTS if name in many]
    assert not many.duplicated(inputs).any()
    assert set(zip(few["fluid"], few["work_per_litre_kJ"], strict=True)) <= set(
        zip(many["fluid"], many["work_per_litre_kJ"], strict=True)
    )
    assert (many[LINE] > 0).sum() >= min(len(front), 20)


def test_a_short_study_has_of_each_fluid_what_has_more_to_spare(orchard, archive):
    """The best of a fluid lies at the edge of what must be served and falls over it in other worlds; others are there."""
    front = feasible_front(archive, orchard.scenario.objectives)
    few = chosen(orchard, front, archive, [{"row": 1, "role": "compromise"}], None)
    under = archive[archive["peak_pressure_bar_g"] <= ceilings(orchard)[-1]]
    spared = 0
    for fluid, rivals in under.groupby("fluid"):
        best = rivals.loc[rivals["work_per_litre_kJ"].idxmax()]
        for more in TO_SPARE:
            able = rivals[rivals["served_share"] >= best["served_share"] + more]
            if len(able):
                row = able.loc[able["work_per_litre_kJ"].idxmax()]
                assert (few["work_per_litre_kJ"] == row["work_per_litre_kJ"]).any(), fluid
                spared += 1
    assert spared > 10


def test_the_ceilings_told_apart(orchard):
    """Those of the page below the scenario's own, and that one last."""
    assert ceilings(orchard) == [4.0, 6.0, 10.0, 16.0]


def test_nothing_to_choose_from(orchard, archive):
    """A run without a feasible design has no choice to doubt."""
    none = archive.assign(feasible=np.zeros(len(archive), bool))
    with pytest.raises(InputError, match="none of the designs of this run is feasible"):
        chosen(orchard, none.iloc[:0], none, [], 10)


def test_half_of_the_others_are_not_of_the_front(orchard, archive):
    """One half is spread over the front, the other over what each fluid offers, whose designs the front mostly beats."""
    front = feasible_front(archive, orchard.scenario.objectives)
    on_front = archive["work_per_litre_kJ"].isin(front["work_per_litre_kJ"])
    whole = archive.assign(**{LINE: on_front.astype(int)})
    count = min(20, int(on_front.sum()))
    rows = _spread(orchard, whole, [], count)
    assert len(rows) == count
    assert on_front.iloc[rows[: count // 2]].all()
    assert not on_front.iloc[rows[count // 2 :]].all()
