"""The opening in plain words, written from the results: what was asked, what was found, what limits it."""

from __future__ import annotations

import calendar
from collections.abc import Sequence
from datetime import datetime

import numpy as np

from explore.config.schema import Demand
from explore.figures.format import lower, marked, record, shown, three_digits, unit, whole
from explore.judgement.front import COMPROMISE, goal
from explore.tell.narrator import PEAK_PRESSURE, gist, losses, losses_held, refined, unheld, unsettled
from explore.tell.page.assumptions import Assumption, value
from explore.tell.page.believe import within_words
from explore.tell.page.data import Run, fluid_title, number
from explore.tell.page.picks import Pick, broken_with_tubes

HELD_WITH_TUBES = " that keeps every limit of the scenario with tubes"
"""Of what is best among recommended designs only; a limit that the reader sets is not held against tubes."""


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
        f"at least {value(100 * limits.served_share_min)} % of the demand served"
        if limits.served_share_min > 0.0
        else "no share of it asked for",
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
    if len(found) == 24:
        return "at any hour"
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
    wanted = _listed([f"the {goal(objective)}" for objective in scenario.objectives])
    served = value(100 * scenario.limits.served_share_min)
    service = (
        f"and meets at least {served} % of that demand"
        if scenario.limits.served_share_min > 0.0
        else "whenever the store has heat for it, no service asked for"
    )
    parts = (
        " It is made of parts that are there, which cost nothing and have to be looked over and tested before use."
        if scenario.owned.anything
        else ""
    )
    return (
        f"We looked for an engine that gives {value(scenario.demand.shaft_power_W)} W at the shaft from stored hot "
        f"water, {hours(scenario.demand)}, {months(scenario.demand.months)}, {service}, with {wanted}.{parts}"
    )


def _found(run: Run, picks: Sequence[Pick]) -> str:
    if not picks:
        tried = whole(run.summary.get("designs_evaluated", len(run.designs)))
        return f"We found nothing: none of the {tried} designs tried meets the scenario."
    middle = run.front.row(picks[-1].row - 1)
    test = middle.get("test_pressure_bar_g")
    proof = f", to be tested at {_tied(test, 'test_pressure_bar_g')}" if test else ""
    return (
        f"The best compromise found is {fluid_title(run, middle['fluid'])}{_size(middle)}: "
        f"{_gist(run, middle)}{proof}; {_extremes(run, picks)}. {unheld('the compromise', picks[-1].broken)}"
    ).rstrip()


def _extremes(run: Run, picks: Sequence[Pick]) -> str:
    """Say which fluids reach the ends of the front, a fluid that reaches both named once.

    Where one design is all of them its figures stand there already.
    """
    if all(one.row == picks[-1].row for one in picks):
        ends = [f"the {_end(one)}" for one in picks if one.role != COMPROMISE]
        return f"the same design gives {_listed(ends)}"
    reached: dict[str, list[str]] = {}
    for one in picks:
        row = run.front.row(one.row - 1)
        if one.role != COMPROMISE:
            words = f"the {_end(one)} ({_gist(run, row)})"
            reached.setdefault(fluid_title(run, row["fluid"]), []).append(words)
    parts = [
        f"{fluid} gives {'both ' if len(ends) == 2 else ''}{_listed(ends)}" for fluid, ends in reached.items()
    ]
    return _listed(parts)


def _end(one: Pick) -> str:
    """Name an end of the front, of the recommended designs only where the chart shows better ones that break a limit."""
    return lower(one.title) + (HELD_WITH_TUBES if one.displaced else "")


def _listed(parts: Sequence[str]) -> str:
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)


def _gist(run: Run, row: dict[str, str]) -> str:
    """Write the objectives of a design, and its pressure; a figure whose unit does not tell it apart is named."""
    figures = gist(run.case.scenario.objectives)
    units = [unit(name) for name in figures]
    return ", ".join(
        marked(_tied(row[name], name), name)
        + (f" {lower(record(name).title)}" if units.count(unit(name)) > 1 or unit(name) in ("", "%") else "")
        for name in figures
        if row.get(name)
    )


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


def _limits(run: Run) -> str:
    return f"What limits it: {_pressure(run)}{failed(run)}"


def failed(run: Run) -> str:
    """Say, as the end of a sentence, for what most designs failed; only its point where none did or no reason is known."""
    lost = losses(run.summary.get("lost_to", {}))
    if not lost:
        return "."
    _, words, count = lost[0]
    tried = int(run.summary.get("designs_evaluated", len(run.designs)))
    bad = tried - int(run.summary.get("designs_feasible", 0))
    return (
        f"; of the {whole(bad)} designs that failed, most often the reason was "
        f"“{lower(words)}” ({whole(count)} of them)."
    )


