"""The public evaluate(): columns out, sentences for bad input."""

import numpy as np
import pandas as pd
import pytest

import explore
from explore.config.schema import Objective
from explore.design.designs import INPUTS
from explore.errors import InputError
from explore.figures.catalogue import FIGURES
from explore.model import Evaluator
from explore.search.judge import judge

OUTPUTS = [
    "feasible",
    "work_per_litre_kJ",
    "exergy_per_litre_kJ",
    "second_law_efficiency",
    "thermal_efficiency",
    "net_work_kJ_per_kg",
    "boiler_pressure_bar_a",
    "max_boiler_pressure_bar_a",
    "condenser_pressure_bar_a",
    "peak_pressure_bar_g",
    "standstill_pressure_bar_g",
    "water_per_fluid_kg",
    "cooling_water_per_fluid_kg",
    "return_temperature_degC",
    "volume_ratio_1",
    "volume_ratio_2",
    "volume_ratio_3",
    "swept_volume_1_L",
    "swept_volume_2_L",
    "swept_volume_3_L",
    "boiler_area_m2",
    "condenser_area_m2",
    "fluid_flow_kg_per_s",
    "served_share",
    "shaft_energy_kWh_per_year",
    "autonomy_hours",
    "cost_EUR",
    "annual_cost_EUR",
    "cost_EUR_per_kWh",
]


@pytest.fixture
def frame(designs):
    """A few random designs as a user would hand them in."""
    return pd.DataFrame(designs(12, 1))


def test_columns_are_those_promised(orchard, frame):
    """Inputs and outputs carry their published names; one violation column per constraint."""
    out = explore.evaluate(frame, orchard)
    assert list(out.columns[: len(INPUTS)]) == list(INPUTS)
    assert set(OUTPUTS) <= set(out.columns)
    assert sum(name.startswith("violation_") for name in out) >= 15
    assert list(out.index) == list(frame.index)


def test_figures_that_do_not_apply_are_empty(orchard, frame):
    """Stages and modes a design does not have leave empty cells, not zeros."""
    out = explore.evaluate(frame, orchard)
    single = out[out["stages"] == 1]
    assert single["swept_volume_2_L"].isna().all()
    assert single["volume_ratio_3"].isna().all()
    mixed = out["store_mode"] == "mixed"
    assert out.loc[mixed, ["return_temperature_degC", "held_fraction", "pinch_boiler_K"]].isna().all().all()
    assert out.loc[~mixed, ["held_temperature_degC", "boil_approach_K"]].isna().all().all()


def test_bill_sums_to_the_total(orchard, frame):
    """Lines of the bill add up to the cost."""
    out = explore.evaluate(frame, orchard)
    out = out[out["possible"]]
    assert len(out) > 0
    lines = [c for c in out if c.startswith("cost_") and c.endswith("_EUR") and c != "cost_EUR"]
    np.testing.assert_allclose(out[lines].sum(axis=1), out["cost_EUR"])


@pytest.mark.parametrize(
    ("column", "value", "words"),
    [
        ("fluid", "Unobtainium", "fluid in row 3"),
        ("store_mode", "layered", "must be one of stratified, mixed"),
        ("collector", "mirror", "collector in row 3"),
        ("stages", 4, "a number from 1 to 3"),
        ("stages", 1.5, "must be a whole number"),
        ("top_temperature_degC", float("nan"), "top_temperature_degC in row 3"),
        ("store_volume_L", -5.0, "store_volume_L in row 3 is -5.0"),
        ("superheat_K", "warm", "superheat_K in row 3"),
    ],
)
def test_bad_value_is_named(orchard, frame, column, value, words):
    """A value that cannot be is refused with its column, row and what would be right."""
    frame[column] = frame[column].astype(object)
    frame.loc[2, column] = value
    with pytest.raises(InputError, match=words):
        explore.evaluate(frame, orchard)


def test_missing_column_is_named(orchard, frame):
    """A missing column is named together with all that are needed."""
    with pytest.raises(InputError, match="'insulation_mm' is missing"):
        explore.evaluate(frame.drop(columns="insulation_mm"), orchard)


def test_stock_bores_set_the_stroke(orchard, frame):
    """With stock bores at hand the next larger is taken and the swept volume stays."""
    scenario = orchard.scenario.model_copy(update={"stock_bores_mm": (32.0, 50.0, 80.0, 125.0)})
    out = explore.evaluate(frame, orchard.model_copy(update={"scenario": scenario}))
    out = out[out["possible"]]
    assert len(out) > 0
    assert set(out["bore_1_mm"]) <= {32.0, 50.0, 80.0, 125.0}
    volume = np.pi / 4 * out["bore_1_mm"] ** 2 * out["stroke_1_mm"] / 1e6
    np.testing.assert_allclose(volume, out["swept_volume_1_L"])


