"""What more of each part would add: figures are those of the evaluator, and words say what they say."""

from __future__ import annotations

import json
import math
import sys
from types import SimpleNamespace

import pandas as pd
import pytest
from pydantic import ValidationError

import explore
from explore import cli
from explore.bench.more import COST, ENERGY, STEP, SWEPT, more, powers, told
from explore.config.compose import compose_case
from explore.design.variables import INPUTS
from explore.model import Evaluator
from explore.model.details import records
from explore.run.shapes import More
from explore.tell.more import HEADER, _held, rows, sentences, text
from explore.tell.next_steps import next_commands
from explore.tell.page.data import read_run
from explore.tell.page.more import aboard as more_aboard
from explore.tell.page.picks import pick
from tests.test_owned import design

PARTS = {"collector area", "tank volume", "insulation", "boiler area", "condenser area", "regenerator"}


def part(**other):
    """An invented answer for one part."""
    return {
        "part": "collector area", "size": "collector_area_m2", "before": 6.0, "after": 6.6, "moved": {},
        "energy_kWh_per_year": 17.4, "cost_EUR": 151.8, "kWh_per_year_per_EUR": 17.4 / 151.8, "broken": [],
    } | other  # fmt: skip


@pytest.fixture(scope="module")
def case():
    """The shipped template."""
    return explore.load_scenario("mine")


@pytest.fixture(scope="module")
def found(case):
    """An invented design, its figures, and what more of its parts would add."""
    figures = records(explore.evaluate(design(), case))[0]
    return figures, more(Evaluator(case), figures)


def test_told_figures_are_those_of_evaluate(case, found):
    """Each part's inputs, given to ``evaluate``, have the size, the energy and the cost that are told."""
    figures, parts = found
    assert {one.part for one in parts} >= PARTS
    for one in parts:
        changed = {name: figures[name] for name in INPUTS} | {
            name: pair[1] for name, pair in one.moved.items()
        }
        again = explore.evaluate(pd.DataFrame([changed]), case).iloc[0]
        assert again[ENERGY] - figures[ENERGY] == pytest.approx(one.energy, abs=1e-6), one.part
        assert again[COST] - figures[COST] == pytest.approx(one.price, abs=1e-6), one.part
        sizes = SWEPT if one.part == "cylinder volume" else (one.size,)
        assert sum(again[name] for name in sizes if math.isfinite(again[name])) == pytest.approx(one.after)
        assert one.per_EUR is None or one.per_EUR == one.energy / one.price


def test_a_tenth_more(found):
    """Each part is larger by a tenth, those that a search must find by little more."""
    for one in found[1]:
        assert (1.0 + STEP) * (1.0 - 1e-9) <= one.after / one.before < 1.0 + 1.1 * STEP, one.part


def test_cylinders_that_are_there_stay(case, found):
    """Where a surface grows the speed follows, so that the same cylinder does the work and none is bought."""
    figures, parts = found
    surfaces = [one for one in parts if one.part in ("boiler area", "condenser area")]
    assert surfaces
    for one in surfaces:
        changed = {name: figures[name] for name in INPUTS} | {
            name: pair[1] for name, pair in one.moved.items()
        }
        again = explore.evaluate(pd.DataFrame([changed]), case).iloc[0]
        assert again["swept_volume_1_L"] == pytest.approx(figures["swept_volume_1_L"], rel=2e-3)
        assert again["cost_engine_EUR"] == 0.0


def test_other_powers_are_those_of_evaluate(case, found):
    """Asked for a quarter more, with the speed that is told, the plant gives and costs what is told beyond its own."""
    figures, _ = found
    for one in powers(Evaluator(case), figures):
        asked = compose_case(["scenario=mine", f"scenario.demand.shaft_power_W={one['power_W']}"])
        changed = {name: figures[name] for name in INPUTS} | {"speed_rev_per_min": one["speed_rev_per_min"]}
        again = explore.evaluate(pd.DataFrame([changed]), asked).iloc[0]
        assert again[ENERGY] - figures[ENERGY] == pytest.approx(one["energy_kWh_per_year"], abs=1e-6)
        assert again[COST] - figures[COST] == pytest.approx(one["cost_EUR"], abs=1e-6)
        assert again["swept_volume_1_L"] == pytest.approx(figures["swept_volume_1_L"], rel=2e-3)
        assert one["needs"] == {
            name: pytest.approx(again[name])
            for name in ("boiler_area_m2", "condenser_area_m2", "charge_kg")
            if again[name] > case.scenario.owned.bounds()[name][1]
        }


