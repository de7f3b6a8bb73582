"""The design space: pins, narrowings, conditional bounds, and genes that round-trip."""

from __future__ import annotations

import numpy as np
import pytest

from explore.config.compose import load_scenario
from explore.design.space import INPUTS, Space, random_designs
from explore.design.variables import variables
from explore.errors import InputError
from tests.search.toy import toy_case


def _sample(asked=None, n=512, seed=0):
    space = Space.from_case(toy_case(asked))
    return space, space.sample(n, np.random.default_rng(seed), quasi=True)


def test_columns_are_the_public_inputs_in_order():
    """Decoded designs carry exactly the public input columns."""
    _, columns = _sample()
    assert tuple(columns) == INPUTS


BOUNDS = {
    "top_temperature_degC": (60, 97),
    "condensing_temperature_degC": (14 + 3, 14 + 25),
    "superheat_K": (0, 25),
    "subcooling_K": (0, 5),
    "boil_approach_K": (3, 15),
    "pinch_boiler_K": (2, 12),
    "pinch_condenser_K": (2, 12),
    "release_pressure_ratio": (1, 4),
    "regenerator_effectiveness": (0.4, 0.8),
    "store_volume_L": (50, 3000),
    "insulation_mm": (30, 400),
    "collector_area_m2": (0.5, 40),
    "speed_rev_per_min": (30, 1500),
    "cylinders_per_stage": (1, 6),
    "sizing_share": (0.1, 0.9),
}
"""The design space as the project's description of the model states it, cooling water at 14 degC."""


def test_bounds_are_those_of_the_model():
    """Every variable with bounds of its own is searched over the range the model states."""
    found = {one.name: (one.low, one.high) for one in variables(14.0)}
    assert {name: found[name] for name in BOUNDS} == BOUNDS
    assert (
        len(found) == len(BOUNDS) + 3
    )  # evaporating, lowest evaporating and stop temperature hang on others


@pytest.mark.parametrize(
    "name", ["store_volume_L", "insulation_mm", "collector_area_m2", "speed_rev_per_min"]
)
def test_sizes_are_spread_evenly_by_ratio(name):
    """Half of the random designs lie below the geometric mean of the bounds: a small plant is met as often as a big one."""
    low, high = BOUNDS[name]
    values = _sample()[1][name]
    assert np.median(values) == pytest.approx(np.sqrt(low * high), rel=0.1)


def test_conditional_variables_are_empty_where_they_do_not_apply():
    """A variable of the other store mode, or of a single level, is NaN; an absent regenerator is 0."""
    _, columns = _sample()
    mixed = columns["store_mode"] == "mixed"
    single = columns["pressure_levels"] == 1
    assert np.array_equal(np.isnan(columns["boil_approach_K"]), ~mixed)
    assert np.array_equal(np.isnan(columns["pinch_boiler_K"]), mixed)
    assert np.array_equal(np.isnan(columns["lowest_evaporating_temperature_degC"]), single)
    effectiveness = columns["regenerator_effectiveness"]
    assert ((effectiveness == 0.0) | ((effectiveness >= 0.4) & (effectiveness <= 0.8))).all()
    assert 0.4 < np.mean(effectiveness == 0.0) < 0.6


def test_dependent_bounds_hold_on_random_designs():
    """Boiling stays under the water and above the condenser, stopping above the condenser."""
    _, c = _sample(n=4096)
    boiling, cold = c["evaporating_temperature_degC"], c["condensing_temperature_degC"]
    ok = ~np.isnan(boiling)
    assert (boiling <= c["top_temperature_degC"] - c["pinch_boiler_K"] - 0.5 + 1e-9)[ok].all()
    lowest = c["lowest_evaporating_temperature_degC"]
    two = ~np.isnan(lowest) & (boiling - 5.0 > cold + 8.0)
    assert (lowest <= boiling - 5.0 + 1e-9)[two].all()
    assert (lowest >= cold + 8.0 - 1e-9)[two].all()
    stop = c["stop_temperature_degC"]
    lift = np.maximum(15.0, c["boil_approach_K"] + 5.0)
    assert (stop >= cold + lift - 1e-9)[~np.isnan(stop)].all()
    assert (stop <= c["top_temperature_degC"] + 1e-9)[~np.isnan(stop)].all()
    assert (c["pressure_levels"] <= np.where(c["store_mode"] == "mixed", 1, c["stages"])).all()


def test_boiling_stays_below_the_critical_temperature_when_it_is_known():
    """With a critical temperature given, no boiling temperature exceeds 0.95 of it in kelvin."""
    space = Space.from_case(toy_case({"fluid": "n-Butane"}), critical_temperature_degC={"n-Butane": 80.0})
    boiling = space.sample(500, np.random.default_rng(1))["evaporating_temperature_degC"]
    assert np.nanmax(boiling) <= 0.95 * 353.15 - 273.15 + 1e-9


