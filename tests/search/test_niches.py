"""Niches: every layout is bred and remembered by itself, and the front is polished at the end."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from explore.design.space import Space
from explore.judgement.front import feasible_front, normalise
from explore.search.archive import Archive
from explore.search.islands import (
    FEW_SLOW,
    GENERATIONS,
    HOPELESS_SHARE,
    LARGEST_WHOLE,
    Islands,
    Tended,
    plan,
)
from explore.search.judge import judge
from explore.search.optimiser import Assignment
from explore.search.population import ANY_FLUID, FLUID, LAYOUT, Genes, Known
from explore.search.refine import polish
from explore.search.tending import NEST_DESIGNS, QUICK, SLOW_AFTER, SLOW_EVERY, TENDED_SHARE
from tests.search.toy import ToyEvaluator, toy_case


def known(case, space, n, seed=0):
    """Random designs, judged."""
    genes = Genes(*space.sample_genes(n, np.random.default_rng(seed)))
    judged = judge(
        ToyEvaluator(case).evaluate(space.decode(genes.unit, genes.choices)), case.scenario.objectives
    )
    return Known(genes, judged.values, judged.breach)


def assignment(case, space, archive, designs=8000, focus=ANY_FLUID):
    """What a leg of ``designs`` designs is planned from."""
    return Assignment(0, focus, designs, archive, space, case.search)


def tended(case, space, archive, legs, designs=500):
    """The layouts that each of ``legs`` tends."""
    return [
        [
            nest.plan.layout
            for nest in plan(Assignment(leg, ANY_FLUID, designs, archive, space, case.search)).nests
        ]
        for leg in legs
    ]


def stores(space, legs):
    """Of each of ``legs`` the stores whose layouts it tends."""
    return [{space.layouts[layout].store_mode for layout in leg} for leg in legs]


@pytest.mark.parametrize("first", [1, 2])
def test_every_layout_is_tended_in_turn(first):
    """Each leg tends the layouts of the quick store; some, evenly spread, others as well, and none is left out."""
    per_round = toy_case().search.legs_per_round
    case = toy_case(leg_designs=SLOW_AFTER // per_round + (1 if first == 1 else -1))
    space = Space.from_case(case)
    archive = Archive(known(case, space, 2000), 10_000)
    turns = tended(case, space, archive, range(6 * SLOW_EVERY * per_round), 12 * NEST_DESIGNS)
    with_slow = [len(leg) > 1 for leg in stores(space, turns)]
    rounds = np.array(with_slow).reshape(-1, per_round)
    assert (rounds == (np.arange(len(rounds)) % SLOW_EVERY == first)[:, None]).all()
    counts = np.bincount([layout for turn in turns for layout in turn], minlength=len(space.layouts))
    quick = np.array([one.store_mode == QUICK for one in space.layouts])
    assert counts[quick].min() >= 0.8 * len(turns)
    assert counts[~quick].min() >= 2


def test_slow_layouts_on_the_front_take_turns_of_those_that_are_not():
    """Two turns in three, after the first: the third of its own keeps each layout alive."""
    case = toy_case()
    space = Space.from_case(case)
    found = known(case, space, 4000)
    slow = np.array([one.store_mode != QUICK for one in space.layouts])
    stages = np.array([one.stages for one in space.layouts])
    many = (slow & (stages > 1))[found.genes.choices[:, LAYOUT]]
    nothing = Archive(Known.none(space.dimensions, len(space.choice_counts), 3), 10_000)
    archive = nothing.add(Known(found.genes, found.values, np.where(many, 1.0, found.breach)))
    front = archive.front.genes.choices[:, LAYOUT]
    assert slow[front].any()
    assert not (slow & (stages > 1))[front].any()
    legs = range(9 * SLOW_EVERY * case.search.legs_per_round)
    turns = tended(case, space, archive, legs, 12 * NEST_DESIGNS)
    groups = [{int(stages[layout]) for layout in turn if slow[layout]} for turn in turns]
    counts = [sum(one in group for group in groups) for one in (1, 2, 3)]
    assert counts == [share * len(legs) // SLOW_EVERY // 9 for share in (7, 1, 1)]


def test_a_search_begins_with_every_quick_layout_and_then_the_others():
    """While nothing is known the legs of the first round share them: quick ones, slow ones together, quick ones again."""
    case = toy_case()
    space = Space.from_case(case)
    nothing = Archive(Known.none(space.dimensions, len(space.choice_counts), 3), 10_000)
    quick = [i for i, one in enumerate(space.layouts) if one.store_mode == QUICK]
    legs = tended(case, space, nothing, range(6), len(quick) // 2 * NEST_DESIGNS)
    assert sorted(legs[0] + legs[1]) == quick
    stages = [{space.layouts[layout].stages for layout in leg if layout not in quick} for leg in legs[2:5]]
    assert stages == [{1}, {2}, {3}]
    assert set().union(*legs) == set(range(len(space.layouts)))
    assert set(legs[5]) < set(quick)


@pytest.mark.parametrize("store", ["stratified", "mixed"])
def test_a_search_of_one_store_tends_its_layouts_in_every_leg(store):
    """Nothing is put off for another store that is not asked for."""
    case = toy_case().model_copy(update={"space": {"store_mode": store}})
    space = Space.from_case(case)
    archive = Archive(known(case, space, 500), 10_000)
    turns = tended(case, space, archive, range(12), 12 * NEST_DESIGNS)
    assert all(turns)
    assert {layout for turn in turns for layout in turn} == set(range(len(space.layouts)))


def test_few_children_of_slow_layouts_are_made_over_to_quick_ones():
    """A batch has sixteen or more of those of as many expansions, or none; a batch that is bred for the front has all."""
    case = toy_case()
    space = Space.from_case(case)
    slow = np.array([one.store_mode != QUICK for one in space.layouts])
    stages = np.array([one.stages for one in space.layouts])
    found = known(case, space, 4000)
    for store in ("stratified", "mixed"):
        other = np.array([one.store_mode != store for one in space.layouts])[found.genes.choices[:, LAYOUT]]
        own = Known(found.genes, found.values, np.where(other, 1.0, found.breach))
        nothing = Archive(Known.none(space.dimensions, len(space.choice_counts), 3), 10_000)
        colony = plan(Assignment(0, ANY_FLUID, 1024, nothing.add(own), space, case.search))
        bred = Islands(replace(colony, nests=()), space, np.random.default_rng(1)).ask(1024)
        layouts = bred.choices[:, LAYOUT]
        counts = [int((slow[layouts] & (stages[layouts] == n)).sum()) for n in (1, 2, 3)]
        assert all(count == 0 or count >= FEW_SLOW for count in counts)
        assert (sum(counts) > len(bred) / 2) == (store == "mixed")


def test_a_nest_keeps_to_its_layout_and_a_leg_to_its_designs():
    """All that is born of a nest has its layout; nests have half of a leg's designs, the rest is bred in three batches."""
    case = toy_case()
    space = Space.from_case(case)
    archive = Archive(known(case, space, 2000), 10_000)
    start = plan(Assignment(1, ANY_FLUID, 4096, archive, space, case.search))
    optimiser = Islands(start, space, np.random.default_rng(1))
    layouts = {nest.plan.layout for nest in start.nests}
    born = tended_here = generations = 0
    while born < 4096:
        genes = optimiser.ask(1024)
        for one, rows in optimiser._asked:
            if isinstance(one, Tended):
                assert set(genes.choices[rows, LAYOUT]) == {one.island.plan.layout}
                tended_here += rows.stop - rows.start
        born += len(genes)
        generations += not any(isinstance(one, Tended) for one, _ in optimiser._asked)
        judged = judge(
            ToyEvaluator(case).evaluate(space.decode(genes.unit, genes.choices)), case.scenario.objectives
        )
        optimiser.tell(genes, judged)
    assert born == 4096
    assert generations == GENERATIONS
    assert tended_here == 2048
    assert len(layouts) == round(2048 / NEST_DESIGNS)


