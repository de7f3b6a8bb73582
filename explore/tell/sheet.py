"""One design printed whole, for ``task=inspect``."""

from __future__ import annotations

import calendar
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from explore.figures.catalogue import BILL
from explore.figures.format import NONE, label, says_nothing, sections, shown, unit
from explore.figures.record import ABSOLUTE, CHOICE, GAUGE, MARGINS, MONEY, PRESSURES
from explore.tell import narrator
from explore.tell.terminal import paragraph, table
from explore.units import fixed

if TYPE_CHECKING:
    from explore.config.schema import Case, FluidCard

Figures = Mapping[str, Any]
APART = (CHOICE, PRESSURES, MONEY, MARGINS)
CAPACITY = "relief_capacity_kg_per_s"
IN_ORDER = (
    ("standstill_pressure", "Full store, engine standing"),
    ("standstill_pressure_worst", "Full store, worst bottle"),
    ("fault_pressure", "Store boiling, the fault"),
    ("design_pressure", "Design pressure of vessels"),
    ("relief_setting", "Relief valve opens at the latest"),
    ("test_pressure", "Test with water"),
)
"""The pressures a vessel is judged by, each from the one before it."""


def sheet(figures: Figures, details: Mapping[str, Any], case: Case, air_bar: float) -> str:
    """Return the text that shows one evaluated design.

    ``figures`` maps every public column to its value, ``details`` comes from
    :func:`explore.model.details.details`, ``air_bar`` is the air pressure of the site [bar].
    """
    grouped = dict(sections(list(figures)))
    card = case.card(str(figures["fluid"]))
    parts = [
        f"{card.title} in scenario {case.scenario.name}: {case.scenario.title}",
        verdict(figures, details["cautions"]),
        _section(CHOICE, grouped.get(CHOICE, []), figures),
        *(_section(title, names, figures) for title, names in grouped.items() if title not in APART),
        pressures(grouped.get(PRESSURES, []), figures, air_bar),
        states(details["states"], air_bar),
        months(details["served"], details["months"], case),
        sunlight(details["sunlight"]),
        bill(figures, case),
        margins(figures),
        with_tubes(details.get("with_tubes", {})),
        hazards(details["hazards"], card),
        _cautions(details["cautions"]),
    ]
    return "\n\n".join(part for part in parts if part)


def verdict(figures: Figures, cautions: Iterable[Mapping[str, str]] = ()) -> str:
    """Say whether the design is feasible, or which limits it breaks and by how much, and what forbids building it."""
    broken = [name for name in figures if name.startswith("violation_") and figures[name] > 0]
    reasons = [f"{label(name)} by {_value(figures[name], name)}" for name in broken]
    keeps = "Feasible: it keeps every limit of the scenario."
    words = [
        f"NOT feasible, it breaks: {', '.join(reasons)}." if broken else keeps,
        narrator.forbidden(cautions),
    ]
    return paragraph(" ".join(words).rstrip())


def _section(title: str, names: Iterable[str], figures: Figures) -> str:
    mode = str(figures["store_mode"])
    names = [name for name in names if not says_nothing(str(figures[name]), name, mode)]
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
    rows = [["Pressures", ABSOLUTE, GAUGE]]
    for name in (one for one in names if unit(one) in (ABSOLUTE, GAUGE)):
        given = float(figures[name])
        if given == given:
            absolute = given + air_bar if unit(name) == GAUGE else given
            rows.append([f"  {label(name)}", f"{absolute:.3f}", fixed(absolute - air_bar, 3)])
    return table([*rows, ["  Air at the site", f"{air_bar:.3f}", "0.000"]], whole=True)


def bill(figures: Figures, case: Case) -> str:
    """Show the bill line by line, its sum, and what the year costs."""
    if float(figures["cost_EUR"]) != float(figures["cost_EUR"]):
        return ""  # a design that cannot be has no bill
    rows = [[f"Bill, prices of {case.costs.price_year}, assumptions", "EUR"]]
    rows += [[f"  {line}", f"{figures[name]:.0f}"] for name, line in BILL.items() if name in figures]
    rows.append(["  Sum", f"{figures['cost_EUR']:.0f}"])
    rows.append(["  A year, with interest and maintenance", f"{figures['annual_cost_EUR']:.0f}"])
    each = float(figures["cost_EUR_per_kWh"])
    rows.append(["  Each kWh at the shaft", f"{each:.2f}" if each == each else NONE])
    return table(rows)


def margins(figures: Figures) -> str:
    """List how far the design is from each limit; what is above zero breaks it."""
    names = [name for name in figures if name.startswith("violation_")]
    mode = str(figures["store_mode"])
    names = [name for name in names if not says_nothing(str(figures[name]), name, mode)]
    rows = [[f"  {label(name)}", _value(figures[name], name)] for name in names]
    return f"Distance to each limit (above zero breaks it)\n{_left(rows)}" if rows else ""


