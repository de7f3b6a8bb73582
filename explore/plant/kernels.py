"""Inner steps of the plant's solvers as plain loops over numbers, for :mod:`explore.machine_code` to translate.

They do what the arrays of ``plant/roots.py`` and ``plant/losses.py`` do, operation by operation in the same order, and
give the same bits.
"""

from __future__ import annotations

from typing import Any

Array = Any

VALUES = "float64[::1]"
SIGNATURES = {"root_step": f"void({', '.join([VALUES] * 9)}, int64)"}
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
