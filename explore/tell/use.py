"""What the shaft does, in its user's own units: words that inspect and build sheet share."""

from __future__ import annotations

import calendar
import math
from typing import TYPE_CHECKING

from explore.bench.use import speed_power
from explore.figures.format import three_digits

if TYPE_CHECKING:
    from explore.bench.use import Service
    from explore.config.use import Use

TITLE = "What the shaft does"


def sentence(done: Service, use: Use, power_W: float) -> str:
    """Say what an average day, the worst and the best month and one full store give; ``power_W`` is the shaft's."""
    worst, best = (f"{_number(one[1])} in {calendar.month_name[one[0]]}" for one in (done.worst, done.best))
    alike = _number(done.worst[1]) == _number(done.best[1])
    months = "as much in every month" if alike else f"from {worst} to {best}"
    what = {
        "pump": f"lifted by {use.head_m:g} m at a pump efficiency of {use.pump_efficiency:.0%}",
        "generator": f"of {use.lamp_W:g} W, through a generator and a battery of {use.generator_efficiency:.0%} and "
        f"{use.battery_efficiency:.0%}",
        "workshop": f"of {use.tool_W:g} W",
    }.get(done.kind, f"against {use.resistance_N:g} N, {use.propulsive_efficiency:.0%} of the shaft's work")
    unit = {"pump": "L", "generator": "lamp-hours", "workshop": "hours of the tool"}.get(done.kind, "km")
    said = (
        f"An average day asked for gives {_number(done.average)} {unit} {what.replace('%', ' %')}, {months}. "
        f"One full store gives {_number(done.tank)} {unit}."
    )
    if done.kind in ("boat", "cart"):
        asked = speed_power(use)
        fits = "which the shaft gives" if asked <= power_W else f"more than the {power_W:g} W of the shaft"
        said += f" {use.speed_km_per_h:g} km/h ask for {asked:.0f} W, {fits}."
    return said


def _number(value: float) -> str:
    """Write an amount; none where it is nothing or not known."""
    return three_digits(value) if value > 0.0 and math.isfinite(value) else "0"
