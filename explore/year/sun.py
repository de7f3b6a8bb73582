"""The sun on a tilted plane: position, transposition, incidence modifier.

All three are pvlib's, imported where used.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from explore.year.weather import HOURS, READING_YEAR, Weather, read_weather

__all__ = [
    "PlaneIrradiance",
    "SunPosition",
    "Weather",
    "effective_irradiance",
    "plane_of_array",
    "read_weather",
    "sun_position",
    "transpose",
]

Array = NDArray[np.float64]

DIFFUSE_INCIDENCE_DEG = 60.0
"""Light from all of the sky counts as a beam at this angle: Brandemuehl and Beckman (:func:`effective_irradiance`)."""
LOWEST_SUN_COSINE = float(np.cos(np.radians(87.0)))
"""3 deg of elevation: nearer to the horizon the circumsolar ratio grows without bound (:func:`transpose`)."""

PLACES = 16
"""Of which the sun's year is kept: worlds and grounds of one place share it, and years of weather may each say another."""


@dataclass(frozen=True)
class SunPosition:
    """Where the sun stands; arrays of the length of the times asked for."""

    zenith_deg: Array
    """apparent (refracted) topocentric zenith angle [deg]"""
    azimuth_deg: Array
    """clockwise from north [deg]"""
    true_elevation_deg: Array
    """without refraction [deg]"""
    equation_of_time_min: Array


@dataclass(frozen=True)
class PlaneIrradiance:
    """Irradiance on a tilted plane, shape (8760,) each [W/m2], and the incidence angle of the beam."""

    beam: Array
    sky: Array
    """sky diffuse, circumsolar part included"""
    ground: Array
    total: Array
    incidence_deg: Array


def sun_position(
    times_utc: NDArray[np.datetime64],
    latitude_deg: float,
    longitude_deg: float,
    altitude_m: float,
    *,
    pressure_Pa: float | None = None,
    temperature_degC: float = 12.0,
    delta_t_s: float = 67.0,
) -> SunPosition:
    """Position of the sun, NREL's algorithm as pvlib carries it.

    Args:
        times_utc: instants, shape (n,).
        latitude_deg: north positive [deg].
        longitude_deg: east positive [deg].
        altitude_m: above sea level [m].
        pressure_Pa: air pressure for the refraction [Pa]; by default the standard one at the altitude.
        temperature_degC: air temperature for the refraction [degC].
        delta_t_s: terrestrial time minus universal time [s].

    Source: I. Reda, A. Andreas, Solar Position Algorithm for Solar Radiation Applications,
    NREL/TP-560-34302, 2008; uncertainty 0.0003 deg.
    """
    import pandas as pd
    from pvlib.solarposition import get_solarposition

    table = get_solarposition(
        pd.DatetimeIndex(times_utc, tz="UTC"),
        latitude_deg,
        longitude_deg,
        altitude=altitude_m,
        pressure=pressure_Pa,
        method="nrel_numpy",
        temperature=temperature_degC,
        delta_t=delta_t_s,
    )
    return SunPosition(
        zenith_deg=table["apparent_zenith"].to_numpy(dtype=np.float64),
        azimuth_deg=table["azimuth"].to_numpy(dtype=np.float64),
        true_elevation_deg=table["elevation"].to_numpy(dtype=np.float64),
        equation_of_time_min=table["equation_of_time"].to_numpy(dtype=np.float64),
    )


