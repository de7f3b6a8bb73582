"""Each constraint's margin, worked out by hand for one design of each store mode."""

import numpy as np
import pandas as pd
import pytest

import explore
from explore.design.designs import checked
from explore.figures import limits
from explore.figures.catalogue import RECORDS
from explore.figures.format import wished
from explore.fluids.helmholtz import substance
from explore.fluids.water import boiling_temperature
from explore.model import Evaluator
from explore.model.details import details, hazards, records, warned
from explore.model.dissect import dissect
from explore.plant.site import air_pressure

BASE = {
    "fluid": "n-Butane",
    "top_temperature_degC": 91.0,
    "superheat_K": 4.0,
    "condensing_temperature_degC": 24.0,
    "subcooling_K": 1.5,
    "pinch_condenser_K": 3.0,
    "release_pressure_ratio": 1.2,
    "regenerator_effectiveness": 0.0,
    "store_volume_L": 800.0,
    "insulation_mm": 150.0,
    "collector": "flat_plate",
    "collector_area_m2": 12.0,
}
STRATIFIED = BASE | {
    "store_mode": "stratified",
    "stages": 2,
    "pressure_levels": 2,
    "evaporating_temperature_degC": 66.0,
    "lowest_evaporating_temperature_degC": 43.0,
    "pinch_boiler_K": 3.0,
    "boil_approach_K": None,
    "stop_temperature_degC": None,
}
MIXED = BASE | {
    "store_mode": "mixed",
    "stages": 1,
    "pressure_levels": 1,
    "evaporating_temperature_degC": None,
    "lowest_evaporating_temperature_degC": None,
    "pinch_boiler_K": None,
    "boil_approach_K": 5.0,
    "stop_temperature_degC": 52.0,
}
ALTITUDE_M = 1200.0
BOILING_DEGC = boiling_temperature(air_pressure(ALTITUDE_M)) - 273.15


def outcome(case, design, **changed):
    """Evaluate one design 1200 m above the sea; returns its figures."""
    site = case.scenario.site.model_copy(update={"altitude_m": ALTITUDE_M})
    scenario = case.scenario.model_copy(update={"site": site})
    return explore.evaluate(
        pd.DataFrame([design | changed]), case.model_copy(update={"scenario": scenario})
    ).iloc[0]


def critical_degC(fluid):
    """0.95 of the critical temperature [degC]."""
    return 0.95 * substance(fluid).critical_temperature - 273.15


def test_limits_of_a_stratified_design(orchard):
    """Boiling store, boiler ends, condenser ends and distance to the critical point, in kelvin."""
    out = outcome(orchard, STRATIFIED)
    expected = {
        "store_boiling_K": 91.0 - (BOILING_DEGC - 2.0),
        "evaporating_temperature_K": 66.0 + 3.0 + 0.5 - 91.0,
        "boiler_hot_end_K": max(66.0 + 4.0 + 1.5 - 91.0, 43.0 + 4.0 + 1.5 - (66.0 + 3.0)),
        "condenser_pinch_K": 14.5 - (24.0 - 3.0),
        "condenser_subcooling_K": 14.5 - (24.0 - 1.5),
        "critical_temperature_K": 66.0 - critical_degC("n-Butane"),
        "standstill_temperature_K": min(96.0, BOILING_DEGC) - critical_degC("n-Butane"),
        "pressure_levels_count": 0.0,
        "peak_pressure_bar": out["peak_pressure_bar_g"] - 16.0,
        "work_kJ_per_litre": 1e-3 - out["work_per_litre_kJ"],
        "served_share_fraction": 0.8 - out["served_share"],
    }
    for name, value in expected.items():
        assert out[f"violation_{name}"] == pytest.approx(value, abs=1e-6), name
    assert out["violation_level_flow_fraction"] < 0.0


def test_cold_end_of_the_boiler(orchard):
    """Water leaving against feed entering: half the pinch at least."""
    out = outcome(orchard, STRATIFIED)
    evaluator = Evaluator(orchard)
    columns = checked(pd.DataFrame([STRATIFIED]), evaluator.fluids, evaluator.collectors)
    (parts,) = dissect(evaluator, columns)
    feed = next(s["T_degC"] for s in parts["states"] if s["place"] == "feed pump outlet")
    assert 24.0 - 1.5 < feed < 24.0
    assert out["violation_boiler_cold_end_K"] == pytest.approx(
        feed + 1.5 - out["return_temperature_degC"], abs=2e-3
    )


