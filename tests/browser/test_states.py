"""The page under every state of the reader: what it recommends, warns of and writes is true and agrees everywhere."""

import random
import re
import shlex

import numpy as np
import pytest

from explore.config.tasks import TASKS
from explore.design.variables import INPUTS
from explore.figures.catalogue import FIGURES
from explore.figures.format import label, lower, shown, three_digits
from explore.tasks import registry
from explore.tell import narrator
from explore.tell.page.data import fluid_title
from explore.tell.page.page import render
from explore.tell.page.payload import others
from explore.tell.page.picks import broken_with_tubes, every_caution
from explore.tell.page.sentences import opening
from tests import documents
from tests.browser.conftest import go, settled
from tests.browser.test_report_page import (
    embedded,
    left_by,
    recommended_names,
    report,
    table_lines,
    type_limit,
)
from tests.real_run import once_read

pytestmark = pytest.mark.browser

SEEN = """() => ({
  cards: [...document.querySelectorAll("#cards .card:not([hidden])")].map((card) => ({
    role: card.dataset.role,
    name: card.querySelector("[data-line]").textContent,
    fluid: card.querySelector("[data-fluid-title]").textContent,
    cost: card.querySelector("[data-figure=cost_EUR]").textContent,
    relief: card.querySelector("[data-figure=design_pressure_bar_g]").textContent,
    sunless: card.querySelector("[data-figure=bridged_hours]").textContent,
    walls: card.querySelector("[data-walls]").textContent,
    breaks: card.querySelector("[data-breaks]:not([hidden])")?.textContent ?? "",
    cautions: [...card.querySelectorAll(".cautions li")].map((item) => item.lastChild.textContent.trim()),
  })),
  found: document.getElementById("opening-found").textContent,
  limits: document.getElementById("opening-limits").textContent,
  count: document.getElementById("count").textContent,
  now: Object.fromEntries([...document.querySelectorAll("#fluid-table tbody tr")].map(
    (row) => [row.dataset.fluid, row.querySelector("[data-now]").textContent])),
})"""


def state(draw, rows, fluids):
    """A random state as a fragment of the address, and what passes it."""
    pressures = sorted(float(row["peak_pressure_bar_g"]) for row in rows)
    costs = sorted(float(row["cost_EUR"]) for row in rows)
    ceiling = round(draw.choice(pressures) + 0.01, 3) if draw.random() < 0.6 else None
    budget = round(draw.choice(costs) + 1.0, 2) if draw.random() < 0.6 else None
    off = draw.sample(fluids, draw.randrange(len(fluids))) if draw.random() < 0.7 else []
    share = round(draw.uniform(0.8, 0.95), 3) if draw.random() < 0.3 else None
    pairs = [
        *([f"ceiling={ceiling}"] if ceiling else []),
        *([f"budget={budget}"] if budget else []),
        *([f"off={','.join(off)}"] if off else []),
        *([f"words=served_share%3E%3D{share}"] if share else []),
    ]

    def holds(row):
        return (
            (ceiling is None or float(row["peak_pressure_bar_g"]) <= ceiling)
            and (budget is None or float(row["cost_EUR"]) <= budget)
            and row["fluid"] not in off
            and (share is None or float(row["served_share"]) >= share)
        )

    return "&".join(["#", *pairs]) if pairs else "#", holds


