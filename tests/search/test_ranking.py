"""Who survives, who breeds, and what the operators make of them: by hand and by proportion."""

import numpy as np
import pytest

from explore.search import variation
from explore.search.ranking import constrained_ranks, crowding_distance, spread, survivors, tournament, worth

MANY = 40_000


def test_feasible_ones_go_by_layers_and_infeasible_ones_by_breach_behind_them():
    """Two layers of feasible designs, then the less broken before the more broken, however good it looks."""
    values = np.array([[0.1, 0.9], [0.9, 0.1], [0.9, 0.9], [0.0, 0.0], [0.0, 0.0]])
    breach = np.array([0.0, 0.0, 0.0, 2.0, 0.5])
    assert constrained_ranks(values, breach).tolist() == [0, 0, 1, 3, 2]


def test_worth_is_the_area_that_a_design_alone_covers():
    """Of (0.2, 0.6), (0.4, 0.4), (0.6, 0.2) in the unit box the middle one alone covers 0.2 x 0.2; beyond it nothing."""
    values = np.array([[0.2, 0.6], [0.4, 0.4], [0.6, 0.2], [0.1, 1.2]])
    assert worth(values) == pytest.approx([0.2 * 0.4, 0.2 * 0.2, 0.4 * 0.2, 0.0])


def test_crowding_is_the_gap_between_neighbours():
    """Ends are kept at any price; between them counts how far the neighbours lie apart, each axis by its span."""
    found = crowding_distance(np.array([[0.0, 1.0], [0.25, 0.5], [1.0, 0.0]]))
    assert found.tolist() == [np.inf, 2.0, np.inf]


def test_the_crowded_leave_a_layer_first():
    """Of three close designs and two far apart, the one that the others nearly cover goes."""
    values = np.array([[0.1, 0.9], [0.49, 0.52], [0.5, 0.5], [0.52, 0.49], [0.9, 0.1]])
    assert spread(values, 4).tolist() == [0, 1, 3, 4]
    kept, ranks, own = survivors(values, np.zeros(5), 4)
    assert kept.tolist() == [0, 1, 3, 4]
    assert ranks.tolist() == [0] * 4
    assert (own > 0.0).all()


@pytest.mark.parametrize(
    ("ranks", "value"), [([0, 1], [0.0, 9.0]), ([0, 0], [1.0, 0.5])], ids=["rank first", "then worth"]
)
def test_a_tournament_is_won_by_rank_then_worth(ranks, value):
    """The better of two designs is a parent in three draws of four: always, but when the other meets itself."""
    rows = tournament(np.array(ranks), np.array(value), MANY, np.random.default_rng(1))
    assert np.mean(rows == 0) == pytest.approx(0.75, abs=0.01)


def test_crossover_keeps_a_quarter_of_the_genes_and_the_mean_of_the_parents():
    """Three genes of four are crossed; children lie around their parents' middle, wide for eta 2, within [0, 1]."""
    first, second = np.full((MANY, 1), 0.45), np.full((MANY, 1), 0.55)
    child = variation.simulated_binary_crossover(first, second, np.random.default_rng(2))
    assert np.mean(child == 0.45) == pytest.approx(0.25, abs=0.01)
    crossed = child[child != 0.45]
    assert np.mean(crossed) == pytest.approx(0.5, abs=0.002)
    # half of all spread factors are below 1, so that half of the children lie between the parents
    assert np.mean((crossed > 0.45) & (crossed < 0.55)) == pytest.approx(0.5, abs=0.01)
    # a factor above b has the chance 1 / (2 b^3) at eta 2
    assert np.mean(np.abs(crossed - 0.5) > 0.1) == pytest.approx(1.0 / 16.0, abs=0.005)


def test_mutation_is_narrow_and_as_frequent_as_asked():
    """One gene in five moves; with eta 30 half of the moves stay within 1 - 2^(-1/31) = 2.2 % of the range to an edge."""
    unit = np.full((MANY, 1), 0.0)
    moved = variation.polynomial_mutation(unit, np.random.default_rng(3), rate=1.0)
    assert (moved >= 0.0).all()
    middle = np.full((MANY, 1), 0.5)
    some = variation.polynomial_mutation(middle, np.random.default_rng(4), rate=0.2)
    assert np.mean(some != 0.5) == pytest.approx(0.2, abs=0.01)
    steps = np.abs(some[some != 0.5] - 0.5)
    # |step| below d has the chance 1 - (1 - d)^31, but for what the edges half a range away change
    assert np.mean(steps < 0.022) == pytest.approx(1.0 - 0.978**31, abs=0.02)


def test_a_differential_step_goes_ahead_more_often_than_back():
    """Factors are even from -0.2 to 0.8, one for all genes of a child, of which seven in ten move."""
    base, ahead, behind = np.full((MANY, 2), 0.4), np.full((MANY, 2), 0.6), np.full((MANY, 2), 0.4)
    child = variation.differential_step(base, ahead, behind, np.random.default_rng(5))
    moved = child != 0.4
    assert moved.mean() == pytest.approx(0.7, abs=0.01)
    factor = (child[moved] - 0.4) / 0.2
    assert factor.mean() == pytest.approx(0.3, abs=0.01)
    assert factor.min() == pytest.approx(-0.2, abs=1e-3)
    assert factor.max() == pytest.approx(0.8, abs=1e-3)
    both = moved.all(axis=1)
    np.testing.assert_allclose(child[both, 0], child[both, 1])


def test_what_leaves_the_range_is_folded_back():
    """-0.1 becomes 0.1, 1.2 becomes 0.8."""
    assert variation.reflect(np.array([-0.1, 0.5, 1.2])) == pytest.approx([0.1, 0.5, 0.8])


def test_one_choice_in_five_comes_from_the_other_parent():
    """Choices mostly stay with the sizes they were found with; drawn anew, each option is as likely."""
    rng = np.random.default_rng(6)
    zeros, ones = np.zeros((MANY, 1), int), np.ones((MANY, 1), int)
    assert variation.cross_choices(zeros, ones, rng).mean() == pytest.approx(0.2, abs=0.01)
    drawn = variation.mutate_choices(zeros, (4,), rng, rate=0.5)
    assert np.bincount(drawn[:, 0]) / MANY == pytest.approx([0.625, 0.125, 0.125, 0.125], abs=0.01)
