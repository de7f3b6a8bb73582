"""Joint draws: bands, groups, correlations, laws, and that the same seed gives the same worlds."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from explore.config.compose import load_scenario
from explore.config.doubtful import Doubtful
from explore.doubt.draws import Draws, points, value

COUNT = 4096


@pytest.fixture(scope="module")
def draws(orchard):
    """The draws of the default case."""
    return Draws.of(orchard)


@pytest.fixture(scope="module")
def sample(draws):
    """Many draws of it."""
    return draws.sample(points(COUNT, draws.dimensions, 1))


def test_a_tenth_lies_beyond_each_end(draws, sample):
    """Half of the draws lie on either side of the likely value, a tenth beyond each end of the band."""
    for place, one in enumerate(draws.items):
        values = sample.values[:, place]
        assert values.min() >= one.least, one.name
        assert values.max() <= one.most, one.name
        for end, share in ((one.low, 0.1), (one.likely, 0.5), (min(one.high, one.most * (1 - 1e-12)), 0.9)):
            assert np.mean(values <= end) == pytest.approx(share, abs=0.015), one.name


def test_members_of_a_group_go_together(draws, sample):
    """Two members share 70 % of their variance, towards worse: a narrower port is as bad as a rougher passage."""
    names = [one.name for one in draws.items]
    ranks = [norm.ppf((np.argsort(np.argsort(v)) + 0.5) / COUNT) for v in sample.values.T]
    found = {name: rank for name, rank in zip(names, ranks, strict=True)}
    loss, port = found["valve_base_loss"], found["inlet_port_share"]
    assert np.corrcoef(loss, port)[0, 1] == pytest.approx(-0.7, abs=0.03)
    assert np.corrcoef(found["friction_idle_bar"], found["friction_load_share"])[0, 1] == pytest.approx(
        0.7, abs=0.03
    )
    assert np.corrcoef(loss, found["friction_idle_bar"])[0, 1] == pytest.approx(0.0, abs=0.03)
    assert np.corrcoef(found["ring_gap_um"], found["wall_factor"])[0, 1] == pytest.approx(-0.5, abs=0.03)
    assert np.corrcoef(found["wall_root_factor"], found["wall_factor"])[0, 1] == pytest.approx(1.0, abs=1e-6)


def test_factors_point_towards_worse(draws, sample):
    """A large factor of the pump's group is a poor pump, whichever way its members count."""
    names = [one.name for one in draws.items]
    pump = sample.factors[:, draws.groups.index("pump")]
    worse = sample.values[pump > 1.0].mean(axis=0)
    better = sample.values[pump < -1.0].mean(axis=0)
    for name, sign in (("pump_packing_bar", 1), ("pump_drive_efficiency", -1)):
        assert sign * (worse - better)[names.index(name)] > 0.0


def test_the_doubtful_laws_come_as_often_as_said(sample):
    """Walls by the root in half of the worlds, the mild leak in a third."""
    assert np.mean(sample.laws, axis=0) == pytest.approx([0.5, 1.0 / 3.0], abs=0.01)


def test_constant_losses_have_no_doubtful_law():
    """Nothing is drawn that does not count."""
    draws = Draws.of(load_scenario("orchard", ["engine=constant"]))
    assert not draws.sample(points(64, draws.dimensions, 1)).laws.any()
    assert "seal" not in draws.groups


def test_correlated_groups_are_one_topic(draws):
    """An index of one of two groups that go together would say nothing."""
    assert "seal and walls" in draws.topics
    assert "friction" in draws.topics
    assert len(draws.topics) == draws.dimensions


def test_the_same_seed_gives_the_same_worlds():
    """More draws begin with the same ones; another seed gives others."""
    assert np.array_equal(points(100, 7, 3), points(1000, 7, 3)[:100])
    assert not np.array_equal(points(100, 7, 3), points(100, 7, 4))
    assert points(1000, 7, 3).shape == (1000, 7)


def test_nothing_is_drawn_beyond_three_spreads():
    """A judged band says nothing of what lies there."""
    one = Doubtful("x", ("engine", "x"), 8.0, 10.0, 12.0, None, -1e9, 1e9, "a", 1)
    reach = 2.0 * 3.0 / norm.ppf(0.9)
    assert value(one, np.array([3.0, 4.0, -9.0])) == pytest.approx([10.0 + reach, 10.0 + reach, 10.0 - reach])