def test_thirty_random_states_are_true_and_agree(looked, run_folder):
    """Picks equal those of the front module from the same designs; opening, cards, fluid table and table agree with them.

    No card is without its cautions, its relief setting, its walls and its sunless hours.
    """
    run, every = once_read(run_folder), embedded(run_folder)
    cautions = dict(zip(every, every_caution(run), strict=True))
    rows, draw = list(every.values()), random.Random(14)
    fluids = sorted({row["fluid"] for row in rows})
    background = others(run)
    seen_too = rows + [background.row(place) for place in range(len(background))]
    page = looked.page
    breaking = broken_with_tubes(run)
    broken = {name for place, name in enumerate(every, start=1) if place in breaking}
    beside = 0
    for turn in range(30):
        fragment, holds = state(draw, rows, fluids)
        go(page, fragment)
        left = left_by(run_folder, holds)
        seen = page.evaluate(SEEN)
        names = recommended_names(run_folder, left) if left else []
        assert [card["name"] for card in seen["cards"]] == names, fragment
        assert seen["count"].split()[0] == str(len(left)), fragment
        beside += any(name.startswith("D") for name in names)
        best = {}
        for row in filter(holds, seen_too):
            best[row["fluid"]] = max(float(row["work_per_litre_kJ"]), best.get(row["fluid"], -np.inf))
        told = {name: work for name, work in seen["now"].items() if work != "–"}
        assert told == {name: three_digits(work) for name, work in best.items()}, fragment
        for card in seen["cards"]:
            row = every[card["name"]]
            assert card["fluid"] == fluid_title(run, row["fluid"])
            assert card["cost"] == shown(row["cost_EUR"], "cost_EUR")
            assert card["relief"] == shown(row["design_pressure_bar_g"], "design_pressure_bar_g") != "–"
            assert card["sunless"] == shown(row["bridged_hours"], "bridged_hours") != "–"
            assert "mm" in card["walls"]
            if card["name"] in broken:
                assert card["breaks"] == narrator.unheld("this one", breaking_words(run, every, card["name"]))
            else:
                assert "budget" in card["breaks"] or not card["breaks"]
            assert sorted(card["cautions"]) == sorted(one["text"] for one in cautions[card["name"]])
        if names:
            middle = every[names[-1]]
            words = f"best compromise found is {fluid_title(run, middle['fluid'])}"
            assert words in seen["found"]
            for name in set(names):
                cost = shown(every[name]["cost_EUR"], "cost_EUR").replace(" ", "\u00a0")
                assert cost in seen["found"]
            able = [name for name in left if name not in broken] or left
            most = max(float(every[name]["work_per_litre_kJ"]) for name in able)
            beyond = any(float(every[name]["work_per_litre_kJ"]) > most for name in left)
            held = " that keeps every limit of the scenario with tubes" if beyond else ""
            assert f"the most work{held}, {three_digits(most)} kJ/L" in seen["limits"]
        else:
            assert "no design that was found is left" in seen["found"]
            assert page.locator("#cards-none").is_visible()
        if turn % 6 == 0:
            assert set(table_lines(page)) == set(left)
    assert beside >= 3
    assert looked.errors == []


def breaking_words(run, every, name):
    """The limits that a design breaks with tubes, in words; empty where it breaks none."""
    return narrator.broken_words(broken_with_tubes(run).get(list(every).index(name) + 1, ()))


def test_a_design_recommended_for_want_of_one_that_keeps_its_limits_with_tubes_says_so(looked, run_folder):
    """Where none is left that keeps them, opening, note, cards and the screens that recommend say what is broken."""
    run, every = once_read(run_folder), embedded(run_folder)
    name = next(name for name in every if breaking_words(run, every, name))
    limits = breaking_words(run, every, name)
    words = f"#&words=work_per_litre_kJ%3D{every[name]['work_per_litre_kJ']}"
    page = looked.at(words)
    seen = page.evaluate(SEEN)
    assert {card["name"] for card in seen["cards"]} == {name}
    assert seen["found"].endswith(f". {narrator.unheld('the compromise', limits)}")
    assert {card["breaks"] for card in seen["cards"]} == {narrator.unheld("this one", limits)}
    assert page.inner_text("#cards-scope").endswith(narrator.NONE_HELD)
    for screen in (2, 3, 4, 6, 7):
        go(page, f"{words}&present={screen}")
        assert narrator.unheld("the compromise", limits) in page.text_content("#screens"), screen
    go(page, f"#&shortlist={name}&present=7")
    assert f"design {name}, breaks with exchangers made of tubes: {limits}." in page.text_content("#screens")
    assert looked.errors == []


def test_a_budget_that_tubes_pass_is_told(looked, run_folder):
    """No limit of the scenario is broken, yet with tubes the design costs more than the reader has."""
    run, page = once_read(run_folder), looked.page
    name = page.evaluate(SEEN)["cards"][-1]["name"]
    plain, tubed = run.sheets["designs"][name]["with_tubes"]["compared"]["cost_EUR"]
    assert plain < tubed
    go(page, f"#&budget={(plain + tubed) / 2}")
    card = page.evaluate(SEEN)["cards"][-1]
    assert card["name"] == name
    assert card["breaks"] == (
        f"With exchangers made of tubes it costs {shown(str(tubed), 'cost_EUR')}, more than the budget set on this page."
    )
    go(page, f"#&budget={tubed + 1}")
    assert page.evaluate(SEEN)["cards"][-1]["breaks"] == ""


def test_opening_without_limits_is_the_one_that_python_wrote(looked, run_folder):
    """The script's sentences are those of sentences.py; with them stands what the file says before any script runs."""
    run = once_read(run_folder)
    page = looked.page
    seen = page.evaluate(SEEN)
    from explore.tell.page.picks import pick

    _, found, limits = opening(run, pick(run))
    assert seen["found"] == found
    assert seen["limits"] == limits
    assert [card["name"] for card in seen["cards"]] == [str(one.row) for one in pick(run)]
    assert 'id="opening-found"' in render(run)


