"""What the front teaches, on the page: sentences of the files in the folder, of old runs and tiny fronts too."""

from __future__ import annotations

import html
import re
from dataclasses import replace

import pytest

from explore.tell.page import write_and_teach
from explore.tell.page.data import read_run, read_table
from explore.tell.page.lessons import aboard, tell
from explore.tell.page.page import AMOUNTS, render
from explore.tell.page.payload import with_kept
from tests.report.synthetic import make_run, write_csv


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A made-up run of before: without told.json, layouts.csv and the columns of governors."""
    return make_run(tmp_path_factory.mktemp("run") / "r", count=400)


@pytest.fixture(scope="module")
def section(folder):
    """The section of the page."""
    return _section(render(read_run(folder), AMOUNTS[-1]))


def _section(page: str) -> str:
    found = re.search(r'<section id="lessons".*?</section>', page, flags=re.DOTALL)
    return html.unescape(found[0]) if found else ""


def test_each_sentence_stands_on_the_page(folder, section):
    """Under its heading, and that it is of the searched case before all of them."""
    topics = tell(read_run(folder)).topics
    assert [title for title, _ in topics] == re.findall(r"<h3>(.*?)</h3>", section)
    for _, told in topics:
        for one in told:
            assert one.text in section
    said = " ".join(section.split())
    assert "As searched, before you move anything" in said
    assert "limits, fluids, prices and weights that you set on this page change nothing here" in said


def test_designs_of_the_front_open_from_the_sentences(folder, section):
    """By their line; one that a small page leaves out is named without a link."""
    run = read_run(folder)
    named = {name for _, told in tell(run).topics for one in told for name in one.designs}
    linked = set(re.findall(r'href="#design-([^"]+)"', section))
    assert linked
    assert linked == named & aboard(with_kept(run, AMOUNTS[-1].kept))


def test_the_terminal_has_the_first_words(folder):
    """Made of the same files, so that it cannot say otherwise."""
    assert write_and_teach(folder)[1] == tell(read_run(folder)).short


@pytest.mark.parametrize("count", [0, 1, 3])
def test_a_tiny_front_has_a_page(folder, tmp_path, count):
    """Of no design the section is left out, of few it says how few they are."""
    made = make_run(tmp_path / "r", count=400)
    table = read_table(folder / "front.csv")
    rows = [dict(zip(table.header, row, strict=True)) for row in table.rows[:count]]
    (made / "front.csv").write_text(",".join(table.header) + "\n", encoding="utf-8")
    if rows:
        write_csv(made / "front.csv", rows)
    (made / "sheets.json").write_text("{}", encoding="utf-8")
    found = _section(render(read_run(made), AMOUNTS[-1]))
    assert bool(found) == bool(count)
    if count:
        assert f"The front holds {count} design" in found


@pytest.mark.parametrize("name", ["stages", "pressure_levels", "cost_EUR", "work_per_litre_kJ"])
def test_a_design_with_an_empty_cell_is_left_out(folder, name):
    """A file of somebody's may lack what lessons count with: they are told of the others."""
    run = read_run(folder)
    place = run.front.header.index(name)
    rows = [(*row[:place], "", *row[place + 1 :]) if not n else row for n, row in enumerate(run.front.rows)]
    less = replace(run, front=replace(run.front, rows=tuple(rows)))
    assert len(tell(less).topics) > 0
    nothing = replace(
        run, front=replace(run.front, rows=tuple((*row[:place], "", *row[place + 1 :]) for row in rows))
    )
    assert tell(nothing).topics == ()


def test_names_of_fluids_are_shown_as_text(folder):
    """A card's title with markup stays text."""
    run = read_run(folder)
    name = run.front.row(0)["fluid"]
    cards = {
        key: card.model_copy(update={"title": f"<b>{card.name}</b>"}) for key, card in run.case.fluids.items()
    }
    assert name in {card.name for card in cards.values()}
    page = render(replace(run, case=run.case.model_copy(update={"fluids": cards})), AMOUNTS[-1])
    found = re.search(r'<section id="lessons".*?</section>', page, flags=re.DOTALL)[0]
    assert "<b>" not in found
    assert "&lt;b&gt;" in found
