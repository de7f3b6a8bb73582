"""Climbing: designs of a layout that follow the slope of what they are after, from anywhere, and break no limit for it."""

from __future__ import annotations

import numpy as np
import pytest

from explore.design.space import Space
from explore.judgement.front import hypervolume, nondominated
from explore.search.archive import Archive
from explore.search.climb import (
    CANDIDATES,
    FIRST_CANDIDATES,
    FROM_OTHERS,
    HOPEFUL,
    PROMISED,
    Climb,
    Climbers,
    Slope,
    _gain,
    _hopeful,
    covered,
    plan,
)
from explore.search.judge import judge
from explore.search.population import FLUID, LAYOUT, Genes, Known
from tests.search.toy import ToyEvaluator, toy_case


def setting(pins=None):
    """A case, its space, and how genes are judged."""
    case = toy_case(pins)
    space = Space.from_case(case)

    def evaluate(genes):
        return judge(
            ToyEvaluator(case).evaluate(space.decode(genes.unit, genes.choices)), case.scenario.objectives
        )

    return space, evaluate


def known(space, evaluate, n, seed=0):
    """Random designs, judged."""
    genes = Genes(*space.sample_genes(n, np.random.default_rng(seed)))
    judged = evaluate(genes)
    return Known(genes, judged.values, judged.breach)


def archived(some):
    """An archive that has been given some designs."""
    return Archive(some.take(slice(0)), 100_000).add(some)


def stores(space, some):
    """The store of each design."""
    return np.array([one.store_mode for one in space.layouts])[some.genes.choices[:, LAYOUT]]


def climbed(climb, space, evaluate, batches, seed=1):
    """Every batch that climbers ask for, with how it was judged, and the climbers."""
    climbers = Climbers(climb, space, np.random.default_rng(seed))
    seen = []
    for _ in range(batches):
        wanted = climbers.wanted
        genes = climbers.ask()
        assert len(genes) == wanted
        judged = evaluate(genes)
        climbers.tell(judged)
        seen.append((genes, judged))
    return seen, climbers


def test_a_climb_beats_as_many_designs_at_random():
    """From designs at random, most of which break limits, climbers reach more than as many designs drawn at random.

    A climber keeps its fluid: there is but one.
    """
    space, evaluate = setting({"fluid": "n-Pentane"})
    layout = 2
    start = plan(archived(known(space, evaluate, 0)), space, layout, 6, np.random.default_rng(2))
    assert len(start.genes) == 6 * FIRST_CANDIDATES
    seen, climbers = climbed(start, space, evaluate, 16)
    assert all((genes.choices[:, LAYOUT] == layout).all() for genes, _ in seen)
    drawn = known(space, evaluate, sum(len(genes) for genes, _ in seen), 3)
    of_layout = Genes(drawn.genes.unit, drawn.genes.choices.copy())
    of_layout.choices[:, LAYOUT] = layout
    judged = evaluate(of_layout)
    now = climbers._now
    assert now.feasible.all()
    for one, weight in enumerate(start.weights):
        mine = covered(now.values[[one]], weight[np.newaxis])[0]
        best = covered(judged.values[judged.feasible], weight).max()
        assert mine > best


def test_what_keeps_its_limits_goes_on_keeping_them_and_never_gets_worse():
    """From batch to batch a climber covers no less, and a feasible one stays feasible."""
    space, evaluate = setting()
    found = known(space, evaluate, 2000)
    feasible = found.take(found.breach <= 0.0)
    start = plan(archived(feasible), space, 1, 5, np.random.default_rng(1))
    climbers = Climbers(start, space, np.random.default_rng(1))
    before, kept = np.full(5, -np.inf), np.zeros(5, bool)
    for _ in range(13):
        climbers.tell(evaluate(climbers.ask()))
        now = climbers._now
        assert np.array_equal(now.values, evaluate(climbers._genes).values)
        assert now.feasible[kept].all()
        after = covered(now.values, climbers._weights)
        assert (after[kept] >= before[kept] - 1e-12).all()
        before, kept = after, now.feasible
    assert kept.all()


