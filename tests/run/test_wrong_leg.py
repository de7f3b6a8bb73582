"""A leg's file of another shape, kind or range is no leg, so that the leg is done again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from explore.search.files import Stamp, TornError, pack, unpack
from explore.search.islands import Genes, Known
from explore.search.leg import Result, Tally


def leg(facts=(), **changes):
    """A leg of three designs, packed, with some facts and some arrays changed."""
    facts = dict(facts)
    arrays = {
        "unit": np.full((3, 2), 0.5),
        "choices": np.zeros((3, 1), int),
        "values": np.ones((3, 2)),
        "breach": np.zeros(3),
    } | changes
    known = Known(Genes(arrays["unit"], arrays["choices"]), arrays["values"], arrays["breach"])
    tally = Tally({"Water": 3}, {"Water": 0}, {}, {})
    return pack(replace(Result(0, "front", known, tally, 1.0, 1.0), **facts), Stamp("own", 0.0, 1.0))


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


@pytest.mark.parametrize(
    "facts",
    [
        {"number": -1},
        {"number": "0"},
        {"focus": 3},
        {"seconds": "long"},
        {"seconds": float("nan")},
        {"tally": Tally({"Water": 2}, {"Water": 0}, {}, {})},
        {"tally": Tally({"Water": "3"}, {"Water": 0}, {}, {})},
        {"tally": Tally({"Water": 3}, {"Water": -1}, {}, {})},
        {"tally": Tally({"Water": 3}, [0], {}, {})},
    ],
)
def test_a_leg_of_wrong_facts_is_refused(facts):
    """So are number, focus, times and counts."""
    with pytest.raises(TornError):
        unpack(leg(facts))
