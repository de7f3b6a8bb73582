"""The laws of a stage's losses: hand-worked numbers, every coefficient felt, and what must always hold."""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from explore.plant import losses as module
from explore.plant.engine import LOSSLESS, Losses, expand
from explore.plant.laws import Laws
from explore.plant.losses import (
    StageLosses,
    Swept,
    Wall,
    admission_loss,
    crank_angle,
    cut_off,
    exhaust_loss,
    friction,
    leak_area_rate,
    leakage,
    outside_measured,
    port_violation,
    wall_area,
    wall_share,
)
from explore.plant.settle import engine_set
from tests.plant.engines import one_case

ONE = np.ones(1)
CAREFUL = Laws.careful()
WALL = Wall(350.0 * ONE, 1e5 * ONE, 4.5e5 * ONE, 0.002 * ONE, 0.05 * ONE)


def walls(laws, coldest=310.0, enthalpy=4.5e5, temperature=350.0, bore=0.08, frequency=5.0):
    """The wall share of an 80 mm cylinder at a cut-off of 0.3, 5 rev/s."""
    own = bore * ONE
    swept = Swept(own, own, frequency * ONE, 0.3 * ONE)
    return wall_share(laws, swept, (enthalpy * ONE, temperature * ONE), coldest * ONE, WALL, 0.1 * ONE)


def test_cut_off_and_its_crank_angle():
    """(1 + 0.07)/3 - 0.07 = 0.28667; a cut-off of half the stroke is a quarter turn; limits 0.02 and 1."""
    np.testing.assert_allclose(cut_off(0.07, np.array([3.0, 50.0, 0.9])), [0.2866667, 0.02, 1.0], rtol=1e-6)
    np.testing.assert_allclose(crank_angle(np.array([0.5, 1.0])), [math.pi / 2, math.pi])


def test_valves():
    """U = 2 m/s, p v = 40 kJ/kg: 0.02 + 0.822467 (2/0.06)^2 / 40000 = 0.042846; out 0.02 + 0.822467 625 / 40000."""
    p, v = 8e5 * ONE, 0.05 * ONE
    np.testing.assert_allclose(admission_loss(CAREFUL, 2.0 * ONE, p, v), 0.042846306, rtol=1e-6)
    np.testing.assert_allclose(exhaust_loss(CAREFUL, 2.0 * ONE, p, v), 0.032851047, rtol=1e-6)
    assert admission_loss(CAREFUL, 60.0 * ONE, p, v) == 0.5
    assert exhaust_loss(CAREFUL, 60.0 * ONE, p, v) == 1.0


def test_port_mach_index():
    """(pi/2) 2 / (0.06 sqrt(44000)) - 0.5 = -0.25038."""
    np.testing.assert_allclose(
        port_violation(CAREFUL, 2.0 * ONE, 8e5 * ONE, 0.05 * ONE), math.pi / (0.06 * 209.7617696) - 0.5
    )


def test_leak_past_a_small_piston():
    """13 um, 8 to 2 bar: slit 2.197e-15 8e5 0.9375/(24 9e-6 0.003) = 2.54282e-3, orifice 13e-6 0.63 200 = 1.638e-3."""
    j = leak_area_rate(CAREFUL, 0.08 * ONE, 8e5 * ONE, 2e5 * ONE, 0.05 * ONE, 9e-6 * ONE)
    slit, orifice = 2.5428241e-3, 1.638e-3
    np.testing.assert_allclose(j, slit * orifice / (slit + orifice), rtol=1e-6)
    x = 8.0 * 9.9626e-4 / (0.08 * 0.8 * 0.3)
    np.testing.assert_allclose(leakage(CAREFUL, j, 0.08 * ONE, 0.8 * ONE, 0.3 * ONE), x / (1 + x), rtol=1e-4)


