"""The islands as Optuna's sampler: the same designs as by arrays, in anybody's study."""

from __future__ import annotations

from functools import partial

import numpy as np
import optuna
import pytest

from explore.design.space import INPUTS, Space
from explore.errors import InputError
from explore.judgement.front import hypervolume, normalise
from explore.search import IslandSampler, Parameters
from explore.search.archive import Archive
from explore.search.island_sampler import plan_leg
from explore.search.judge import judge
from explore.search.leg import Order, batch_size, run_leg
from explore.search.optimiser import Assignment
from explore.search.planning import order
from explore.search.population import ANY_FLUID, Known
from tests.search.toy import ToyEvaluator, toy_case

LEG = 800
CASE = toy_case(leg_designs=LEG, seed=5)
FIGURES = ["work_per_litre_kJ", "cost_EUR", "peak_pressure_bar_g"]


def study_of(sampler):
    """An Optuna user's own study of the toy."""
    optuna.logging.set_verbosity(optuna.logging.ERROR)
    return optuna.create_study(sampler=sampler, directions=["maximize", "minimize", "minimize"])


def asked(study, parameters, n):
    """Ask for ``n`` trials and return them with their designs as columns."""
    trials = [study.ask() for _ in range(n)]
    return trials, parameters.columns([parameters.suggest(trial) for trial in trials])


def told(study, trials, columns):
    """Have the toy judge a batch, and tell it as an Optuna user does."""
    figures = ToyEvaluator(CASE).evaluate(columns)
    for place, trial in enumerate(trials):
        for name in figures:
            if name.startswith("violation_"):
                trial.set_constraint(name, figures[name][place])
        study.tell(trial, [figures[name][place] for name in FIGURES])


def by_trials(study, n, batch):
    """Search by trials, ``batch`` at a time; the designs proposed, in order."""
    parameters, seen = Parameters.of_case(CASE), []
    while n > 0:
        trials, columns = asked(study, parameters, min(batch, n))
        told(study, trials, columns)
        seen.append(columns)
        n -= len(trials)
    return {name: np.concatenate([columns[name] for columns in seen]) for name in INPUTS}


def by_arrays(known, number):
    """The designs that a leg proposes from what is known, by arrays, as a leg of the search does."""
    space, seen = Space.from_case(CASE), []
    archive = Archive(known.take(slice(0)), CASE.search.archive_designs).add(known)
    start = plan_leg(Assignment(number, ANY_FLUID, LEG, archive, space, CASE.search))
    optimiser, left = start.begin(space, np.random.default_rng((CASE.search.seed, number))), LEG
    assert isinstance(optimiser, IslandSampler)
    while left:
        genes = optimiser.ask(min(batch_size(LEG), left))
        left -= len(genes)
        columns = space.decode(genes.unit, genes.choices)
        optimiser.tell(genes, judge(ToyEvaluator(CASE).evaluate(columns), CASE.scenario.objectives))
        seen.append(columns)
    return {name: np.concatenate([columns[name] for columns in seen]) for name in INPUTS}


def same(one, other):
    """The same designs, to the last bit; what a governor does not govern has none."""
    mixed = one["store_mode"] == "mixed"
    for name in INPUTS:
        if name == "governing":
            assert (one[name] == other[name])[mixed].all()
        elif one[name].dtype.kind == "f":
            assert np.array_equal(one[name], other[name], equal_nan=True), name
        else:
            assert (one[name] == other[name]).all(), name


def test_trials_and_arrays_propose_the_same_designs_from_nothing():
    """A whole first leg, trial by trial: the study proposes what the leg does by arrays."""
    space = Space.from_case(CASE)
    nothing = Known.none(space.dimensions, len(space.choice_counts), 3)
    same(by_trials(study_of(IslandSampler(CASE)), LEG, 1), by_arrays(nothing, 0))


def test_many_trials_may_be_asked_before_any_is_told():
    """Beside a batch of the islands' that waits for results stand children: the islands' own designs stay the same."""
    space = Space.from_case(CASE)
    whole = by_arrays(Known.none(space.dimensions, len(space.choice_counts), 3), 0)
    found = by_trials(study_of(IslandSampler(CASE)), 1300, 130)
    names = ["store_volume_L", "collector_area_m2", "top_temperature_degC"]
    rows, wanted = (list(zip(*(designs[name] for name in names), strict=True)) for designs in (found, whole))
    assert rows[:60] == wanted[:60]
    among = iter(rows)
    assert sum(one in among for one in wanted[:400]) == 400


