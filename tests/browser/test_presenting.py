"""The presenting view: a screen at a time, true to the rest of the page in every state, by keys, link and on paper."""

import re

import pytest

from explore.figures.format import lower, shown
from explore.tell import doubts
from explore.tell.fluid_name import trade_name
from explore.tell.page import write_page
from explore.tell.page.data import read_run
from explore.tell.page.picks import broken_with_tubes, every_caution
from tests.browser.conftest import barriers, fresh, go, settled
from tests.browser.test_access_and_print import pages_on_paper
from tests.browser.test_report_page import embedded, left_by, recommended_names, report
from tests.browser.test_states import SEEN
from tests.real_run import copy, once_read
from tests.report.test_doubt import answer

pytestmark = pytest.mark.browser
SCREENS = 7
STATEMENT = "#screens h2"


def at(page, number, limits=""):
    """Open a screen in a state by its address; return statement and whole text."""
    go(page, f"#&{limits}&present={number}" if limits else f"#&present={number}")
    page.wait_for_selector(f'[data-screen="{number}"]')
    return page.text_content(STATEMENT), page.text_content("#screens")


def number_in(page):
    return int(page.evaluate("new URLSearchParams(location.hash.slice(1)).get('present') || 0"))


@pytest.mark.parametrize(
    "limits", ["", "ceiling=4.5", "budget=9000&ceiling=6", "words=stages%3D1", "ceiling=0.5"]
)
def test_screens_say_what_the_page_says(looked, run_folder, limits):
    """Fluid, pressure, cost, cautions and decision are those of opening and cards, under limits as without."""
    run, every = once_read(run_folder), embedded(run_folder)
    titles = {card.name: trade_name(card.title) for card in run.case.fluids.values()}
    cautions = dict(zip(every, every_caution(run), strict=True))
    page = looked.at(f"#&{limits}")
    seen = page.evaluate(SEEN)
    asked, whole = at(page, 1, limits)
    assert asked == page.text_content("#opening-asked")
    assert page.text_content("#scenario-line").strip() in whole
    assert page.locator(".demand td.on").count() == len(run.case.scenario.demand.hours) * len(
        run.case.scenario.demand.months
    )
    if not seen["cards"]:
        for number in (2, 3, 4, 6, 7):
            assert at(page, number, limits)[0] == seen["found"]
        return
    names = [card["name"] for card in seen["cards"]]
    middle = every[names[-1]]
    fluid = titles[middle["fluid"]]
    said, whole = at(page, 2, limits)
    assert "Designs that break a limit with exchangers made of tubes count here as well." in whole
    assert f"best compromise found is {fluid};" in said
    assert {titles[every[name]["fluid"]] for name in names} == {
        title
        for title in set(titles.values())
        if re.search(rf"(?<!\w){re.escape(title)} gives|is {re.escape(title)};", said)
    }
    said, whole = at(page, 3, limits)
    pressure = seen["limits"].removeprefix("What limits it: ").split(";")[0].rstrip(".")
    assert lower(said).endswith(f"{pressure}.")
    assert shown(middle["test_pressure_bar_g"], "test_pressure_bar_g") in whole
    said, _ = at(page, 4, limits)
    assert f"compromise, {fluid}, costs {seen['cards'][-1]['cost']}:" in said
    total, *parts = [
        float(text.replace("\u202f", "")) for text in re.findall(r"([\d.\u202f]+)(?= EUR:| for )", said)
    ]
    assert sum(parts) == pytest.approx(total, abs=3)
    at(page, 6, limits)
    told = page.evaluate(
        "[...document.querySelectorAll('#screens li')].map((item) => item.lastChild.textContent.trim())"
    )
    assert sorted(told) == sorted(one["text"] for one in cautions[names[-1]])
    said, _ = at(page, 7, limits)
    assert fluid in said
    rows = page.locator(".deciding tbody tr")
    assert rows.evaluate_all("rows => rows.map((row) => row.dataset.design)") == names
    for name, row in zip(names, rows.all(), strict=True):
        assert shown(every[name]["cost_EUR"], "cost_EUR") in row.text_content()
    assert looked.errors == []