def test_a_design_that_just_misses_a_limit_is_repaired():
    """Served share below what is asked: the collector grows until the limit is kept, whatever that costs."""
    space, evaluate = setting(
        {"fluid": "Water", "store_mode": "mixed", "stages": 1, "collector_area_m2": [5, 20]}
    )
    found = known(space, evaluate, 200, 5)
    missed = found.take(np.flatnonzero((found.breach > 0.0) & (found.breach < 3.0))[:1])
    assert len(missed) == 1
    start = Climb(missed.genes, np.array([[0.1, 0.8, 0.1]]))
    _, climbers = climbed(start, space, evaluate, 13)
    assert climbers._now.feasible.all()


def test_kin_are_made_over_to_the_layout():
    """Where a layout has no design of its own, those with the same store stand in, in its form, and a few others."""
    space, evaluate = setting()
    found = known(space, evaluate, 3000)
    layouts = [(one.store_mode, one.pressure_levels) for one in space.layouts]
    target = layouts.index(("stratified", 3))
    others = found.take(found.genes.choices[:, LAYOUT] != target)
    start = plan(archived(others), space, target, 8, np.random.default_rng(3))
    assert len(start.genes) == 8 * CANDIDATES
    assert set(start.genes.choices[:, LAYOUT]) == {target}
    lowest = [v.name for v in space.variables].index("lowest_evaporating_temperature_degC")
    store = [v.name for v in space.variables].index("store_volume_L")
    stratified = np.array([mode == "stratified" for mode, _ in layouts])[others.genes.choices[:, LAYOUT]]
    of_kin = np.isin(start.genes.unit[:, store], others.genes.unit[stratified, store]).reshape(-1, CANDIDATES)
    assert (of_kin.sum(axis=1) == CANDIDATES - FROM_OTHERS).all()
    assert np.isin(start.genes.unit[:, store], others.genes.unit[:, store]).all()
    fresh = ~np.isin(start.genes.unit[:, lowest], others.genes.unit[:, lowest])
    assert fresh.any()
    assert np.ptp(start.genes.unit[fresh, lowest]) > 0.5


def test_no_fluid_is_shut_out():
    """Most climbers have the best fluid, some have others."""
    space, evaluate = setting()
    found = known(space, evaluate, 3000)
    start = plan(archived(found), space, 0, 40, np.random.default_rng(3))
    counts = np.bincount(start.genes.choices[:, FLUID], minlength=len(space.fluids))
    assert (counts > 0).all()


def test_a_slope_put_right_gives_what_was_found():
    """Along the move it tells the change found; across it, what it told before; a move of nothing teaches nothing."""
    rng = np.random.default_rng(1)
    slope = Slope(rng.normal(size=(2, 4, 3)))
    move = np.array([[0.1, -0.2, 0.0, 0.3], [0.0, 0.0, 0.0, 0.0]])
    change = rng.normal(size=(2, 3))
    better = slope.put_right(move, change)
    assert move[0] @ better.of[0] == pytest.approx(change[0])
    across = np.array([0.2, 0.1, 5.0, 0.0])
    assert across @ better.of[0] == pytest.approx(across @ slope.of[0])
    assert np.array_equal(better.of[1], slope.of[1])


def test_the_logarithm_goes_on_where_nothing_is_covered():
    """Beyond the reference less is covered the farther off it lies, without a break."""
    values = np.array([[0.5], [0.97], [0.98], [0.99], [1.0], [1.5], [1e6]])
    logs = covered(values, np.ones((1, 1)))
    assert (np.diff(logs) < 0.0).all()
    assert np.isfinite(logs).all()
    assert logs[0] == pytest.approx(np.log(0.5))


def test_a_design_without_a_free_gene_stays():
    """Pinned to the last gene there is nothing to climb, and no error."""
    space, evaluate = setting()
    found = known(space, evaluate, 50)
    bounds = {name: (low, low) for name, (low, _) in space.bounds.items()}
    pinned = Space(space.variables, bounds, space.fluids, space.layouts, space.regenerators, space.collectors)
    climbers = Climbers(
        plan(archived(found), pinned, 0, 2, np.random.default_rng(1)), pinned, np.random.default_rng(1)
    )
    climbers.tell(evaluate(climbers.ask()))
    assert climbers.wanted == 0


