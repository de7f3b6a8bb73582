"""Answers on cases that can be worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from explore.config.doubtful import Doubtful
from explore.doubt import answers
from explore.doubt.draws import Draws, points, value

N = 4096


def normal(name, group):
    """An assumption of 10 with a standard deviation of 2."""
    reach = 2.0 * norm.ppf(0.9)
    return Doubtful(name, ("engine", name), 10 - reach, 10.0, 10 + reach, None, -1e9, 1e9, group, 1)


@pytest.fixture(scope="module")
def two():
    """Two such, correlated by 0.5."""
    draws = Draws([normal("x", "a"), normal("y", "b")], [[1.0, 0.5], [0.5, 1.0]], (0.0, 0.0))
    return draws.sample(points(N, draws.dimensions, 1))


def test_a_linear_case_has_the_analytic_band(two):
    """Of 3 x - y: mean 20, variance 9*4 + 4 - 2*3*0.5*4."""
    z = 3.0 * two.values[:, 0] - two.values[:, 1]
    spread = np.sqrt(36 + 4 - 12)
    found = answers.band(z)
    assert found["likely"] == pytest.approx(20.0, abs=0.1)
    assert found["low"] == pytest.approx(20.0 - spread * norm.ppf(0.9), abs=0.2)
    assert found["high"] == pytest.approx(20.0 + spread * norm.ppf(0.9), abs=0.2)


def test_a_linear_case_has_the_analytic_probability(two):
    """Two designs of 0.5 + x and y: the first is better with the probability that a normal exceeds -0.5/2."""
    first = np.column_stack([-(0.5 + two.values[:, 0]), -two.values[:, 1]])
    won = answers.winners(first, np.ones(first.shape, bool), ["x", "y"])
    found = {one["best"]: one for one in answers.shares(won)}
    assert found["x"]["probability"] == pytest.approx(norm.cdf(0.25), abs=0.01)
    p = found["x"]["probability"]
    assert found["x"]["standard_error"] == pytest.approx(np.sqrt(p * (1 - p) / N), rel=1e-3)
    assert sum(one["probability"] for one in found.values()) == pytest.approx(1.0, abs=1e-12)


def test_half_lognormals_pass_the_ends():
    """Nine tenths of a bounded one lie where what is left to its bound is 0.1 times as likely."""
    eta = Doubtful("eta", ("engine", "eta"), 0.75, 0.9, 0.95, 1.0, 0.0, 1.0, "pump", -1)
    z = norm.ppf(0.9)
    assert value(eta, np.array([-z, 0.0, z])) == pytest.approx([0.75, 0.9, 0.95])
    assert 1.0 - value(eta, np.array([-2 * z]))[0] == pytest.approx(0.25**2 / 0.1)


def test_ties_and_nothing_feasible_are_classes_of_their_own():
    """A world of equals has no winner, nor has one in which nothing keeps its limits."""
    first = np.array([[-2.0, -1.0, -2.0005], [-3.0, -1.0, -1.0], [-1.0, -2.0, -1.0], [-1.0, -1.0, -1.0]])
    allowed = np.array([[True] * 3, [True] * 3, [False, False, True], [False] * 3])
    assert answers.winners(first, allowed, ["a", "b", "c"]) == [answers.TIED, "a", "c", answers.NONE]
    assert answers.winners(first[:, :2], allowed[:, :2], ["a", "a"]) == ["a", "a", answers.NONE, answers.NONE]
    assert sum(one["probability"] for one in answers.shares(["a", "b", answers.TIED])) == pytest.approx(1.0)


def test_common_random_numbers_sharpen_a_comparison(two):
    """Two designs that share most of their doubt: the same worlds tell them apart at least four times as sharply."""
    shared, own = two.values[:, 0], two.values[:, 1]
    first, second = 5.0 * shared + 0.3 * own, 5.0 * shared - 0.3 * own + 0.5
    difference, sharp = answers.mean_difference(first, second, paired=True)
    blunt = answers.mean_difference(first, second, paired=False)[1]
    assert difference == pytest.approx(0.6 * 10 - 0.5, abs=4 * sharp)
    assert blunt >= 4.0 * sharp


def test_a_fluid_that_wins_in_an_optimistic_corner_only():
    """Its worlds are told by the group that must be good; a rare winner of plain luck is none of these."""
    groups = ["a", "b"]
    draws = Draws([normal("x", "a"), normal("y", "b")], np.eye(2), (0.0, 0.0))
    two = draws.sample(points(N, draws.dimensions, 1))
    good = two.factors[:, 0] < -1.5
    assert list(answers.corner(good, two.factors, groups)) == ["a"]
    assert answers.corner(good, two.factors, groups)["a"] > 1.5
    luck = np.arange(N) % 50 == 0
    assert answers.corner(luck, two.factors, groups) == {}
    assert answers.corner(two.factors[:, 0] > 1.5, two.factors, groups) == {}
    assert answers.corner(two.factors[:, 0] < 0.0, two.factors, groups) == {}


def test_behind_the_front():
    """By what share of the front's range a design would have to be better in every objective."""
    values = np.array([[[0.0, 1.0], [1.0, 0.0], [0.6, 0.6], [0.1, 0.95], [0.2, 0.2]]])
    found = answers.behind(values, np.array([[True, True, True, True, False]]))
    assert found[0].tolist() == [0.0, 0.0, 0.0, 0.0, np.inf]
    found = answers.behind(values, np.ones((1, 5), bool))
    assert found[0, 2] == pytest.approx(0.4)
    assert found[0, 0] == 0.0
    assert np.isinf(answers.behind(values, np.zeros((1, 5), bool))).all()


