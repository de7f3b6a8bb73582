"""Plants that boil a mixture in counterflow, as bought: its pinch lies wherever along the glide water comes nearest."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from scipy import optimize

from explore.config.compose import load_scenario
from explore.cycle.as_bought import Bought
from explore.cycle.books import keep
from explore.cycle.bought_performance import performed
from explore.cycle.owned import needed
from explore.cycle.source import Boiling, CirculatingWater
from explore.cycle.stratified import stratified
from explore.design.space import Space
from explore.model import Evaluator
from explore.model.as_bought import FIGURES, Purchase
from explore.plant import glide
from tests.system.test_as_bought import GIVES, SMALL, films

BLEND = "Butane-propane-70-30"
TYPED = [f"space.fluid={BLEND}", "space.store_mode=stratified", "space.stages=[1,3]"]
LIMITS = ("violation_boiler_hot_end_K", "violation_boiler_cold_end_K", "violation_condenser_pinch_K")


def possible(model, stages, each):
    """Columns of ``each`` designs with each number of stages that are possible and keep their exchangers' margins."""
    columns = Space.from_case(model.case).sample(1500, np.random.default_rng(8))
    found = model.evaluate(columns)
    ok = found["possible"].astype(bool) & (found["work_per_litre_kJ"] > 2.0) & (found["served_share"] > 0.2)
    for name in LIMITS:
        ok &= ~(found[name] > 0.0)
    rows = np.concatenate([np.flatnonzero(ok & (columns["stages"] == n))[:each] for n in stages])
    assert len(rows) == each * len(stages)
    return {name: values[rows] for name, values in columns.items()}


@pytest.fixture(scope="module")
def gas():
    """The default case with bottled gas on a stratified store."""
    return Evaluator(load_scenario("orchard", TYPED))


@pytest.fixture(scope="module")
def sound(gas):
    """Designs with one to three expansions, with and without regenerator."""
    columns = possible(gas, (1, 2, 3), 8)
    warmed = columns["regenerator_effectiveness"] > 0.0
    assert warmed.any()
    assert not warmed.all()
    return columns


@pytest.fixture(scope="module")
def purchase(gas, sound):
    """Their plants."""
    return Purchase.of(gas, sound)


def test_in_its_own_world_a_plant_gives_back_its_figures(gas, sound, purchase):
    """Water sized for a pinch and a pinch found from the water are the same equation."""
    rated, wanted = purchase.rated(gas), gas.evaluate(sound)
    for name in FIGURES:
        assert rated[name] == pytest.approx(wanted[name], rel=1e-9), name


@settings(max_examples=4, deadline=None, phases=[Phase.generate])
@given(st.floats(0.55, 1.4), st.floats(1.02, 1.2))
def test_better_films_never_give_less(gas, purchase, factor, better):
    """More power, more work per litre, more served."""
    poor, good = (purchase.rated(films(gas, one)) for one in (factor, factor * better))
    for name in GIVES:
        assert not np.any(good[name] < poor[name] * (1.0 - SMALL)), name
    assert np.nanmedian(good["power_size_W"]) > 1.003 * np.nanmedian(poor["power_size_W"])
    assert np.isfinite(good["power_size_W"]).mean() > 0.95


def test_books_close_and_the_curve_is_kept(gas, purchase):
    """Energy and exergy close at the state found, every area is the one bought, and no point of a curve is too near."""
    other = films(gas, 0.7)
    for group, own in purchase.groups:
        state, miss = Bought(group.fluid, other.water, other.plant, group.designs, own).rate()
        cycle, top = state.cycle, group.designs.top_temperature
        assert np.all(miss < 1e-9)
        for area, had in zip(state.areas[:-1], own.areas[:-1], strict=True):
            assert area == pytest.approx(had, rel=1e-9)
        source = CirculatingWater(top, state.pinches[0])
        pieces = [z for z in source.zones(group.fluid, other.water, cycle) if z.name == "two_phase"]
        nearest = np.min([np.minimum(z.hot_difference, z.cold_difference) for z in pieces], axis=0)
        assert nearest == pytest.approx(state.pinches[0], abs=1e-6)
        # the rule that sizes the water asks for just the water there is, at boiler and condenser
        raised = source.raised(group.fluid, other.water, cycle.levels)[0]
        assert raised == pytest.approx(cycle.raised[0], rel=1e-6)
        assert cycle.condenser.water_flow * state.flow == pytest.approx(own.cooling_water, rel=1e-6)
        books = keep(group.fluid, other.water, other.plant.machine, cycle, source)
        assert np.abs(books.energy_residual() / cycle.heat).max() < 1e-6
        assert np.abs(books.exergy_residual() / cycle.heat).max() < 1e-6


