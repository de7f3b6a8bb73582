"""The page of a day: charts drawn, nothing asked for, no wider than a telephone, as wide as the paper."""

import datetime
from pathlib import Path

import pytest

from explore.config.compose import compose_case
from explore.model import Evaluator
from explore.model.day import day
from explore.model.details import records
from explore.run.design_file import evaluated
from explore.tell.day.page import page
from tests.browser.conftest import fresh

pytestmark = pytest.mark.browser
FRONT = Path(__file__).parents[2] / "results" / "example" / "front.csv"


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """The page of a day of a design whose cut-off governs it, in September."""
    case = compose_case(["task=day"])
    figures = records(evaluated(FRONT, case, 46))[0]
    told = day(Evaluator(case, case.search.properties), figures, datetime.date(1990, 9, 8))
    file = tmp_path_factory.mktemp("day") / "day.html"
    file.write_text(page(told, figures, "a <b>fluid</b>", "Made up", []), encoding="utf-8")
    return file


def test_it_opens_offline_with_all_charts(watched, written):
    """Every chart has a minute's value for each of the day's, shaded hours, and no complaint."""
    opened = watched.open(written)
    for name, lines in {"heat": 3, "store": 4, "power": 2, "pressure": 3, "governor": 1}.items():
        drawn = opened.evaluate(f"document.getElementById('chart-{name}').data.map((line) => line.x.length)")
        assert len(drawn) == lines, name
        assert drawn[0] == 1440
    assert opened.evaluate("document.getElementById('chart-power').layout.shapes.length") == 1
    assert watched.errors == []
    assert watched.strayed() == []


def test_it_fits_a_telephone_and_the_paper(context, written):
    """At 390 px nothing makes the page wider; before printing charts are as wide as their boxes on the paper."""
    opened = fresh(context, "dark", width=390, height=844)
    opened.goto(written.as_uri())
    opened.wait_for_selector("html[data-ready=charts]", timeout=60_000)
    assert opened.evaluate("document.documentElement.scrollWidth") == 390
    opened.evaluate("dispatchEvent(new Event('beforeprint'))")
    for name in ("heat", "pressure"):
        box, chart = opened.evaluate(
            "(id) => [id, `${id} .main-svg`].map((one) => document.querySelector(one).clientWidth)",
            f"#chart-{name}",
        )
        assert abs(box - chart) <= 1, name
    assert opened.evaluate("getComputedStyle(document.body).color") == "rgb(29, 35, 39)"
    opened.close()
