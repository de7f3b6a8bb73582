"""A given machine, the feed pump and the size of cylinders."""

import dataclasses
import math

import numpy as np
import pytest

from explore.errors import InputError
from explore.plant.cylinder import Cylinders, Make, from_stock, size
from explore.plant.engine import LOSSLESS, Losses
from explore.plant.given import Cylinder
from explore.plant.laws import Laws
from explore.plant.machine import run_machine
from explore.plant.pump import FeedPump, feed_efficiency, feed_work, suction_head

R245 = {"inlet_pressure": 18e5, "inlet_temperature": 395.0, "outlet_pressure": 2.5e5, "frequency": 25.0}
BORE = (4.0 * 100e-6 / math.pi) ** (1.0 / 3.0)
AIR = {"inlet_pressure": 9e5, "inlet_temperature": 293.15, "outlet_pressure": 1.013e5, "frequency": 465 / 60}
STEAM = {"inlet_pressure": 8e5, "inlet_quality": 1.0, "outlet_pressure": 1.02e5, "frequency": 400 / 60}
ONE = [Cylinder(BORE, BORE, cut_off=0.9)]
TWO = [Cylinder(0.3, 0.15, cut_off=0.4), Cylinder(0.4, 0.15, cut_off=0.5)]


def test_lossless_gas_at_full_admission():
    """Without losses and clearance an engine that admits all its stroke does (p1 - p3) V_D each turn."""
    conditions = {**AIR, "frequency": [5.0, 20.0]}
    r = run_machine("Nitrogen", [Cylinder(BORE, BORE, cut_off=1.0)], conditions, LOSSLESS)
    work = (9e5 - 1.013e5) * 100e-6
    np.testing.assert_allclose(r.shaft_power, work * np.array([5.0, 20.0]), rtol=1e-6)
    np.testing.assert_allclose(r.torque, work / (2 * math.pi), rtol=1e-6)
    # nitrogen at 9 bar and 20 degC weighs p M / R T, within 1 %
    np.testing.assert_allclose(
        r.flow, 9e5 * 0.028014 / (8.314 * 293.15) * 100e-6 * np.array([5.0, 20.0]), rtol=1e-2
    )


def test_air_engine_gives_torque_at_both_speeds():
    """The air engine of 100 cm3 at 9 bar: about 10 N m at 465 rev/min, with losses that stand in the balance."""
    r = run_machine("Air", ONE, {**AIR, "frequency": np.array([465.0, 1320.0]) / 60.0})
    assert np.all((r.torque > 5.0) & (r.torque < 12.0))
    stage = r.stages[0]
    lost = sum(stage.lost_power.values())
    np.testing.assert_allclose(r.shaft_power + lost, r.ideal_power, rtol=1e-9)
    assert all(np.all(v >= 0.0) for v in stage.lost_power.values())
    assert np.all(r.residual < 1e-9)


@pytest.mark.parametrize("laws", [Laws.careful(), Losses(), Laws.ideal()])
def test_the_diagram_encloses_the_indicated_work(laws):
    """The area of the loop is the indicated mean pressure times the swept volume."""
    r = run_machine("R245fa", [Cylinder(0.04, 0.03, 5, 2, volume_ratio=4.0)], R245, laws)
    V, p = r.stages[0].diagram[0].T
    area = 0.5 * np.sum(V[1:] * p[:-1] - V[:-1] * p[1:])
    swept = 0.25 * math.pi * 0.04**2 * 0.03
    np.testing.assert_allclose(area, r.stages[0].mean_pressure[0] * swept, rtol=2e-3)
    turns = 25.0 * 5 * 2
    if isinstance(laws, Laws) and laws == Laws.ideal():
        np.testing.assert_allclose(r.indicated_power, area * turns, rtol=2e-3)
    assert (V[0], p[0]) == (V[-1], p[-1])


