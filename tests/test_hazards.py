"""Vessels, charge, rooms, margins and cautions."""

from __future__ import annotations

import numpy as np
import pytest

from explore.config.compose import load_scenario
from explore.config.owned import Owned
from explore.config.schema import FluidCard, Objective, Scenario
from explore.judgement import cautions, hazards, vessels
from explore.judgement.safety_class import toxicity
from explore.judgement.severity import Severity
from explore.plant.parts.part import Contents
from tests.engines import engine_set

ENGINE = engine_set("constant")
PLANT = {
    "boiler_area_m2": 1.0,
    "condenser_area_m2": 2.0,
    "regenerator_area_m2": 0.5,
    "swept_volumes_L": [[0.2], [0.4]],
    "boiler_liquid_kg_per_m3": 500.0,
    "boiler_vapour_kg_per_m3": 20.0,
    "condenser_liquid_kg_per_m3": 580.0,
    "condenser_vapour_kg_per_m3": 5.0,
    "receiver_vapour_kg_per_m3": [[20.0], [10.0]],
}


def card(**changes: object) -> FluidCard:
    values = {
        "name": "n-Butane",
        "title": "n-Butane (R600)",
        "safety_class": "A3",
        "flammable": True,
        "toxic": False,
        "safety_source": "test",
        "lfl_percent": 1.4,
        "lfl_kg_per_m3": 0.0333,
        "exposure_limit_ppm": 800.0,
        "regulation": "no law",
        "regulation_date": "2026-06-01",
        "price_EUR_per_kg": 4.0,
    }
    return FluidCard.model_validate(values | changes)


def scenario(**changes: object) -> Scenario:
    work = Objective(figure="work_per_litre_kJ", direction="maximise", ideal=20.0, reference=0.0)
    cost = Objective(figure="cost_EUR", direction="minimise", ideal=1500.0, reference=15000.0)
    return Scenario.model_validate({"name": "t", "title": "t", "objectives": (work, cost)} | changes)


def topics(found: list[cautions.Caution]) -> dict[str, str]:
    return {caution.topic: caution.severity for caution in found}


def test_wall_by_the_american_code():
    """1 MPa, radius 500 mm, 138 MPa, full joint: 3.6390 mm (ASME BPVC VIII-1 UG-27(c)(1))."""
    assert float(vessels.wall_asme(1.0, 1000.0, 138.0, 1.0)) == pytest.approx(3.6390, abs=1e-4)


def test_wall_by_the_european_code():
    """1 MPa, inside 1000 mm, 138 MPa, full joint: 3.6364 mm (EN 13445-3, 7.4.2, e = P Di/(2fz - P))."""
    assert float(vessels.wall_en13445(1.0, 1000.0, 138.0, 1.0)) == pytest.approx(3.6364, abs=1e-4)


def test_both_codes_tend_to_the_thin_wall():
    """At low pressure both walls tend to p D / 2 sigma: 20 bar and 100 mm at 50 MPa ask for 2 mm."""
    for wall in (vessels.wall_en13445, vessels.wall_asme):
        assert float(wall(2e-3, 100.0, 0.05, 1.0)) == pytest.approx(2.0, rel=0.03)
        assert float(wall(2e-6, 100.0, 0.05, 1.0)) == pytest.approx(2e-3, rel=1e-4)


def test_a_weaker_joint_needs_a_thicker_wall():
    """A joint efficiency of 0.70 (no radiography, ASME VIII-1 UW-12) thickens a wall by about 1/0.70."""
    for wall in (vessels.wall_en13445, vessels.wall_asme):
        ratio = float(wall(1.0, 1000.0, 138.0, 0.70) / wall(1.0, 1000.0, 138.0, 1.0))
        assert ratio == pytest.approx(1.0 / 0.70, rel=2e-3)


def test_design_stress_is_the_lower_of_proof_and_tensile():
    """f = min(Rp0.2/1.5, Rm/2.4) (EN 13445-3, 6.2): steel with 198 and 360 MPa may carry 132 MPa."""
    assert vessels.design_stress(198.0, 360.0) == pytest.approx(132.0)
    assert vessels.design_stress(300.0, 360.0) == pytest.approx(150.0)
    assert vessels.MATERIALS["steel"].stress == pytest.approx(vessels.design_stress(198.0, 360.0))


