"""Local improvement: slopes that learn, steps that worsen nothing, and designs read off between others."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from explore.design.space import Space
from explore.judgement.front import feasible_front
from explore.search import refine
from explore.search.between import LEAST_NEIGHBOURS, between
from explore.search.descent import COARSE_TO_FINE, FINE, SLACK, improved
from explore.search.judge import judge
from explore.search.population import Genes, Known
from explore.search.slope import ENDLESS, Slope, by_difference
from tests.search.toy import ToyEvaluator, toy_case

ONE_KIND = {"fluid": "Water", "store_mode": "mixed", "stages": 1, "collector": "flat"}


def _toy(pins=None, designs=3000):
    case = toy_case(pins or {})
    space = Space.from_case(case)
    columns = space.sample(designs, np.random.default_rng(1))
    frame = space.designs(columns).assign(**ToyEvaluator(case).evaluate(columns))
    objectives = case.scenario.objectives
    front = feasible_front(frame, objectives)

    def evaluate(genes):
        return judge(ToyEvaluator(case).evaluate(space.decode(genes.unit, genes.choices)), objectives)

    return front, space, evaluate, objectives


def test_improved_designs_are_feasible_and_worse_in_nothing():
    """Every design of a front of chance gains or stays, in each objective."""
    front, space, evaluate, objectives = _toy()
    values = judge({str(name): front[name].to_numpy() for name in front}, objectives).values
    span = refine.range_of(values)
    genes = refine.genes_of(front, space, np.arange(len(front)))
    done = improved(genes, space, evaluate, span, COARSE_TO_FINE)
    before, after = done.before, done.after
    assert after.feasible.all()
    assert (after.values <= before.values + SLACK).all()
    assert done.gains(span).mean() > 0.05
    np.testing.assert_array_equal(done.genes.choices, genes.choices)
    again = evaluate(done.genes)
    np.testing.assert_array_equal(again.values, after.values)
    # a second time there is far less to be had
    twice = improved(done.genes, space, evaluate, span, FINE)
    assert (twice.before.values - twice.after.values).sum() < 0.1 * (before.values - after.values).sum()


@given(st.integers(0, 2**32 - 1))
def test_a_slope_learns_what_a_step_has_found(seed):
    """Put right along a move it gives the change seen there, and across it what it gave before (Broyden 1965)."""
    rng = np.random.default_rng(seed)
    slope, move, change = Slope(rng.normal(size=(3, 5, 4))), rng.normal(size=(3, 5)), rng.normal(size=(3, 4))
    better = slope.put_right(move, change)
    np.testing.assert_allclose(np.einsum("nd,ndk->nk", move, better.of), change, atol=1e-9)
    across = rng.normal(size=(3, 5))
    across -= move * ((across * move).sum(axis=1) / (move**2).sum(axis=1))[:, None]
    np.testing.assert_allclose(
        np.einsum("nd,ndk->nk", across, better.of), np.einsum("nd,ndk->nk", across, slope.of), atol=1e-9
    )


def test_a_change_without_end_teaches_nothing():
    """Where an objective goes missing or a limit begins to apply there is no slope."""
    slope = Slope(np.ones((1, 2, 2)))
    better = slope.put_right(np.array([[1.0, 0.0]]), np.array([[ENDLESS, 5.0]]))
    np.testing.assert_array_equal(better.of[0, :, 0], 1.0)
    assert better.of[0, 0, 1] == 5.0
    found = by_difference(np.zeros((1, 2)), np.array([[-2.0 * ENDLESS, 3.0]]), np.array([0.5]))
    np.testing.assert_array_equal(found, [[0.0, 6.0]])


def _sheet(n=40, choices=1):
    """Designs whose genes are straight lines of what they are worth."""
    rng = np.random.default_rng(4)
    values = rng.random((n, 3))
    line = rng.uniform(-0.2, 0.2, (3, 4))
    unit = 0.5 + values @ line
    return Known(Genes(unit, np.full((n, 1), choices)), values, np.zeros(n)), line


def test_genes_are_read_off_a_straight_sheet():
    """Where genes are straight lines of the objectives, those of any design between and beyond are found."""
    sheet, line = _sheet()
    rng = np.random.default_rng(5)
    values, beyond = rng.uniform(0.3, 0.7, (20, 3)), rng.uniform(0.0, 0.1, (20, 3))
    at = Known(Genes(rng.random((20, 4)), np.ones((20, 1), int)), values, np.zeros(20))
    read = between(sheet, at, beyond, np.ones(3))
    assert read.found.all()
    np.testing.assert_allclose(read.unit, 0.5 + (values - beyond) @ line, atol=1e-3)
    half = between(sheet, at, beyond, np.array([0.5, 1.0, 1.0]))
    np.testing.assert_allclose(half.unit, 0.5 + (values - beyond * [0.5, 1.0, 1.0]) @ line, atol=1e-3)


def test_nothing_is_read_off_designs_of_other_choices():
    """Another fluid's genes say nothing, and too few neighbours do not either."""
    sheet, _ = _sheet()
    own = Genes(np.full((2, 4), 0.25), np.array([[0], [1]]))
    at = Known(own, np.full((2, 3), 0.5), np.zeros(2))
    read = between(sheet, at, np.zeros((2, 3)), np.ones(3))
    np.testing.assert_array_equal(read.found, [False, True])
    np.testing.assert_array_equal(read.unit[0], own.unit[0])
    few = sheet.take(np.arange(LEAST_NEIGHBOURS - 1))
    assert not between(few, at, np.zeros((2, 3)), np.ones(3)).found.any()


