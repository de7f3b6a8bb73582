"""Tubes of boilers and condenser as they are wound: turns, pitch and height of each coil."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from explore import units
from explore.figures.catalogue import TUBE_COLUMNS
from explore.plant.store import radius

if TYPE_CHECKING:
    from explore.config.schema import Case
    from explore.config.tubes import Tubes

BEND = 20.0
"""Mean diameter of a coil over the outside of what is wound; common practice, no source: from 10 on tube keeps round."""
IN_STORE = 0.6
"""Mean diameter of a coil over that of the store it hangs in: room for water on both sides; assumption of this project."""
FILLS = 0.8
"""Share of a store's height that a coil may take: water mixes freely above and below; assumption of this project."""
PITCH = 1.25
"""Height of a turn over the outside of what is wound: water passes between turns; assumption of this project."""
JACKET_WALL_MM = 1.0
"""Wall of the jacket around a tube that carries its water; assumption of this project."""


@dataclass(frozen=True)
class Coil:
    """Tubes of one exchanger at one pressure level, lengths in mm but for ``length_m``.

    ``count`` tubes side by side, each ``length_m`` [m], ``outside_mm`` by ``inside_mm``; ``wound_mm`` is the outside of
    what is wound, the jacket where there is one. Straight where ``turns`` is nought: a bundle in a shell. A coil that is
    too high for its store is wound in ``layers``, one within another, about the mean diameter.
    """

    what: str
    level: int
    count: int
    length_m: float
    outside_mm: float
    inside_mm: float
    wound_mm: float
    mean_diameter_mm: float
    turns: float
    pitch_mm: float
    layers: int = 1

    @property
    def total_m(self) -> float:
        """Length of all tubes [m]."""
        return self.count * self.length_m

    @property
    def height_mm(self) -> float:
        """Height of the whole coil: its tubes wound one above another, in its layers."""
        return self.turns * self.pitch_mm / self.layers

    @property
    def name(self) -> str:
        """What it is called on sheet and drawing."""
        return f"{self.what}, level {self.level}" if self.what == "boiler" else self.what


def turns(length: float, diameter: float, pitch: float) -> float:
    """Turns of a tube wound to a helix: L / sqrt((pi D)^2 + p^2), all in one unit of length.

    >>> round(turns(10.0, 0.3, 0.02), 2)
    10.61
    """
    return length / math.hypot(math.pi * diameter, pitch)


def coils(found: Mapping[str, float], figures: Mapping[str, Any], case: Case) -> list[Coil]:
    """Return the coils of a design from what its tubes are, ``found`` by their columns; none where they are not known."""
    mixed = str(figures["store_mode"]) == "mixed"
    made = []
    for column in TUBE_COLUMNS:
        if column.number not in found or not math.isfinite(float(found[column.number])):
            continue
        what, level = column.exchanger.split()
        kind = case.exchangers.condenser if what == "condenser" else case.exchangers.boiler
        if mixed and what == "boiler":
            kind = case.exchangers.coil
        number, length = round(float(found[column.number])), float(found[column.length])
        made.append(
            _coil(what, int(level), (number, length), kind, float(figures["store_volume_L"]) / units.L_PER_M3)
        )
    return made


def _coil(what: str, level: int, tubes: tuple[int, float], kind: Tubes, store: float) -> Coil:
    number, length = tubes
    outside, wide = kind.outside_diameter_mm, 2.0 * float(radius(np.array(store))) * units.MM_PER_M
    wound, mean, room = outside, IN_STORE * wide, FILLS * 2.0 * wide
    if kind.kind == "jacket":
        wound = (kind.jacket_inside_diameter_mm or outside) + 2.0 * JACKET_WALL_MM
        mean, room = BEND * wound, math.inf
    pitch = PITCH * wound
    around = 0.0 if kind.kind == "bundle" else turns(number * length * units.MM_PER_M, mean, pitch)
    return Coil(
        what,
        level,
        number,
        length,
        outside,
        kind.inside_diameter_mm,
        wound,
        mean,
        around,
        pitch,
        max(math.ceil(around * pitch / room), 1),
    )
