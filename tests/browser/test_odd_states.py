"""States that nobody drew: strange links, nothing left, prices that outgrow a slider. What the page says stays true."""

import json
import shutil

import pytest

from explore.tell.page import write_page
from explore.tell.page.data import read_run
from explore.tell.page.picks import pick
from explore.tell.page.sentences import opening
from tests.browser.conftest import go, marks_shown, settled
from tests.browser.test_report_page import report, type_limit
from tests.real_run import copy
from tests.report.test_doubt import answer

pytestmark = pytest.mark.browser

NAMED = (
    "() => [...document.querySelectorAll('#cards .card:not([hidden])')].map((card) => card.dataset.design)"
)
SHOWN = "() => document.querySelector('#scatter-1 .marks').stamps.length"
PRANKS = (
    "#x&off=Nobody,%3Cb%3E,__proto__&ceiling=1e300&budget=1e300&weight.cost_EUR=1e308"
    "&price.lifetime=0&price.store=1e308"
)


@pytest.fixture
def page(looked):
    """The page of a real run with all charts drawn, of which nothing is changed but what its address holds."""
    return looked.page


@pytest.fixture
def own(watched, run_folder):
    """The same, opened for one test alone, which may do with it what it likes."""
    return watched.open(report(run_folder))


def at(page, link):
    """Open the page's own address with another link, and wait until what follows has settled."""
    go(page, link, due_ms=1000)


def test_an_address_written_by_hand_may_begin_with_a_choice(page):
    """As one that the page writes, which leaves the place before it empty."""
    at(page, "#&ceiling=4.5&off=Ethanol")
    written = (page.inner_text("#opening"), page.input_value("#ceiling"))
    at(page, "#")
    at(page, "#ceiling=4.5&off=Ethanol")
    assert (page.inner_text("#opening"), page.input_value("#ceiling")) == written
    assert written[1] == "4.5"


def test_words_of_the_other_kind_of_store_are_told_nowhere(own):
    """A stratified store's engine has one state and no governor: marks, table and side by side name none; the file does."""
    page = own
    page.evaluate("document.querySelector('#columns input[value=governing]').click()")
    settled(page)
    told = """() => {
          const table = document.getElementById("designs");
          const at = (name) => [...table.tHead.rows[0].cells].findIndex((cell) => cell.dataset.name === name);
          const [mode, governor] = [at("store_mode"), at("governing")];
          const told = [...table.tBodies[0].rows].map(({ cells }) => [mode, governor].map((k) => cells[k].textContent));
          return [table.tHead.rows[0].cells[governor].innerText.trim(), told];
        }"""
    header, rows = page.evaluate(told)
    for _ in ("one end", "the other"):  # sorted by it, for the table shows a part of the designs
        page.click("#designs thead th[data-name=governing] button")
        settled(page)
        rows += page.evaluate(told)[1]
    assert {mode for mode, _ in rows} == {"stratified", "mixed"}
    assert all((governor == "–") == (mode == "stratified") for mode, governor in rows)
    hovers = page.evaluate("document.getElementById('scatter-1').calcdata[1].map((point) => point.htx)")
    assert len(hovers) > 30
    for text in hovers:
        assert (f"{header}: " in text) == (", mixed store," in text), text


def test_a_link_with_strange_values_says_nothing_that_is_not_so(page):
    """Fluids and designs that are not aboard, designs named twice and values that no control takes are left out."""
    usual = page.evaluate(NAMED)
    count = page.inner_text("#count")
    at(page, PRANKS)
    assert page.inner_text("#count") == count
    assert page.inner_text("#cards-scope") == "Chosen among all designs of the front."
    assert page.evaluate(NAMED) == usual
    assert page.locator("#priced").is_hidden()
    at(page, "#x&shortlist=1,1,2,3,zzz,4,5,6")
    heads = page.locator("#shortlist-table thead th").all_inner_texts()
    assert [" ".join(head.split())[0] for head in heads[1:]] == list("ABCD")
    assert len({" ".join(head.split())[2:] for head in heads[1:]}) == 4


def test_without_any_fluid_nothing_is_left_and_no_list_is_read_out(page):
    """All fluids unticked is one short clause."""
    page.click("#fluids-none")
    settled(page)
    assert page.inner_text("#opening-found") == "Without any fluid, no design that was found is left."
    assert page.inner_text("#place") == "No designs"


def test_sheet_says_what_its_design_is_under_the_limits_of_now(page):
    """The role of the design whose sheet is open follows the limits, and a limit that it breaks is told."""
    assert "the compromise" in page.inner_text("#sheet-role")
    low = page.evaluate("Math.min(...document.getElementById('scatter-2').data[1].x)")
    type_limit(page, "ceiling", low)
    assert page.inner_text("#sheet-role") == "(not within the limits set on this page)"
    page.click("#reset")
    settled(page)
    assert "the compromise" in page.inner_text("#sheet-role")


