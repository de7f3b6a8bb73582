"""The text of one design: its verdict and its pressures."""

from __future__ import annotations

import math

import pytest

from explore import load_scenario
from explore.figures.format import says_nothing
from explore.tell.sheet import hazards, pressures, verdict

STOP = {"level": "danger", "topic": "room volume", "text": "too small"}
WARNING = {"level": "warning", "topic": "hot water", "text": "scalds"}


def test_what_forbids_building_stands_beside_the_verdict():
    """A caution of the gravest kind is named at once, also where no limit is broken; a warning is not."""
    assert (
        verdict({"violation_budget_EUR": -5.0}, [WARNING])
        == "Feasible: it keeps every limit of the scenario."
    )
    text = verdict({"violation_budget_EUR": -5.0}, [STOP, WARNING])
    assert text.startswith("Feasible")
    assert "STOP, not to be built like this: room volume." in text.replace("\n  ", " ")
    text = verdict({"violation_room_m3": 12.0}, [STOP]).replace("\n  ", " ")
    assert text.startswith("NOT feasible, it breaks: Room too small for the charge by 12.0 m³. STOP")


def test_a_gauge_pressure_that_rounds_to_nothing_has_no_sign():
    """The air's own pressure is 0.000 bar gauge, whatever its last digits; a thousandth of a bar is shown."""
    figures = {"condenser_pressure_bar_a": 0.9809999, "boiler_pressure_bar_a": 0.9801}
    text = pressures(figures, figures, 0.981)
    assert text.count("-") == 1
    assert "0.981      0.000" in text
    assert "-0.001" in text


@pytest.mark.parametrize("fault", [15.2, math.nan])
def test_four_pressures_are_read_in_order(fault):
    """Standing, boiling, design, relief and test; a store that boils above the critical point has no second one."""
    found = {
        "standstill_pressure_bar_g": 13.1,
        "fault_pressure_bar_g": fault,
        "design_pressure_bar_g": 16.72,
        "relief_setting_bar_g": 16.72,
        "test_pressure_bar_g": 23.91,
        "relief_capacity_kg_per_s": 0.166,
        "walls": [],
    }
    text = hazards(found, load_scenario("orchard").card("n-Butane"))
    places = [
        text.index(words) for words in ("Full store", "Store boiling", "Design pressure", "Relief", "Test")
    ]
    assert places == sorted(places)
    assert text.count("bar gauge") == (5 if fault == fault else 4)
    assert "23.91 bar gauge" in text
    assert "0.166 kg/s" in text


def test_only_pressures_are_told_above_and_below_the_air():
    """What a relief valve passes stands in the group of pressures, and is none."""
    figures = {"boiler_pressure_bar_a": 9.964, "relief_capacity_kg_per_s": 0.166}
    text = pressures(figures, figures, 0.981)
    assert "9.964" in text
    assert "0.166" not in text
    assert "-0.815" not in text


def test_a_word_of_the_other_store_says_nothing():
    """A stratified store has one state and no governor; numbers, and words of every design, stand as they are."""
    assert says_nothing("throttle", "governing", "stratified")
    assert not says_nothing("throttle", "governing", "mixed")
    assert not says_nothing("3.5", "governing", "stratified")
    assert not says_nothing("n-Butane", "fluid", "stratified")
