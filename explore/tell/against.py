"""What a search over many worlds has to say: how it read its designs, and what likely values promise too much."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from explore.figures.format import lower, record, shown

Found = Mapping[str, Any]
IN_WORDS = {"likely": "half of the worlds", "cautious": "four of five worlds"}


def words(found: Found) -> list[str]:
    """Return how the designs were read, and the optimiser's curse; nothing of a search by the run's own values."""
    return [how(found), *curse(found)] if found else []


def how(found: Found) -> str:
    """Say what the objectives and limits of the search were read over."""
    share, reading = IN_WORDS[found["reading"]], found["reading"]
    return (
        f"Searched against {found['worlds']} plausible worlds, each design evaluated in all of them: an objective marked "
        f"'{reading}' is what the design reaches or betters in {share}, and it keeps every limit by the run's own values "
        f"and in at least {found['needed']} of {found['worlds']} worlds. All other figures are by the run's own values."
    )


def curse(found: Found) -> list[str]:
    """Say what the best design by the run's own values promises, what of it holds, and how the recommended one does."""
    if not found["promises"]:
        return []
    one = found["promises"][0]
    naive, mine = one["nominal"], one["recommended"]
    what, worlds, share = lower(record(one["figure"]).title), found["worlds"], IN_WORDS[found["reading"]]

    def told(design: Found) -> str:
        return (
            f"{_shown(design['promised'], one['figure'])} and holds {_shown(design['held'], one['figure'])} in {share} "
            f"({100.0 * design['lost_share']:.0f} % {_way(design)}), keeping every limit in "
            f"{round(design['worlds_kept_share'] * worlds)} of {worlds}"
        )

    whose = "of the earlier front" if found["beside"] else "of all designs kept"
    said = (
        f"Optimiser's curse, in {what}: {whose} the best by the run's own values ({naive['fluid']}) promises "
        f"{told(naive)}; the one recommended ({mine['fluid']}) promises {told(mine)}."
    )
    if found["beside"]:
        said += (
            f" Of the {found['front_designs']} designs of that front ({found['beside']}) that keep every limit by the "
            f"run's own values, {found['front_kept'] or 'none'} keep them in {found['needed']} of {worlds} worlds."
        )
    return [said]


def _shown(value: float, name: str) -> str:
    return shown(repr(float(value)), name)


def _way(design: Found) -> str:
    return "less" if design["held"] <= design["promised"] else "more"
