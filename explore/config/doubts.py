"""What a user may say of how sure the assumptions are: narrower bands, and what goes together."""

from __future__ import annotations

from pydantic import Field, field_validator

from explore.config.fields import Checked

MOST_YEARS = 64
"""More years than a place has measured; each takes a twentieth of a second and a megabyte of every process."""


class Doubt(Checked):
    """How sure the assumptions are, beside the bands in the schema.

    ``doubt.bands.KEY=[low,high]`` narrows one that was measured; KEY is the name of the assumption, as the page lists it.
    """

    seed: int = Field(1, ge=0, description="of the draws: the same seed gives the same worlds")
    bands: dict[str, tuple[float, float]] = Field(
        default_factory=dict,
        description="10-90 % range of an assumption: [low, high]; where it does not hold the value set, its middle counts",
    )
    correlations: dict[str, dict[str, float]] = Field(
        default_factory=lambda: {"seal": {"walls": -0.5}},
        description="of groups, towards worse together: the same few steam trials gave leaks and walls, so that more of "
        "one is less of the other (model, section 12)",
    )
    weather_years: tuple[str, ...] = Field(
        (),
        max_length=MOST_YEARS,
        description="weather files of several years of the place, of which each world has one; empty: years resampled from "
        "the site's own",
    )
    resampled_years: int = Field(
        8,
        ge=0,
        le=MOST_YEARS,
        description="years put together from blocks of days of the site's typical year, of which each world has one; 0: "
        "the site's own year in all worlds; real years vary more",
    )
    root_walls: float = Field(
        0.5, ge=0, le=1, description="how likely wall loss follows the root of its driving figure"
    )
    mild_leaks: float = Field(
        0.3333, ge=0, le=1, description="how likely an early cut-off makes leakage worse by the milder law"
    )

    @field_validator("weather_years")
    @classmethod
    def _refuse_a_single_year(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        if len(value) == 1:
            raise ValueError("weather_years: one year cannot differ from itself; give two files or more")
        return value
