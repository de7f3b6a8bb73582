"""The page for readers who cannot see it well, and the page on paper."""

import re

import pytest

from explore.tell.page import write_comparison
from explore.tell.page.picks import pick
from tests.browser.conftest import barriers, fresh, passed_by, settled
from tests.real_run import copy, once_read

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_serious_barrier(unguarded, run_folder, axe, scheme):
    """axe-core finds nothing serious or critical on the whole page, charts drawn, light and dark."""
    page = fresh(unguarded, scheme)
    page.goto((run_folder / "report.html").as_uri())
    page.wait_for_selector("html[data-ready=charts]", timeout=60_000)
    passed_by(page)
    grave = barriers(page, axe)
    assert grave == []


def pages_on_paper(page):
    """Count the sheets of A4 that the page prints on."""
    pdf = page.pdf(format="A4", print_background=True, prefer_css_page_size=True)
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


def test_prints_opening_comparison_and_sheet(watched, run_folder):
    """On paper: findings, trade-off, fluids, design sheet and on one page more what was measured; controls stay away."""
    page = watched.open(run_folder / "report.html")
    whole = pages_on_paper(page)
    page.evaluate("document.getElementById('believe').hidden = true")
    pages = pages_on_paper(page)
    assert 5 <= pages <= 8
    assert whole == pages + 1
    page.evaluate("document.getElementById('believe').hidden = false")
    page.emulate_media(media="print")
    cards = "[...document.querySelectorAll('.card')].map((card) => getComputedStyle(card).breakInside)"
    assert set(page.evaluate(cards)) == {"avoid"}  # a recommended design stands on one sheet
    empty = "#fluid-table tbody tr:not([data-work])"
    assert page.locator(empty).count() > 0
    assert not page.locator(empty).first.is_visible()
    assert "No feasible design was found with" in page.inner_text("#without")
    picks = pick(once_read(run_folder))
    assert page.locator("#own-cautions h3").count() == len({one.row for one in picks})
    paper = page.inner_text("#paper-cautions")
    assert all(caution["text"] in paper for one in picks for caution in one.cautions)
    swatch = "getComputedStyle(document.querySelector('#measured .swatch')).printColorAdjust"
    assert page.evaluate(swatch) == "exact"  # the browser leaves backgrounds away
    for name in ("#opening", "#scatter-1", "#scatter-2", "#fluids", "#sheet", "#measured"):
        assert page.locator(name).is_visible(), name
    for name in (
        "#controls",
        "#designs",
        "#parallel-box",
        "#prices-box",
        "#search",
        "#believe details",
        "#basis",
        ".top",
    ):
        assert not page.locator(name).first.is_visible(), name


# Charts of which a title or a name is cut, or two names run into one another.
CUT = """() => ['scatter-1', 'scatter-2', 'multiples'].filter((name) => {
  const box = document.getElementById(name), room = box.getBoundingClientRect();
  const places = (which) => [...box.querySelectorAll(which)].map((one) => one.getBoundingClientRect());
  const out = ({ top, right, bottom }) => top < room.top || right > room.right || bottom > room.bottom;
  const across = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
  const names = name === 'multiples' ? places('.annotation-text') : [];
  return places('.ytitle, .xtitle').concat(names).some(out)
    || names.some((a, k) => names.slice(k + 1).some((b) => across(a, b)));
})"""


def test_charts_fit_the_paper(watched, run_folder):
    """Before printing, every chart that is drawn is as wide as its box on the paper, and wide again afterwards."""
    page = watched.open(run_folder / "report.html")
    for name in ("#multiples", "#sheet", "#chart-bill"):  # drawn as wide as the window first
        page.locator(name).scroll_into_view_if_needed()
        settled(page)
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    script = """() => [...document.querySelectorAll('#sheet .chart, #scatter-1, #scatter-2, #multiples, #chart-measured')]
      .filter((box) => box.data && box.clientWidth)
      .map((box) => [box.id, box.clientWidth, box.querySelector('.main-svg').clientWidth])"""
    narrow = page.evaluate(script)
    assert len(narrow) >= 5
    assert "chart-measured" in {name for name, _, _ in narrow}
    for name, box, chart in narrow:
        assert abs(box - chart) <= 1, name
        assert box < 720, name
    assert page.evaluate(CUT) == []
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    settled(page)
    assert max(box for _, box, _ in page.evaluate(script)) > 1000
    assert watched.errors == []


def test_paper_is_light_and_small_for_a_dark_reader(context, run_folder):
    """Printing from a dark screen takes the light colours of marks and text, and smaller type in the charts."""
    page = fresh(context, "dark")
    page.goto((run_folder / "report.html").as_uri())
    page.wait_for_selector("html[data-ready=charts]", timeout=60_000)
    script = """() => [getComputedStyle(document.querySelector('.mark[data-colour="0"]')).color,
      getComputedStyle(document.documentElement).getPropertyValue('--ink').trim(),
      document.getElementById('multiples').layout.font.size]"""
    page.locator("#multiples").scroll_into_view_if_needed()
    settled(page)
    screen = page.evaluate(script)
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    paper = page.evaluate(script)
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert paper == ["rgb(11, 107, 176)", "#1d2327", 10]
    assert all(one != other for one, other in zip(screen, paper, strict=True))
    assert page.evaluate(script) == screen
    page.close()


def test_comparison_opens_offline(watched, run_folder, tmp_path):
    """The comparison of two runs opens without complaint or request and draws both fronts twice."""
    second = copy(run_folder, tmp_path / "second", title="Second")
    page = watched.open(write_comparison([run_folder, second], tmp_path / "compare.html"))
    for chart in ("against-1", "against-2"):
        assert page.evaluate(f"document.getElementById('{chart}').data.filter(t => t.x.length).length") == 2
    assert watched.errors == []
    assert watched.strayed() == []
