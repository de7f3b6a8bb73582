"""The text of one design: its verdict and its pressures."""

from __future__ import annotations

from explore.tell.sheet import pressures, verdict

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
