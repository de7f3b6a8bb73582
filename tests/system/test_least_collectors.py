"""Collectors as small as the demand allows, as a search takes them."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from explore.config.compose import load_scenario
from explore.design.space import INPUTS, Space
from explore.model import Evaluator
from explore.model.least_collectors import WITHIN, is_best
from explore.run.files import read_frame
from explore.search import leg
from explore.search.archive import Archive
from explore.search.planning import FRONT, order
from explore.search.population import Known
from tests.documents import CLONE

AREA = "collector_area_m2"


@pytest.fixture(scope="module")
def case():
    """An orchard that wants four fifths of its demand served."""
    return load_scenario("orchard")


@pytest.fixture(scope="module")
def drawn(case):
    """Designs that work, with other collectors, and some at random; the model and the space they are of."""
    space, rng = Space.from_case(case), np.random.default_rng(7)
    front = read_frame(CLONE / "results" / "example" / "front.csv").iloc[::2]
    unit, choices = space.encode({name: front[name].to_numpy() for name in INPUTS})
    place = [variable.name for variable in space.variables].index(AREA)
    unit[:, place] = np.clip(unit[:, place] + rng.normal(0.0, 0.05, len(unit)), 0.0, 1.0)
    others, kinds = space.sample_genes(40, rng)
    return Evaluator(case), space, np.concatenate([unit, others]), np.concatenate([choices, kinds])


def fitted(drawn, rows=slice(None)):
    """Genes of the areas found, and the figures, of some of the designs."""
    evaluator, space, unit, choices = drawn
    place = [variable.name for variable in space.variables].index(AREA)
    columns = space.decode(unit[rows], choices[rows])
    return evaluator.evaluate_fitted(columns, unit[rows, place], lambda gene: space.decoded(AREA, gene))


def test_figures_are_those_of_the_area_that_is_named(drawn):
    """Evaluated with the area of the gene that comes back, a design has the same figures to the last bit."""
    evaluator, space, unit, choices = drawn
    gene, figures = fitted(drawn)
    place = [variable.name for variable in space.variables].index(AREA)
    again = unit.copy()
    again[:, place] = gene
    plain = evaluator.evaluate(space.decode(again, choices))
    assert figures.keys() == plain.keys()
    for name, values in plain.items():
        assert_array_equal(figures[name], values, err_msg=name)


def test_the_least_area_that_serves_is_taken(drawn, case):
    """With a fifth more or fewer, designs that work come to serve just enough; none serves less or costs more."""
    evaluator, space, unit, choices = drawn
    wanted = case.scenario.limits.served_share_min
    before = evaluator.evaluate(space.decode(unit, choices))
    gene, after = fitted(drawn)
    served, had = after["served_share"], before["served_share"]
    enough = had >= wanted
    assert np.all(served[enough] >= wanted)
    assert np.all(after["cost_EUR"][enough] <= before["cost_EUR"][enough])
    assert np.all(served[~enough] >= had[~enough])
    place = [variable.name for variable in space.variables].index(AREA)
    assert np.count_nonzero(gene[:100] != unit[:100, place]) > 90
    assert np.count_nonzero(enough[:100]) < 80
    assert np.count_nonzero(served[:100] >= wanted) > 90
    assert np.quantile(served[:100] / wanted, 0.9) < 1.0 + 15.0 * WITHIN
    for name in ("work_per_litre_kJ", "peak_pressure_bar_g", "charge_kg"):
        assert_array_equal(after[name], before[name])


def test_no_design_depends_on_its_batch(drawn):
    """Some designs by themselves, in another order, get the same areas, as near as their figures are the same."""
    gene, _ = fitted(drawn)
    rows = np.random.default_rng(1).permutation(len(gene))[:23]
    assert_allclose(fitted(drawn, rows)[0], gene[rows], rtol=1e-9)
    assert_allclose(fitted(drawn, rows[:1])[0], gene[rows[:1]], rtol=1e-9)


@pytest.mark.parametrize(
    ("words", "holds"),
    [
        ([], True),
        (["scenario.limits.served_share_min=0"], False),
        (["scenario.limits.bounds.bridged_hours=[5,null]"], False),
        (["scenario.limits.bounds.charge_kg=[null,3]"], True),
        (["scenario.objectives.1.figure=cost_EUR_per_kWh"], False),
    ],
)
def test_only_where_less_is_never_worse(words, holds):
    """Not where nothing is to be served, or something is asked of the year that a larger area gives."""
    case = load_scenario("orchard", words)
    assert is_best(case) is holds
    if not holds:
        space = Space.from_case(case)
        unit, choices = space.sample_genes(2, np.random.default_rng(0))
        assert fitted((Evaluator(case), space, unit, choices)) is None


def led(case):
    """What a first leg of a search handed in, its space and its model."""
    space = Space.from_case(case)
    nothing = Known.none(space.dimensions, len(space.choice_counts), len(case.scenario.objectives))
    ordered = order(0, FRONT, 400, Archive(nothing, 1000), space, case.search)
    evaluator = Evaluator(case)
    return leg.run_leg(ordered, space, evaluator, case.scenario.objectives).known, space, evaluator


def test_a_leg_hands_in_what_was_evaluated(case):
    """Designs of a leg have the areas that were fitted: judged anew they are the same, and many just serve enough."""
    known, space, evaluator = led(case)
    figures = evaluator.evaluate(space.decode(known.genes.unit, known.genes.choices))
    judged = leg.judge(figures, case.scenario.objectives)
    assert_array_equal(judged.values, known.values)
    assert_array_equal(judged.breach, known.breach)
    share = figures["served_share"] / case.scenario.limits.served_share_min
    assert np.mean((share >= 1.0) & (share <= 1.0 + 10.0 * WITHIN)) > 0.1


def test_a_pinned_area_stays(case):
    """Collectors that one has are not changed, nor those of a sampler that is told of what it has asked for alone."""
    known, space, _ = led(load_scenario("orchard", ["space.collector_area_m2=6"]))
    assert set(space.decode(known.genes.unit, known.genes.choices)[AREA]) == {6.0}
    known, space, evaluator = led(load_scenario("orchard", ["search.sampler=random"]))
    figures = evaluator.evaluate(space.decode(known.genes.unit, known.genes.choices))
    share = figures["served_share"] / case.scenario.limits.served_share_min
    assert np.mean((share >= 1.0) & (share <= 1.0 + 10.0 * WITHIN)) < 0.05
