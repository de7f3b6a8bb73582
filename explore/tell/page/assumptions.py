"""Every configured value with its unit, meaning and source, as the schema describes them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from explore.config.fields import ASSUMED
from explore.config.schema import Case, Checked, described
from explore.figures.format import NONE, three_digits


@dataclass(frozen=True)
class Assumption:
    """One value that stands behind the results."""

    name: str
    value: str
    unit: str
    about: str
    source: str
    assumption: bool


@dataclass(frozen=True)
class Group:
    """A named list of configured values."""

    title: str
    entries: tuple[Assumption, ...]


def groups(case: Case) -> list[Group]:
    """Return all configured values, grouped as the configuration is."""
    collectors = [
        Group(f"Collector {card.title}", _plain(card, card.source, card.price_source))
        for card in case.collectors.values()
    ]
    prices = Group(
        "Fluid prices",
        tuple(
            Assumption(
                card.name, three_digits(card.price_EUR_per_kg), "EUR/kg", card.title, card.price_source,
                card.price_source.startswith(ASSUMED),
            )
            for card in case.fluids.values()
        ),
    )  # fmt: skip
    return [
        Group("Machine, exchangers, store and pipes", _described(case.engine)),
        *tubes(case),
        Group(f"Prices, EUR of {case.costs.price_year}", _described(case.costs)),
        *collectors,
        prices,
    ]


def tubes(case: Case) -> list[Group]:
    """Return what is configured of exchangers made of tubes; nothing where coefficients serve."""
    given = case.exchangers
    if given.method != "tubes":
        return []
    parts = {"boiler": given.boiler, "coil in the store": given.coil, "condenser": given.condenser}
    return [
        Group("Exchangers of tubes", _described(given)),
        *(Group(f"Tubes of the {name}", _described(part)) for name, part in parts.items()),
    ]


def _described(model: Checked) -> tuple[Assumption, ...]:
    return tuple(
        Assumption(
            name=row["name"],
            value=value(row["value"]),
            unit="" if row["unit"] == "-" else row["unit"],
            about=row["about"] or "",
            source=row["source"],
            assumption=bool(row["assumption"]),
        )
        for row in described(model)
    )


def _plain(card: Checked, source: str, price_source: str) -> tuple[Assumption, ...]:
    entries = []
    for name, field in type(card).model_fields.items():
        content = getattr(card, name)
        if isinstance(content, bool | str) or not isinstance(content, int | float):
            continue
        origin = price_source if name.startswith("price") else source
        entries.append(
            Assumption(name, value(content), "", field.description or "", origin, origin.startswith(ASSUMED))
        )
    return tuple(entries)


def settings(case: Case) -> list[tuple[str, str]]:
    """Return the scenario's own values as name and text, nested names joined by dots."""
    return list(_flat("", case.scenario)) + [(f"space.{k}", value(v)) for k, v in case.space.items()]


def _flat(prefix: str, model: BaseModel) -> list[tuple[str, str]]:
    found = []
    for name in type(model).model_fields:
        content = getattr(model, name)
        if isinstance(content, BaseModel):
            found += _flat(f"{prefix}{name}.", content)
        elif name != "objectives":
            found.append((prefix + name, value(content)))
    return found


def value(content: Any) -> str:
    """Write a configured value as it would be typed, a dash when it is empty."""
    if content is None or content == "" or content == ():
        return NONE
    if isinstance(content, bool):
        return "yes" if content else "no"
    if isinstance(content, float):
        return f"{content:.10g}"
    if isinstance(content, Mapping):
        return ", ".join(f"{key}: {value(part)}" for key, part in content.items()) or NONE
    if isinstance(content, list | tuple):
        return ", ".join(value(part) for part in content)
    return str(content)
