"""The first picture: a curve for each fluid under the reader's limits, named at its end, without a legend."""

import re
from pathlib import Path

import numpy as np
import pytest

import explore.tell.page
from explore.tell.fluid_name import trade_name
from explore.tell.page.embed import exported
from explore.tell.page.fluids import COLOURS, compare
from tests.browser.conftest import go, settled
from tests.browser.test_report_page import embedded, report
from tests.real_run import once_read

pytestmark = pytest.mark.browser
STATIC = Path(explore.tell.page.__file__).parent / "static"
LEAST_CONTRAST = 3.0
"""Of what is drawn against its ground: W3C, Web Content Accessibility Guidelines 2.2, success criterion 1.4.11."""
CURVES = """() => {
  const { data, layout } = document.getElementById("chart-overview");
  return {
    curves: data.filter((trace) => trace.mode === "lines")
      .map(({ x, y, line, customdata }) => ({ x, y, colour: line.color, rows: customdata })),
    ends: data.filter((trace) => trace.cliponaxis === false).map(({ y, marker }) => ({ y: y[0], symbol: marker.symbol })),
    names: layout.annotations.filter(({ ax, text }) => text !== "The compromise").map(({ text, y }) => ({ text, y })),
    behind: data.filter(({ mode, cliponaxis }) => mode === "markers" && cliponaxis !== false)
      .reduce((count, { x }) => count + x.length, 0),
  };
}"""


def drawn(page):
    page.evaluate("document.getElementById('overview').scrollIntoView()")
    page.wait_for_function("document.getElementById('chart-overview').data !== undefined")
    settled(page)
    return page.evaluate(CURVES)


@pytest.mark.parametrize("limits", ["", "ceiling=4.5&budget=12000", "off=Cyclopentane,Ethanol"])
def test_each_fluid_has_the_curve_of_its_own_best_under_the_limits(looked, run_folder, limits):
    """Work and cost of each step are those of the most work for up to that cost, among the fluid's own designs left."""
    run, every = once_read(run_folder), embedded(run_folder)
    page = looked.at(f"#&{limits}")
    found = drawn(page)
    asked = dict(pair.split("=") for pair in limits.split("&") if pair)
    left = {}
    for row in every.values():
        cost, work = float(row["cost_EUR"]), float(row["work_per_litre_kJ"])
        if float(row["peak_pressure_bar_g"]) > float(asked.get("ceiling", np.inf)) or cost > float(
            asked.get("budget", np.inf)
        ):
            continue
        if row["fluid"] not in asked.get("off", "").split(","):
            left.setdefault(row["fluid"], []).append((cost, work))
    titles = {card.name: trade_name(card.title) for card in run.case.fluids.values()}
    assert sorted(one["text"] for one in found["names"]) == sorted(titles[name] for name in left)
    for curve, name in zip(found["curves"], found["names"], strict=True):
        mine = np.array(left[next(fluid for fluid in left if titles[fluid] == name["text"])])
        best = [mine[mine[:, 0] <= cost, 1].max() for cost in curve["x"][:-1]]
        assert curve["y"][:-1] == pytest.approx(best)
        assert curve["x"][0] == pytest.approx(mine[:, 0].min())
        assert curve["y"][-1] == name["y"] == pytest.approx(mine[:, 1].max())
    assert len({curve["colour"] for curve in found["curves"]}) == len(found["curves"])
    assert len({end["symbol"] for end in found["ends"]}) == len(found["curves"])
    assert len({curve["x"][-1] for curve in found["curves"]}) == 1
    assert looked.errors == []


def test_marks_are_behind_on_demand_and_a_curve_opens_its_design(watched, run_folder):
    """At first no mark but those at the ends; ticked, all designs left; a click on a step opens its design."""
    page = watched.open(report(run_folder))
    assert drawn(page)["behind"] == 0
    page.check("#overview-marks")
    found = drawn(page)
    assert found["behind"] == len(embedded(run_folder))
    row = found["curves"][0]["rows"][0]
    page.evaluate(
        "(row) => document.getElementById('chart-overview').emit('plotly_click', { points: [{ customdata: row }] })",
        row,
    )
    settled(page)
    assert page.inner_text("#sheet-line") == list(embedded(run_folder))[row]
    go(page, "#&ceiling=0.01")
    settled(page)
    assert drawn(page)["curves"] == []
    assert watched.errors == []


