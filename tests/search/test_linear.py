"""Small linear programmes side by side: each gets the answer that it has by itself."""

import numpy as np
from scipy.optimize import linprog

from explore.search.linear import Programme, solved


def drawn(rng, rows):
    """A programme in seven unknowns that has a solution: nothing moved keeps every row."""
    return Programme(
        rng.normal(size=7),
        rng.normal(size=(rows, 7)),
        np.abs(rng.normal(size=rows)),
        -rng.random(7),
        rng.random(7),
    )


def test_each_as_by_itself():
    """The least cost is that of one call each, whatever stands beside it."""
    rng = np.random.default_rng(1)
    many = [drawn(rng, rows) for rows in (3, 0, 8, 1, 0, 5)]
    for one, x in zip(many, solved(many), strict=True):
        alone = linprog(
            one.cost,
            A_ub=one.rows if len(one.rows) else None,
            b_ub=one.most if len(one.rows) else None,
            bounds=np.stack([one.low, one.high], axis=1),
        )
        np.testing.assert_allclose(one.cost @ x, alone.fun, rtol=1e-9, atol=1e-12)
        assert np.all(one.rows @ x <= one.most + 1e-9)
        assert np.all((x >= one.low) & (x <= one.high))


def test_one_without_solution_spoils_no_other():
    """It gets zeros, the others what they have."""
    rng = np.random.default_rng(2)
    good = drawn(rng, 4)
    bad = good._replace(rows=np.ones((1, 7)), most=np.array([-100.0]))
    one, none, again = solved([good, bad, good])
    np.testing.assert_allclose(good.cost @ one, good.cost @ solved([good])[0], rtol=1e-9)
    np.testing.assert_allclose(good.cost @ again, good.cost @ one, rtol=1e-9)
    assert np.all(none == 0.0)


def test_costless_unknowns_stay():
    """Without rows an unknown goes to the end that its cost asks for, and stays where nothing asks."""
    (x,) = solved(
        [Programme(np.array([1.0, -1.0, 0.0]), np.empty((0, 3)), np.empty(0), -np.ones(3), 2.0 * np.ones(3))]
    )
    np.testing.assert_array_equal(x, [-1.0, 2.0, 0.0])
    assert solved([]) == []