def test_leak_near_and_beyond_equal_pressures():
    """At p3/p1 = 0.785 the orifice passes sqrt(1 - 0.25); from equal pressures on nothing flows; a wide bore gapes."""
    p1, v1, mu = 8e5 * ONE, 0.05 * ONE, 9e-6 * ONE
    j = leak_area_rate(CAREFUL, 0.08 * ONE, p1, 0.785 * p1, v1, mu)
    slit = 13e-6**3 * 8e5 * (1 - 0.785**2) / (24 * 9e-6 * 3e-3)
    orifice = 13e-6 * 0.63 * math.sqrt(0.75) * 200.0
    np.testing.assert_allclose(j, slit * orifice / (slit + orifice), rtol=1e-9)
    assert leak_area_rate(CAREFUL, 0.08 * ONE, p1, p1, v1, mu) == 0.0
    assert leak_area_rate(CAREFUL, 0.08 * ONE, p1, 2.0 * p1, v1, mu) == 0.0
    wide = leak_area_rate(CAREFUL, 0.4 * ONE, p1, 0.25 * p1, v1, mu)
    twice = leak_area_rate(dataclasses.replace(CAREFUL, gap=26e-6), 0.1 * ONE, p1, 0.25 * p1, v1, mu)
    np.testing.assert_allclose(wide, twice, rtol=1e-12)


def test_milder_leak():
    """The variant puts sqrt(2/0.3 - 1) = 2.3805 in place of 3.3333, with a gap of 14 um."""
    mild = CAREFUL.milder_leak()
    assert mild.gap == pytest.approx(14e-6)
    x = 8.0 * 1e-3 * 2.3804761 / (0.08 * 0.8)
    np.testing.assert_allclose(
        leakage(mild, 1e-3 * ONE, 0.08 * ONE, 0.8 * ONE, 0.3 * ONE), x / (1 + x), rtol=1e-6
    )


def by_hand(dT, bore=0.08, eps=0.3, frequency=5.0):
    """Vapour condensed over vapour admitted, in the steps a slide rule would take."""
    t = math.acos(1 - 2 * eps) / (2 * math.pi * frequency)
    q_film = math.sqrt(2 * 0.1 * 500.0 * 3.5e5 * dT * t)
    q_iron = 1.1283791671 * 13000.0 * dT * math.sqrt(t)
    area = 3.0 / (bore * eps) + 4.0 / bore
    return area * 0.05 / (3.5e5 * (1 / q_film + 1 / q_iron))


DRY = 0.02 * 175.0 * 0.08 * math.acos(0.4) / (4 * math.pi) * 40.0 / 350.0


def test_walls_of_dry_saturated_vapour():
    """g = 20 K swings 400/28 = 14.2857 K; the dry part adds 0.0030; area 3/(0.08 0.3) + 4/0.08 = 175 per m."""
    np.testing.assert_allclose(wall_area(0.08 * ONE, 0.08 * ONE, 0.3 * ONE), 175.0)
    x = 0.44 * by_hand(400.0 / 28.0) + DRY
    np.testing.assert_allclose(walls(CAREFUL), x / (1 + x), rtol=1e-9)
    assert x == pytest.approx(0.04565, abs=1e-5)


def test_superheat_saves_down_to_the_floor():
    """5 kJ/kg above the dew point save 2.4 5/350; a great superheat leaves 0.15 of the full swing's loss."""
    x = 0.44 * by_hand(400.0 / 28.0) - 2.4 * 5.0 / 350.0 + DRY
    np.testing.assert_allclose(walls(CAREFUL, enthalpy=4.55e5), x / (1 + x), rtol=1e-9)
    x = 0.15 * 0.44 * by_hand(20.0) + DRY
    np.testing.assert_allclose(walls(CAREFUL, enthalpy=5.5e5), x / (1 + x), rtol=1e-9)


def test_root_walls():
    """y = 0.29 sqrt(B_0), and its floor."""
    root = dataclasses.replace(CAREFUL, walls="root")
    y = 0.29 * math.sqrt(by_hand(20.0))
    np.testing.assert_allclose(walls(root), (y + DRY) / (1 + y + DRY), rtol=1e-9)
    x = 0.15 * y + DRY
    np.testing.assert_allclose(walls(root, enthalpy=6.5e5), x / (1 + x), rtol=1e-9)


def test_walls_without_a_swing_and_with_a_great_one():
    """A wall that stays above the dew point condenses nothing; the share stops at 0.95."""
    assert walls(CAREFUL, coldest=360.0, temperature=350.0) == 0.0
    assert walls(dataclasses.replace(CAREFUL, wall=1e4)) == 0.95