@pytest.mark.parametrize("share", [0.0, 0.02, 0.04])
@pytest.mark.parametrize("designs", [200, 500, 2048, 8192])
def test_no_leg_is_planned_beyond_its_designs(share, designs, orchard):
    """With many fluids and layouts and the greatest least share, the islands are born within the leg's budget."""
    space = Space.from_case(orchard)
    archive = Archive(Known.none(space.dimensions, len(space.choice_counts), 3), 1000)
    search = orchard.search.model_copy(update={"least_share_per_fluid": share})
    colony = plan(Assignment(0, ANY_FLUID, designs, archive, space, search))
    planned = [*colony.plans, *(nest.plan for nest in colony.nests)]
    assert sum(one.designs for one in planned) == designs


def test_what_nests_do_not_need_goes_where_the_front_lies():
    """A large leg gives each layout its nest, and the rest by designs on the front; the whole grows with the leg."""
    case = toy_case()
    space = Space.from_case(case)
    archive = Archive(Known.none(space.dimensions, len(space.choice_counts), 3), 4000).add(
        known(case, space, 600)
    )
    colony = plan(Assignment(1, ANY_FLUID, 8192, archive, space, case.search))
    sizes = {nest.plan.layout: nest.plan.designs for nest in colony.nests}
    assert sum(sizes.values()) == pytest.approx(8192 * TENDED_SHARE, abs=len(sizes))
    places = archive.front.genes.choices[:, LAYOUT]
    front = np.array([np.count_nonzero(places == layout) for layout in sizes])
    expected = NEST_DESIGNS + (8192 * TENDED_SHARE - NEST_DESIGNS * len(sizes)) * front / front.sum()
    assert list(sizes.values()) == pytest.approx(expected.tolist(), abs=len(sizes))
    assert len(set(sizes.values())) > 2
    small = plan(Assignment(1, ANY_FLUID, 8 * NEST_DESIGNS, archive, space, case.search))
    assert {nest.plan.designs for nest in small.nests} == {NEST_DESIGNS}
    breeding = {
        designs: plan(Assignment(2, ANY_FLUID, designs, archive, space, case.search)).plans[-1].population
        for designs in (100, 4096)
    }
    assert breeding == {100: case.search.population, 4096: LARGEST_WHOLE * case.search.population}


