"""A vectorised bracketing root finder with a fixed number of steps.

The number of steps does not depend on the batch, so a design gives the same bits alone or among others.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from explore.fluids.interface import Array
from explore.machine_code import handed, loaded
from explore.plant import kernels


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
    x = np.clip(guess, low, high)
    gradient = np.full(x.shape, slope, dtype=float)
    compiled = loaded(kernels, x.size)
    if compiled is not None and low.shape == high.shape == x.shape and x.ndim == 1:
        previous, before, ends = np.empty_like(x), np.empty_like(x), (low.copy(), high.copy())
        for step in range(steps):
            # a new array each time: what the function keeps must not move with x
            value, x = handed(function(x)), x.copy()
            compiled.root_step(value, x, previous, before, gradient, *ends, low, high, step)
        return x
    first_low, first_high = low, high
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