def test_order(found):
    """What is free comes first, then the most energy for an EUR, then what adds nothing."""
    ranks = [0 if one.free else 1 if one.per_EUR else 2 for one in found[1]]
    assert ranks == sorted(ranks)
    paid = [one.per_EUR for one in found[1] if one.per_EUR]
    assert paid == sorted(paid, reverse=True)
    more_sun = next(one for one in found[1] if one.part == "collector area")
    assert more_sun.energy > 0.0
    assert more_sun.price == pytest.approx(0.6 * 230.0 * 1.1)


def test_without_parts_nothing_is_told():
    """A scenario that owns nothing is asked no such question."""
    bare = compose_case(["scenario=orchard"])
    assert told(Evaluator(bare), {}, {}) == {}


def test_rows_and_sentences():
    """A part that pays, one that is there already, one that takes, one that breaks a limit, gas and room."""
    free = part(
        part="boiler area", size="boiler_area_m2", before=0.5, after=0.55, energy_kWh_per_year=1.7, cost_EUR=-0.04,
        kWh_per_year_per_EUR=None, moved={"pinch_boiler_K": [3.25, 2.5], "speed_rev_per_min": [500.0, 490.0]},
    )  # fmt: skip
    tank = part(
        part="tank volume", size="store_volume_L", before=300.0, after=330.0, energy_kWh_per_year=-0.5
    )
    bad = part(part="cylinder volume", size="swept_volume_1_L", broken=["violation_room_m3"])
    power = {
        "power_W": 125.0, "energy_kWh_per_year": 4.7, "cost_EUR": 138.0, "speed_rev_per_min": 600.0,
        "needs": {"boiler_area_m2": 0.732}, "broken": [],
    }  # fmt: skip
    answer = {"parts": [free, part(), tank, bad], "charge_kg": [1.63, 5.0], "room_m3": [245.0, 250.0]}
    answer["powers"] = [power]
    cells = rows(answer)
    assert all(len(row) == len(HEADER) for row in cells)
    assert cells[0][-2:] == ("yours", "free")
    assert cells[1] == ("collector area", "6.00", "6.60 m²", "+17.4", "152", "0.115")
    assert [row[3] for row in cells[2:]] == ["nothing", "nothing"]
    said = " ".join(sentences(answer))
    assert "boiler area, which is there already and left unused: boiler pinch from 3.25 to 2.50 K" in said
    assert "engine speed from 500 to 490 rev/min" in said
    assert "More tank volume adds nothing: the plant gives 0.500 kWh a year less." in said
    assert "More cylinder volume would break: room too small for the charge." in said
    assert "1.63 of 5.00 kg in the bottle: more gas adds nothing." in said
    assert (
        "245 of 250 m³ of the room: more room alone adds nothing, but a larger plant would need it." in said
    )
    assert "at 125 W it gives 4.70 kWh a year more for 138 EUR (boiler area 0.732 m²)." in said
    assert text({}, "this design") == ""