def test_material_wall_adds_the_allowance_to_the_thicker_code():
    """A 100 mm steel tube at 16 bar_g: by hand 0.8734 and 0.8749 mm, with 1 mm allowance 1.875 mm."""
    steel = vessels.MATERIALS["steel"]
    assert float(vessels.wall_mm(16.0, 100.0, steel)) == pytest.approx(
        1.6 * 50.0 / (132.0 * 0.7 - 0.96) + 1.0
    )
    assert float(vessels.wall_mm(16.0, 100.0, steel)) == pytest.approx(1.875, abs=1e-3)
    stainless = vessels.MATERIALS["stainless steel"]
    assert float(vessels.wall_mm(16.0, 100.0, stainless)) == pytest.approx(1.6 * 50.0 / (104.0 * 0.7 - 0.96))
    copper = vessels.walls(16.0, {"cylinder 1": 100.0}, ["copper", "brass"])
    assert [(row["part"], row["material"]) for row in copper] == [("cylinder 1", "copper")]
    assert copper[0]["wall_mm"] == pytest.approx(1.6 * 50.0 / (33.0 - 0.96))


def test_european_proof_test():
    """PS 20 bar is tested at 28.6 bar at least (Directive 2014/68/EU, Annex I, 7.4)."""
    assert float(vessels.proof_test_bar_g(20.0)) == pytest.approx(28.6, abs=1e-9)
    assert float(vessels.proof_test_bar_g(20.0, stress_ratio=1.2)) == pytest.approx(30.0, abs=1e-9)


def test_american_proof_test():
    """MAWP 20 bar is tested at 26 bar where the stress ratio is 1 (ASME BPVC VIII-1, UG-99(b))."""
    assert float(vessels.proof_test_asme_bar_g(20.0)) == pytest.approx(26.0, abs=1e-9)
    assert float(vessels.proof_test_asme_bar_g(20.0, stress_ratio=1.1)) == pytest.approx(28.6, abs=1e-9)


def test_relief_setting():
    """One relief valve opens at the design pressure at most, more at 105 % (ASME VIII-1 UG-134(a))."""
    assert float(vessels.relief_setting_bar_g(16.0)) == 16.0
    assert float(vessels.relief_setting_bar_g(16.0, device=2)) == pytest.approx(16.8)


def test_a_vacuum_plant_is_still_built_for_half_a_bar():
    """A peak below air pressure still asks for 0.5 bar_g, the threshold of Directive 2014/68/EU."""
    assert vessels.design_pressure_bar_g([-0.4, 0.2], [-0.3, 0.1]) == pytest.approx([0.5, 0.5])


def test_relief_stands_a_tenth_above_standstill_and_fault():
    """1.1 times the greater of both; a fluid without a fault pressure is judged by its standstill alone."""
    found = vessels.design_pressure_bar_g([7.0, 7.0, 7.0], [9.0, 5.0, np.nan])
    assert found == pytest.approx([9.9, 7.7, 7.7])
    assert vessels.design_pressure_bar_g(7.0, 9.0, 1.2) == pytest.approx(10.8)


def test_relief_valve_passes_the_heat_that_comes_in():
    """3.5 kW at 350 kJ/kg boil 10 g a second; no heat, no vapour."""
    found = vessels.relief_capacity_kg_per_s([3500.0, -5.0], 350e3)
    assert found == pytest.approx([0.01, 0.0])


def test_receiver_is_twice_as_high_as_wide():
    """A cylinder of the returned diameter and twice that height holds the volume."""
    diameter = float(vessels.receiver_diameter_mm(3.0))
    assert np.pi / 4.0 * diameter**2 * (2.0 * diameter) == pytest.approx(3e6)


def test_charge_by_hand():
    """Boiler 0.312, condenser 0.288, regenerator 0.1755, receivers 0.048 and pipes 0.87 kg make 1.6935 kg."""
    found = hazards.charge_kg(ENGINE, Contents(**PLANT))
    assert found.shape == (1,)
    assert float(found[0]) == pytest.approx(0.312 + 0.288 + 0.1755 + 0.048 + 0.87, abs=1e-9)


