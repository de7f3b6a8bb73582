"""What is told of designs, made once as data: cautions by severity, recommended designs, limits that cost designs.

Terminal, inspected design and page show this; none of them words it anew.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from math import isfinite
from typing import TYPE_CHECKING, Any

from explore.config.engine import Engine
from explore.config.schema import Objective
from explore.figures.format import label, lower, shown, whole
from explore.figures.names import in_page_units
from explore.figures.readings import plain
from explore.judgement.severity import SEVERITIES, Severity

if TYPE_CHECKING:
    import pandas as pd

SETTLED = 0.01
"""Gain by local refinement above which a search is told as unsettled: as much as the picks themselves tolerate."""
MOST_RANGES = 5
"""The widest say what a builder may choose freely; the rest would bury them."""
EXPANSIONS = {1: "one expansion", 2: "two expansions", 3: "three expansions"}
"""As a builder says it: engines have one to three."""
PEAK_PRESSURE = "peak_pressure_bar_g"
Caution = Mapping[str, str]
LOSSES_ALIKE = (
    "every engine loses the same shares, whatever its size, speed and pressure; a measured small engine on organic "
    "vapour gave less than such shares promise, so the true work may lie well below what is shown"
)
"""Held against the engine of Dumont and others, Energy 165 (2018) 1119, in tests/published/test_measured.py."""

LOSSES_HELD = (
    "losses follow size, speed and pressure by laws that few machines confirm: with the default engine, and conditions "
    "partly assumed, measured engines come out at 0.97 of what they gave on organic vapour (0.75 to 1.09 by the speed and "
    "ratio assumed), 0.93 to 0.96 on steam and 0.92 to 1.23 on air"
)
"""Held against the rows M1, M5 and M10 of the measured machines in tests/published/test_measured.py."""


def losses_held(engine: Engine) -> str:
    """Say how far the engine's losses are confirmed by measured machines."""
    return LOSSES_HELD if engine.losses == "scaling" else LOSSES_ALIKE


UNKNOWN_CAUTIONS = (
    {
        "text": "The cautions of this design were not worked out for this page; task=inspect prints them. Read them before "
        "building anything: it holds hot water and a fluid under pressure like all others.",
        "level": Severity.WARNING.value,
        "topic": "not worked out for this page",
    },
)
"""What is told of a design whose cautions nobody asked for, so that unknown never looks like none."""


def gist(objectives: Sequence[Objective]) -> list[str]:
    """Return the figures in which a design is told in short: the objectives, and the pressure it has to hold."""
    figures = list(dict.fromkeys(objective.figure for objective in objectives))
    return figures if PEAK_PRESSURE in map(plain, figures) else [*figures, PEAK_PRESSURE]


BY_LEVEL = {one.value: one for one in SEVERITIES}


def as_cautions(found: Iterable[object]) -> tuple[dict[str, str], ...]:
    """Bring cautions, sentences or mappings, into one shape, each once, worst first.

    A level that is unknown is taken as a warning.
    """
    shaped = [one if isinstance(one, dict) else {"text": str(one)} for one in found]
    unique = {str(one["text"]): one for one in shaped if one.get("text")}
    listed = [
        {"text": in_page_units(text), "level": severity(one).value, "topic": str(one.get("topic", ""))}
        for text, one in unique.items()
    ]
    return tuple(sorted(listed, key=lambda one: SEVERITIES.index(severity(one))))


def severity(caution: Caution) -> Severity:
    """Return how serious a caution is; one that does not say is a warning."""
    return BY_LEVEL.get(str(caution.get("level")), Severity.WARNING)


def of_severity(found: Iterable[Caution], wanted: Severity) -> list[Caution]:
    """Return the cautions of one severity."""
    return [one for one in found if severity(one) is wanted]


def counted(found: Iterable[Caution]) -> str:
    """Count the cautions of a design by severity, gravest first."""
    listed = list(found)
    return " / ".join(str(len(of_severity(listed, one))) for one in SEVERITIES)


def heading(found: Sequence[Caution]) -> str:
    """Name the topics of the warnings and count the notes, for the line that opens to all of them."""
    topics = [one["topic"] for one in of_severity(found, Severity.WARNING) if one.get("topic")]
    notes = len(of_severity(found, Severity.NOTE))
    words = f"Cautions: {', '.join(topics)}" if topics else "Cautions"
    return f"{words}; {notes} note{'s' if notes > 1 else ''}" if notes else words


def forbidden(found: Iterable[Caution]) -> str:
    """Say what forbids building a design; nothing where nothing does."""
    topics = [one["topic"] for one in of_severity(found, Severity.STOP)]
    return f"{Severity.STOP.word}, {Severity.STOP.meaning}: {', '.join(topics)}." if topics else ""