def with_tubes(found: Mapping[str, Any]) -> str:
    """Show side by side what coefficients promise and tubes give; nothing where tubes were not tried."""
    if not found:
        return ""
    rows = [["The same design with exchangers made of tubes", "by coefficients", "with tubes"]]
    for name, (plain, tubed) in found["compared"].items():
        rows.append([f"  {label(name)}", _value(plain, name), _value(tubed, name)])
    rows += [[f"  {label(name)}", "", _value(value, name)] for name, value in found["tubes"].items()]
    broken = [f"{label(name)} by {_value(amount, name)}" for name, amount in found["broken"].items()]
    told = (
        f"With tubes it breaks: {', '.join(broken)}."
        if broken
        else "With tubes it keeps every limit it keeps without."
    )
    return f"{table(rows, whole=True)}\n{paragraph(told)}"


def states(points: Sequence[Mapping[str, Any]], air_bar: float) -> str:
    """List the state points of the rated cycle in flow order."""
    rows = [["State points, rated", "°C", "bar abs.", "bar gauge", "kJ/kg", "kJ/(kg K)", "quality"]]
    for point in points:
        pressure, quality = point["p_bar_a"], point["quality"]
        cells = [f"{point['T_degC']:.2f}", f"{pressure:.3f}", fixed(pressure - air_bar, 3)]
        cells += [f"{point['h_kJ_per_kg']:.2f}", f"{point['s_kJ_per_kgK']:.4f}"]
        rows.append([f"  {point['name']}", *cells, "" if quality is None else f"{quality:.3f}"])
    return table(rows, whole=True)


def months(served: Any, energy: Mapping[str, Any], case: Case) -> str:
    """Show month by month what the sun brings, and the share served in each hour asked for."""
    hours = case.scenario.demand.hours
    rows = [["Month", "sun into the store", "shaft", *(f"{hour} h" for hour in hours)]]
    for month, name in enumerate(calendar.month_abbr[1:]):
        heat, shaft = energy["collector_yield_kWh"][month], energy["shaft_energy_kWh"][month]
        shares = [float(served[month][hour]) for hour in hours]
        cells = ["" if share != share else f"{share:.0%}" for share in shares]
        rows.append([f"  {name}", f"{heat:.0f} kWh", f"{shaft:.1f} kWh", *cells])
    return table(rows, whole=True)


def sunlight(account: Mapping[str, Any]) -> str:
    """Show what becomes of the exergy of the sunlight that heats one litre."""
    total = account["sunlight_kJ_per_L"]
    lines = [("shaft, net", account["work_kJ_per_L"])]
    lines += [(one["component"], one["destroyed_kJ_per_L"]) for one in account["destroyed"]]
    lines += [("leaves with the cooling water", account["rejected_kJ_per_L"]), ("sum: sunlight", total)]
    rows = [["Where the work of the sun goes, a litre of hot water", "kJ/L", "share"]]
    rows += [[f"  {name}", f"{work:.3f}", f"{work / total:.2%}"] for name, work in lines]
    return table(rows, whole=True)


def _gauge(value: float) -> str:
    return f"{fixed(value, 2)} bar gauge" if value == value else NONE


def hazards(found: Mapping[str, Any], card: FluidCard) -> str:
    """Give safety class, limits, the four pressures in order and the least walls."""
    limit = NONE if card.lfl_percent is None else f"{card.lfl_percent:g} % in air"
    gwp = NONE if card.gwp100 is None else f"{card.gwp100:g} ({card.gwp_source})"
    rows = [
        ["  Safety class", f"{card.safety_class} ({card.safety_source})"],
        ["  Lower flammability limit", limit],
        ["  Global warming potential, 100 a", gwp],
        *(
            [f"  {title}", _gauge(found[f"{name}_bar_g"])]
            for name, title in IN_ORDER
            if f"{name}_bar_g" in found
        ),
        [f"  {label(CAPACITY)}", _value(found[CAPACITY], CAPACITY)],
    ]
    rows += [
        [f"  Wall of {one['part']}, {one['material']}", f"{one['wall_mm']:.1f} mm"] for one in found["walls"]
    ]
    return f"Safety figures\n{_left(rows)}"


def transport(sources: Mapping[str, str]) -> str:
    """List where the transport properties of the fluid come from; nothing if none are used."""
    rows = [[f"  {title}", words] for title, words in sources.items()]
    return f"\nTransport properties, where they come from\n{_left(rows)}\n" if rows else ""


def _cautions(found: Iterable[Mapping[str, str]]) -> str:
    lines = [
        paragraph(f"{narrator.severity(one).word}, {one['topic']}: {one['text']}", indent="  ")
        for one in found
    ]
    return "\n".join(["Hazards and cautions", *lines])
