"""The closing words of a search: recommended designs with their dangers, fluids with their classes."""

from __future__ import annotations

from types import SimpleNamespace

import pandas as pd
import pytest

from explore.config.schema import Objective
from explore.judgement.front import RULE
from explore.search.refine import Refinement
from explore.tell.closing import closing, designs_text
from explore.tell.narrator import LOSSES_HELD, counted, layouts_compared

CEILINGS = {f"work_per_litre_kJ_under_{x}_bar_g": 9.0 for x in (4, 6, 10, 16, 25)}
LAYOUTS = [
    {"layout": "mixed, 1 expansion, throttle", "stages": 1, "evaluated": 600, "feasible": 40, "on_front": 7,
     "work_per_litre_kJ": 9.0, "cost_EUR": 4000.0, "peak_pressure_bar_g": 6.0, "least_cost_EUR": 3000.0,
     "work_behind_kJ": 0.0, "cost_behind_EUR": 0.0, **CEILINGS},
    {"layout": "mixed, 3 expansions, throttle", "stages": 3, "evaluated": 400, "feasible": 4, "on_front": 0,
     "work_per_litre_kJ": 8.7, "cost_EUR": 5400.0, "peak_pressure_bar_g": 6.0, "least_cost_EUR": 5000.0,
     "work_behind_kJ": 0.3, "cost_behind_EUR": 1400.0, **CEILINGS},
]  # fmt: skip
LEVELS = ("warning", "note", "warning", "danger", "note", "note")


@pytest.fixture
def chosen():
    """Two recommended designs, the second with a piston too fast."""
    return pd.DataFrame(
        {
            "pick": ["most work per litre", "least cost"],
            "line": [7, 9],
            "fluid": ["n-Butane", "R245fa"],
            "cautions": ["0 / 5 / 3", "0 / 2 / 4"],
            "work_per_litre_kJ": [10.0, 9.0],
            "piston_speed_1_m_per_s": [1.21, 2.34],
            "piston_speed_2_m_per_s": [float("nan"), 0.5],
        }
    )


def said(case, chosen, gain=0.003, taught=""):
    """The closing text with its lines joined."""
    outcome = SimpleNamespace(
        designs_evaluated=1000,
        designs_feasible=500,
        seconds=9.0,
        front=chosen,
        hypervolume=0.4,
        legs=3,
        last_tenth_gain=0.01,
        polished=7,
        picks_gain=None,
        refinement=Refinement((1, 2), (gain, 0.0)),
        random_history=[],
        trouble="",
        stop_reason="designs",
        left_out={"Ammonia": "class B2L", "n-Propane": "class A3", "IsoButane": "class A3"},
        lost_to={},
    )
    fluids = pd.DataFrame({"fluid": ["R245fa"], "feasible": [5], "work_per_litre_kJ": [9.0]})
    fluids = fluids.reindex(
        columns=[
            *fluids.columns,
            *("cost_EUR", "peak_pressure_bar_g", "least_cost_EUR"),
            *(f"work_per_litre_kJ_under_{c:g}_bar_g" for c in case.report.pressure_ceilings_bar_g),
        ]
    )
    layouts = pd.DataFrame(LAYOUTS)
    return " ".join(closing(case, outcome, chosen, fluids, layouts, "page", taught=taught).split())


def test_picks_show_class_cautions_and_piston_speed(orchard, chosen):
    """Every recommended design has its safety class, its cautions counted, the pistons' speed and its row."""
    text = designs_text(chosen, orchard)
    lines = {line.split("  ")[0]: line.split("  ")[1:] for line in text.splitlines()}
    cells = {name: [cell.strip() for cell in found if cell.strip()] for name, found in lines.items()}
    assert cells["Safety class"] == ["A3", "B1"]
    assert cells["Cautions: STOP / warnings / notes"] == ["0 / 5 / 3", "0 / 2 / 4"]
    assert cells["Mean piston speed, stage 1 [m/s]"] == ["1.21", "2.34"]
    assert cells["Row of front.csv"] == ["no. 7", "no. 9"]


def test_cautions_are_counted_by_weight():
    """One that stops, two warnings, three notes."""
    assert counted({"level": level} for level in LEVELS) == "1 / 2 / 3"


def test_closing_words_explain_themselves(orchard, chosen):
    """The rule of the picks, the hypervolume, fast pistons, and fluids left out once a reason are said."""
    text = said(orchard, chosen)
    assert RULE in text
    assert "Hypervolume: share of the box" in text
    assert f"How sure: {LOSSES_HELD}." in text
    assert "Mean piston speed above 2 m/s, more than a small machine lasts with: least cost." in text
    assert "Left out: Ammonia: class B2L; n-Propane, IsoButane: class A3." in text
    assert "R245fa B1 9.00" in text
    words = "Least cost: n-Butane (R600), design 3, would be first, but with exchangers made of tubes it breaks: budget."
    assert words in said(orchard, chosen.assign(displaced=["", words]))
    slow = chosen.assign(piston_speed_1_m_per_s=1.0)
    assert "lasts with" not in said(orchard, slow)


def test_what_the_front_teaches_is_told_where_it_is_known(orchard, chosen):
    """The sentence as given, before what is told of assumptions; nothing in its place without one."""
    words = "The front teaches: all 12 designs have one expansion."
    text = said(orchard, chosen, taught=words)
    assert text.index(words) < text.index("How sure:")
    assert "teaches" not in said(orchard, chosen)


def test_a_search_that_refinement_still_betters_is_told_as_unsettled(orchard, chosen):
    """Above one per cent the closing says so and how to go on; below it does not."""
    assert (
        "The search has NOT settled: a further local refinement still improved one of 2 front designs by 51.4%"
        in said(orchard, chosen, 0.5144)
    )
    assert "NOT settled" not in said(orchard, chosen)


def test_every_layout_is_told_with_how_far_it_stays_behind(orchard, chosen):
    """How many of each were tried, how many are on the front, and what the best of it costs more and does less."""
    words = said(orchard, chosen)
    assert "mixed, 3 expansions, throttle 400 4 0 8.70" in words
    assert (
        "Best by number of expansions: one expansion: up to 9.00 kJ/L; "
        "three expansions: up to 8.70 kJ/L, 0.30 below the best, 1 400 EUR more." in words
    )


def test_layouts_that_a_search_has_not_come_to_are_told_as_unknown():
    """None tried is another thing than none found; where all were tried nothing is said."""
    layouts = pd.DataFrame(LAYOUTS)
    assert "Nothing is known" not in layouts_compared(layouts)
    layouts.loc[1, ["evaluated", "feasible"]] = 0
    assert layouts_compared(layouts).endswith(
        f"Nothing is known of layouts that so short a search has not come to: {layouts.loc[1, 'layout']}."
    )


def test_an_input_that_is_an_objective_stands_among_the_objectives(orchard, chosen):
    """Asked for, the collector area is told once, above the choice, as the other objectives are."""
    area = Objective(figure="collector_area_m2", direction="minimise", ideal=0.0, reference=40.0)
    scenario = orchard.scenario.model_copy(update={"objectives": (*orchard.scenario.objectives, area)})
    some = chosen.assign(collector_area_m2=[19.3, 12.0])
    plain = designs_text(some, orchard)
    asked = designs_text(some, orchard.model_copy(update={"scenario": scenario}))
    assert asked.count("Collector area [m²]") == plain.count("Collector area [m²]") == 1
    assert asked.index("Collector area") < asked.index("Working fluid") < plain.index("Collector area")
