"""What may be configured, read off the schema: for ``task=keys``, and for files to start from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from annotated_types import Ge, Gt, Le, Lt
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from explore.config.cards import Collector, FluidCard
from explore.config.engine import Engine
from explore.config.machine import GivenMachine
from explore.config.schema import Costs, Report, Scenario, Search
from explore.config.tasks import GaugeKeys
from explore.config.tubes import Exchangers
from explore.config.yardsticks import Yardsticks

GROUPS: dict[str, type[BaseModel]] = {
    "scenario": Scenario,
    "engine": Engine,
    "exchangers": Exchangers,
    "costs": Costs,
    "search": Search,
    "report": Report,
    "yardsticks": Yardsticks,
    "fluid": FluidCard,
    "collector": Collector,
    "machine": GivenMachine,
    "gauge": GaugeKeys,
}
"""Every group of a configuration, the files that cards and machines are, and what a task is typed with."""


@dataclass(frozen=True)
class Key:
    """One configured value: dotted ``name``, ``default`` (None where ``required``), what it may be, meaning and source."""

    name: str
    default: Any
    required: bool
    unit: str
    may_be: str
    about: str
    source: str


def keys(group: str) -> list[Key]:
    """Return the keys of a group of :data:`GROUPS`, those of its parts with dotted names."""
    return list(_keys(GROUPS[group], ""))


def _keys(model: type[BaseModel], prefix: str) -> Iterator[Key]:
    for name, field in model.model_fields.items():
        part = part_of(field)
        if part is not None:
            yield from _keys(part, f"{prefix}{name}.")
            continue
        extra = field.json_schema_extra if isinstance(field.json_schema_extra, Mapping) else {}
        unit, band = str(extra.get("unit", "")), extra.get("band")
        source = str(extra.get("source", ""))
        if isinstance(band, list):
            source = "; ".join(filter(None, [source, f"10-90 % {band[0]:g} to {band[1]:g}"]))
        default = None if field.is_required() else field.get_default(call_default_factory=True)
        yield Key(
            prefix + name,
            default,
            field.is_required(),
            "" if unit == "-" else unit,
            may_be(field),
            field.description or "",
            source,
        )


def part_of(field: FieldInfo) -> type[BaseModel] | None:
    """Return the group that a field holds, None where it holds a value, a list or a table of groups."""
    kind = field.annotation
    return kind if isinstance(kind, type) and issubclass(kind, BaseModel) else None


def may_be(field: FieldInfo) -> str:
    """Say what a field takes: its range, its choices, or a kind of value."""
    bounds = [*field.metadata, *_inner(field.annotation)]
    least = next(
        (f"{'over' if isinstance(b, Gt) else 'from'} {_low(b):g}" for b in bounds if isinstance(b, Ge | Gt)),
        "",
    )
    most = next(
        (f"{'below' if isinstance(b, Lt) else 'to'} {_high(b):g}" for b in bounds if isinstance(b, Le | Lt)),
        "",
    )
    words = " ".join(part for part in (least, most) if part)
    empty = ", or null" if type(None) in get_args(field.annotation) else ""
    return (words or _kind(field.annotation)) + empty


def _low(bound: Ge | Gt) -> Any:
    return bound.ge if isinstance(bound, Ge) else bound.gt


def _high(bound: Le | Lt) -> Any:
    return bound.le if isinstance(bound, Le) else bound.lt


def _inner(annotation: Any) -> list[Any]:
    """Bounds within ``Annotated`` members of a union."""
    if get_origin(annotation) is Annotated:
        return [*get_args(annotation)[1:], *_inner(get_args(annotation)[0])]
    if get_origin(annotation) in (Union, UnionType):
        return [bound for part in get_args(annotation) for bound in _inner(part)]
    return []


def _kind(annotation: Any) -> str:
    """Name a kind of value as a person would."""
    if get_origin(annotation) is Annotated:
        return _kind(get_args(annotation)[0])
    if get_origin(annotation) in (Union, UnionType):
        return " or ".join(_kind(part) for part in get_args(annotation) if part is not type(None))
    if get_origin(annotation) is Literal:
        return " | ".join(str(choice) for choice in get_args(annotation))
    origin = get_origin(annotation) or annotation
    plain = {bool: "true | false", int: "whole number", float: "number", str: "words"}
    if origin in plain:
        return plain[origin]
    return "a list" if origin in (list, tuple) else "a table"
