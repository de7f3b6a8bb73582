"""Worlds: checked cases on shared tables and weather."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from explore.config.doubtful import GLASS
from explore.doubt import weathers
from explore.doubt.draws import points
from explore.doubt.weathers import OWN
from explore.doubt.worlds import Worlds
from explore.model import Evaluator, years


@pytest.fixture(scope="module")
def worlds(evaluator):
    """The worlds of the default case."""
    return Worlds(evaluator)


@pytest.fixture(scope="module")
def sample(worlds):
    """A few of them."""
    return worlds.draws.sample(points(8, worlds.draws.dimensions, 5))


def test_the_likely_world_is_the_case(worlds, sample, orchard, evaluator, designs):
    """With every value at its likely one, and clean glass, nothing moves."""
    middle = np.array([[1.0 if one.name == GLASS else one.likely for one in worlds.draws.items]])
    likely = replace(sample, values=middle, laws=np.zeros((1, 2), bool), weather=np.array([OWN]))
    assert worlds.case(likely, 0).model_dump() == orchard.model_dump()
    columns = designs(60, 3)
    found, wanted = worlds.model(likely, 0).evaluate(columns), evaluator.evaluate(columns)
    for name, values in wanted.items():
        if values.dtype.kind == "f":
            assert found[name] == pytest.approx(values, rel=1e-9, abs=1e-9, nan_ok=True), name


def test_a_world_is_what_a_whole_new_model_would_say(worlds, sample, designs):
    """Tables and weather are shared and nothing stale is: a model built anew for the world's case agrees."""
    columns = designs(60, 4)
    case, fresh = worlds.case(sample, 2), Evaluator(worlds.case(sample, 2))
    fresh.weather = weathers.weather(case, fresh.weather, int(sample.weather[2]))
    shared, anew = worlds.model(sample, 2).evaluate(columns), fresh.evaluate(columns)
    for name, values in anew.items():
        if values.dtype.kind == "f":
            assert shared[name] == pytest.approx(values, rel=1e-9, abs=1e-9, nan_ok=True), name


def test_tables_and_weather_are_never_made_again(worlds, sample, evaluator, monkeypatch):
    """A world holds the very objects of the model it comes from, and its year was laid out before."""
    before = worlds.model(sample, 1)
    worlds.model(replace(sample, weather=np.full(8, OWN)), 1)
    monkeypatch.setattr(years, "weather", None)
    monkeypatch.setattr(years, "year", None)
    model = worlds.model(sample, 1)
    assert model._stack is evaluator._stack
    assert model.weather is before.weather
    assert worlds.model(replace(sample, weather=np.full(8, OWN)), 1).weather is evaluator.weather
    assert model.year is not evaluator.year
    assert vars(model)["_fault_pressures"] is evaluator._fault_pressures


def test_the_year_of_a_world_is_that_of_its_case(worlds, sample, evaluator):
    """Light from the ground and the room's temperature follow the world."""
    case = worlds.case(sample, 3)
    wanted = years.year(case, weathers.weather(case, evaluator.weather, int(sample.weather[3])))
    found = worlds.model(sample, 3).year
    for field in fields(wanted):
        assert getattr(found, field.name) == pytest.approx(getattr(wanted, field.name), rel=1e-9), field.name


def test_values_reach_the_case(worlds, sample, orchard):
    """Prices of cards, laws, site and engine differ from world to world and stay what the schema allows."""
    cases = [worlds.case(sample, row) for row in range(len(sample))]
    assert len({case.engine.ring_gap_um for case in cases}) == len(cases)
    assert {case.engine.wall_law for case in cases} == {"linear", "root"}
    assert len({case.scenario.site.albedo for case in cases}) == len(cases)
    names = [one.name for one in worlds.draws.items]
    factor = sample.values[0, names.index("fluid_price_factor")]
    for stem, card in orchard.fluids.items():
        assert cases[0].fluids[stem].price_EUR_per_kg == pytest.approx(card.price_EUR_per_kg * factor)
    dirt = (
        sample.values[0, names.index("clean_glass_factor")]
        * sample.values[0, names.index("collector_eta0_factor")]
    )
    kind = next(iter(orchard.collectors))
    assert cases[0].collectors[kind].eta0 == pytest.approx(orchard.collectors[kind].eta0 * dirt)
