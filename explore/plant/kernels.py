"""Inner steps of the plant's solvers as plain loops over numbers, for :mod:`explore.machine_code` to translate.

They do what the arrays of ``plant/roots.py`` and ``plant/losses.py`` do, operation by operation in the same order, and
give the same bits.
"""

from __future__ import annotations

from math import sqrt
from typing import Any

Array = Any

VALUES, TABLE = "float64[::1]", "float64[:,::1]"
SIGNATURES = {
    "root_step": f"void({', '.join([VALUES] * 9)}, int64)",
    "leak": f"void({', '.join(['float64'] * 5)}, {', '.join([VALUES] * 6)})",
    "finish": f"void({', '.join([VALUES] * 12)}, float64, {TABLE})",
}
"""What each loop takes: said beforehand, a loop is translated once and not again for every kind of array."""


def root_step(
    value: Array, x: Array, previous: Array, before: Array, gradient: Array, low: Array, high: Array,
    first_low: Array, first_high: Array, step: int,
) -> None:  # fmt: skip
    """Move ``x`` one secant step towards the root of a falling function whose ``value`` there is known.

    ``previous`` and ``before`` are the place and value of the step before, ``low`` and ``high`` the bracket, which shrinks;
    all but ``value`` and the first bracket are written to.
    """
    for i in range(len(x)):
        here, now = x[i], value[i]
        if step:
            run = here - previous[i]
            if abs(run) > 1e-12:
                secant = (now - before[i]) / run
                if secant < 0.0:
                    gradient[i] = secant
        if now > 0.0:
            low[i] = here
        else:
            high[i] = here
        wanted = here - now / gradient[i]
        if wanted < first_low[i]:
            wanted = first_low[i]
        if wanted > first_high[i]:
            wanted = first_high[i]
        previous[i] = here
        before[i] = now
        x[i] = wanted if low[i] <= wanted <= high[i] else 0.5 * (low[i] + high[i])


def leak(
    gap: float, land: float, least_bore: float, critical: float, coefficient: float, bore: Array, inlet: Array,
    outlet: Array, volume: Array, viscosity: Array, out: Array,
) -> None:  # fmt: skip
    """Write the leak past pistons, :func:`explore.plant.losses.leak_area_rate`."""
    for i in range(len(out)):
        h = gap * sqrt(max(bore[i], least_bore) / least_bore)
        ratio = min(outlet[i] / inlet[i], 1.0)
        slit = h * h * h * inlet[i] * (1.0 - ratio * ratio) / (24.0 * viscosity[i] * land)
        beyond = max(0.0, (ratio - critical) / (1.0 - critical))
        held = min(beyond, 1.0)
        orifice = h * coefficient * sqrt(1.0 - held * held) * sqrt(inlet[i] * volume[i])
        both = slit + orifice
        out[i] = slit * orifice / (both if both > 0.0 else 1.0)


def finish(
    enthalpy: Array, volume: Array, p2: Array, h2: Array, v2: Array, back: Array, c: Array, leak: Array, wall: Array,
    friction: Array, clearance_enthalpy: Array, clearance_volume: Array, least: float, out: Array,
) -> None:  # fmt: skip
    """Write to ``out`` (10, n) what :func:`explore.plant.engine.finish` works out, in the order of its ``FINISHED``."""
    for i in range(len(c)):
        ratio = v2[i] / volume[i]
        admission = max((1.0 + c[i]) / ratio - c[i], least)
        trapped = c[i] / admission
        u2 = h2[i] - p2[i] * v2[i]
        work = enthalpy[i] - (1.0 + trapped) * (u2 + back[i] * v2[i]) + trapped * clearance_enthalpy[i]
        kept = (1.0 - leak[i]) * (1.0 - wall[i])
        ideal = volume[i] / admission
        out[0, i] = ratio
        out[1, i] = work
        out[2, i] = kept
        out[3, i] = ideal
        out[4, i] = kept * ideal
        out[5, i] = kept * (work - friction[i] * ideal)
        out[6, i] = enthalpy[i] - kept * work
        out[7, i] = u2
        out[8, i] = ratio * c[i] / (1.0 + c[i]) - 1.0
        out[9, i] = c[i] * clearance_volume[i] / volume[i] / (1.0 + c[i]) - 1.0
