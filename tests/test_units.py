"""The conversions at the edges, by hand."""

import pytest

from explore import units


def test_gauge_pressure_counts_from_the_air_of_the_site():
    """3 bar absolute are 2 bar gauge where the air has 1 bar and 2.2 where it has 0.8; there and back again."""
    assert units.bar_gauge(3e5, 1e5) == pytest.approx(2.0)
    assert units.bar_gauge(3e5, 0.8e5) == pytest.approx(2.2)
    assert units.pascal_from_gauge(2.2, 0.8e5) == pytest.approx(3e5)
    assert units.bar_gauge(0.8e5, 1e5) == pytest.approx(-0.2)


def test_temperatures_and_pressures():
    """20 degC are 293.15 K, 250 kPa are 2.5 bar."""
    assert units.kelvin(20.0) == pytest.approx(293.15)
    assert units.celsius(units.kelvin(-12.5)) == pytest.approx(-12.5)
    assert units.bar(2.5e5) == pytest.approx(2.5)


def test_energy_volume_and_time():
    """1 kWh is 3.6 MJ, 1 m3 is 1000 L, 1 m is 1000 mm, 1 h is 3600 s."""
    assert units.J_PER_KWH == 1000 * units.SECONDS_PER_HOUR == 3.6e6
    assert units.J_PER_KJ == units.L_PER_M3 == units.MM_PER_M == 1000.0
