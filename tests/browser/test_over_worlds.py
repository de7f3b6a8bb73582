"""The page of a search over worlds: what is read over them is marked, and the reader's prices move the bill alone."""

import csv
import re

import pytest

from explore.figures.format import shown
from explore.tell.page import write_page
from explore.tell.page.data import read_run
from explore.tell.page.picks import pick
from explore.tell.page.sentences import opening
from tests.browser.conftest import go
from tests.browser.test_presenting import at
from tests.browser.test_report_page import report
from tests.report.synthetic import make_run, over_worlds

pytestmark = pytest.mark.browser
SEEN = """() => ({
  cards: [...document.querySelectorAll("#cards .card:not([hidden])")].map((card) => ({
    role: card.dataset.role,
    name: card.querySelector("[data-line]").textContent,
  })),
  found: document.getElementById("opening-found").textContent,
  limits: document.getElementById("opening-limits").textContent,
  count: document.getElementById("count").textContent,
  bill: [...document.querySelectorAll("#bill tfoot td")].at(-1).textContent,
})"""
PRICES = "price.store=300&price.engine=250"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A made-up run, as if it had been searched cautiously, with its page."""
    made = over_worlds(make_run(tmp_path_factory.mktemp("cautious") / "run", count=600))
    write_page(made)
    return made


def lines(folder):
    """Lines of the front by the name that the page gives them."""
    with (folder / "front.csv").open(encoding="utf-8", newline="") as file:
        return {str(line): row for line, row in enumerate(csv.DictReader(file), start=1)}


def test_opening_marks_what_is_read_over_worlds(watched, folder):
    """Each objective says how it is read, in the file's words as in the script's; the own pressure beside them does not."""
    page, run = watched.open(report(folder)), read_run(folder)
    seen = page.evaluate(SEEN)
    middle = run.front.row(pick(run)[-1].row - 1)
    assert [seen["found"], seen["limits"]] == opening(run, pick(run))[1:]
    for name in ("cautious_work_per_litre_kJ", "cautious_cost_EUR", "cautious_peak_pressure_bar_g"):
        assert f"cautious {shown(middle[name], name)}".replace(" ", "\u00a0") in seen["found"].replace(
            " ", "\u00a0"
        )
    assert re.search(
        r"the most work, cautious [\d.]+.kJ/L, needs a plant for [\d.]+ bar gauge", seen["limits"]
    )
    assert watched.errors == []


def test_prices_move_the_bill_and_nothing_that_was_searched(watched, folder):
    """No design is called unbeaten at prices, no choice made with them; the note says what they do move."""
    page = watched.open(report(folder))
    before = page.evaluate(SEEN)
    go(page, f"#&{PRICES}")
    after = page.evaluate(SEEN)
    assert (after["count"], after["found"]) == (before["count"], before["found"])
    assert after["cards"] == before["cards"]
    assert after["bill"] != before["bill"]
    note = page.inner_text("#priced")
    assert note.startswith("Your prices move only the bill by the run’s own values: ")
    assert "your prices" not in at(page, 7, PRICES)[0].lower()
    assert "move only this bill" in at(page, 4, PRICES)[1]
    assert watched.errors == []


def test_screen_of_the_cost_tells_both_costs_apart(watched, folder):
    """The bill is by the run's own values; the cost that was searched, and the least of it, are marked as cautious."""
    page, every = watched.open(report(folder)), lines(folder)
    names = {card["role"]: card["name"] for card in page.evaluate(SEEN)["cards"]}
    middle, least = every[names["compromise"]], every[names["cautious_cost_EUR"]]
    assert middle != least
    said, whole = at(page, 4)
    assert f"costs {shown(middle['cost_EUR'], 'cost_EUR')} by the run’s own values: " in said
    own, lowest = (shown(row["cautious_cost_EUR"], "cautious_cost_EUR") for row in (middle, least))
    assert f"the compromise has cautious {own}." in whole
    assert f"The least cost found is cautious {lowest}, with " in whole
    assert "move only this bill" not in whole
    assert watched.errors == []
