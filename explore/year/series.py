"""The year a season runs through: sun on the collectors, air, room and demand, hour by hour."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from explore.cache import remembered
from explore.year import sun
from explore.year import weather as files
from explore.year.sun import Weather, effective_irradiance, plane_of_array

Array = NDArray[np.float64]

NO_SUN = -1e9
"""Stands for an irradiance of zero, so that a collector colder than the air does not run at night."""
SUN, DEMAND, WARMING = 1, 2, 4
"""Bits of an hour: sun on a collector, demand, first demand of its day."""
HOURLY = ("ghi", "dni", "dhi", "air_temperature_K", "month", "hour")
"""What a year takes from its weather, hour by hour."""


class LaidOut(NamedTuple):
    """A year as compiled loops read it: hour after hour, one row of memory each.

    ``sun`` (H, k) [W/m2], ``air`` and ``room`` (H,) [K], bits of the ``hours`` (H,), hours ``asked`` that day (H,).
    """

    sun: Array
    air: Array
    room: Array
    hours: NDArray[np.uint8]
    asked: Array


@dataclass(frozen=True)
class Year:
    """Hourly series of one scenario, shared by all designs; H hours (8760), k collector kinds."""

    effective_irradiance: Array
    """irradiance with the incidence modifier of each collector kind, shape (k, H) [W/m2]"""
    plane_irradiance: Array
    """total irradiance on the collector plane, shape (H,) [W/m2]"""
    air_temperature_K: Array
    """outdoor air, shape (H,)"""
    room_temperature_K: Array
    """air around store and engine, shape (H,)"""
    demand: NDArray[np.bool_]
    """whether shaft power is asked for, shape (H,)"""
    day: NDArray[np.int64]
    """number of the calendar day, never falling, shape (H,)"""

    @cached_property
    def laid_out(self) -> LaidOut:
        """The same for compiled loops, which every batch of designs goes through."""
        sunny = np.any(self.effective_irradiance > 0.0, axis=0)
        warming = np.zeros(len(sunny), dtype=np.bool_)
        warming[list(first_demand_hours(self))] = True
        air, room = (
            np.array(series, dtype=np.float64) for series in (self.air_temperature_K, self.room_temperature_K)
        )
        hours = (SUN * sunny + DEMAND * self.demand + WARMING * warming).astype(np.uint8)
        asked = np.zeros(len(sunny))
        asked[self.demand] = np.repeat(*[np.array(demand_hours_by_day(self), dtype=np.intp)] * 2)
        return LaidOut(sun_table(self.effective_irradiance), air, room, hours, asked)


def first_demand_hours(year: Year) -> set[int]:
    """Hours that are the first demand hour of their day."""
    hours = np.flatnonzero(year.demand)
    new_day = np.diff(year.day[hours], prepend=-1) != 0
    return set(hours[new_day].tolist())


def demand_hours_by_day(year: Year) -> list[int]:
    """Demand hours of every day that has some, in their order."""
    days = year.day[np.flatnonzero(year.demand)]
    starts = np.flatnonzero(np.diff(days, prepend=-1) != 0)
    return np.diff(starts, append=len(days)).tolist()


def sun_table(irradiance: Array) -> Array:
    """Irradiance [W/m2] by hour and kind of collector, (H, k)."""
    return np.ascontiguousarray(np.where(irradiance > 0.0, irradiance, NO_SUN).T)


def make_year(
    weather: Weather,
    *,
    tilt_deg: float,
    azimuth_deg: float,
    albedo: float,
    incidence_b0: Sequence[float],
    demand_hours: Collection[int],
    demand_months: Collection[int],
    room_temperature_K: float | None,
) -> Year:
    """Build the year of a scenario.

    Args:
        weather: typical year at the site.
        tilt_deg: tilt of the collectors from the horizontal [deg].
        azimuth_deg: the way they look, clockwise from north [deg].
        albedo: reflectance of the ground [-].
        incidence_b0: b0 of each collector kind [-], length k, in the order that ``collector_kind`` counts.
        demand_hours: clock hours, local standard time, in which shaft power is asked for.
        demand_months: months (1-12) in which it is.
        room_temperature_K: constant air temperature around store and engine [K]; None: outdoor air.
    """
    plane = plane_of_array(weather, tilt_deg=tilt_deg, azimuth_deg=azimuth_deg, albedo=albedo)
    air = weather.air_temperature_K
    return Year(
        effective_irradiance=np.stack([effective_irradiance(plane, b0) for b0 in incidence_b0]),
        plane_irradiance=plane.total,
        air_temperature_K=air,
        room_temperature_K=air if room_temperature_K is None else np.full_like(air, room_temperature_K),
        demand=np.isin(weather.hour, list(demand_hours)) & np.isin(weather.month, list(demand_months)),
        day=np.arange(len(air)) // 24,
    )


def remembered_year(weather: Weather, **settings: Any) -> Year:
    """Return :func:`make_year` of a weather and its settings, from disk where it has been built before."""
    causes = [
        repr(sorted(settings.items())).encode(),
        repr(
            (weather.latitude_deg, weather.longitude_deg, weather.altitude_m, weather.utc_offset_h)
        ).encode(),
        *(np.ascontiguousarray(getattr(weather, name)).tobytes() for name in HOURLY),
        *files.makers(__file__, sun.__file__),
    ]
    return Year(
        **remembered("year", Year.__dataclass_fields__, causes, lambda: vars(make_year(weather, **settings)))
    )