def test_the_least_cost_is_of_those_that_keep_their_limits_with_tubes(looked, run_folder):
    """Of a fluid whose cheapest design breaks a limit with tubes the screen of the cost says so, as the opening does."""
    every, places = embedded(run_folder), broken_with_tubes(once_read(run_folder))
    broken = {name for place, name in enumerate(every, start=1) if place in places}
    fluids = sorted({row["fluid"] for row in every.values()})

    def cost(name):
        return float(every[name]["cost_EUR"])

    def displaced(fluid):
        left = left_by(run_folder, lambda row: row["fluid"] == fluid)
        chosen = recommended_names(run_folder, left)
        return chosen[1] != chosen[-1] and min(left, key=cost) in broken and set(left) - broken

    fluid = next(filter(displaced, fluids))
    limits = f"off={','.join(one for one in fluids if one != fluid)}"
    _, whole = at(looked.page, 4, limits)
    held = "that keeps every limit of the scenario with tubes"
    assert f"The least cost found {held} is " in whole
    assert f"the least cost {held} (" in looked.at(f"#&{limits}").text_content("#opening-found")


def test_shortlist_is_what_is_decided_on(looked, run_folder):
    """With designs on the shortlist the decision is among them, by their letters."""
    page = looked.page
    said, _ = at(page, 7, "shortlist=2,5")
    assert "A " in said
    assert page.locator(".deciding tbody tr").evaluate_all(
        "rows => rows.map((row) => row.dataset.design)"
    ) == ["2", "5"]


def test_how_sure_tells_the_study_or_that_there_is_none(looked, watched, run_folder, tmp_path):
    """Without a study the screen says so and how one is made; with one it is the headline, and of which case it is."""
    said, whole = at(looked.page, 5)
    assert "no study was made" in said
    assert "explore task=doubt run=" in whole
    doubted = copy(run_folder, tmp_path / "run")
    answer(doubted)
    run = read_run(doubted)
    page = watched.open(write_page(doubted))
    said, whole = at(page, 5)
    assert said == f"{doubts.headline(run.doubt, run.case)}."
    assert "not of what is asked here" not in whole
    _, whole = at(page, 5, "ceiling=4.5")
    assert "not of what is asked here: at most 4.50 bar gauge" in whole
    assert watched.errors == []


def test_keys_move_focus_and_history(watched, run_folder):
    """Alt+P opens, arrows and Page keys move, Escape closes; each step stands in the address, back and forward work."""
    page = watched.open(report(run_folder))
    page.keyboard.press("Alt+p")
    assert number_in(page) == 1
    assert page.evaluate("document.activeElement.id") == "screen-1"
    assert page.evaluate("document.querySelector('main').inert && document.querySelector('.top').inert")
    for pressed, number in (
        ("ArrowRight", 2),
        ("PageDown", 3),
        ("ArrowLeft", 2),
        ("End", 7),
        ("ArrowRight", 7),
        ("PageUp", 6),
    ):
        page.keyboard.press(pressed)
        assert number_in(page) == number
        assert page.evaluate("document.activeElement.id") == f"screen-{number}"
    assert page.inner_text("#present-place") == "6 of 7"
    page.go_back()
    settled(page)
    assert page.text_content("#present-place") == "7 of 7"
    page.go_forward()
    settled(page)
    assert page.text_content("#present-place") == "6 of 7"
    for _ in range(12):  # Tab stays within
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.closest('#present') !== null")
    page.keyboard.press("Escape")
    assert number_in(page) == 0
    assert not page.locator("#present").is_visible()
    assert page.evaluate("document.activeElement.id") == "present-open"
    assert not page.evaluate("document.querySelector('main').inert")
    page.keyboard.press("ArrowRight")
    assert number_in(page) == 0
    page.go_back()
    settled(page)
    assert page.locator("#present").is_visible()
    assert watched.errors == []


