"""How a configuration value is declared: its unit, meaning, source and range in one place."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

TEXTBOOK = "typical textbook range"
ASSUMED = "assumption of this project"


def quantity(
    default: Any,
    *,
    unit: str,
    about: str,
    source: str = ASSUMED,
    assumption: bool | None = None,
    **bounds: Any,
) -> Any:
    """Declare one configuration value with its unit, meaning and source.

    ``assumption`` defaults to true exactly when the source is :data:`ASSUMED`.
    """
    is_assumption = source == ASSUMED if assumption is None else assumption
    return Field(
        default,
        description=about,
        json_schema_extra={"unit": unit, "source": source, "assumption": is_assumption},
        **bounds,
    )


class Checked(BaseModel):
    """Base of all groups: frozen, unknown keys refused, no NaN or infinity."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=False)
