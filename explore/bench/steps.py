"""How far a condition of a log is moved for the slopes of readings by it: inside what the machine can run at."""

from __future__ import annotations

import numpy as np

from explore.bench.columns import COLUMNS, Array

TENTH = 0.1
"""Of a condition's standard deviation: inside what the machine can run at, and far above what rounding makes."""
MOST_SHARE, MOST_STEP_K = 0.05, 2.0
"""Farthest step, as a share of what was read; of a temperature [K]: above what usual accuracies ask for, and where an
instrument is poorer the slope still is that of the reading."""
DOWN = (
    "inlet_pressure_bar_a",
    "inlet_quality",
    "boiler_pressure_bar_a",
    "boiler_2_pressure_bar_a",
    "boiler_3_pressure_bar_a",
)
"""Conditions that are moved down: up, vapour near its dew point would be liquid, or more than all vapour."""


def step(name: str, read: Array, spread: float) -> Array:
    """Return by how much the condition ``name`` is moved where ``read`` was read (n,), in its unit; up at its least value.

    ``spread`` is its standard deviation.
    """
    least = COLUMNS[name].least
    most = MOST_SHARE * read if least > 0.0 else np.full_like(read, MOST_STEP_K)
    moved = np.fmin(TENTH * spread, most)
    down = (read - moved > least) & (name in DOWN)
    return np.asarray(np.where(down, -moved, moved))
