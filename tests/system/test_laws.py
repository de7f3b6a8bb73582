"""The laws of nature as guards of every design, and what is shown of a design that cannot be."""

import numpy as np
import pandas as pd
import pytest

import explore
from explore.design.space import Space
from explore.design.variables import INPUTS
from explore.errors import InputError
from explore.figures.format import label
from explore.fluids.table_fluid import Stack
from explore.judgement.limits import ROUNDING, Surroundings, laws_of_nature
from explore.model import Evaluator, years
from explore.model.details import details

LAWS = "violation_laws_of_nature_fraction"
SMALL_TANK = {
    "fluid": "R1336mzz(Z)",
    "store_mode": "mixed",
    "top_temperature_degC": 66.49253316078352,
    "evaporating_temperature_degC": None,
    "lowest_evaporating_temperature_degC": None,
    "boil_approach_K": 5.88119611865366,
    "stop_temperature_degC": 50.00531781035474,
    "superheat_K": 0.9113016768103914,
    "condensing_temperature_degC": 33.08314628337284,
    "subcooling_K": 3.5341279692436913,
    "pinch_boiler_K": None,
    "pinch_condenser_K": 8.605136476976943,
    "stages": 1,
    "pressure_levels": 1,
    "release_pressure_ratio": 1.4750601226435345,
    "regenerator_effectiveness": 0.0,
    "store_volume_L": 51.69863277926684,
    "insulation_mm": 261.6370370651816,
    "collector": "evacuated_tube",
    "collector_area_m2": 7.756564234517437,
}
STRATIFIED = SMALL_TANK | {
    "fluid": "Water",
    "store_mode": "stratified",
    "evaporating_temperature_degC": 55.0,
    "pinch_boiler_K": 3.0,
    "boil_approach_K": None,
    "stop_temperature_degC": None,
}


@pytest.fixture(scope="module")
def school():
    """The shipped scenario on whose front work came from nothing."""
    return explore.load_scenario("school_workshop")


def test_small_tank_of_the_school_gives_nothing_from_nothing(school):
    """A mixed store of 52 L under 7.8 m2: yield and cooling water were -412 kWh and -22 m3 and it stood on the front."""
    out = explore.evaluate(pd.DataFrame([SMALL_TANK]), school).iloc[0]
    assert out["possible"]
    assert out["collector_yield_kWh_per_year"] > out["shaft_energy_kWh_per_year"] > 0.0
    assert out["cooling_water_L_per_year"] > 0.0
    assert out[LAWS] <= 0.0


def test_random_small_tanks_keep_the_laws(school):
    """Tanks from 30 L and collectors to 40 m2: no possible design is held back by the guard."""
    evaluator, rng = Evaluator(school), np.random.default_rng(4)
    columns = Space.from_case(school).sample(1500, rng)
    columns["store_volume_L"] = np.exp(rng.uniform(np.log(30.0), np.log(3000.0), 1500))
    columns["collector_area_m2"] = np.exp(rng.uniform(np.log(0.5), np.log(40.0), 1500))
    out = evaluator.evaluate(columns)
    assert out["possible"].sum() > 100
    assert np.all(out[LAWS] <= 0.0)
    for name in ("collector_yield_kWh_per_year", "cooling_water_L_per_year"):
        assert np.all(out[name][out["possible"]] >= 0.0)


def test_guard_of_each_law():
    """One year that keeps all laws, and one that breaks each by hand."""
    good = {
        "served_share": 0.5,
        "shaft_energy_kWh_per_year": 50.0,
        "longest_unserved_hours": 3.0,
        "stagnation_hours": 10.0,
        "collector_yield_kWh_per_year": 1100.0,
        "sun_to_shaft_efficiency": 0.02,
        "cooling_water_L_per_year": 9000.0,
    }
    rows = [
        good,
        good | {"collector_yield_kWh_per_year": -33.0},
        good | {"cooling_water_L_per_year": -0.5},
        good | {"shaft_energy_kWh_per_year": 61.0},
        good | {"sun_to_shaft_efficiency": 0.21},
        good | {"served_share": np.nan},
        good | {"shaft_energy_kWh_per_year": 60.0 * (1.0 + 1e-12)},
        good,
    ]
    figures = {name: np.array([row[name] for row in rows]) for name in good}
    drawn, best = np.full(8, 1000.0), np.full(8, 0.06)
    drawn[7] = -5.0
    around = Surroundings(
        1e5, 373.0, np.full(8, 370.0), np.full(8, 400.0), 288.0, np.ones(8), np.full(8, -50.0)
    )
    found = laws_of_nature(figures, drawn, best, np.full(8, 360.0), around)
    wanted = [0.0, 1.0, 0.5, 1.0 / 61.0, 0.01, 1.0, 0.0, 1.0]
    np.testing.assert_allclose(found, np.array(wanted) - ROUNDING, atol=2e-12)
    assert (found > 0.0).tolist() == [False, True, True, True, True, True, False, True]


