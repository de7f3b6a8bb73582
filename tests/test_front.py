"""The front: domination, hypervolume on fixed axes, picks and the table of fluids."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from explore.config.schema import Objective
from explore.judgement.front import (
    NEAR_BEST,
    displaced,
    feasible_front,
    fluids_table,
    hypervolume,
    knee_points,
    nondominated,
    normalise,
    own_fronts,
    picks,
    recommended,
    roles,
)

OBJECTIVES = (
    Objective(figure="work_per_litre_kJ", direction="maximise", ideal=20.0, reference=0.0),
    Objective(figure="cost_EUR", direction="minimise", ideal=0.0, reference=10_000.0),
)


def _frame(rows):
    names = ["fluid", "feasible", "work_per_litre_kJ", "cost_EUR", "peak_pressure_bar_g"]
    return pd.DataFrame(rows, columns=names)


def test_normalised_axes_put_the_ideal_at_0_and_the_reference_at_1():
    """A maximised and a minimised figure both become 'less is better'."""
    frame = _frame([("A", True, 20.0, 10_000.0, 1.0), ("A", True, 5.0, 2500.0, 1.0)])
    np.testing.assert_allclose(normalise(frame, OBJECTIVES), [[0.0, 1.0], [0.75, 0.25]])


def test_nondominated_agrees_with_the_definition_and_keeps_duplicates_once():
    """A plain pairwise comparison gives the same rows."""
    values = np.random.default_rng(3).integers(0, 6, (60, 3)).astype(float)
    kept = nondominated(values)
    for i, row in enumerate(values):
        beaten = ((values <= row).all(axis=1) & (values < row).any(axis=1)).any()
        assert kept[i] <= (not beaten)
    assert len(np.unique(values[kept], axis=0)) == kept.sum()
    best = [r for r in values if not ((values <= r).all(axis=1) & (values < r).any(axis=1)).any()]
    assert len(np.unique(best, axis=0)) == kept.sum()


def test_hypervolume_of_two_points_is_the_area_they_dominate():
    """By hand: 0.75 x 0.5 + 0.25 x 0.25 of the unit square."""
    assert hypervolume(np.array([[0.25, 0.5], [0.75, 0.25]])) == pytest.approx(0.375 + 0.0625)


def test_points_beyond_the_reference_add_nothing_and_better_than_ideal_counts_as_ideal():
    """The axes are clipped to the unit box."""
    assert hypervolume(np.array([[1.2, 0.0]])) == 0.0
    assert hypervolume(np.array([[-0.5, 0.5]])) == pytest.approx(0.5)
    assert hypervolume(np.empty((0, 3))) == 0.0


def test_front_leaves_out_infeasible_and_dominated_designs():
    """Best work first."""
    frame = _frame(
        [
            ("A", True, 5.0, 1000.0, 1.0),
            ("A", True, 10.0, 2000.0, 1.0),
            ("A", True, 9.0, 2500.0, 1.0),
            ("A", False, 19.0, 10.0, 1.0),
        ]
    )
    assert feasible_front(frame, OBJECTIVES)["work_per_litre_kJ"].tolist() == [10.0, 5.0]


def test_picks_are_the_extremes_and_the_design_nearest_to_the_ideal():
    """On a bent front the compromise is the corner, and it is a knee too."""
    frame = _frame([("A", True, w, c, 1.0) for w, c in [(10, 9000), (9, 2000), (5, 1500), (1, 1000)]])
    chosen = picks(frame, OBJECTIVES)
    names = dict(zip(chosen["pick"], chosen["work_per_litre_kJ"], strict=True))
    assert names["most work per litre"] == 10
    assert names["least cost"] == 1
    assert names["compromise"] == 9


def test_most_work_is_the_cheaper_of_near_equals():
    """9.95 kJ/L for a third of the price is recommended before 10 kJ/L; 9.8 kJ/L is too far from the best for its price."""
    frame = _frame([("A", True, w, c, 1.0) for w, c in [(10, 9000), (9.95, 3000), (9.8, 2000), (1, 1000)]])
    assert [frame["work_per_litre_kJ"][row] for row in recommended(frame, OBJECTIVES)] == [9.95, 1, 9.8]


def test_designs_beyond_the_scale_of_the_objectives_are_not_recommended():
    """A design dearer than the reference (10,000 EUR) is no pick, unless all are."""
    rows = [("A", True, 12.0, 24_000, 1.0), ("A", True, 10.0, 9000, 1.0), ("A", True, 2.0, 3000, 1.0)]
    assert recommended(_frame(rows), OBJECTIVES)[0] == 1
    assert recommended(_frame(rows[:1]), OBJECTIVES) == [0, 0, 0]


@pytest.mark.parametrize("seed", range(4))
def test_a_pick_keeps_its_place_under_every_limit_that_it_keeps(seed):
    """Of any part of the designs that holds a recommended one, that one is recommended again for the same."""
    draw = np.random.default_rng(seed)
    work, cost, pressure = draw.uniform((0, 2000, 0), (22, 12_000, 17), (60, 3)).T
    figures = {"work_per_litre_kJ": work, "cost_EUR": cost, "peak_pressure_bar_g": pressure}
    barred = set(draw.choice(60, 6, replace=False).tolist())
    for role, row in enumerate(recommended(figures, OBJECTIVES, barred)):
        for _ in range(20):
            left = np.flatnonzero(draw.random(60) < draw.uniform(0.05, 0.9))
            left = np.union1d(left, [row])
            some = {name: values[left] for name, values in figures.items()}
            again = recommended(some, OBJECTIVES, {k for k, i in enumerate(left) if i in barred})
            assert left[again[role]] == row


def test_own_fronts_come_beside_the_front_best_first_and_never_on_it():
    """What is best of its fluid and store and beaten by the front; the most work of each fluid before all others."""
    draw = np.random.default_rng(5)
    work, cost, pressure = draw.uniform((0, 2000, 0), (20, 9000, 16), (400, 3)).T
    frame = _frame([("ABC"[i % 3], True, work[i], cost[i], pressure[i]) for i in range(400)])
    frame["store_mode"] = np.where(draw.random(400) < 0.5, "mixed", "stratified")
    frame["store_volume_L"] = np.arange(400.0)
    front = feasible_front(frame, OBJECTIVES)
    kept = own_fronts(frame, front, OBJECTIVES, (4.0, 8.0), 1000)
    assert not set(frame["store_volume_L"].iloc[kept]) & set(front["store_volume_L"])
    for _, rows in frame.groupby(["fluid", "store_mode"]):
        best = rows.index[nondominated(normalise(rows, OBJECTIVES))]
        aboard = {*kept, *front["store_volume_L"].astype(int)}
        assert set(best) <= aboard
        for ceiling in (4.0, 8.0, np.inf):
            under = rows[rows["peak_pressure_bar_g"] <= ceiling]
            assert under["work_per_litre_kJ"].idxmax() in aboard
    few = own_fronts(frame, front, OBJECTIVES, (4.0, 8.0), 20)
    assert few == kept[:20]


def test_a_knee_is_where_leaving_costs_most_for_what_it_gains():
    """The corner of an L-shaped front is its only knee; a straight front has none."""
    x = np.linspace(0.0, 1.0, 41)
    bent = np.stack([x, np.where(x < 0.1, 1.0 - 9.0 * x, 0.1 * (1.0 - x) / 0.9)], axis=1)
    assert knee_points(bent, 3)[0] == 4
    assert len(knee_points(bent, 3)) == 1
    assert knee_points(np.stack([x, 1.0 - x], axis=1), 3) == []


def test_picks_of_an_empty_front_are_empty():
    """No front, no picks, no error."""
    assert len(picks(_frame([]), OBJECTIVES)) == 0


def test_fluids_table_gives_the_best_work_under_each_ceiling():
    """A fluid without a feasible design under a ceiling has an empty cell there."""
    frame = _frame(
        [
            ("A", True, 5.0, 1000.0, 2.0),
            ("A", True, 8.0, 1500.0, 7.0),
            ("B", True, 9.0, 4000.0, 12.0),
            ("B", False, 20.0, 1.0, 1.0),
            ("C", False, 3.0, 1.0, 1.0),
        ]
    )
    table = fluids_table(frame, (4.0, 10.0, 16.0), counts={"A": (20, 9), "B": (10, 5), "C": (7, 0)})
    assert table["fluid"].tolist() == ["B", "A", "C"]
    a, b, c = (table.set_index("fluid").loc[name] for name in "ABC")
    assert a["work_per_litre_kJ_under_4_bar_g"] == 5.0
    assert a["work_per_litre_kJ_under_10_bar_g"] == 8.0
    assert a["least_cost_EUR"] == 1000.0
    assert np.isnan(b["work_per_litre_kJ_under_10_bar_g"])
    assert b["cost_EUR_under_16_bar_g"] == 4000.0
    assert (a["evaluated"], a["feasible"]) == (20, 9)
    assert np.isnan(c["work_per_litre_kJ"])


CASES = json.loads((Path(__file__).parent / "data" / "pick_cases.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("case", CASES["cases"], ids=lambda case: case["about"])
def test_recommended_designs_are_those_of_the_shared_cases(case):
    """The cases that the page's script is held to as well: one pick an objective, then the compromise."""
    objectives = [Objective(**one) for one in case["objectives"]]
    figures = {name: [one[name] for one in case["designs"]] for name in case["designs"][0]}
    assert CASES["near_best"] == NEAR_BEST
    barred = case.get("barred", [])
    assert recommended(figures, objectives, barred, case.get("weights")) == case["picks"]
    assert displaced(figures, objectives, barred) == case.get("displaced", [None] * len(case["picks"]))


def test_any_figure_can_be_an_objective_and_is_named_by_its_record():
    """Roles are named after the objectives, whatever they are, and the compromise is last."""
    third = Objective(figure="served_share", direction="maximise", ideal=1.0, reference=0.0)
    assert [role.name for role in roles((*OBJECTIVES, third))] == [
        "most work per litre",
        "least cost",
        "most demand served",
        "compromise",
    ]
    assert roles((third,))[0].title == "Most demand served"
