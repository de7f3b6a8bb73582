"""What the front teaches, of frames made by hand where the answer is known: never more than the designs carry."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from explore.config.goals import sought
from explore.config.schema import Objective
from explore.design.variables import LAYOUTS, variables
from explore.figures.format import THIN_SPACE
from explore.judgement import tradeoff
from explore.judgement.front import normalise
from explore.tell.beside import bill
from explore.tell.lessons import lessons
from explore.tell.searched import Searched
from tests.report.synthetic import case as synthetic_case

CASE = synthetic_case()
WORK, COST, PRESSURE = CASE.scenario.objectives
LISTED = variables(12.0)
OPTIONS = {
    "fluid": 3, "store_mode": 2, "stages": 3, "pressure_levels": 3, "regenerator_effectiveness": 2, "governing": 4,
    "collector": 2,
}  # fmt: skip
SEARCHED = Searched(
    LISTED,
    {one.name: (one.low, one.high) for one in LISTED},
    OPTIONS,
    LAYOUTS,
    {one.words: 7 for one in LAYOUTS},
)


def frame(count: int, **columns: object) -> pd.DataFrame:
    """Return designs that differ in ``columns`` alone."""
    usual = {
        "fluid": "n-Butane", "store_mode": "stratified", "stages": 1, "pressure_levels": 1, "governing": "throttle",
        "regenerator_effectiveness": 0.0, "collector": "evacuated_tube", "work_per_litre_kJ": 8.0, "cost_EUR": 6000.0,
        "peak_pressure_bar_g": 3.0, "broken": False, "untried": False,
        "name": [str(row) for row in range(1, count + 1)],
    }  # fmt: skip
    return pd.DataFrame({**usual, **columns}, index=range(count))


def line(slope: float = 900.0, count: int = 13) -> pd.DataFrame:
    """Return a front on which each kJ/L costs the same, all at one pressure."""
    work = np.linspace(2.0, 14.0, count)
    return frame(count, work_per_litre_kJ=work, cost_EUR=1000.0 + slope * work)


def told(front: pd.DataFrame, beside: pd.DataFrame | None = None, searched: Searched = SEARCHED, case=CASE):
    """Return the sentences by topic."""
    beside = frame(0) if beside is None else beside
    return {
        title: [one.text.replace(THIN_SPACE, "") for one in found]
        for title, found in lessons(case, front, beside, searched).topics
    }


def asked(*objectives: Objective):
    """Return the case with other objectives."""
    return CASE.model_copy(
        update={"scenario": CASE.scenario.model_copy(update={"objectives": tuple(objectives)})}
    )


@pytest.mark.parametrize("slope", [1500.0, 900.0])
@pytest.mark.parametrize("count", [13, 25, 61])
def test_the_slope_of_a_straight_front_is_its_slope(slope, count):
    """However thickly a straight front is covered, one more kJ/L costs what one less saves, and it is said so."""
    words = told(line(slope, count))["What one step along the front costs"][0]
    assert words.startswith("Work per litre: at least 1 kJ/L more")
    assert f"costs {slope:.0f} EUR more" in words
    assert f"up to 1 kJ/L less saves {slope:.0f} EUR at most" in words
    assert words.endswith(f"that is {slope:.0f} EUR per kJ/L.")


def test_a_bent_front_has_a_range_of_slopes():
    """Where the next kJ/L costs more than the last saved, both stand there."""
    front = frame(3, work_per_litre_kJ=[9.0, 10.0, 11.0], cost_EUR=[5000.0, 5200.0, 6100.0])
    start = 1
    found = tradeoff.trade(front, start, CASE.scenario.objectives, ("work_per_litre_kJ", 1), COST, 1.0)
    assert (found.better.row, found.better.rate) == (2, 900.0)
    assert (found.back.row, found.back.rate) == (0, 200.0)


def test_what_is_worse_elsewhere_is_no_step():
    """A cheaper kJ/L at a higher pressure is none; where there is no other, the design nearest to the ideal is named."""
    columns = {
        "work_per_litre_kJ": [8.0, 9.5, 2.0],
        "cost_EUR": [6000.0, 6100.0, 5900.0],
        "peak_pressure_bar_g": [3.0, 12.0, 3.0],
    }
    words = told(frame(3, **columns))["What one step along the front costs"][0]
    assert "no design of the front has 1 kJ/L more at no worse peak pressure" in words
    assert (
        "design 2: 9.50 kJ/L (1.5 kJ/L more), 6100 EUR (100 EUR more), 12.0 bar gauge (9 bar more)" in words
    )


def test_less_pressure_is_the_better():
    """A step of pressure goes down, and its price is that of the cheapest design at no less work."""
    columns = {
        "work_per_litre_kJ": [8.0, 8.1, 8.2, 9.0],
        "cost_EUR": [6000.0, 6600.0, 6900.0, 5900.0],
        "peak_pressure_bar_g": [3.0, 2.0, 1.9, 12.0],
    }
    words = told(frame(4, **columns))["What one step along the front costs"][1]
    assert words.startswith(
        "Peak pressure: at least 1 bar less at no worse work per litre costs 600 EUR more (design 2: 2.00 bar gauge"
    )
    assert words.endswith("600 EUR per bar.")


def test_sunless_hours_are_told_though_nobody_asked():
    """One hour more, of designs that are no worse in any objective but the cost."""
    front = line().assign(bridged_hours=np.linspace(1.0, 25.0, 13))
    words = told(front)["What one step along the front costs"][-1]
    assert re.match(
        r"Sunless hours bridged: at least 1 h more .* costs 900 EUR more .* is 450 EUR per h\.", words
    )
    assert "Sunless" not in " ".join(told(line())["What one step along the front costs"])


@given(st.data())
@settings(max_examples=60, deadline=None)
def test_each_step_is_the_cheapest_of_those_that_keep_the_rest(data):
    """Of random fronts: a step is a design that has it, keeps what it should, and none such costs less."""
    count = data.draw(st.integers(2, 12))
    numbers = st.lists(st.integers(0, 12), min_size=count, max_size=count)
    columns = {one.figure: np.array(data.draw(numbers), float) for one in CASE.scenario.objectives}
    front, start = frame(count, **columns), data.draw(st.integers(0, count - 1))
    found = tradeoff.trade(front, start, CASE.scenario.objectives, ("work_per_litre_kJ", 1), COST, 2.0)
    work, cost, pressure = (columns[one.figure] for one in CASE.scenario.objectives)
    able = [
        row for row in range(count) if work[row] >= work[start] + 2.0 and pressure[row] <= pressure[start]
    ]
    assert (found.better is None) == (not able)
    if found.better is not None:
        assert found.better.row in able
        assert cost[found.better.row] == min(cost[able])
        assert found.better.price == cost[found.better.row] - cost[start]
    if found.back is not None:
        row = found.back.row
        assert work[start] - 2.0 <= work[row] < work[start]
        assert cost[row] < cost[start]
        assert pressure[row] <= pressure[start]


def test_one_expansion_in_all_is_said():
    """Where all have it and the search might have chosen otherwise; not where it might not, nor of eight in ten."""
    words = "All 13 designs have one expansion."
    assert words in told(line())["What they share"]
    pinned = Searched(LISTED, SEARCHED.bounds, OPTIONS | {"stages": 1}, LAYOUTS)
    assert words not in told(line(), searched=pinned)["What they share"]
    for others, said in ((1, ["12 of 13 designs have one expansion."]), (3, [])):
        front = line().assign(stages=[2] * others + [1] * (13 - others))
        assert [one for one in told(front)["What they share"] if "expansion" in one] == said


def test_what_is_read_over_worlds_says_so_wherever_it_stands():
    """A cautious figure is never told bare, nor twice: not the cost beside its own value, nor in a step or its price."""
    over = CASE.model_copy(update={"search": CASE.search.model_copy(update={"against": "cautious"})})
    work = np.linspace(2.0, 14.0, 13)
    columns = {
        "cautious_work_per_litre_kJ": work,
        "cautious_cost_EUR": 1000.0 + 900.0 * work,
        "cautious_peak_pressure_bar_g": 3.0,
        "cost_EUR": 777.0,
    }
    front = frame(13, **columns)
    beside = front[:1].assign(stages=2, name="D5", cautious_work_per_litre_kJ=14.5, cautious_cost_EUR=16000.0)
    found = lessons(sought(over), front, beside, SEARCHED)
    words = " ".join(one.text for _, told in found.topics for one in told).replace(THIN_SPACE, "")
    assert "777" not in words
    assert "better in cautious work per litre: cautious 14.5 kJ/L" in words
    assert "Cautious work per litre: at least 1 kJ/L more at no worse cautious peak pressure" in words
    assert "costs cautious 900 EUR more (design 11: cautious 12.0 kJ/L, cautious 11800 EUR)" in words
    assert "up to 1 kJ/L less saves cautious 900 EUR at most" in words
    assert "that is cautious 900 EUR per kJ/L." in words
    assert "1 kJ/L more cautious work per litre costs cautious 900 EUR more" in found.short


def test_choices_that_say_nothing_are_not_told():
    """A governor on a stratified store, pressure levels on a mixed one."""
    shared = " ".join(told(line())["What they share"])
    assert "one pressure level" in shared
    assert "governor" not in shared
    shared = " ".join(told(line().assign(store_mode="mixed"))["What they share"])
    assert "pressure level" not in shared
    assert "with a fully mixed store have throttle as governor" in shared


def test_numbers_that_hardly_differ_are_told_with_their_span():
    """Nine of ten within a fifth of the range, measured as the search spreads it: by ratio where it does."""
    shared = told(line().assign(condensing_temperature_degC=np.linspace(20.0, 22.0, 13)))["What they share"]
    assert "Nine of ten of all 13 have condensing temperature 20.1 to 21.9 °C." in shared
    wide = line().assign(condensing_temperature_degC=np.linspace(15.5, 36.5, 13))
    assert "condensing" not in " ".join(told(wide)["What they share"])
    # 50 to 3000 L is a factor of 60: a fifth of that by ratio is 2.27, while 480 L are a sixth of it in litres.
    near, far = (
        line().assign(store_volume_L=np.geomspace(100.0, 100.0 * factor, 13)) for factor in (2.0, 5.0)
    )
    assert "store volume" in " ".join(told(near)["What they share"])
    assert "store volume" not in " ".join(told(far)["What they share"])


@pytest.mark.parametrize(("at", "said"), [(3, False), (4, True), (13, True)])
def test_bounds_are_told_when_a_quarter_lies_there(at, said):
    """Three of thirteen are too few; what lies there is counted."""
    superheat = [25.0] * at + [12.0] * (13 - at)
    words = told(line().assign(superheat_K=superheat))["What they lean on"][0]
    some = "all 13" if at == 13 else f"{at} of 13"
    assert (f"{some} have superheat at its most, 25.0 K" in words) == said


def test_an_end_that_the_reader_set_is_the_end():
    """Bounds are those of the search of this run, and a number that was pinned leans on nothing."""
    front = line().assign(superheat_K=10.0)
    bounds = {**SEARCHED.bounds, "superheat_K": (0.0, 10.0)}
    assert (
        "at its most, 10.0 K"
        in told(front, searched=Searched(LISTED, bounds, OPTIONS))["What they lean on"][0]
    )
    bounds["superheat_K"] = (10.0, 10.0)
    assert "superheat" not in " ".join(
        told(front, searched=Searched(LISTED, bounds, OPTIONS))["What they lean on"]
    )


def test_limits_kept_by_a_hundredth_are_told():
    """Of a share of 80 % within 0.8 points; one that is kept by more is not."""
    limits = CASE.scenario.limits.model_copy(update={"served_share_min": 0.8})
    case = CASE.model_copy(update={"scenario": CASE.scenario.model_copy(update={"limits": limits})})
    near = line().assign(violation_served_share_fraction=[-0.007] * 5 + [-0.02] * 8)
    words = told(near, case=case)["What they lean on"][-1]
    assert "“too little of the demand served” (5 of 13 keep it by 0.8 percentage points or less)" in words
    far = line().assign(violation_served_share_fraction=-0.009)
    assert "demand served" not in " ".join(told(far, case=case)["What they lean on"])


def test_the_best_built_otherwise_stands_beside_the_compromise():
    """With its figures, by how much they differ, and the bill's lines; what broke with tubes never does."""
    own = {"cost_engine_EUR": 1000.0, "cost_store_EUR": 500.0, "cost_levels_EUR": 400.0}
    front = line().assign(**own)
    others = frame(
        3,
        stages=2,
        work_per_litre_kJ=[14.5, 14.2, 19.0],
        cost_EUR=[11500.0, 13000.0, 2000.0],
        broken=[False, False, True],
        name=["D5", "D6", "D7"],
        cost_engine_EUR=1700.0,
        cost_store_EUR=300.0,
        cost_levels_EUR=400.0,
    )
    words = told(front, others)["Why not otherwise"]
    two = next(one for one in words if one.startswith("Two expansions"))
    assert "stratified, 2 expansions, 1 level (design D5), is better in work per litre: 14.5 kJ/L" in two
    assert "engine +700, store −200" in two
    assert "Three expansions: no feasible design is known of 49 tried." in words
    assert "D7" not in " ".join(words)


