"""The years of weather that worlds are drawn from: files of the user's, or the run's own year with its days resampled."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from explore.errors import InputError
from explore.model import years
from explore.year.resampled import BLOCK_DAYS, resampled
from explore.year.weather import Weather, read_weather

if TYPE_CHECKING:
    from explore.config.schema import Case

OWN = -1
"""In the place of a drawn year: the run's own."""
STREAM = 3
"""Second word of the seed, so that the days are drawn apart from everything else that the same seed draws."""
FAR_DEG = 1.0
"""Of latitude or longitude: some hundred kilometres, within which a year counts as one of the place."""


def count(case: Case) -> int:
    """Return how many years a world may have; 0 where all have the run's own."""
    given = case.doubt.weather_years
    return len(given) if given else case.doubt.resampled_years


def weather(case: Case, own: Weather, place: int) -> Weather:
    """Return the year of a drawn ``place``; ``own`` is that of the run.

    Raises :class:`InputError` for a file that cannot be read, or of a place too far from the run's.
    """
    if place == OWN:
        return own
    given = case.doubt.weather_years
    if not given:
        return resampled(own, (case.doubt.seed, STREAM, place))
    found = read_weather(given[place])
    away = (abs(found.latitude_deg - own.latitude_deg), abs(found.longitude_deg - own.longitude_deg))
    if max(away) > FAR_DEG:
        raise InputError(
            f"doubt.weather_years: {given[place][-100:]} is of latitude {found.latitude_deg:g}, longitude "
            f"{found.longitude_deg:g}, the run's own year of {own.latitude_deg:g}, {own.longitude_deg:g}; give years of "
            "one place"
        )
    return found


def refuse_bad_years(case: Case) -> None:
    """Raise :class:`InputError` for weather years that cannot be; files are read, so ask once."""
    if case.doubt.weather_years:
        own = years.weather(case)
        for place in range(count(case)):
            weather(case, own, place)


def about(case: Case) -> dict[str, Any]:
    """Describe the years for doubt.json."""
    given = case.doubt.weather_years
    return {"years": count(case), "resampled": not given, "block_days": None if given else BLOCK_DAYS}
