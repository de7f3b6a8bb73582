"""What a day of one design was like, in sentences and small tables that terminal and page share."""

from __future__ import annotations

import calendar
import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from explore import units
from explore.figures.format import three_digits
from explore.model.day import agreement, by_hour
from explore.year.flowing import FULL, RUNNING, Mode

if TYPE_CHECKING:
    from explore.model.day import Told
    from explore.year.day import Happening

NOTHING_J = 1e3
"""Less heat than this in a day is none: a hundred-thousandth of what a store holds."""
DECIDES = (
    "A page approves nothing: what may be built and run, local codes for pressure equipment and people licensed to "
    "practise under them decide."
)
GOVERNORS = {
    "throttle": "the throttle is wide open",
    "cut_off": "the cut-off is at its longest",
    "speed": "the speed is at its greatest",
    "free": "the engine gives just what is asked",
}
"""How it stands with each governor where it no longer holds the power."""
ACCOUNTS = {
    "collected": "heat from the collectors",
    "lost": "standing loss",
    "dumped": "dumped, the store being full",
    "drawn": "heat drawn by the engine",
    "served": "service",
}
"""What is compared with the hours of the year."""


class Line(NamedTuple):
    """Something that happens at a clock time."""

    when: str
    what: str


def clock(second: float) -> str:
    """Write seconds of the day as a clock time, 24:00 at its end.

    >>> clock(0.0), clock(65_999.0), clock(86_400.0)
    ('00:00', '18:20', '24:00')
    """
    minute = round(second / units.SECONDS_PER_MINUTE)
    return f"{minute // 60:02d}:{minute % 60:02d}"


def day_name(told: Told) -> str:
    """Write the day and month."""
    return f"{told.date.day} {calendar.month_name[told.date.month]}"


def kWh(joule: float) -> str:
    """Write heat or work."""
    value = joule / units.J_PER_KWH
    return f"{three_digits(value)} kWh" if abs(value) >= 0.0005 else "0 kWh"


def happened(told: Told) -> list[Line]:
    """What happens in the day, in order."""
    lines = [(0.0, f"Midnight: {_state(told, 0)}."), *_sun(told), *_governing(told)]
    for one in told.march.happenings:
        if words := _words(told, one):
            lines.append((one.second, words))
    lines.append((86_400.0, f"Midnight again: {_state(told, -1)}; {_pressure(told, 86_399.0)}."))
    lines.sort(key=lambda line: line[0])
    return [Line(clock(second), words) for second, words in lines]


def _sun(told: Told) -> list[tuple[float, str]]:
    """When the collectors begin and end to bring heat."""
    works = np.flatnonzero(told.minutes["collected_W"] > 0.0)
    if not len(works):
        return [(43_200.0, "Noon: the collectors bring nothing on this day.")]
    return [
        (60.0 * works[0], "The collectors begin to bring heat."),
        (60.0 * (works[-1] + 1), "The collectors bring no more heat."),
    ]


def _governing(told: Told) -> list[tuple[float, str]]:
    """Until when the governor of an engine on a fully mixed store holds the power."""
    runs = np.flatnonzero(told.serving)
    if told.stratified or not len(runs):
        return []
    size = units.celsius(told.sizing_temperature_K)
    weak = runs[told.minutes["hottest_degC"][runs] < size]
    if not len(weak):
        return []
    if weak[0] == runs[0]:
        return [
            (60.0 * weak[0] + 0.5, f"The store is below {size:.0f} °C: the engine gives less than is asked.")
        ]
    governor = GOVERNORS[told.governor]
    return [
        (
            60.0 * weak[0],
            f"At {size:.0f} °C {governor}; from here the power fades as the store cools.",
        )
    ]


