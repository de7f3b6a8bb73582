"""The page's section on how sure its advice is: there with doubt.json only, and saying what stands in it."""

from __future__ import annotations

import html
import json
import re
from dataclasses import replace

import pytest

from explore.config.goals import sought
from explore.doubt.answers import NONE, TIED
from explore.run.files import digest
from explore.tell import doubts
from explore.tell.page import write_page
from explore.tell.page.data import read_run
from explore.tell.page.doubt import tell
from explore.tell.page.page import render
from explore.tell.page.picks import pick
from tests.report.synthetic import make_run


def chance(probability):
    """A probability of 100 worlds."""
    return {"probability": probability, "standard_error": (probability * (1 - probability) / 100) ** 0.5}


def design(run, row, role):
    """A recommended design whose bands lie around the front's own figures."""
    line = run.front.row(row - 1)
    names = [*(one.figure for one in run.case.scenario.objectives), "served_share"]
    bands = {
        name: {
            "low": 0.8 * float(line[name]),
            "likely": float(line[name]),
            "high": 1.1 * float(line[name]),
            "nominal": 1.0,
        }
        for name in names
    }
    return {
        "row": row, "role": role, "fluid": line["fluid"], "store_mode": line["store_mode"], "stages": int(line["stages"]),
        "keeps": chance(0.25), "broken": [{"limit": "violation_served_share_fraction", "share": 0.6}],
        "near_front": chance(0.2), "bands": bands, "regret": {name: bands[name] for name in names[:-1]},
    }  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A made-up run with answers."""
    made = make_run(tmp_path_factory.mktemp("doubted") / "run")
    answer(made)
    return made


def answer(made):
    """Put answers into a run: one fluid that wins most, ties, and a corner."""
    run = read_run(made)
    one, other = list(dict.fromkeys(run.front.text("fluid")))[:2]
    listed = [(one, 0.7), (other, 0.15), (TIED, 0.1), (NONE, 0.05)]
    kinds = {"nominal": other, "best": [{"best": name} | chance(share) for name, share in listed]}
    plain = {"nominal": "1", "best": [{"best": "1"} | chance(1.0)]}
    ceiling = {
        "ceiling_bar_g": 6.0, "figure": "work_per_litre_kJ", "fluid": kinds, "store_mode": plain, "stages": plain,
        "corners": [{"fluid": other, "nominal": True, "groups": {"friction": 1.4}} | chance(0.15)],
    }  # fmt: skip
    picks = [design(run, one.row, one.title) for one in pick(run)[:2]]
    topic = {
        "topic": "seal and walls", "first": 0.3, "total": 0.4, "total_confidence": 0.1,
        "worth": {
            "cost_EUR": {"gain": 120.0, "standard_error": 20.0},
            "work_per_litre_kJ": {"gain": 1.0, "standard_error": 1.0},
        },
    }  # fmt: skip
    found = {
        "format": 1, "worlds": 100, "designs_tried": 30, "designs": picks, "ceilings": [ceiling], "steady": picks,
        "measure_first": [topic], "matters": {},
    }  # fmt: skip
    (made / "doubt.json").write_text(json.dumps(found), encoding="utf-8")


@pytest.fixture(scope="module")
def page(folder):
    """The page as text, without markup."""
    return html.unescape(re.sub(r"<[^>]+>", "", render(read_run(folder)).split('id="run-data"')[0]))


def test_without_answers_there_is_no_section(folder, tmp_path):
    """A run that was not doubted says nothing of it."""
    bare = make_run(tmp_path / "bare")
    write_page(bare)
    text = (bare / "report.html").read_text()
    assert 'id="doubt"' not in text
    assert "data-doubt-of=" not in text.split("<script")[0]
    assert tell(read_run(bare)) is None


def test_answers_about_another_front_are_none(folder, tmp_path):
    """A run that was gone on with has other designs on the lines that the answers speak of."""
    found = json.loads((folder / "doubt.json").read_text())
    run = make_run(tmp_path / "gone on")
    (run / "doubt.json").write_text(json.dumps(found | {"front": digest(run / "front.csv")}))
    assert tell(read_run(run)) is not None
    (run / "front.csv").write_text("\n".join((run / "front.csv").read_text().splitlines()[:-1]) + "\n")
    assert tell(read_run(run)) is None


def test_what_a_short_study_did_not_ask_is_not_told(folder):
    """That at the end of a search looks for no steady design: it must not say that there is none."""
    run = read_run(folder)
    asked = doubts.steady_words(run.doubt)
    short = replace(run, doubt={**run.doubt, "steady": [], "brief": True})
    text = html.unescape(render(short))
    assert asked in html.unescape(render(run))
    assert asked not in text
    assert text.count('<p class="note"></p>') == render(run).count('<p class="note"></p>')
    assert doubts.steady_words(short.doubt) == ""
    assert doubts.told(run.doubt, run.case)[:-1] == doubts.told({**short.doubt, "brief": False}, run.case)


def test_a_design_that_nothing_betters_is_told_so(folder):
    """In words: by 0 EUR, in a tenth of worlds by more than 0, says less."""
    run = read_run(folder)
    one = {**run.doubt["designs"][0], "role": "least cost"}
    for low, likely, high in ((0.0, 0.0, 0.0), (0.0, 0.0, 12.0)):
        said = doubts.design_words(
            {**one, "regret": {"cost_EUR": {"low": low, "likely": likely, "high": high}}}, run.case
        )
        assert ("no design tried betters its cost in nine of ten worlds" in said) is (high == 0.0)
        assert ("by more than 12" in said) is (high > 0.0)
    without = {**one, "regret": {"cost_EUR": {"low": None, "likely": 1.0, "high": None}}}
    assert "by more than –" in doubts.design_words(without, run.case)


def test_the_probability_stands_in_the_opening(folder, page):
    """In words, with the fluid's name, and again over its section."""
    run = read_run(folder)
    words = doubts.headline(run.doubt, run.case)
    assert words.endswith("is best in 7 of 10 plausible worlds under 6 bar gauge")
    assert page.count(words) == 2
    assert page.count(f"As searched: {words}") == 1  # the reader may have its fluid off


