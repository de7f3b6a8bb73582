"""The sheet of a run with parts at hand: what more of each would add, or the command that says it."""

import json

import pytest
import yaml

from explore.tell.more import rows, sentences
from explore.tell.page import write_page
from explore.tell.page.data import read_run
from explore.tell.page.picks import pick
from tests.browser.test_report_page import report
from tests.report.synthetic import make_run

pytestmark = pytest.mark.browser
TOLD = {
    "parts": [
        {
            "part": "boiler <b>area</b>", "size": "boiler_area_m2", "before": 0.5, "after": 0.55,
            "moved": {"pinch_boiler_K": [4.3, 3.4]}, "energy_kWh_per_year": 2.2, "cost_EUR": 6.44,
            "kWh_per_year_per_EUR": 0.342, "broken": [],
        },
    ],
    "charge_kg": [1.6, 5.0],
}  # fmt: skip
"""Invented; markup in it is text."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A made-up run whose scenario owns a coil, what more of it adds told of all that is recommended."""
    made = make_run(tmp_path_factory.mktemp("owned") / "run", count=600)
    config = yaml.safe_load((made / "config.yaml").read_text(encoding="utf-8"))
    config["scenario"]["owned"] = {"boiler_area_m2": 50.0}
    (made / "config.yaml").write_text(yaml.safe_dump(config), encoding="utf-8")
    summary = json.loads((made / "summary.json").read_text(encoding="utf-8"))
    known = {one.row for one in pick(read_run(made))}
    summary["picks"] = [{"role": "compromise", "row": row, "more": TOLD} for row in sorted(known)]
    (made / "summary.json").write_text(json.dumps(summary), encoding="utf-8")
    write_page(made)
    return made


def test_the_sheet_has_the_table_of_a_recommended_design(watched, folder):
    """Cells and sentences are those that the terminal has; what was told of one design goes when another is opened."""
    known = sorted({one.row for one in pick(read_run(folder))})
    other = next(row for row in range(1, 600) if row not in known)
    page = watched.open(report(folder), f"#design-{known[0]}")
    box = page.locator("#sheet-more")
    cells = [one.inner_text() for one in box.locator("tbody th, tbody td").all()]
    assert cells == [cell.replace(" ", "\u00a0") if i else cell for i, cell in enumerate(rows(TOLD)[0])]
    assert [one.inner_text() for one in box.locator("li").all()] == sentences(TOLD)
    assert "limits and prices that you set on this page change nothing" in box.inner_text()
    assert box.locator("code").count() == 0
    page.evaluate(f"location.hash = '#design-{other}'")
    page.wait_for_function(f"document.getElementById('sheet-line').textContent === '{other}'")
    assert box.locator("td").count() == 0
    assert box.locator("li").count() == 0
    (command,) = (one.inner_text() for one in box.locator("code").all())
    scenario = read_run(folder).case.scenario.name
    assert command == f"explore task=inspect design=results/{scenario}/{folder.name}/front.csv row={other}"
    assert watched.errors == []


def test_nothing_is_told_without_parts(looked, run_folder):
    """A scenario that owns nothing has no such figure on its sheet."""
    page = looked.at("#design-2")
    assert not page.locator("#sheet-more").is_visible()