def test_genes_round_trip_through_columns():
    """Encoding decoded columns gives genes that decode to the same columns."""
    space, columns = _sample(n=2048)
    again = space.decode(*space.encode(columns))
    for name in INPUTS:
        if columns[name].dtype.kind == "f":
            np.testing.assert_allclose(again[name], columns[name], rtol=1e-9, atol=1e-9)
        else:
            assert np.array_equal(again[name], columns[name])


def test_a_pin_holds_exactly_and_a_narrowing_bounds():
    """A pinned variable has its value in every design, a narrowed one stays inside."""
    _, c = _sample({"store_volume_L": 500, "collector_area_m2": [2, 8], "fluid": "Water", "stages": 2})
    assert (c["store_volume_L"] == 500.0).all()
    assert c["collector_area_m2"].min() >= 2.0
    assert c["collector_area_m2"].max() <= 8.0
    assert set(c["fluid"]) == {"Water"}
    assert set(c["stages"]) == {2}


def test_a_pin_on_a_dependent_variable_holds_too():
    """A pinned boiling temperature is kept even where the store is too cold for it."""
    _, c = _sample({"evaporating_temperature_degC": 85, "store_mode": "stratified"})
    assert (c["evaporating_temperature_degC"] == 85.0).all()


@pytest.mark.parametrize(("asked", "expected"), [(0, {0.0}), (0.6, {0.6}), ([0, 0.3], {0.0})])
def test_a_regenerator_can_be_pinned_to_none_or_to_a_value(asked, expected):
    """0 means no regenerator; a number means always one of that effectiveness."""
    _, c = _sample({"regenerator_effectiveness": asked})
    assert set(c["regenerator_effectiveness"]) == expected


def test_pinning_two_pressure_levels_leaves_stratified_layouts_with_two_stages_or_more():
    """Layouts that cannot have the pinned number of levels disappear."""
    _, c = _sample({"pressure_levels": 2})
    assert set(c["store_mode"]) == {"stratified"}
    assert set(c["stages"]) == {2, 3}


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"store_volume": 500}, ["space.store_volume", "store_volume_L"]),
        ({"store_volume_L": 5000}, ["space.store_volume_L=5000", "50 to 3000 L"]),
        ({"store_volume_L": [900, 300]}, ["[900, 300]", "reversed"]),
        ({"store_volume_L": "big"}, ["store_volume_L=big", "number"]),
        ({"store_volume_L": float("nan")}, ["store_volume_L=nan"]),
        ({"store_volume_L": [1, 2, 3]}, ["[1, 2, 3]"]),
        ({"fluid": "Petrol"}, ["Petrol", "n-Butane"]),
        ({"fluid": 3}, ["space.fluid=3"]),
        ({"stages": 4}, ["stages=4", "1 to 3"]),
        ({"stages": 1.5}, ["stages=1.5"]),
        ({"stages": 1, "pressure_levels": 2}, ["pressure_levels", "stages"]),
        ({"regenerator_effectiveness": 0.2}, ["0.2", "0.4 to 0.8"]),
        ({"collector": []}, ["collector=[]", "flat"]),
    ],
)
def test_bad_pins_are_refused_in_one_sentence(asked, words):
    """A wrong pin raises InputError naming the variable, the value and what is allowed."""
    with pytest.raises(InputError) as error:
        Space.from_case(toy_case(asked))
    for word in words:
        assert word in str(error.value)
    assert "\n" not in str(error.value)


def test_fluids_outside_the_allowed_classes_are_left_out_with_a_reason():
    """A scenario's safety classes remove fluids and say why; pinning such a fluid is an error."""
    case = toy_case()
    limits = case.scenario.limits.model_copy(update={"safety_classes": ("A3",)})
    scenario = case.scenario.model_copy(update={"limits": limits})
    case = case.model_copy(update={"scenario": scenario})
    space = Space.from_case(case)
    assert "Ammonia" not in space.fluids
    assert "B2L" in space.left_out["Ammonia"]
    with pytest.raises(InputError, match="Ammonia"):
        Space.from_case(case.model_copy(update={"space": {"fluid": "Ammonia"}}))


def test_fluids_that_attack_the_materials_are_left_out_with_a_reason():
    """Ammonia and brass do not go together: the search leaves it out, and the sentence names both."""
    case = load_scenario("orchard")
    assert Space.from_case(case).left_out == {"Ammonia": "attacks copper and brass of scenario.materials"}
    alone = case.scenario.model_copy(update={"fluids": ("Ammonia",)})
    with pytest.raises(InputError, match="Ammonia: attacks copper and brass"):
        Space.from_case(case.model_copy(update={"scenario": alone}))


def test_random_designs_are_reproducible_and_differ_with_the_seed():
    """The same seed gives the same designs."""
    case = toy_case()
    assert random_designs(case, 64, 5).equals(random_designs(case, 64, 5))
    assert not random_designs(case, 64, 5).equals(random_designs(case, 64, 6))