@pytest.mark.parametrize(
    ("value", "rise"),
    [
        ("boiler_hold_up_L_per_m2", 1e-3 * (260.0 + 0.5 * 292.5)),
        ("condenser_hold_up_L_per_m2", 1e-3 * 2.0 * 120.0),
        ("receiver_volume_strokes", 1e-3 * 8.0),
        ("pipe_volume_L", 1e-3 * 580.0),
    ],
)
def test_each_hold_up_holds_its_own_charge(value, rise):
    """One unit more of a hold-up adds the mass of what fills it."""
    larger = ENGINE.model_copy(update={value: getattr(ENGINE, value) + 1.0})
    gain = hazards.charge_kg(larger, Contents(**PLANT)) - hazards.charge_kg(ENGINE, Contents(**PLANT))
    assert float(gain[0]) == pytest.approx(rise, abs=1e-9)


def test_more_liquid_means_more_charge():
    """A tenth more liquid in a boiler of 1 m2 weighs 1.2 L x 0.1 x 480 kg/m3 more, and so on."""
    boiler = hazards.charge_kg(
        ENGINE.model_copy(update={"liquid_share_boiler": 0.6}), Contents(**PLANT)
    ) - hazards.charge_kg(ENGINE, Contents(**PLANT))
    assert float(boiler[0]) == pytest.approx(1.2e-3 * 0.1 * (480.0 + 0.5 * 575.0), abs=1e-9)
    condenser = hazards.charge_kg(
        ENGINE.model_copy(update={"liquid_share_condenser": 0.3}), Contents(**PLANT)
    ) - hazards.charge_kg(ENGINE, Contents(**PLANT))
    assert float(condenser[0]) == pytest.approx(1.2e-3 * 0.1 * 2.0 * 575.0, abs=1e-9)


def test_missing_stages_hold_nothing():
    """A design without a second stage counts like one whose second stage has no volume."""
    lone = PLANT | {"swept_volumes_L": [[0.2], [np.nan]], "receiver_vapour_kg_per_m3": [[20.0], [np.nan]]}
    void = PLANT | {"swept_volumes_L": [[0.2], [0.0]]}
    assert hazards.charge_kg(ENGINE, Contents(**lone)) == pytest.approx(
        hazards.charge_kg(ENGINE, Contents(**void))
    )


def test_room_for_a_flammable_release():
    """A kilogram of propane within a quarter of 0.0379 kg/m3 (ISO 817, from memory) needs 106 m3."""
    allowed = hazards.allowed_concentration_kg_per_m3(card(lfl_kg_per_m3=0.0379), 0.0441)
    assert float(hazards.room_volume_needed_m3(1.0, allowed)) == pytest.approx(4.0 / 0.0379)


def test_room_for_a_toxic_release():
    """Ammonia at 25 ppm is 17.4 mg/m3 (Ontario exposure limits): its limit sets the room."""
    ammonia = card(safety_class="B2L", toxic=True, lfl_kg_per_m3=0.1044, exposure_limit_ppm=25.0)
    allowed = hazards.allowed_concentration_kg_per_m3(ammonia, 0.01703052)
    assert allowed == pytest.approx(17.4e-6, rel=1e-3)


def test_a_harmless_fluid_needs_no_room():
    """A fluid neither flammable nor toxic asks for no volume, in numbers and not as a gap."""
    allowed = hazards.allowed_concentration_kg_per_m3(card(flammable=False, safety_class="A1"), 0.1)
    assert float(hazards.room_volume_needed_m3(3.0, allowed)) == 0.0


def test_missing_hazard_data_never_helps():
    """Without its own limit a fluid counts as the worst of its class in the catalogue, unclassified ones as class B."""
    poison = card(name="Poison", flammable=False, toxic=True, safety_class="B1", exposure_limit_ppm=25.0)
    fire = card(name="Fire", safety_class="A3", lfl_kg_per_m3=0.03)
    unknown = card(
        name="Unknown",
        flammable=False,
        toxic=False,
        safety_class="unclassified",
        lfl_kg_per_m3=None,
        exposure_limit_ppm=None,
    )
    assert hazards.assumed_hazards(unknown, [poison, fire]) == {"exposure_limit_ppm": 25.0}
    known = hazards.allowed_concentration_kg_per_m3(poison, 0.1)
    assert hazards.allowed_concentration_kg_per_m3(unknown, 0.1, [poison, fire]) == pytest.approx(known)
    bare = card(lfl_kg_per_m3=None, lfl_percent=None)
    assert hazards.assumed_hazards(bare, [poison, fire]) == {"lfl_kg_per_m3": 0.03}
    assert hazards.assumed_hazards(bare) == {"lfl_kg_per_m3": 0.10}
    assert hazards.assumed_hazards(card(), [poison, fire]) == {}


