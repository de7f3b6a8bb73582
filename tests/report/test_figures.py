"""What a column is called on the page and how its number is written."""

import math

import pytest

from explore.figures.format import NONE, THIN_SPACE, label, shown, three_digits, unit, write
from explore.figures.names import in_page_units


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (12.25, "12.3"),
        (9.999, "10.0"),
        (999.7, f"1{THIN_SPACE}000"),
        (12345.5, f"12{THIN_SPACE}346"),
        (308796.0, f"309{THIN_SPACE}000"),
        (99999.7, f"100{THIN_SPACE}000"),
        (0.004567, "0.00457"),
        (-0.4432, "−0.443"),
        (0.0, "0"),
        (1e-9, "0"),
        (100.0, "100"),
    ],
)
def test_numbers_have_three_digits(value, text):
    """Three significant digits, none after the point from 1000 to 99 999, three again above; halves away from zero."""
    assert three_digits(value) == text


def test_shares_become_percentages_and_counts_stay_whole():
    """A served share of 0.834 reads 83.4 %, two stages read 2."""
    assert shown("0.834", "served_share") == "83.4 %"
    assert shown("2", "stages") == "2"
    assert write(2.0, "stages") == "2"


def test_a_gauge_pressure_within_a_hundredth_bar_of_air_is_none():
    """A difference of -0.00000118 bar, or of 4 mbar, reads 0; 12 mbar and other small figures keep their digits."""
    assert shown("-0.00000118", "standstill_pressure_bar_g") == "0 bar gauge"
    assert shown("0.004", "standstill_pressure_bar_g") == "0 bar gauge"
    assert shown("-0.0124", "standstill_pressure_bar_g") == "−0.0124 bar gauge"
    assert shown("-0.0000012", "violation_condenser_vacuum_bar") == "0 bar"
    assert shown("-0.0012", "violation_condenser_vacuum_bar") == "−0.00120 bar"
    assert shown("0.00422", "wall_mm") == "0.00422 mm"


def test_what_does_not_apply_is_a_dash():
    """An empty cell and a NaN are a dash without a unit; a word stays a word, the name of a file loses its underscores."""
    assert shown("", "boil_approach_K") == NONE
    assert write(math.nan) == NONE
    assert shown("mixed", "store_mode") == "mixed"
    assert shown("self_built", "collector") == "self built"


@pytest.mark.parametrize(
    ("name", "shown_unit"),
    [
        ("work_per_litre_kJ", "kJ/L"),
        ("peak_pressure_bar_g", "bar gauge"),
        ("condenser_pressure_bar_a", "bar abs."),
        ("cost_EUR_per_kWh", "EUR/kWh"),
        ("cost_store_EUR", "EUR"),
        ("swept_volume_2_L", "L"),
        ("net_work_kJ_per_kg", "kJ/kg"),
        ("served_share", "%"),
        ("volume_ratio_1", ""),
        ("violation_served_share_fraction", ""),
    ],
)
def test_unit_is_that_of_the_name(name, shown_unit):
    """The unit stands in the column's name; shares are in percent."""
    assert unit(name) == shown_unit


def test_unlisted_columns_have_a_readable_name():
    """A new figure, a numbered one and a limit are named from the column itself."""
    assert label("new_figure_kJ") == "New figure"
    assert (label("new_figure_kg_per_m3"), unit("new_figure_kg_per_m3")) == ("New figure", "kg/m³")
    assert (label("new_loss_W_per_m2K"), unit("new_loss_W_per_m2K")) == ("New loss", "W/(m² K)")
    assert (label("new_wobble_rad"), unit("new_wobble_rad")) == ("New wobble rad", "")
    assert label("swept_volume_2_L") == "Swept volume, stage 2"
    assert label("violation_something_new_K") == "Something new"
    assert label("violation_bound_collector_area_m2") == "Outside the bounds of collector area"


def test_plain_units_are_written_as_the_page_does():
    """In a sentence or alone; what only looks like a unit within a word stays."""
    assert in_page_units("at 2 bar_g and 85 degC: 3 m2, 4 m3") == "at 2 bar gauge and 85 °C: 3 m², 4 m³"
    assert [in_page_units(one) for one in ("bar_a", "kWh/m2", "kg/m3", "kJ/kg")] == [
        "bar abs.",
        "kWh/m²",
        "kg/m³",
        "kJ/kg",
    ]
    assert in_page_units("design m2a of am3") == "design m2a of am3"
