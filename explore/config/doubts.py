"""What a user may say of how sure the assumptions are: narrower bands, and what goes together."""

from __future__ import annotations

from pydantic import Field

from explore.config.fields import Checked


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
    root_walls: float = Field(
        0.5, ge=0, le=1, description="how likely wall loss follows the root of its driving figure"
    )
    mild_leaks: float = Field(
        0.3333, ge=0, le=1, description="how likely an early cut-off makes leakage worse by the milder law"
    )
