"""Other years of the same place, put together from the days of one typical year."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from explore.year.weather import Weather

BLOCK_DAYS = 5
"""Days kept together, so that dull days still follow one another: of the sun of a day, what lies above its month, a fifth
is found again on the next day (0.23 in Greensboro's typical year, 0.17 in Sand Point's) and nothing after two."""


def resampled(weather: Weather, seed: tuple[int, ...]) -> Weather:
    """Return a year of blocks of days, each drawn from its own month of ``weather``; the same seed gives the same year.

    Whole days move, so that sun and air of an hour stay together and keep their hour. A block that begins near a month's
    end goes on with its beginning: every day is as likely as any other. Such years differ less than real ones, whose
    months differ as a whole.

    Source of the method: D. N. Politis, J. P. Romano, A circular block-resampling procedure for stationary data, in:
    R. LePage, L. Billard (eds), Exploring the Limits of Bootstrap, Wiley, 1992, 263-270; within months is our own.
    """
    days = drawn_days(weather.month[::24], np.random.default_rng(seed))
    hours = (24 * days[:, None] + np.arange(24)).ravel()
    return replace(
        weather,
        ghi=weather.ghi[hours],
        dni=weather.dni[hours],
        dhi=weather.dhi[hours],
        air_temperature_K=weather.air_temperature_K[hours],
        source=f"{weather.source}, days resampled",
    )


def drawn_days(months: NDArray[np.int64], rng: np.random.Generator) -> NDArray[np.intp]:
    """Return for each day of a year, whose ``months`` (d,) never fall, the day that takes its place, (d,)."""
    found = []
    for month in np.unique(months):
        own = np.flatnonzero(months == month)
        starts = rng.integers(0, len(own), -(-len(own) // BLOCK_DAYS))
        places = (starts[:, None] + np.arange(BLOCK_DAYS)).ravel()[: len(own)]
        found.append(own[places % len(own)])
    return np.concatenate(found)
