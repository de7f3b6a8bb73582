"""Each law of the losses by hand or by another route than its closed formula."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from tests.scalar.designs import plain_case
from tests.scalar.laws import (
    CAREFUL,
    CONSTANT,
    HOME_MADE,
    IDEAL,
    LAPPED,
    MILD,
    ROOT,
    SETS,
    Inlet,
    cooling_drop,
    crank_angle,
    cut_off_fraction,
    cylinder_of,
    drive_efficiency,
    friction_pressure,
    gap_flow,
    leak_fraction,
    port_mach,
    pump_efficiency,
    suction_shortfall,
    valve_drop,
    wall_film,
    wall_fraction,
    warm_capacity,
)
from tests.scalar.sizes import store_loss

# A vapour made up for the arithmetic: 8 bar, 350 K dew point, 300 kJ/kg latent heat.
INLET = Inlet(8e5, 350.0, 0.05, 350.0, 0.05, 300e3, 500.0, 0.0)


def test_sets_by_name():
    assert set(SETS) == {"careful", "lapped", "home_made", "ideal", "constant"}
    assert (LAPPED.gap, CAREFUL.gap, HOME_MADE.gap, MILD.gap) == (8e-6, 13e-6, 18e-6, 14e-6)
    assert [laws.scaled for laws in SETS.values()] == [True, True, True, True, False]


def test_valve_drop_is_mean_dynamic_head_over_the_stroke():
    """Half rho v^2 of a sinusoidal piston behind its port, averaged over the volume swept."""
    p, v, U = 6e5, 0.06, 1.2
    angle = np.linspace(0.0, math.pi, 20001)
    speed = 0.5 * math.pi * U * np.sin(angle) / CAREFUL.port_in
    head = np.trapezoid(0.5 * speed**2 / v * 0.5 * np.sin(angle), angle)
    assert valve_drop(CAREFUL, U, 0.06, p, v, 0.5) == pytest.approx(0.02 + head / p, rel=1e-6)
    # U 1.2, port 0.06: (20)^2 x 0.822467 / 36000 = 0.0091385.
    assert valve_drop(CAREFUL, U, 0.06, p, v, 0.5) == pytest.approx(0.0291385, rel=1e-5)
    assert valve_drop(CAREFUL, 100.0, 0.06, p, v, 0.5) == 0.5
    assert valve_drop(CAREFUL, 100.0, 0.08, p, v, 1.0) == 1.0


def test_port_mach():
    """Pv 36 kJ/kg: sound at sqrt(39600) = 198.997 m/s; 6 m/s through 0.06 is 157.08 m/s: 0.7894."""
    assert port_mach(CAREFUL, 6.0, 6e5, 0.06) == pytest.approx(0.78935 - 0.5, abs=2e-5)


def test_cut_off_and_crank():
    """A ratio of 4 at 7 % clearance closes at 0.1975; half a stroke is a quarter turn."""
    assert cut_off_fraction(0.07, 4.0) == pytest.approx(0.1975, rel=1e-12)
    assert cut_off_fraction(0.07, 14.0) == 0.02
    assert cut_off_fraction(0.0, 0.5) == 1.0
    assert crank_angle(0.5) == pytest.approx(0.5 * math.pi)
    assert crank_angle(0.25) == pytest.approx(math.pi / 3.0)


def test_leak_by_hand():
    """Gap 13 um between 8 and 2 bar: slit 2.5428e-3 m2/s, orifice 1.638e-3 m2/s, together 9.9625e-4."""
    slit = 2.197e-15 * 8e5 * (1.0 - 0.0625) / 6.48e-7
    orifice = 13e-6 * 0.63 * 200.0
    assert slit == pytest.approx(2.5428e-3, rel=1e-4)
    assert orifice == pytest.approx(1.638e-3, rel=1e-9)
    assert gap_flow(CAREFUL, 0.08, 8e5, 0.05, 2e5) == pytest.approx(9.9625e-4, rel=1e-4)


def test_slit_is_laminar_flow_of_a_gas():
    """Many short slits of falling pressure in series: dp/dx = -12 mu u / h^2 with p v constant."""
    wide_open = replace(CAREFUL, gap=1e-6)  # so narrow that the slit alone counts
    p, steps = 8e5, 20000
    j = gap_flow(wide_open, 0.05, 8e5, 0.05, 3e5)
    for _ in range(steps):
        volume_flow = j * 8e5 / p
        p -= 12.0 * 9e-6 * volume_flow / 1e-18 * 3e-3 / steps
    assert p == pytest.approx(3e5, rel=3e-2)


def test_leak_unchoked_and_in_a_large_bore():
    """Above 0.57 of the pressure the orifice throttles less; a bore of 400 mm has twice the gap."""
    assert gap_flow(CAREFUL, 0.05, 8e5, 0.05, 8e5) == 0.0
    thin = replace(CAREFUL, viscosity=1e-12)  # no slit resistance: the orifice alone
    assert gap_flow(thin, 0.1, 8e5, 0.05, 0.785 * 8e5) == pytest.approx(13e-6 * 0.545596 * 200.0, rel=1e-4)
    assert gap_flow(thin, 0.4, 8e5, 0.05, 2e5) == pytest.approx(2.0 * 1.638e-3, rel=1e-4)
    thick = replace(CAREFUL, viscosity=9.0)
    assert gap_flow(thick, 0.4, 8e5, 0.05, 2e5) == pytest.approx(8.0 * 2.5428e-9, rel=1e-4)


def test_leak_share_is_leak_over_admission():
    """The rim passes pi D j; the cylinder admits eps pi/4 D^2 S N."""
    D, S, N, eps, j = 0.06, 0.07, 5.0, 0.3, 1e-3
    x = math.pi * D * j / (eps * math.pi / 4.0 * D * D * S * N)
    assert leak_fraction(CAREFUL, j, D, 2.0 * S * N, eps) == pytest.approx(x / (1.0 + x), rel=1e-12)
    mild = leak_fraction(MILD, j, D, 2.0 * S * N, 0.5)
    x = 8.0 * j / (D * 0.7) * math.sqrt(3.0)
    assert mild == pytest.approx(x / (1.0 + x), rel=1e-12)


def test_film_and_iron_by_integration():
    """A condensate film grows as its own resistance lets it; iron takes heat as a half-space."""
    dT, t, n = 12.0, 0.04, 400000
    film_only = replace(CAREFUL, iron=1e12)
    wall_only = replace(CAREFUL, conductivity=1e24)
    thickness = 1e-9
    for _ in range(n):
        thickness += 0.10 * dT / (500.0 * 300e3 * thickness) * t / n
    condensed = 500.0 * thickness
    assert wall_film(film_only, INLET, dT, t, 100.0) == pytest.approx(100.0 * 0.05 * condensed, rel=2e-3)
    middles = (np.arange(n) + 0.5) * math.sqrt(t) / n  # in the root of the time, where the flux is smooth
    flux = 13000.0 * dT / np.sqrt(math.pi * middles**2)
    heat = float(np.sum(flux * 2.0 * middles) * math.sqrt(t) / n)
    assert wall_film(wall_only, INLET, dT, t, 100.0) == pytest.approx(100.0 * 0.05 * heat / 300e3, rel=1e-9)


def test_wall_loss_by_hand():
    """60 mm square cylinder, half admission, 5 rev/s, 24 K above the expanded vapour.

    Time 0.05 s; A/V = 3/0.03 + 4/0.06 = 166.667 per m; g 12 K, swing 144/20 = 7.2 K. Film sqrt(2 x 0.1 x 500 x 3e5
    x 7.2 x 0.05) = 3286.3, iron 1.128379 x 13000 x 7.2 x 0.2236068 = 23616.4 J/m2: together 2884.9;
    B = 166.667 x 0.05 x 2884.9 / 3e5 = 0.080135. Dry part 0.02 x 166.667 x 0.06 x 0.125 x 24/350 = 0.0017143.
    """
    cylinder = cylinder_of(CAREFUL, math.pi / 4.0 * 0.06**3, 1)
    assert cylinder.bore == pytest.approx(0.06)
    x = 0.44 * 0.080135 + 0.0017143
    chi = wall_fraction(CAREFUL, INLET, 326.0, cylinder, 0.5, 5.0)
    assert chi == pytest.approx(x / (1.0 + x), rel=1e-4)
    # Variant root: B_0 with 12 K: film 4242.64, iron 39360.7, together 3829.8; 0.29 sqrt(0.106384) = 0.094588.
    x = 0.094588 + 0.0017143
    chi = wall_fraction(ROOT, INLET, 326.0, cylinder, 0.5, 5.0)
    assert chi == pytest.approx(x / (1.0 + x), rel=1e-4)


def test_superheat_relieves_the_wall_down_to_a_floor():
    """3 kJ/kg of 300 take 0.024 from x; much superheat leaves 0.15 of C_w B_0 and the dry part."""
    cylinder = cylinder_of(CAREFUL, math.pi / 4.0 * 0.06**3, 1)
    chi = wall_fraction(CAREFUL, INLET._replace(superheat=3e3), 326.0, cylinder, 0.5, 5.0)
    x = 0.44 * 0.080135 + 0.0017143 - 0.024
    assert chi == pytest.approx(x / (1.0 + x), rel=1e-4)
    chi = wall_fraction(CAREFUL, INLET._replace(superheat=60e3), 326.0, cylinder, 0.5, 5.0)
    x = 0.15 * 0.44 * 0.106384 + 0.0017143
    assert chi == pytest.approx(x / (1.0 + x), rel=1e-4)


@pytest.mark.parametrize("laws", [CAREFUL, ROOT], ids=lambda laws: laws.name)
def test_more_superheat_never_raises_the_wall_loss(laws):
    cylinder = cylinder_of(laws, 0.3e-3, 1)
    chi = [
        wall_fraction(laws, INLET._replace(superheat=h), 320.0, cylinder, 0.3, 4.0)
        for h in np.linspace(0.0, 60e3, 40)
    ]
    assert all(b <= a for a, b in pairwise(chi))
    assert chi[-1] < chi[0]


def test_no_swing_no_film():
    """Exhaust as warm as the dew point condenses nothing; a loss is never above 0.95."""
    cylinder = cylinder_of(CAREFUL, 0.3e-3, 1)
    assert wall_fraction(CAREFUL, INLET, 350.0, cylinder, 0.3, 4.0) == 0.0
    tiny = cylinder_of(CAREFUL, 1e-12, 1)
    assert wall_fraction(CAREFUL, INLET, 290.0, tiny, 0.02, 0.01) == 0.95


def test_band_outside_what_was_measured():
    """From no wall loss to C_w B_0, or y of the variant root, with neither superheat term nor dry part."""
    cylinder = cylinder_of(CAREFUL, math.pi / 4.0 * 0.06**3, 1)
    warm = INLET._replace(superheat=20e3)
    chi = {
        kind: wall_fraction(replace(CAREFUL, walls=kind), warm, 326.0, cylinder, 0.5, 5.0)
        for kind in ("none", "most", "most_root")
    }
    assert chi["none"] == 0.0
    assert chi["most"] == pytest.approx(0.44 * 0.106384 / (1.0 + 0.44 * 0.106384), rel=1e-4)
    assert chi["most_root"] == pytest.approx(0.094588 / 1.094588, rel=1e-4)


def test_friction_by_hand():
    """25 mm bore has twice the rubbing of 100 mm: (0.052 + 0.055 x 2) x 2 + 0.035 x 0.6 = 0.345 bar."""
    assert friction_pressure(CAREFUL, 2e5, 0.025, 0.6) == pytest.approx(0.345e5, rel=1e-12)
    assert friction_pressure(CAREFUL, -1e5, 0.1, 0.0) == pytest.approx(0.052e5, rel=1e-12)


def test_feed_pump():
    """0.31, 0.59 and 0.71 at 1, 5 and 20 bar; a motor leaves 0.55 of it."""
    engine = plain_case().engine
    found = [pump_efficiency(CAREFUL, engine, dp) for dp in (1e5, 5e5, 20e5)]
    assert found == pytest.approx([0.306, 0.588462, 0.711628], rel=1e-5)
    assert pump_efficiency(CAREFUL, engine, 5e5, "motor") == pytest.approx(0.55 * 0.588462, rel=1e-5)
    assert pump_efficiency(CONSTANT, engine, 5e5) == engine.pump_efficiency
    assert pump_efficiency(IDEAL, engine, 5e5) == 1.0


def test_suction_head():
    """20 kPa of subcooling on a liquid of 600 kg/m3 are 3.399 m, 1.5 m more stand above the pump."""
    short = suction_shortfall(CAREFUL, 2.2e5, 2.0e5, 1.0 / 600.0, 1.5, 9.80665)
    assert short == pytest.approx(1.0 - 1.5 - 3.39905, abs=1e-5)
    assert suction_shortfall(CAREFUL, 2e5, 2e5, 1.0 / 600.0, 0.5, 9.80665) == 0.5


def test_drive():
    """A step of four costs 4 %, up or down; no step, no cost."""
    assert drive_efficiency(CAREFUL, 1200.0, 300.0) == pytest.approx(0.96)
    assert drive_efficiency(CAREFUL, 75.0, 300.0) == pytest.approx(0.96)
    assert drive_efficiency(CAREFUL, 4800.0, 300.0) == pytest.approx(0.9216)
    assert drive_efficiency(CAREFUL, 300.0, 300.0) == 1.0
    assert drive_efficiency(CONSTANT, 1200.0, 300.0) == 1.0


def test_cooling_water_drop():
    """0.2 bar at 10 K, four times at 5 K, within 0.05 and 1 bar."""
    engine = plain_case().engine
    found = [cooling_drop(CAREFUL, engine, rise) for rise in (10.0, 5.0, 2.0, 40.0)]
    assert found == pytest.approx([0.2e5, 0.8e5, 1e5, 0.05e5])
    assert cooling_drop(CONSTANT, engine, 2.0) == pytest.approx(0.2e5)


def test_store_with_joints_and_pipes():
    """The page's own check: 300 L with 50 mm lose 2.88 W/K; what the fittings lose is not raised."""
    engine = plain_case().engine
    assert store_loss(engine, 0.3, 0.05, CAREFUL) == pytest.approx(2.88, abs=0.005)
    bare = store_loss(engine, 0.3, 0.05) - 0.3
    assert store_loss(engine, 0.3, 0.05, CAREFUL) == pytest.approx(1.25 * bare + 0.6, rel=1e-12)


def test_warm_up_follows_the_cylinders():
    """Half a litre is 8 kJ/K, a small cylinder at least 4; stages add up."""
    engine = plain_case().engine
    assert warm_capacity(CAREFUL, engine, [0.5e-3, 0.1e-3, 2e-3]) == pytest.approx(8e3 + 4e3 + 32e3)
    assert warm_capacity(CONSTANT, engine, [0.5e-3, 0.1e-3]) == pytest.approx(16e3)


def test_cylinders_of_a_stage():
    """Two cylinders share the volume; a held bore lets the stroke follow."""
    two = cylinder_of(CAREFUL, 2.0 * math.pi / 4.0 * 0.05**3, 2)
    assert (two.bore, two.stroke) == pytest.approx((0.05, 0.05))
    held = cylinder_of(CAREFUL, math.pi / 4.0 * 0.06**2 * 0.04, 1, bore=0.06)
    assert held.stroke == pytest.approx(0.04)