def test_a_limit_by_volume_alone_is_taken_by_mass():
    """2.1 % of propane's 44.1 g/mol at 25 degC is 0.037854 kg/m3, by hand: 0.021 x 0.0441 / 0.024465."""
    by_volume = card(lfl_kg_per_m3=None, lfl_percent=2.1)
    assert hazards.assumed_hazards(by_volume) == {}
    allowed = hazards.allowed_concentration_kg_per_m3(by_volume, 0.0441)
    assert allowed == pytest.approx(0.25 * 0.037854, rel=1e-4)


def test_a_limit_of_class_b_counts_whatever_the_card_says():
    """50 ppm of 86.18 g/mol are 0.176 g/m3, a fiftieth of a quarter of the LFL; 400 ppm are class A (ISO 817)."""
    kind = {"safety_class": "unclassified", "toxic": False}
    harsh, mild = card(**kind, exposure_limit_ppm=50.0), card(**kind, exposure_limit_ppm=400.0)
    assert hazards.allowed_concentration_kg_per_m3(harsh, 0.08618) == pytest.approx(1.7613e-4, rel=1e-4)
    assert hazards.allowed_concentration_kg_per_m3(mild, 0.08618) == 0.25 * mild.lfl_kg_per_m3
    found = {one.topic: one.text for one in cautions.cautions(harsh, FIGURES, scenario())}
    assert "50 ppm" in found["toxic fluid"]
    assert "below the exposure limit" in found["room volume"]
    assert "toxic fluid" not in topics(cautions.cautions(mild, FIGURES, scenario()))


def test_no_shipped_card_passes_for_want_of_data():
    """R236ea, without class and exposure limit, needs the room of the most poisonous fluid; the others lack nothing."""
    cards = load_scenario("orchard").fluids.values()
    lacking = {one.name: hazards.assumed_hazards(one, cards) for one in cards}
    assert {name: found for name, found in lacking.items() if found} == {
        "R236ea": {"exposure_limit_ppm": 25.0}
    }


def test_margins_are_positive_where_it_is_unsafe():
    """Every margin counts in its own unit and is <= 0 where the design is safe."""
    assert hazards.vacuum_margin_bar([0.6, 1.2], 1.0) == pytest.approx([0.4, -0.2])
    assert hazards.room_margin_m3([100.0, 20.0], 40.0) == pytest.approx([60.0, -20.0])
    assert hazards.suction_head_margin_m([0.2, 0.9], 0.5) == pytest.approx([0.3, -0.4])
    assert hazards.class_margin("A3", ("A1", "B1")) == 1.0
    assert hazards.class_margin("A1", ("A1", "B1")) == -1.0
    assert hazards.class_margin("A3", None) == -1.0


def test_alloys_are_attacked_through_what_they_are_made_of():
    """What attacks copper clashes with brass, what attacks zinc with galvanised steel only."""
    copper = card(attacks=("copper",))
    assert hazards.material_clashes(copper, ("Steel", "Brass", "bronze")) == ("Brass", "bronze")
    zinc = card(attacks=("zinc",))
    assert hazards.material_clashes(zinc, ("steel", "brass", "galvanised steel")) == ("galvanised steel",)


@pytest.mark.parametrize(("limit", "letter"), [(25.0, "B"), (399.0, "B"), (400.0, "A"), (1000.0, "A")])
def test_toxicity_boundary(limit, letter):
    """Class B begins just below 400 ppm (ISO 817)."""
    assert toxicity(limit) == letter


def test_flammability_boundary():
    """Class 3 ends at 0.10 kg/m3 (ISO 817)."""
    assert hazards.burns_readily(0.10)
    assert not hazards.burns_readily(0.1001)