def test_what_was_not_tried_with_tubes_comes_last_and_says_so():
    """Only where no other is known, though it be nearer."""
    others = frame(
        2, stages=2, work_per_litre_kJ=[14.5, 12.0], cost_EUR=7900.0, untried=[True, False], name=["D5", "D6"]
    )
    two = [
        next(one for one in told(line(), some)["Why not otherwise"] if one.startswith("Two"))
        for some in (others, others[:1])
    ]
    assert "(design D6), is" in two[0]
    assert "(design D5), not tried with exchangers made of tubes, is" in two[1]


@given(st.lists(st.tuples(st.floats(0, 3000), st.floats(0, 3000)), min_size=10, max_size=10))
@settings(max_examples=80, deadline=None)
def test_lines_of_a_bill_add_up_to_the_difference(lines):
    """To the euro, however they are rounded."""
    names = [
        f"cost_{name}_EUR"
        for name in (
            "collectors", "store", "insulation", "boiler", "condenser", "regenerator", "engine", "levels", "charge",
            "fittings",
        )
    ]  # fmt: skip
    own, other = (pd.Series(dict(zip(names, side, strict=True))) for side in zip(*lines, strict=True))
    own["cost_EUR"], other["cost_EUR"] = own.sum(), other.sum()
    found = bill(own, other)
    if found:
        assert sum(euro for _, euro in found) == round(other["cost_EUR"] - own["cost_EUR"])