def _words(told: Told, one: Happening) -> str:
    """Say what a change of mode means; nothing where it means nothing to a reader."""
    before, after = one.before, one.after
    if one.warm_up_J:
        takes = (
            f", about {told.warm_up_minutes:.0f} min at the engine's own heat flow"
            if told.warm_up_minutes >= 1
            else ""
        )
        return f"Power is asked for. The warm-up takes {kWh(one.warm_up_J)} from the store{takes}: begin so much earlier."
    if before is after:
        return "Power is asked for."
    if after is Mode.SHORT:
        if before is Mode.COLD:
            return "The sun has warmed the store enough: the engine gets what comes in, and no more."
        if before not in RUNNING:
            return "The store is empty: the engine gets no more than the sun brings."
        return "The store is empty: the engine stops, and gets no more than the sun still brings."
    if after is Mode.COLD:
        return f"At {_hottest(told, one.second):.0f} °C the store is too cold for the engine."
    standing = (Mode.REST, Mode.FULL)
    if before in standing and after not in standing:
        runs = told.serving[_minute(one.second + 90.0)]
        return f"The engine runs; {_pressure(told, one.second + 90.0)}." if runs else "The engine runs."
    if before not in standing and after in standing:
        done = "The engine stops" if before in RUNNING else "No more power is asked for"
        if _asked(told, one.second):
            done = "The day's sum is delivered: the engine stops"
        return f"{done}; {_pressure(told, one.second + 90.0)}, engine and condenser shut off from it."
    if after in FULL:
        return "The store is full: heat is dumped from here."
    if before in FULL:
        return "The store takes all heat again."
    return "The engine has all the heat that it takes." if after is Mode.RUN else ""


