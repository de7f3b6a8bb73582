"""Sun position, transposition and incidence modifier against published values."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from explore.year.sun import effective_irradiance, plane_of_array, read_weather, sun_position, transpose

# The worked example of I. Reda, A. Andreas, Solar Position Algorithm for Solar Radiation Applications,
# NREL/TP-560-34302, 2008, table A5.1: 17 October 2003, 12:30:30 at UTC-7, 820 mbar, 11 degC, delta T 67 s.
INSTANT = np.array(["2003-10-17T19:30:30"], dtype="datetime64[s]")
LATITUDE, LONGITUDE, ALTITUDE = 39.742476, -105.1786, 1830.14


@pytest.fixture(scope="module")
def golden():
    """Position of the sun at the worked example's instant."""
    return sun_position(
        INSTANT, LATITUDE, LONGITUDE, ALTITUDE, pressure_Pa=82000.0, temperature_degC=11.0, delta_t_s=67.0
    )


@pytest.fixture(scope="module")
def greensboro():
    """Typical year of Greensboro."""
    return read_weather("pvlib:723170TYA.CSV")


def on_plane(zenith, azimuth, *, ghi=0.0, dni=0.0, dhi=0.0, extra=1400.0, tilt, facing=180.0, albedo=0.0):
    """Transpose one instant."""
    arrays = (np.array([float(value)]) for value in (zenith, azimuth, ghi, dni, dhi, extra))
    z, a, g, b, d, e = arrays
    return transpose(
        z, a, ghi=g, dni=b, dhi=d, extraterrestrial=e, tilt_deg=tilt, azimuth_deg=facing, albedo=albedo
    )


def test_sun_position(golden):
    """Zenith 50.11162 deg and azimuth 194.34024 deg (Reda and Andreas, table A5.1)."""
    assert_allclose(golden.zenith_deg, 50.11162, atol=1e-5)
    assert_allclose(golden.azimuth_deg, 194.34024, atol=1e-5)


def test_refraction(golden):
    """Elevation 39.872046 deg without and 39.888378 deg with refraction (Reda and Andreas, table A5.1)."""
    assert_allclose(golden.true_elevation_deg, 39.872046, atol=1e-6)
    assert_allclose(90.0 - golden.zenith_deg, 39.888378, atol=1e-6)


def test_equation_of_time(golden):
    """Equation of time 14.641503 min (Reda and Andreas, table A5.1)."""
    assert_allclose(golden.equation_of_time_min, 14.641503, atol=1e-4)


def test_incidence_angle(golden):
    """Incidence 25.18700 deg on 30 deg of tilt, 10 deg from south to east (Reda and Andreas, table A5.1)."""
    plane = on_plane(golden.zenith_deg[0], golden.azimuth_deg[0], tilt=30.0, facing=170.0)
    assert_allclose(plane.incidence_deg, 25.18700, atol=1e-5)


def test_refraction_at_altitude():
    """Without a given pressure refraction is that of the standard atmosphere (ICAO) at the site's altitude."""
    standard = 101325.0 * (1.0 - 0.0065 * ALTITUDE / 288.15) ** 5.25588
    ours = sun_position(INSTANT, LATITUDE, LONGITUDE, ALTITUDE)
    given = sun_position(INSTANT, LATITUDE, LONGITUDE, ALTITUDE, pressure_Pa=standard)
    sea = sun_position(INSTANT, LATITUDE, LONGITUDE, ALTITUDE, pressure_Pa=101325.0)
    assert_allclose(ours.zenith_deg, given.zenith_deg, atol=1e-5)
    assert sea.zenith_deg[0] < ours.zenith_deg[0] - 1e-3


def test_second_algorithm_agrees(golden):
    """An independent fast algorithm (pvlib's ephemeris) finds the same place within 0.01 deg."""
    import pandas as pd
    from pvlib.solarposition import ephemeris

    other = ephemeris(
        pd.DatetimeIndex(INSTANT, tz="UTC"), LATITUDE, LONGITUDE, pressure=82000.0, temperature=11.0
    )
    assert_allclose(golden.zenith_deg, other["apparent_zenith"], atol=0.01)
    assert_allclose(golden.azimuth_deg, other["azimuth"], atol=0.01)


def test_overcast_sky_and_ground():
    """Without beam: 100 W/m2 of sky give 85.355, 500 at albedo 0.2 give 14.645 on 45 deg ((1 +- cos)/2)."""
    plane = on_plane(60.0, 180.0, ghi=500.0, dhi=100.0, tilt=45.0, albedo=0.2)
    assert_allclose([plane.sky[0], plane.ground[0]], [85.355339, 14.644661], atol=1e-6)
    assert_allclose(plane.total, 100.0, atol=1e-6)


