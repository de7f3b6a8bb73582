"""The local refinement check of a front."""

from __future__ import annotations

import numpy as np
import pytest

from explore.design.space import Space
from explore.judgement.front import feasible_front
from explore.search import optimise
from explore.search.refine import refine
from tests.search.toy import ToyEvaluator, toy_case


def _random_front():
    case = toy_case()
    space = Space.from_case(case)
    columns = space.sample(3000, np.random.default_rng(1))
    frame = space.designs(columns).assign(**ToyEvaluator(case).evaluate(columns))
    return case, space, feasible_front(frame, case.scenario.objectives)


def test_a_front_of_random_designs_gives_way_a_lot():
    """Where the search has not been, local optimisation finds clear gains."""
    case, space, front = _random_front()
    found = refine(front, space, ToyEvaluator(case), case.scenario.objectives)
    assert len(found.gains) == 10
    assert np.median(found.gains) > 0.05
    assert found.greatest == max(found.gains)


def test_a_searched_front_gives_way_little():
    """After a search the same check gains a fraction of that."""
    case = toy_case(designs=40_000, legs_per_round=2)
    found = optimise(case, evaluator=ToyEvaluator)
    assert np.median(found.refinement.gains) < 0.02


def test_gains_are_real_and_no_objective_gets_worse():
    """A known corner: the design already best in everything that can move gains nothing."""
    pins = {
        "fluid": "Water",
        "store_mode": "mixed",
        "stages": 1,
        "collector": "flat",
        "regenerator_effectiveness": 0,
        "top_temperature_degC": 90,
        "condensing_temperature_degC": 17,
        "boil_approach_K": 3,
        "collector_area_m2": 8,
        "insulation_mm": 100,
        "store_volume_L": [100, 1000],
    }
    case = toy_case(pins)
    space = Space.from_case(case)
    columns = space.sample(1, np.random.default_rng(0))
    columns["store_volume_L"][:] = 100.0
    frame = space.designs(columns).assign(**ToyEvaluator(case).evaluate(columns))
    assert refine(frame, space, ToyEvaluator(case), case.scenario.objectives).greatest == 0.0
    columns["store_volume_L"][:] = 400.0
    frame = space.designs(columns).assign(**ToyEvaluator(case).evaluate(columns))
    gained = refine(frame, space, ToyEvaluator(case), case.scenario.objectives, steps=12).greatest
    dearer = 28.0 * (400.0**0.65 - 100.0**0.65)
    assert gained == pytest.approx(dearer / 8000.0, rel=0.02)


def test_an_empty_front_has_nothing_to_refine():
    """No designs, no gains, no error."""
    case, space, front = _random_front()
    found = refine(front.iloc[:0], space, ToyEvaluator(case), case.scenario.objectives)
    assert found.gains == ()
    assert found.greatest == 0.0
