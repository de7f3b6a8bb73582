"""How a configuration value is declared: its unit, meaning, source and range in one place."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

TEXTBOOK = "typical textbook range"
ASSUMED = "assumption of this project"
JUDGEMENT = "judgement"


def quantity(
    default: Any,
    *,
    unit: str,
    about: str,
    source: str = ASSUMED,
    assumption: bool | None = None,
    band: tuple[float, float] | None = None,
    group: str | None = None,
    **bounds: Any,
) -> Any:
    """Declare one configuration value with its unit, meaning and source.

    ``assumption`` defaults to true exactly when the source is :data:`ASSUMED` or :data:`JUDGEMENT`. ``band`` is the
    10-90 % range of the value and ``group`` the name of what is drawn together with it, for studies of doubt.
    """
    is_assumption = source in (ASSUMED, JUDGEMENT) if assumption is None else assumption
    doubt: dict[str, Any] = {} if band is None else {"band": list(band), "group": group}
    return Field(
        default,
        description=about,
        json_schema_extra={"unit": unit, "source": source, "assumption": is_assumption, **doubt},
        **bounds,
    )


class Checked(BaseModel):
    """Base of all groups: frozen, unknown keys refused, no NaN or infinity."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=False)
