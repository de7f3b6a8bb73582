"""What both kinds of store count as they march hour by hour: one chunk of designs, operations in place.

Both take ``pass_hour``: collector heat, standing loss, the engine's draw, and what no longer fits is dumped;
``surround`` sets the temperature of the air around them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from explore.units import J_PER_KWH, L_PER_M3, SECONDS_PER_HOUR
from explore.year.series import Year

Array = NDArray[np.float64]
Columns = dict[str, Array]

FULLY_SERVED = 1.0 - 1e-9
"""What rounding leaves a billionth short is a served hour."""


class Tally:
    """What both kinds of store count, one chunk of designs; heat in units of the store's own.

    ``heat_unit`` [J] turns them into joule.
    """

    def __init__(self, d: Columns, heat_unit: Array) -> None:
        n = len(heat_unit)
        self.kind = d["kind"].astype(np.intp)
        self.heat_unit, self.area, self.power = heat_unit, d["area"], d["power"]
        per_hour = SECONDS_PER_HOUR * d["gain"] / heat_unit
        self.gain, self.a1, self.a2 = per_hour * d["eta0"], per_hour * d["a1"], per_hour * d["a2"]
        self.zero, self.one, self.nearly = np.zeros(n), np.ones(n), np.full(n, FULLY_SERVED)
        self.x, self.t, self.over = np.empty(n), np.empty(n), np.empty(n)
        self.flag = np.empty(n, dtype=np.bool_)
        self.collected, self.lost, self.dumped, self.drawn = (np.zeros(n) for _ in range(4))
        self.served, self.unserved, self.longest = (np.zeros(n) for _ in range(3))
        self.stagnation = np.zeros(n, dtype=np.int64)

    def heat_collected(self, gain: Array, hours: float = 1.0) -> Array:
        """Heat of ``hours``, :meth:`heat_at`, which is booked; in the place of ``gain``."""
        self.heat_at(gain)
        if hours != 1.0:
            gain *= hours
        np.add(self.collected, gain, self.collected)
        return gain

    def heat_at(self, gain: Array) -> Array:
        """Heat of an hour from ``gain`` and the collector's rise above the air in ``self.x`` (ISO 9806), in its place."""
        x, t = self.x, self.t
        np.multiply(self.a2, x, t)
        np.add(t, self.a1, t)
        np.multiply(t, x, t)
        np.subtract(gain, t, gain)
        np.maximum(gain, self.zero, out=gain)
        return gain

    def count_dumped(self, heat: Array) -> None:
        """Book the heat of one hour that found no room."""
        np.add(self.dumped, heat, self.dumped)
        np.greater(heat, self.zero, self.flag)
        np.add(self.stagnation, self.flag, self.stagnation)

    def serve(self, share: Array, heat: Array) -> None:
        """Book a demand hour: share of it served, heat drawn."""
        np.add(self.served, share, self.served)
        np.add(self.drawn, heat, self.drawn)
        np.subtract(self.one, share, self.t)
        np.add(self.unserved, self.t, self.unserved)
        np.less(share, self.nearly, self.flag)
        np.multiply(self.unserved, self.flag, self.unserved)
        np.maximum(self.longest, self.unserved, out=self.longest)

    def figures(
        self,
        year: Year,
        autonomy_hours: Array,
        bridged_hours: Array,
        cooling_water_m3: Array,
        stored_change: Array,
    ) -> Columns:
        """All figures of :class:`SeasonResult`."""
        asked = max(int(np.count_nonzero(year.demand)), 1)
        shaft = self.served * self.power * SECONDS_PER_HOUR
        sunshine = self.area * np.sum(year.plane_irradiance) * SECONDS_PER_HOUR
        return {
            "served_share": self.served / asked,
            "shaft_energy_kWh": shaft / J_PER_KWH,
            "longest_unserved_hours": self.longest,
            "autonomy_hours": autonomy_hours,
            "bridged_hours": bridged_hours,
            "stagnation_hours": self.stagnation.astype(np.float64),
            "collector_yield_kWh": (self.collected - self.dumped) * self.heat_unit / J_PER_KWH,
            "sun_to_shaft_efficiency": np.divide(
                shaft, sunshine, out=np.zeros_like(shaft), where=sunshine > 0.0
            ),
            "cooling_water_L": cooling_water_m3 * L_PER_M3,
            "collected_J": self.collected * self.heat_unit,
            "drawn_J": self.drawn * self.heat_unit,
            "lost_J": self.lost * self.heat_unit,
            "dumped_J": self.dumped * self.heat_unit,
            "stored_change_J": stored_change * self.heat_unit,
        }
