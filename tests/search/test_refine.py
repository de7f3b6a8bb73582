"""The local refinement check of a front."""

from __future__ import annotations

import numpy as np
import pytest

from explore.design.space import Space
from explore.judgement.front import feasible_front, recommended
from explore.search import optimise
from explore.search.descent import FINE
from explore.search.judge import judge
from explore.search.population import Genes
from explore.search.refine import SETTLED, SETTLING_TURNS, refine, settle
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
    gained = refine(frame, space, ToyEvaluator(case), case.scenario.objectives).greatest
    dearer = 28.0 * (400.0**0.65 - 100.0**0.65)
    assert gained == pytest.approx(dearer / 8000.0, rel=0.02)


def test_an_empty_front_has_nothing_to_refine():
    """No designs, no gains, no error."""
    case, space, front = _random_front()
    found = refine(front.iloc[:0], space, ToyEvaluator(case), case.scenario.objectives)
    assert found.gains == ()
    assert found.greatest == 0.0


def test_recommended_designs_settle():
    """Designs at random are improved until four fresh steps gain less than half a per cent; none gets worse in anything."""
    case, space, front = _random_front()
    objectives = case.scenario.objectives
    rows = sorted(set(recommended(front, objectives)))

    def evaluate(genes):
        return judge(ToyEvaluator(case).evaluate(space.decode(genes.unit, genes.choices)), objectives)

    settled = settle(front, rows, space, evaluate, objectives, SETTLING_TURNS)
    assert settled.gains.max() <= SETTLED
    before, after = evaluate(settled.before), evaluate(settled.genes)
    assert after.feasible.all()
    assert (after.values <= before.values + 1e-9).all()
    assert (before.values - after.values).max() > 0.02
    # neighbours at random, which share nothing with the steps: none gains a per cent and is worse in nothing
    rng = np.random.default_rng(2)
    span = np.ptp(judge({str(name): front[name].to_numpy() for name in front}, objectives).values, axis=0)
    for one in range(len(rows)):
        genes = settled.genes.take(np.full(3000, one))
        applies = space.applies(genes.choices) & space.free
        moves = rng.uniform(-0.02, 0.02, genes.unit.shape) * applies * (rng.random(genes.unit.shape) < 0.3)
        near = evaluate(Genes(np.clip(genes.unit + moves, 0.0, 1.0), genes.choices))
        dominates = near.feasible & (near.values <= after.values[one]).all(axis=1)
        gain = ((after.values[one] - near.values) / span).max(axis=1)[dominates]
        assert gain.max(initial=0.0) <= 2 * SETTLED


def test_fewer_turns_take_fewer_steps_and_tell_what_is_open():
    """One turn is four steps: fewer evaluations than many, and the gain still open is told."""
    case, space, front = _random_front()
    objectives = case.scenario.objectives
    rows, counted = sorted(set(recommended(front, objectives))), []

    def evaluate(genes):
        counted.append(len(genes))
        return judge(ToyEvaluator(case).evaluate(space.decode(genes.unit, genes.choices)), objectives)

    few = settle(front, rows, space, evaluate, objectives, 1)
    first = len(counted)
    many = settle(front, rows, space, evaluate, objectives, SETTLING_TURNS)
    assert first <= 2 + FINE[0].steps  # as they are, beside them, and each step
    assert len(counted) - first > first
    assert few.gains.max() > SETTLED >= many.gains.max()


def test_a_search_ends_with_settled_picks():
    """What is recommended at the end gives way to no step by more than half a per cent, and says so."""
    found = optimise(toy_case(designs=4000, legs_per_round=2), evaluator=ToyEvaluator)
    assert found.picks_gain is not None
    assert found.picks_gain <= SETTLED
    assert found.polished > 0