def test_limits_of_a_mixed_design(orchard):
    """The stopping temperature keeps approach and 5 K above the condenser, and below full."""
    out = outcome(orchard, MIXED)
    assert out["violation_stop_temperature_K"] == pytest.approx(24.0 + 5.0 + 5.0 - 52.0)
    assert out["violation_critical_temperature_K"] == pytest.approx(
        91.0 - 5.0 - critical_degC("n-Butane"), abs=1e-6
    )
    assert outcome(orchard, MIXED, stop_temperature_degC=90.9)[
        "violation_stop_temperature_K"
    ] == pytest.approx(0.4)
    assert outcome(orchard, MIXED, pressure_levels=2)["violation_pressure_levels_count"] == 1.0
    assert outcome(orchard, STRATIFIED, stages=1)["violation_pressure_levels_count"] == 1.0


def test_engine_must_run_at_its_sizing_temperature(orchard):
    """A wide discharge leaves less than a fifth of the rated work at the sizing temperature."""
    low = outcome(orchard, MIXED, stop_temperature_degC=36.0)
    high = outcome(orchard, MIXED, stop_temperature_degC=70.0)
    assert low["violation_part_load_fraction"] > high["violation_part_load_fraction"]
    assert -0.8 < high["violation_part_load_fraction"] < 0.0


def test_an_engine_that_stands_at_its_rated_point_is_too_weak(orchard, designs):
    """It gives nothing there, so that no fifth of it is enough."""
    out = Evaluator(orchard).evaluate(designs(1500, 14))
    stands = out["power_rated_W"] <= 0.0
    assert stands.sum() > 10
    assert (out["violation_part_load_fraction"][stands] >= orchard.engine.smallest_part_load).all()


def test_standstill_pressure_is_that_of_the_hottest_store(orchard):
    """Five kelvin above the set temperature, or boiling at the site; the fault case is boiling."""
    out = outcome(orchard, STRATIFIED)
    air = air_pressure(ALTITUDE_M)
    for figure, degC in (
        ("standstill_pressure_bar_g", min(96.0, BOILING_DEGC)),
        ("fault_pressure_bar_g", BOILING_DEGC),
        ("pressure_at_20degC_bar_g", 20.0),
    ):
        p = substance("n-Butane").dew(degC + 273.15)[0]
        assert out[figure] == pytest.approx((p - air) / 1e5, rel=5e-4), figure
    assert out["peak_pressure_bar_g"] == out["standstill_pressure_bar_g"]
    design = 1.1 * max(out["peak_pressure_bar_g"], out["fault_pressure_bar_g"])
    assert out["design_pressure_bar_g"] == pytest.approx(design)
    assert out["test_pressure_bar_g"] == pytest.approx(1.43 * design)


def at_site(case, vacuum, **site):
    """The case on another site, a condenser below air pressure allowed or not."""
    scenario = case.scenario
    limits = scenario.limits.model_copy(update={"vacuum_condenser": vacuum})
    place = scenario.site.model_copy(update=site)
    return case.model_copy(update={"scenario": scenario.model_copy(update={"limits": limits, "site": place})})


@pytest.mark.parametrize(
    ("site", "degC"),
    [
        ({}, 14.0),
        ({"room_temperature_degC": 8.0}, 8.0),
        ({"room": "outdoor"}, None),
        ({"cooling_water_temperature_degC": 4.0}, 4.0),
    ],
)
def test_at_rest_engine_and_condenser_fall_to_the_coldest_around(orchard, site, degC):
    """Shut off from the boiler: vapour pressure at the room's or the cooling water's temperature, the lower one."""
    case = at_site(orchard, True, **site)
    if degC is None:
        degC = min(20.0, float(Evaluator(case).weather.air_temperature_K.min()) - 273.15)
        assert degC < 0.0
    p = substance("n-Butane").dew(degC + 273.15)[0]
    out = outcome(case, STRATIFIED)
    assert out["rest_pressure_bar_g"] == pytest.approx((p - air_pressure(ALTITUDE_M)) / 1e5, abs=1e-3)