def test_others_are_bettered_by_what_their_like_became(monkeypatch):
    """Forty designs are improved by descent and many more by them, each better than one of before and worse in nothing."""
    front, space, evaluate, objectives = _toy(ONE_KIND, 20_000)
    assert len(front) > 100
    monkeypatch.setattr(refine, "POLISH_LEAST", 40)
    better = refine.polish(front, space, evaluate, objectives, 0)
    assert len(better) > 80
    before = judge({str(name): front[name].to_numpy() for name in front}, objectives).values
    for values in evaluate(better).values:
        assert ((values <= before + SLACK).all(axis=1) & (values < before - SLACK).any(axis=1)).any()


def test_the_rest_is_led_by_the_slopes_of_the_nearest():
    """Many designs gain by steps whose slopes were measured for others, and none becomes worse in anything."""
    front, space, evaluate, objectives = _toy(ONE_KIND, 20_000)
    values = judge({str(name): front[name].to_numpy() for name in front}, objectives).values
    known = Known(refine.genes_of(front, space, np.arange(len(front))), values, np.zeros(len(front)))
    span, some, rest = refine.range_of(values), np.arange(0, len(front), 5), np.arange(1, len(front), 5)
    sheet, kin = improved(known.genes.take(some), space, evaluate, span, COARSE_TO_FINE), known.take(rest)
    led = refine._led(sheet, kin, span, space, evaluate, len(rest))
    assert (led.values <= kin.values + SLACK).all()
    assert ((kin.values - led.values) / span).max(axis=1).mean() > 0.02
    np.testing.assert_array_equal(evaluate(led.genes).values, led.values)
    few = refine._led(sheet, kin, span, space, evaluate, 7)
    assert 0 < (few.genes.unit != kin.genes.unit).any(axis=1).sum() <= 7
    assert refine._led(sheet, kin, span, space, evaluate, -3) is kin


def test_slopes_are_those_of_the_nearest_with_the_same_choices():
    """A nearer design of another fluid is no neighbour, and where no design has the choices there is none."""
    sheet = Genes(np.array([[0.1, 0.1], [0.9, 0.9], [0.5, 0.5]]), np.array([[1], [1], [2]]))
    at = Genes(np.array([[0.55, 0.55], [0.2, 0.2], [0.5, 0.5]]), np.array([[1], [1], [3]]))
    assert refine._nearest(sheet, at).tolist() == [1, 0, -1]