def test_law_breaker_is_infeasible_and_counted(school, monkeypatch):
    """A year of negative yield makes a good design impossible, under a violation that has a name of its own."""
    run = years.run

    def broken(*args):
        return run(*args) | {"collector_yield_kWh_per_year": np.array([-2079.0])}

    monkeypatch.setattr(years, "run", broken)
    out = explore.evaluate(pd.DataFrame([SMALL_TANK]), school).iloc[0]
    assert out[LAWS] == pytest.approx(1.0)
    assert not out["possible"]
    assert not out["feasible"]
    assert np.isnan(out["collector_yield_kWh_per_year"])
    assert "law of nature" in label(LAWS)


def test_what_cannot_be_is_empty_and_what_is_not_wished_is_not(school):
    """Boiling above the water's temperature leaves no figures; a broken ceiling or served share leaves them all."""
    hot = STRATIFIED | {"fluid": "n-Butane", "evaporating_temperature_degC": 80.0}
    small = SMALL_TANK | {"collector_area_m2": 0.5}
    out = explore.evaluate(pd.DataFrame([hot, small]), school)
    assert out["possible"].tolist() == [False, True]
    assert out["feasible"].tolist() == [False, False]
    figures = [
        c for c in out if c not in (*INPUTS, "possible", "feasible") and not c.startswith("violation_")
    ]
    assert out.loc[0, figures].replace("", np.nan).isna().all()
    assert out.loc[0, "violation_evaporating_temperature_K"] > 0.0
    assert out.loc[1, "violation_served_share_fraction"] > 0.0
    assert out.loc[1, ["work_per_litre_kJ", "cost_EUR", "served_share"]].notna().all()


@pytest.mark.parametrize(
    ("name", "changes"),
    [
        ("evaporating_temperature_degC", {"evaporating_temperature_degC": 33.0}),
        ("lowest_evaporating_temperature_degC", {"stages": 2, "pressure_levels": 2}),
    ],
)
def test_evaporation_below_condensation_is_refused(school, name, changes):
    """An engine between equal or reversed temperatures is refused with its row."""
    frame = pd.DataFrame([STRATIFIED, STRATIFIED | {"lowest_evaporating_temperature_degC": 30.0} | changes])
    with pytest.raises(InputError, match=f"designs: {name} in row 2 is .* must be above condensing"):
        explore.evaluate(frame, school)


def test_places_in_tables_are_finite_before_they_are_cast():
    """What is no number, or endless, is looked up without an error, and does not touch its neighbours."""
    fluid = Stack.of(("Water",)).bind(np.zeros(4, dtype=np.intp))
    strange = np.array([np.nan, np.inf, -np.inf, 5e4])
    with np.errstate(all="ignore"):
        sound = fluid.superheated(np.full(4, 5e4), np.full(4, 3.0))
        found = fluid.superheated(strange, np.array([3.0, np.nan, np.inf, 3.0]))
        fluid.from_entropy(np.full(4, 5e4), strange)
        fluid.from_enthalpy(np.full(4, 5e4), strange)
        fluid.saturation_pressure(strange)
    assert found.enthalpy[3] == sound.enthalpy[3]


def test_cautions_stay_where_figures_are_empty(school):
    """A design that cannot be, far above the pressure of its vessels, keeps the cautions about pressure."""
    hot = STRATIFIED | {"fluid": "n-Propane", "evaporating_temperature_degC": 80.0}
    out = explore.evaluate(pd.DataFrame([hot]), school)
    assert np.isnan(out["peak_pressure_bar_g"][0])
    found = details(Evaluator(school), out)[0]
    assert np.isfinite(found["hazards"]["design_pressure_bar_g"])
    assert found["hazards"]["design_pressure_bar_g"] > 16.0
