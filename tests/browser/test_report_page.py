"""The page of a run in a real browser: opened from its file, offline."""

import csv
import json
import os
import random
import re
import shutil
import statistics
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from explore.figures.catalogue import BILL, TUBE_COLUMNS
from explore.figures.format import label, says_nothing, shown, three_digits, write
from explore.judgement.front import nondominated, normalise, recommended
from explore.tell.page import write_page
from explore.tell.page.data import read_run
from explore.tell.page.embed import exported
from explore.tell.page.picks import broken_with_tubes
from tests.benchmarks.page import MARK_READY
from tests.browser.conftest import Watched, fresh, marks_shown, passed_by, settled
from tests.real_run import TITLE, once_read
from tests.report.synthetic import designs, make_run, write_csv

CASES = Path(__file__).parents[1] / "data" / "pick_cases.json"
pytestmark = pytest.mark.browser
NUMBERS = (
    308796.0,
    99999.7,
    12.25,
    9.999,
    999.7,
    12345.5,
    0.004567,
    -0.4432,
    0.0,
    1e-9,
    100.0,
    1234567.0,
    0.125,
    99.95,
)


@pytest.fixture
def rows(run_folder):
    """Lines of front.csv as mappings of column to cell."""
    with (run_folder / "front.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def report(run_folder: Path) -> Path:
    return run_folder / "report.html"


def embedded(run_folder):
    """What the page is told to show: cells of each design by its name, front first, then those kept beside it."""
    return told_to_show(run_folder)[1]


@lru_cache(maxsize=2)
def told_to_show(run_folder):
    """Read the session's run, which nobody changes, once: the run, and its designs by name."""
    run = once_read(run_folder)
    named = {str(line): run.front.row(line - 1) for line in range(1, len(run.front) + 1)}
    return run, named | {f"D{line}": run.kept.row(place) for place, line in enumerate(run.kept_lines)}


def left_by(run_folder, holds):
    """Names of the embedded designs that pass ``holds`` and that no other of these beats, in their order."""
    run, every = told_to_show(run_folder)
    objectives = run.case.scenario.objectives
    passing = {name: row for name, row in every.items() if holds(row)}
    if not passing:
        return []
    figures = {o.figure: np.array([float(row[o.figure]) for row in passing.values()]) for o in objectives}
    kept = nondominated(normalise(figures, objectives))
    return [name for name, good in zip(passing, kept, strict=True) if good]


def recommended_names(run_folder, names):
    """Names that the front module recommends of those left."""
    run, every = told_to_show(run_folder)
    objectives = run.case.scenario.objectives
    asked = {"cost_EUR", *(o.figure for o in objectives)}
    figures = {figure: [float(every[name][figure]) for name in names] for figure in asked}
    places = {name: place for place, name in enumerate(every, start=1)}
    broken = broken_with_tubes(run)
    barred = {place for place, name in enumerate(names) if places[name] in broken}
    return [names[row] for row in recommended(figures, objectives, barred)]


def recommended_rows(run_folder, rows, lines=None):
    """Rows that the front module recommends; ``lines`` are their numbers in front.csv, one after the other if not given."""
    run = read_run(run_folder)
    lines = lines or range(1, len(rows) + 1)
    broken = broken_with_tubes(run)
    barred = {place for place, line in enumerate(lines) if line in broken}
    names = ("work_per_litre_kJ", "cost_EUR", "peak_pressure_bar_g")
    figures = {name: [float(row[name]) for row in rows] for name in names}
    return recommended(figures, run.case.scenario.objectives, barred)


def type_limit(page, name, value):
    """Type a limit and wait until the page has settled."""
    page.fill(f"#{name}", str(value))
    settled(page)


def table_lines(page):
    """Names of all rows of the table, page by page from the first."""
    found = []
    while not page.locator("#back").is_disabled():
        page.click("#back")
    while True:
        found += page.locator("#designs tbody th a").all_inner_texts()
        if page.locator("#next").is_disabled():
            return found
        page.click("#next")


def shows(page, run_folder, chart, names):
    """Whether a scatter chart shows the marks of these designs and no others, and the pointer finds no others."""
    places = {name: place for place, name in enumerate(embedded(run_folder))}
    wanted = sorted(places[name] for name in names)
    found = page.evaluate(FOUND, chart)
    return marks_shown(page, chart, wanted) and set(wanted) <= set(found)


FOUND = "(chart) => document.getElementById(chart).calcdata[1].flatMap(({ mrc }, i) => mrc > 0 ? [i] : [])"


def test_opens_offline_without_complaint(watched, run_folder):
    """No console error, no request that leaves the file, over the whole length of the page."""
    page = watched.open(report(run_folder))
    height = page.evaluate("document.documentElement.scrollHeight")
    for y in range(0, height, 700):
        page.evaluate(f"scrollTo(0, {y})")
        settled(page, 100)
    page.click("#space-box summary")
    settled(page)
    assert watched.errors == []
    assert watched.strayed() == []
    assert page.locator("text=WebGL is not supported").count() == 0
    assert page.locator(".modebar-btn[data-title*='hare']").count() == 0


def test_user_text_stays_text(looked, run_folder):
    """A scenario title with markup is read as it was typed."""
    page = looked.page
    assert page.inner_text("h1") == TITLE
    assert page.locator("h1 b, h1 script, h1 img").count() == 0


def test_ceiling_filters_scatter_table_and_cards(looked, run_folder, rows):
    """A lower pressure ceiling leaves exactly the designs under it, everywhere at once, and new recommendations."""
    page = looked.page
    pressures = sorted(float(row["peak_pressure_bar_g"]) for row in rows)
    ceiling = round(pressures[len(pressures) // 3], 4)
    type_limit(page, "ceiling", ceiling)
    left = left_by(run_folder, lambda row: float(row["peak_pressure_bar_g"]) <= ceiling)
    assert 0 < len(left) < len(rows)
    for chart in ("scatter-1", "scatter-2"):
        assert shows(page, run_folder, chart, left)
    assert set(table_lines(page)) == set(left)
    best = recommended_names(run_folder, left)[0]
    card = page.locator(".card[data-role=work_per_litre_kJ]")
    assert card.locator("[data-line]").inner_text() == best
    assert card.locator("[data-figure=cost_EUR]").first.inner_text() == shown(
        embedded(run_folder)[best]["cost_EUR"], "cost_EUR"
    )
    page.click("#reset")
    settled(page)
    assert shows(page, run_folder, "scatter-1", map(str, range(1, len(rows) + 1)))


def test_cards_follow_the_rule_of_the_front_module(watched, run_folder, rows, tmp_path):
    """A design beyond the scale of cost is not recommended, and another next to the best work is, if far cheaper."""
    best = max(rows, key=lambda row: float(row["work_per_litre_kJ"]))
    most = float(best["work_per_litre_kJ"])
    cheapest = min(float(row["cost_EUR"]) for row in rows if float(row["work_per_litre_kJ"]) >= 0.98 * most)
    near = dict(best, work_per_litre_kJ=0.999 * most, cost_EUR=0.5 * cheapest)
    far = dict(best, work_per_litre_kJ=1.2 * float(best["work_per_litre_kJ"]), cost_EUR=15001)
    dear = dict(best, cost_EUR=14999)
    changed = [row for row in rows if row is not best] + [far, dear, near]
    folder = shutil.copytree(run_folder, tmp_path / "run")
    write_csv(folder / "front.csv", changed)
    summary = json.loads((folder / "summary.json").read_text(encoding="utf-8")) | {"broken_with_tubes": {}}
    (folder / "summary.json").write_text(json.dumps(summary), encoding="utf-8")
    page = watched.open(write_page(folder))
    lines = [int(text) for text in page.locator(".card [data-line]").all_inner_texts()]
    assert lines == [row + 1 for row in recommended_rows(folder, changed)]
    assert lines[0] == len(changed)


def test_budget_and_fluids_filter(looked, run_folder, rows):
    """A budget and a fluid switched off leave the designs that pass both; a limit nothing meets leaves no card."""
    page = looked.page
    costs = sorted(float(row["cost_EUR"]) for row in rows)
    budget, fluid = round(costs[len(costs) // 2], 3), rows[0]["fluid"]
    type_limit(page, "budget", budget)
    page.uncheck(f'#legend input[value="{fluid}"]')
    settled(page)
    left = left_by(run_folder, lambda row: float(row["cost_EUR"]) <= budget and row["fluid"] != fluid)
    assert set(table_lines(page)) == set(left)
    type_limit(page, "budget", 1)
    assert page.locator("#cards-none").is_visible()
    assert page.locator(".card:visible").count() == 0


def test_words_filter(looked, run_folder, rows):
    """Words and comparisons narrow the designs together."""
    page = looked.page
    one = rows[len(rows) // 2]
    page.fill("#words", f"{one['store_mode']} stages={one['stages']}")
    settled(page)
    same = ("store_mode", "stages")
    left = left_by(run_folder, lambda row: all(row[name] == one[name] for name in same))
    assert left
    assert len(left) != len(rows)
    assert set(table_lines(page)) == set(left)


def test_moving_limit_hides_marks_at_once(looked, run_folder, rows):
    """One frame after the slider moves, the marks above the ceiling are gone."""
    page = looked.page
    page.evaluate("document.querySelector('.pair').scrollIntoView({ block: 'end' })")
    settled(page)
    count = page.evaluate(
        """async () => {
          const range = document.getElementById("ceiling-range");
          range.value = 100;
          range.dispatchEvent(new Event("input"));
          await new Promise(requestAnimationFrame);
          await new Promise(requestAnimationFrame);
          return document.querySelector("#scatter-1 .marks").stamps.length;
        }"""
    )
    ceiling = float(page.input_value("#ceiling"))
    assert count == len(left_by(run_folder, lambda row: float(row["peak_pressure_bar_g"]) <= ceiling))


def test_hidden_marks_are_not_found(watched, run_folder, rows):
    """The pointer on the mark of a design above the ceiling shows and opens nothing, also after a zoom."""
    page = watched.open(report(run_folder))
    pressures = [float(row["peak_pressure_bar_g"]) for row in rows]
    highest = pressures.index(max(pressures))
    page.evaluate("document.getElementById('controls').scrollIntoView()")
    place = """(i) => {
      const chart = document.getElementById("scatter-2"), { x, y } = chart.data[1], { xaxis, yaxis } = chart._fullLayout;
      const frame = chart.querySelector(".nsewdrag").getBoundingClientRect();
      return [frame.x + xaxis.d2p(x[i]), frame.y + yaxis.d2p(y[i])];
    }"""
    spot = page.evaluate(place, highest)
    page.mouse.move(*spot)
    page.wait_for_selector("#scatter-2 .hovertext")
    page.mouse.move(spot[0], spot[1] - 300)
    type_limit(page, "ceiling", sorted(pressures)[len(rows) // 3])
    page.evaluate("Plotly.relayout('scatter-2', { 'xaxis.range[1]': 1000 })")
    page.evaluate("Plotly.relayout('scatter-2', { 'xaxis.autorange': true })")
    assert shows(page, run_folder, "scatter-2", table_lines(page))
    page.evaluate("document.getElementById('controls').scrollIntoView()")
    page.mouse.move(*page.evaluate(place, highest))
    settled(page)
    assert page.locator("#scatter-2 .hovertext").count() == 0


def test_a_box_brings_no_hidden_mark_back(watched, run_folder, rows):
    """Once a box has selected, the pointer finds no design above the ceiling, not the one mark the library draws."""
    page = watched.open(report(run_folder))
    lines = list(embedded(run_folder))
    of_first = float(rows[0]["peak_pressure_bar_g"])
    assert lines[0] == "1"
    left = left_by(run_folder, lambda row: float(row["peak_pressure_bar_g"]) <= 0.95 * of_first)
    assert "1" not in left
    type_limit(page, "ceiling", 0.95 * of_first)
    page.evaluate("document.getElementById('controls').scrollIntoView()")
    settled(page)
    frame = page.locator("#scatter-1 .nsewdrag").bounding_box()
    page.mouse.move(frame["x"] + 5, frame["y"] + 60)
    page.mouse.down()
    page.mouse.move(frame["x"] + 0.95 * frame["width"], frame["y"] + 0.9 * frame["height"], steps=6)
    page.mouse.up()
    settled(page)
    assert re.match(r"[\d\u202f]+ selected", page.inner_text("#selected"))
    assert [lines[place] for place in page.evaluate(FOUND, "scatter-1")] == [
        name for name in lines if name in left
    ]


def test_axes_take_every_figure_and_fit_what_is_left(looked, run_folder, rows):
    """A chosen axis shows that figure of each design; the axes fit what the limits leave when asked, until a reset."""
    page = looked.page
    usual = page.input_value("#axis-x1")
    page.select_option("#axis-x1", "store_volume_L")
    settled(page)
    drawn = page.evaluate("[...document.getElementById('scatter-1').data[1].x]")
    expected = [float(row["store_volume_L"]) for row in embedded(run_folder).values()]
    assert drawn == pytest.approx(expected)
    offered = page.evaluate("[...document.querySelectorAll('#axis-y option')].map((one) => one.value)")
    assert len(offered) > 60
    # Designs beside the front that a test before has shown leave the axes wide.
    for button in ("#fit", "#reset"):
        page.click(button)
        settled(page)
    whole = page.evaluate("document.getElementById('scatter-2').layout.xaxis.range")
    pressures = sorted(float(row["peak_pressure_bar_g"]) for row in rows)
    ceiling = pressures[len(pressures) // 3]
    type_limit(page, "ceiling", ceiling)
    assert page.evaluate("document.getElementById('scatter-2').layout.xaxis.range") == whole
    page.click("#fit")
    settled(page)
    low, high = page.evaluate("document.getElementById('scatter-2').layout.xaxis.range")
    assert low < pressures[0]
    assert ceiling * 0.8 < high < ceiling + 0.1 * (ceiling - pressures[0])
    page.click("#reset")
    settled(page)
    assert page.evaluate("document.getElementById('scatter-2').layout.xaxis.range") == whole
    page.select_option("#axis-x1", usual)


def test_click_opens_the_sheet_of_that_design(looked, run_folder, rows):
    """A click on a mark opens its sheet, with every figure as front.csv has it; for who likes motion it glides there."""
    page = looked.page
    page.emulate_media(reduced_motion="no-preference")
    page.evaluate("document.getElementById('controls').scrollIntoView()")
    place = page.evaluate(
        """() => {
          const canvas = document.querySelector("#scatter-1 .marks"), box = canvas.getBoundingClientRect();
          const [x, y] = canvas.stamps.at(-1);
          return [box.x + x, box.y + y];
        }"""
    )
    page.mouse.move(*place)
    settled(page)
    page.mouse.click(*place)
    page.wait_for_function("location.hash.startsWith('#design-')")
    settled(page)
    assert 0 <= page.locator("#sheet-title").bounding_box()["y"] < 450
    line = int(page.inner_text("#sheet-line"))
    assert page.evaluate("location.hash") == f"#design-{line}"
    row = rows[line - 1]
    figures = page.locator("#all-figures [data-figure]").evaluate_all(
        "all => all.map((one) => [one.dataset.figure, one.getClientRects().length > 0, one.textContent])"
    )
    assert len(figures) > 60
    for name, visible, text in figures:
        if says_nothing(row[name], name, row["store_mode"]):
            assert not visible, name
        elif row[name] != "":
            assert text == shown(row[name], name), name


@pytest.fixture(scope="module")
def opened_at_third(context, run_folder):
    """The page opened at the sheet of line 3."""
    watched = Watched(fresh(context))
    settled(watched.open(report(run_folder), "#design-3"))
    yield watched
    watched.page.close()


@pytest.fixture
def third(opened_at_third):
    """That page before all others, for tests that open what is folded there and change nothing else."""
    opened_at_third.page.bring_to_front()
    return opened_at_third


def test_sheet_opens_from_the_address(third, run_folder):
    """#design-3 opens line 3 with its states, its diagrams and its own cautions."""
    page = third.page
    assert page.inner_text("#sheet-line") == "3"
    cautions = once_read(run_folder).sheets["designs"]["3"]["cautions"]
    assert cautions[0]["text"] in page.inner_text("#hazard-list")
    assert page.locator("#schematic svg .point").count() >= 4
    for chart in (
        "chart-ts",
        "chart-boiler",
        "chart-condenser",
        "chart-indicator",
        "chart-exergy",
        "chart-served",
        "chart-bill",
    ):
        assert page.evaluate(f"document.getElementById('{chart}').data.length") >= 1, chart


def drawn(value):
    """A number as the page carries it within sheets: with four digits."""
    return float(f"{value:.4g}")


def costs(run, line):
    """Each line of a design's bill and what it costs."""
    return [(words, run.front.numbers(name)[line - 1]) for name, words in BILL.items()]


def test_sheet_writes_the_figures_of_its_file(third, run_folder):
    """Every state, the points of the schematic, the account of exergy and the comparison with tubes, number by number."""
    run = once_read(run_folder)
    sheet, air = run.sheets["designs"]["3"], run.summary["air_pressure_bar_a"]
    page = third.page
    page.wait_for_function("document.getElementById('chart-exergy').data?.length > 0")

    def table(name):
        rows = f"[...document.querySelectorAll('{name} tbody tr')]"
        cells = f"{rows}.map(row => [...row.cells].map(cell => cell.textContent))"
        return page.evaluate(cells)

    expected = []
    for number, state in enumerate(sheet["states"], 1):
        pressure = drawn(state["p_bar_a"])
        rest = [drawn(state[key]) for key in ("T_degC", "h_kJ_per_kg", "s_kJ_per_kgK")]
        quality = float("nan") if state["quality"] is None else drawn(state["quality"])
        figures = [
            write(pressure),
            write(pressure - air, "peak_pressure_bar_g"),
            *map(write, [*rest, quality]),
        ]
        expected.append([str(number), state["name"], *figures])
    assert table("#states") == expected
    picture = page.evaluate("document.querySelector('#schematic svg').textContent")
    first = sheet["states"][0]
    assert f"{three_digits(drawn(first['T_degC']))} °C" in picture
    assert f"{three_digits(drawn(first['p_bar_a']))} bar abs." in picture
    bars = page.evaluate("document.getElementById('chart-exergy').data[0].x")
    exergy = sheet["exergy"]
    assert bars[0] == pytest.approx(exergy["supplied_kJ_per_kg"], rel=1e-3)
    destroyed = sum(one["destroyed_kJ_per_kg"] for one in exergy["accounts"])
    assert -sum(bars[1:-1]) == pytest.approx(destroyed, rel=1e-3)
    compared = sheet["with_tubes"]["compared"]
    tubed = {row[0]: row[-1] for row in table("#with-tubes")}
    for name, (_, value) in compared.items():
        assert tubed[label(name)] == shown("" if value is None else str(drawn(value)), name)
    told, tubes = page.text_content("#with-tubes-note"), sheet["with_tubes"]["tubes"]
    for one in TUBE_COLUMNS:
        words = f"{one.exchanger}: "
        if one.number in tubes:
            words += f"{tubes[one.number]:.0f} × {three_digits(drawn(tubes[one.length]))} m"
        assert (words in told) is (one.number in tubes)
    bill = {row[0]: row[-1] for row in table("#bill")}
    assert bill == {line: three_digits(cost) for line, cost in costs(run, 3) if cost > 0.0}
    assert third.errors == []


def test_sheet_tells_of_glide_and_of_ranges_left(watched, run_folder, tmp_path):
    """A mixture's sheet says between which temperatures it boils; functions used outside their range are named."""
    made = shutil.copytree(run_folder, tmp_path / "glide")
    sheets = json.loads((made / "sheets.json").read_text(encoding="utf-8"))
    state = sheets["designs"]["1"]["states"][0]
    for place, temperature in (("bubble", 58.06), ("dew", 68.652)):
        one = {**state, "place": f"boiler 1, {place} point", "T_degC": temperature}
        sheets["designs"]["1"]["states"].append(one)
    (made / "sheets.json").write_text(json.dumps(sheets), encoding="utf-8")
    with (made / "front.csv").open(encoding="utf-8", newline="") as file:
        lines = [{**row, "outside_ranges": ""} for row in csv.DictReader(file)]
    lines[0]["outside_ranges"] = "film of the condenser"
    write_csv(made / "front.csv", lines)
    page = watched.open(write_page(made), "#design-1")
    assert page.inner_text("#glide-boiler") == "the mixture boils from 58.1 to 68.7 °C"
    assert page.inner_text("#glide-condenser") == ""
    assert "film of the condenser" in page.inner_text("#sheet-ranges")
    page.evaluate("location.hash = 'design-2'")
    page.wait_for_function("document.getElementById('sheet-line').textContent === '2'")
    assert not page.locator("#sheet-ranges").is_visible()
    assert page.inner_text("#glide-boiler") == ""


def test_exergy_flow_is_drawn_when_opened_and_balances(third, run_folder):
    """Closed, the flow is words alone; opened, what enters each node leaves it, and what reaches the store is told."""
    account = once_read(run_folder).sheets["designs"]["3"]["sunlight"]
    lost = {one["component"]: one["destroyed_kJ_per_L"] for one in account["destroyed"]}
    stored = account["work_kJ_per_L"] + account["rejected_kJ_per_L"]
    stored += sum(value for name, value in lost.items() if name != "collectors and pipes")
    share = three_digits(100 * (1 - stored / account["sunlight_kJ_per_L"]))
    page = third.page
    assert page.evaluate("document.getElementById('chart-sunlight').data === undefined")
    assert f"Collectors and pipes destroy {share} % of it" in page.inner_text("#flow-words")
    page.click("#flow-box summary")
    page.wait_for_function("document.getElementById('chart-sunlight').data !== undefined")
    link = page.evaluate("document.getElementById('chart-sunlight').data[0].link")
    arrows = list(zip(link["source"], link["target"], link["value"], strict=True))
    assert sum(value for source, _, value in arrows if source == 0) == pytest.approx(stored, rel=5e-3)
    for node in {source for source, _, _ in arrows} - {0}:
        into = sum(value for _, target, value in arrows if target == node)
        assert into == pytest.approx(sum(value for source, _, value in arrows if source == node))
    assert third.errors == []


def test_measured_rows_are_drawn_beside_the_line(looked, run_folder):
    """Each measured row of checks.json is a point at predicted over measured, and a line stands at 1; the rest as told."""
    page = looked.page
    page.locator("#chart-measured").scroll_into_view_if_needed()
    page.wait_for_selector("#chart-measured .shapelayer path", state="attached")
    checks = json.loads((run_folder / "checks.json").read_text(encoding="utf-8"))
    measured = [check for check in checks if not check["binding"]]
    assert len(measured) >= 25
    drawn = page.evaluate(
        """() => { const box = document.getElementById("chart-measured"), css = getComputedStyle(document.documentElement);
        const marks = box.data.find(({ mode }) => mode === "markers");
        const { x, text, marker } = marks;
        return { x, text, symbol: marker.symbol, color: marker.color, warn: css.getPropertyValue("--warning").trim(),
          shown: box.querySelectorAll(".scatterlayer .point").length, axis: box.layout.xaxis.type,
          lines: box.layout.shapes.map((s) => [s.type, s.x0, s.x1, s.y0, s.y1]) } }"""
    )
    assert drawn["lines"] == [["line", 1, 1, 0, 1]]
    assert (drawn["axis"], drawn["shown"]) == ("log", len(measured))
    assert drawn["x"] == pytest.approx([check["ours"] / check["published"] for check in measured])
    assert [symbol.endswith("-open") for symbol in drawn["symbol"]] == [
        check["kind"] != "measured" for check in measured
    ]
    assert [colour == drawn["warn"] for colour in drawn["color"]] == [
        not check["within"] for check in measured
    ]
    shapes = {
        (check["topic"], symbol.removesuffix("-open"))
        for check, symbol in zip(measured, drawn["symbol"], strict=True)
    }
    assert len(shapes) == len(dict(shapes)) == len({symbol for _, symbol in shapes})
    torque = next(text for text in drawn["text"] if "shaft torque" in text)
    assert "N m" in torque
    assert "predicted" in torque
    assert "measured 9.99" in torque
    assert looked.errors == []


def test_random_figures_equal_the_files(looked, run_folder, rows):
    """Twenty figures of random designs, read off their sheets, are those of front.csv, formatted."""
    rng = random.Random(7)
    page = looked.page
    for _ in range(20):
        line = rng.randrange(len(rows)) + 1
        row = rows[line - 1]
        name = rng.choice([name for name, cell in row.items() if cell != "" and name != "feasible"])
        page.evaluate(f"location.hash = 'design-{line}'")
        page.wait_for_function(f"document.getElementById('sheet-line').textContent === '{line}'")
        assert page.text_content(f"#all-figures [data-figure={name}]") == shown(row[name], name)


def test_script_writes_numbers_as_python_does(watched, run_folder, tmp_path):
    """The script's rounding and grouping equal those of figures.py, ties and long numbers included."""
    page = watched.page
    page.set_content("<p></p>")
    written = page.evaluate(
        f"(numbers) => numbers.map({exported('numbers.js', 'threeDigits')})", list(NUMBERS)
    )
    assert written == [three_digits(number) for number in NUMBERS]


def test_script_recommends_as_python_does(watched):
    """The page's rule gives the picks of every case that the front module is held to as well."""
    shared = json.loads(CASES.read_text(encoding="utf-8"))
    watched.page.set_content("<p></p>")
    rule = exported("picks.js", "recommended")
    script = f"""({{ near_best, cases }}) => cases.map(({{ objectives, designs, barred = [], weights = null }}) => {rule}(
      objectives.map(({{ figure }}) => designs.map((one) => one[figure])), designs.map((one) => one.cost_EUR),
      objectives, near_best, designs.map((_, i) => barred.includes(i)), weights))"""
    found = watched.page.evaluate(script, shared)
    assert found == [one["picks"] for one in shared["cases"]]


@pytest.mark.parametrize("objectives", [1, 2, 3, 4])
def test_script_finds_what_nothing_beats_as_python_does(watched, objectives):
    """By a staircase, beyond three objectives by turns: the rows are those of the front module, also with equals."""
    values = np.random.default_rng(objectives).integers(0, 9, (400, objectives)).astype(float)
    watched.page.set_content("<p></p>")
    ordered, best = (exported("dominance.js", name) for name in ("inOrder", "nondominated"))
    script = f"""([scales, sure]) => {{
      const rows = {ordered}(scales, scales[0].map((_, i) => i));
      return {best}(scales, rows, sure).sort((a, b) => a - b);
    }}"""
    found = watched.page.evaluate(script, [values.T.tolist(), 0])
    assert found == np.flatnonzero(nondominated(values)).tolist()
    sure = 20  # known to be beaten by none, whatever their figures are
    kept = [i for i in range(sure, 400) if not (values[:i] <= values[i]).all(axis=1).any()]
    kept = [
        i for i in kept if not ((values <= values[i]).all(axis=1) & (values < values[i]).any(axis=1)).any()
    ]
    assert watched.page.evaluate(script, [values.T.tolist(), sure]) == [*range(sure), *kept]
    values[7, 0] = np.nan
    rest = np.delete(np.arange(400), 7)
    unknown = [[None if np.isnan(value) else value for value in column] for column in values.T.tolist()]
    missing = script.replace("const rows", "scales[0][7] = NaN; const rows")
    assert set(watched.page.evaluate(missing, [unknown, 0])) == {
        7,
        *rest[nondominated(values[rest])].tolist(),
    }


def test_selection_is_shared(watched, run_folder, rows):
    """Rows ticked in the table are the selection of scatter, table and download; clearing lets all back."""
    page = watched.open(report(run_folder))
    boxes = page.locator("#designs tbody input")
    boxes.nth(0).scroll_into_view_if_needed()
    settled(page)  # charts that came into view on the way have been drawn
    boxes.nth(0).check()
    settled(page)
    first = page.locator("#designs tbody tr:has(input:checked) th a").all_inner_texts()
    assert len(first) == 1
    assert len(table_lines(page)) == len(rows)
    assert shows(page, run_folder, "scatter-2", first)
    with page.expect_download() as waiting:
        page.click("#download")
    text = Path(waiting.value.path()).read_text(encoding="utf-8")
    assert text.splitlines()[1:] == [
        (run_folder / "front.csv").read_text(encoding="utf-8").splitlines()[int(first[0])]
    ]
    page.check("#only-selected")
    assert table_lines(page) == first
    page.click("#clear")
    settled(page)
    assert len(table_lines(page)) == len(rows)


def test_box_selects(watched, run_folder):
    """A box drawn in the scatter selects the designs inside it on the whole page."""
    page = watched.open(report(run_folder))
    page.evaluate("document.getElementById('controls').scrollIntoView()")
    settled(page)
    box = page.locator("#scatter-1 .nsewdrag").bounding_box()
    page.mouse.move(box["x"] + 5, box["y"] + 60)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2, steps=6)
    page.mouse.up()
    settled(page)
    selected = re.match(r"(\d+) selected", page.inner_text("#selected").replace("\u202f", ""))
    assert selected
    lines = table_lines(page)
    assert len(lines) == int(selected.group(1))
    page.select_option("#axis-x1", "store_volume_L")  # takes the outline away, and not the designs in it
    settled(page)
    assert table_lines(page) == lines
    assert marks_shown(page, "scatter-1", sorted(list(embedded(run_folder)).index(name) for name in lines))


def test_download_of_everything_is_the_file(looked, run_folder):
    """With nothing selected and no limit, the CSV download is front.csv byte for byte."""
    page = looked.page
    with page.expect_download() as waiting:
        page.click("#download")
    assert Path(waiting.value.path()).read_bytes() == (run_folder / "front.csv").read_bytes()


def test_yaml_download_holds_the_inputs(looked, run_folder, rows):
    """The YAML of a design holds its input columns with all digits of front.csv."""
    import yaml

    page = looked.at("#design-2")
    with page.expect_download() as waiting:
        page.click("#sheet-yaml")
    design = yaml.safe_load(Path(waiting.value.path()).read_text(encoding="utf-8"))
    names = list(rows[1])[: list(rows[1]).index("possible")]
    assert list(design) == names
    for name, value in design.items():
        cell = rows[1][name]
        assert value is None if cell == "" else str(value) == cell or float(value) == float(cell)


def test_keyboard_reaches_the_controls(watched, run_folder):
    """Tabbing from the top meets links, the sliders and the fluid switches; arrows move the ceiling."""
    page = watched.open(report(run_folder))
    seen, start = set(), float(page.input_value("#ceiling"))
    for _ in range(60):
        page.keyboard.press("Tab")
        seen.add(page.evaluate("document.activeElement.id || document.activeElement.tagName"))
        if "ceiling-range" in seen and page.evaluate("document.activeElement.id") == "ceiling-range":
            page.keyboard.press("ArrowLeft")
    settled(page)
    assert {"A", "ceiling-range", "ceiling", "budget", "words"} <= seen
    assert float(page.input_value("#ceiling")) < start


@pytest.mark.parametrize("width", [390, 768, 1440])
def test_fits_the_width(context, run_folder, width):
    """Nothing is wider than the window, opened light and turned dark, all charts drawn.

    Screenshots are left where EXPLORE_SCREENSHOTS says, for review.
    """
    page = fresh(context, "light", width)
    page.goto(report(run_folder).as_uri())
    page.wait_for_selector("html[data-ready=charts]", timeout=60_000)
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        passed_by(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, scheme
        target = os.environ.get("EXPLORE_SCREENSHOTS")
        if target:
            settled(page)
            page.evaluate("scrollTo(0, 0)")
            page.screenshot(path=f"{target}/report-{width}-{scheme}.png", full_page=True)
    if width < 400:  # a small telephone: names of fluids leave room for their figures
        page.set_viewport_size({"width": 320, "height": 844})
        passed_by(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= 320
        names = "[...document.querySelectorAll('#fluid-table tbody th')].map((cell) => cell.clientWidth)"
        assert max(page.evaluate(names)) < 150
    page.close()


def test_the_document_does_not_wait_for_the_charts(browser, run_folder):
    """Of the time until its charts stand a page takes less than half until it can be read, the median of three loads.

    How long both take, `python -m tests.benchmarks.page` prints.
    """
    shares = []
    for _ in range(3):
        page = browser.new_page()
        page.add_init_script(MARK_READY)
        page.goto(report(run_folder).as_uri())
        page.wait_for_selector("html[data-ready=charts]", timeout=60_000)
        read, charts = page.evaluate(
            "[performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd, window.readyAt.charts]"
        )
        shares.append(read / charts)
        page.close()
    assert 0.0 < statistics.median(shares) < 0.5


def test_own_design_is_placed_on_the_front(watched, run_folder, tmp_path):
    """The reader's own design stands in both charts under its name, at its own figures."""
    made = shutil.copytree(run_folder, tmp_path / "own")
    with (made / "front.csv").open(encoding="utf-8", newline="") as file:
        row = next(csv.DictReader(file))
    write_csv(made / "own.csv", [{"name": "my <b>tank</b>", **row}])
    page = watched.open(write_page(made))
    mark = page.evaluate(
        "(({ x, y, text }) => ({ x, y, text }))(document.getElementById('scatter-1').data[2])"
    )
    assert mark["x"] == [float(row["cost_EUR"])]
    assert mark["y"] == [float(row["work_per_litre_kJ"])]
    assert "my <b>tank</b>" in page.locator("#scatter-1 .annotation-text").all_text_contents()


def test_five_thousand_designs_follow_in_one_frame(watched, tmp_path):
    """With 5,000 designs a limit hides and shows the right marks by the next frame, and no mark is an element of the page.

    How long that takes, `python -m tests.benchmarks.page` prints.
    """
    made = make_run(tmp_path / "large", count=600)
    rows = [row for row in designs(16_000, seed=3) if row["feasible"]][:5000]
    write_csv(made / "front.csv", rows)
    page = watched.open(write_page(made))
    assert (made / "report.html").stat().st_size < 6_000_000
    page.evaluate("document.querySelector('.pair').scrollIntoView({ block: 'end' })")
    settled(page)
    for step in (200, 400):
        shown, ceiling = page.evaluate(
            """async (step) => {
              const range = document.getElementById("ceiling-range");
              range.value = step;
              range.dispatchEvent(new Event("input"));
              await new Promise(requestAnimationFrame);
              await new Promise(requestAnimationFrame);
              const shown = document.querySelector("#scatter-1 .marks").stamps.length;
              return [shown, Number(document.getElementById("ceiling").value)];
            }""",
            step,
        )
        assert shown == sum(float(row["peak_pressure_bar_g"]) <= ceiling for row in rows)
    assert shown == 5000
    assert page.locator(".scatterlayer path.point").count() < 50
    # The table follows when the limits rest.
    page.wait_for_function("document.getElementById('place').textContent.endsWith('of 5\\u202f000')")


def test_shown_front_is_the_run(run_folder, rows):
    """The run these tests stand on has a front worth the name."""
    run = once_read(run_folder)
    assert len(run.front) == len(rows) >= 30
    assert len({row["fluid"] for row in rows}) >= 4
