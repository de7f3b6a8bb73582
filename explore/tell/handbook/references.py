"""The handbook's references, as records: keys, tasks, design variables, figures and limits, read off the code."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from explore.config.doubtful import doubtful, groups
from explore.config.reference import GROUPS, keys
from explore.config.schema import Case
from explore.config.tasks import TASKS
from explore.config.tasks import keys as keys_of
from explore.design.variables import RECORDS as INPUTS
from explore.design.variables import variables
from explore.figures import catalogue, limits
from explore.figures.record import APPLIES
from explore.figures.record import GROUPS as SECTIONS
from explore.tell.reference import HEADINGS, written


@dataclass(frozen=True)
class Row:
    """One line of a table: its name as typed, and cells of words."""

    name: str
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """A table of a reference: where it stands, its title, a word before it, headings and rows."""

    place: str
    title: str
    lead: str
    headings: tuple[str, ...]
    rows: tuple[Row, ...]


def tasks() -> Table:
    """Every task: how it is called, what it does, and its keys."""
    rows = [
        Row(model.call, (" ".join(model.about), ", ".join(keys_of(name)))) for name, model in TASKS.items()
    ]
    return Table(
        "tasks", "Tasks", "What a command can be asked to do.", ("what it does", "keys"), tuple(rows)
    )


def configuration() -> list[Table]:
    """Every key of every group."""
    return [_group(name) for name in GROUPS]


def _group(name: str) -> Table:
    rows = []
    for key in keys(name):
        default = "must be given" if key.required else f"{written(key.default)} {key.unit}".strip()
        rows.append(Row(key.name, (default, key.may_be, key.about, key.source)))
    title, _, lead = HEADINGS[name].partition(": ")
    return Table(
        name, title, f"{lead[:1].upper()}{lead[1:]}.", ("default", "may be", "meaning", "source"), tuple(rows)
    )


def space(case: Case) -> Table:
    """Every design variable, with the range that a search of ``case`` gives it."""
    searched = {one.name: one for one in variables(case.scenario.site.cooling_water_temperature_degC)}
    rows = []
    for one in INPUTS:
        span = f"{searched[one.name].low:g} to {searched[one.name].high:g}" if one.name in searched else ""
        rows.append(
            Row(
                f"space.{one.name}",
                (f"{span} {one.unit}".strip(), one.about or one.label, APPLIES[one.applies]),
            )
        )
    lead = (
        "A value pins a variable, [least, most] or a list of choices narrows it. Ranges are those of the default scenario; "
        "some follow the cooling water."
    )
    return Table("space", "Design variables", lead, ("range", "meaning", "of"), tuple(rows))


def bands(case: Case) -> Table:
    """Every assumption that a study of doubt draws."""
    items = doubtful(case)
    rows = [
        Row(f"doubt.bands.{one.name}", (f"{one.low:.4g} to {one.high:.4g}", f"{one.likely:.4g}", group))
        for group in groups(items)
        for one in items
        if one.group == group
    ]
    lead = "Drawn together by task=doubt: a tenth lies below low, a tenth above high; what shares a group moves together."
    return Table("doubt", "Bands of assumptions", lead, ("low to high", "likely", "group"), tuple(rows))


def figures() -> list[Table]:
    """Every reported figure by the group it stands in on a sheet, then every limit."""
    better = {"more": "more is better", "less": "less is better", "": ""}
    records = (*catalogue.RECORDS, *catalogue.TUBE_RECORDS, *catalogue.WORDS)
    tables: list[Table] = []
    for title in SECTIONS:
        rows = [
            Row(one.name, (one.label, one.unit, better[one.better], APPLIES[one.applies]))
            for one in records
            if one.group == title
        ]
        if rows:
            place = f"figures-{len(tables) + 1}"
            tables.append(Table(place, title, "", ("meaning", "unit", "", "of"), tuple(rows)))
    return [*tables, _limits(limits.RECORDS)]


def _limits(records: Iterable[limits.Limit]) -> Table:
    rows = []
    for one in records:
        asked = "the laws of physics" if one.physical else "the scenario" if one.wish else "the machine"
        rows.append(Row(one.name, (one.label, one.unit, asked, APPLIES[one.applies])))
    lead = (
        "A margin is at or below zero where the limit is kept. A design that breaks a limit of physics has no figures; one "
        "that breaks another keeps them, and is not feasible. `scenario.limits.bounds` makes a limit of any figure."
    )
    return Table("limits", "Limits", lead, ("told as", "unit", "asked by", "of"), tuple(rows))
