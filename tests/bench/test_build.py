"""The build sheet end to end: its figures are the evaluator's, its files whole and readable."""

from __future__ import annotations

import csv
import io
import re
import sys
from pathlib import Path

import ezdxf
import numpy as np
import pandas as pd
import pytest

import explore
from explore import cli
from explore.bench import coil, crank, cylinders, parts, sheet
from explore.bench.cylinders import Choices
from explore.bench.drawing import dxf
from explore.bench.scheme import scheme
from explore.bench.shapes import Words
from explore.config.compose import compose_case
from explore.config.owned import Owned
from explore.config.schema import Costs
from explore.fluids.helmholtz import substance
from explore.judgement.severity import Severity
from explore.model import Evaluator
from explore.model.details import details, records
from explore.plant.store import radius
from explore.run.design_file import evaluated
from explore.tell.build.files import parts_csv, walls_mm
from explore.tell.build.page import at_hand, page
from explore.verify.influence import designs

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


@pytest.fixture(scope="module")
def careful_mixed():
    """The same of n-butane on a fully mixed store, its boiler a coil in it; an invented design."""
    case = sheet.with_stock(compose_case(["task=build"]), ())
    columns = {name: values[2:3] for name, values in designs(case).items()}
    evaluator = Evaluator(case, case.search.properties)
    design = pd.DataFrame(columns | dict(evaluator.evaluate(columns)))
    figures, taken = records(design)[0], details(evaluator, design)[0]
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


@pytest.mark.parametrize(
    "words",
    [
        ("engine.condenser_hold_up_L_per_m2=0",),
        ("engine.liquid_share_condenser=1",),
        tuple(f"yardsticks.{name}=0" for name in (
            "panel_EUR_per_W", "panel_fixing_EUR_per_W", "battery_EUR_per_kWh", "motor_EUR_per_W",
        )),
    ],
)  # fmt: skip
def test_values_at_the_end_of_what_is_allowed_give_a_sheet(here, tmp_path, words):
    """No room for vapour in the condenser, panels for nothing: the sheet says nothing of what follows from them."""
    status, _, err = here(f"design={FRONT}", "row=1", "output=sheet", *words)
    assert status == 0, err
    text = (tmp_path / "sheet" / "build.html").read_text(encoding="utf-8")
    assert "inf" not in text.split("Pulled to, mbar")[1].split("</table>")[0]
    assert "nan" not in text


def test_masses_of_another_number_of_stages_are_refused(here, tmp_path):
    """Three stages and two masses: one sentence, and no folder."""
    status, _, err = here(f"design={FRONT}", "row=1", "reciprocating_kg=[0.4,0.8]")
    assert (status, list(tmp_path.iterdir())) == (2, [])
    assert "this design has 3 stages" in err


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
    work = acting * np.trapezoid(LOOP["p_bar_a"], LOOP["V_L"]) * 100.0
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
    compared = taken["with_tubes"]["compared"]
    held = {"relief_capacity_kg_per_s": compared["relief_capacity_kg_per_s"][1]}
    assert told["fill"]["charge_kg"] == compared["charge_kg"][1]
    assert told["fill"]["evaluated_kg"] == figures["charge_kg"]
    assert told["hazards"] == taken["hazards"] | held
    text = page(told, figures, case, MADE)
    for words in (
        f"{figures['bore_1_mm']:.1f}",
        f"{figures['charge_kg']:.2f} kg",
        f"{compared['charge_kg'][1]:.2f} kg",
        "licensed practice decide",
    ):
        assert words in text
    assert "<script" not in text
    assert "http" not in text