def _asked(told: Told, second: float) -> bool:
    return second < 86_400.0 and told.asked[int(second // units.SECONDS_PER_HOUR)]


def _hottest(told: Told, second: float) -> float:
    return float(told.minutes["hottest_degC"][_minute(second)])


def _minute(second: float) -> int:
    return min(int(second // units.SECONDS_PER_MINUTE), 1439)


def _pressure(told: Told, second: float) -> str:
    """The boiler's pressure: of one that stands the most that it can have."""
    if told.serving[_minute(second)]:
        return f"the boiler has {bar(_boiler(told, second))}"
    return f"the boiler stands at no more than {bar(_boiler(told, second))}"


def _boiler(told: Told, second: float) -> float:
    return float(told.minutes["boiler_pressure_bar_g"][_minute(second)])


def bar(value: float) -> str:
    """Write a gauge pressure."""
    return f"{units.fixed(value, 2)} bar gauge"


def _state(told: Told, place: int) -> str:
    """How the store stands."""
    hot, T = float(told.march.hot_share[place]), units.celsius(float(told.march.coldest_K[place]))
    if told.stratified:
        return f"{100.0 * hot:.0f} % of the store is hot, the rest has {T:.0f} °C"
    return f"the store has {T:.0f} °C"


def sums(told: Told) -> list[tuple[str, ...]]:
    """Account, by minutes, by hours, the day's difference, the greatest in an hour over that account's greatest hour."""
    rows = []
    for name, found in agreement(told).items():
        own, theirs = float(np.sum(by_hour(told.march, name))), float(np.sum(getattr(told.hours, name)))
        if name != "served" and max(own, theirs) < NOTHING_J:
            continue
        written = [f"{x:.2f} h" if name == "served" else kWh(x) for x in (own, theirs)]
        rows.append(
            (ACCOUNTS[name], *written, f"{100.0 * found.day:+.2f} %", f"{100.0 * found.own_hour:.2f} %")
        )
    return rows


def compared(told: Told) -> str:
    """Say how far the minutes and the year's hours agree, and why the standing loss does so less."""
    found = agreement(told)
    heat = max(one.hour for name, one in found.items() if name != "served")
    parts = [f"in heat within {_percent(heat)} % of the day's greatest hour"]
    if any(told.asked):
        parts.append(
            f"in service within {_percent(found['served'].hour)} % of an hour of the power asked for"
        )
    return (
        f"Hour by hour this agrees with the year's own march {' and '.join(parts)}. The day's standing loss differs by "
        f"{100.0 * found['lost'].day:+.1f} % of itself: the year takes an hour's loss as the store stands between what "
        f"comes in and what is drawn{_by_order(told)}."
    )


def _by_order(told: Told) -> str:
    """Say how much of it the order of an hour makes; nothing of a fully mixed store, which has steps."""
    lost = float(np.sum(told.hours.lost))
    if not told.stratified or lost <= NOTHING_J:
        return ""
    share = -100.0 * float(np.sum(told.loss_ahead_J)) / lost
    return (
        f", which makes {share:+.1f} % by itself (UA/(m c) times half of what comes and goes in an hour): the day, where "
        "both go on together, is nearer"
    )


def _percent(share: float) -> str:
    """Write a share upwards, so that it is no promise too much."""
    return f"{math.ceil(1000.0 * share) / 10.0:.1f}"


def smoothed(told: Told) -> str:
    """Say what sunshine that goes smoothly through the hours would bring more."""
    steady, smooth = (float(np.sum(by_hour(one, "collected"))) for one in (told.march, told.smooth))
    if steady < NOTHING_J:
        return ""
    return (
        "Within an hour sun and air are its mean, as in the year: the weather file knows no more. If they went smoothly "
        f"from hour to hour, each mean kept, the collectors would bring {100.0 * (smooth / steady - 1.0):+.1f} %."
    )


def served(told: Told) -> str:
    """Say how much of the power asked for is given."""
    hours = sum(told.asked)
    if not hours:
        return "No power is asked for on this day; the engine stands."
    given = float(np.sum(by_hour(told.march, "served")))
    work = three_digits(given * told.power_W / 1e3)
    lacked = told.march.forgotten_J
    unpaid = (
        f" {kWh(lacked)} of the warm-up were not there in its hour and count as done, as in the year."
        if lacked >= NOTHING_J
        else ""
    )
    return (
        f"{three_digits(told.power_W)} W are asked for in {hours} h; the load gets {work} kWh, "
        f"{100.0 * given / hours:.0f} % of it.{unpaid}"
    )


def heat(told: Told) -> str:
    """Say where the day's heat came from and went."""
    last = {name: float(values[-1]) for name, values in told.march.accounts.items()}
    kept = float(told.march.content_J[-1] - told.march.content_J[0])
    parts = [
        f"Of {kWh(told.sunshine_J)} of sunshine the collectors bring {kWh(last['collected'])} into the store",
        f"the engine draws {kWh(last['drawn'])}",
        f"{kWh(last['lost'])} are lost",
    ]
    if last["dumped"] >= NOTHING_J:
        parts.append(f"{kWh(last['dumped'])} are dumped")
    parts.append(f"the store holds {_than_before(kept)} a day before")
    return f"{', '.join(parts)}. The account closes to {abs(told.march.unclosed()):.0e} of it."


def _than_before(kept: float) -> str:
    if abs(kept) < NOTHING_J:
        return "as much as"
    return f"{kWh(abs(kept))} {'more' if kept > 0.0 else 'less'} than"


def highest(told: Told) -> str:
    """Say the greatest pressure of the day."""
    pressure = told.minutes["boiler_pressure_bar_g"]
    most = int(np.argmax(pressure))
    how = "while the engine runs" if told.serving[most] else "while it stands hot"
    return (
        f"The boiler's greatest pressure of the day is {bar(float(pressure[most]))}, {how}. It is that "
        "of one day: what to build and test for stands on the sheet of task=build."
    )


def summary(told: Told, fluid: str, scenario: str) -> str:
    """The day in a few lines for the terminal; ``scenario`` is the title of what was asked."""
    kind = "stratified" if told.stratified else "fully mixed"
    lines = [
        scenario,
        f"{day_name(told)} of the typical year, {fluid}, {kind} store",
        "",
        heat(told),
        served(told),
        highest(told),
        "",
    ]
    width = 7
    lines += [f"  {one.when:{width}}{one.what}" for one in happened(told)]
    return "\n".join([*lines, "", compared(told)])
