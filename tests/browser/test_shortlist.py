"""The shortlist: up to four designs side by side, with what differs in words that add up."""

import re
from pathlib import Path

import pytest

from explore.figures.format import shown
from tests.browser.conftest import settled
from tests.browser.test_report_page import embedded, report

pytestmark = pytest.mark.browser


def amounts(words):
    """The total of a sentence on cost, and its parts, EUR with their sign."""
    number = r"([\d\u202f.]+)"
    total = re.search(rf"costs {number} EUR (less|more) than A: ", words)
    parts = re.findall(rf"{number} (less|more) for", words)

    def signed(text, way):
        return float(text.replace("\u202f", "")) * (-1 if way == "less" else 1)

    return signed(*total.groups()), [signed(*part) for part in parts]


def test_shortlist_tells_differences_that_add_up_and_stands_in_the_link(watched, run_folder):
    """Three cards put side by side: figures as in the files, costs that add up line by line, kept by the address."""
    page, every = watched.open(report(run_folder)), embedded(run_folder)
    names = []
    for card in page.locator("#cards .card").all():
        name = card.locator("[data-line]").inner_text()
        if name not in names:
            card.locator("[data-shortlist]").click()
            names.append(name)
    settled(page)
    assert len(names) >= 2
    told = page.locator("#shortlist-words li").all_inner_texts()
    assert len(told) == len(names) - 1
    for letter, name, words in zip("BCD", names[1:], told, strict=False):
        assert words.startswith(f"{letter} costs ")
        total, parts = amounts(words)
        apart = float(every[name]["cost_EUR"]) - float(every[names[0]]["cost_EUR"])
        assert total == pytest.approx(apart, abs=1)
        assert sum(parts) == pytest.approx(total, abs=3)
    table = page.evaluate(
        "[...document.querySelectorAll('#shortlist-table tbody tr')].map(row => [...row.cells].map(c => c.textContent))"
    )
    costs = next(row for row in table if row[0] == "Cost")
    assert costs[1:] == [shown(every[name]["cost_EUR"], "cost_EUR") for name in names]
    differing = [len(set(row[1:])) > 1 for row in table]
    assert differing == sorted(differing, reverse=True)
    fragment = page.evaluate("location.hash")
    assert f"shortlist={','.join(names)}" in fragment
    page.goto("about:blank")
    page = watched.open(report(run_folder), fragment)
    assert page.locator("#shortlist-words li").all_inner_texts() == told
    page.locator("#shortlist-table thead button").first.click()
    settled(page)
    assert page.locator("#shortlist-table thead th").count() == len(names)
    assert watched.errors == []


def test_charts_are_saved_with_caption_scenario_and_limits_and_only_what_is_left(looked, run_folder):
    """The SVG of a chart under a ceiling names both and has as many marks as designs are left; a PNG is one."""
    page = looked.at("#&ceiling=5")
    page.locator("#scatter-1").scroll_into_view_if_needed()
    settled(page)
    left = int("".join(re.findall(r"\d", page.inner_text("#count"))))
    found = {}
    for kind in ("SVG", "PNG"):
        with page.expect_download() as waiting:
            page.locator("#scatter-1 + .save button", has_text=kind).click()
        found[kind] = Path(waiting.value.path()).read_bytes()
    picture = found["SVG"].decode("utf-8")
    assert "Work per litre of hot water, kJ/L over Cost, EUR" in picture
    # A long title breaks the line of the limits.
    lines = " ".join(re.sub(r"<[^>]*>|\u200b", " ", picture).split())
    assert "at most 5.00 bar gauge" in lines
    assert len(re.findall(r'class="point"', picture)) == left
    assert found["PNG"].startswith(b"\x89PNG")
    assert looked.errors == []
