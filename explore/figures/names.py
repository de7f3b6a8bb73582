"""Units as written in names and plain texts, and as a reader sees them: the one place that turns one into the other.

A name ends in a unit, or in two with ``_per_`` between them; those of any two that are listed here need no entry.
"""

from __future__ import annotations

import re

UNITS = {
    "rev": "rev",
    "Nm": "N m",
    "bar_a": "bar abs.",
    "bar_g": "bar gauge",
    "fraction": "",
    "count": "",
    "degC": "°C",
    "hours": "h",
    "m3": "m³",
    "m2": "m²",
    **{plain: plain for plain in ("bar", "EUR", "kWh", "kJ", "Wh", "mm", "kg", "L", "K", "W", "m")},
}
"""How a unit is written that stands alone or is divided by another."""

DIVISORS = UNITS | {
    "kgK": "(kg K)",
    "m2K": "(m² K)",
    "litre": "L",
    "year": "a",
    "min": "min",
    "h": "h",
    "s": "s",
}
"""How a unit is written by which another is divided."""


def _any_of(units: dict[str, str]) -> str:
    return "|".join(sorted(units, key=len, reverse=True))


ENDING = re.compile(rf"_({_any_of(UNITS)})(?:_per_({_any_of(DIVISORS)}))?$")


def parted(name: str) -> tuple[str, str]:
    """Return what stands before the unit of a name, and the unit as written; '' for a pure number or a word."""
    found = ENDING.search(name)
    if found is None:
        return name, ""
    over, under = found.groups()
    unit = UNITS[over] if under is None else f"{UNITS[over]}/{DIVISORS[under]}"
    return name[: found.start()], unit


PLAIN = re.compile(r"bar_[ag]|degC|(?<!\w)m[23](?!\w)")


def in_page_units(text: str) -> str:
    """Write the units of a plain sentence, or a unit alone, as the page does."""
    return PLAIN.sub(lambda found: UNITS[found[0]], text)