FIGURES = {
    "top_temperature_degC": 90.0,
    "peak_pressure_bar_g": 13.1,
    "fault_pressure_bar_g": 15.2,
    "condenser_pressure_bar_a": 2.3,
    "room_volume_needed_m3": 200.0,
    "charge_kg": 1.7,
    "piston_speed_1_m_per_s": 0.8,
    "piston_speed_2_m_per_s": float("nan"),
    "suction_head_m": 1.0,
}


def test_every_design_carries_the_usual_cautions():
    """Pressure, liquid lock, hot water, the fluid's class and the law stand beside every design."""
    found = topics(cautions.cautions(card(), FIGURES, scenario()))
    assert found == {
        "room volume": "danger",
        "pressure equipment": "warning",
        "liquid lock": "warning",
        "hot water": "warning",
        "flammable fluid": "warning",
        "standstill pressure": "note",
        "regulation of the fluid": "note",
        "law and licence": "note",
    }


def test_cautions_come_gravest_first():
    """What forbids a design is read before what qualifies it."""
    severities = [caution.severity for caution in cautions.cautions(card(), FIGURES, scenario())]
    assert severities == sorted(severities, key=["danger", "warning", "note"].index)


@pytest.mark.parametrize(
    ("changes", "topic", "severity"),
    [
        ({"peak_pressure_bar_g": 16.5}, "standstill pressure", "danger"),
        ({"fault_pressure_bar_g": 16.5}, "standstill pressure", "warning"),
        ({"condenser_pressure_bar_a": 0.6}, "vacuum", "warning"),
        ({"room_volume_needed_m3": 30.0}, "room volume", "note"),
        ({"piston_speed_2_m_per_s": 2.3}, "piston speed", "warning"),
        ({"cooling_water_L_per_year": 175_729.0}, "cooling water", "note"),
        ({"suction_head_m": 0.2}, "feed pump", "warning"),
        ({"peak_pressure_bar_g": 0.3}, "pressure equipment", None),
        ({"room_volume_needed_m3": 0.0}, "room volume", None),
        ({"top_temperature_degC": 59.0}, "hot water", None),
        ({"top_temperature_degC": 60.0}, "hot water", "warning"),
    ],
)
def test_figures_raise_and_lower_cautions(changes, topic, severity):
    """A figure past its limit brings its caution with the right weight; within it, none or a note."""
    found = cautions.cautions(card(), FIGURES | changes, scenario(), pump_required_head_m=0.5)
    assert topics(found).get(topic) == severity


def test_parts_at_hand_are_tested_first():
    """What was made for something else is looked over and tested at this plant's pressure, by those licensed for it."""
    owned = Owned(
        store_volume_L=300,
        bores_mm=(50.0,),
        stroke_mm=50.0,
        condenser_area_m2=1.0,
        fluid="n-Butane",
        charge_kg=5.0,
    )
    theirs = scenario().model_copy(update={"owned": owned})
    found = cautions.cautions(card(), FIGURES | {"test_pressure_bar_g": 22.0}, theirs)
    (said,) = (one for one in found if one.topic == "parts at hand")
    assert said.severity is Severity.WARNING
    for words in (
        "cylinders and condenser at hand",
        "with water at 22.0 bar gauge",
        "licensed",
        "local codes",
    ):
        assert words in said.text
    assert "boiler" not in said.text
    assert f"water of {FIGURES['top_temperature_degC']:.0f} °C" in said.text
    assert "its label alone" in said.text
    vented = scenario().model_copy(update={"owned": Owned(store_volume_L=300)})
    (tank,) = (one for one in cautions.cautions(card(), FIGURES, vented) if one.topic == "parts at hand")
    assert tank.text.startswith("The tank must bear")
    collectors = scenario().model_copy(update={"owned": Owned(collector="flat_plate", collector_area_m2=6.0)})
    assert "parts at hand" not in topics(cautions.cautions(card(), FIGURES, collectors))