def test_charge_and_volumes_are_those_of_the_tubes_listed(built, careful_mixed):
    """The plant that is filled has the tubes of the sheet: its boiler's volume is theirs, and the room asked for as well.

    A room that suffices by coefficients and not with the tubes is a caution that forbids building.
    """
    for _, _, taken, told in (built, careful_mixed):
        compared = taken["with_tubes"]["compared"]
        inner = sum(
            np.pi / 4.0 * (one.inside_mm / 1e3) ** 2 * one.total_m * 1e3
            for one in told["coils"]
            if one.what == "condenser"
        )
        assert told["filling"]["volumes_L"]["condenser"] == pytest.approx(inner, rel=1e-6)
        assert told["filling"]["fill"]["charge_kg"] == compared["charge_kg"][1]
    case, figures, taken, _ = careful_mixed
    plain = figures["room_volume_needed_m3"]
    roomy = case.scenario.model_copy(update={"room_volume_m3": 1.5 * plain})
    evaluator = Evaluator(case.model_copy(update={"scenario": roomy}), case.search.properties)
    for more, forbids in ((1.0, False), (2.0, True)):
        compared = taken["with_tubes"]["compared"] | {"room_volume_needed_m3": [plain, more * plain]}
        tubed = taken | {"with_tubes": taken["with_tubes"] | {"compared": compared}}
        found = sheet.build_sheet(evaluator, figures, figures, tubed, MADE)["cautions"]
        said = next(one for one in found if one["topic"] == "room volume")
        assert (said["level"] == Severity.STOP.value) == forbids, said


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
    """A reader finds no error in it; the first circles are the cranks', then those of the coils' turns; text is there."""
    told = built[3]
    content = dxf(told["cylinders"], walls_mm(told), told["coils"], told["scheme"])
    drawing = ezdxf.read(io.StringIO(content.decode()))
    auditor = drawing.audit()
    assert not auditor.has_errors
    assert not auditor.has_fixes
    space = drawing.modelspace()
    circles = [one.dxf.radius for one in space.query("CIRCLE")]
    cranks = [one["stroke_mm"] / 2 for one in told["cylinders"]]
    assert circles[: len(cranks)] == pytest.approx(cranks)
    thick = [0.5 * one.wound_mm for one in told["coils"] for _ in range(2 * int(one.turns))]
    assert circles[len(cranks) : len(cranks) + len(thick)] == pytest.approx(thick)
    words = [one.dxf.text for one in space.query("TEXT")]
    for wanted in ("condenser", "feed pump", "boiler, level 1", "cylinder 3"):
        assert wanted in words


def test_a_regenerator_stands_in_the_schematic(built, careful_mixed):
    """Between engine and condenser, its two feed lines ending at it, where a design has one; nowhere else."""
    for _, figures, taken, _ in (built, careful_mixed):
        without, with_one = (
            scheme(figures | {"regenerator_effectiveness": share}, taken) for share in (0.0, 0.6)
        )
        said = [[one.text for one in shapes if isinstance(one, Words)] for shapes in (without, with_one)]
        assert "regenerator" not in said[0]
        assert "regenerator" in said[1]
        assert len(with_one) == len(without) + 3


def test_prices_of_the_parts_are_the_bill(built, careful_mixed):
    """Part by part they sum to the cost, and cylinders to the engine's line; of a coil in the store too."""
    for case, figures, _, told in (built, careful_mixed):
        prices = {row["part"]: row["price_EUR"] for row in told["parts"] if row["price_EUR"] is not None}
        assert sum(prices.values()) == pytest.approx(figures["cost_EUR"], abs=0.1)
        engine = sum(price for part, price in prices.items() if part.startswith("cylinder"))
        assert engine == pytest.approx(figures["cost_engine_EUR"], abs=0.05)
        tubes = sum(price for part, price in prices.items() if part.startswith("boiler tube"))
        assert tubes == pytest.approx(figures["cost_boiler_EUR"], abs=0.05)
        levels = figures["pressure_levels"]
        assert prices["feed pump plunger"] == case.costs.feed_pump_EUR_per_level
        assert prices["relief valve"] == pytest.approx(levels * case.costs.safety_valve_EUR)


def test_a_stage_by_hand():
    """One of two equal stages of one cylinder, 1 L each: 400 and half of 500 x 2^0.6 = 778.93 EUR."""
    assert parts.stage_price(Costs(), 1, 1.0, 2.0) == pytest.approx(400.0 + 0.5 * 500.0 * 1.5157, abs=0.01)


def test_the_feed_pump_of_a_fixed_engine_covers_its_discharge(careful_mixed):
    """Its need changes with the store; at the worst efficiency the plunger just moves the greatest, at the likely one more.

    At the temperature for which the engine is sized the need is the evaluation's flow over its speed.
    """
    _, figures, _, told = careful_mixed
    pump = told["pump"]
    needs = [need for _, need, _ in pump["needs"]]
    assert len(needs) == 5
    assert max(needs) > 1.05 * min(needs)
    assert pump["swept_mL"] * pump["worst_volumetric"] == pytest.approx(max(needs))
    assert pump["least_percent"] == pytest.approx(100.0 * (0.90 / 0.75 - 1.0))
    assert pump["most_percent"] == pytest.approx(max(over for _, _, over in pump["needs"]))
    assert pump["needs"][0][0] == pytest.approx(figures["top_temperature_degC"])


def test_the_feed_pump_of_a_stratified_store_needs_what_flows(built):
    """Flow times volume over speed, by hand; pumps between boilers lift what boils above them."""
    _, figures, taken, told = built
    pump = told["pump"]
    first = next(one for one in taken["states"] if one["place"] == "condenser outlet")
    density = substance(str(figures["fluid"])).liquid(first["p_bar_a"] * 1e5, first["T_degC"] + 273.15)
    need = figures["fluid_flow_kg_per_s"] * 60.0 / figures["speed_rated_rev_per_min"]
    volume = 1e6 * need * density[2]
    assert pump["needed_mL"] == pytest.approx(volume, rel=1e-3)
    assert [one["level"] for one in pump["between"]] == [1, 2]
    assert pump["between"][0]["swept_mL"] < pump["between"][1]["swept_mL"] < pump["swept_mL"] * 1.3


