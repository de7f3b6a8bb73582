"""The page's words on plants as bought, and its list of bands."""

from __future__ import annotations

import html
import json
import re

import pytest

from explore.config.doubtful import doubtful
from explore.model.as_bought import FIGURES
from explore.tell import bands
from explore.tell.page.data import read_run
from explore.tell.page.page import render
from explore.tell.page.picks import pick
from tests.report.synthetic import make_run
from tests.report.test_doubt import chance, design


def bought(row, role, fluid):
    """A design as bought."""
    spans = {name: {"low": 150.0, "likely": 220.0, "high": 260.0, "nominal": 250.0} for name in FIGURES}
    chances = {"gives_power": chance(0.3), "serves": chance(0.2), "both": chance(0.15)}
    return {
        "row": row, "role": role, "fluid": fluid, "not_rated": "", "power_asked_W": 252.0, "settled": 0.9, "bands": spans,
    } | chances  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A made-up run whose first pick is rated as bought and whose second is not."""
    made = make_run(tmp_path_factory.mktemp("bought") / "run")
    run = read_run(made)
    picks = [design(run, one.row, one.title) for one in pick(run)[:2]]
    kinds = {"nominal": "1", "best": [{"best": "1"} | chance(1.0)]}
    ceiling = {"ceiling_bar_g": 6.0, "figure": "work_per_litre_kJ", "corners": []}
    ceiling |= {key: kinds for key in ("fluid", "store_mode", "stages")}
    first, second = ((one["row"], one["role"], one["fluid"]) for one in picks)
    refused = bought(*second) | {"not_rated": "its exchangers are <tubes>"}
    name = doubtful(run.case)[0].name
    found = {
        "format": 1, "worlds": 100, "designs_tried": 30, "designs": picks, "ceilings": [ceiling], "steady": picks,
        "measure_first": [], "matters": {},
        "as_bought": {"worlds": 100, "served_share_min": 0.8, "designs": [bought(*first), refused]},
        "assumptions": [{"name": name, "low": 0.0123, "likely": 0.0234, "high": 0.0345}],
    }  # fmt: skip
    (made / "doubt.json").write_text(json.dumps(found), encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def markup(folder):
    """The page before its data."""
    return render(read_run(folder)).split('id="run-data"')[0]


@pytest.fixture(scope="module")
def page(markup):
    """The page as text."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", markup)).split())


def test_both_questions_stand_apart(page, markup):
    """A heading each; the table of the plants as bought says so in its caption."""
    assert "The recommended designs, sized anew in each world" in page
    assert "The recommended designs, as bought" in page
    table = markup[markup.index('id="bought"') :]
    assert "As bought:" in table[: table.index("</caption>")]
    assert table[: table.index("</table>")].count('scope="row"') == len(FIGURES)


def test_chances_and_refusals(page, markup):
    """Power and share asked with their errors, and in words what is not rated; nothing is markup that came as data."""
    assert "as bought gives the 252 W asked at its engine's shaft in 30 % (± 4.6) of worlds" in page
    assert "serves the share asked, 80.0 %, in 20 % (± 4.0); both in 15 % (± 3.6)" in page
    assert "In 10 % of worlds no state was found" in page
    assert "is not rated as bought: its exchangers are <tubes>." in page
    assert "&lt;tubes&gt;" in markup
    assert "<tubes>" not in markup


def test_cards_and_opening_say_it(page):
    """No nominal figure alone: the card names both questions, the opening one design's band."""
    assert "sized anew in each" in page
    assert "As bought, nothing sized anew: Power at the engine's shaft, sizing point 150 to 260 W" in page
    assert "in eight of ten worlds that size it anew" in page
    assert "As bought it gives power and share asked in 15 % (± 3.6) of worlds" in page


def test_all_bands_are_listed(folder, page):
    """Each with its group and shape, those that the study had where it had others."""
    case = read_run(folder).case
    for one in bands.bands(case):
        assert one.name in page
        assert one.group
        assert one.source
    assert "0.0123 to 0.0345, likely 0.0234" in page
    assert len(bands.bands(case)) == len(doubtful(case))


def test_the_terminal_lists_the_same(orchard):
    """Every assumption in doubt with meaning, ends and source, group by group."""
    said = bands.told(orchard)
    for one in doubtful(orchard):
        assert f"    {one.name}: {one.low:.4g} to {one.high:.4g}, likely {one.likely:.4g}" in said
    assert "friction_idle_bar: 0.027 to 0.1, likely 0.052, lognormal; form: Chen and Flynn" in said
    assert "pump_drive_efficiency: 0.75 to 0.92, likely 0.85, lognormal from 1 on; judgement" in said
