"""The reader's weights: the compromise follows them, by the rule of the front module, and everything else agrees."""

import random

import pytest

from explore.figures.format import lower
from explore.judgement.front import recommended
from explore.tell.page.data import fluid_title
from explore.tell.page.picks import broken_with_tubes
from tests.browser.conftest import go, settled
from tests.browser.test_report_page import embedded, left_by, report
from tests.browser.test_states import SEEN
from tests.real_run import once_read

pytestmark = pytest.mark.browser


def expected(run_folder, weights, ceiling):
    """Names that the front module recommends under the weights, of the designs left under the ceiling."""
    run, every = once_read(run_folder), embedded(run_folder)
    objectives = run.case.scenario.objectives
    left = left_by(run_folder, lambda row: float(row["peak_pressure_bar_g"]) <= ceiling)
    figures = {o.figure: [float(every[name][o.figure]) for name in left] for o in objectives}
    figures.setdefault("cost_EUR", [float(every[name]["cost_EUR"]) for name in left])
    places = {name: place for place, name in enumerate(every, start=1)}
    broken = broken_with_tubes(run)
    barred = {k for k, name in enumerate(left) if places[name] in broken}
    return [left[row] for row in recommended(figures, objectives, barred, weights)]


def test_twelve_random_weights_are_chosen_as_python_chooses(looked, run_folder):
    """Cards, opening and presenting view have the compromise that the front module chooses with the same weights."""
    run, every, draw = once_read(run_folder), embedded(run_folder), random.Random(5)
    figures = [one.figure for one in run.case.scenario.objectives]
    page, middles = looked.page, set()
    for turn in range(12):
        weights = [draw.choice((0, 0.5, 1, 3, 10)) for _ in figures]
        ceiling = draw.choice((16.0, 5.0))
        pairs = [f"weight.{figure}={weight}" for figure, weight in zip(figures, weights, strict=True)]
        go(page, "#&" + "&".join([*pairs, f"ceiling={ceiling}"]))
        seen, names = page.evaluate(SEEN), expected(run_folder, weights, ceiling)
        assert [card["name"] for card in seen["cards"]] == names, (weights, ceiling)
        assert f"best compromise found is {fluid_title(run, every[names[-1]]['fluid'])}" in seen["found"]
        assert ("your weights" in seen["found"]) == (len(set(weights)) > 1)
        middles.add(names[-1])
        if turn % 4 == 0:
            go(page, "#&" + "&".join([*pairs, f"ceiling={ceiling}", "present=7"]))
            assert page.locator(".deciding tbody tr").last.get_attribute("data-design") == names[-1]
    assert len(middles) >= 2
    assert looked.errors == []


def test_slider_link_and_all_alike(watched, run_folder):
    """A weight that is typed changes the compromise and the address, comes back from it, and is undone at once."""
    page = watched.open(report(run_folder))
    before = page.evaluate(SEEN)
    page.evaluate("document.getElementById('weights-box').open = true")
    box = page.get_by_label("Weight of the least peak pressure, typed")
    box.fill("40")
    box.press("Tab")
    settled(page)
    seen = page.evaluate(SEEN)
    assert [card["name"] for card in seen["cards"]] == expected(run_folder, [1, 1, 40], 1e9)
    assert "40 least peak pressure" in seen["found"]
    fragment = page.evaluate("location.hash")
    assert fragment == "#&weight.peak_pressure_bar_g=40"
    page.goto("about:blank")
    page = watched.open(report(run_folder), fragment)
    assert page.evaluate(SEEN) == seen
    page.evaluate("document.getElementById('weights-box').open = true")
    assert page.get_by_label("Weight of the least peak pressure, typed").input_value() == "40"
    page.click("#unweigh")
    settled(page)
    assert page.evaluate(SEEN) == before
    assert lower(page.locator("#weight-rows .price").first.inner_text()).startswith("most work per litre")
    page.go_back()
    settled(page)
    assert page.evaluate(SEEN) == seen
    assert watched.errors == []
