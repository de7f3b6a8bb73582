"""What a campaign remembers: everything up to its bound, the best beyond."""

from __future__ import annotations

import numpy as np
import pytest

from explore.config.schema import Search
from explore.judgement.front import nondominated
from explore.search import optimise
from explore.search.archive import Archive
from explore.search.planning import Budget, order
from explore.search.population import Genes, Known
from tests.search.toy import ToyEvaluator, toy_case

BOUND = 300


def _designs(seed, n=200):
    """Random designs of three fluids, a third of them infeasible, the last fluid wholly."""
    rng = np.random.default_rng(seed)
    fluid = rng.integers(0, 3, n)
    breach = np.where((rng.random(n) < 0.2) | (fluid == 2), rng.random(n) + 0.01, 0.0)
    return Known(Genes(rng.random((n, 4)), fluid[:, None]), rng.random((n, 3)), breach)


@pytest.fixture(scope="module")
def grown():
    """Twenty lots of designs, and the archive that took them in."""
    lots = [_designs(seed) for seed in range(20)]
    archive = Archive(Known.none(4, 1, 3), BOUND)
    for lot in lots:
        archive = archive.add(lot)
    return Known.join(lots), archive


def test_everything_is_kept_within_the_bound():
    """Beaten and infeasible designs too, in the order in which they came."""
    archive = Archive(Known.none(4, 1, 3), 400).add(_designs(0)).add(_designs(1))
    assert np.array_equal(archive.known.values, Known.join([_designs(0), _designs(1)]).values)


def test_beyond_the_bound_the_front_is_whole(grown):
    """As many designs as there is room for, the front of all that was ever given among them."""
    everything, archive = grown
    good = everything.values[everything.breach <= 0.0]
    front = good[nondominated(good)]
    assert len(archive.known) == BOUND
    assert 20 < len(front) < 0.7 * BOUND
    assert {tuple(row) for row in archive.front.values} == {tuple(row) for row in front}
    assert archive.resolution == 0.0


def test_beyond_the_bound_the_best_stay(grown):
    """Beside the front: better ones than left, and for a fluid without a feasible design its least broken."""
    everything, archive = grown
    beaten = archive.known.take(~archive.on_front)
    fluid = beaten.genes.choices[:, 0]
    assert beaten.values[beaten.breach <= 0.0].sum(axis=1).mean() < everything.values.sum(axis=1).mean() - 0.3
    hopeless = np.sort(everything.breach[everything.genes.choices[:, 0] == 2])
    kept = np.sort(beaten.breach[fluid == 2])
    assert len(kept) == 30
    assert np.array_equal(kept, hopeless[:30])


def test_each_niche_keeps_nearly_what_it_would_if_all_came_at_once(grown):
    """Choosing from those of before and what is fresh loses few of the first layer, and each niche has its room."""
    everything, archive = grown
    best = archive.known.take(archive.best_of_niche)
    assert (np.bincount(best.genes.choices[:, 0]) == 30).all()
    for fluid in (0, 1):
        own = everything.take((everything.genes.choices[:, 0] == fluid) & (everything.breach <= 0.0))
        layer = {tuple(row) for row in own.values[nondominated(own.values)]}
        kept = best.values[best.genes.choices[:, 0] == fluid]
        assert len(layer & {tuple(row) for row in kept}) >= 0.9 * min(30, len(layer))


def test_lots_without_a_niche_leave_its_best_alone():
    """What others bring changes nothing of it, though its rest makes room."""
    archive = Archive(Known.none(4, 1, 3), BOUND).add(_designs(1)).add(_designs(2))
    other = _designs(3)
    fresh = archive.add(other.take(other.genes.choices[:, 0] != 1))
    before, after = (
        one.known.take(one.best_of_niche & (one.known.genes.choices[:, 0] == 1)).values
        for one in (archive, fresh)
    )
    assert len(before) == 30
    assert np.array_equal(before, after)


def test_a_front_without_room_says_what_it_gave_up():
    """A front larger than its share is thinned, and the resolution is on record."""
    angle = np.linspace(0.0, np.pi / 2.0, 500)
    values = np.column_stack([1.0 - np.sin(angle), 1.0 - np.cos(angle)])
    known = Known(Genes(np.zeros((500, 4)), np.zeros((500, 1), int)), values, np.zeros(500))
    archive = Archive(Known.none(4, 1, 2), 100).add(known)
    assert len(archive.known) == 100
    assert archive.on_front.sum() == 70
    assert archive.resolution > 0.0


@pytest.mark.parametrize(
    "budget", [{"designs": 3000}, {"seconds": 3.0}, {"designs": 10_000_000, "seconds": 3.0}]
)
def test_every_design_is_kept_whatever_the_budget(budget):
    """Time or designs: within the bound the table holds all that was evaluated, and what polishing bettered."""
    settings = {"designs": None, "archive_designs": 1_000_000} | budget
    found = optimise(toy_case(**settings), evaluator=ToyEvaluator)
    assert found.designs_evaluated >= 1000  # two legs, which a busy machine still does in three seconds
    assert found.all_kept
    assert len(found.designs) == found.designs_evaluated + found.polished


