"""A photovoltaic panel with a battery, run through the hours of a year, and the smallest panel that serves enough."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
HALVINGS = 24
"""Bisections of the panel's size: to a ten-millionth of the range, far below any panel sold."""
MOST = 200.0
"""Largest panel tried, in watts of peak each watt of load: more says that the battery is too small."""
ENOUGH = 1.0 - 1e-9
"""Of what is to be served: what rounding leaves a billionth short of all is all, else no panel would serve it."""


def battery_year(
    sun: Array, load: Array, peak: float, capacity: float, efficiency: float
) -> tuple[float, float]:
    """Run a panel, a battery and a load through the hours of a year; return energy served and left over [Wh].

    ``sun`` (H,) power of a panel of one watt of peak [W], ``load`` (H,) what is asked [W], ``peak`` the panel [W],
    ``capacity`` what may be drawn from the battery [Wh]; its loss, 1 - ``efficiency`` [-], is taken as it charges. It
    begins empty. Of each hour the panel serves the load first.
    """
    held = served = spare = 0.0
    for own, asked in zip((peak * sun).tolist(), load.tolist(), strict=True):
        direct = min(own, asked)
        lack = asked - direct
        drawn = min(held, lack)
        held -= drawn
        served += direct + drawn
        stored = min((own - direct) * efficiency, capacity - held)
        held += stored
        spare += own - direct - stored / efficiency
    return served, spare


def panel_for(sun: Array, load: Array, capacity: float, efficiency: float, share: float) -> float | None:
    """Smallest panel [W of peak] that serves a ``share`` [-] of the load; None where even :data:`MOST` is too small."""
    wanted = ENOUGH * share * float(np.sum(load))
    low, high = 0.0, MOST * float(np.max(load))
    if battery_year(sun, load, high, capacity, efficiency)[0] < wanted:
        return None
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        if battery_year(sun, load, middle, capacity, efficiency)[0] < wanted:
            low = middle
        else:
            high = middle
    return high
