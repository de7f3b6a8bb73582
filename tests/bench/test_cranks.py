"""Slider-crank, flywheel and sizes against hand cases."""

from __future__ import annotations

import numpy as np
import pytest

from explore.bench import crank, flywheel, inertia, sizes


def test_travel_by_pythagoras():
    """Where the triangle of crank and rod is right-angled, travel is told by hand.

    Crank square to the axis, L/r = 5/3: the rod's foot stands 4/3 r from the shaft, so x = (1 + 5/3 - 4/3) r = 4/3 r, 2/3
    of the stroke 2 r. Arithmetic on the 3-4-5 triangle, no source needed.
    """
    assert crank.travel(np.array(np.pi / 2), 5 / 3) == pytest.approx(2 / 3, rel=1e-14)
    assert np.degrees(crank.angle_of(np.array(2 / 3), 5 / 3)) == pytest.approx(90.0, abs=1e-9)


def test_crank_square_to_rod():
    """Crank square to the rod, L/r = 4: the piston goes at w r / cos(phi), tan(phi) = 1/4, by instantaneous centres."""
    angle = np.arctan(4.0)  # the angle at the shaft of a right triangle with legs r and 4 r
    assert crank.lever(np.array(angle), 4.0) == pytest.approx(0.5 * np.sqrt(17.0) / 4.0, rel=1e-14)


def test_ends_of_the_stroke_and_a_long_rod():
    """Dead centres give 0 and 1 with no lever; an endless rod gives half the stroke at a quarter turn."""
    ends = np.array([0.0, np.pi])
    assert crank.travel(ends, 4.0) == pytest.approx([0.0, 1.0], abs=1e-15)
    assert crank.lever(ends, 4.0) == pytest.approx([0.0, 0.0], abs=1e-15)
    assert crank.travel(np.array(np.pi / 2), 1e6) == pytest.approx(0.5, abs=1e-6)


def test_lever_is_the_slope_of_travel():
    """By virtual work the lever is d travel / d angle."""
    angle, step = np.linspace(0.1, 6.2, 50), 1e-6
    slope = (crank.travel(angle + step, 3.5) - crank.travel(angle - step, 3.5)) / (2 * step)
    assert crank.lever(angle, 3.5) == pytest.approx(slope, abs=1e-9)


def test_flywheel_of_a_textbook():
    """A steam engine of 300 kW at 90 rev/min, energy 0.1 of the work of a turn: a rim of 5495.84 kg.

    Speed within 0.5 % either way (Cs = 0.01), radius of gyration 2 m, w rounded to 9.5 rad/s: worked solution at
    selfstudys.com, Theory of Machines test 3; the problem is that of
    example 16.3 of Khurmi and Gupta, Theory of Machines (from memory).
    """
    moment = flywheel.inertia(0.1 * 300e3 / 9.5 * 2 * np.pi, 9.5, 0.01)
    assert flywheel.rim_mass(moment, 2.0) == pytest.approx(5495.84, rel=1e-4)


def test_swing_of_a_sine():
    """Mean M and M sin(a) on top: the half turn above the mean holds 2 M."""
    angle = np.arange(3600) * 2 * np.pi / 3600
    assert flywheel.swing(7.0 + 7.0 * np.sin(angle)) == pytest.approx(14.0, rel=1e-5)


def test_fill_keeps_the_stricter_rule():
    """A liquid that swells much is bound by 50 degC (ADR 4.3.3.2.2), one that does not by 80 %."""
    assert sizes.least_volume(95.0, 500.0, 1000.0) == pytest.approx(0.2)
    assert sizes.least_volume(80.0, 1000.0, 1000.0) == pytest.approx(0.1)


def test_forces_ports_and_plunger_by_hand():
    """A 100 mm disc under 10 bar: 7854 N. Port: 1 m/s against 25 m/s, a 25th of the area. Plunger: volume given back."""
    assert sizes.force(0.1, 1e6) == pytest.approx(7853.98, rel=1e-6)
    assert sizes.port_area(0.1, 1.0, 25.0) == pytest.approx(7.85398e-3 / 25.0, rel=1e-5)
    swept, diameter = sizes.plunger(5e-6, 0.8)
    assert swept == pytest.approx(6.25e-6)
    assert 0.25 * np.pi * diameter**3 == pytest.approx(swept)