def test_the_command_end_to_end(tmp_path, monkeypatch, capfd):
    """A small search of the template: pins and bounds kept in every design, figures in summary, terminal and page."""
    monkeypatch.chdir(tmp_path)
    words = (
        "scenario=mine", "search.designs=3000", "search.leg_designs=1000", "search.seconds=null",
        "search.workers=1", "report.sheets=10", "space.store_mode=stratified",
    )  # fmt: skip
    monkeypatch.setattr(sys, "argv", ["explore", *words])
    assert cli.main() == 0
    said = " ".join(capfd.readouterr().out.split())  # of a title that the window wraps too
    assert "What a little more of each part would add: " in said
    run = next((tmp_path / "results" / "mine").iterdir())
    front = pd.read_csv(run / "front.csv")
    case = explore.load_scenario("mine")
    for name, value in case.scenario.owned.pins().items():
        assert set(front[name]) == {value}, name
    for name, (least, most) in case.scenario.owned.bounds().items():
        assert front[name].max() <= most * (1 + 1e-9)
        assert least is None or front[name].min() >= least * (1 - 1e-9)
    assert (front[["cost_collectors_EUR", "cost_store_EUR", "cost_engine_EUR"]] == 0.0).all(axis=None)
    summary = json.loads((run / "summary.json").read_text(encoding="utf-8"))
    middle = next(one for one in summary["picks"] if "compromise" in one["role"])
    assert f", design {middle['row']} " in said
    for one in middle["more"]["parts"]:
        assert " ".join(rows({"parts": [one]})[0][1].split()) in said
    assert (
        f"explore -m -cp results/mine/{run.name} -cn config scenario.demand.shaft_power_W=60,100,150" in said
    )
    aboard = more_aboard(read_run(run), pick(read_run(run)))
    assert set(aboard["designs"]) == {str(one["row"]) for one in summary["picks"]}
    assert aboard["designs"][str(middle["row"])]["cells"] == rows(middle["more"])
    build(run, middle, monkeypatch, capfd)
    page = (run / "report.html").read_text(encoding="utf-8")
    assert 'id="sheet-more" hidden' in page
    assert 'id="more"' in page
    assert f"design {middle['row']}</caption>" in page
    assert "no service asked for" in page


def build(run, middle, monkeypatch, capfd):
    """The build sheet of the compromise says in terminal and page what its summary says of its parts."""
    words = ("task=build", f"design={run}/front.csv", f"row={middle['row']}", "output=bench")
    monkeypatch.setattr(sys, "argv", ["explore", *words])
    assert cli.main() in (0, None)
    said = " ".join(capfd.readouterr().out.split())
    page = (run.parents[2] / "bench" / "build.html").read_text(encoding="utf-8")
    assert "What a little more of each part would add: this design, with any bore" in said
    for cells in rows(middle["more"]):
        assert " ".join(" ".join(cells).split()) in said
        assert "".join(f"<td>{cell}</td>" for cell in cells) in page


def test_only_parts_at_hand_without_service_ask_for_other_powers(case, tmp_path):
    """A service says its power; so does a scenario that owns nothing."""
    nothing = pd.DataFrame({"pick": [], "line": []})
    stopped = SimpleNamespace(stop_reason="repriced")
    asked = compose_case(["scenario=mine", "scenario.limits.served_share_min=0.5"])
    for one, count in ((case, 4), (asked, 3), (explore.load_scenario("orchard"), 3)):
        assert len(next_commands(one, stopped, nothing, tmp_path)) == count


def test_a_speed_told_by_a_stranger_from_nought_is_told():
    """A run's file may say anything finite: no share is taken of a speed that was none."""
    moved = {"speed_rev_per_min": [0.0, 5.0], "pinch_boiler_K": [3.0, 2.0]}
    (said, *_) = sentences({"parts": [part(part="boiler", size="boiler_area_m2", moved=moved)]})
    assert "boiler pinch from 3.00 to 2.00 K" in said
    assert "engine speed from 0 to 5" in said


@pytest.mark.parametrize("key", ["parts", "powers"])
def test_a_folder_tells_of_no_more_parts_than_a_plant_has(key):
    """A page of thousands of lines is nobody's plant."""
    power = {"power_W": 80.0, "energy_kWh_per_year": 1.0, "cost_EUR": 0.0, "speed_rev_per_min": 300.0}
    many = {"parts": [part()], "powers": [power], key: [part() if key == "parts" else power] * 33}
    with pytest.raises(ValidationError, match="at most 32"):
        More.model_validate(many)
    More.model_validate(many | {key: many[key][:32]})


@pytest.mark.parametrize(("used", "alone"), [(9.4, False), (9.6, True)])
def test_a_bottle_is_full_from_nineteen_twentieths_on(used, alone):
    """Then more gas alone is no use; before, it is none at all."""
    (said,) = _held({"charge_kg": (used, 10.0)})
    assert ("alone adds nothing" in said) == alone