def test_results_that_never_come_do_not_stop_it():
    """Trials that nobody tells of count as failed in the end: others get new designs, and a leg ends."""
    short = toy_case(leg_designs=200, seed=5)
    study, parameters = study_of(IslandSampler(short)), Parameters.of_case(short)
    seen = set()
    for number in range(1000):
        trial = study.ask()
        columns = parameters.columns([parameters.suggest(trial)])
        seen.add((columns["top_temperature_degC"][0], columns["condensing_temperature_degC"][0]))
        if number % 3:
            told(study, [trial], columns)
    assert len(seen) > 600
    assert study.sampler._legs > 1


def test_trials_and_arrays_propose_the_same_designs_from_what_a_study_knows():
    """From the trials of another sampler both plan and breed the same leg."""
    study = study_of(optuna.samplers.RandomSampler(seed=3))
    by_trials(study, 900, 900)
    study.sampler = IslandSampler(CASE)
    known = study.sampler.known(study)
    assert len(known) == 900
    same(by_trials(study, LEG, 1), by_arrays(known, 1))


def test_a_leg_of_the_search_asks_the_same_class():
    """What run_leg hands back is what the sampler proposed by arrays."""
    space = Space.from_case(CASE)
    nothing = Known.none(space.dimensions, len(space.choice_counts), 3)
    ordered = order(0, "front", LEG, Archive(nothing, 6000), space, CASE.search)
    assert isinstance(ordered, Order)
    result = run_leg(ordered, space, ToyEvaluator(CASE), CASE.scenario.objectives)
    same(space.decode(result.known.genes.unit, result.known.genes.choices), by_arrays(nothing, 0))


def test_designs_of_a_study_are_known_as_they_were_judged():
    """Values and breach read back from trials are those of the judge; designs come back to a rounding."""
    study = study_of(optuna.samplers.RandomSampler(seed=1))
    columns = by_trials(study, 200, 200)
    known = IslandSampler(CASE).known(study)
    judged = judge(ToyEvaluator(CASE).evaluate(columns), CASE.scenario.objectives)
    assert np.array_equal(known.values, judged.values)
    assert np.array_equal(known.breach, judged.breach)
    assert 0 < (known.breach > 0.0).sum() < 200


def test_in_a_study_it_covers_more_than_random():
    """On 1,600 trials, told in batches of 50, the islands cover more of the box than chance does, by two seeds each."""
    reached = {}
    for sampler, begin in (
        ("islands", partial(IslandSampler, CASE)),
        ("random", optuna.samplers.RandomSampler),
    ):
        found = []
        for seed in (1, 2):
            figures = ToyEvaluator(CASE).evaluate(by_trials(study_of(begin(seed=seed)), 1600, 50))
            found.append(hypervolume(normalise(figures, CASE.scenario.objectives)[figures["feasible"]]))
        reached[sampler] = np.mean(found)
    assert reached["islands"] > 1.05 * reached["random"]


def test_optimize_with_threads_and_failing_trials():
    """study.optimize in two threads, one trial in ten failing: all get designs, and legs follow one another."""
    parameters = Parameters.of_case(CASE)
    study = study_of(IslandSampler(toy_case(leg_designs=200)))

    def objective(trial):
        figures = ToyEvaluator(CASE).evaluate(parameters.columns([parameters.suggest(trial)]))
        if trial.number % 10 == 9:
            raise ArithmeticError
        return [figures[name][0] for name in FIGURES]

    study.optimize(objective, n_trials=500, n_jobs=2, catch=ArithmeticError)
    states = [trial.state.name for trial in study.trials]
    assert states.count("COMPLETE") == 450
    assert states.count("FAIL") == 50


def test_trials_that_are_no_designs_are_not_known():
    """A trial of other parameters, or of a fluid that is not here, is left out."""
    study = study_of(optuna.samplers.RandomSampler(seed=1))
    by_trials(study, 20, 20)
    study.add_trial(optuna.create_trial(values=[1.0, 2.0, 3.0]))
    one = study.trials[0]
    study.add_trial(
        optuna.create_trial(
            values=[1.0, 2.0, 3.0],
            params=one.params | {"fluid": "Helium"},
            distributions=one.distributions
            | {"fluid": optuna.distributions.CategoricalDistribution(["Helium"])},
        )
    )
    assert len(IslandSampler(CASE).known(study)) == 20


def test_a_study_of_other_objectives_is_refused():
    """One sentence says which directions are wanted."""
    study = optuna.create_study(sampler=IslandSampler(CASE), directions=["minimize", "minimize"])
    with pytest.raises(InputError, match="maximise work_per_litre_kJ, minimise cost_EUR"):
        Parameters.of_case(CASE).suggest(study.ask())


def test_ask_with_distributions_gives_every_parameter():
    """An Optuna user who asks with fixed distributions gets a value for those as well that the design has no use for."""
    study = study_of(IslandSampler(CASE))
    distributions = dict(Parameters.of_case(CASE).distributions)
    trial = study.ask(distributions)
    assert set(trial.params) == set(distributions)