def test_a_fluid_without_a_feasible_design_keeps_a_quarter_of_its_share():
    """Budget flows away from what cannot be, but never wholly: a fluid may come late."""
    case = toy_case()
    space = Space.from_case(case)
    found = known(case, space, 2000)
    useless = found.genes.choices[:, FLUID] == 0
    found = Known(found.genes, found.values, np.where(useless, 1.0, found.breach))
    shares = {
        one.fluid: one.designs
        for one in plan(assignment(case, space, Archive(found, 10_000))).plans
        if one.fluid != ANY_FLUID
    }
    assert shares[0] == int(HOPELESS_SHARE * shares[1]) > 0


def test_the_best_of_every_niche_is_remembered():
    """However small the archive, each pair of fluid and layout that was tried keeps its best design."""
    case = toy_case()
    space = Space.from_case(case)
    archive = Archive(Known.none(space.dimensions, len(space.choice_counts), 3), 600)
    for seed in range(4):
        archive = archive.add(known(case, space, 1000, seed))
    tried = np.unique(
        np.concatenate([known(case, space, 1000, seed).genes.choices[:, :2] for seed in range(4)]), axis=0
    )
    assert len(archive.known) == 600
    assert len(np.unique(archive.known.genes.choices[:, :2], axis=0)) == len(tried)


def test_what_was_polished_is_better_and_nothing_of_it_worse():
    """Each design that polishing returns dominates the one it came from; it is judged like any other."""
    case = toy_case()
    space = Space.from_case(case)
    columns = space.sample(3000, np.random.default_rng(1))
    frame = space.designs(columns).assign(**ToyEvaluator(case).evaluate(columns))
    front = feasible_front(frame, case.scenario.objectives)

    def evaluate(genes):
        return judge(
            ToyEvaluator(case).evaluate(space.decode(genes.unit, genes.choices)), case.scenario.objectives
        )

    better = polish(front, space, evaluate, case.scenario.objectives, 3000)
    assert len(better) >= 5
    judged, before = evaluate(better), normalise(front, case.scenario.objectives)
    assert judged.feasible.all()
    for values in judged.values:
        assert ((values <= before + 1e-9).all(axis=1) & (values < before - 1e-9).any(axis=1)).any()
