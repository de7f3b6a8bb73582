"""The search as a whole, on a cheap problem."""

from __future__ import annotations

import signal
from types import SimpleNamespace

import numpy as np
import pytest

from explore.design.space import Space
from explore.errors import InputError, NothingFeasibleError
from explore.judgement.front import hypervolume, nondominated, normalise
from explore.search import Progress, optimise, plain
from explore.search.crew import Alone, Kit
from explore.search.hunt import Hunt
from explore.search.outcome import Moment
from explore.search.plain import plain_random
from tests.search.toy import FLUIDS, HopelessEvaluator, SlowEvaluator, ToyEvaluator, toy_case

TWO_ROUNDS = {"legs_per_round": 4}
"""Of the eight legs: what the first has found is handed on to the second."""


@pytest.fixture(scope="module")
def outcome():
    return optimise(toy_case(**TWO_ROUNDS), evaluator=ToyEvaluator)


@pytest.fixture(scope="module")
def of_two():
    """The same search by two workers."""
    return optimise(toy_case(workers=2, **TWO_ROUNDS), evaluator=ToyEvaluator)


def test_the_budget_in_designs_is_used_exactly(outcome):
    """4000 designs asked for are 4000 designs evaluated, all of them kept in a larger archive, and those polished."""
    assert outcome.designs_evaluated == 4000
    assert len(outcome.designs) == 4000 + outcome.polished
    assert outcome.all_kept
    assert outcome.stop_reason == "designs"


def test_the_front_is_feasible_and_nothing_evaluated_dominates_it(outcome):
    """Front designs are feasible, mutually non-dominated, and make up the stated hypervolume."""
    objectives = toy_case().scenario.objectives
    assert outcome.front["feasible"].all()
    front = normalise(outcome.front, objectives)
    assert nondominated(front).all()
    feasible = outcome.designs[outcome.designs["feasible"]]
    assert hypervolume(normalise(feasible, objectives)) == pytest.approx(hypervolume(front), rel=1e-12)
    assert outcome.hypervolume == pytest.approx(hypervolume(front), rel=1e-9)


def test_the_search_beats_random_designs(outcome):
    """On the same budget, random designs dominate less of the box."""
    case = toy_case()
    space = Space.from_case(case)
    columns = space.sample(4000, np.random.default_rng(0), quasi=True)
    figures = ToyEvaluator(case).evaluate(columns)
    values = normalise(figures, case.scenario.objectives)[figures["feasible"]]
    assert outcome.hypervolume > hypervolume(values) + 0.03


def test_hypervolume_never_falls_over_the_history(outcome):
    """The history grows in designs and never falls in hypervolume."""
    volumes = [moment.hypervolume for moment in outcome.history]
    assert np.diff(volumes).min() >= -1e-12
    assert outcome.history[-1].designs == 4000
    assert 0.0 <= outcome.last_tenth_gain < 0.2


def test_the_outcome_counts_every_layout(outcome):
    """Designs tried and feasible are told for each layout, and add up to those of the search."""
    assert len(outcome.layouts) == len(Space.from_case(toy_case()).layouts)
    assert sum(tried for tried, _ in outcome.layouts.values()) == outcome.designs_evaluated
    assert sum(good for _, good in outcome.layouts.values()) == outcome.designs_feasible
    assert outcome.hypervolume >= outcome.history[-1].hypervolume


def test_workers_do_not_change_the_result(outcome, of_two):
    """Two worker processes find bit for bit what one finds."""
    assert of_two.workers == 2
    assert of_two.front.equals(outcome.front)
    assert of_two.evaluated == outcome.evaluated


def test_another_seed_gives_another_search(outcome):
    """The seed matters."""
    again = optimise(toy_case(seed=2, **TWO_ROUNDS), evaluator=ToyEvaluator)
    assert not again.front.equals(outcome.front)


def test_every_fluid_gets_its_share_even_if_it_is_useless():
    """With a least share of 4 %, no fluid has less than 4 % of the designs."""
    found = optimise(
        toy_case(designs=20_000, least_share_per_fluid=0.04, archive_designs=1000), evaluator=ToyEvaluator
    )
    assert set(found.evaluated) == set(FLUIDS)
    assert min(found.evaluated.values()) >= 0.04 * 20_000
    assert sum(found.evaluated.values()) == 20_000
    assert not found.all_kept
    assert len(found.designs) == 1000 + found.polished


def test_a_time_limit_stops_the_search():
    """Whichever of the two limits comes first ends the search."""
    found = optimise(toy_case(designs=10_000_000, seconds=0.5), evaluator=ToyEvaluator)
    assert found.stop_reason == "seconds"
    assert found.timings_s["search"] >= 0.5
    assert found.seconds < 5.0


def test_a_leg_that_takes_longer_than_the_time_is_cut_between_its_batches(monkeypatch):
    """The first batch is carried out whatever it takes; what comes of it counts."""
    monkeypatch.setenv("TOY_NAP_S", "0.4")
    found = optimise(
        toy_case(designs=None, seconds=0.3, leg_designs=4000, workers=1), evaluator=SlowEvaluator
    )
    assert found.stop_reason == "seconds"
    assert 0 < found.designs_evaluated < 4000