def test_hay_and_davies():
    """Sky of 100 W/m2 diffuse, 800 beam gives 102.502 on 40 deg (formula of Hay and Davies, 1980)."""
    plane = on_plane(30.0, 170.0, dni=800.0, dhi=100.0, tilt=40.0)
    anisotropy = 800.0 / 1400.0
    ratio = np.cos(np.radians(plane.incidence_deg)) / np.cos(np.radians(30.0))
    view = (1.0 + np.cos(np.radians(40.0))) / 2.0
    assert_allclose(plane.sky, 100.0 * (anisotropy * ratio + (1.0 - anisotropy) * view), atol=1e-9)
    assert_allclose(plane.sky, 102.502, atol=5e-4)
    assert_allclose(plane.beam, 800.0 * np.cos(np.radians(plane.incidence_deg)), atol=1e-9)


def test_low_sun_stays_bounded():
    """Near the horizon circumsolar light is bounded, and a sun below it sends no beam."""
    low = on_plane(89.9, 90.0, dni=100.0, dhi=10.0, tilt=90.0, facing=90.0)
    assert low.sky[0] < 10.0 * (0.5 + 100.0 / 1400.0 / np.cos(np.radians(87.0)))
    below = on_plane(91.0, 90.0, dni=100.0, dhi=10.0, tilt=90.0, facing=90.0)
    assert_array_equal(below.beam, 0.0)
    assert_allclose(below.sky, 5.0)


def test_sun_in_the_middle_of_the_hour(greensboro):
    """The file's own extraterrestrial radiation fits the sun's height half an hour before its time stamp."""
    from pathlib import Path

    import pvlib

    file = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
    rows, _ = pvlib.iotools.read_tmy3(file, coerce_year=1990, map_variables=True)
    horizontal, normal = rows["ghi_extra"].to_numpy(), rows["dni_extra"].to_numpy()
    plane = plane_of_array(greensboro, tilt_deg=0.0, azimuth_deg=180.0, albedo=0.0)
    high = horizontal > 300.0
    cosine = np.cos(np.radians(plane.incidence_deg[high]))
    # Half an hour of error would show as 0.05 of standard deviation.
    assert np.std(cosine - horizontal[high] / normal[high]) < 0.004
    assert abs(np.mean(cosine - horizontal[high] / normal[high])) < 0.002


def test_flat_plane_sees_the_global_irradiance(greensboro):
    """On a horizontal plane the total over the year is the global irradiation within 1 %."""
    plane = plane_of_array(greensboro, tilt_deg=0.0, azimuth_deg=180.0, albedo=0.3)
    assert_array_equal(plane.ground, 0.0)
    assert_allclose(plane.total.sum(), greensboro.ghi.sum(), rtol=0.01)


def test_year_on_a_tilted_plane(greensboro):
    """A plane at 35 deg to the south gains 5 to 20 % over the horizontal; none exceeds the solar constant."""
    plane = plane_of_array(greensboro, tilt_deg=35.0, azimuth_deg=180.0, albedo=0.2)
    assert 1.05 < plane.total.sum() / greensboro.ghi.sum() < 1.20
    assert np.all(np.isfinite(plane.total))
    assert plane.total.max() < 1361.0
    assert plane.total.min() >= 0.0
    assert_allclose(plane.total, plane.beam + plane.sky + plane.ground)


@pytest.mark.parametrize(("tilt", "facing"), [(90.0, 90.0), (90.0, 0.0), (60.0, 270.0)])
def test_steep_planes_stay_physical(greensboro, tilt, facing):
    """Planes that see the sun rise or set, or never, get finite irradiance below the solar constant."""
    total = plane_of_array(greensboro, tilt_deg=tilt, azimuth_deg=facing, albedo=0.2).total
    assert np.all((total >= 0.0) & (total < 1361.0))


def test_incidence_modifier():
    """Beam at 60 deg and all diffuse light are weakened by b0; beam head on is not; beyond 90 deg is dark."""
    plane = on_plane(60.0, 180.0, ghi=500.0, dni=800.0, dhi=100.0, tilt=0.0)
    assert_allclose(effective_irradiance(plane, 0.1), 0.9 * (plane.beam + plane.sky))
    head_on = on_plane(40.0, 180.0, dni=800.0, tilt=40.0)
    assert_allclose(effective_irradiance(head_on, 0.1), head_on.beam)
    assert_allclose(head_on.beam, 800.0)
    assert_allclose(effective_irradiance(plane, 0.0), plane.total)
    grazing = on_plane(89.0, 90.0, dni=500.0, tilt=90.0, facing=180.0)
    assert_array_equal(effective_irradiance(grazing, 0.1), 0.0)


def test_the_circumsolar_ratio_stays_that_of_three_degrees_below_them():
    """Hay and Davies by hand, two degrees above the horizon, on a plane that faces the sun at 40 deg."""
    one = np.array([1.0])
    found = transpose(
        88.0 * one, 180.0 * one, ghi=20.0 * one, dni=100.0 * one, dhi=15.0 * one, extraterrestrial=1400.0 * one,
        tilt_deg=40.0, azimuth_deg=180.0, albedo=0.2,
    )  # fmt: skip
    ratio = np.cos(np.radians(88.0 - 40.0)) / np.cos(np.radians(87.0))
    share = 100.0 / 1400.0
    by_hand = 15.0 * (share * ratio + (1.0 - share) * (1.0 + np.cos(np.radians(40.0))) / 2.0)
    assert_allclose(found.sky, by_hand, rtol=1e-9)