@pytest.mark.parametrize(
    ("changes", "topic", "severity"),
    [
        ({"toxic": True}, "toxic fluid", "warning"),
        ({"safety_class": "A2L"}, "flammable fluid", "note"),
        ({"safety_class": "unclassified"}, "flammable fluid", "warning"),
        ({"flammable": False, "safety_class": "A1"}, "flammable fluid", None),
        ({"attacks": ("copper",)}, "material clash", "danger"),
        ({"attacks": ("zinc",)}, "materials", "note"),
        ({"phase_down": True}, "regulation of the fluid", "warning"),
        ({"gwp100": 1500.0}, "regulation of the fluid", "warning"),
    ],
)
def test_cards_raise_and_lower_cautions(changes, topic, severity):
    """What the card says of the fluid decides on its cautions."""
    assert topics(cautions.cautions(card(**changes), FIGURES, scenario())).get(topic) == severity


def test_a_plant_outdoors_has_no_room_to_fill():
    """Without a room the caution says where the gas goes instead, and stops nothing."""
    found = cautions.cautions(card(), FIGURES, scenario(room_volume_m3=None))
    (room,) = (caution for caution in found if caution.topic == "room volume")
    assert room.severity == "note"
    assert "outdoors" in room.text


def test_a_limit_that_is_assumed_is_told():
    """The caution about the room says which limit the card lacks, and nothing of the kind where it lacks none."""
    bare = card(lfl_kg_per_m3=None, lfl_percent=None)
    for one, told in ((bare, True), (card(), False)):
        (room,) = (x for x in cautions.cautions(one, FIGURES, scenario()) if x.topic == "room volume")
        assert ("Its card has no flammability limit" in room.text) == told


def test_vacuum_is_forbidden_where_the_scenario_says_so():
    """A condenser below the site's own air pressure stops a design if the scenario allows no vacuum."""
    strict = scenario(limits={"vacuum_condenser": False})
    low = FIGURES | {"condenser_pressure_bar_a": 0.9}
    assert topics(cautions.cautions(card(), low, strict))["vacuum"] == "danger"
    assert "vacuum" not in topics(cautions.cautions(card(), low, strict, air_pressure_bar_a=0.85))


@pytest.mark.parametrize(
    ("running", "rest", "said", "unsaid"),
    [
        (0.6, 0.2, ("while the engine runs", "0.60 bar abs."), ("at rest",)),
        (2.3, -0.4, ("at rest, shut off", "0.60 bar abs."), ("engine runs",)),
        (0.9, -0.4, ("engine runs", "0.90", "at rest", "0.60"), ()),
    ],
)
def test_vacuum_running_and_at_rest(running, rest, said, unsaid):
    """The caution says which of the two lies below air pressure, or both; at rest alone is enough to stop a design."""
    figures = FIGURES | {"condenser_pressure_bar_a": running, "rest_pressure_bar_g": rest}
    for allowed, severity in ((True, "warning"), (False, "danger")):
        strict = scenario(limits={"vacuum_condenser": allowed})
        found = cautions.cautions(card(), figures, strict, air_pressure_bar_a=1.0)
        (vacuum,) = (caution for caution in found if caution.topic == "vacuum")
        assert vacuum.severity == severity
        text = vacuum.text.lower()
        assert all(words in text for words in said)
        assert not any(words in text for words in unsaid)


def test_a_caution_tells_the_bottles_own_pressure_beside_the_worst():
    """The worst end is what the boiler reaches; the card's own mixture is named beside it."""
    figures = FIGURES | {"standstill_pressure_bar_g": 11.2, "standstill_pressure_worst_bar_g": 13.1}
    found = {one.topic: one.text for one in cautions.cautions(card(), figures, scenario())}
    assert "reaches 13.1 bar gauge" in found["standstill pressure"]
    assert "Bottles differ: 11.2 bar gauge" in found["standstill pressure"]
    pure = {one.topic: one.text for one in cautions.cautions(card(), FIGURES, scenario())}
    assert "Bottles" not in pure["standstill pressure"]


@pytest.mark.parametrize(
    ("coldest", "cooling", "severity", "said"),
    [
        ((-12.4, -12.4), 14.0, "warning", "The air around store and engine falls to -12.4 °C"),
        (
            (20.0, -3.1),
            14.0,
            "warning",
            "Collectors and their pipes hold the store's water in air that falls to -3.1 °C",
        ),
        ((20.0, 1.0), 2.5, "warning", "2.5 °C"),
        (
            (-1.0, -1.0),
            1.0,
            "warning",
            "falls to -1.0 °C in the year of the weather file and the cooling water",
        ),
        ((0.0, 0.0), 3.0, None, ""),
        (None, 14.0, None, ""),
    ],
)
def test_water_that_can_freeze(coldest, cooling, severity, said):
    """Frost around store and engine, or collectors, or cooling water below 3 degC brings the caution, and nothing else."""
    place = scenario(site={"cooling_water_temperature_degC": cooling})
    found = cautions.cautions(card(), FIGURES, place, coldest=coldest and cautions.Coldest(*coldest))
    assert topics(found).get("freezing") == severity
    assert said in " ".join(caution.text for caution in found)


