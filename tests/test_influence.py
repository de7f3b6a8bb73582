"""Which constant moves what: none is dead, and a second implementation follows when they move together."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pandas as pd
import pytest

from explore.config.schema import Costs, Engine
from explore.model import Evaluator
from explore.verify import influence, influence_table
from explore.verify.influence import DESIGNS, LABELS, MAIN, designs, shifted, variants
from explore.year.series import Year
from tests.scalar.model import evaluate_one
from tests.scalar.year import Weather, coarse_steps

SUMMER = slice(150 * 24, 180 * 24)
CONSTANTS = [("engine", name) for name in Engine.model_fields] + [
    ("costs", name) for name in Costs.model_fields if name not in LABELS
]
# Figures of the bill and of the judgement, for constants that no efficiency or pressure knows of.
EXPECTED = {
    "pump_efficiency": "pump_work_kJ_per_kg",
    "leakage_fraction": "shaft_work_kJ_per_kg",
    "clearance_fraction": "swept_volume_1_L",
    "wall_loss_per_K": "work_per_litre_kJ",
    "water_pump_efficiency": "circulation_work_kJ_per_kg",
    "boiler_U_vapour": "boiler_area_m2",
    "condenser_U_liquid": "condenser_area_m2",
    "regenerator_U": "regenerator_area_m2",
    "fittings_W_per_K": "store_loss_W_per_K",
    "pipe_loss_fraction": "served_share",
    "collector_rise_mixed_K": "served_share",
    "warm_up_kJ_per_K_per_stage": "served_share",
    "end_approach_fraction": "violation_boiler_hot_end_K",
    "smallest_part_load": "violation_part_load_fraction",
    "pump_required_head_m": "suction_head_margin_m",
    "pump_static_head_m": "suction_head_m",
    "receiver_volume_strokes": "charge_kg",
    "lifetime_years": "annual_cost_EUR",
}


def short(year: Year) -> Year:
    """Return a month of the year's summer."""
    return Year(**{f.name: getattr(year, f.name)[..., SUMMER] for f in fields(year)})


@pytest.fixture(scope="module")
def month(orchard):
    """The model of the default case with a month for its year."""
    evaluator = Evaluator(orchard)
    evaluator.year = short(evaluator.year)
    return evaluator


@pytest.fixture(scope="module")
def found(orchard, month):
    """The table of influence, by constant."""
    return influence(orchard, evaluator=month)


def test_every_constant_is_tried(found):
    """The table has one row for each constant of the engine and each price, and leaves out one label only."""
    assert set(zip(found["group"], found["constant"], strict=True)) == set(CONSTANTS)
    assert len(found) == len(CONSTANTS)
    assert LABELS == ("price_year",)


@pytest.mark.parametrize(("group", "name"), CONSTANTS, ids=lambda value: value)
def test_no_constant_is_dead(found, group, name):
    """Every constant, five per cent larger, moves at least one figure of at least one design."""
    row = found.set_index("constant").loc[name]
    assert row["moved"]
    assert abs(row["most_percent"]) > 1e-3
    if name in EXPECTED:
        assert EXPECTED[name] in row["moved"].split()


@pytest.mark.parametrize("name", [name for group, name in CONSTANTS if group == "costs"])
def test_prices_move_money_only(found, name):
    """A price changes figures of money and nothing else."""
    moved = found.set_index("constant").loc[name, "moved"].split()
    assert all("EUR" in figure for figure in moved)


def test_signs_of_the_first_order(found):
    """Losses cost work, better pumps save it, insulation that conducts more serves less."""
    work = found.set_index("constant")["work_per_litre_kJ"]
    for loss in (
        "friction_mean_pressure_bar",
        "admission_pressure_loss",
        "leakage_fraction",
        "wall_loss_per_K",
    ):
        assert work[loss] < 0.0
    assert work["pump_efficiency"] > 0.0
    assert work["water_pump_efficiency"] > 0.0
    assert found.set_index("constant").loc["insulation_conductivity", "served_share"] < 0.0


def test_most_influential_first(found):
    """Rows are sorted by their greatest change of a main figure."""
    weight = found[list(MAIN)].abs().max(axis=1).to_numpy()
    assert (np.diff(weight) <= 0.0).all()