def test_friction():
    """(0.052 + 0.055 2) bar sqrt(0.1/0.05) + 0.035 1.5 bar = 0.28160 bar; a motored stage rubs without load."""
    np.testing.assert_allclose(friction(CAREFUL, 0.05 * ONE, 1.5 * ONE, 2e5 * ONE), 28160.26, rtol=1e-6)
    np.testing.assert_allclose(
        friction(CAREFUL, 0.1 * ONE, 1.0 * ONE, -2e5 * ONE), 5200.0 + 3500.0, rtol=1e-12
    )


def test_flag_of_low_pressures():
    """1.5 bar and above is inside what was measured."""
    assert outside_measured(np.array([1.49e5, 1.5e5])).tolist() == [True, False]


def probe(laws):
    """Every law at states where every coefficient and constant counts."""
    p, v, eps = 8e5 * ONE, 0.05 * ONE, 0.3 * ONE
    near = leak_area_rate(laws, 0.15 * ONE, p, 0.8 * p, v, 9e-6 * ONE)
    far = leak_area_rate(laws, 0.05 * ONE, p, 0.1 * p, v, 9e-6 * ONE)
    root = dataclasses.replace(laws, walls="root")
    return np.concatenate([
        admission_loss(laws, 2.0 * ONE, p, v),
        admission_loss(laws, 900.0 * ONE, p, v),
        exhaust_loss(laws, 2.0 * ONE, p, v),
        exhaust_loss(laws, 900.0 * ONE, p, v),
        port_violation(laws, 2.0 * ONE, p, v),
        cut_off(laws.clearance, np.array([3.0, 1e3])),
        leakage(laws, near, 0.15 * ONE, 0.8 * ONE, eps),
        leakage(laws, far, 0.05 * ONE, 0.8 * ONE, eps),
        walls(laws), walls(laws, enthalpy=4.55e5), walls(laws, enthalpy=6.5e5), walls(root),
        walls(dataclasses.replace(laws, dry=1e9)),
        friction(laws, 0.05 * ONE, 1.5 * ONE, 2e5 * ONE) / 1e5,
    ])  # fmt: skip


PINNED = [
    0.04284631,
    0.5,
    0.03285105,
    1.0,
    -0.2503841,
    0.2866667,
    0.02,
    0.1622482,
    0.4041443,
    0.0436533,
    0.01123258,
    0.01053222,
    0.09252278,
    0.95,
    0.2816026,
]
CONSTANTS = (
    "MOST_ADMISSION_LOSS", "MOST_EXHAUST_LOSS", "ISENTROPIC_EXPONENT", "MACH_LIMIT", "LEAST_CUT_OFF", "ORIFICE",
    "CRITICAL_RATIO", "LEAST_BORE", "REFERENCE_BORE", "PISTON_FACES", "IRON_EFFUSIVITY", "SWING_SOFTENING",
    "MOST_WALL_SHARE",
)  # fmt: skip


def test_the_probe_has_its_pinned_values():
    """The laws at one state, as first worked out by hand and by the module alike."""
    np.testing.assert_allclose(probe(CAREFUL), PINNED, rtol=2e-6)


@pytest.mark.parametrize("name", CONSTANTS)
def test_every_constant_is_felt(name, monkeypatch):
    """Five per cent on any constant of the module moves the pinned values."""
    before = probe(CAREFUL)
    monkeypatch.setattr(module, name, 1.05 * getattr(module, name))
    assert np.max(np.abs(probe(CAREFUL) / before - 1.0)) > 1e-4


@pytest.mark.parametrize("name", [f.name for f in dataclasses.fields(Laws) if isinstance(f.default, float)])
def test_every_coefficient_is_felt(name):
    """Five per cent on any coefficient moves the pinned values."""
    changed = dataclasses.replace(CAREFUL, **{name: 1.05 * getattr(CAREFUL, name)})
    assert np.max(np.abs(probe(changed) / probe(CAREFUL) - 1.0)) > 1e-4