DISPLACED = "{fluid}, design {line}, would be first, but with exchangers made of tubes it breaks: {limits}."
"""What is told of a design that lost its place among the recommended ones; the page's script fills it in as well."""


def displaced(fluid: str, line: int, broken: Iterable[str]) -> str:
    """Say which design would be recommended, were it not for the limits that it breaks with tubes."""
    return DISPLACED.format(fluid=fluid, line=line, limits=broken_words(broken))


UNHELD = "No design left keeps every limit of the scenario with exchangers made of tubes; {which} breaks: {limits}."
"""What is told of a design recommended though it breaks limits with tubes; the page's script fills it in as well."""
NONE_HELD = (
    "No design left keeps every limit of the scenario with exchangers made of tubes, so that such as break one are "
    "recommended."
)


def unheld(which: str, broken: str) -> str:
    """Say of a recommended design, ``which`` in the sentence, what it breaks with tubes; nothing where that is nothing."""
    return UNHELD.format(which=which, limits=broken) if broken else ""


def leeway(ranges: Sequence[tuple[str, float, float]], within: float) -> str:
    """Say between which values inputs of a design may lie, ``(name, low, high)``, widest first; nothing if there are none.

    ``within`` is what any objective may worsen by, as a share of the front's range.
    """
    if not ranges:
        return ""
    said = [
        f"{lower(label(name))} {shown(str(low), name, with_unit=False)} to {shown(str(high), name)}"
        for name, low, high in ranges[:MOST_RANGES]
    ]
    return (
        f"Free to move, each by itself: {', '.join(said)}; no limit breaks, and no objective worsens by more than "
        f"{within:.1%} of the front's range."
    )


def broken_words(broken: Iterable[str]) -> str:
    """Name limits within a sentence."""
    return ", ".join(lower(label(name)) for name in broken)


def losses(lost_to: Mapping[str, int]) -> list[tuple[str, str, int]]:
    """Return column, words and number of designs of each limit that cost any, most first."""
    ranked = sorted(
        ((name, int(count)) for name, count in lost_to.items()), key=lambda one: (-one[1], one[0])
    )
    return [(name, label(name), count) for name, count in ranked if count]


def unsettled(gains: Sequence[float]) -> bool:
    """Whether a search has not settled: ``gains`` [-] by local refinement of some front designs, of the front's range."""
    return max(gains, default=0.0) > SETTLED


def refined(gains: Sequence[float], picks_gain: float | None = None) -> str:
    """Say what a further local refinement of front designs gained, [-] of the front's range; nothing if none was tried.

    ``picks_gain`` is what the last steps of polishing still gained of a design that the rule puts first, in the same
    unit; one that takes its place because of tubes has not been polished.
    """
    if not gains:
        return ""
    greatest = max(gains)
    if unsettled(gains):
        said = (
            "the search has NOT settled: a further local refinement still improved one of "
            f"{len(gains)} front designs by {greatest:.1%}"
        )
    else:
        said = f"a further local refinement of {len(gains)} front designs improved none by more than {greatest:.2%}"
    if picks_gain is None:
        return f"{said}; how far the designs that the rule puts first have settled is not known"
    if picks_gain > SETTLED:
        return f"{said}, and the last steps of polishing one that the rule puts first by {picks_gain:.1%}"
    return (
        f"{said}; no step betters a design that the rule puts first by more than {max(picks_gain, 0.0):.2%}"
    )


def layouts_compared(layouts: pd.DataFrame) -> str:
    """Say how far the best plant of each number of expansions stays from the best of all, and what was not tried.

    ``layouts`` is the table of :func:`explore.judgement.front.layouts_table`, best work per litre first.
    """
    best = layouts.drop_duplicates("stages")
    said = f"Best by number of expansions: {'; '.join(_behind(row) for row in best.to_dict('records'))}."
    untried = layouts.loc[layouts["evaluated"] == 0, "layout"].tolist()
    if not untried:
        return said
    return f"{said} Nothing is known of layouts that so short a search has not come to: {'; '.join(untried)}."


def _behind(row: Mapping[Hashable, Any]) -> str:
    count = EXPANSIONS[int(row["stages"])]
    if not isfinite(row["work_per_litre_kJ"]):
        return f"{count}: none feasible of {whole(row['evaluated'])} tried"
    work = f"{count}: up to {row['work_per_litre_kJ']:.2f} kJ/L"
    if row["work_behind_kJ"] <= 0.0:
        return work
    euro = row["cost_behind_EUR"]
    dearer = f"{whole(round(abs(euro)))} EUR {'more' if euro > 0.0 else 'less'}"
    return f"{work}, {row['work_behind_kJ']:.2f} below the best, {dearer}"