def still_going_on(run: Run) -> str:
    """Say how far a search that was still going on had come; nothing of one that has ended."""
    if run.summary.get("stop_reason") != "under way":
        return ""
    seconds = run.summary.get("seconds", 0.0)
    return (
        f"A first page, after {three_digits(seconds)} s of a search that was then still going on: better designs are to "
        "be expected, and so are other fluids. It is renewed in place; the last one has all sheets and checks."
    )


def how_sure(run: Run, assumptions: Sequence[Assumption]) -> str:
    """Return one sentence on how far the figures can be trusted."""
    guesses = sum(entry.assumption for entry in assumptions)
    tried, kept = int(run.summary.get("designs_evaluated", len(run.designs))), len(run.front)
    fluids = len(set(run.front.text("fluid")))
    repriced, going_on = (run.summary.get("stop_reason") == reason for reason in ("repriced", "under way"))
    words = [
        f"of {whole(tried)} designs {'of an earlier search, judged again' if repriced else 'tried'}, "
        f"{whole(kept)} with {fluids} {'fluid' if fluids == 1 else 'fluids'} are left that no other beats in "
        f"every objective{_breaking(run)}",
    ]
    gain = run.summary.get("hypervolume_last_tenth_gain")
    if repriced:
        words.append("nothing was searched anew, so better designs may exist under the changed values")
    elif going_on:
        words.insert(0, "the search is still going on, and nothing of this has been refined or checked yet")
    elif isinstance(gain, int | float):
        words.append(f"the last tenth of the search enlarged what they dominate by {100 * gain:.2g} %")
    refinement = run.summary.get("refinement", {})
    gains, picks_gain = refinement.get("gains", []), refinement.get("picks_gain")
    if gains and not repriced:
        words.insert(0 if unsettled(gains) else len(words), refined(gains, picks_gain).replace("%", " %"))
    if run.checks:
        words.append(within_words(run))
    words.append(
        f"but {guesses} of the {len(assumptions)} coefficients and prices behind the figures are assumptions"
    )
    words.append(losses_held(run.case.engine))
    return f"How sure: {'; '.join(words)}."


def _breaking(run: Run) -> str:
    """Say how many designs of the front break a limit once their exchangers are tubes; nothing where none does."""
    count = sum(place <= len(run.front) for place in broken_with_tubes(run))
    if not count:
        return ""
    return f" ({whole(count)} of them {'breaks' if count == 1 else 'break'} a limit once exchangers are made of tubes)"


def _pressure(run: Run) -> str:
    """Say what the first objective costs in pressure, and what half that pressure leaves of it.

    Of a plant below the pressure of the air there is no half. Designs that break a limit with tubes count where there are
    no others, as among the recommended ones.
    """
    first = next((o for o in run.case.scenario.objectives if o.figure != PEAK_PRESSURE), None)
    if first is None:
        return "the pressure is all that was asked about"
    broken = broken_with_tubes(run)
    able = [row for row in range(len(run.front)) if row + 1 not in broken]
    front = run.front.take(able) if able else run.front
    every = run.front.numbers(first.figure)[np.isfinite(run.front.numbers(PEAK_PRESSURE))]
    pressure, reached = front.numbers(PEAK_PRESSURE), front.numbers(first.figure)
    if not np.isfinite(pressure).any() or not np.isfinite(reached).any():
        return "no design is left"
    sign = -1.0 if first.direction == "maximise" else 1.0
    best = int(np.nanargmin(sign * reached))
    at_most, words = float(pressure[best]), lower(record(first.figure).title.split(" per ")[0])
    under = sign * reached[pressure <= at_most / 2]
    end = "most" if sign < 0 else "least"
    held = HELD_WITH_TUBES if np.nanmin(sign * every) < sign * reached[best] else ""

    def told(value: float) -> str:
        return marked(shown(str(float(value)), first.figure), first.figure)

    needed, none = (shown(str(bar), PEAK_PRESSURE) for bar in (at_most, 0.0))
    if at_most < 0.0 or needed == none:  # half of it would be more
        return f"the {end} {words}{held}, {told(reached[best])}, asks for no pressure above that of the air"
    start = f"the {end} {words}{held}, {told(reached[best])}, needs a plant for {needed}"
    beyond = sign * run.front.numbers(first.figure)[run.front.numbers(PEAK_PRESSURE) <= at_most / 2]
    if not under.size:
        those = HELD_WITH_TUBES if np.isfinite(beyond).any() else ""
        return f"{start}, and no design{those} makes do with half that pressure"
    kept = (
        ", with every limit of the scenario kept with tubes"
        if not held and np.nanmin(beyond) < np.nanmin(under)
        else ""
    )
    return f"{start}, while half that pressure still allows {told(sign * np.nanmin(under))}{kept}"
