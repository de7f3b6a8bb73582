"""The seam behind which optimisers stand, with each of them."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

from explore.config.schema import SAMPLERS, Search
from explore.design.space import Space
from explore.search import optimise
from explore.search.archive import Archive
from explore.search.judge import judge
from explore.search.optimiser import Assignment
from explore.search.planning import OPTIMISERS
from explore.search.population import ANY_FLUID, Genes, Known
from tests.search.toy import ToyEvaluator, toy_case

DESIGNS = 100
SLOW_TO_ASK = {"tpe": 40}
"""Designs of a leg where each costs a twentieth of a second to propose; more than the ten that it draws at random first."""


def _known(space, case, n=300):
    genes = Genes(*space.sample_genes(n, np.random.default_rng(4)))
    judged = judge(
        ToyEvaluator(case).evaluate(space.decode(genes.unit, genes.choices)), case.scenario.objectives
    )
    return Known(genes, judged.values, judged.breach)


def _start(name, fluid, *, known=True):
    case = toy_case(sampler=name)
    space = Space.from_case(case)
    nothing = Known.none(space.dimensions, len(space.choice_counts), len(case.scenario.objectives))
    archive = Archive(nothing, 1000)
    if known:
        archive = archive.add(_known(space, case))
    return (
        case,
        space,
        OPTIMISERS[name](Assignment(0, fluid, SLOW_TO_ASK.get(name, DESIGNS), archive, space, case.search)),
    )


def test_the_settings_name_every_optimiser():
    """What may be typed is what there is."""
    assert set(SAMPLERS) == set(OPTIMISERS)


@pytest.mark.parametrize("known", [True, False])
@pytest.mark.parametrize("fluid", [ANY_FLUID, 1])
@pytest.mark.parametrize("name", sorted(OPTIMISERS))
def test_an_optimiser_does_one_leg(name, fluid, known):
    """Sent to another process, it proposes whole designs within the space until the leg is used, by its seed alone."""
    case, space, start = _start(name, fluid, known=known)
    batches, designs = [], SLOW_TO_ASK.get(name, DESIGNS)
    for _ in range(2):
        optimiser = pickle.loads(pickle.dumps(start)).begin(space, np.random.default_rng(7))
        left, seen = designs, []
        while left > 0:
            genes = optimiser.ask(min(designs // 2, left))
            assert 0 < len(genes) <= left
            left -= len(genes)
            judged = judge(
                ToyEvaluator(case).evaluate(space.decode(genes.unit, genes.choices)), case.scenario.objectives
            )
            optimiser.tell(genes, judged)
            seen.append(genes)
        batches.append(Genes.join(seen))
    first, second = batches
    assert len(first) == designs
    assert np.array_equal(first.unit, second.unit)
    assert np.array_equal(first.choices, second.choices)
    assert first.unit.min() >= 0.0
    assert first.unit.max() <= 1.0
    assert (first.choices >= 0).all()
    assert (first.choices < np.array(space.choice_counts)).all()
    mostly = np.bincount(first.choices[:, 0]).argmax()
    assert fluid in (ANY_FLUID, mostly)


@pytest.mark.parametrize("name", sorted(set(OPTIMISERS) - {Search(name="").sampler}))
def test_a_search_with_any_optimiser_does_not_depend_on_the_workers(name):
    """The front of two workers is that of one; tests/search/test_optimise.py says so of the usual optimiser."""
    designs = 240 if name in SLOW_TO_ASK else 800  # a whole leg and a short one, or two rounds of two
    one, two = (
        optimise(
            toy_case(sampler=name, designs=designs, leg_designs=200, legs_per_round=2, workers=workers),
            evaluator=ToyEvaluator,
        )
        for workers in (1, 2)
    )
    assert one.designs_evaluated == designs
    assert one.front.to_csv() == two.front.to_csv()


def test_what_learns_beats_what_does_not():
    """Islands and the NSGAs cover more with the same designs than random ones do, before the front is polished."""
    reached = {
        name: optimise(toy_case(sampler=name, designs=2000, leg_designs=500), evaluator=ToyEvaluator)
        .history[-1]
        .hypervolume
        for name in ("islands", "nsga2", "nsga3", "random")
    }
    assert reached["islands"] > 1.02 * reached["random"]
    assert reached["nsga2"] > 1.02 * reached["random"]
    assert reached["nsga3"] > 1.02 * reached["random"]