def test_relief_setting_of_a_caution_takes_the_scenarios_margin():
    """Three tenths above the fault of 15.2 bar gauge are 19.8, not the 16.7 of the usual tenth."""
    found = cautions.cautions(card(), FIGURES, scenario(limits={"relief_margin": 1.3}))
    (standing,) = (caution for caution in found if caution.topic == "standstill pressure")
    assert "19.8 bar gauge" in standing.text


def test_cautions_quote_the_numbers_of_the_design():
    """The builder reads relief setting, test pressure and room in bar gauge and m³."""
    text = " ".join(caution.text for caution in cautions.cautions(card(), FIGURES, scenario()))
    for number in (
        "13.1 bar gauge",
        "16.7 bar gauge",
        "23.9 bar gauge",
        "15.2 bar gauge",
        "200 m³",
        "90 °C",
        "1.7 kg",
        "1.4 %",
    ):
        assert number in text


def test_a_pressure_that_rounds_to_nothing_has_no_sign():
    """A fluid that stands at the air's own pressure reaches 0.0 bar gauge, not -0.0."""
    found = cautions.cautions(card(), FIGURES | {"peak_pressure_bar_g": -0.0000012}, scenario())
    (standing,) = (caution for caution in found if caution.topic == "standstill pressure")
    assert "reaches 0.0 bar gauge" in standing.text


def test_cautions_do_without_missing_figures():
    """Empty cells of a table are passed over, with what depends on them."""
    empty = dict.fromkeys(FIGURES, "") | {"peak_pressure_bar_g": None, "charge_kg": float("nan")}
    assert set(topics(cautions.cautions(card(), empty, scenario()))) == {
        "liquid lock",
        "flammable fluid",
        "regulation of the fluid",
        "law and licence",
    }


def test_pressures_are_those_of_a_vented_store():
    """The caution on hot water says that a closed store would pass the pressures given."""
    from explore.judgement.cautions import _hot_water

    (caution,) = _hot_water({"top_temperature_degC": 95.0})
    assert "vented store" in caution.text
    assert "relief valve" not in caution.text


def test_gas_of_another_composition_is_told_from_a_hundredth_on():
    """By mole fraction of any part."""
    card = next(card for card in load_scenario("orchard").fluids.values())

    def told(more):
        charge = {"a": 0.7, "b": 0.3}
        return [
            one.topic for one in cautions._composition(card, (charge, {"a": 0.7 + more, "b": 0.3 - more}))
        ]

    assert told(0.009) == []
    assert told(0.011) == ["composition"]


@pytest.mark.parametrize(
    ("room", "charge", "said"), [(320.0, 6.58, "21 g in each m³"), (None, 6.58, ""), (320.0, None, "")]
)
def test_what_neither_burns_nor_poisons_displaces_the_air(room, charge, said):
    """Of such a fluid no room is worked out; where it stands in one, what its charge comes to there is told."""
    mild = card(name="R1233zd(E)", flammable=False, safety_class="A1", exposure_limit_ppm=800.0)
    figures = FIGURES | {"room_volume_needed_m3": 0.0, "charge_kg": charge}
    found = [
        c
        for c in cautions.cautions(mild, figures, scenario(room_volume_m3=room))
        if c.topic == "displaced air"
    ]
    assert bool(found) == bool(said)
    assert not found or (said in found[0].text and "800 ppm" in found[0].text)


def test_collectors_outdoors_freeze_with_the_rest():
    """Frost around a plant outdoors names its collectors too, and how they are kept."""
    text = " ".join(
        c.text for c in cautions.cautions(card(), FIGURES, scenario(), coldest=cautions.Coldest(-5.0, -5.0))
    )
    assert "collectors, condenser and store" in text
    assert "empty themselves" in text