def test_a_near_tie_is_one_within_two_hundredths_of_the_scales():
    """0.4 kJ/L, 360 EUR and 0.6 bar here: 0.39 less is one, 0.41 less is none, nor is the same fluid built alike."""
    front = frame(1)

    def ties(**columns: object) -> str:
        return told(front, frame(1, **columns))["Near ties"][0]

    assert "0.4 kJ/L, 360 EUR and 0.6 bar" in ties()
    none = "No design known with another fluid or layout"
    assert ties(work_per_litre_kJ=7.61, fluid="R134a").startswith("With another fluid or layout")
    assert "R-134a, stratified, 1 expansion, 1 level (design 1): 7.61 kJ/L" in ties(
        work_per_litre_kJ=7.61, fluid="R134a"
    )
    assert ties(work_per_litre_kJ=7.59, fluid="R134a").startswith(none)
    assert ties(cost_EUR=6361.0, fluid="R134a").startswith(none)
    assert ties(work_per_litre_kJ=7.61).startswith(none)
    assert ties(work_per_litre_kJ=7.61, governing="cut_off").startswith(none)
    assert ties(work_per_litre_kJ=7.61, stages=2).startswith("With another")


@given(st.data())
@settings(max_examples=40, deadline=None)
def test_ties_are_just_those_that_are_near(data):
    """Of random designs: a kind is told if and only if one of it is near."""
    count = data.draw(st.integers(1, 9))
    numbers = st.lists(st.integers(0, 30), min_size=count, max_size=count)
    columns = {
        one.figure: one.ideal + np.array(data.draw(numbers), float) / 100.0 * (one.reference - one.ideal)
        for one in CASE.scenario.objectives
    }
    kinds = data.draw(st.lists(st.sampled_from("abc"), min_size=count, max_size=count))
    found = tradeoff.ties(frame(count, **columns), 0, CASE.scenario.objectives, kinds)
    values = normalise(pd.DataFrame(columns), CASE.scenario.objectives)
    near = {
        kind for kind, value in zip(kinds, values, strict=True) if (value <= values[0] + tradeoff.TIE).all()
    }
    assert {kinds[row] for row in found} == near - {kinds[0]}
    assert len(found) == len(near - {kinds[0]})


