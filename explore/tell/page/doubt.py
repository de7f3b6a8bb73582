"""How sure: what many worlds say of a run, ready for the page; nothing where no study was made."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from explore.config.goals import by_own_values
from explore.figures.format import label, lower, record, shown
from explore.tell import as_bought, doubts
from explore.tell.bands import Band
from explore.tell.bands import bands as bands_of
from explore.tell.page.data import Run


@dataclass(frozen=True)
class Cell:
    """A probability: its share for a bar [%] and its words."""

    percent: float
    words: str


@dataclass(frozen=True)
class Measure:
    """One line of what to measure first."""

    topic: str
    percent: float
    alone: str
    measurement: str
    worth: str


@dataclass(frozen=True)
class Told:
    """All that the section shows."""

    headline: str
    nominal: tuple[str, ...]
    """what the run says of the compromise between its bands: the figure never stands alone"""
    scope: str
    objective: str
    ceilings: tuple[str, ...]
    chances: tuple[tuple[str, tuple[Cell | None, ...]], ...]
    """a row a fluid, a tie and nothing feasible: title, and a cell a ceiling"""
    words: tuple[str, ...]
    bands: tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]
    """a recommended design, and of each of its figures: label with unit, low, likely, high, and the run's own"""
    designs: tuple[str, ...]
    steady: str
    measures: tuple[Measure, ...]
    worlds: int
    bought: tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]
    """as ``bands``, of the plants as bought; without rows one that is not rated"""
    bought_words: tuple[str, ...]
    bought_scope: str
    drawn: tuple[Band, ...]


def tell(run: Run) -> Told | None:
    """Return what doubt.json holds; None without one."""
    found, case = run.doubt, by_own_values(run.case)
    if not found:
        return None
    return Told(
        headline=f"{doubts.headline(found, case)}.",
        nominal=_nominal(run),
        scope=doubts.scope(found),
        objective=record(found["ceilings"][-1]["figure"]).title,
        ceilings=tuple(f"{one['ceiling_bar_g']:g}" for one in found["ceilings"]),
        chances=_chances(run),
        words=tuple(
            words
            for one in found["ceilings"]
            for words in (doubts.ceiling_words(one, case), *doubts.corner_words(one, case))
        ),
        bands=tuple((_name(run, one), _bands(one)) for one in found["designs"]),
        designs=tuple(doubts.design_words(one, case) for one in found["designs"]),
        steady=doubts.steady_words(found),
        measures=_measures(found),
        worlds=int(found["worlds"]),
        **_bought(run),
        drawn=tuple(bands_of(case, found.get("assumptions", ()))),
    )


def on_cards(run: Run) -> dict[int, str]:
    """Return by line of front.csv what the card of a design tried in many worlds says of them."""
    objectives = [one.figure for one in by_own_values(run.case).scenario.objectives]
    found = {}
    for one in run.doubt.get("designs", ()):
        spans = [
            f"{label(name)} {_written(one['bands'][name]['low'], name)} to {_shown(one['bands'][name]['high'], name)}"
            for name in objectives
            if name in one["bands"] and _moves(one["bands"][name])
        ]
        found[int(one["row"])] = (
            f"In eight of ten plausible worlds, sized anew in each: {'; '.join(spans)}. It keeps every limit in "
            f"{doubts.chance(one['keeps'])} of them all. {as_bought.card_words(run.doubt, one['row'])}"
        ).strip()
    return found


def _nominal(run: Run) -> tuple[str, ...]:
    """Set what the run says of the compromise, or else of another recommended design, between its bands."""
    name, designs = by_own_values(run.case).scenario.objectives[0].figure, run.doubt["designs"]
    for one in sorted(designs, key=lambda one: "compromise" not in str(one["role"])):
        band = one["bands"].get(name)
        if not band or not _moves(band):
            continue
        role, title = str(one["role"]), doubts.fluid(one["fluid"], run.case)
        low, high, nominal = (
            _written(band["low"], name),
            _shown(band["high"], name),
            _shown(band["nominal"], name),
        )
        what = f"{role[:1].upper()}{role[1:]} ({title}, design {one['row']}): {lower(record(name).title)}"
        said = f"{what} {nominal} in this run, {low} to {high} in eight of ten worlds that size it anew."
        often = as_bought.often_words(run.doubt, int(one["row"]))
        return (said, often) if often else (said,)
    return ()


def _bought(run: Run) -> dict[str, Any]:
    """Return the parts of :class:`Told` about plants as bought; empty ones without an answer."""
    answer = run.doubt.get("as_bought") or {"designs": ()}
    designs = answer["designs"]
    return {
        "bought": tuple((_name(run, one), as_bought.rows(one)) for one in designs if not one["not_rated"]),
        "bought_words": tuple(as_bought.design_words(one, answer) for one in designs),
        "bought_scope": f"{answer.get('worlds', 0)} of the same worlds. {as_bought.SCOPE} {as_bought.WITHIN}",
    }


def _moves(band: Mapping[str, Any]) -> bool:
    """Whether the ends of a band differ: what no world moves needs no words."""
    return band["low"] is not None and band["low"] != band["high"]


def _chances(run: Run) -> tuple[tuple[str, tuple[Cell | None, ...]], ...]:
    tables = [{one["best"]: one for one in under["fluid"]["best"]} for under in run.doubt["ceilings"]]
    names = {
        name: max(table.get(name, {"probability": 0.0})["probability"] for table in tables)
        for table in tables
        for name in table
    }
    ordered = sorted(names, key=lambda name: (-names[name], name))
    return tuple(
        (
            doubts.fluid(name, run.case),
            tuple(_cell(table[name]) if name in table else None for table in tables),
        )
        for name in ordered
    )


def _cell(one: Mapping[str, Any]) -> Cell:
    return Cell(100.0 * one["probability"], doubts.chance(one))


def _name(run: Run, one: Mapping[str, Any]) -> str:
    role = str(one["role"])
    return f"{role[:1].upper()}{role[1:]}: {doubts.fluid(one['fluid'], run.case)}, design {one['row']}"


def _bands(one: Mapping[str, Any]) -> tuple[tuple[str, ...], ...]:
    rows = []
    for name, band in one["bands"].items():
        unit = record(name).unit
        cells = (_written(band[key], name) for key in ("low", "likely", "high", "nominal"))
        rows.append((f"{label(name)}, {unit}" if unit else label(name), *cells))
    return tuple(rows)


def _measures(found: Mapping[str, Any]) -> tuple[Measure, ...]:
    return tuple(
        Measure(
            topic=one["topic"],
            percent=100.0 * min(max(one["total"], 0.0), 1.0),
            alone=f"{100.0 * max(one['first'], 0.0):.0f} %",
            measurement=doubts.bench(one["topic"]),
            worth=", ".join(doubts.worth_words(one)),
        )
        for one in found["measure_first"]
        if one["total"] >= doubts.LITTLE
    )


def _written(value: float | None, name: str) -> str:
    return "–" if value is None else shown(repr(float(value)), name, with_unit=False)


def _shown(value: float | None, name: str) -> str:
    return "–" if value is None else shown(repr(float(value)), name)