def test_the_own_figure_stands_between_its_band_where_a_search_was_over_worlds_too(folder):
    """Its objectives then have other names; bands go by the run's own."""
    run = read_run(folder)
    search = run.case.search.model_copy(update={"against": "cautious"})
    over = replace(run, case=sought(run.case.model_copy(update={"search": search})))
    assert tell(over).nominal == tell(run).nominal
    assert tell(run).nominal


def test_answers_of_plants_as_bought_are_pointed_to_only_where_they_are(folder):
    """A study without them says that they were not asked."""
    found = read_run(folder).doubt
    assert doubts.NOT_BOUGHT in doubts.scope({**found, "as_bought": None})
    assert doubts.BOUGHT in doubts.scope({**found, "as_bought": {"designs": []}})


def test_every_class_has_its_bar(folder):
    """Fluids, ties and nothing feasible, each with its error; the bar is as wide as the probability."""
    text = render(read_run(folder))
    table = text[text.index('id="chances"') : text.index("</table>", text.index('id="chances"'))]
    widths = re.findall(r"width: ([\d.]+)%", table)
    assert widths == ["70.0", "15.0", "10.0", "5.0"]
    assert TIED in table
    assert NONE in table
    assert "70 % (± 4.6)" in table


def test_an_optimistic_corner_is_told(page):
    """The fluid that the run favours wins only where friction is good."""
    assert "in an optimistic corner only" in page
    assert "friction (1.4 spreads better than likely)" in page


def test_bands_stand_on_the_cards_of_the_designs_tried(folder):
    """Each on its own card, marked by its line, so that another design in its place does not take it over."""
    run = read_run(folder)
    text = render(run)
    marked = [int(row) for row in re.findall(r'data-doubt-of="(\d+)"', text.split("<script")[0])]
    assert set(marked) == {one["row"] for one in run.doubt["designs"]}
    assert "In eight of ten plausible worlds" in text


def test_what_to_measure_first(page):
    """The bench measurement of every group of a topic, and only a gain that is no chance."""
    assert doubts.BENCH["seal"] in page
    assert doubts.BENCH["walls"] in page
    assert "120 EUR (± 20.0)" in page
    assert "1.00 kJ/L (± 1.00)" not in page
