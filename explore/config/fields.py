"""How a configuration value is declared: its unit, meaning, source and range in one place."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field, ValidationInfo, field_validator

from explore.errors import quoted

TEXTBOOK = "typical textbook range"
ASSUMED = "assumption of this project"
JUDGEMENT = "judgement"
TUBES = "median of random designs with exchangers=tubes"
"""``python -m tests.benchmarks.tube_coefficients`` prints it with the 10-90 % range."""


def quantity(
    default: Any,
    *,
    unit: str,
    about: str,
    source: str = ASSUMED,
    assumption: bool | None = None,
    band: tuple[float, float] | None = None,
    group: str | None = None,
    worse: Literal["high", "low"] = "high",
    edge: float | None = 0.0,
    only: dict[str, str] | None = None,
    exchangers: Literal["coefficients", "tubes"] | None = None,
    **bounds: Any,
) -> Any:
    """Declare one configuration value with its unit, meaning and source.

    ``assumption`` defaults to true exactly when the source is :data:`ASSUMED` or :data:`JUDGEMENT`. ``band`` is the
    10-90 % range of the value and ``group`` the name of what is drawn together with it, for studies of doubt; ``worse``
    says which end of the band is the worse one for the plant, ``edge`` from where on the value is drawn lognormally: a
    bounded one by what is left to its bound.
    ``only`` names the settings beside it under which the value counts at all, ``exchangers`` the way of describing them.
    """
    is_assumption = source in (ASSUMED, JUDGEMENT) if assumption is None else assumption
    doubt = {} if band is None else doubted(group or "", worse, band=band, edge=edge)
    when: dict[str, Any] = {} if only is None else {"only": dict(only)}
    when |= {} if exchangers is None else {"exchangers": exchangers}
    return Field(
        default,
        description=about,
        json_schema_extra={"unit": unit, "source": source, "assumption": is_assumption, **doubt, **when},
        **bounds,
    )


def doubted(
    group: str,
    worse: Literal["high", "low"] = "high",
    *,
    band: tuple[float, float] | None = None,
    times: tuple[float, float] | None = None,
    spread: tuple[float, float] | None = None,
    edge: float | None = 0.0,
) -> dict[str, Any]:
    """Describe how doubtful a value is, for ``json_schema_extra``: its 10-90 % range, group, worse end and edge.

    The range is a ``band`` of the default, a factor on any value (``times``), or what is added to it (``spread``).
    """
    given = {"band": band, "times": times, "spread": spread}
    ranges: dict[str, Any] = {kind: list(pair) for kind, pair in given.items() if pair is not None}
    return ranges | {"group": group, "worse": worse, "edge": None if spread is not None else edge}


GREATEST, LEAST = 1e12, 1e-12
"""No price, size or pressure is as great or, but for none at all, as small, in any unit: beyond, figures of a design become
infinite and name no key. Fields have bounds of their own within."""

GREATEST_WHOLE = 2**63 - 1
"""The greatest whole number that an array or a table holds."""


class Checked(BaseModel):
    """Base of all groups: frozen, unknown keys refused, no NaN, no infinity, nothing beyond :data:`GREATEST`."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=False)

    @field_validator("*", mode="before")
    @classmethod
    def _refuse_truth_for_numbers(cls, value: Any, info: ValidationInfo) -> Any:
        """Refuse true and false where no truth is asked for: YAML's yes and on would else count as 1."""
        where = _truth(value, str(info.field_name))
        if where and not _asks_for_truth(cls.model_fields[str(info.field_name)].annotation):
            raise ValueError(f"{where}: true or false (yes, no, on, off) is no value here")
        return value

    @field_validator("*", mode="after")
    @classmethod
    def _refuse_what_no_plant_has(cls, value: Any, info: ValidationInfo) -> Any:
        """Refuse a number so large, or so near to nothing, that figures made of it have no end."""
        for number in value if isinstance(value, list | tuple) else [value]:
            most = GREATEST if isinstance(number, float) else GREATEST_WHOLE
            if isinstance(number, int | float) and abs(number) > most:
                raise ValueError(
                    f"{info.field_name}={quoted(number)}: a number of at most {most:g} is expected"
                )
            if isinstance(number, float) and 0.0 < abs(number) < LEAST:
                raise ValueError(f"{info.field_name}={number:g}: 0 or a number from {LEAST:g} on is expected")
        return value


def _truth(value: Any, name: str) -> str:
    """Write ``name=value`` of the first true or false in a value, a list or a plain group; empty if there is none.

    Groups within check themselves.
    """
    if isinstance(value, Mapping):
        found = (_truth(v, f"{name}.{key}") for key, v in value.items() if not isinstance(v, Mapping))
        return next(filter(None, found), "")
    listed = value if isinstance(value, list | tuple) else [value]
    return f"{name}={quoted(value)}" if any(isinstance(item, bool) for item in listed) else ""


def _asks_for_truth(annotation: Any) -> bool:
    """Tell whether a field may be true or false, or is a group that checks its own fields."""
    if annotation is bool or (isinstance(annotation, type) and issubclass(annotation, BaseModel)):
        return True
    return any(map(_asks_for_truth, get_args(annotation)))


def idle(values: BaseModel) -> dict[str, dict[str, str]]:
    """Return the fields that differ from their defaults although the settings of ``values`` do not let them count.

    Each comes with the settings that would, as name and value.
    """
    fields = type(values).model_fields
    changed = [name for name in fields if getattr(values, name) != fields[name].default]
    return {name: wanted for name in changed if (wanted := against(values, name))}


def against(values: BaseModel, name: str) -> dict[str, str]:
    """Return the settings, and the values they would need, that keep the field ``name`` from counting."""
    extra: Any = type(values).model_fields[name].json_schema_extra
    wanted: dict[str, str] = (extra or {}).get("only", {})
    return {setting: value for setting, value in wanted.items() if getattr(values, setting) != value}
