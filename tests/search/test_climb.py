"""Climbing: designs of a layout that follow the slope of what they are after, from anywhere, and break no limit for it."""

from __future__ import annotations

import numpy as np
import pytest

from explore.design.space import Space
from explore.search.climb import CANDIDATES, FIRST_CANDIDATES, Climb, Climbers, Slope, _hopeful, covered, plan
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
    start = plan(known(space, evaluate, 0), space, layout, 6, np.random.default_rng(2))
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
    start = plan(feasible, space, 1, 5, np.random.default_rng(1))
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
    """Where a layout has no design of its own, those of layouts with the same store stand in, in its form."""
    space, evaluate = setting()
    found = known(space, evaluate, 3000)
    layouts = [(one.store_mode, one.pressure_levels) for one in space.layouts]
    target = layouts.index(("stratified", 3))
    others = found.take(found.genes.choices[:, LAYOUT] != target)
    start = plan(others, space, target, 8, np.random.default_rng(3))
    assert len(start.genes) == 8 * CANDIDATES
    assert set(start.genes.choices[:, LAYOUT]) == {target}
    lowest = [v.name for v in space.variables].index("lowest_evaporating_temperature_degC")
    store = [v.name for v in space.variables].index("store_volume_L")
    stratified = np.array([mode == "stratified" for mode, _ in layouts])[others.genes.choices[:, LAYOUT]]
    assert np.isin(start.genes.unit[:, store], others.genes.unit[stratified, store]).all()
    fresh = ~np.isin(start.genes.unit[:, lowest], others.genes.unit[:, lowest])
    assert fresh.any()
    assert np.ptp(start.genes.unit[fresh, lowest]) > 0.5


def test_no_fluid_is_shut_out():
    """Most climbers have the best fluid, some have others."""
    space, evaluate = setting()
    found = known(space, evaluate, 3000)
    start = plan(found, space, 0, 40, np.random.default_rng(3))
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
    climbers = Climbers(plan(found, pinned, 0, 2, np.random.default_rng(1)), pinned, np.random.default_rng(1))
    climbers.tell(evaluate(climbers.ask()))
    assert climbers.wanted == 0


def test_one_climber_sets_out_for_a_fluid_that_has_kept_no_limits_yet():
    """From what least breaks them, in the layout if it is known there; where all fluids have kept them there is none."""
    space, evaluate = setting()
    some = known(space, evaluate, 4000)
    lost = int(some.genes.choices[0, FLUID])
    broken = np.where(some.genes.choices[:, FLUID] == lost, 1.0 + np.arange(len(some)), 0.0)
    hopeless = Known(some.genes, some.values, broken)
    layout = int(some.genes.choices[0, LAYOUT])
    own = (some.genes.choices[:, FLUID] == lost) & (some.genes.choices[:, LAYOUT] == layout)
    first = plan(hopeless, space, layout, 4, np.random.default_rng(1)).genes.take(slice(CANDIDATES))
    np.testing.assert_array_equal(first.unit[0], some.genes.unit[np.flatnonzero(own)[0]])
    assert (first.choices[:, FLUID] == lost).all()
    assert (first.choices[:, LAYOUT] == layout).all()
    # not known in the layout: from its kin with the same store, made over
    elsewhere = hopeless.take(~own)
    made_over = plan(elsewhere, space, layout, 4, np.random.default_rng(1)).genes
    assert (made_over.choices[:CANDIDATES, FLUID] == lost).all()
    assert (made_over.choices[:, LAYOUT] == layout).all()
    assert len(made_over) == 4 * CANDIDATES
    kept = Known(some.genes, some.values, np.zeros(len(some)))
    assert _hopeful(kept.take(own), kept, np.random.default_rng(1)) == []


def test_a_fluid_that_keeps_its_limits_with_another_store_is_sent_too():
    """What a fluid does with a fully mixed store says nothing of a stratified one; with such a store it is left alone."""
    space, evaluate = setting()
    some = known(space, evaluate, 4000)
    fluids, layouts = some.genes.choices[:, FLUID], some.genes.choices[:, LAYOUT]
    mode = np.array([one.store_mode for one in space.layouts])[layouts]
    judged = Known(some.genes, some.values, np.where((mode == mode[0]) & (fluids == 2), 1.0, 0.0))
    for layout in np.unique(layouts[mode == mode[0]]).tolist():
        climb = plan(judged, space, layout, 4, np.random.default_rng(layout))
        assert (climb.genes.choices[:CANDIDATES, FLUID] == 2).all()
    kin = judged.take(mode != mode[0])
    assert _hopeful(kin, kin, np.random.default_rng(1)) == []