def test_a_pick_stays_under_limits_that_it_keeps(looked, run_folder):
    """The compromise is the same design under a ceiling and a budget just above its own figures."""
    page, every = looked.page, embedded(run_folder)
    name = page.evaluate(SEEN)["cards"][-1]["name"]
    row = every[name]
    go(page, f"#&ceiling={float(row['peak_pressure_bar_g']) + 0.001}&budget={float(row['cost_EUR']) + 1}")
    assert page.evaluate(SEEN)["cards"][-1]["name"] == name


def test_a_step_draws_only_what_it_changes(looked, run_folder):
    """Back to another design, each chart of its sheet is drawn once; to the same address nothing is."""
    page = looked.at("#design-2")
    page.evaluate(
        """() => {
          const { react } = Plotly;
          window.drawn = [];
          Plotly.react = (box, ...rest) => (drawn.push(box.id), react(box, ...rest));
          window.lists = 0;
          const watcher = new MutationObserver(() => lists++);
          watcher.observe(document.getElementById("cards"), { childList: true, subtree: true });
          window.unwatch = () => { Plotly.react = react; watcher.disconnect(); };
        }"""
    )
    try:
        looked.at("#design-3")
        drawn = page.evaluate("drawn.splice(0)")
        assert "chart-ts" in drawn
        assert len(drawn) == len(set(drawn))
        assert {name for name in drawn if not page.locator(f"#sheet #{name}").count()} == set()
        page.evaluate("lists = 0")
        looked.at("#design-3&")
        assert page.evaluate("[drawn, lists]") == [[], 0]
        looked.at("#design-3&budget=9000")
        assert page.evaluate("lists") > 0
    finally:
        page.evaluate("unwatch()")


def test_link_restores_the_state_and_history_goes_back_and_forward(watched, run_folder):
    """Limits, classes, words, selection and open design come back from the address; back and forward take steps."""
    page = watched.open(report(run_folder))
    page.fill("#ceiling", "6")
    settled(page)
    page.uncheck("#legend input:not([disabled]) >> nth=0")
    settled(page)
    page.locator("#designs tbody input").nth(1).check()
    settled(page)
    page.locator("#designs tbody th a").nth(2).click()
    settled(page)
    fragment = page.evaluate("location.hash")
    before = page.evaluate(SEEN)
    selected, opened = page.inner_text("#selected"), page.inner_text("#sheet-line")
    assert fragment.startswith(f"#design-{opened}&ceiling=6&off=")
    assert "selected=" in fragment
    page.go_back()
    page.go_back()
    settled(page)
    assert page.evaluate("location.hash").count("=") == 2
    page.go_back()
    page.go_back()
    settled(page)
    assert page.evaluate(SEEN)["count"].endswith("on the front")
    for _ in range(4):
        page.go_forward()
    settled(page)
    assert page.evaluate(SEEN) == before
    page.goto("about:blank")
    page = watched.open(report(run_folder), fragment)
    settled(page)
    assert page.evaluate(SEEN) == before
    assert (page.inner_text("#selected"), page.inner_text("#sheet-line")) == (selected, opened)
    assert page.input_value("#ceiling") == "6"
    assert watched.errors == []


def test_classes_are_handles_on_their_fluids(looked, run_folder):
    """Without A3 no design of an A3 fluid is left anywhere; a fluid let back in shows its class as half ticked."""
    run = once_read(run_folder)
    kinds = {card.name: card.safety_class for card in run.case.fluids.values()}
    page = looked.page
    page.uncheck('#classes input[value="A3"]')
    settled(page)
    left = left_by(run_folder, lambda row: kinds[row["fluid"]] != "A3")
    assert set(table_lines(page)) == set(left)
    burning = next(
        name for name in {row["fluid"] for row in embedded(run_folder).values()} if kinds[name] == "A3"
    )
    page.check(f'#legend input[value="{burning}"]')
    assert page.evaluate("document.querySelector('#classes input[value=A3]').indeterminate")
    aboard = {kinds[row["fluid"]] for row in embedded(run_folder).values()}
    open_to_click = "[...document.querySelectorAll('#classes input:enabled')].map((box) => box.value)"
    assert set(page.evaluate(open_to_click)) == aboard
    assert page.locator("#classes .absent input:disabled").count() == page.locator(
        "#classes input"
    ).count() - len(aboard)


def is_number(cell):
    """Whether a cell of a table is a number."""
    try:
        return np.isfinite(float(cell))
    except ValueError:
        return False