def test_budget_spans_what_designs_cost_at_the_readers_prices(page):
    """Prices that outgrow the slider move its end, which is no limit; a budget above the old end is one."""
    at(page, "#x&price.store=1000&price.engine=1000")
    costs = page.evaluate("[...document.getElementById('scatter-1').data[1].x]")
    assert float(page.input_value("#budget")) >= max(costs)
    half = (min(costs) + max(costs)) / 2
    type_limit(page, "budget", half)
    assert 0 < page.evaluate(SHOWN) <= sum(cost <= half for cost in costs)
    assert f"budget={half}" in page.evaluate("location.hash")
    page.click("[data-unprice] >> visible=true")
    settled(page)
    assert float(page.input_value("#budget")) == half


def test_tubes_are_not_set_beside_a_cost_of_other_prices(page):
    """Tubes are not priced anew: both costs of that table are the searched ones, and it says so."""
    cells = "() => [...document.querySelectorAll('#with-tubes tbody tr')].map((row) => row.innerText)"
    searched = page.evaluate(cells)
    assert any("EUR" in row for row in searched)
    assert "your" not in page.inner_text("#with-tubes-note")
    at(page, "#x&price.store=300")
    assert page.evaluate(cells) == searched
    assert page.inner_text("#with-tubes-note").endswith("at the searched prices, not at yours.")
    assert "is told at the searched prices" in page.inner_text("#priced")


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ("cost<4000", "names no column of the file"),
        ("cost_EUR<4,000", "compares with what is no plain number"),
        ("cost_EUR<", "is no column, sign and value"),
    ],
)
def test_a_condition_that_is_none_is_told(page, words, why):
    """What looks like a condition and is none finds nothing: that says nothing of the designs, and the page says why."""
    page.fill("#words", words)
    settled(page)
    for place in ("#words-unread", "#cards-none"):
        assert f"“{words}” {why}, so that it is looked for as a word." in page.inner_text(place)
    page.fill("#words", "cost_EUR<4000 fluid=Acetone store_mode=mixed acetone")
    settled(page)
    assert page.inner_text("#words-unread") == ""


def test_marks_stay_at_their_figures_while_axes_are_dragged(own):
    """Marks are painted apart from the chart: they go along while an axis is dragged, zoomed or narrowed, and are seen."""
    page = own
    count = page.evaluate(SHOWN)
    assert count > 0
    shown = page.evaluate(
        "document.getElementById('scatter-1').calcdata[1].flatMap(({ mrc }, i) => (mrc > 0 ? [i] : []))"
    )
    assert marks_shown(page, "scatter-1", shown)
    page.evaluate("document.querySelector('.pair').scrollIntoView({ block: 'end' })")
    settled(page)
    before = page.evaluate(SPOTS)
    box = page.locator("#scatter-1 .nsewdrag").bounding_box()
    for part in ("ewdrag", "edrag"):
        axis = page.locator(f"#scatter-1 .{part}").first.bounding_box()
        page.mouse.move(axis["x"] + axis["width"] / 2, axis["y"] + axis["height"] / 2)
        page.mouse.down()
        page.mouse.move(box["x"] + box["width"] * 0.4, axis["y"] + axis["height"] / 2, steps=4)
        settled(page)
        assert page.evaluate(SPOTS) != before
        assert marks_shown(page, "scatter-1", shown)
        page.mouse.up()
        settled(page)
        assert marks_shown(page, "scatter-1", shown)
    ink = """() => {
      const canvas = document.querySelector("#scatter-1 .marks");
      return canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data.some((part) => part > 0);
    }"""
    assert page.evaluate(ink)
    page.click("#fluids-none")
    settled(page)
    assert not page.evaluate(ink)


SPOTS = "() => document.querySelector('#scatter-1 .marks').stamps.map(([x, y]) => [x, y])"


def test_a_shortlist_outlives_the_limits_with_its_cautions(page):
    """Designs on the shortlist that the limits leave out are told to be so, with their cautions and the word on the law."""
    at(page, "#x&ceiling=0.01&shortlist=1,2")
    row = page.locator("#shortlist-table tr", has_text="Limits set on this page")
    assert row.locator("td").all_inner_texts() == ["not within them"] * 2
    at(page, "#x&ceiling=0.01&shortlist=1,2&present=6")
    assert page.inner_text("#screens").count("Cautions: pressure equipment") == 2
    at(page, "#x&ceiling=0.01&shortlist=1,2&present=7")
    assert "Not within the limits set on this page: A and B." in page.inner_text("#screens")
    assert "Local codes" in page.inner_text("#screens")