def test_the_bend_is_the_slope_of_the_lever():
    """Acceleration is the derivative of velocity."""
    angle, step = np.linspace(0.0, 6.2, 63), 1e-6
    slope = (crank.lever(angle + step, 3.5) - crank.lever(angle - step, 3.5)) / (2 * step)
    assert crank.bend(angle, 3.5) == pytest.approx(slope, abs=1e-8)


def test_acceleration_of_a_textbook():
    """Crank 0.3 m, rod 1.5 m, 180 rev/min, 40 degrees: the textbook's two terms with 2n in place of n give 83.5 m/s2.

    B. K. Sarkar, Theory of Machines, chapter 5, illustration 2, in the FOSSEE textbook companion. Its formula halves the
    second term; the whole one, cos a + cos 2a/n, is what ours is near to.
    """
    angle, speed = np.radians(40.0), 2 * np.pi * 3.0
    both = speed**2 * 0.3 * (np.cos(angle) + np.cos(2 * angle) / 5.0)
    exact = speed**2 * 0.6 * float(crank.bend(np.array(angle), 5.0))
    assert both - speed**2 * 0.3 * np.cos(2 * angle) / 10.0 == pytest.approx(83.5, abs=0.1)
    assert exact == pytest.approx(both, rel=0.005)


def test_piston_of_a_petrol_engine():
    """Bore 100, stroke 120, rod 250 mm, 1.2 kg, 1800 rev/min, 25 degrees, 680 kPa: net force on the piston 2639.3 N.

    B. K. Sarkar, Theory of Machines, chapter 5, illustration 4, in the FOSSEE textbook companion; weight counts, and the
    series is cut after two terms: within half a per cent of the inertia force.
    """
    gas = sizes.force(0.1, 680e3)
    pull = float(inertia.force(1.2, 0.12, 2 * np.pi * 30.0, np.array(np.radians(25.0)), 250.0 / 60.0))
    assert gas + pull + 1.2 * 9.81 == pytest.approx(2639.3, abs=0.005 * 2713.0)


def test_torque_of_a_steam_engine():
    """Bore 250 mm, piston rod 50 mm, 5.8 and 0.5 bar, crank radius 200 mm, L/r 3, 40 degrees: 4233.8 N m.

    B. K. Sarkar, Theory of Machines, chapter 5, illustration 6, in the FOSSEE textbook companion.
    """
    load = sizes.force(0.25, 5.8e5) - (sizes.piston_area(0.25) - sizes.piston_area(0.05)) * 0.5e5
    assert load * 0.4 * float(crank.lever(np.array(np.radians(40.0)), 3.0)) == pytest.approx(4233.8, rel=1e-3)


def test_inertia_at_the_top_and_over_a_turn():
    """2 kg at r 50 mm, 10 rad/s, L/r 4: 12.5 N at the top, towards the head; torque has no mean."""
    angle = np.arange(720) * np.pi / 360.0
    force = inertia.force(2.0, 0.1, 10.0, angle, 4.0)
    assert force[0] == pytest.approx(-12.5)
    assert np.max(np.abs(force)) == pytest.approx(inertia.greatest(2.0, 0.1, 10.0, 4.0))
    assert np.mean(inertia.torque(2.0, 0.1, 10.0, angle, 4.0)) == pytest.approx(0.0, abs=1e-9)


def test_the_assumed_piston_by_hand():
    """Bore 100 mm: 2700 x 0.6 x 7854 mm2 x 50 mm = 0.636 kg, and a third of 15 mm round, 200 mm long: 0.092 kg."""
    assert inertia.assumed_mass(0.1, 0.2) == pytest.approx(0.6362 + 0.0925, abs=0.0005)


def test_next_in_stock():
    """No less than what is needed; nothing where the list ends."""
    assert sizes.next_in_stock(1.4, (1.0, 1.5, 2.0)) == 1.5
    assert sizes.next_in_stock(2.0, (1.0, 1.5, 2.0)) == 2.0
    assert sizes.next_in_stock(2.1, (1.0, 1.5, 2.0)) is None
