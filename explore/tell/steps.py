"""What one step along a front costs, in words: from the compromise on, all other objectives no worse than there."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from explore.config.schema import Case, Objective
from explore.figures.format import marked, shown, three_digits, unit
from explore.figures.readings import plain
from explore.judgement import tradeoff
from explore.judgement.tradeoff import Exchange, Trade
from explore.tell.beside import Lesson, capital, changes, difference, listed, named, valued

if TYPE_CHECKING:
    import pandas as pd

SUNLESS = "bridged_hours"
"""Told of every scenario, whether it is an objective or not: what a builder asks first after work, cost and pressure."""


def trades(able: pd.DataFrame, start: int, objectives: Sequence[Objective]) -> list[Trade]:
    """Find what one step costs from row ``start``: of each objective but the currency, and of sunless hours."""
    currency = _currency(objectives)
    if currency is None:
        return []
    figures = [
        (one.figure, 1 if one.direction == "maximise" else -1) for one in objectives if one is not currency
    ]
    if SUNLESS not in (plain(one.figure) for one in objectives) and SUNLESS in able:
        figures.append((SUNLESS, 1))
    return [
        tradeoff.trade(
            able,
            start,
            objectives,
            figure,
            currency,
            tradeoff.step_of(able[figure[0]], _unit_step(figure[0])),
        )
        for figure in figures
        if np.isfinite(float(able[figure[0]].iloc[start]))
    ]


def steps(able: pd.DataFrame, start: int, case: Case, found: Sequence[Trade]) -> tuple[Lesson, ...]:
    """Say what one step along the front costs from the compromise on, and what one back saves."""
    if len(able) < 2:
        return (Lesson("One design is left to recommend: there is no trade-off to read off."),)
    told, objectives = [], case.scenario.objectives
    for one in found:
        held = [o.figure for o in objectives if o.figure not in (one.figure, one.currency)]
        at = f" at no worse {listed([named(name) for name in held])}" if held else ""
        # Without its range a front of one value of a figure has no step along it.
        if float(np.ptp(able[one.figure].to_numpy(float))) == 0.0:
            continue
        told.append(_step(able, one, at, _elsewhere(able, start, one, case)))
    return tuple(told)


def _step(able: pd.DataFrame, one: Trade, at: str, elsewhere: str) -> Lesson:
    """Say what a step of one figure costs, what one back saves, and so what its unit costs hereabouts."""
    better, back = one.better, one.back
    step, title_of = difference(one.step, one.figure), capital(named(one.figure))
    way, other_way = ("more", "less") if one.sign > 0 else ("less", "more")
    if better is None:
        first = f"no design of the front has {step} {way}{at}{elsewhere}"
    else:
        first = f"at least {step} {way}{at} {price(better, one)} ({_at(able, better, one)})"
    second = (
        ""
        if back is None
        else f"; up to {step} {other_way} {_saving(back, one)} at most ({_at(able, back, one)})"
    )
    rows = [better.row if better is not None else one.elsewhere, back.row if back is not None else None]
    names = tuple(str(able["name"].iloc[row]) for row in rows if row is not None)
    return Lesson(f"{title_of}: {first}{second}.{_rates(one)}", names)


def _elsewhere(able: pd.DataFrame, start: int, one: Trade, case: Case) -> str:
    """Name the design nearest to the ideal that has the step but worse other objectives."""
    if one.elsewhere is None:
        return ""
    row = able.iloc[one.elsewhere]
    changed = changes(able.iloc[start], row, case, by_lines=False)
    return f"; of those that have it the nearest to the ideal is design {row['name']}: {changed}"


def _at(able: pd.DataFrame, one: Exchange, of: Trade) -> str:
    row = able.iloc[one.row]
    reached = marked(shown(str(row[of.figure]), of.figure), of.figure)
    return f"design {row['name']}: {reached}, {valued(row[of.currency], of.currency)}"


def _rates(one: Trade) -> str:
    """Say what a unit costs from one design to the other, on both sides of the compromise where there are two."""
    rates = sorted(x.rate for x in (one.better, one.back) if x is not None)
    if not rates:
        return ""
    per = 0.01 if unit(one.figure) == "%" else 1.0
    texts = list(dict.fromkeys(three_digits(per * rate) for rate in rates))
    ending = " ".join(difference(1.0, one.currency).split(" ")[1:])
    what = " ".join(difference(per, one.figure).split(" ")[1:]) or "unit"
    what = what.removesuffix("s") if what == "percentage points" else what
    span = marked(" to ".join(texts), one.currency)
    return f" From design to design that is {span} {ending} per {what}.".replace("  ", " ")


def in_short(one: Trade) -> str:
    """Say what the step to the better costs, by as much as it really is; nothing where there is none."""
    if one.better is None:
        return ""
    way = "more" if one.sign > 0 else "less"
    return f"{difference(one.better.change, one.figure)} {way} {named(one.figure)} {price(one.better, one)}"


def price(one: Exchange, of: Trade) -> str:
    """Say what an exchange costs."""
    text = difference(one.price, of.currency)
    return (
        f"costs {marked(text, of.currency)} more"
        if unit(of.currency) == "EUR"
        else f"costs {text} of {named(of.currency)}"
    )


def _saving(one: Exchange, of: Trade) -> str:
    text = difference(-one.price, of.currency)
    return (
        f"saves {marked(text, of.currency)}"
        if unit(of.currency) == "EUR"
        else f"saves {text} of {named(of.currency)}"
    )


def _currency(objectives: Sequence[Objective]) -> Objective | None:
    """Return the objective in which steps of the others are paid: money where it is one, else what is to be least."""
    if len(objectives) < 2:
        return None
    money = [one for one in objectives if unit(one.figure).startswith("EUR")]
    least = [one for one in objectives if one.direction == "minimise"]
    return (money or least or [objectives[-1]])[0]


def _unit_step(figure: str) -> float:
    """One of the unit in which a figure is shown."""
    return 0.01 if unit(figure) == "%" else 1.0
