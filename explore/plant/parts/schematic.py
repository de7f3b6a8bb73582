"""Where the states of the parts stand on the page's schematic, in the units of its drawing.

``static/schematic.js`` draws the parts at the same places.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from explore.plant.circuit import Cycle

BOILERS = {1: (190,), 2: (120, 275), 3: (105, 255, 345)}
"""Middles of one, two or three boilers from the hottest down, in the drawing's units."""
COIL = (210,)
"""Middle of a coil in the store."""
HEADER = 42
"""The vapour's way runs here, above the cylinders."""

ABOVE, RIGHT, LEFT, BELOW, HIGH, FAR_LEFT = 0, 1, -1, 2, 3, 4
"""Sides on which the figures of a state are written."""


class Spot(NamedTuple):
    """Where a state is marked, and on which side its figures stand."""

    x: int
    y: int
    side: int


def in_store(cycle: Cycle) -> bool:
    """Say whether a coil in the store heats the cycle: no water circulates."""
    return not np.any(cycle.hot_water)


def boilers(cycle: Cycle) -> tuple[int, ...]:
    """Middles of the boilers, hottest first."""
    return COIL if in_store(cycle) else BOILERS[len(cycle.levels)]


def cylinder(number: int) -> int:
    """Left edge of a cylinder, counted from 1."""
    return 500 + 120 * (number - 1)