def test_a_screen_higher_than_the_window_is_read_to_its_end_first(looked):
    """It says that more follows; Page Down goes on in it, and only from its end to the next screen; back the same way."""
    page, more = looked.page, looked.page.locator("#present-more")
    at(page, 6)
    page.set_viewport_size({"width": 1000, "height": 500})
    settled(page)
    assert more.is_visible()
    presses = 0
    while number_in(page) == 6:
        assert presses < 20
        assert more.is_visible() or presses
        page.keyboard.press("PageDown")
        settled(page)
        presses += 1
    assert presses > 1
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("PageDown")
    settled(page)
    assert page.evaluate("document.getElementById('present').scrollTop") > 0
    page.keyboard.press("PageUp")
    settled(page)
    assert (number_in(page), page.evaluate("document.getElementById('present').scrollTop")) == (6, 0)
    page.keyboard.press("PageUp")
    assert number_in(page) == 5


def test_link_opens_its_screen_and_a_design_closes_it(watched, run_folder):
    """A link with limits and a screen shows both; a number beyond the last is the last; a design is opened."""
    page = watched.open(report(run_folder), "#&ceiling=6&present=99")
    assert page.text_content("#present-place") == "7 of 7"
    assert "6.00 bar gauge" in page.text_content("#present-where")
    name = page.locator(".deciding tbody tr").last.get_attribute("data-design")
    page.locator(".deciding a").last.click()
    settled(page)
    assert not page.locator("#present").is_visible()
    assert page.inner_text("#sheet-line") == name
    assert number_in(page) == 0
    assert "ceiling=6" in page.evaluate("location.hash")
    assert watched.errors == []


@pytest.mark.parametrize(("width", "least_px"), [(1440, 30), (390, 20)])
def test_type_is_large_and_nothing_runs_over(context, run_folder, width, least_px):
    """Statements are large, and no screen is wider than the window."""
    page = fresh(context, width=width, height=844)
    page.goto(f"{report(run_folder).as_uri()}#&present=1")
    page.wait_for_selector("html[data-ready=charts]", timeout=60_000)
    for number in range(1, SCREENS + 1):
        at(page, number)
        assert (
            page.evaluate(f"parseFloat(getComputedStyle(document.querySelector('{STATEMENT}')).fontSize)")
            >= least_px
        )
        assert (
            page.evaluate("(box => box.scrollWidth - box.clientWidth)(document.getElementById('present'))")
            <= 0
        )
        assert page.evaluate("document.querySelector('.screen-picture').getBoundingClientRect().height") > 100
    page.close()


def test_nothing_of_it_prints_unless_asked(watched, run_folder):
    """The page prints without it, also while it is on view; its own button prints all screens."""
    page = watched.open(report(run_folder), "#&present=2")
    page.emulate_media(media="print")
    assert not page.locator("#present").is_visible()
    assert page.locator("#opening").is_visible()
    page.emulate_media(media="screen")
    page.evaluate("window.print = () => dispatchEvent(new Event('beforeprint'))")
    page.click("#present-print")
    settled(page)
    page.emulate_media(media="print")
    assert page.locator(".screen").count() == SCREENS
    assert not page.locator("#opening").is_visible()
    for box in page.locator(".screen-picture").all():
        assert box.is_visible()
        room = box.bounding_box()
        assert room["width"] < 720
        assert room["height"] < 700
        for chart in box.locator(".main-svg").all():
            assert chart.bounding_box()["width"] <= room["width"] + 1
            assert chart.bounding_box()["height"] <= room["height"] + 1
    assert page.locator(".screen-below details").get_attribute("open") is not None
    assert SCREENS <= pages_on_paper(page) <= SCREENS + 2
    page.emulate_media(media="screen")
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    settled(page)
    assert page.locator(".screen").count() == 1
    assert page.text_content("#present-place") == "2 of 7"
    assert watched.errors == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_serious_barrier_on_any_screen(unguarded, run_folder, axe, scheme):
    """axe-core finds nothing serious or critical on any screen, light and dark."""
    page = fresh(unguarded, scheme)
    page.goto(f"{report(run_folder).as_uri()}#&present=1")
    page.wait_for_selector("html[data-ready=charts]", timeout=60_000)
    grave = []
    for number in range(1, SCREENS + 1):
        at(page, number)
        settled(page)
        grave += [(number, *one) for one in barriers(page, axe, "#present")]
    assert grave == []
