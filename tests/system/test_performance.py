"""Records of what a plant does: groups are scattered into the batch, in every record and its arrays."""

from __future__ import annotations

from dataclasses import fields
from types import SimpleNamespace

import numpy as np
import pytest

from explore.cycle.performance import GRID, STAGES, Exchangers, Performance, Record
from explore.cycle.rated import stages_of


def arrays(record, place=""):
    """Every array of a record and of those within, by where it stands."""
    found = {}
    for one in fields(record):
        value = getattr(record, one.name)
        where = f"{place}.{one.name}"
        found |= arrays(value, where) if isinstance(value, Record) else {where: value}
    return found


def numbered(n):
    """A performance whose every array holds numbers of its own."""
    done = Performance.empty(n)
    for place, values in enumerate(arrays(done).values()):
        values[...] = 100.0 * place + np.arange(n).reshape((n,) + (1,) * (values.ndim - 1))
    return done


def test_an_empty_performance_has_its_shapes():
    """Stages, grids and plain arrays have their width, and all say nothing yet."""
    done = Performance.empty(4)
    assert done.rated.net_work.shape == (4,)
    assert done.engine.bores.shape == (4, STAGES)
    assert done.discharge.efficiencies.shape == (4, GRID)
    assert all(np.isnan(values).all() for values in arrays(done).values())


def test_groups_are_scattered_into_the_batch():
    """Rows of a group land at their places in every array, and no other row is touched."""
    batch, group, places = Performance.empty(6), numbered(3), np.array([4, 0, 3])
    batch.fill(places, group)
    whole, parts = arrays(batch), arrays(group)
    for where, values in whole.items():
        assert np.array_equal(values[places], parts[where]), where
        assert np.isnan(values[[1, 2, 5]]).all(), where


def test_taken_rows_are_their_own():
    """What is taken has the rows asked for and shares no array with what it was taken from."""
    done = numbered(5)
    taken = done.exchangers.take(np.array([3, 1]))
    assert isinstance(taken, Exchangers)
    assert np.array_equal(taken.areas.boiler, done.exchangers.areas.boiler[[3, 1]])
    taken.areas.boiler[:] = -1.0
    assert (done.exchangers.areas.boiler >= 0.0).all()


@pytest.mark.filterwarnings("error")
def test_of_what_leaks_all_walls_take_no_share():
    """Rings so wide that nothing is left of the flow leave no share of it to walls, and raise no warning."""
    losses = SimpleNamespace(leakage_fraction=np.array([0.1, 1.0]), friction_mean_pressure=np.zeros(2))
    stage = SimpleNamespace(
        kept=np.array([0.72, 0.0]), losses=losses, volume_ratio=np.full(2, 3.0),
        inlet=SimpleNamespace(pressure=np.full(2, 5e5)), shaft_work=np.ones(2),
    )  # fmt: skip
    found = stages_of([stage], [np.ones(2)]).wall_shares
    np.testing.assert_allclose(found[:, 0], [0.2, np.nan])
