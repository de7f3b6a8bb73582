"""Slider-crank, flywheel and sizes against hand cases."""

from __future__ import annotations

import numpy as np
import pytest

from explore.bench import crank, flywheel, sizes


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


def test_filling_density_as_the_rule_works_it_out():
    """29 CFR 1910.110(b)(19)(v)(d), worked example: 100 gal, 42 %, 0.510, 1.031: 79.8 gal."""
    assert sizes.liquid_percent(100.0, 42.0, 0.510, 1.031) == pytest.approx(79.8, abs=0.1)


def test_fill_keeps_the_stricter_rule():
    """A liquid that swells much is bound by 50 degC (ADR 4.3.3.2.2), one that does not by 80 %."""
    assert sizes.least_volume(95.0, 500.0, 1000.0) == pytest.approx(0.2)
    assert sizes.least_volume(80.0, 1000.0, 1000.0) == pytest.approx(0.1)


def test_forces_ports_and_plunger_by_hand():
    """A 100 mm disc under 10 bar: 7854 N. Port: 1 m/s against 25 m/s, a 25th of the area. Plunger: volume given back."""
    assert sizes.force(0.1, 1e6) == pytest.approx(7853.98, rel=1e-6)
    assert sizes.port_area(0.1, 1.0, 25.0) == pytest.approx(7.85398e-3 / 25.0, rel=1e-5)
    swept, diameter = sizes.plunger(0.02, 1e-3, 4.0, 0.8)
    assert swept == pytest.approx(1.25 * 0.02e-3 / 4.0 / 0.8)
    assert 0.25 * np.pi * diameter**3 == pytest.approx(swept)