def test_receivers_and_walls_from_stock(built):
    """Six swept volumes each, as high as two diameters; walls the next in the list that are no less."""
    case, figures, taken, told = built
    for one in told["receivers"]:
        assert one["volume_L"] == pytest.approx(6.0 * figures[f"swept_volume_{one['stage']}_L"])
        volume = np.pi / 4.0 * one["diameter_mm"] ** 2 * one["height_mm"] / 1e6
        assert volume == pytest.approx(one["volume_L"])
    for one in taken["hazards"]["walls"]:
        wall = told["stock_walls"][one["part"]]
        assert wall in sheet.STOCK_WALLS_MM
        assert wall >= one["wall_mm"]
    thin = sheet.with_stock(case, (), (0.5, 1.0))
    assert sheet._stock_walls(taken["hazards"]["walls"], thin)["cylinder 3"] is None


def test_a_coil_by_hand():
    """10 m wound at 0.3 m with a pitch of 20 mm: a turn is sqrt(0.9425^2 + 0.02^2) = 0.9427 m, so 10.61 turns."""
    assert coil.turns(10.0, 0.3, 0.02) == pytest.approx(10.608, abs=0.001)


def test_coils_hold_their_tubes_and_fit_the_store(built, careful_mixed):
    """Turns times the length of one are the tubes' length; what hangs in the store is no higher than four fifths of it."""
    for *_, told in (built, careful_mixed):
        for one in told["coils"]:
            length = one.turns * np.hypot(np.pi * one.mean_diameter_mm, one.pitch_mm)
            assert length == pytest.approx(1e3 * one.total_m)
    _, figures, _, told = careful_mixed
    hung = told["coils"][0]
    across = 2e3 * float(radius(np.array(figures["store_volume_L"] / 1e3)))
    assert hung.height_mm <= 0.8 * 2.0 * across
    assert hung.mean_diameter_mm == pytest.approx(0.6 * across)


def test_masses_that_were_weighed_count(built):
    """Twice the mass, twice the force, and the flywheel changes; the mean torque does not."""
    _, figures, taken, told = built
    own = tuple(2.0 * one["mass_kg"] for one in told["cylinders"])
    made = Choices(4.0, 30.0, 0.05, None, 1, None, own)
    for stage, loop in enumerate(taken["indicator"], start=1):
        heavy = cylinders.cylinder(figures, loop, stage, made)
        assert heavy["inertia_N"] == pytest.approx(2.0 * told["cylinders"][stage - 1]["inertia_N"])
    turned = cylinders.torque(figures, taken["indicator"], made)
    assert turned["inertia_Nm"] == pytest.approx(2.0 * told["torque"]["inertia_Nm"])
    assert turned["shaft_Nm"] == pytest.approx(told["torque"]["shaft_Nm"], rel=1e-6)


def test_parts_are_a_table(built):
    """The CSV gives every part back."""
    rows = list(csv.DictReader(io.StringIO(parts_csv(built[3]["parts"]))))
    assert [row["part"] for row in rows] == [one["part"] for one in built[3]["parts"]]


def test_what_a_scenario_says_is_escaped(built):
    """A title with a tag in it stays text."""
    case, figures, _, told = built
    scenario = case.scenario.model_copy(update={"title": "<b>orchard</b>"})
    assert "<b>orchard" not in page(told, figures, case.model_copy(update={"scenario": scenario}), MADE)


def test_a_design_marked_stop_is_not_to_be_filled(built):
    """Where a caution forbids building, the steps begin by saying so."""
    case, figures, _, told = built
    assert "Nothing of what follows" not in page(told, figures, case, MADE)
    stop = {"topic": "standstill pressure", "text": "too high", "level": Severity.STOP.value}
    text = page(told | {"cautions": [stop]}, figures, case, MADE)
    assert text.index("From leak test to winter") < text.index("Nothing of what follows")


def test_the_sheet_shows_what_it_gathered(built, careful_mixed):
    """Receivers, feed pumps, walls, coils, schematic and the ways to the same work are on the page."""
    for case, figures, _, told in (built, careful_mixed):
        text = page(told, figures, case, MADE)
        for words in (
            "From leak test to winter",
            "Whether to build it at all",
            "What the shaft does",
            f"{told['pump']['swept_mL']:.2f} mL",
            f"{told['receivers'][0]['volume_L']:.2f}",
            f"{told['coils'][0].turns:.1f}",
            "opens one way",
            "for all materials from stock",
        ):
            assert words in text
        assert text.count("<svg") == 2 * len(told["cylinders"]) + 1 + len(told["coils"]) + 1