@pytest.mark.parametrize("count", [0, 1, 2, 9])
def test_a_tiny_front_teaches_little_and_says_so(count):
    """None teaches nothing; of nine no share is told; of one there is no trade-off."""
    front = line().iloc[:count]
    words = told(front)
    if count == 0:
        assert words == {}
        return
    assert words["What they share"] == [
        f"The front holds {count} design{'s' * (count > 1)}: too few to say what good ones share."
    ]
    if count == 1:
        assert words["What one step along the front costs"] == [
            "One design is left to recommend: there is no trade-off to read off."
        ]


OTHERS = (
    Objective(figure="second_law_efficiency", direction="maximise", ideal=0.5, reference=0.0),
    Objective(figure="store_volume_L", direction="minimise", ideal=50.0, reference=3000.0),
    Objective(figure="stages", direction="minimise", ideal=1.0, reference=3.0),
    WORK,
    COST,
)


@pytest.mark.parametrize("first", OTHERS, ids=lambda one: one.figure)
@pytest.mark.parametrize("second", [None, *OTHERS], ids=lambda one: one.figure if one else "alone")
def test_any_objectives(first, second):
    """Whatever was asked for, the sentences hold numbers and no dash for one."""
    objectives = [first, *([second] if second is not None and second is not first else [])]
    front = line().assign(
        second_law_efficiency=np.linspace(0.2, 0.3, 13),
        store_volume_L=np.linspace(300.0, 900.0, 13),
        stages=[1, 2, 3] * 4 + [3],
    )
    found = lessons(asked(*objectives), front, frame(0), SEARCHED)
    text = " ".join([*(one.text for _, told_of in found.topics for one in told_of), found.short])
    assert "nan" not in text
    assert "–" not in text
    assert len(found.short) <= 240
    if len(objectives) == 1:
        assert "What one step along the front costs" not in dict(found.topics)


