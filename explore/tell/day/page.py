"""The page of a day: sentences, charts over the minutes, the hours as a table; one file, nothing fetched."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from explore import units
from explore.figures.format import three_digits
from explore.judgement.severity import Severity
from explore.model.day import by_hour
from explore.tell import narrator, templates
from explore.tell.day import words
from explore.tell.page import embed

if TYPE_CHECKING:
    from explore.model.day import Told

Array = NDArray[np.float64]

DIGITS = 5
"""Significant digits of a drawn number: finer than any line."""
FROM_ZERO = ("heat", "power", "share", "governor")
"""Charts whose axis shows zero: temperatures and gauge pressures have none that means anything."""


def page(
    told: Told, figures: Mapping[str, Any], fluid: str, scenario: str, cautions: list[dict[str, str]]
) -> str:
    """Return the page; all that is put in is escaped. ``cautions`` are those of the design."""
    script, plotly = embed.script("day.js"), embed.plotly_script()
    made = charts(told, figures)
    template = templates.environment(Path(__file__).parent / "templates").get_template("day.html")
    return str(
        template.render(
            policy=embed.policy(script, plotly),
            style=embed.style(),
            script=script,
            plotly=embed.packed_plotly(),
            data=embed.packed_json({"charts": made, "demand": demand(told)}),
            charts=made,
            told=told,
            words=words,
            fluid=fluid,
            scenario=scenario,
            cautions=[
                one for one in narrator.as_cautions(cautions) if narrator.severity(one) is not Severity.NOTE
            ],
            severity=narrator.severity,
            accounts=told_accounts(told),
            hours=hours(told),
        )
    )


def demand(told: Told) -> list[list[int]]:
    """Stretches of hours in which power is asked for, each its beginning and end."""
    found = []
    for asked, run in groupby(enumerate(told.asked), key=lambda pair: pair[1]):
        hours = [hour for hour, _ in run]
        if asked:
            found.append([hours[0], hours[-1] + 1])
    return found


def charts(told: Told, figures: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The charts in their order: id, title, unit, lines over the minutes, levels drawn across, a note."""
    minutes = told.minutes
    running = minutes["drawn_W"] - minutes["warm_up_W"]
    flows = [
        ("from the collectors", minutes["collected_W"]),
        ("to the engine", running),
        ("lost", minutes["lost_W"]),
    ]
    if np.any(minutes["dumped_W"] > 0.0):
        flows.append(("dumped", minutes["dumped_W"]))
    pressures = [("boiler", minutes["boiler_pressure_bar_g"])]
    if "inlet_pressure_bar_g" in minutes and told.governor in ("throttle", "free"):
        pressures.append(("behind the throttle", minutes["inlet_pressure_bar_g"]))
    pressures.append(("condenser", minutes["condenser_pressure_bar_g"]))
    standing = float(figures["standstill_pressure_bar_g"])
    found = [
        _chart("heat", "Heat in and out of the store", "kW", [(name, flow / 1e3) for name, flow in flows],
               note=_warm_up(told)),
        *_store(told),
        _chart("power", "Power at the load", "W", [("asked", minutes["asked_W"]), ("given", minutes["shaft_W"])]),
        _chart("pressure", "Pressures", "bar gauge", pressures, [("design's standing pressure", standing)],
               note="While the engine stands the boiler is drawn with the saturation pressure of the hottest water in the "
               "store, or that at which it last ran where this is more: the most it can have, for it comes to the one in "
               "time and falls from the other as it cools. Nothing is carried over from the evening before."),
    ]  # fmt: skip
    if told.governor == "cut_off":
        found.append(
            _chart(
                "governor",
                "Cut-off of the first stage",
                "% of the stroke",
                [("cut-off", 100.0 * minutes["cut_off"])],
            )
        )
    if told.governor == "speed":
        found.append(
            _chart("governor", "Speed of the engine", "rev/min", [("speed", minutes["speed_rev_per_min"])])
        )
    return found


def _warm_up(told: Told) -> str:
    taken = sum(one.warm_up_J for one in told.march.happenings)
    if not taken:
        return ""
    return (
        f"The warm-up's {words.kWh(taken)} at the first demand of the day are not in the line; they are in the sums and "
        "the table."
    )


def _store(told: Told) -> list[dict[str, Any]]:
    minutes = told.minutes
    if told.stratified:
        return [
            _chart("share", "Hot share of the store", "%", [("hot", 100.0 * minutes["hot_share"])]),
            _chart("store", "Temperature of the cold water", "°C", [("cold water", minutes["coldest_degC"])],
                   note=f"The hot water has {units.celsius(told.top_K):.0f} °C throughout."),
        ]  # fmt: skip
    levels = [
        ("full", told.top_K), ("power holds down to", told.sizing_temperature_K), ("nothing is drawn below", told.floor_K),
    ]  # fmt: skip
    return [
        _chart("store", "Temperature of the store", "°C", [("store", minutes["hottest_degC"])],
               [(name, units.celsius(T)) for name, T in levels])
    ]  # fmt: skip


def _chart(
    name: str,
    title: str,
    unit: str,
    lines: list[tuple[str, Array]],
    levels: list[tuple[str, float]] | None = None,
    note: str = "",
) -> dict[str, Any]:
    return {
        "id": name,
        "title": title,
        "unit": unit,
        "from_zero": name in FROM_ZERO,
        "lines": [{"name": line, "values": [_short(x) for x in values.tolist()]} for line, values in lines],
        "levels": [[level, round(value, 3)] for level, value in levels or ()],
        "note": note,
    }


def _short(value: float) -> float | None:
    return float(f"{value + 0.0:.{DIGITS}g}") if np.isfinite(value) else None


def told_accounts(told: Told) -> list[str]:
    """Accounts of heat that the table of hours has: dumped heat only where there is some."""
    dumped = told.march.accounts["dumped"][-1] > 0.0 or bool(np.any(told.hours.dumped > 0.0))
    return ["collected", "lost", *(["dumped"] if dumped else []), "drawn"]


def hours(told: Told) -> list[list[str]]:
    """Each hour: its clock, then heat and service by minutes and by the hours of the year, and the store at its end."""
    named = told_accounts(told)
    own = {name: by_hour(told.march, name) / units.J_PER_KWH for name in named}
    theirs = {name: getattr(told.hours, name) / units.J_PER_KWH for name in named}
    served, once = by_hour(told.march, "served"), told.hours.served
    rows = []
    for hour in range(24):
        cells = [f"{hour:02d}:00"]
        for name in named:
            cells += [_amount(own[name][hour]), _amount(theirs[name][hour])]
        cells += [_minutes(served[hour]), _minutes(once[hour])] if told.asked[hour] else ["", ""]
        end = 60 * (hour + 1)
        cells.append(
            f"{100.0 * told.march.hot_share[end]:.0f} %"
            if told.stratified
            else f"{units.celsius(told.march.hottest_K[end]):.1f} °C"
        )
        rows.append(cells)
    return rows


def _amount(value: float) -> str:
    return three_digits(value) if abs(value) >= 0.0005 else "0"


def _minutes(share: float) -> str:
    return f"{60.0 * share:.1f}"
