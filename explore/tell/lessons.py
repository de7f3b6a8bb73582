"""What the front teaches, in sentences made of the designs of a run: each says what those designs carry and no more.

The numbers are found in :mod:`explore.judgement.tradeoff`; here stand the words, in which terminal and page tell them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from explore.config.schema import Case
from explore.figures.format import label, lower, record, shown, whole
from explore.figures.record import APPLIES
from explore.judgement import tradeoff
from explore.judgement.front import recommended
from explore.judgement.tradeoff import Trade
from explore.tell.beside import (
    Lesson,
    capital,
    compared,
    described,
    difference,
    figures_of,
    listed,
    untried,
)
from explore.tell.fluid_name import short_name
from explore.tell.narrator import EXPANSIONS
from explore.tell.searched import Searched
from explore.tell.steps import in_short, steps, trades

if TYPE_CHECKING:
    import pandas as pd

LEAST_DESIGNS = 10
"""Of fewer designs it is no news that nine of ten share something."""
MOST_TOLD = 4
"""Of near ties, bounds and limits: those that matter most; the rest would bury them."""
SHORT = 236
"""Signs of three lines of a terminal of 80 columns."""
# As a builder says it; a plant has one to three.
LEVELS = {1: "one pressure level", 2: "two pressure levels", 3: "three pressure levels"}
STORES = {"stratified": "a stratified store", "mixed": "a fully mixed store"}


@dataclass(frozen=True)
class Lessons:
    """What the front of a run teaches, by topic; ``short`` is what three lines of a terminal hold of it."""

    topics: tuple[tuple[str, tuple[Lesson, ...]], ...] = ()
    short: str = ""


def lessons(case: Case, front: pd.DataFrame, beside: pd.DataFrame, searched: Searched) -> Lessons:
    """Say what the front of a run teaches.

    ``front`` and ``beside``, feasible designs off it, have the columns of front.csv and ``name``, ``broken`` (breaks a
    limit with tubes, so that it cannot be recommended) and ``untried`` (whether it does was not found out).
    """
    import pandas as pd

    if not len(front):
        return Lessons()
    objectives = case.scenario.objectives
    barred = np.flatnonzero(front["broken"].to_numpy(bool)).tolist()
    middle = recommended(front, objectives, barred)[-1]
    able = front if len(barred) == len(front) else front[~front["broken"].to_numpy(bool)]
    start = int(np.flatnonzero(able.index == front.index[middle])[0])
    able = able.reset_index(drop=True)
    known = pd.concat([able, beside[~beside["broken"].to_numpy(bool)]], ignore_index=True)
    found = trades(able, start, objectives)
    topics = (
        ("What they share", shared(front, case, searched)),
        ("What they lean on", leaning(front, case, searched)),
        ("Why not otherwise", otherwise(known, start, case, searched)),
        ("What one step along the front costs", steps(able, start, case, found)),
        ("Near ties", near_ties(known, start, case)),
    )
    return Lessons(
        tuple((title, told) for title, told in topics if told), _short(front, case, searched, found)
    )


def shared(front: pd.DataFrame, case: Case, searched: Searched) -> tuple[Lesson, ...]:
    """Say what nearly all designs of a front have in common, of what the search was free to choose."""
    if len(front) < LEAST_DESIGNS:
        return (Lesson(f"The front holds {_designs(len(front))}: too few to say what good ones share."),)
    found = [Lesson(f"{capital(_alike(one, case))}.") for one in _same(front, searched)]
    numbers: dict[str, list[str]] = {}
    told = {one.name for one in _ends(front, searched)}
    for one in tradeoff.narrow(front, searched.variables, searched.bounds):
        if one.name in told or one.of < LEAST_DESIGNS:
            continue
        span = f"{shown(str(one.low), one.name, with_unit=False)} to {shown(str(one.high), one.name)}"
        numbers.setdefault(_those(one, len(front)), []).append(f"{lower(label(one.name))} {span}")
    found += [Lesson(f"Nine of ten of {those} have {listed(spans)}.") for those, spans in numbers.items()]
    if not found and searched.options:
        found.append(Lesson("Nothing that was free to choose is alike in nine of ten of its designs."))
    return tuple(found)


def leaning(front: pd.DataFrame, case: Case, searched: Searched) -> tuple[Lesson, ...]:
    """Say at which bounds of the search and which limits many designs of a front lie."""
    ends = _ends(front, searched)[:MOST_TOLD]
    limits = tradeoff.at_limits(front, _limits(case, front))[:MOST_TOLD]
    found = []
    if ends:
        words = [_ending(one, len(front)) for one in ends]
        found.append(Lesson(f"Bounds of the search: {'; '.join(words)}."))
    if limits:
        words = [
            f"“{lower(label(one.name))}” ({whole(one.count)} of {whole(one.of)} keep it by "
            f"{difference(one.within, _bounded(one.name))} or less)"
            for one in limits
        ]
        found.append(Lesson(f"Limits: {'; '.join(words)}."))
    if not found and searched.bounds:
        found.append(
            Lesson(
                "No bound of the search and no limit has a quarter of the front’s designs within 1 % of it."
            )
        )
    return tuple(found)


def otherwise(known: pd.DataFrame, start: int, case: Case, searched: Searched) -> tuple[Lesson, ...]:
    """Set the best designs with other expansions, pressure levels or store beside the compromise, row ``start``."""
    own = known.iloc[start]
    beside: dict[int, list[str]] = {}
    missing = []
    for words, has, of_layout in _alternatives(known, own, searched):
        tried = has & ~known["untried"].to_numpy(bool)
        row = tradeoff.nearest(known, case.scenario.objectives, tried if tried.any() else has)
        if row is not None:
            beside.setdefault(row, []).append(words)
            continue
        count = sum(searched.tried.get(one.words, 0) for one in searched.layouts if of_layout(one))
        of = f" of {whole(count)} tried" if count else ""
        missing.append(Lesson(f"{words[:1].upper()}{words[1:]}: no feasible design is known{of}."))
    if not beside and not missing:
        return ()
    far = tradeoff.distances(known, case.scenario.objectives)
    first = Lesson(
        f"The compromise is {described(own, case)}: {figures_of(own, case)}. Beside it stand those built otherwise "
        "that are nearest to the ideal of all objectives, measured as the rule of the compromise does.",
        (str(own["name"]),),
    )
    told = [
        Lesson(
            f"{capital(listed(words))}: {compared(known, (start, row), case, (float(far[start]), float(far[row])))}",
            (str(known["name"].iloc[row]),),
        )
        for row, words in beside.items()
    ]
    return (first, *told, *missing)


def near_ties(known: pd.DataFrame, start: int, case: Case) -> tuple[Lesson, ...]:
    """Name the designs with another fluid or layout that are almost as good as the compromise, row ``start``."""
    objectives = case.scenario.objectives
    keep = ~known["untried"].to_numpy(bool)
    if keep[start]:
        start, known = int(keep[:start].sum()), known[keep].reset_index(drop=True)
    rows = tradeoff.ties(known, start, objectives, _kinds(known))
    slack = listed(
        [difference(tradeoff.TIE * abs(one.reference - one.ideal), one.figure) for one in objectives]
    )
    near = f"{tradeoff.TIE:.0%}".replace("%", " %")
    of = f"worse than the compromise by no more than {near} of each objective’s scale ({slack})"
    if not rows:
        return (Lesson(f"No design known with another fluid or layout is {of}."),)
    words = [
        f"{described(known.iloc[row], case)}: {figures_of(known.iloc[row], case)}{untried(known.iloc[row])}"
        for row in rows[:MOST_TOLD]
    ]
    more = f"; and {len(rows) - MOST_TOLD} more" if len(rows) > MOST_TOLD else ""
    names = tuple(str(known["name"].iloc[row]) for row in rows[:MOST_TOLD])
    return (Lesson(f"With another fluid or layout and {of}: {'; '.join(words)}{more}.", names),)


def _short(front: pd.DataFrame, case: Case, searched: Searched, found: Sequence[Trade]) -> str:
    """Return as many of the first words of each topic as three lines of a terminal hold; empty where there are none."""
    prices = [words for words in map(in_short, found) if words]
    alike = _same(front, searched)
    ends = _ends(front, searched)[:1]
    parts = [
        *([f"from the compromise on, {prices[0]}"] if prices else []),
        *prices[1:],
        *(_alike(one, case) for one in alike),
        *(_ending(one, len(front)) for one in ends),
    ]
    text = ""
    for part in parts:
        longer = f"{text}; {part}" if text else f"The front teaches: {part}"
        if len(longer) < SHORT:
            text = longer
    return f"{text}." if text else ""


def _same(front: pd.DataFrame, searched: Searched) -> list[tradeoff.Alike]:
    """Return what enough designs share of what was free to choose."""
    return [one for one in tradeoff.alike(_choices(front), searched.options) if one.of >= LEAST_DESIGNS]


def _ends(front: pd.DataFrame, searched: Searched) -> list[tradeoff.Leaning]:
    """Return the bounds of the search that enough designs lean on."""
    found = tradeoff.at_bounds(front, searched.variables, searched.bounds)
    return [one for one in found if one.of >= LEAST_DESIGNS]


def _choices(front: pd.DataFrame) -> pd.DataFrame:
    """Return the choices of a front, empty where they are none.

    A regenerator is one, whatever it gives; a governor is none on a stratified store, nor are pressure levels on a mixed.
    """
    with_regenerator = front["regenerator_effectiveness"].to_numpy(float) > 0.0
    stratified = front["store_mode"] == "stratified"
    return front.assign(
        regenerator_effectiveness=np.where(with_regenerator, "1", "0"),
        governing=front["governing"].where(~stratified),
        pressure_levels=front["pressure_levels"].where(stratified),
    )


def _ending(one: tradeoff.Leaning, count: int) -> str:
    at = shown(str(one.at), one.name)
    those = _those(one, count)
    if one.count < one.of:
        some = f"{whole(one.count)} of {those.removeprefix('all ')}"
    else:
        some = those if those.startswith("all") else f"all of {those}"
    return f"{some} have {lower(label(one.name))} at its {one.end}, {at}"


def _alike(one: tradeoff.Alike, case: Case) -> str:
    some = "all" if one.count == one.of else f"{whole(one.count)} of"
    where = {"governing": " with a fully mixed store", "pressure_levels": " with a stratified store"}.get(
        one.name, ""
    )
    return f"{some} {whole(one.of)} designs{where} have {_choice(one.name, one.value, case)}"


def _choice(name: str, value: str, case: Case) -> str:
    if name == "fluid":
        return f"{short_name(value, case)} as working fluid"
    words: dict[str, Mapping[Any, str]] = {
        "stages": EXPANSIONS,
        "pressure_levels": LEVELS,
        "store_mode": STORES,
        "regenerator_effectiveness": {1: "a regenerator", 0: "no regenerator"},
    }
    key: Any = value if name not in words or name == "store_mode" else int(float(value))
    return words.get(name, {}).get(key) or f"{shown(value, name)} as {lower(label(name))}"


def _limits(case: Case, front: pd.DataFrame) -> dict[str, float]:
    """Return the scenario's limits by their margins' columns: those that are numbers a design can come near."""
    limits, room = case.scenario.limits, case.scenario.room_volume_m3
    found = {
        "violation_served_share_fraction": limits.served_share_min,
        "violation_peak_pressure_bar": limits.pressure_ceiling_bar_g,
        "violation_budget_EUR": limits.budget_EUR,
        "violation_room_m3": room,
    }
    return {name: float(limit) for name, limit in found.items() if limit is not None and name in front}


def _bounded(margin: str) -> str:
    """Name a column whose unit and digits suit a margin."""
    return {"violation_served_share_fraction": "served_share"}.get(margin, margin)


def _alternatives(
    known: pd.DataFrame, own: pd.Series, searched: Searched
) -> Iterator[tuple[str, np.ndarray, Any]]:
    """Yield what could be built otherwise: its words, which designs have it, and whether a layout that was searched has."""
    mode, stages, levels = str(own["store_mode"]), int(own["stages"]), int(own["pressure_levels"])
    modes, counts, of_levels = (
        known[name].to_numpy() for name in ("store_mode", "stages", "pressure_levels")
    )
    layouts = searched.layouts
    for count, words in EXPANSIONS.items():
        if count != stages and (any(one.stages == count for one in layouts) or (counts == count).any()):
            yield words, counts == count, lambda one, count=count: one.stages == count
    for count, words in LEVELS.items():
        stratified = (modes == "stratified") & (of_levels == count)
        searched_too = any(one.store_mode == "stratified" and one.pressure_levels == count for one in layouts)
        if mode == "stratified" and count != levels and (searched_too or stratified.any()):
            yield (
                words,
                stratified,
                lambda one, count=count: one.pressure_levels == count and one.store_mode == mode,
            )
    for other, words in STORES.items():
        if other != mode and (any(one.store_mode == other for one in layouts) or (modes == other).any()):
            yield words, modes == other, lambda one, other=other: one.store_mode == other


def _kinds(known: pd.DataFrame) -> list[tuple[str, ...]]:
    """Tell designs apart by fluid and layout; on a stratified store a governor says nothing."""
    governing = known["governing"].where(known["store_mode"] == "mixed", "")
    kinds = known[["fluid", "store_mode", "stages", "pressure_levels"]].assign(governing=governing)
    return [tuple(map(str, cells)) for cells in kinds.to_numpy()]


def _designs(count: int) -> str:
    return f"{whole(count)} design{'s' * (count != 1)}"


def _those(one: tradeoff.Narrow | tradeoff.Leaning, count: int) -> str:
    """Say of how many designs something is told, and which those are, where not of all."""
    if one.of == count:
        return f"all {whole(count)}"
    return f"the {whole(one.of)} with {APPLIES[record(one.name).applies]}"