def test_a_stroke_that_does_not_suit_the_bores_at_hand_is_a_limit(orchard, designs):
    """Outside 0.3 to 3 bores; without bores at hand there is no such limit."""
    frame = pd.DataFrame(designs(200, 1))
    assert "violation_stroke_ratio" not in explore.evaluate(frame, orchard)
    for bore, broken in ((300.0, "flat"), (30.0, "long")):
        scenario = orchard.scenario.model_copy(update={"stock_bores_mm": (bore,)})
        out = explore.evaluate(frame, orchard.model_copy(update={"scenario": scenario}))
        ratio = out["stroke_1_mm"] / out["bore_1_mm"]
        margin = 0.3 - ratio if broken == "flat" else ratio - 3.0
        sized = ratio.notna()
        assert (margin[sized] > 0.0).any()
        assert (out["violation_stroke_ratio"][sized] >= margin[sized] - 1e-12).all()
        assert not out["feasible"][margin > 0.0].any()


def test_wishes_of_the_scenario_become_constraints(orchard, frame):
    """Budget, vacuum, classes, fluids and bounds of any figure each have a column that can bind."""
    limits = orchard.scenario.limits.model_copy(
        update={
            "budget_EUR": 10.0,
            "vacuum_condenser": False,
            "safety_classes": ("A1",),
            "bounds": {"collector_area_m2": (None, 0.01), "autonomy_hours": (1e6, None)},
        }
    )
    scenario = orchard.scenario.model_copy(update={"limits": limits, "fluids": ("R134a",)})
    out = explore.evaluate(frame, orchard.model_copy(update={"scenario": scenario}))
    assert (out["violation_budget_EUR"] > 0).all()
    assert (out["violation_bound_collector_area_m2"] > 0).all()
    assert (out["violation_bound_autonomy_hours"] > 0).all()
    assert set(out.loc[out["violation_fluid_choice_count"] <= 0, "fluid"]) <= {"R134a"}
    assert {"violation_condenser_vacuum_bar", "violation_safety_class_count"} <= set(out.columns)
    assert not out["feasible"].any()


def test_list_of_figures_is_complete(evaluator, designs):
    """The published list names exactly the figures that come out."""
    out = evaluator.evaluate(designs(3, 0))
    assert tuple(n for n in out if n not in ("possible", "feasible") and not n.startswith("violation_")) == (
        *FIGURES,
        "outside_ranges",
    )


@pytest.mark.parametrize("bounds", [{"cost_EURO": (None, 5.0)}])
def test_unknown_bound_is_named(orchard, bounds):
    """A bound on a figure that does not exist is refused with the nearest name."""
    limits = orchard.scenario.limits.model_copy(update={"bounds": bounds})
    scenario = orchard.scenario.model_copy(update={"limits": limits})
    with pytest.raises(InputError, match="'cost_EURO' is not a reported figure; did you mean cost_EUR"):
        Evaluator(orchard.model_copy(update={"scenario": scenario}))


def asking(case, figure, direction="minimise"):
    """The case with one more objective."""
    ideal, reference = (0.0, 40.0) if direction == "minimise" else (40.0, 0.0)
    one = Objective(figure=figure, direction=direction, ideal=ideal, reference=reference)
    scenario = case.scenario.model_copy(update={"objectives": (*case.scenario.objectives, one)})
    return case.model_copy(update={"scenario": scenario})


@pytest.mark.parametrize("name", ["collector_area_m2", "stages", "speed_rev_per_min"])
def test_an_input_can_be_an_objective(orchard, designs, name):
    """It comes back as it went in, a search reads it, and no figure changes."""
    columns, case = designs(200, 2), asking(orchard, name)
    out, plain = Evaluator(case).evaluate(columns), Evaluator(orchard).evaluate(columns)
    assert np.array_equal(out[name], columns[name])
    assert out[name].dtype == columns[name].dtype
    assert all(np.array_equal(out[k], plain[k], equal_nan=out[k].dtype.kind == "f") for k in plain)
    judged = judge(out, case.scenario.objectives)
    assert np.allclose(judged.values[:, -1], columns[name] / 40.0)
    assert np.array_equal(judged.feasible, judge(plain, orchard.scenario.objectives).feasible)


@pytest.mark.parametrize("name", ["boil_approach_K", "fluid"])
def test_an_input_that_not_every_design_has_is_no_objective(orchard, name):
    """Words, and what only one kind of store has, are refused with what would be right."""
    with pytest.raises(
        InputError, match=f"'{name}' is not a number that every design has; take .*collector_area_m2"
    ):
        Evaluator(asking(orchard, name))


def test_a_slip_in_an_input_as_objective_is_helped(orchard):
    """The nearest name is looked for among inputs too."""
    with pytest.raises(InputError, match="did you mean collector_area_m2"):
        Evaluator(asking(orchard, "collector_area"))


def test_lost_number_is_a_violation(evaluator, designs, monkeypatch):
    """A constraint that comes out as NaN where it applies makes the design infeasible."""
    columns = designs(30, 2)
    whole = evaluator.perform

    def broken(some):
        done = whole(some)
        done.margins.clearance[7] = np.nan
        return done

    monkeypatch.setattr(evaluator, "perform", broken)
    out = evaluator.evaluate(columns)
    assert out["violation_numbers_count"][7] == 1.0
    assert not out["feasible"][7]
    assert np.delete(out["violation_numbers_count"], 7).max() == 0.0