def test_sized_anew_at_the_state_found_it_is_the_same_plant():
    """With losses that do not ask for size, the design of that state needs the areas bought, times their powers' ratio."""
    model = Evaluator(load_scenario("orchard", [*TYPED, "engine=constant"]))
    other = films(model, 0.75)
    for group, own in Purchase.of(model, possible(model, (1,), 10)).groups:
        bought = Bought(group.fluid, other.water, other.plant, group.designs, own)
        state, _ = bought.rate()
        moved, done = performed(bought, state)
        stage = state.cycle.stages[0]
        back = stage.exhaust_pressure * (1.0 + stage.losses.exhaust_pressure_loss)
        sized = replace(moved, pinch_boiler=state.pinches[0], release_ratio=stage.release_pressure / back)
        cycle, anew = stratified(group.fluid, other.water, other.plant, sized, 1, 1)
        hot = Boiling(
            source := CirculatingWater(sized.top_temperature, sized.pinch_boiler),
            source.zones(group.fluid, other.water, cycle),
        )
        again = needed(group.fluid, other.plant, sized, cycle, hot, anew.engine.flow).areas
        ok = stage.release_pressure > back  # no engine is sized to expand too far
        assert ok.sum() >= 8
        assert cycle.net_work[ok] == pytest.approx(state.cycle.net_work[ok], rel=1e-6)
        assert anew.work_per_volume[ok] == pytest.approx(done.work_per_volume[ok], rel=1e-6)
        ratio = state.flow / anew.engine.flow
        for area, had in zip(again[:2], own.areas[:2], strict=True):
            assert (area * ratio)[ok] == pytest.approx(had[ok], rel=1e-5)


def test_another_solver_finds_the_same_state(gas, purchase):
    """SciPy's hybrid method of Powell, one plant at a time, from the run's own state."""
    other = films(gas, 0.7)
    for group, own in purchase.groups:
        bought = Bought(group.fluid, other.water, other.plant, group.designs, own)
        state, _ = bought.rate()
        alone = bought.take(np.array([0]))
        m, carried = len(own.cylinders) + 1 + alone.regenerated, alone.carried()

        def lack(x, alone=alone, carried=carried):
            near = alone.tried(x[None, :], carried)[0].carried
            return alone.tried(x[None, :], near)[0].lack[0]

        found = optimize.root(lack, own.start[0, :m], tol=1e-10)
        assert found.success
        assert found.x[0] == pytest.approx(state.cycle.levels[0].temperature[0], abs=1e-3)
        assert found.x[len(own.cylinders)] == pytest.approx(
            state.settings.condensing_temperature[0], abs=1e-3
        )


def test_a_mixture_among_pure_fluids(evaluator, gas, sound):
    """What is rated beside it changes nothing of it."""
    other = films(gas, 0.75)
    alone = Purchase.of(gas, sound).rated(other)
    row = np.array([5])
    pure = {name: values[row] for name, values in sound.items()} | {"fluid": np.array(["Isopentane"])}
    both = {name: np.concatenate([pure[name], values]) for name, values in sound.items()}
    wide = Evaluator(load_scenario("orchard", [f"space.fluid=[{BLEND},Isopentane]"]))
    rated = Purchase.of(wide, both).rated(films(wide, 0.75))
    for name in FIGURES:
        assert rated[name][1:] == pytest.approx(alone[name], rel=1e-9, nan_ok=True), name


@pytest.mark.parametrize("times", [0.8, 1.0, 3.0, 10.0])
def test_a_condenser_pinch_asks_for_the_water_it_came_from(gas, purchase, times):
    """Much water hardly warms, so that the pinch leaves the dew point; the flow for that pinch is still the same."""
    group, _ = purchase.groups[0]
    cycle, fluid, water = group.cycle, group.fluid, gas.water
    p, liquid, entering = cycle.condenser_pressure, cycle.condensate, cycle.into_condenser
    cold = np.full_like(p, gas.plant.machine.cooling_water_temperature)
    flow = times * cycle.condenser.water_flow
    pinch = glide.condenser_pinch(fluid, water, p, entering, liquid.enthalpy, flow, cold)
    exhaust = (fluid.from_enthalpy(p, entering).temperature, entering)
    done = glide.condense(fluid, water, p, exhaust, (liquid.temperature, liquid.enthalpy), pinch, cold)
    assert done.water_flow == pytest.approx(flow, rel=1e-6)