def test_conditions_one_by_one_or_all_at_once():
    """Arrays of conditions give what each gives alone."""
    pressures = [6e5, 9e5]
    both = run_machine("Air", ONE, {**AIR, "inlet_pressure": pressures})
    for i, p in enumerate(pressures):
        alone = run_machine("Air", ONE, {**AIR, "inlet_pressure": p})
        np.testing.assert_array_equal(alone.shaft_power, both.shaft_power[[i]])


def test_compound_steam_engine():
    """Two cylinders in series pass one flow; receivers and walls settle; losses of constants run too."""
    r = run_machine("Water", TWO, STEAM)
    assert 1.02e5 < r.stages[0].exhaust_pressure < 8e5
    assert 0.5 < r.shaft_efficiency < 0.9
    assert 0.02 < r.missing < 0.35
    assert r.residual < 1e-9
    np.testing.assert_allclose(r.torque, r.shaft_power / (2 * math.pi * 400 / 60))
    constant = run_machine("Water", TWO, STEAM, Losses())
    assert 0.5 < constant.shaft_efficiency < 0.9


def test_the_machines_own_clearance_counts():
    """A clearance given takes the place of the laws'."""
    small = run_machine("Air", ONE, AIR, clearance=0.02)
    laws = dataclasses.replace(Laws.careful(), clearance=0.02)
    np.testing.assert_array_equal(small.shaft_power, run_machine("Air", ONE, AIR, laws).shaft_power)
    assert small.shaft_efficiency > run_machine("Air", ONE, AIR).shaft_efficiency


@pytest.mark.parametrize(
    ("fluid", "cylinders", "changed", "words"),
    [
        ("Air", [Cylinder(0.0, 0.1, cut_off=0.5)], {}, "bore is 0"),
        ("Air", [Cylinder(0.1, float("nan"), cut_off=0.5)], {}, "stroke is nan"),
        ("Air", [Cylinder(0.1, 0.1, 0, cut_off=0.5)], {}, "number is 0"),
        ("Air", [Cylinder(0.1, 0.1, 1, 3, cut_off=0.5)], {}, "acting is 3"),
        ("Air", [Cylinder(0.1, 0.1)], {}, "either cut_off or volume_ratio"),
        ("Air", [Cylinder(0.1, 0.1, cut_off=1.2)], {}, "cut-off is 1.2"),
        ("Air", [Cylinder(0.1, 0.1, volume_ratio=0.5)], {}, "volume ratio is 0.5"),
        ("Air", [Cylinder(0.1, 0.1, volume_ratio=16.0)], {}, "clearance of 0.07 leaves no cut-off"),
        ("Air", [], {}, "at least one cylinder"),
        ("no such thing", ONE, {}, "is not known"),
        ("Water", ONE, {}, "is liquid"),
        ("R245fa", ONE, {"inlet_pressure": 50e5}, "near or above the critical point"),
        ("Water", ONE, {"outlet_pressure": 100.0}, "below the triple point"),
        ("Air", ONE, {"outlet_pressure": 9e5}, "not below its inlet"),
        ("Air", ONE, {"frequency": -1.0}, "frequency of condition 1 is -1"),
        ("Air", ONE, {"frequency": [1, 2, 3], "inlet_temperature": [300, 310]}, "as many as the others"),
        ("Air", ONE, {"frequency": "fast"}, "needs numbers"),
        ("Air", ONE, {"speed": 3.0}, "'speed' is not known"),
        ("Air", ONE, {"inlet_quality": 0.9}, "one of the two"),
    ],
)  # fmt: skip
def test_bad_input_is_one_sentence(fluid, cylinders, changed, words):
    """Every mistake is named, with its place."""
    with pytest.raises(InputError) as said:
        run_machine(fluid, cylinders, {**AIR, **changed})
    assert words in str(said.value)
    assert "\n" not in str(said.value)


