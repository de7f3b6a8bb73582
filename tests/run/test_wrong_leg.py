"""A leg's file of another shape, kind or range is no leg, so that the leg is done again."""

from __future__ import annotations

import numpy as np
import pytest

from explore.search.files import TornError, pack, unpack
from explore.search.islands import Genes, Known
from explore.search.leg import Result, Tally


def leg(**changes):
    """A leg of three designs, packed, with some arrays changed."""
    arrays = {
        "unit": np.full((3, 2), 0.5),
        "choices": np.zeros((3, 1), int),
        "values": np.ones((3, 2)),
        "breach": np.zeros(3),
    } | changes
    known = Known(Genes(arrays["unit"], arrays["choices"]), arrays["values"], arrays["breach"])
    return pack(Result(0, "front", known, Tally.zero(["Water"]), 1.0, 1.0))


def test_a_whole_leg_is_read_back():
    """What was packed comes out."""
    assert len(unpack(leg()).known.breach) == 3


@pytest.mark.parametrize(
    "changes",
    [
        {"unit": np.full((3, 2), 1.5)},
        {"unit": np.full((3, 2), np.nan)},
        {"choices": np.full((3, 1), -1)},
        {"values": np.ones((2, 2))},
        {"breach": np.zeros((3, 1))},
        {"breach": np.full(3, np.nan)},
        {"values": np.full((3, 2), "x")},
    ],
)
def test_a_wrong_leg_is_refused(changes):
    """Shape, kind and range are checked before anything is bred from it."""
    with pytest.raises(TornError):
        unpack(leg(**changes))
