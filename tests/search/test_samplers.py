"""Optuna's samplers and a user's own in a search, and whose word names them."""

from __future__ import annotations

import sys

import numpy as np
import optuna
import pytest

from explore import cli
from explore.config.compose import complete, load_scenario
from explore.design.space import Space
from explore.errors import InputError
from explore.run.files import write_yaml
from explore.run.reader import read_case
from explore.search import optimise
from explore.search.judge import judge
from explore.search.population import ANY_FLUID, Genes, Known
from explore.search.sampler import SAMPLERS, Trials, sampler_of
from tests.search.own_sampler import Learner
from tests.search.toy import ToyEvaluator, toy_case

HALVES, LEARNER = "tests.search.own_sampler.Halves", "tests.search.own_sampler.Learner"
SMALL = {"designs": 800, "leg_designs": 200, "legs_per_round": 2}


def leg(name, batches=3, known=0):
    """The optimiser of a leg, after some batches, and their designs."""
    case = toy_case(sampler=name)
    space = Space.from_case(case)
    genes = Genes(*space.sample_genes(known, np.random.default_rng(1)))

    def judged(some):
        return judge(
            ToyEvaluator(case).evaluate(space.decode(some.unit, some.choices)), case.scenario.objectives
        )

    told = judged(genes) if known else None
    start = Trials(
        name,
        ANY_FLUID,
        40,
        Known(genes, told.values, told.breach) if told else Known.none(space.dimensions, 4, 3),
    )
    optimiser, seen = start.begin(space, np.random.default_rng(2)), []
    for _ in range(batches):
        seen.append(optimiser.ask(40))
        optimiser.tell(seen[-1], judged(seen[-1]))
    return space, optimiser, Genes.join(seen)


def test_each_name_is_the_sampler_of_its_name():
    """NSGA-II and NSGA-III cross by SBX and mutate by polynomials; the others are Optuna's as they come."""
    kinds = {name: type(sampler_of(name, 50, 1)).__name__ for name in SAMPLERS}
    assert kinds == {
        "nsga2": "NSGAIISampler",
        "nsga3": "NSGAIIISampler",
        "tpe": "TPESampler",
        "qmc": "QMCSampler",
        "random": "RandomSampler",
    }


@pytest.mark.parametrize("name", ["tpe", "random", HALVES])
def test_what_does_not_apply_is_no_parameter(name):
    """A trial holds the parameters of its design and no others, with its constraint."""
    space, optimiser, genes = leg(name)
    for trial, applies in zip(optimiser._study.trials, space.applies(genes.choices), strict=True):
        wanted = {f"place of {v.name}" for v, there in zip(space.variables, applies, strict=True) if there}
        assert {key for key in trial.params if key.startswith("place")} == wanted
        assert set(trial.constraints) == {"breach"}


@pytest.mark.parametrize("name", ["nsga2", "nsga3", "qmc"])
def test_samplers_of_what_all_trials_have_are_asked_for_all(name):
    """Else their crossover and their points would not reach half of the parameters."""
    space, optimiser, _ = leg(name)
    assert all(len(trial.params) == space.dimensions + 4 for trial in optimiser._study.trials)


def test_quasi_random_points_are_spread_evenly():
    """But for the first one, each gene's range is filled more evenly than by chance."""
    _, _, genes = leg("qmc", batches=14)
    unit = genes.unit[1:513]
    counts = np.array([np.histogram(column, 16, (0.0, 1.0))[0] for column in unit.T])
    assert np.abs(counts - len(unit) / 16).max() <= 3


def test_a_users_sampler_proposes_the_designs(tmp_path):
    """By its dotted path: the search's designs are its own, with any number of workers, stored and gone on with."""
    whole = optimise(toy_case(sampler=HALVES, **SMALL), evaluator=ToyEvaluator)
    space = Space.from_case(toy_case())
    unit, choices = space.encode({name: whole.designs[name].to_numpy() for name in whole.designs})
    tried = unit[: whole.designs_evaluated][space.applies(choices)[: whole.designs_evaluated]]
    assert (tried >= 0.5 - 1e-9).mean() > 0.99
    two = optimise(toy_case(sampler=HALVES, workers=2, **SMALL), evaluator=ToyEvaluator)
    assert two.front.to_csv() == whole.front.to_csv()
    half = {**SMALL, "designs": 400}
    optimise(toy_case(sampler=HALVES, **half), evaluator=ToyEvaluator, run_folder=tmp_path)
    again = optimise(toy_case(sampler=HALVES, **SMALL), evaluator=ToyEvaluator, run_folder=tmp_path)
    assert again.front.to_csv() == whole.front.to_csv()
    assert again.legs_here == 2


def test_another_sampler_does_not_go_on_with_a_campaign(tmp_path):
    """The sampler is one of the facts of a campaign."""
    optimise(toy_case(sampler="random", **SMALL), evaluator=ToyEvaluator, run_folder=tmp_path)
    with pytest.raises(InputError, match="search settings changed"):
        optimise(toy_case(sampler=HALVES, **SMALL), evaluator=ToyEvaluator, run_folder=tmp_path)