def test_missing_condition_and_wet_inlet():
    """A condition left out, an inlet that is nearly all liquid, and a senseless clearance."""
    with pytest.raises(InputError, match="outlet_pressure is missing"):
        run_machine("Air", ONE, {k: v for k, v in AIR.items() if k != "outlet_pressure"})
    with pytest.raises(InputError, match="inlet quality of condition 1"):
        run_machine("Water", TWO, {**STEAM, "inlet_quality": 0.1})
    with pytest.raises(InputError, match="clearance is"):
        run_machine("Air", ONE, AIR, clearance=1.5)


def test_feed_pump():
    """0.765 dp/(dp + 1.5 bar): 0.306 / 0.588 / 0.712 at 1 / 5 / 20 bar; with a motor 0.55 of it."""
    dp = np.array([1e5, 5e5, 20e5])
    zero = np.zeros(3)
    eta = feed_efficiency(FeedPump(), zero, dp)
    np.testing.assert_allclose(eta, [0.306, 0.5884615, 0.7116279], rtol=1e-6)
    np.testing.assert_allclose(feed_efficiency(FeedPump(driven_by="motor"), zero, dp), 0.55 * eta)
    np.testing.assert_allclose(feed_work(1e-3 * np.ones(3), zero, dp, eta), 1e-3 * (dp + 1.5e5) / 0.765)
    assert np.all(np.isfinite(feed_work(np.ones(3), dp, dp, feed_efficiency(FeedPump(), dp, dp))))


@pytest.mark.parametrize("name", ["volumetric", "drive", "packing", "motor"])
def test_every_coefficient_of_the_pump_is_felt(name):
    """Five per cent on any of them changes the work."""
    law = FeedPump(driven_by="motor")
    changed = dataclasses.replace(law, **{name: 1.05 * getattr(law, name)})
    p = np.array([0.0]), np.array([5e5])
    assert abs(feed_efficiency(changed, *p)[0] / feed_efficiency(law, *p)[0] - 1.0) > 5e-3


def test_suction_head():
    """No subcooling leaves the static head alone."""
    head = suction_head(np.array([2e5]), np.array([2e5]), np.array([1e-3]), 1.5)
    np.testing.assert_allclose(head, 1.5)


def test_cylinders_from_the_flow():
    """2 litres a second at 5 rev/s, two double-acting cylinders: 100 cm3 each, bore = stroke = 50.3 mm; U = 0.503 m/s."""
    rate, speed, two = np.array([2e-3]), np.array([5.0]), np.array([2.0])
    own = size(Make(acting=2), [rate], speed, two)[0]
    np.testing.assert_allclose([own.bore[0], own.stroke[0]], 0.0503079, rtol=1e-5)
    np.testing.assert_allclose(own.displaced(speed), rate)
    np.testing.assert_allclose(own.piston_speed(speed), 0.503079, rtol=1e-5)
    long = size(Make(stroke_over_bore=2.0), [rate], speed, two)[0]
    np.testing.assert_allclose(long.stroke, 2.0 * long.bore)
    np.testing.assert_allclose(long.swept_volume, rate / speed)
    held = size(Make(), [rate], speed, two, [np.array([0.05])])[0]
    np.testing.assert_allclose(held.swept_volume, rate / speed)
    assert held.bore == 0.05


def test_one_throw_and_stock():
    """One stroke for all stages from the geometric mean volume; the next larger tube, or the largest there is."""
    rates = [np.array([1e-3]), np.array([4e-3])]
    speed, z = np.array([5.0]), np.array([1.0])
    small, large = size(Make(one_throw=True), rates, speed, z)
    assert small.stroke == large.stroke
    np.testing.assert_allclose(small.stroke, (4.0 * 4e-4 / math.pi) ** (1 / 3))
    np.testing.assert_allclose(large.bore / small.bore, 2.0)
    make = Make(stock_bores=(0.04, 0.05, 0.08))
    bores = np.array([0.03, 0.05, 0.0501, 0.1])
    np.testing.assert_array_equal(from_stock(make, bores), [0.04, 0.05, 0.08, 0.08])
    assert Cylinders(bores, bores, np.ones(4)).take(np.array([1])).bore == 0.05
