"""The plant as bought: what many worlds say of the recommended designs once they stand, in words for terminal and page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from explore.figures.format import label, record, shown, whole
from explore.tell.doubts import chance
from explore.tell.terminal import table

Found = Mapping[str, Any]
SCOPE = (
    "Nothing is sized anew: volumes, areas or tubes, cylinders, valves and collectors stay as the run's own assumptions "
    "size them, and so do speed, water flows, superheat and the store's temperatures; power, work per litre, share "
    "served and pressures move. Where the run's assumptions are wrong, this is what a plant built by them would do."
)
WITHIN = "A hundredth short of what is asked still counts as given."
CARD_FIGURES = ("power_size_W", "served_share")
"""What a card says of the plant as bought: whether it does its work."""
NEARLY_ALL = 0.995
"""Share of worlds from which on all of them are spoken of."""


def told(found: Found) -> list[str]:
    """Return what the terminal says, paragraph by paragraph; a table has its lines. Nothing without an answer."""
    answer = found.get("as_bought")
    if not answer or not answer["designs"]:
        return []
    said = [f"The plant as bought, in {whole(answer['worlds'])} of the same worlds. {SCOPE}"]
    if any(not one["not_rated"] for one in answer["designs"]):
        said.append(_table(answer))
    return [*said, *(design_words(one, answer) for one in answer["designs"]), WITHIN]


def design_words(one: Found, answer: Found) -> str:
    """Say how likely a design, once bought, gives the power and the share asked."""
    name = f"{_title(one)} ({one['fluid']}, design {one['row']})"
    if one["not_rated"]:
        return f"{name} is not rated as bought: {one['not_rated']}."
    power = shown(repr(one["power_asked_W"]), "power_size_W")
    share = shown(repr(answer["served_share_min"]), "served_share")
    said = (
        f"{name} as bought gives the {power} asked at its engine's shaft in {chance(one['gives_power'])} of worlds, and "
        f"serves the share asked, {share}, in {chance(one['serves'])}; both in {chance(one['both'])}"
    )
    return ". ".join(words for words in (said, _unsettled(one)) if words) + "."


def card_words(found: Found, row: int) -> str:
    """Say on a recommended design's card what it would do as bought; empty without an answer."""
    answer = found.get("as_bought") or {"designs": ()}
    one = next((one for one in answer["designs"] if one["row"] == row), None)
    if one is None:
        return ""
    if one["not_rated"]:
        return f"Not rated as bought: {one['not_rated']}."
    spans = []
    for name in (name for name in CARD_FIGURES if name in one["bands"]):
        low, high = (one["bands"][name][end] for end in ("low", "high"))
        spans.append(f"{label(name)} {_number(low, name)} to {_number(high, name, unit=True)}")
    often = chance(one["both"])
    said = (
        f"As bought, nothing sized anew: {'; '.join(spans)}",
        f"It gives power and share asked in {often} of worlds",
        _unsettled(one),
    )
    return ". ".join(words for words in said if words) + "."


def often_words(found: Found, row: int) -> str:
    """Say in a sentence how often a design gives what is asked as bought; empty where that is not known."""
    answer = found.get("as_bought") or {"designs": ()}
    one = next((one for one in answer["designs"] if one["row"] == row and not one["not_rated"]), None)
    return f"As bought it gives power and share asked in {chance(one['both'])} of worlds." if one else ""


def rows(one: Found) -> tuple[tuple[str, ...], ...]:
    """Return of each figure of a design as bought its label with unit, low, likely, high, and the run's own."""
    found = []
    for name, band in one.get("bands", {}).items():
        unit = record(name).unit
        cells = (_number(band[key], name) for key in ("low", "likely", "high", "nominal"))
        found.append((f"{label(name)}, {unit}" if unit else label(name), *cells))
    return tuple(found)


def _table(answer: Found) -> str:
    lines = [["", "low", "likely", "high", "run"]]
    for one in answer["designs"]:
        if not one["not_rated"]:
            lines.append([f"{_title(one)}, as bought: {one['fluid']}", "", "", "", ""])
            lines += [["  " + row[0], *row[1:]] for row in rows(one)]
    return "As bought; low and high: a tenth of the worlds lies beyond each\n" + table(lines, whole=True)


def _unsettled(one: Found) -> str:
    if one["settled"] >= NEARLY_ALL:
        return ""
    left = f"{100.0 * (1.0 - one['settled']):.0f} %"
    return (
        f"In {left} of worlds no state was found that its areas and cylinders agree on; they count as failed"
    )


def _title(one: Found) -> str:
    role = str(one["role"])
    return role[:1].upper() + role[1:]


def _number(value: float | None, name: str, *, unit: bool = False) -> str:
    return "–" if value is None else shown(repr(float(value)), name, with_unit=unit)