@pytest.mark.parametrize(
    ("site", "warned_of"),
    [
        ({}, "collectors and their pipes hold the store's water in air that falls to -"),
        ({"room": "outdoor"}, "The air around store and engine falls to -"),
        ({"cooling_water_temperature_degC": 2.0}, "and the cooling water of 2 °C"),
    ],
)
def test_frost_is_read_from_the_weather(orchard, site, warned_of):
    """A plant outdoors has the winter of the weather file, one in a barn at 20 degC has it at its collectors."""
    evaluator = Evaluator(at_site(orchard, True, **site))
    columns = checked(pd.DataFrame([MIXED]), evaluator.fluids, evaluator.collectors)
    frame = pd.DataFrame(columns | evaluator.evaluate(columns))
    (said,) = [one["text"] for one in details(evaluator, frame)[0]["cautions"] if one["topic"] == "freezing"]
    assert warned_of.lower() in said.lower()


def test_vacuum_at_rest_counts_where_the_scenario_forbids_it(orchard):
    """R245fa condensed at 24 degC stands above the air; beside water of 8 degC it falls below it, and is refused."""
    case = at_site(orchard, False, cooling_water_temperature_degC=8.0)
    out = outcome(case, STRATIFIED, fluid="R245fa")
    air = air_pressure(ALTITUDE_M) / 1e5
    assert out["condenser_pressure_bar_a"] > air
    assert out["rest_pressure_bar_g"] < -0.05
    assert out["violation_condenser_vacuum_bar"] == pytest.approx(-out["rest_pressure_bar_g"])
    warm = outcome(at_site(orchard, False), STRATIFIED)
    assert warm["violation_condenser_vacuum_bar"] == pytest.approx(-warm["rest_pressure_bar_g"])
    assert warm["violation_condenser_vacuum_bar"] < 0.0


def test_four_pressures_stand_in_order(orchard):
    """Full store, store boiling, design and relief setting, test: neighbours in the list, each the greater."""
    names = [f"{name}_pressure_bar_g" for name in ("standstill", "fault", "design", "test")]
    listed = [one.name for one in RECORDS if one.name in names]
    assert listed == names
    out = outcome(orchard, STRATIFIED)
    assert list(out[names]) == sorted(out[names])
    found = hazards(out, orchard)
    assert [found[name] for name in names] == pytest.approx(list(out[names]))
    assert found["relief_setting_bar_g"] == found["design_pressure_bar_g"]


def test_room_keeps_a_release_under_a_quarter_of_the_limit(orchard):
    """The room volume asked for holds the charge at a quarter of the lower flammability limit."""
    out = outcome(orchard, STRATIFIED)
    limit = orchard.card("n-Butane").lfl_kg_per_m3
    needed = out["charge_kg"] / (0.25 * limit)
    assert out["room_volume_needed_m3"] == pytest.approx(needed)
    assert out["violation_room_m3"] == pytest.approx(needed - 320.0)


def in_room(case, volume_m3, **materials):
    """The case with another room, or other materials."""
    scenario = case.scenario.model_copy(update={"room_volume_m3": volume_m3} | materials)
    return case.model_copy(update={"scenario": scenario})


def test_a_room_too_small_for_the_charge_makes_a_design_infeasible(orchard):
    """Room for the charge is a limit like others; outdoors there is none, and a harmless fluid needs none."""
    wide, narrow = in_room(orchard, 400.0), in_room(orchard, 10.0)
    assert outcome(wide, MIXED)["feasible"]
    assert not outcome(narrow, MIXED)["feasible"]
    assert "violation_room_m3" not in outcome(in_room(orchard, None), MIXED)
    assert outcome(narrow, MIXED, fluid="R227EA")["violation_room_m3"] == -10.0
    assert (
        outcome(narrow, MIXED, fluid="R236ea")["violation_room_m3"] > 1000.0
    )  # as bad as the worst of its class


def test_a_fluid_that_attacks_the_materials_is_infeasible(orchard):
    """Ammonia attacks copper and the copper in brass: two clashes; none with steel alone."""
    assert outcome(orchard, MIXED, fluid="Ammonia")["violation_material_clash_count"] == 2.0
    steel = in_room(orchard, 320.0, materials=("steel",))
    assert outcome(steel, MIXED, fluid="Ammonia")["violation_material_clash_count"] == 0.0


def test_what_must_not_be_built_is_never_feasible(orchard, designs):
    """Every caution of the gravest kind goes with a broken limit, for random designs of all fluids."""
    limits = orchard.scenario.limits.model_copy(update={"served_share_min": 0.0, "vacuum_condenser": False})
    case = in_room(orchard, 60.0, limits=limits)
    columns = designs(4000, 8)  # fewer keep every limit now that rest counts as vacuum
    frame = pd.DataFrame(columns | Evaluator(case).evaluate(columns))
    stops = [
        {one["topic"] for one in warned(row, case, 0.98) if one["level"] == "danger"}
        for row in records(frame)
    ]
    assert {"room volume", "standstill pressure", "material clash", "vacuum"} == set().union(*stops)
    assert frame["feasible"].sum() > 50
    assert not any(stop for stop, feasible in zip(stops, frame["feasible"], strict=True) if feasible)


