"""The build sheet end to end: its figures are the evaluator's, its files whole and readable."""

from __future__ import annotations

import csv
import io
import sys
from pathlib import Path

import ezdxf
import numpy as np
import pytest

from explore import cli
from explore.bench import crank, cylinders, sheet
from explore.bench.cylinders import Choices
from explore.bench.drawing import dxf
from explore.config.compose import compose_case
from explore.model import Evaluator
from explore.model.details import details, records
from explore.run.design_file import evaluated
from explore.tell.build.files import parts_csv, walls_mm
from explore.tell.build.page import page

FRONT = Path(__file__).parents[2] / "results" / "example" / "front.csv"
MADE = Choices(rod_ratio=4.0, gas_velocity=30.0, fluctuation=0.05, phasing=None, acting=1)
LOOP = {"V_L": [0.1, 0.6, 0.8, 1.1, 1.1, 0.3, 0.1], "p_bar_a": [9.0, 9.0, 6.0, 4.0, 2.0, 2.0, 9.0]}
"""An invented indicator loop: litres and bar."""


@pytest.fixture(scope="module")
def built():
    """Case, figures, details and sheet of the first line of the sample run, with bores from stock."""
    case = sheet.with_stock(compose_case(["task=build", f"design={FRONT}", "row=1"]), ())
    design = evaluated(FRONT, case, 1)
    evaluator, figures = Evaluator(case, case.search.properties), records(design)[0]
    taken = details(evaluator, design)[0]
    return case, figures, taken, sheet.build_sheet(evaluator, figures, figures, taken, MADE)


@pytest.fixture
def here(tmp_path, monkeypatch, capfd):
    """An empty working folder, and a function that runs the command in it."""
    monkeypatch.chdir(tmp_path)

    def run(*words):
        monkeypatch.setattr(sys, "argv", ["explore", "task=build", *words])
        return cli.main(), *capfd.readouterr()

    return run


def test_the_command_writes_three_files_and_never_over_others(here, tmp_path):
    """A new folder holds sheet, parts and drawing; asked again, the command refuses and leaves them as they were."""
    words = (f"design={FRONT}", "row=1", "output=sheet", "rod_ratio=5")
    status, _, _ = here(*words)
    assert status == 0
    held = {path.name: path.read_bytes() for path in (tmp_path / "sheet").iterdir()}
    assert set(held) == {"build.html", "parts.csv", "build.dxf"}
    assert b"Rod over crank radius 5," in held["build.html"]
    status, _, err = here(*words)
    assert status == 2
    assert "output=sheet" in err
    assert {path.name: path.read_bytes() for path in (tmp_path / "sheet").iterdir()} == held


def test_a_refusal_leaves_nothing(here, tmp_path):
    """A row that is not there: one sentence, and no folder."""
    status, _, err = here(f"design={FRONT}", "row=9999")
    assert (status, list(tmp_path.iterdir())) == (2, [])
    assert "row=9999" in err


@pytest.mark.parametrize("acting", [1, 2])
@pytest.mark.parametrize("ratio", [2.5, 4.0, 12.0])
def test_torque_over_a_turn_is_the_area_of_the_loop(ratio, acting):
    """Whatever the rod, torque summed over a turn is the indicator work, once for each side of the piston."""
    angle = np.arange(1440) * 2 * np.pi / 1440
    torque = cylinders.gas_torque(LOOP, angle, Choices(ratio, 30.0, 0.05, None, acting))
    work = acting * crank.loop_work(np.array(LOOP["V_L"]), np.array(LOOP["p_bar_a"])) * 100.0
    assert np.mean(torque) * 2 * np.pi == pytest.approx(work, rel=1e-3)


def test_mean_torque_agrees_with_the_shaft_work(built):
    """Indicator diagrams less friction give the torque that work, flow and speed of the evaluation give."""
    torque = built[3]["torque"]
    assert torque["shaft_Nm"] == pytest.approx(torque["work_Nm"], rel=2e-3)


def test_the_sheet_has_the_figures_of_the_evaluation(built):
    """Bores are in stock; bore, stroke, charge, bill and pressures on the sheet are those evaluated."""
    case, figures, taken, told = built
    for stage, one in enumerate(told["cylinders"], start=1):
        assert one["bore_mm"] == pytest.approx(figures[f"bore_{stage}_mm"])
        assert one["stroke_mm"] == pytest.approx(figures[f"stroke_{stage}_mm"])
        assert min(abs(one["bore_mm"] - bore) for bore in sheet.STOCK_BORES_MM) < 1e-6
    assert told["fill"]["charge_kg"] == figures["charge_kg"]
    assert told["hazards"] == taken["hazards"]
    prices = [row["price_EUR"] for row in told["parts"] if row["price_EUR"]]
    assert sum(prices) == pytest.approx(figures["cost_EUR"], abs=0.1)
    text = page(told, figures, case, MADE)
    for words in (
        f"{figures['bore_1_mm']:.1f}",
        f"{figures['charge_kg']:.2f} kg",
        "licensed practice decide",
    ):
        assert words in text
    assert "<script" not in text
    assert "http" not in text


def test_cut_off_is_that_of_the_volume_ratio(built):
    """(clearance + cut-off) of the stroke times the built-in volume ratio is the whole cylinder."""
    _, figures, _, told = built
    for stage, one in enumerate(told["cylinders"], start=1):
        c, x = one["clearance_percent"] / 100, one["cut_off_percent"] / 100
        assert (c + x) * figures[f"volume_ratio_{stage}"] == pytest.approx(1 + c, rel=1e-4)
        share = float(crank.travel(np.radians(np.array(one["cut_off_deg"])), MADE.rod_ratio))
        assert share == pytest.approx(x, rel=1e-9)


def test_a_rod_that_is_too_short_is_told(built):
    """Bore 125, stroke 64.2: by hand L/r of 2 + 125 / 128.4 just clears the crank; a shorter rod is warned of."""
    case, figures, _, told = built
    last = told["cylinders"][-1]
    assert last["least_rod_ratio"] == pytest.approx(2.0 + last["bore_mm"] / (2.0 * last["stroke_mm"]))
    short = Choices(2.5, 30.0, 0.05, None, 1)
    assert "the rod is too short" in page(told, figures, case, short)
    assert "the rod is too short" not in page(told, figures, case, MADE)


def test_the_drawing_opens_and_is_to_scale(built):
    """A reader finds no error in it; the first crank's circle has half the stroke."""
    told = built[3]
    content = dxf(told["cylinders"], walls_mm(told["hazards"]["walls"]))
    drawing = ezdxf.read(io.StringIO(content.decode()))
    assert not drawing.audit().has_errors
    circles = [one.dxf.radius for one in drawing.modelspace().query("CIRCLE")]
    assert circles == pytest.approx([one["stroke_mm"] / 2 for one in told["cylinders"]])


def test_parts_are_a_table(built):
    """The CSV gives every part back."""
    rows = list(csv.DictReader(io.StringIO(parts_csv(built[3]["parts"]))))
    assert [row["part"] for row in rows] == [one["part"] for one in built[3]["parts"]]


def test_what_a_scenario_says_is_escaped(built):
    """A title with a tag in it stays text."""
    case, figures, _, told = built
    scenario = case.scenario.model_copy(update={"title": "<b>orchard</b>"})
    assert "<b>orchard" not in page(told, figures, case.model_copy(update={"scenario": scenario}), MADE)