def test_cylinders_at_hand_are_the_stock():
    """As long as wide and of their volume, 54 mm by 43 mm: bore 50.05 mm by hand; what is typed comes before."""
    case = explore.load_scenario("mine", ["scenario.owned.bores_mm=[54]", "scenario.owned.stroke_mm=43"])
    assert sheet.with_stock(case, ()).scenario.stock_bores_mm == pytest.approx((50.05,), abs=0.01)
    assert sheet.with_stock(case, (80.0, 63.0)).scenario.stock_bores_mm == (63.0, 80.0)
    freer = case.with_("scenario.owned.may_buy_more=true")
    assert sheet.with_stock(freer, ()).scenario.stock_bores_mm == sheet.STOCK_BORES_MM


def test_forces_of_cylinders_at_hand_are_told():
    """Piston area 54 over 50.05 mm squared is 1.16: a wider bore pulls harder at rod and bolts than the sheet says."""
    owned = Owned(bores_mm=(54.0,), stroke_mm=43.0)
    said = at_hand(owned, [{"bore_mm": 50.05}])
    assert "rods and head bolts are 1.16 times those here" in said
    assert "reckon them from your own bore and stroke" in said
    assert "are those on this sheet" in at_hand(owned, [{"bore_mm": 54.0}])
    assert at_hand(Owned(), [{"bore_mm": 54.0}]) == ""
    assert at_hand(owned, [{"bore_mm": 40.0}, {"bore_mm": 63.0}]) == ""


def test_a_design_that_no_stock_makes_is_told_its_bores(here, tmp_path):
    """An invented steam engine settles with its own bore and not with the next in stock: not physics forbids it."""
    steam = {
        "fluid": "Water", "store_mode": "stratified", "top_temperature_degC": 97, "evaporating_temperature_degC": 85,
        "superheat_K": 2, "condensing_temperature_degC": 40, "subcooling_K": 2.274, "pinch_boiler_K": 2.002,
        "pinch_condenser_K": 2, "stages": 1, "pressure_levels": 1, "release_pressure_ratio": 2,
        "regenerator_effectiveness": 0, "store_volume_L": 537.3, "insulation_mm": 285.9, "collector": "evacuated_tube",
        "collector_area_m2": 4.744, "speed_rev_per_min": 500, "cylinders_per_stage": 1,
    }  # fmt: skip
    (tmp_path / "steam.yaml").write_text("".join(f"{name}: {value}\n" for name, value in steam.items()))
    status, _, err = here("design=steam.yaml", "output=sheet")
    assert status == 2
    assert "it can be, but not with bores from stock; give others, bores_mm=[17" in err
    assert not (tmp_path / "sheet").exists()
    status, _, _ = here("design=steam.yaml", "output=sheet", re.search(r"bores_mm=\[[\d.]+\]", err)[0])
    assert status == 0


def test_ports_let_through_what_the_evaluation_takes_for_granted():
    """Area times discharge coefficient over the piston's is the share of the losses; a typed velocity makes both alike."""
    bore, speed = 0.08, 1.2
    wide = Choices(4.0, 30.0, 0.05, None, 1, ports=(0.06, 0.08)).port_areas(bore, speed)
    piston = np.pi / 4.0 * bore**2
    assert [area * cylinders.PORT_DISCHARGE / piston for area in wide] == pytest.approx([0.06, 0.08])
    narrow = MADE.port_areas(bore, speed)
    assert narrow == pytest.approx([piston * speed / 30.0] * 2)


def test_a_first_start_is_told_of_a_full_store(built, careful_mixed):
    """An engine sized for an emptier store has more pressure before it when the store is full; both stand in the steps."""
    case, figures, _, told = careful_mixed
    start = told["filling"]["start"]
    assert start["most_bar_g"] > start["boiler_bar_g"]
    text = page(told, figures, case, MADE)
    assert "Boiler, running from a full store" in text
    assert "Speed and torque from a full store" in text
    assert "from a full store" not in page(built[3], built[1], built[0], MADE)


def test_the_flywheel_is_for_the_greatest_torque():
    """An engine that gives twice the rated torque with a full store swings twice as far; without figures as rated."""
    assert cylinders._stronger({"torque_rated_Nm": 5.0, "torque_full_Nm": 10.0, "torque_size_Nm": 8.0}) == 2.0
    assert (
        cylinders._stronger({"torque_rated_Nm": 5.0, "torque_full_Nm": 4.0, "torque_size_Nm": np.nan}) == 1.0
    )
    assert cylinders._stronger({}) == 1.0
