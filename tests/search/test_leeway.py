"""How far inputs may move by themselves."""

from __future__ import annotations

import numpy as np
import pytest

from explore.config.compose import load_scenario
from explore.design.space import INPUTS, Space
from explore.search.leeway import LEAST_WIDTH, OFFSETS, leeway
from explore.search.refine import SETTLED
from explore.tell import narrator

SPAN = np.array([1.0, 1.0, 1.0])


class Made:
    """A model whose cost is the insulation, whose work falls with the store's size, which must not pass 600 L."""

    def evaluate(self, columns):
        """Judge designs."""
        tank, n = np.asarray(columns["store_volume_L"], float), len(columns["fluid"])
        return {
            "work_per_litre_kJ": 10.0 - 1e-3 * tank,
            "cost_EUR": np.asarray(columns["insulation_mm"], float),
            "peak_pressure_bar_g": np.full(n, 4.0),
            "feasible": tank <= 600.0,
        }


@pytest.fixture(scope="module")
def case():
    """The default case."""
    return load_scenario("orchard")


@pytest.fixture(scope="module")
def found(case):
    """Ranges of one design in the middle of the space, whose store holds 400 L."""
    space = Space.from_case(case)
    columns = space.decode(np.full((1, space.dimensions), 0.5), np.zeros((1, 4), int))
    columns["store_volume_L"] = np.array([400.0])
    columns = columns | Made().evaluate(columns)
    return columns, leeway(columns, space, Made(), case.scenario.objectives, SPAN)[0]


def test_what_matters_to_nothing_is_free_as_far_as_it_is_tried(case, found):
    """The area of the collectors is nobody's concern here."""
    columns, ranges = found
    one = next(r for r in ranges if r.name == "collector_area_m2")
    low, high = Space.from_case(case).bounds["collector_area_m2"]
    reach = OFFSETS[-1] * np.log(high / low)
    area = columns["collector_area_m2"][0]
    np.testing.assert_allclose([one.low, one.high], area * np.exp([-reach, reach]), rtol=1e-6)


def test_a_limit_and_an_objective_end_a_range(case, found):
    """The store may grow until work has fallen by half a per cent of the span, well before it breaks the limit."""
    _, ranges = found
    one = next(r for r in ranges if r.name == "store_volume_L")
    work = case.scenario.objectives[0]
    most = 400.0 + SETTLED * (work.ideal - work.reference) / 1e-3
    assert one.low < 200.0
    assert 400.0 < one.high <= min(most, 600.0)
    assert one.high > 400.0 + 0.5 * (min(most, 600.0) - 400.0)


def test_only_one_input_moves(case):
    """Temperatures whose bounds hang together stay where they are while one of them moves."""
    space = Space.from_case(case)
    columns = space.sample(12, np.random.default_rng(4))
    seen = []

    class Watching(Made):
        def evaluate(self, columns):
            seen.append(columns)
            return super().evaluate(columns)

    columns["store_volume_L"] = np.full(12, 400.0)
    columns = columns | Made().evaluate(columns)
    for design, ranges in enumerate(leeway(columns, space, Watching(), case.scenario.objectives, SPAN)):
        for name, low, high in ranges:
            assert low <= columns[name][design] <= high, name
    assert all(len(one) for one in leeway(columns, space, Made(), case.scenario.objectives, SPAN))
    tried = seen[0]
    assert set(tried) == set(INPUTS)


def test_the_widest_comes_first_and_narrow_ones_are_left_out(found):
    """The insulation costs what it holds: half a per cent of the budget is less than a builder could use."""
    _, ranges = found
    assert len(ranges) > 3
    assert [r.name for r in ranges].index("collector_area_m2") < [r.name for r in ranges].index(
        "store_volume_L"
    )
    assert all(r.high > r.low for r in ranges)
    assert OFFSETS[0] < LEAST_WIDTH


def test_ranges_in_words():
    """Units come once, the widest five are named, and nothing is said of nothing."""
    words = narrator.leeway([("store_volume_L", 970.0, 1350.0), ("superheat_K", 1.0, 2.5)], 0.005)
    assert words == (
        "Free to move, each by itself: store volume 970 to 1\u202f350 L, superheat 1.00 to 2.50 K; no limit breaks, and no "
        "objective worsens by more than 0.5% of the front's range."
    )
    assert narrator.leeway([], 0.005) == ""