def test_fluids_left_out_stand_last_of_what_is_asked(page):
    """'Without Acetone, your prices and your weights' would leave out the prices."""
    at(page, "#x&off=Acetone&price.store=200&weight.cost_EUR=3")
    assert page.inner_text("#opening-found").split(", the best")[0].endswith(") and without Acetone")


def test_a_front_of_one_design_is_told_once(watched, run_folder, tmp_path):
    """Its figures do not stand there again for every objective, before the script runs and after; the CSV is the file."""
    folder = tmp_path / "one"
    shutil.copytree(run_folder, folder)
    head, first, *_ = (folder / "front.csv").read_text(encoding="utf-8").splitlines()
    (folder / "front.csv").write_text(f"{head}\n{first}\n", encoding="utf-8")
    summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    summary["broken_with_tubes"].pop("1", None)  # else it is told that it breaks a limit with them
    (folder / "summary.json").write_text(json.dumps(summary), encoding="utf-8")
    write_page(folder)
    page, run = watched.open(report(folder)), read_run(folder)
    found = page.inner_text("#opening-found")
    assert found.replace("\u00a0", " ") == opening(run, pick(run))[1].replace("\u00a0", " ")
    assert found.count("kJ/L") == found.count("EUR") == 1
    assert found.endswith(
        "; the same design gives the most work per litre, the least cost and the least peak pressure."
    )
    assert page.inner_text("#count") == "1 design on the front"
    with page.expect_download() as download:
        page.click("#download")
    assert download.value.path().read_text(encoding="utf-8") == f"{head}\n{first}\n"
    assert watched.errors == []


def test_a_fluid_with_a_long_name_pushes_no_column_off_the_paper(own):
    """On A4 with its margins, some 695 px, the table of fluids ends where its heading does."""
    page = own
    page.set_viewport_size({"width": 695, "height": 1000})
    page.evaluate(
        """() => { document.querySelector("#fluid-table tbody th").append(" (Butane-propane-70-30, bottled)"); }"""
    )
    page.emulate_media(media="print")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    settled(page)
    ends = "() => ['#fluid-table', '#fluids h2'].map((one) => document.querySelector(one).getBoundingClientRect().right)"
    table, heading = page.evaluate(ends)
    assert table <= heading + 1.0


def test_a_card_without_worlds_says_so(watched, run_folder, tmp_path):
    """Whichever design a card shows, it tells of the worlds that design was tried in, or that it was tried in none."""
    doubted = copy(run_folder, tmp_path / "run")
    answer(doubted)
    tried = {str(one["row"]) for one in read_run(doubted).doubt["designs"]}
    page, seen = watched.open(write_page(doubted)), set()
    for link in ("#", "#&ceiling=5", "#&ceiling=5&weight.cost_EUR=9"):
        at(page, link)
        for card in page.locator("#cards .card:visible").all():
            line, note = card.locator("[data-line]").inner_text(), card.locator("[data-worlds]")
            known = line in tried
            words = note.inner_text() if note.is_visible() else ""
            assert words.startswith("In eight of ten" if known else "Not among the designs tried"), (
                link,
                line,
            )
            assert known or not line.isdecimal() or f"row={line} " in words
            seen.add(known)
    assert seen == {True, False}
    assert watched.errors == []


COVERED = """() => ["scatter-1", "scatter-2"].flatMap((id) => {
  const names = [...document.querySelectorAll(`#${id} .annotation-text-g`)].map((name) => [
    name.textContent, name.getBoundingClientRect()]);
  const meet = (a, b) =>
    a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 1 && b.top < a.bottom - 1;
  return names.flatMap(([one, a], k) =>
    names.slice(k + 1).filter(([, b]) => meet(a, b)).map(([other]) => [one, other]));
})"""


@pytest.mark.parametrize("width", [1440, 390])
def test_no_name_in_a_chart_covers_another(page, width):
    """Recommended designs that lie side by side, or on one spot, are named side by side in any window."""
    page.set_viewport_size({"width": width, "height": 900})
    settled(page)
    axes = ("#axis-y", "#axis-x1")
    usual = [page.input_value(axis) for axis in axes]
    assert page.locator("#scatter-1 .annotation-text-g").count() >= 3
    assert page.evaluate(COVERED) == []
    letters = page.locator("#scatter-1 .annotation-text").first.evaluate(
        "(name) => getComputedStyle(name).fontSize"
    )
    assert letters == {1440: "12px", 390: "11px"}[width]  # names are placed for the window as it is
    for up, across in (
        ("cost_EUR", "peak_pressure_bar_g"),
        ("stages", "pressure_levels"),
        ("stages", "stages"),
    ):
        page.select_option("#axis-y", up)
        page.select_option("#axis-x1", across)
        settled(page)
        assert page.evaluate(COVERED) == [], across
    for axis, first in zip(axes, usual, strict=True):
        page.select_option(axis, first)
