"""Checks of heat exchange: mean temperature difference and the area that follows from it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from explore.plant.exchange import log_mean, zone_area
from explore.verify.bench import Bench
from explore.verify.check import Check, given
from explore.verify.reading import rows
from explore.verify.sources import cite

TOPIC = "heat exchangers"
HOT_K, COLD_K = 360.0, 300.0
COEFFICIENT, LEAST_CAPACITY = 500.0, 1000.0


def checks() -> Iterator[Check]:
    """Every check of this module."""
    yield from _transfer_units()
    yield from _mean_differences()
    yield from _oil_cooler()


def transfer_units(effectiveness: float, capacity_ratio: float) -> float:
    """Number of transfer units U A / Cmin [-] of the area the plant gives a counterflow exchanger."""
    span = HOT_K - COLD_K
    heat = effectiveness * LEAST_CAPACITY * span
    hot_end, cold_end = span * (1.0 - capacity_ratio * effectiveness), span * (1.0 - effectiveness)
    area = zone_area(np.array([heat]), COEFFICIENT, np.array([hot_end]), np.array([cold_end]))
    return float(area[0]) * COEFFICIENT / LEAST_CAPACITY


def _transfer_units() -> Iterator[Check]:
    for row in rows("counterflow"):
        ratio, effectiveness = float(row["capacity_ratio"]), float(row["effectiveness"])
        yield Check(
            f"transfer-units-{row['transfer_units']}-{ratio:g}",
            TOPIC,
            f"transfer units at effectiveness {effectiveness:.4f}, Cmin/Cmax {ratio:g}",
            "-",
            float(row["transfer_units"]),
            float(row["tolerance"]),
            True,
            cite("kays/counterflow table"),
            "recomputed",
            "component",
            given(transfer_units, effectiveness, ratio),
        )


def mean_difference(one: float, other: float) -> float:
    """Logarithmic mean of two end differences [K] by the plant's function."""
    return float(log_mean(np.array([one]), np.array([other]))[0])


def _mean_differences() -> Iterator[Check]:
    for name, one, other, value, words in (
        (
            "counterflow",
            100.0 - 40.2,
            60.0 - 30.0,
            43.2004,
            "oil 100 to 60 degC against water 30 to 40.2 degC",
        ),
        ("parallel", 100.0 - 30.0, 60.0 - 40.2, 39.7525, "the same in parallel flow"),
    ):
        yield Check(
            f"mean-difference-{name}",
            TOPIC,
            f"logarithmic mean difference, {words}",
            "K",
            value,
            1e-5,
            True,
            cite("bergman/Ex. 11.1, digits as in the package ht"),
            "published",
            "component",
            given(mean_difference, one, other),
        )
    yield Check(
        "mean-difference-equal",
        TOPIC,
        "logarithmic mean difference of two equal ends of 20 K",
        "K",
        20.0,
        1e-9,
        True,
        cite("hand/both ends alike"),
        "recomputed",
        "component",
        given(mean_difference, 20.0, 20.0),
    )


def _oil_cooler() -> Iterator[Check]:
    def length(bench: Bench) -> float:
        area = zone_area(np.array([8524.0]), 38.1, np.array([59.8]), np.array([30.0]))
        return float(area[0]) / (np.pi * 0.025)

    yield Check(
        "oil-cooler-length",
        TOPIC,
        "tube of 25 mm that passes 8524 W at 38.1 W/(m2 K), 100/60 against 30/40.2 degC",
        "m",
        65.9,
        0.005,
        True,
        cite("bergman/Ex. 11.1"),
        "from memory",
        "component",
        length,
    )