def test_names_at_the_edge_keep_apart_and_near(looked, run_folder):
    """Names never overlap, stay within the chart, and where there is room stand where their curves end."""
    page = looked.page
    spread = exported("curves.js", "spread")
    for places in ([10, 12, 13, 100, 300], [300, 299, 298], [0, 0, 0, 0], [50, 200]):
        found = page.evaluate(f"(places) => {spread}(places, 15, 300)", places)
        ordered = sorted(found)
        assert np.diff(ordered).min() >= 15 - 1e-9
        assert ordered[0] >= -1e-9
        assert ordered[-1] <= 300
        assert np.array_equal(np.argsort(found, kind="stable"), np.argsort(places, kind="stable"))
    assert page.evaluate(f"(places) => {spread}(places, 15, 300)", [50, 200]) == [50, 200]
    assert page.evaluate(f"(places) => {spread}(places, 10, 300)", [100, 100, 100]) == [90, 100, 110]


def test_parallel_coordinates_are_folded_and_begin_with_the_objectives(watched, run_folder):
    """They are drawn when they are opened: fluid, then objectives, then the rest."""
    page = watched.open(report(run_folder))
    assert not page.locator("#parallel").is_visible()
    page.click("#parallel-box summary")
    page.wait_for_function("document.getElementById('parallel').data !== undefined")
    names = page.evaluate("document.getElementById('parallel').data[0].dimensions.map(({ name }) => name)")
    asked = [one.figure for one in once_read(run_folder).case.scenario.objectives]
    assert names[: len(asked) + 1] == ["fluid", *asked]


def test_fluids_share_neither_colour_nor_shape(run_folder):
    """All candidate fluids of the run differ in both."""
    rows = compare(once_read(run_folder))
    assert 20 <= len(rows) <= COLOURS
    assert len({row.colour for row in rows}) == len({row.symbol for row in rows}) == len(rows)


def luminance(colour):
    """Relative luminance as the guidelines define it."""
    channels = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4) @ [
        0.2126,
        0.7152,
        0.0722,
    ]


@pytest.mark.parametrize(("scheme", "ground"), [("light", 0), ("dark", 1)])
def test_colours_stand_out_from_the_ground(scheme, ground):
    """Every colour of the palette has the contrast that the guidelines ask of what is drawn, and is there once."""
    paper = re.findall(r"--paper: (#\w{6})", (STATIC / "page.css").read_text(encoding="utf-8"))[ground]
    listed = re.search(rf"{scheme}: \[([^\]]+)\]", (STATIC / "theme.js").read_text(encoding="utf-8"))[1]
    colours = re.findall(r"#\w{6}", listed)
    assert len(set(colours)) == COLOURS
    for colour in colours:
        lighter, darker = sorted((luminance(colour), luminance(paper)), reverse=True)
        assert (lighter + 0.05) / (darker + 0.05) >= LEAST_CONTRAST, colour


def test_trade_names_come_first_and_files_keep_theirs(looked, run_folder):
    """Cards and tables call fluids by trade names, with the library's in brackets where it differs; CSV does not."""
    run = once_read(run_folder)
    page = looked.page
    table = page.locator("#fluid-table tbody tr")
    named = dict(
        table.evaluate_all("rows => rows.map((row) => [row.dataset.fluid, row.cells[0].textContent.trim()])")
    )
    assert named["n-Propane"] == "Propane (n-Propane)"
    assert named["R134a"] == "R134a"
    cards = {card.name: card for card in run.case.fluids.values()}
    for name, words in named.items():
        assert words.startswith(trade_name(cards[name].title))
    with page.expect_download() as waiting:
        page.click("#download")
    saved = Path(waiting.value.path()).read_text(encoding="utf-8")
    assert {line.split(",")[0] for line in saved.splitlines()[1:]} <= set(named)
