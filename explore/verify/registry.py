"""All checks of the package, by topic."""

from __future__ import annotations

from collections.abc import Iterable

from explore.errors import InputError
from explore.verify import (
    cycles,
    exchangers,
    exergy,
    expanders,
    films,
    fronts,
    hazard,
    measured,
    mixtures,
    money,
    pressure_vessels,
    properties,
    solar,
    storage,
)
from explore.verify.check import Check

MODULES = (
    properties,
    mixtures,
    cycles,
    exergy,
    exchangers,
    films,
    expanders,
    solar,
    storage,
    pressure_vessels,
    hazard,
    fronts,
    money,
    measured,
)


def all_checks() -> list[Check]:
    """Every check, those of one topic together."""
    found = [check for module in MODULES for check in module.checks()]
    order = {topic: place for place, topic in enumerate(dict.fromkeys(check.topic for check in found))}
    return sorted(found, key=lambda check: order[check.topic])


def chosen(topics: Iterable[str] | None) -> list[Check]:
    """Return the checks of some topics, or all; raises :class:`InputError` for a topic that does not exist."""
    found = all_checks()
    if topics is None:
        return found
    known, wanted = list(dict.fromkeys(check.topic for check in found)), list(topics)
    for topic in wanted:
        if topic not in known:
            raise InputError(
                f"verify: there is no topic {topic!r}; there are {', '.join(known)}; and detail=influence"
            )
    return [check for check in found if check.topic in wanted]
