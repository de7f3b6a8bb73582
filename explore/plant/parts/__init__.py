"""All parts of the plant, each with its own account, in the order of the bill."""

from __future__ import annotations

from explore.plant.parts.boiler import BOILER, LEVEL_SET
from explore.plant.parts.condenser import CONDENSER
from explore.plant.parts.engine import DRIVE, ENGINE
from explore.plant.parts.feed_pump import FEED_PUMP
from explore.plant.parts.part import Part
from explore.plant.parts.regenerator import REGENERATOR
from explore.plant.parts.solar import COLLECTOR, STORE
from explore.plant.parts.vapour_line import EXCHANGER_DROPS, THROTTLE
from explore.plant.parts.water_pumps import WATER_PUMPS

PARTS: tuple[Part, ...] = (
    COLLECTOR,
    STORE,
    BOILER,
    CONDENSER,
    REGENERATOR,
    ENGINE,
    DRIVE,
    LEVEL_SET,
    FEED_PUMP,
    EXCHANGER_DROPS,
    THROTTLE,
    WATER_PUMPS,
)
"""Sums run over them in this order, to the last bit."""
