"""The opening in plain words, written from the results: what was asked, what was found, what limits it."""

from __future__ import annotations

import calendar
from collections.abc import Sequence

import numpy as np

from explore.report.assumptions import Assumption, value
from explore.report.data import Run
from explore.report.figures import label, shown, three_digits, whole
from explore.report.picks import Pick
from explore.schema import Demand, Objective


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
        f"Wanted: {value(scenario.demand.shaft_power_W)} W of shaft power from stored hot water, "
        f"{hours(scenario.demand)}, {months(scenario.demand.months)}, with {wanted}, "
        f"while at least {served} % of the demand is served."
    )


def _goal(objective: Objective) -> str:
    words = label(objective.figure)
    return f"the {'most' if objective.direction == 'maximise' else 'least'} {words[:1].lower()}{words[1:]}"


def _found(run: Run, picks: Sequence[Pick]) -> str:
    tried = whole(run.summary.get("designs_evaluated", len(run.designs)))
    if not picks:
        return f"Found: nothing; none of the {tried} designs tried meets the scenario."
    fluids = len(set(run.front.text("fluid")))
    gists = {pick.role: _gist(run, run.front.row(pick.row - 1)) for pick in picks}
    ends = [f"{p.title[:1].lower()}{p.title[1:]}: {gists[p.role]}" for p in picks if p.role != "compromise"]
    return (
        f"Found: among {tried} designs {whole(len(run.front))}, with {fluids} "
        f"{'fluid' if fluids == 1 else 'fluids'}, that no other beats in everything; "
        f"the compromise is {gists['compromise']} ({'; '.join(ends)})."
    )


def _gist(run: Run, row: dict[str, str]) -> str:
    figures = dict.fromkeys(["work_per_litre_kJ", "cost_EUR", "peak_pressure_bar_g"])
    texts = [shown(row[name], name) for name in figures if row.get(name)]
    return f"{fluid_title(run, row['fluid'])} with {', '.join(texts)}"


def fluid_title(run: Run, name: str) -> str:
    """Return the builder's name of a fluid, its CoolProp name when it has no card."""
    return next((card.title for card in run.case.fluids.values() if card.name == name), name)


def _limits(run: Run) -> str:
    lost = {key: int(count) for key, count in run.summary.get("lost_to", {}).items() if count}
    if not lost:
        return f"Limits: {_pressure(run)}."
    worst = max(lost, key=lambda key: lost[key])
    tried = run.summary.get("designs_evaluated", len(run.designs))
    return (
        f"Limits: {_pressure(run)}; most designs failed by “{label(worst).lower()}” "
        f"({whole(lost[worst])} of {whole(tried)})."
    )


def how_sure(run: Run, assumptions: Sequence[Assumption]) -> str:
    """Return one sentence on how far the figures can be trusted."""
    guesses = sum(entry.assumption for entry in assumptions)
    words = (
        f"{guesses} of the {len(assumptions)} coefficients and prices behind these figures are assumptions"
    )
    gain = run.summary.get("hypervolume_last_tenth_gain")
    if isinstance(gain, int | float):
        words += f"; the last tenth of the search still brought {three_digits(100 * gain)} % of what the front dominates"
    return f"How sure: {words}."


def _pressure(run: Run) -> str:
    pressure, work = run.front.numbers("peak_pressure_bar_g"), run.front.numbers("work_per_litre_kJ")
    if not np.isfinite(pressure).any() or not np.isfinite(work).any():
        return "no design is left"
    at_most = pressure[int(np.nanargmax(work))]
    most, half = float(np.nanmax(work)), float(at_most) / 2
    under = work[pressure <= half]
    start = f"the most work, {three_digits(most)} kJ/L, needs a plant for {three_digits(float(at_most))} bar gauge"
    if not under.size:
        return f"{start}, and no design makes do with half of that"
    return f"{start}, and with half of that {three_digits(float(np.nanmax(under)))} kJ/L remain"