def test_defaults_are_those_of_the_page():
    """Every coefficient at its central value."""
    page = {
        "inlet_port": 0.06, "outlet_port": 0.08, "still_loss": 0.02, "port_factor": math.pi**2 / 12, "clearance": 0.07,
        "gap": 13e-6, "land": 3e-3, "leak": "all_turn", "wall": 0.44, "root_wall": 0.29, "walls": "swing",
        "superheat": 2.4, "wall_floor": 0.15, "dry": 0.02, "friction": 5200.0, "load_friction": 0.055,
        "speed_friction": 3500.0,
    }  # fmt: skip
    assert dataclasses.asdict(CAREFUL) == pytest.approx(page)
    assert (Laws.lapped().gap, Laws.home_made().gap) == (8e-6, 18e-6)
    assert engine_set("careful") == CAREFUL
    assert engine_set("constant") == Losses()
    assert engine_set("ideal") == LOSSLESS
    assert (module.CARDLESS_CONDUCTIVITY, module.CARDLESS_VISCOSITY) == (0.10, 9e-6)


def test_laws_without_losses_are_a_loss_free_stage():
    """The set `ideal` as laws gives zeros, and a stage with them is the loss-free stage."""
    ideal = Laws.ideal()
    assert np.all(probe(dataclasses.replace(ideal, dry=0.0))[[0, 2, 7, 8, 9, 10, 11, 12, 14]] == 0.0)
    case = one_case()
    zero = np.zeros(1)
    none = StageLosses(zero, zero, zero, zero, zero, zero)
    args = (case.fluid, case.pressure, case.enthalpy, case.low, case.theta)
    one, other = expand(*args, none), expand(*args, LOSSLESS)
    for name in one._fields[1:]:
        if name != "losses":
            np.testing.assert_array_equal(getattr(one, name), getattr(other, name))


def test_constants_as_arrays_give_the_same_bits():
    """A stage takes constants or arrays of the same values alike."""
    case, c = one_case(), Losses()
    args = (case.fluid, case.pressure, case.enthalpy, case.low, case.theta)
    plain = expand(*args, c)
    chi = 1.0 - plain.kept / (1.0 - c.leakage_fraction)
    arrays = StageLosses(
        *(np.full(1, x) for x in (0.04, 0.04, 0.06, 0.05)), chi, np.full(1, c.friction_mean_pressure)
    )
    again = expand(*args, arrays)
    np.testing.assert_array_equal(again.indicated_work, plain.indicated_work)
    np.testing.assert_allclose(again.shaft_work, plain.shaft_work, rtol=1e-14)


positive = st.floats(0.5, 2.0)


@settings(max_examples=60, deadline=None)
@given(gap=positive, more=st.floats(1.01, 3.0), bore=st.floats(0.01, 0.5), ratio=st.floats(0.0, 1.2))
def test_a_wider_gap_never_leaks_less(gap, more, bore, ratio):
    """Whatever the bore and pressures."""
    tight = dataclasses.replace(CAREFUL, gap=13e-6 * gap)
    wide = dataclasses.replace(tight, gap=tight.gap * more)
    args = (bore * ONE, 8e5 * ONE, ratio * 8e5 * ONE, 0.05 * ONE, 9e-6 * ONE)
    assert leak_area_rate(wide, *args) >= leak_area_rate(tight, *args)


@settings(max_examples=60, deadline=None)
@given(
    heat=st.floats(0.0, 8e4), more=st.floats(0.0, 5e4), coldest=st.floats(300.0, 349.0), root=st.booleans()
)
def test_more_superheat_never_raises_what_condenses(heat, more, coldest, root):
    """With the coldest wall as it is, the wet part falls with the superheat, down to its floor."""
    laws = dataclasses.replace(CAREFUL, walls="root" if root else "swing", dry=0.0)
    less = walls(laws, enthalpy=4.5e5 + heat, coldest=coldest)
    assert walls(laws, enthalpy=4.5e5 + heat + more, coldest=coldest) <= less


@settings(max_examples=40, deadline=None)
@given(bore=st.floats(0.01, 0.3), frequency=st.floats(0.2, 50.0), coldest=st.floats(300.0, 349.0))
def test_walls_fade_with_size_and_speed(bore, frequency, coldest):
    """A larger cylinder and a faster one lose a smaller share to their walls."""
    one = walls(CAREFUL, bore=bore, frequency=frequency, coldest=coldest)
    assert walls(CAREFUL, bore=2.0 * bore, frequency=frequency, coldest=coldest) <= one
    assert walls(CAREFUL, bore=bore, frequency=2.0 * frequency, coldest=coldest) <= one