def test_a_fluid_beyond_its_critical_point_is_refused(orchard):
    """R1234yf in a 91 degC store passes 0.95 of its critical temperature: positive in kelvin, empty figures."""
    out = outcome(orchard, STRATIFIED, fluid="R1234yf")
    assert out["violation_standstill_temperature_K"] == pytest.approx(
        min(96.0, BOILING_DEGC) - critical_degC("R1234yf"), abs=1e-6
    )
    assert not out["feasible"]
    assert not out["possible"]
    assert np.isnan(out["peak_pressure_bar_g"])
    assert np.isnan(out["fault_pressure_bar_g"])


def test_machine_figures_by_hand(orchard):
    """Mean piston speed is two strokes a revolution; the feed pump's head counts subcooling and static height."""
    out = outcome(orchard, MIXED)
    assert out["bore_1_mm"] == pytest.approx(out["stroke_1_mm"])
    assert out["piston_speed_1_m_per_s"] == pytest.approx(2.0 * out["stroke_1_mm"] / 1e3 * 300.0 / 60.0)
    butane = substance("n-Butane")
    p_c, p_0 = butane.dew(24.0 + 273.15)[0], butane.dew(22.5 + 273.15)[0]
    volume = butane.liquid(p_c, 22.5 + 273.15)[2]
    assert out["suction_head_m"] == pytest.approx((p_c - p_0) * volume / 9.80665 + 1.5, rel=1e-3)


def test_regenerator_area_by_hand(orchard):
    """Heat over coefficient (60 W/(m2 K)) and logarithmic mean of the four temperatures of its state points."""
    design = STRATIFIED | {"regenerator_effectiveness": 0.6}
    evaluator = Evaluator(orchard)
    columns = checked(pd.DataFrame([design]), evaluator.fluids, evaluator.collectors)
    out = evaluator.evaluate(columns)
    (parts,) = dissect(evaluator, columns)
    at = {s["place"]: s for s in parts["states"]}
    hot_in, hot_out = at["stage 2 outlet"], at["regenerator vapour outlet"]
    cold_in, cold_out = at["feed pump outlet"], at["regenerator liquid outlet"]
    one, other = hot_in["T_degC"] - cold_out["T_degC"], hot_out["T_degC"] - cold_in["T_degC"]
    heat = 1e3 * (hot_in["h_kJ_per_kg"] - hot_out["h_kJ_per_kg"]) * out["fluid_flow_kg_per_s"][0]
    area = heat / (60.0 * (one - other) / np.log(one / other))
    assert out["regenerator_area_m2"][0] == pytest.approx(area, rel=1e-2)


def test_wishes_are_what_the_scenario_can_take_back(orchard):
    """A limit is a wish exactly where a scenario that asks for nothing has no column of it, or one nothing can break."""
    asked = orchard.scenario.limits.model_copy(
        update={
            "budget_EUR": 10.0,
            "vacuum_condenser": False,
            "safety_classes": ("A1",),
            "bounds": {"charge_kg": (None, 0.1)},
        }
    )
    unasked = orchard.scenario.limits.model_copy(
        update={
            "served_share_min": 0.0,
            "pressure_ceiling_bar_g": 1e9,
            "vacuum_condenser": True,
            "budget_EUR": None,
        }
    )

    def scenario(limits, **more):
        return orchard.model_copy(
            update={"scenario": orchard.scenario.model_copy(update={"limits": limits, **more})}
        )

    strict = outcome(scenario(asked, fluids=("R134a",)), STRATIFIED)
    free = outcome(scenario(unasked, fluids=None, room_volume_m3=None, materials=()), STRATIFIED)
    names = [name for name in strict.index if name.startswith("violation_")]
    taken_back = {name for name in names if strict[name] > 0.0 and not (name in free and free[name] > 0.0)}
    assert {"violation_budget_EUR", "violation_bound_charge_kg", "violation_fluid_choice_count"} <= taken_back
    assert all(wished(name) for name in taken_back)
    assert {name for name in names if wished(name)} - set(free.index) >= {
        "violation_budget_EUR",
        "violation_room_m3",
    }
    assert not any(one.wish and one.physical for one in limits.RECORDS)
