"""Records of what a plant does: groups are scattered into the batch, in every record and its arrays."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from explore.cycle.performance import GRID, STAGES, Exchangers, Performance, Record


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
