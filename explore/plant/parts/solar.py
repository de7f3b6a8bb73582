"""Collectors and the store of hot water: what they cost."""

from __future__ import annotations

import numpy as np

from explore.plant.parts.part import Line, Part, scaled_cost

STORE_EXPONENT = 0.65
"""Walls grow as the 2/3 power of what they hold; prices of finished stores grow a little slower."""

COLLECTOR = Part(
    "collector",
    lines=(
        Line(
            "collectors", lambda _, size: np.multiply(size.collector_price_EUR_per_m2, size.collector_area_m2)
        ),
    ),
)
STORE = Part(
    "store",
    lines=(
        Line(
            "store",
            lambda costs, size: scaled_cost(costs.store_EUR_per_L065, size.store_volume_L, STORE_EXPONENT),
        ),
        Line(
            "insulation",
            lambda costs, size: np.multiply(costs.insulation_EUR_per_m3, size.insulation_volume_m3),
        ),
    ),
)