def test_designs_serve_both_stores(orchard, month):
    """The fixed designs give work on both kinds of store, with one and two stages and levels."""
    columns = designs(orchard)
    assert len(columns["fluid"]) == len(DESIGNS)
    assert set(columns["store_mode"]) == {"stratified", "mixed"}
    assert set(columns["pressure_levels"]) == {1, 2}
    assert (month.evaluate(columns)["work_per_litre_kJ"] > 3.0).all()


def test_a_constant_at_its_limit_is_lowered():
    """A value that may not grow is made smaller, and all others stay."""
    whole = Engine(pump_efficiency=1.0)
    lowered = shifted(whole, "pump_efficiency", 0.05)
    assert lowered.pump_efficiency == pytest.approx(0.95)
    assert lowered.model_copy(update={"pump_efficiency": 1.0}) == whole


def test_variants_change_one_value_each(orchard):
    """Each variant differs from the case in the one value it names."""
    for group, name, case in variants(orchard, 0.05):
        changed, same = getattr(case, group), getattr(orchard, group)
        assert changed.model_copy(update={name: getattr(same, name)}) == same
        assert getattr(changed, name) == pytest.approx(1.05 * getattr(same, name))


def test_table_names_every_constant(found):
    """The printed table has a line for every constant with what it moves most."""
    text = influence_table(found)
    assert all(f"\n{name} " in text for _, name in CONSTANTS)
    assert "nothing" not in text


# Constants of the engine all away from their defaults, by factors that differ from one another.
FACTORS = dict(zip(Engine.model_fields, np.linspace(0.72, 1.31, len(Engine.model_fields)), strict=True))
CLOSE = {
    "work_per_litre_kJ": 2e-4,
    "thermal_efficiency": 2e-4,
    "net_work_kJ_per_kg": 2e-4,
    "boiler_pressure_bar_a": 1e-5,
    "water_per_fluid_kg": 1e-4,
    "cooling_water_per_fluid_kg": 1e-4,
    "return_temperature_degC": 1e-4,
    "held_fraction": 1e-4,
    "held_temperature_degC": 1e-6,
    "store_loss_W_per_K": 1e-9,
    "volume_ratio_1": 1e-4,
    "volume_ratio_2": 1e-4,
    "swept_volume_1_L": 3e-4,
    "swept_volume_2_L": 3e-4,
    "boiler_area_m2": 1e-3,
    "condenser_area_m2": 1e-3,
    "fluid_flow_kg_per_s": 3e-4,
    "autonomy_hours": 3e-4,
    "served_share": 3e-4,
    "collector_yield_kWh_per_year": 5e-3,  # the two treat the hour in which a stratified store overflows differently
}


@pytest.fixture(scope="module")
def altered(orchard):
    """The default case with every constant of the engine somewhere else."""
    values = {name: factor * getattr(orchard.engine, name) for name, factor in FACTORS.items()}
    return orchard.model_copy(update={"engine": Engine.model_validate(values)})


def test_second_implementation_follows(orchard, altered, monkeypatch):
    """With all constants changed, the scalar model gives the same figures, and other ones than at the defaults."""
    monkeypatch.setattr("tests.scalar.year.steps_of_hour", coarse_steps)
    evaluator, columns = Evaluator(altered), designs(altered)
    ours, before = evaluator.evaluate(columns), Evaluator(orchard).evaluate(columns)
    kind, year = list(evaluator.collectors).index(columns["collector"][0]), evaluator.year
    weather = Weather(
        year.effective_irradiance[kind].tolist(), year.air_temperature_K.tolist(), year.demand.tolist()
    )
    rows = pd.DataFrame(columns).to_dict("records")
    theirs = pd.DataFrame([evaluate_one(row, altered, weather, evaluator.altitude) for row in rows])
    for figure, tolerance in CLOSE.items():
        here, there = ours[figure], theirs[figure].to_numpy(dtype=float)
        known = np.isfinite(here)
        assert known.any(), figure
        np.testing.assert_allclose(here[known], there[known], rtol=tolerance, err_msg=figure)
    for figure in ("work_per_litre_kJ", "boiler_area_m2", "swept_volume_1_L", "store_loss_W_per_K"):
        assert (np.abs(ours[figure] / before[figure] - 1.0) > 5e-3).all(), figure
