"""Whether to build at all: a design beside other ways to its work, in words that inspect and build sheet share."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from explore.figures.format import NONE
from explore.tell.terminal import paragraph, table

if TYPE_CHECKING:
    from explore.bench.yardsticks import Way

TITLE = "Whether to build it at all"
HEADER = ("The same work a year", "EUR", "band", "a year", "area, m²", "hours bridged", "renewed, years")
SEED_BED_DEGC = 35.0
"""Warm water below this washes nobody; a judgement."""
TOLD_LACK = 0.1
"""Percent of the demand that panels serve less, from which it is told: the table's last digit."""
NEAR = 1.25
"""Ratio of costs below which two ways are told as alike: far inside the bands of both."""


def rows(ways: Sequence[Way]) -> list[tuple[str, ...]]:
    """Write each way as a line under :data:`HEADER`."""
    return [
        (
            one.name,
            _money(one.cost),
            f"{_money(one.low)} to {_money(one.high)}",
            _money(one.annual),
            f"{one.area:.1f}",
            f"{one.hours:.1f}",
            f"{one.life:.0f}",
        )
        for one in ways
    ]


def _money(value: float) -> str:
    """Write an amount with three digits that count, thousands apart."""
    if not math.isfinite(value):
        return NONE
    step = 10.0 ** max(math.floor(math.log10(max(abs(value), 1.0))) - 2, 0)
    return f"{round(value / step) * step:,.0f}".replace(",", " ")


def sentences(ways: Sequence[Way], beside: Mapping[str, float]) -> list[str]:
    """Say where the vapour engine loses, what it gives beside its work, and what it has that the others have not."""
    own, panels, hot_air, modules = ways
    cool = beside["warm_degC"] < SEED_BED_DEGC
    use = "enough for a seed bed or a pond, not for washing" if cool else "enough for washing or a warm floor"
    return [
        _verdict(own, panels),
        f"They are {panels.about['peak_W']:.0f} W of panel, a battery of {panels.about['battery_kWh']:.1f} kWh and "
        f"a motor, run through the same year of weather for {_share_served(panels)}; {panels.about['spare_kWh']:.0f} "
        "kWh of electricity a year are left over. Where the work can wait for the sun, as water in a tank can, "
        "they need no battery at all.",
        _heat_engines(own, hot_air, modules),
        f"Beside its work the vapour engine gives {_money(beside['heat_kWh'])} kWh of heat a year, but at "
        f"{beside['warm_degC']:.0f} °C, in its cooling water: {use}. Its store is water of up to "
        f"{beside['top_degC']:.0f} °C: 100 L taken for washing cost {beside['litre_kJ'] / 36.0:.2f} kWh of work.",
        "What it has that panels have not: parts that a village can cast, turn and mend, a store that does not "
        "wear out, no cells to buy again, and heat with the work. What it asks that panels do not: pressure "
        "equipment, a fluid that burns, poisons or is bound by law, people licensed for both, cooling water, and a "
        "keeper.",
        "All prices and efficiencies of the others are assumptions with their bands, explore task=keys "
        "group=yardsticks; the bands have all of a way's at their worse or better end at once, those of the vapour "
        "engine its prices alone.",
    ]


def _verdict(own: Way, panels: Way) -> str:
    if not (own.cost > 0.0 and panels.cost > 0.0):
        return "Where one of the two costs nothing, prices say nothing of vapour engine or panels."
    ratio = own.cost / panels.cost
    span = f"{_money(panels.cost)} EUR ({_money(panels.low)} to {_money(panels.high)})"
    if ratio > NEAR:
        sure = (
            "That holds even at the worst prices for them and the best for it."
            if own.low > panels.high
            else "Only at the worst prices for them and the best for it may that turn."
        )
        return (
            "Here the vapour engine loses: photovoltaic panels with a battery and a motor do the same work for "
            f"{span}; it costs {ratio:.1f} times as much. {sure} Where panels and cells can be bought, build it for "
            "other reasons than the work."
        )
    if ratio < 1.0 / NEAR:
        return (
            "Here the vapour engine is the cheaper: photovoltaic panels with a battery and a motor would cost "
            f"{span}, {1.0 / ratio:.1f} times as much."
        )
    return (
        f"Photovoltaic panels with a battery and a motor cost about as much, {span}: what decides is what can be "
        "had and mended."
    )


def _share_served(panels: Way) -> str:
    lacks = panels.about["lacks_percent"]
    if lacks < TOLD_LACK:
        return "the same share served"
    return f"{lacks:.1f} % of the demand less, because none tried serves the same share"


def _heat_engines(own: Way, hot_air: Way, modules: Way) -> str:
    return (
        f"On such a store a hot-air engine at {hot_air.about['efficiency_percent']:.1f} % would draw "
        f"{hot_air.heat_ratio:.1f} times the heat and sweep {hot_air.about['swept_L']:.0f} L. Half of Carnot is the "
        "best ever reported for small differences of temperature; one that was built and measured had a thirtieth "
        f"of that. Thermoelectric modules at {modules.about['efficiency_percent']:.1f} % would draw "
        f"{modules.heat_ratio:.1f} times the heat ({own.about['efficiency_percent']:.1f} % here) and have no moving "
        "part but the motor."
    )


def text(ways: Sequence[Way], beside: Mapping[str, float]) -> str:
    """Return what ``task=inspect`` prints; empty where the design gives no work."""
    if not ways:
        return ""
    lines = [HEADER, *((f"  {one[0]}", *one[1:]) for one in rows(ways))]
    said = [paragraph(one, indent="  ") for one in sentences(ways, beside)]
    return "\n".join([TITLE, table([list(line) for line in lines], whole=True), *said])