def test_one_climber_sets_out_for_a_fluid_that_has_kept_no_limits_yet():
    """From what least breaks them, in the layout if it is known there; where all fluids have kept them there is none."""
    space, evaluate = setting()
    some = known(space, evaluate, 4000)
    lost = int(some.genes.choices[0, FLUID])
    broken = np.where(some.genes.choices[:, FLUID] == lost, 1.0 + np.arange(len(some)), 0.0)
    values = np.where((broken > 0.0)[:, None], 0.2, [[0.5] * 3])  # what it promises
    hopeless = Known(some.genes, values, broken)
    layout = int(some.genes.choices[0, LAYOUT])
    own = (some.genes.choices[:, FLUID] == lost) & (some.genes.choices[:, LAYOUT] == layout)
    first = plan(archived(hopeless), space, layout, 4, np.random.default_rng(1)).genes.take(slice(CANDIDATES))
    np.testing.assert_array_equal(first.unit[0], some.genes.unit[np.flatnonzero(own)[0]])
    assert (first.choices[:, FLUID] == lost).all()
    assert (first.choices[:, LAYOUT] == layout).all()
    # not known in the layout: from its kin with the same store, made over
    elsewhere = hopeless.take(~own)
    made_over = plan(archived(elsewhere), space, layout, 4, np.random.default_rng(1)).genes
    assert (made_over.choices[:CANDIDATES, FLUID] == lost).all()
    assert (made_over.choices[:, LAYOUT] == layout).all()
    assert len(made_over) == 4 * CANDIDATES
    kept = Known(some.genes, some.values, np.zeros(len(some)))
    assert _hopeful(kept.take(own), kept, kept, kept.values, 1, np.random.default_rng(1)) == []


def test_a_fluid_that_keeps_its_limits_with_another_store_is_sent_too():
    """What a fluid does with a fully mixed store says nothing of a stratified one; with such a store it is left alone."""
    space, evaluate = setting()
    some = known(space, evaluate, 4000)
    fluids, layouts = some.genes.choices[:, FLUID], some.genes.choices[:, LAYOUT]
    mode = np.array([one.store_mode for one in space.layouts])[layouts]
    lost = (mode == mode[0]) & (fluids == 2)
    judged = Known(some.genes, np.where(lost[:, None], 0.2, [[0.5] * 3]), np.where(lost, 1.0, 0.0))
    for layout in np.unique(layouts[mode == mode[0]]).tolist():
        climb = plan(archived(judged), space, layout, 4, np.random.default_rng(layout))
        assert (climb.genes.choices[:CANDIDATES, FLUID] == 2).all()
    kin = judged.take(mode != mode[0])
    assert _hopeful(kin, kin, judged.take(mode == mode[0]), judged.values, 1, np.random.default_rng(1)) == []


def test_most_set_out_for_the_fluid_that_would_add_most():
    """One whose designs lie beyond the reference adds nothing, whatever it keeps, and is drawn by chance alone."""
    space, evaluate = setting()
    some = known(space, evaluate, 4000)
    fluids = some.genes.choices[:, FLUID]
    values = np.where((fluids == 0)[:, None], 1.5, np.where((fluids == 1)[:, None], 0.1, 0.5))
    judged = Known(some.genes, values, np.where(fluids <= 1, 1.0, 0.0))
    front, drawn = judged.values[judged.breach <= 0.0], []
    for seed in range(400):
        rows = _hopeful(judged, judged, judged.take(slice(0)), front, 1, np.random.default_rng(seed))
        assert (rows[0].choices[:, FLUID] == rows[0].choices[0, FLUID]).all()
        drawn.append(int(rows[0].choices[0, FLUID]))
    assert set(drawn) == {0, 1}
    assert np.mean(drawn) == pytest.approx(0.5 + 0.5 * PROMISED, abs=0.06)