def test_a_share_steps_by_points():
    """One more point of efficiency has a price per percentage point."""
    front = line().assign(second_law_efficiency=np.linspace(0.20, 0.32, 13))
    words = told(front, case=asked(OTHERS[0], COST))["What one step along the front costs"][0]
    assert "at least 1 percentage points more costs 900 EUR more" in words
    assert words.endswith("900 EUR per percentage point.")


def test_three_lines_of_a_terminal_hold_the_short_words():
    """At 80 columns; steps come first, then what is shared."""
    short = lessons(CASE, line(), frame(0), SEARCHED).short.replace(THIN_SPACE, "")
    assert short.startswith(
        "The front teaches: from the compromise on, 1 kJ/L more work per litre costs 900 EUR more; all 13"
    )
    assert len(short) <= 240


def test_a_front_that_all_breaks_with_tubes_is_still_told():
    """As its compromise is: of designs that break there is one where there are no others."""
    words = told(line().assign(broken=True))
    assert "costs 900 EUR more" in words["What one step along the front costs"][0]


def test_steps_are_units_or_round():
    """One unit where that is a step along the front, else 1, 2 or 5 of some power of ten near a tenth of its range."""
    assert tradeoff.step_of(pd.Series([2.0, 14.0]), 1.0) == 1.0
    assert tradeoff.step_of(pd.Series([200.0, 900.0]), 1.0) == 50.0
    assert tradeoff.step_of(pd.Series([0.1, 0.5]), 1.0) == 0.05
    assert tradeoff.step_of(pd.Series([3.0]), 1.0) == 1.0


@pytest.mark.parametrize(("unit", "step"), [(0.05, 1.0), (0.15, 0.15), (2.9, 2.9), (3.1, 1.0)])
def test_a_unit_is_a_step_between_a_hundredth_and_three_tenths_of_the_range(unit, step):
    """Else a tenth of the range is."""
    assert tradeoff.step_of(pd.Series([0.0, 10.0]), unit) == pytest.approx(step)
