"""The reader's own prices: every cost on the page is what task=reprice makes of the same designs."""

import csv
import io
import shlex
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from explore.config.compose import load_scenario
from explore.design.variables import INPUTS
from explore.figures.format import shown, three_digits
from explore.search.reprice import reprice
from explore.tell.page import prices
from tests.browser.conftest import go, settled
from tests.browser.test_report_page import embedded, report
from tests.browser.test_states import SEEN
from tests.real_run import once_read

pytestmark = pytest.mark.browser
SETS = (
    {"store": 200, "interest": 8, "charge": 50},
    {"engine": 35, "levels": 260, "fittings": 25, "lifetime": 7},
    {"collectors": 140, "boiler": 80.5, "condenser": 310, "instruments": 0, "maintenance": 0},
    {"insulation": 500, "interest": 0, "lifetime": 33},
)


def downloaded(page):
    """Lines of the CSV that the page hands out, as mappings."""
    with page.expect_download() as waiting:
        page.click("#download")
    text = Path(waiting.value.path()).read_text(encoding="utf-8")
    return list(csv.DictReader(io.StringIO(text)))


def frame(rows):
    """Designs as a frame that the model evaluates, from cells as written."""
    table = pd.read_csv(
        io.StringIO("\n".join([",".join(rows[0]), *(",".join(row.values()) for row in rows)]))
    )
    return table[[name for name in INPUTS if name in table]]


@pytest.mark.parametrize("asked", SETS, ids=lambda asked: "-".join(asked))
def test_costs_are_those_of_task_reprice_to_the_cent(looked, run_folder, asked):
    """The command that the page names, run on the page's designs, gives each cost; cards, sheet and opening follow."""
    page = looked.at("#&" + "&".join(f"price.{name}={value}" for name, value in asked.items()))
    rows = downloaded(page)
    some = rows[:: max(1, len(rows) // 12)]
    words = shlex.split(page.text_content("#priced-command"))
    assert words[:2] == ["explore", "task=reprice"]
    case = load_scenario(run_folder, words[3:])
    found = reprice(case, frame(some)).designs
    for name in ("cost_EUR", "annual_cost_EUR", "cost_EUR_per_kWh", "cost_fittings_EUR", "cost_store_EUR"):
        np.testing.assert_allclose(
            [float(row[name]) for row in some], found[name], rtol=0, atol=0.005, err_msg=name
        )
    seen = page.evaluate(SEEN)
    every = list(embedded(run_folder))
    costs = dict(
        zip(every, page.evaluate("[...document.getElementById('scatter-1').data[1].x]"), strict=True)
    )
    for card in seen["cards"]:
        assert card["cost"] == shown(repr(costs[card["name"]]), "cost_EUR")
        assert card["cost"].replace(" ", "\u00a0") in seen["found"]
    page.evaluate(
        "(name) => { document.querySelector(`#designs a[href='#design-${name}']`).click() }",
        seen["cards"][0]["name"],
    )
    settled(page)
    total = page.locator("#bill tfoot td").last.inner_text()
    assert total == three_digits(costs[page.inner_text("#sheet-line")])
    assert looked.errors == []


def test_reset_leads_back_to_the_searched_case(watched, run_folder):
    """After a price was moved, the reset gives the page as it was, and the address no longer names a price."""
    page = watched.open(report(run_folder))
    before = page.evaluate(SEEN)
    page.click("#prices-box summary")
    page.locator("#price-rows input[type=number]").first.fill("250")
    page.keyboard.press("Tab")
    settled(page)
    assert page.evaluate(SEEN)["cards"] != before["cards"]
    assert "price." in page.evaluate("location.hash")
    assert page.locator("#priced").is_visible()
    page.click("#prices-box [data-unprice]")
    settled(page)
    assert page.evaluate(SEEN) == before
    assert "price." not in page.evaluate("location.hash")
    assert page.locator("#priced").is_hidden()
    go(page, "#&price.store=150")
    assert page.locator("#priced-words").inner_text().endswith("150 %")


def test_fluids_are_sorted_by_the_costs_that_are_shown(watched, run_folder):
    """At the reader's prices the least cost of each fluid rises down the table, and at the searched ones again."""
    shown_costs = """() => {
      const cells = [...document.querySelectorAll("#fluid-table tbody [data-least]")];
      return cells.map((cell) => Number(cell.textContent.replace(/\\s/g, ""))).filter(Number.isFinite);
    }"""
    asked = "#fluid-table button[data-key=least_cost]"
    page = watched.open(report(run_folder))
    go(page, "#&price.collectors=0&price.store=300")
    page.eval_on_selector(asked, "button => button.click()")
    once = page.evaluate(shown_costs)
    assert once == sorted(once)
    go(page, "#")
    back = page.evaluate(shown_costs)
    assert back == sorted(back) != once  # without being asked again
    page.eval_on_selector(asked, "button => button.click()")
    assert page.evaluate(shown_costs) == back[::-1] != back


def test_each_line_is_a_multiple_of_its_keys_alone(run_folder):
    """Twice the keys of a line double that line and no other but the fittings, which follow from all."""
    run = once_read(run_folder)
    some = frame([run.front.row(0), run.front.row(len(run.front) - 1)])
    plain = reprice(load_scenario(run_folder), some).designs
    listed = [one for one in prices.lines(run) if one["paid"]]
    assert {"store", "engine", "levels", "charge", "collectors"} <= {one["name"] for one in listed}
    for one in listed:
        doubled = [f"{key}={2 * value}" for key, value in one["keys"]]
        found = reprice(load_scenario(run_folder, doubled), some).designs
        for other in listed:
            factor = 2.0 if other is one else 1.0
            np.testing.assert_allclose(found[other["column"]], factor * plain[other["column"]], rtol=1e-9)
