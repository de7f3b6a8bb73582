"""The opening in plain words, written from the results: what was asked, what was found, what limits it."""

from __future__ import annotations

import calendar
from collections.abc import Sequence
from datetime import datetime

import numpy as np

from explore.config.schema import Demand, Objective
from explore.figures.labels import label, shown, three_digits, whole
from explore.tell.page.assumptions import Assumption, value
from explore.tell.page.believe import is_binding
from explore.tell.page.data import Run, number
from explore.tell.page.picks import Pick


def scenario_line(run: Run) -> str:
    """Return the scenario in one line: power, hours, months, water, limits."""
    scenario = run.case.scenario
    limits, site, demand = scenario.limits, scenario.site, scenario.demand
    parts = [
        f"{value(demand.shaft_power_W)} W of shaft power",
        hours(demand),
        months(demand.months),
        f"cooling water {value(site.cooling_water_temperature_degC)} °C",
        f"at most {value(limits.pressure_ceiling_bar_g)} bar gauge",
        f"budget {value(limits.budget_EUR)} EUR" if limits.budget_EUR else "no budget limit",
        f"at least {value(100 * limits.served_share_min)} % of the demand served",
    ]
    if limits.safety_classes:
        parts.append(f"fluid classes {', '.join(limits.safety_classes)} only")
    return " · ".join(parts)


def when(run: Run) -> str:
    """Return the day and time of the run in words, as written where it is no time; empty without one."""
    stated = str(run.summary.get("created_utc", ""))
    try:
        time = datetime.strptime(stated, "%Y-%m-%dT%H:%M:%SZ")
    except ValueError:
        return stated
    return f"{time.day} {calendar.month_name[time.month]} {time.year}, {time:%H:%M} UTC"


def hours(demand: Demand) -> str:
    """Write the clock hours as a span where they follow one another, else as a list."""
    found = sorted(set(demand.hours))
    if len(found) > 1 and found[-1] - found[0] == len(found) - 1:
        return f"{found[0]} to {found[-1] + 1} o’clock"
    return f"at {', '.join(str(hour) for hour in found)} o’clock"


def months(numbers: Sequence[int]) -> str:
    """Write the months as a span where they follow one another, else as a list."""
    found = sorted(set(numbers))
    if len(found) == 12:
        return "all year"
    if len(found) > 1 and found[-1] - found[0] == len(found) - 1:
        return f"{calendar.month_name[found[0]]} to {calendar.month_name[found[-1]]}"
    return ", ".join(calendar.month_name[month] for month in found)


def opening(run: Run, picks: Sequence[Pick]) -> list[str]:
    """Return the three sentences that open the page: what was asked, what was found, what limits it."""
    return [_asked(run), _found(run, picks), _limits(run)]


def _asked(run: Run) -> str:
    scenario = run.case.scenario
    goals = [_goal(objective) for objective in scenario.objectives]
    wanted = ", ".join(goals[:-1]) + f" and {goals[-1]}"
    served = value(100 * scenario.limits.served_share_min)
    return (
        f"We looked for an engine that gives {value(scenario.demand.shaft_power_W)} W at the shaft from stored hot "
        f"water, {hours(scenario.demand)}, {months(scenario.demand.months)}, and meets at least {served} % of that "
        f"demand, with {wanted}."
    )


def _goal(objective: Objective) -> str:
    words = label(objective.figure)
    return f"the {'most' if objective.direction == 'maximise' else 'least'} {words[:1].lower()}{words[1:]}"


def _found(run: Run, picks: Sequence[Pick]) -> str:
    if not picks:
        tried = whole(run.summary.get("designs_evaluated", len(run.designs)))
        return f"We found nothing: none of the {tried} designs tried meets the scenario."
    rows = {one.role: run.front.row(one.row - 1) for one in picks}
    middle = rows["compromise"]
    test = middle.get("test_pressure_bar_g")
    proof = f", to be tested at {_tied(test, 'test_pressure_bar_g')}" if test else ""
    return (
        f"The best compromise found is {fluid_title(run, middle['fluid'])}{_size(middle)}: "
        f"{_gist(middle)}{proof}; {_extremes(run, picks)}."
    )