def test_a_users_sampler_learns_what_is_known():
    """It takes no seed, and begins a leg with the best designs known as finished trials; random ones need none."""
    Learner.began_with.clear()
    leg(LEARNER, batches=1, known=60)
    leg(LEARNER, batches=1)
    assert Learner.began_with == [60, 0]
    _, optimiser, _ = leg("random", batches=1, known=60)
    assert len(optimiser._study.trials) == 40


def test_genetic_samplers_begin_with_what_is_known():
    """The first generation is the best known designs, to be judged again."""
    _, _, genes = leg("nsga2", batches=1, known=40)
    space = Space.from_case(toy_case())
    unit, choices = space.sample_genes(40, np.random.default_rng(1))
    assert np.array_equal(genes.unit, unit)
    assert np.array_equal(genes.choices, choices)


def test_nothing_is_written_where_the_sampler_is_none(tmp_path):
    """A wrong class is refused before a campaign begins."""
    with pytest.raises(InputError, match="no sampler"):
        optimise(
            toy_case(sampler="tests.search.toy.ToyEvaluator"), evaluator=ToyEvaluator, run_folder=tmp_path
        )
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["CmaEsSampler", "BruteForceSampler"])
def test_a_sampler_that_cannot_serve_is_refused(tmp_path, name):
    """One objective only, or a grid without steps: Optuna's own reason is told, and what to take instead."""
    case = toy_case(sampler=f"optuna.samplers.{name}", **SMALL)
    with pytest.raises(
        InputError, match=rf"{name} cannot propose designs here \(ValueError: .*several objectives"
    ):
        optimise(case, evaluator=ToyEvaluator, run_folder=tmp_path)


def test_a_run_of_before_is_read_by_the_old_name():
    """search.optimiser was the key; another value of it than there were is refused."""
    case = toy_case()
    data = case.model_dump()
    data["search"]["optimiser"] = data["search"].pop("sampler")
    assert type(case).model_validate(data).search == case.search
    data["search"]["optimiser"] = "strange.Sampler"
    with pytest.raises(ValueError, match="optimiser"):
        type(case).model_validate(data)


@pytest.fixture
def strange(tmp_path, monkeypatch):
    """A run's folder from elsewhere that names a sampler, and a module of that name that must not be imported."""
    folder, places = tmp_path / "run", tmp_path / "places"
    folder.mkdir()
    places.mkdir()
    (places / "strange_module.py").write_text("raise SystemExit('imported')\n")
    monkeypatch.syspath_prepend(str(places))
    case = load_scenario("orchard", ["search.sampler=strange_module.Strange"])
    write_yaml(folder / "config.yaml", complete(case))
    (folder / "campaign.journal").write_text("")
    monkeypatch.chdir(tmp_path)
    return folder


def refused(monkeypatch, capfd, *words):
    """What the command says, which is one sentence and status 2."""
    monkeypatch.setattr(sys, "argv", ["explore", *words])
    status = cli.main()
    out, err = capfd.readouterr()
    assert status == 2
    assert out == ""
    assert "Traceback" not in err
    return err


@pytest.mark.parametrize("how", ["resume={}", "-cp {} -cn config"])
def test_a_folders_word_is_not_taken_for_what_to_import(strange, monkeypatch, capfd, how):
    """Gone on with or run again, a run by a class of somebody's needs its name from whoever types."""
    before = sorted(path.name for path in strange.parent.rglob("*"))
    said = refused(monkeypatch, capfd, *how.format(strange).split())
    assert "strange_module.Strange" in said
    assert "name it again with search.sampler=" in said
    assert "strange_module" not in sys.modules
    assert sorted(path.name for path in strange.parent.rglob("*")) == before


def test_a_resumed_run_keeps_its_sampler(strange, monkeypatch, capfd):
    """Naming another one is a new run."""
    said = refused(monkeypatch, capfd, f"resume={strange}", "search.sampler=tests.search.own_sampler.Halves")
    assert "cannot change within a run" in said


def test_reading_a_run_imports_nothing(strange):
    """A run's sampler is text to all that read it; loading it as a case asks for the name."""
    assert read_case(strange).search.sampler == "strange_module.Strange"
    with pytest.raises(InputError, match="name it again"):
        load_scenario(strange)
    case = load_scenario(strange, ["search.sampler=strange_module.Strange"])
    assert case.search.sampler == "strange_module.Strange"
    assert "strange_module" not in sys.modules


def test_a_module_that_fails_is_told_in_a_sentence(tmp_path, monkeypatch):
    """Whatever a user's module raises while it is imported."""
    (tmp_path / "broken_module.py").write_text("1 / 0\n")
    monkeypatch.syspath_prepend(str(tmp_path))
    with pytest.raises(InputError, match=r"ZeroDivisionError.*PYTHONPATH"):
        sampler_of("broken_module.Mine", 10, 1)


def test_every_trial_has_a_batch(monkeypatch):
    """Batches of a population's size are asked before any of them is told: the model sees them at once."""
    sizes = []

    class Counted(ToyEvaluator):
        def evaluate(self, columns):
            sizes.append(len(columns["fluid"]))
            return super().evaluate(columns)

    monkeypatch.setattr(optuna.logging, "set_verbosity", lambda level: None)
    optimise(toy_case(sampler="tpe", designs=200, leg_designs=200, population=100), evaluator=Counted)
    assert sizes[:2] == [100, 100]
