"""A vectorised bracketing root finder with a fixed number of steps.

The number of steps does not depend on the batch, so a design gives the same bits alone or among others.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from explore.fluids.interface import Array


def falling_root(
    function: Callable[[Array], Array],
    low: Array,
    high: Array,
    guess: Array,
    slope: float | Array,
    steps: int,
) -> Array:
    """Root of a falling function between ``low`` and ``high``, shape (n,).

    Secant steps from ``guess`` with a first ``slope`` (negative), held inside a bracket that shrinks with every
    sign; a step that leaves the bracket is replaced by its middle. Where the function has one sign
    throughout, the nearer end is returned.
    """
    first_low, first_high = low, high
    x = np.clip(guess, low, high)
    gradient = np.broadcast_to(slope, x.shape).astype(float)
    previous, value_before = x, np.zeros_like(x)
    for step in range(steps):
        value = function(x)
        if step:
            run = x - previous
            moved = np.abs(run) > 1e-12
            secant = (value - value_before) / np.where(moved, run, 1.0)
            gradient = np.where(moved & (secant < 0.0), secant, gradient)
        low, high = np.where(value > 0.0, x, low), np.where(value > 0.0, high, x)
        wanted = np.clip(x - value / gradient, first_low, first_high)
        inside = (wanted >= low) & (wanted <= high)
        previous, value_before = x, value
        x = np.where(inside, wanted, 0.5 * (low + high))
    return x