def test_filter_example_finds_something_and_a_limit_not_traded_off_says_so(looked, run_folder, monkeypatch):
    """The example in the box leaves designs; a bound on what the search did not trade off names the command that would.

    That command is taken whatever column is bounded, input or figure, above, below or both.
    """
    page = looked.page
    page.fill("#words", page.get_attribute("#words", "placeholder"))
    settled(page)
    assert int(page.evaluate(SEEN)["count"].split()[0]) > 0
    page.fill("#words", "served_share>=0.85 cost_EUR<12000")
    settled(page)
    words = page.inner_text("#advice")
    assert lower(label("served_share")) in words
    assert "'scenario.limits.bounds.served_share=[0.85,null]'" in words
    assert "cost_EUR" not in words
    row = embedded(run_folder)["1"]
    known = [name for name, cell in row.items() if name in (*FIGURES, *INPUTS) and is_number(cell)]
    page.fill("#words", " ".join(f"{name}>={row[name]}" for name in known if name != "stages") + " stages=2")
    settled(page)
    cases = []
    monkeypatch.setattr(registry, "run", lambda case, command: cases.append(case))
    advised = [
        str(run_folder) if word == f"results/orchard/{run_folder.name}" else word
        for word in documents.words(page.text_content("#advice code"))
    ]
    assert documents.typed(advised, monkeypatch) == 0
    traded = {one.figure for one in once_read(run_folder).case.scenario.objectives}
    bounds = cases[0].scenario.limits.bounds
    assert set(bounds) == set(known) - traded - {"stages"}
    assert all(ends == (float(row[name]), None) for name, ends in bounds.items())
    assert cases[0].space["stages"] == 2
    page.fill(
        "#words",
        "store_volume_L<400 store_volume_L>300 violation_room_m3<0 served_share>0.9 served_share<0.8",
    )
    settled(page)
    assert page.text_content("#advice code").endswith(" 'scenario.limits.bounds.store_volume_L=[300,400]'")
    page.fill("#words", "")
    settled(page)
    assert not page.locator("#advice").is_visible()


def test_design_without_diagrams_offers_the_nearest_with_them(looked, run_folder):
    """A design beside the front has its figures, walls and cautions, and a link to one whose diagrams are aboard."""
    name = next(name for name in embedded(run_folder) if name.startswith("D"))
    page = looked.at(f"#design-{name}")
    assert page.inner_text("#sheet-line") == name
    assert f"designs.csv row={name[1:]}" in page.inner_text("#sheet-hint")
    assert page.locator("#hazard-list li").count() >= 5
    assert "Wall of the" in page.inner_text("#hazard-figures")
    page.click("#sheet-hint a")
    page.wait_for_selector("#schematic svg .point", state="attached")
    assert page.inner_text("#sheet-line").isdecimal()
    assert page.locator("#schematic svg .point").count() >= 4


def test_margins_of_a_card_are_those_of_its_row(looked, run_folder):
    """What has little to spare is told with the digits that show how little."""
    page, every = looked.page, embedded(run_folder)
    run = once_read(run_folder)
    asked = 100 * run.case.scenario.limits.served_share_min
    told = 0
    for ceiling in (None, *run.case.report.pressure_ceilings_bar_g):
        if ceiling is not None:
            type_limit(page, "ceiling", ceiling)
        for card in page.locator("#cards .card").all():
            served = 100 * float(every[card.locator("[data-line]").inner_text()]["served_share"])
            words = card.locator("[data-tight]").text_content()
            if "serves" in words:
                told += 1
                value = float(words.split("serves ")[1].split("\u00a0")[0])
                assert value == pytest.approx(served, abs=0.05)
                assert (
                    np.sign(round(value - asked, 9)) == np.sign(round(served - asked, 9)) or served == asked
                )
    assert told


def test_a_sheet_says_what_leads_to_the_bench(looked, run_folder):
    """Its commands name this design's file and line and tasks that there are, as much as each task asks for."""
    name = next(name for name in embedded(run_folder) if name.startswith("D"))
    for design, file, line in (("2", "front.csv", "2"), (name, "designs.csv", name[1:])):
        page = looked.at(f"#design-{design}")
        told = [one.text_content() for one in page.locator("#sheet-commands code").all()]
        assert {re.search(r"task=(\w+)", one)[1] for one in told} == {"build", "day", "inspect"} <= set(TASKS)
        for one in told:
            words = shlex.split(one)
            assert words[0] == "explore"
            assert any(
                word.startswith("design=") and word.endswith(f"{run_folder.name}/{file}") for word in words
            )
            assert f"row={line}" in words
        (day,) = (one for one in told if "task=day" in one)
        month = int(re.search(r"date=(\d\d)-15$", day)[1])
        assert month in once_read(run_folder).case.scenario.demand.months