def test_beyond_the_bound_the_table_is_full():
    """A search of more designs than are kept leaves as many as are, on any number of workers the same.

    Those that polishing bettered stand behind them.
    """
    one, two = (
        optimise(toy_case(designs=6000, archive_designs=1200, workers=workers), evaluator=ToyEvaluator)
        for workers in (1, 2)
    )
    assert not one.all_kept
    assert one.polished > 0
    assert len(one.designs) == 1200 + one.polished
    assert one.designs.equals(two.designs)


def test_legs_beyond_the_bound_hand_in_what_is_worth_it():
    """The files of a long campaign stay small: whole legs up to the archive's bound only, whatever the budget."""
    from explore.design.space import Space

    case = toy_case(leg_designs=500)
    space = Space.from_case(case)
    archive = Archive(Known.none(space.dimensions, len(space.choice_counts), 3), 1200)
    for budget in ({"designs": None, "seconds": 9.0}, {"designs": 900}):
        search = Search(name="", leg_designs=500, archive_designs=1200, **budget)
        orders = [order(number, "front", 500, archive, space, search) for number in range(5)]
        assert [one.keep_all for one in orders] == [True, True, True, False, False]


@pytest.mark.parametrize(
    ("first", "largest", "designs", "sizes"),
    [
        (500, None, 1200, [500, 500, 200]),
        (500, 400, 1200, [500, 500, 200]),
        (500, 2000, 9000, [500] * 2 + [1000] * 2 + [2000] * 3),
        (500, 1500, 7600, [500] * 2 + [1000] * 2 + [1500] * 3 + [100]),
        (500, 2000, 2000, [500, 500, 1000]),
        (500, 2000, 1, [1]),
        (2048, 8192, 24576 + 8192, [2048] * 2 + [4096] * 2 + [8192] * 2 + [4096]),
    ],
)
def test_legs_double_every_round_and_use_the_budget(first, largest, designs, sizes):
    """Their number, their sizes and what lies before each agree, whether they grow or are all alike."""
    search = Search(
        name="", leg_designs=first, largest_leg_designs=largest, legs_per_round=2, designs=designs
    )
    budget = Budget.of(search)
    assert budget.legs == len(sizes)
    assert [budget.size(leg) for leg in range(len(sizes))] == sizes
    assert [budget.before(leg) for leg in range(len(sizes))] == [
        sum(sizes[:leg]) for leg in range(len(sizes))
    ]
    rounds = [list(budget.round(done)) for done in range(0, len(sizes), 2)]
    assert [leg for one in rounds for leg in one] == list(range(len(sizes)))
    endless = Budget.of(search.model_copy(update={"designs": None, "seconds": 1.0}))
    assert endless.legs is None
    assert [endless.size(leg) for leg in range(len(sizes) - 1)] == sizes[:-1]
    other = Budget.of(search.model_copy(update={"sampler": "nsga2"}))
    assert {other.size(leg) for leg in range(other.legs - 1)} <= {first}
    assert endless.round(len(sizes)) == range(len(sizes) // 2 * 2, len(sizes) // 2 * 2 + 2)


def test_a_leg_that_a_smaller_budget_cut_leaves_its_rest_to_those_after_it():
    """By hand: 2,048 x 2, 4,096 x 2, 424 of 8,192 for 12,712; of 13,712 the next leg has 1,000, of 21,212 all 8,192."""
    search = Search(name="", leg_designs=2048, largest_leg_designs=8192, legs_per_round=2, designs=12_712)
    assert (Budget.of(search).legs, Budget.of(search).size(4)) == (5, 424)
    assert Budget.of(search).after(4, 424) == Budget.of(search)
    assert Budget.of(search).after(1, 2048) == Budget.of(search)
    for designs, sizes in ((12_713, [1]), (13_712, [1000]), (21_212, [8192, 308])):
        budget = Budget.of(search.model_copy(update={"designs": designs})).after(4, 424)
        assert [budget.size(leg) for leg in range(5, budget.legs)] == sizes
    endless = Budget.of(search.model_copy(update={"designs": None, "seconds": 1.0}))
    assert endless.after(4, 424) == endless


def test_a_run_is_gone_on_with_to_any_number_of_designs(tmp_path):
    """However little is asked for beyond a leg that was cut short, it is searched, and told again it is the same."""
    grown = {"leg_designs": 300, "largest_leg_designs": 1200, "legs_per_round": 2}
    for designs in (2500, 2550, 2550, 3700, 5000):
        found = optimise(toy_case(designs=designs, **grown), evaluator=ToyEvaluator, run_folder=tmp_path)
        assert found.designs_evaluated == designs
        again = optimise(toy_case(designs=designs, **grown), evaluator=ToyEvaluator, run_folder=tmp_path)
        assert again.legs_here == 0
        assert again.front.equals(found.front)