def test_where_no_fluid_would_add_anything_few_set_out():
    """Three in four stay: what lies beyond the reference now may come within it, but seldom does."""
    space, evaluate = setting()
    some = known(space, evaluate, 4000)
    lost = some.genes.choices[:, FLUID] == 0
    judged = Known(some.genes, np.where(lost[:, None], 1.5, 0.5), np.where(lost, 1.0, 0.0))
    front, nothing = judged.values[~lost], judged.take(slice(0))
    sent = [
        len(_hopeful(judged, judged, nothing, front, 4, np.random.default_rng(seed))) for seed in range(400)
    ]
    assert set(sent) == {0, 1}
    assert np.mean(sent) == pytest.approx(1.0 - PROMISED, abs=0.06)


def test_more_than_one_set_out_where_much_would_be_added():
    """As many as are asked for; for what would add little, one."""
    space, evaluate = setting()
    some = known(space, evaluate, 4000)
    lost = some.genes.choices[:, FLUID] == 0
    for value, sent in ((0.3, 3), (0.4999, 1)):
        judged = Known(some.genes, np.where(lost[:, None], value, [[0.5] * 3]), np.where(lost, 1.0, 0.0))
        front = judged.values[~lost][:1]
        rows = _hopeful(judged, judged, judged.take(slice(0)), front, 3, np.random.default_rng(1))
        assert [len(one) for one in rows] == [CANDIDATES] * sent
        climb = plan(archived(judged), space, 0, sent * HOPEFUL, np.random.default_rng(1))
        assert len(climb.genes) == sent * HOPEFUL * CANDIDATES
        assert (climb.genes.choices[: sent * CANDIDATES, FLUID] == 0).all()


def test_candidates_come_from_layouts_with_other_stores_as_well():
    """One in four where this store is known; all, and none drawn at random, where it is not."""
    space, evaluate = setting()
    some = known(space, evaluate, 4000)
    feasible = Known(some.genes, some.values, np.zeros(len(some)))
    mode = stores(space, some)
    layout = int(np.flatnonzero([one.store_mode != mode[0] for one in space.layouts])[0])
    theirs, ours = feasible.take(mode == mode[0]), feasible.take(mode != mode[0])
    for pool, wanted in ((feasible, FROM_OTHERS), (theirs, CANDIDATES)):
        genes = plan(archived(pool), space, layout, 8, np.random.default_rng(1)).genes
        assert (genes.choices[:, LAYOUT] == layout).all()
        lent, kept = (
            (genes.unit[:, None, :3] == one.genes.unit[None, :, :3]).all(axis=2).any(axis=1).reshape(8, -1)
            for one in (theirs, ours)
        )
        assert (lent.sum(axis=1) == wanted).all()
        assert (kept.sum(axis=1) == CANDIDATES - wanted).all()


def test_half_of_those_sent_for_a_fluid_are_what_keeps_its_limits_with_another_store():
    """What it takes to keep them is mostly there already."""
    space, evaluate = setting()
    some = known(space, evaluate, 4000)
    fluids, mode = some.genes.choices[:, FLUID], stores(space, some)
    judged = Known(some.genes, some.values, np.where((fluids == 2) & (mode == mode[0]), 1.0, 0.0))
    kin, others = judged.take(mode == mode[0]), judged.take(mode != mode[0])
    (genes,) = _hopeful(kin, kin, others, judged.values[:0], 1, np.random.default_rng(1))
    assert len(genes) == CANDIDATES
    assert (genes.choices[:, FLUID] == 2).all()
    of_others = (genes.unit[:, None] == others.genes.unit[None]).all(axis=2).any(axis=1)
    assert of_others.sum() == CANDIDATES // 2


def test_what_a_front_covers_already_would_add_nothing_and_never_less():
    """By rounding the volume with some designs more comes out smaller now and then, and a chance cannot be."""
    rng = np.random.default_rng(1)
    rounded = 0
    for _ in range(1000):
        front = 0.9 * rng.random((60, 3))
        front = front[nondominated(front)]
        whole = hypervolume(front)
        assert _gain(1.01 * front[:4], front, whole) == 0.0
        assert _gain(np.full((2, 3), 1.5), front, whole) == 0.0
        assert _gain(front.min(axis=0, keepdims=True), front, whole) > 0.0
        beside = front[:1] - np.eye(3)[:1] * 1e-16
        rounded += hypervolume(np.concatenate([front, beside])) < whole
        assert _gain(beside, front, whole) >= 0.0
    assert rounded > 0