def _extremes(run: Run, picks: Sequence[Pick]) -> str:
    """Say which fluids reach the ends of the front, a fluid that reaches both named once."""
    reached: dict[str, list[str]] = {}
    for one in picks:
        row = run.front.row(one.row - 1)
        if one.role != "compromise":
            words = f"the {one.title[:1].lower()}{one.title[1:]} ({_gist(row)})"
            reached.setdefault(fluid_title(run, row["fluid"]), []).append(words)
    parts = [
        f"{fluid} gives {'both ' if len(ends) > 1 else ''}{' and '.join(ends)}"
        for fluid, ends in reached.items()
    ]
    return " and ".join(parts)


def _gist(row: dict[str, str]) -> str:
    figures = ("work_per_litre_kJ", "cost_EUR", "peak_pressure_bar_g")
    return ", ".join(_tied(row[name], name) for name in figures if row.get(name))


def _size(row: dict[str, str]) -> str:
    swept = sum(number(row.get(f"swept_volume_{j}_L") or "0") for j in (1, 2, 3))
    parts = {
        "store_volume_L": ("a store of {}", row.get("store_volume_L")),
        "collector_area_m2": ("{} of collectors", row.get("collector_area_m2")),
        "swept_volume_1_L": ("cylinders of {}" if row.get("swept_volume_2_L") else "a cylinder of {}", str(swept)),
    }  # fmt: skip
    found = [
        words.format(_tied(cell, name)) for name, (words, cell) in parts.items() if cell and row.get(name)
    ]
    return f" with {', '.join(found[:-1])} and {found[-1]}" if len(found) > 1 else ""


def _tied(cell: str, name: str) -> str:
    """Write a cell with its unit so that no line ends between the two."""
    return shown(cell, name).replace(" ", "\u00a0")


def fluid_title(run: Run, name: str) -> str:
    """Return the builder's name of a fluid, its CoolProp name when it has no card."""
    return next((card.title for card in run.case.fluids.values() if card.name == name), name)


def _limits(run: Run) -> str:
    lost = {key: int(count) for key, count in run.summary.get("lost_to", {}).items() if count}
    if not lost:
        return f"What limits it: {_pressure(run)}."
    worst = max(lost, key=lambda key: lost[key])
    tried = int(run.summary.get("designs_evaluated", len(run.designs)))
    failed = tried - int(run.summary.get("designs_feasible", 0))
    return (
        f"What limits it: {_pressure(run)}; of the {whole(failed)} designs that failed, most often the reason was "
        f"“{label(worst).lower()}” ({whole(lost[worst])} of them)."
    )


def how_sure(run: Run, assumptions: Sequence[Assumption]) -> str:
    """Return one sentence on how far the figures can be trusted."""
    guesses = sum(entry.assumption for entry in assumptions)
    tried, kept = int(run.summary.get("designs_evaluated", len(run.designs))), len(run.front)
    fluids = len(set(run.front.text("fluid")))
    repriced = run.summary.get("stop_reason") == "repriced"
    words = [
        f"of {whole(tried)} designs {'of an earlier search, judged again' if repriced else 'tried'}, "
        f"{whole(kept)} with {fluids} {'fluid' if fluids == 1 else 'fluids'} are left that no other beats in "
        "every objective",
    ]
    gain = run.summary.get("hypervolume_last_tenth_gain")
    if repriced:
        words.append("nothing was searched anew, so better designs may exist under the changed values")
    elif isinstance(gain, int | float):
        words.append(f"the last tenth of the search enlarged what they dominate by {100 * gain:.2g} %")
    if run.checks:
        checks = [row for row in run.checks if is_binding(row)]
        within = sum(bool(row.get("within")) for row in checks)
        words.append(f"{within} of {len(checks)} outside checks of the model lie within their tolerance")
    words.append(
        f"but {guesses} of the {len(assumptions)} coefficients and prices behind the figures are assumptions"
    )
    return f"How sure: {'; '.join(words)}."


def _pressure(run: Run) -> str:
    pressure, work = run.front.numbers("peak_pressure_bar_g"), run.front.numbers("work_per_litre_kJ")
    if not np.isfinite(pressure).any() or not np.isfinite(work).any():
        return "no design is left"
    at_most = pressure[int(np.nanargmax(work))]
    most, half = float(np.nanmax(work)), float(at_most) / 2
    under = work[pressure <= half]
    start = f"the most work, {three_digits(most)} kJ/L, needs a plant for {three_digits(float(at_most))} bar gauge"
    if not under.size:
        return f"{start}, and no design makes do with half that pressure"
    return f"{start}, while half that pressure still allows {three_digits(float(np.nanmax(under)))} kJ/L"