def test_regret_and_best():
    """What a design gives away against the best that keeps its limits."""
    figure = np.array([[5.0, 6.0], [5.0, 9.0], [4.0, 3.0]])
    feasible = np.array([[True, True], [True, False], [False, False]])
    best = answers.best_figure(figure, feasible, most=True)
    assert best[:2].tolist() == [6.0, 5.0]
    assert np.isnan(best[2])
    assert answers.regret(figure[:, 0], best, feasible[:, 0])["high"] == pytest.approx(0.9)


def test_knowing_is_worth_what_the_choice_turns_on(two):
    """Two designs of +x and -x: knowing x beforehand gives E|x|; knowing y, which is nothing to them, gives nothing."""
    draws = Draws([normal("x", "a"), normal("y", "b")], np.eye(2), (0.0, 0.0))
    sample = draws.sample(points(N, draws.dimensions, 1))
    x = (sample.values[:, 0] - 10.0) / 2.0
    utility = np.column_stack([x, -x])
    worth, error = answers.value_of_knowing(utility, sample.factors[:, 0])
    assert worth == pytest.approx(np.sqrt(2.0 / np.pi), abs=0.05)
    assert error < 0.02
    nothing, error = answers.value_of_knowing(utility, sample.factors[:, 1])
    assert abs(nothing) < 3.0 * error


def test_worlds_are_read_from_a_study():
    """Figures and flags of the array, and objectives on their axes."""
    told = np.zeros((2, 3, 5))
    told[:, :, 0] = [[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]]
    told[:, :, 2], told[:, :, 3], told[:, :, 4] = 1.0, 1.0, -1.0
    told[1, 2, 2], told[1, 2, 4] = 0.0, 7.0
    found = answers.Worldly.of(told, ("work_per_litre_kJ", "cost_EUR"))
    assert found.figures["work_per_litre_kJ"].tolist() == told[:, :, 0].tolist()
    assert found.feasible.sum() == 5
    assert found.broken[1, 2] == 7


def test_what_never_happened_is_not_certain():
    """Agresti and Coull 1998: with two more of either kind, none of 10 is 2 of 14."""
    never = answers.chance(np.zeros(10, bool))
    assert never["probability"] == 0.0
    assert never["standard_error"] == pytest.approx(np.sqrt(2 / 14 * 12 / 14 / 14))


@pytest.mark.parametrize(
    ("wins", "lean", "told"), [(100, 0.81, True), (100, 0.79, False), (9, 1.01, True), (9, 0.99, False)]
)
def test_a_corner_is_neither_a_slight_lean_nor_chance(wins, lean, told):
    """A group is told from 0.8 spreads on average on, and from three standard errors on."""
    factors = np.zeros((1000, 1))
    factors[:wins] = -lean
    assert answers.corner(np.arange(1000) < wins, factors, ["a"]) == (
        {"a": pytest.approx(lean)} if told else {}
    )
