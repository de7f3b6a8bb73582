"""One design printed whole, for ``task=inspect``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from explore.report.figures import NONE, label, shown
from explore.report.sections import figure_sections
from explore.terminal import paragraph, table

if TYPE_CHECKING:
    from explore.cautions import Caution
    from explore.schema import Case

Figures = Mapping[str, Any]
WEIGHT = {"stop": "STOP", "warn": "warning", "note": "note"}
APART = ("Pressures", "Money", "Margins to the limits (negative is safe)")


def air_pressure_bar(case: Case) -> float:
    """Return the air pressure of the site [bar], from the scenario's altitude or the weather file's."""
    from explore import units
    from explore.plant.site import air_pressure
    from explore.plant.sun import read_weather

    site = case.scenario.site
    altitude = read_weather(site.weather).altitude_m if site.altitude_m is None else site.altitude_m
    return air_pressure(altitude) / units.PA_PER_BAR


def design_cautions(figures: Figures, case: Case, air_bar: float) -> list[Caution]:
    """List the cautions of a design, gravest first."""
    from explore.cautions import cautions

    return cautions(
        case.card(str(figures["fluid"])),
        figures,
        case.scenario,
        air_pressure_bar_a=air_bar,
        pump_required_head_m=case.engine.pump_required_head_m,
    )


def sheet(figures: Figures, case: Case) -> str:
    """Return the text that shows one evaluated design: ``figures`` maps every public column to its value."""
    air_bar = air_pressure_bar(case)
    sections = dict(figure_sections(list(figures)))
    card = case.card(str(figures["fluid"]))
    parts = [f"{card.title} in scenario {case.scenario.name}: {case.scenario.title}", verdict(figures)]
    parts += [_section(title, names, figures) for title, names in sections.items() if title not in APART]
    parts.insert(4, pressures(sections.get("Pressures", []), figures, air_bar))
    parts += [bill(figures, case), margins(figures), _cautions(design_cautions(figures, case, air_bar))]
    return "\n\n".join(part for part in parts if part)


def verdict(figures: Figures) -> str:
    """Say whether the design is feasible, or which limits it breaks and by how much."""
    broken = [name for name in figures if name.startswith("violation_") and figures[name] > 0]
    if not broken:
        return "Feasible: it keeps every limit of the scenario."
    reasons = [f"{label(name)} by {_value(figures[name], name)}" for name in broken]
    return paragraph(f"NOT feasible, it breaks: {', '.join(reasons)}.")


def _section(title: str, names: Iterable[str], figures: Figures) -> str:
    rows = [[f"  {label(name)}", _value(figures[name], name)] for name in names]
    rows = [row for row in rows if row[1] != NONE]
    return f"{title}\n{_left(rows)}" if rows else ""


def _value(value: Any, name: str) -> str:
    return shown(str(value), name)


def _left(rows: list[list[str]]) -> str:
    wide = max(len(row[0]) for row in rows)
    return "\n".join(f"{name.ljust(wide)}  {value}" for name, value in rows)


def pressures(names: Iterable[str], figures: Figures, air_bar: float) -> str:
    """Give every pressure both absolute and above the air of the site."""
    rows = [["Pressures", "bar_a", "bar_g"]]
    for name in names:
        given = float(figures[name])
        if given == given:
            absolute = given + air_bar if name.endswith("_bar_g") else given
            rows.append([f"  {label(name)}", f"{absolute:.3f}", f"{absolute - air_bar:.3f}"])
    return table([*rows, ["  Air at the site", f"{air_bar:.3f}", "0.000"]])


def bill(figures: Figures, case: Case) -> str:
    """Show the bill line by line, its sum, and what the year costs."""
    other = ("cost_EUR", "cost_EUR_per_kWh")
    lines = [name for name in figures if name.startswith("cost_") and name not in other]
    rows = [[f"Bill, prices of {case.costs.price_year}, assumptions", "EUR"]]
    rows += [[f"  {label(name).removeprefix('Cost: ')}", f"{figures[name]:.0f}"] for name in lines]
    rows.append(["  Sum", f"{figures['cost_EUR']:.0f}"])
    rows.append(["  A year, with interest and maintenance", f"{figures['annual_cost_EUR']:.0f}"])
    each = float(figures["cost_EUR_per_kWh"])
    rows.append(["  Each kWh at the shaft", f"{each:.2f}" if each == each else NONE])
    return table(rows)


def margins(figures: Figures) -> str:
    """List how far the design is from each limit; what is above zero breaks it."""
    names = [name for name in figures if name.startswith("violation_")]
    rows = [[f"  {label(name)}", _value(figures[name], name)] for name in names]
    return f"Distance to each limit (above zero breaks it)\n{_left(rows)}" if rows else ""


def _cautions(found: Iterable[Caution]) -> str:
    lines = [paragraph(f"{WEIGHT[one.severity]}, {one.topic}: {one.text}", indent="  ") for one in found]
    return "\n".join(["Hazards and cautions", *lines])
