"""The comparison of runs: sentences whose amounts add up, and a shortlist of designs of any of the runs."""

import csv
import re

import pytest

from explore.figures.catalogue import BILL
from explore.tell.page import write_comparison
from explore.tell.page.embed import exported
from tests.browser.conftest import Watched, barriers, fresh, settled
from tests.command_line import typed
from tests.real_run import copy
from tests.report.synthetic import write_csv

pytestmark = pytest.mark.browser

HOSTILE = '<img src=x onerror="document.title=1">'
OTHERWISE = (
    "costs.store_EUR_per_L065=40",
    "collectors.evacuated_tube.price_EUR_per_m2=250",
    "scenario.limits.budget_EUR=9000",
    "report.sheets=10",
)
GONE = ("cost_levels_EUR", "served_share", "charge_kg")


def lines_of(run):
    """Read the designs of a run's front, first line first."""
    with (run / "front.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def runs(real_run, tmp_path_factory):
    """A real run, the same under other prices and a budget, and one that lacks columns and holds markup."""
    results = tmp_path_factory.mktemp("across") / "results"
    first = copy(real_run, results / "orchard" / "a")
    (first / "report.html").write_text("", encoding="utf-8")
    assert typed("task=reprice", f"run={first}", *OTHERWISE, f"results_folder={results}") == 0
    (second,) = (found.parent for found in results.glob("orchard/*/front.csv") if found.parent != first)
    old = copy(real_run, results / "orchard" / "old", title=HOSTILE)
    rows = [{name: cell for name, cell in row.items() if name not in GONE} for row in lines_of(old)]
    write_csv(old / "front.csv", [{**row, "fluid": HOSTILE} for row in rows])
    return {"A": first, "B": second, "C": old}


@pytest.fixture(scope="module")
def comparison(runs):
    """The page of the three."""
    return write_comparison(list(runs.values()), next(iter(runs.values())).parents[1] / "comparison.html")


@pytest.fixture(scope="module")
def rows(runs):
    """Every design of the runs by the name that the page gives it."""
    return {f"{letter}{n}": row for letter, run in runs.items() for n, row in enumerate(lines_of(run), 1)}


@pytest.fixture(scope="module")
def opened(context, comparison):
    """That page open, for tests that only read it."""
    watched = Watched(fresh(context))
    watched.open(comparison)
    yield watched
    watched.page.close()


def told(words):
    """Read a sentence on cost: the two designs, its total and its parts by line of the bill, EUR with their sign."""
    number = r"([\d\u202f]+)"
    found = re.search(
        rf"([A-C]\d+) costs (?:{number} EUR (less|more) than|the same as) ([A-C]\d+): (.*)\.$", words
    )
    assert found, words

    def signed(text, way):
        return int(text.replace("\u202f", "")) * (-1 if way == "less" else 1)

    total = signed(found[2], found[3]) if found[2] else 0
    parts = re.findall(rf"{number} (less|more) for ([a-z -]+)", found[5])
    return (
        found[1],
        found[4],
        total,
        {line.strip().removesuffix(" and"): signed(*one) for *one, line in parts},
    )


def test_reasons_add_up_to_the_difference_of_the_files(opened, rows):
    """Under each recommended role and in the opening: the total is that of the files, the parts sum to it, to the euro."""
    page = opened.page
    every = page.locator("[data-reasons] li, [data-changed]").all_inner_texts()
    sentences = [words for words in every if " costs " in words and re.search(r"B\d+ costs [^;]*:", words)]
    assert len(sentences) >= 4
    for words in sentences:
        own, other, total, parts = told(words)
        assert total == pytest.approx(float(rows[own]["cost_EUR"]) - float(rows[other]["cost_EUR"]), abs=0.51)
        assert sum(parts.values()) == total
        names = {line: name for name, line in BILL.items()}
        for line, euro in parts.items():
            if line != "the other lines":
                apart = float(rows[own][names[line]]) - float(rows[other][names[line]])
                assert euro == pytest.approx(apart, abs=0.51 + len(parts) / 2)
    assert any("at another price" in words for words in sentences)
    assert opened.errors == []
    assert opened.strayed() == []


def test_lines_of_two_bills_make_the_difference_to_the_cent(opened, rows):
    """The rule itself, over designs of two runs as their files have them."""
    page = opened.page
    rule = f"([bill, a, b]) => {exported('differences.js', 'billDifference')}(bill, (name) => a[name], (name) => b[name])"
    bill = [{"column": name, "line": line} for name, line in BILL.items()]
    pairs = [(one, other) for one in ("A1", "A5") for other in ("B1", "B3", "A2")]
    for own, other in pairs:
        parts = page.evaluate(rule, [bill, rows[own], rows[other]])
        apart = float(rows[other]["cost_EUR"]) - float(rows[own]["cost_EUR"])
        assert sum(part["more"] for part in parts) == pytest.approx(apart, abs=0.01)
        assert [abs(part["more"]) for part in parts] == sorted((abs(p["more"]) for p in parts), reverse=True)


def test_opening_says_what_was_set_and_what_it_did(opened):
    """A paragraph for each other run: a few of the values set differently, then what became of the compromise."""
    page = opened.page
    words = page.locator("p.lead").all_inner_texts()
    assert words[0].startswith(
        "B against A. Set differently: budget 9000 instead of not set, price of store 40 instead of"
    )
    assert "The compromise of B is B" in words[0]
    assert words[1].startswith("C against A. Nothing was set differently")


def test_shortlist_takes_designs_of_all_runs_and_stands_in_the_address(watched, comparison, rows):
    """By button, by name and by a click on a mark; the address brings it back, and back and forward work."""
    page = watched.open(comparison)

    def chosen():
        return [text.split()[0] for text in page.locator("#shortlist-table thead th").all_inner_texts()[1:]]

    button = page.locator("[data-shortlist^=B]").first
    first = button.get_attribute("data-shortlist")
    button.click()
    assert chosen() == [first]
    page.fill("#design-name", "a2")
    page.press("#design-name", "Enter")
    assert chosen() == [first, "A2"]
    page.fill("#design-name", "Z1")
    page.press("#design-name", "Enter")
    assert "no design Z1" in page.inner_text("#design-told")
    page.locator("#against-1").scroll_into_view_if_needed()
    place = page.evaluate(
        """() => { const box = document.getElementById("against-1"), { xaxis, yaxis } = box._fullLayout,
        { x, y } = box.data[0], i = x.length - 1, at = box.getBoundingClientRect();
        return [at.x + xaxis._offset + xaxis.l2p(x[i]), at.y + yaxis._offset + yaxis.l2p(y[i])]; }"""
    )
    page.mouse.move(*place)
    settled(page)
    page.mouse.click(*place)
    settled(page)
    three = chosen()
    assert three[:2] == [first, "A2"]
    assert len(three) == 3
    assert three[2] in rows
    assert page.evaluate("location.hash") == f"#&shortlist={','.join(three)}"
    assert page.evaluate("document.getElementById('against-1').data.at(-1).text") == three
    words = page.locator("#shortlist-words li").all_inner_texts()
    table = page.locator("#shortlist-table tbody").inner_text()
    page.go_back()
    settled(page)
    assert chosen() == three[:2]
    page.go_forward()
    settled(page)
    assert chosen() == three
    page.goto("about:blank")
    page = watched.open(comparison, f"#&shortlist={','.join(three)},{HOSTILE},A999999")
    assert chosen() == three
    assert page.locator("#shortlist-words li").all_inner_texts() == words
    assert page.locator("#shortlist-table tbody").inner_text() == table
    differing = page.evaluate(
        """[...document.querySelectorAll("#shortlist-table tbody tr")].map((row) =>
        new Set([...row.cells].slice(1).map((cell) => cell.textContent)).size > 1)"""
    )
    assert differing == sorted(differing, reverse=True)
    links = page.locator("#shortlist-table thead a").evaluate_all(
        "all => all.map(a => a.getAttribute('href'))"
    )
    assert "./orchard/a/report.html#design-2" in links
    page.locator("#shortlist-table thead button").first.click()
    assert chosen() == three[1:]
    assert watched.errors == []


def test_what_one_run_does_not_have_is_a_dash_and_its_text_stays_text(watched, comparison, rows):
    """Without a line of the bill only the total is told; cells that hold markup are shown as they are."""
    levels = {name: float(row["cost_levels_EUR"]) for name, row in rows.items() if name[0] == "A"}
    own, other = min(levels, key=levels.get), max(levels, key=levels.get).replace("A", "C")
    page = watched.open(comparison, f"#&shortlist={own},{other}")
    (words,) = page.locator("#shortlist-words li").all_inner_texts()
    apart = float(rows[other]["cost_EUR"]) - float(rows[own]["cost_EUR"])
    assert re.search(
        rf"{other} costs [\d\u202f]+ EUR {'more' if apart > 0 else 'less'} than {own}; their bills", words
    )
    assert " for " not in words.partition(" costs ")[2]
    cells = {
        row[0]: row[1:]
        for row in page.evaluate(
            "[...document.querySelectorAll('#shortlist-table tbody tr')].map(row => [...row.cells].map(c => c.textContent))"
        )
    }
    assert cells["Cost: levels"][1] == "–"
    assert cells["Demand served"][1] == "–"
    assert cells["Fluid charge"][1] == "–"
    assert cells["Working fluid"][1] == HOSTILE
    assert HOSTILE in page.inner_text("#opening")
    assert page.locator("img").count() == 0
    assert page.title() == "3 runs compared"
    assert watched.errors == []


def test_a_run_without_a_design_is_told(watched, real_run, tmp_path):
    """Beside a run that found nothing there is no reason to tell, and the page says which found nothing."""
    empty = copy(real_run, tmp_path / "empty")
    header = (empty / "front.csv").read_text(encoding="utf-8").splitlines()[0]
    (empty / "front.csv").write_text(f"{header}\n", encoding="utf-8")
    (empty / "told.json").unlink()
    page = watched.open(write_comparison([real_run, empty, empty], tmp_path / "comparison.html"))
    assert page.inner_text("[data-changed='1']") == "Run B found no design that meets its scenario."
    assert page.locator("[data-reasons] li").count() == 0
    page = watched.open(write_comparison([empty, empty], tmp_path / "none.html"))
    assert page.inner_text("[data-changed='1']").startswith(
        "Run A found no design that meets its scenario. Run B"
    )
    assert watched.errors == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_serious_barrier(unguarded, comparison, axe, scheme):
    """axe-core finds nothing serious or critical, the shortlist laid out."""
    page = fresh(unguarded, scheme)
    page.goto(f"{comparison.as_uri()}#&shortlist=A1,B1,C1")
    page.wait_for_selector("html[data-ready=charts]", timeout=60_000)
    grave = barriers(page, axe)
    assert grave == []


def test_the_page_fits_a_phone(context, comparison):
    """At 390 px nothing but what scrolls by itself is wider than the window."""
    page = fresh(context, width=390, height=844)
    page.goto(f"{comparison.as_uri()}#&shortlist=A1,B1,C1")
    page.wait_for_selector("html[data-ready=charts]", timeout=60_000)
    wide = page.evaluate("document.documentElement.scrollWidth")
    page.close()
    assert wide <= 390