def plane_of_array(
    weather: Weather, *, tilt_deg: float, azimuth_deg: float, albedo: float
) -> PlaneIrradiance:
    """Irradiance on the collector plane, from the sun's position in the middle of each hour.

    Args:
        weather: the year.
        tilt_deg: from the horizontal [deg].
        azimuth_deg: clockwise from north [deg].
        albedo: reflectance of the ground [-].

    Source: Hay and Davies' sky with isotropic ground, by :func:`transpose`.
    """
    from pvlib.irradiance import get_extra_radiation

    place = (weather.latitude_deg, weather.longitude_deg, weather.altitude_m)
    sun = _sun_of_the_year(round(60 * weather.utc_offset_h), *place)
    return transpose(
        sun.zenith_deg,
        sun.azimuth_deg,
        ghi=weather.ghi,
        dni=weather.dni,
        dhi=weather.dhi,
        extraterrestrial=get_extra_radiation(1 + np.arange(HOURS) // 24),
        tilt_deg=tilt_deg,
        azimuth_deg=azimuth_deg,
        albedo=albedo,
    )


@lru_cache(maxsize=PLACES)
def _sun_of_the_year(
    utc_offset_min: int, latitude_deg: float, longitude_deg: float, altitude_m: float
) -> SunPosition:
    """Where the sun stands in the middle of each hour of the year, (8760,), by standard time."""
    new_year = np.datetime64(f"{READING_YEAR}-01-01T00:00", "m")
    middle = new_year + 30 - utc_offset_min + 60 * np.arange(HOURS)
    return sun_position(middle, latitude_deg, longitude_deg, altitude_m)


def transpose(
    zenith_deg: Array,
    sun_azimuth_deg: Array,
    *,
    ghi: Array,
    dni: Array,
    dhi: Array,
    extraterrestrial: Array,
    tilt_deg: float,
    azimuth_deg: float,
    albedo: float,
) -> PlaneIrradiance:
    """Carry horizontal and normal irradiance over to a tilted plane; all arrays (n,) [W/m2], angles [deg].

    In an hour whose middle lies before sunrise or after sunset the beam is dropped. Below 3 deg of elevation
    the circumsolar ratio keeps its value there: it would else grow without bound as the sun sets.

    Source: J. E. Hay, J. A. Davies, Calculation of the solar radiation incident on an inclined surface,
    First Canadian Solar Radiation Data Workshop, 1980; ground: dhi and ghi seen under (1 +- cos tilt)/2.
    """
    from pvlib import irradiance

    incidence = irradiance.aoi(tilt_deg, azimuth_deg, zenith_deg, sun_azimuth_deg)
    direct = np.where(zenith_deg < 90.0, dni, 0.0)
    cosine = np.maximum(irradiance.aoi_projection(tilt_deg, azimuth_deg, zenith_deg, sun_azimuth_deg), 0.0)
    ratio = cosine / np.maximum(np.cos(np.radians(zenith_deg)), LOWEST_SUN_COSINE)
    sky = irradiance.haydavies(tilt_deg, azimuth_deg, dhi, direct, extraterrestrial, projection_ratio=ratio)
    ground = irradiance.get_ground_diffuse(tilt_deg, ghi, albedo=albedo)
    parts = irradiance.poa_components(incidence, direct, sky, ground)
    return PlaneIrradiance(
        beam=np.asarray(parts["poa_direct"], dtype=np.float64),
        sky=np.asarray(sky, dtype=np.float64),
        ground=np.asarray(ground, dtype=np.float64),
        total=np.asarray(parts["poa_global"], dtype=np.float64),
        incidence_deg=np.asarray(incidence, dtype=np.float64),
    )


def effective_irradiance(plane: PlaneIrradiance, incidence_b0: float) -> Array:
    """Irradiance that counts for a collector once its incidence modifier is applied, shape (n,) [W/m2].

    The modifier 1 - b0 (1/cos(theta) - 1), never below 0, is taken at the beam's own incidence angle and, for
    everything diffuse, at a fixed equivalent angle of 60 deg, where it is 1 - b0.

    Args:
        plane: irradiance on the collector plane.
        incidence_b0: b0 of the collector kind [-].

    Source: ANSI/ASHRAE 93; equivalent angle near 60 deg: M. J. Brandemuehl, W. A. Beckman,
    Transmission of diffuse radiation through CPC and flat plate collector glazings, Solar Energy 24, 1980.
    """
    from pvlib.iam import ashrae

    beam = ashrae(plane.incidence_deg, b=incidence_b0) * plane.beam
    diffuse = ashrae(DIFFUSE_INCIDENCE_DEG, b=incidence_b0) * (plane.sky + plane.ground)
    return np.asarray(beam + diffuse, dtype=np.float64)