def test_the_time_left_is_told_by_the_rate_of_late():
    """Designs of the first, small legs take longer, which says nothing of those to come."""
    search = SimpleNamespace(designs=5000, seconds=None)
    history = [Moment(500, 10.0, 0.1), Moment(1000, 18.0, 0.2), Moment(2500, 20.0, 0.3)]
    hunt = SimpleNamespace(search=search, history=history)
    assert Hunt._seconds_left(hunt, 2500, 20.0) == pytest.approx(2500 * 2.0 / 1500)
    assert Hunt._seconds_left(hunt, 500, 10.0) == pytest.approx(4500 * 10.0 / 500)
    assert Hunt._seconds_left(hunt, 0, 1.0) is None
    search.seconds = 21.0
    assert Hunt._seconds_left(hunt, 2500, 20.0) == pytest.approx(1.0)
    assert Hunt._seconds_left(hunt, 2500, 30.0) == 0.0


def test_progress_is_reported_after_every_leg():
    """The callback sees every leg, growing counts and a share that ends at 1."""
    seen: list[Progress] = []
    optimise(toy_case(designs=2000), evaluator=ToyEvaluator, progress=seen.append)
    assert [p.legs for p in seen] == [1, 2, 3, 4]
    assert [p.designs for p in seen] == [500, 1000, 1500, 2000]
    assert seen[-1].share_done == 1.0
    assert 0.0 < seen[-1].feasible_share <= 1.0
    assert seen[-1].hypervolume > 0.0


def test_designs_lost_are_counted_per_constraint(outcome):
    """The counts agree with the designs themselves, all of which were kept; what was polished comes after them."""
    designs = outcome.designs.iloc[:4000]
    lost = designs["violation_served_share"] > 0.0
    alone = lost & ~(designs["violation_pressure_ceiling_bar"] > 0.0)
    assert outcome.lost_to["violation_served_share"] == lost.sum() > 0
    assert outcome.lost_alone["violation_served_share"] == alone.sum() > 0
    assert outcome.designs_feasible == designs["feasible"].sum()


def test_an_infeasible_scenario_is_an_input_error_that_names_the_binding_constraint():
    """When nothing is feasible the error says how many designs were tried and what stands in the way."""
    with pytest.raises(
        NothingFeasibleError, match=r"served share.*still breaks served share by 0\.3"
    ) as error:
        optimise(toy_case(designs=1000), evaluator=HopelessEvaluator)
    assert "1,000" in str(error.value)
    assert not error.value.interrupted


def test_an_infeasible_search_that_is_stopped_says_so():
    """Whoever keeps the legs must know that the budget was not used."""

    def stop(state):
        signal.raise_signal(signal.SIGINT)

    with pytest.raises(NothingFeasibleError) as error:
        optimise(toy_case(designs=4000), evaluator=HopelessEvaluator, progress=stop)
    assert error.value.interrupted


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"designs": None}, "search.designs and search.seconds"),
        ({"workers": 9}, "search.workers=9 is more than the 8 legs"),
        ({"workers": 2, "designs": 300}, "more than the 1 legs"),
    ],
)
def test_budgets_that_cannot_work_are_refused(settings, words):
    """An empty budget and more workers than legs are input errors."""
    with pytest.raises(InputError, match=words):
        optimise(toy_case(**settings), evaluator=ToyEvaluator)


def test_pins_hold_in_everything_the_search_proposes():
    """No design of a search leaves a pinned or narrowed variable."""
    found = optimise(
        toy_case({"store_volume_L": 500, "fluid": ["Water", "n-Butane"]}, designs=1000),
        evaluator=ToyEvaluator,
    )
    assert set(found.designs["store_volume_L"]) == {500.0}
    assert set(found.evaluated) == {"Water", "n-Butane"}


def test_a_plain_random_search_stands_beside_the_search(outcome, of_two):
    """One leg's number of random designs, judged on the same axes, whatever the workers; the search beats them."""
    history = outcome.random_history
    assert history[-1].designs == 500
    ours = next(moment for moment in outcome.history if moment.designs == 1000)
    assert 0.0 < history[-1].hypervolume < ours.hypervolume
    assert [(m.designs, m.hypervolume) for m in of_two.random_history] == [
        (m.designs, m.hypervolume) for m in history
    ]


def test_the_random_search_takes_a_tenth_of_the_designs_or_of_the_time(monkeypatch):
    """Of 20,000 designs a tenth, at least one leg; a slow model is cut short by the time."""
    case = toy_case()
    space, objectives = Space.from_case(case), case.scenario.objectives
    crew = Alone(Kit(case, space, ToyEvaluator), lambda: ToyEvaluator(case))
    assert plain_random(space, crew, objectives, case.search, 20_000)[-1].designs == 2000
    assert plain_random(space, crew, objectives, case.search, 300)[-1].designs == 300
    assert plain_random(space, crew, objectives, case.search, 10**8)[-1].designs == 50_000
    slow = Alone(Kit(case, space, ToyEvaluator), lambda: SlowEvaluator(case))
    monkeypatch.setenv("TOY_NAP_S", "0.3")
    monkeypatch.setattr(plain, "LEAST_SECONDS", 0.5)
    assert plain_random(space, slow, objectives, case.search, 10**8)[-1].designs == 2 * 2048
