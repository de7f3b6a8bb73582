"""Time the hourly year: microseconds a design in batches, and how often faster than the slow twin.

Run from the project's folder: ``python -m tests.benchmarks.year [designs ...]``. The twin's answers are
compared before a time counts.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from explore.year.season import mixed_year, stratified_year
from tests import season_designs, season_twin

CASES = (
    ("stratified", stratified_year, season_designs.stratified_designs, season_twin.stratified),
    ("mixed", mixed_year, season_designs.mixed_designs, season_twin.mixed),
)
TWINS = 6
REPEATS = 5


def seconds(function):
    """Return the shortest of a few runs."""
    best = np.inf
    for _ in range(REPEATS):
        start = time.perf_counter()
        function()
        best = min(best, time.perf_counter() - start)
    return best


def main(sizes):
    """Print one line for each store mode and batch size."""
    year = season_designs.greensboro()
    for name, march, designs, twin in CASES:
        d = designs(TWINS)
        start = time.perf_counter()
        slow = [twin(year, season_designs.one(d, i))["served_share"] for i in range(TWINS)]
        slow_us = (time.perf_counter() - start) / TWINS * 1e6
        np.testing.assert_allclose(march(year, **d).served_share, slow, rtol=1e-9)
        for n in sizes:
            batch = designs(n)
            fast_us = seconds(lambda batch=batch, march=march: march(year, **batch)) / n * 1e6
            ratio = slow_us / fast_us
            print(
                f"{name:10s} {n:5d} designs {fast_us:7.1f} us each, twin {slow_us:6.0f} us, ratio {ratio:.0f}"
            )


if __name__ == "__main__":
    main([int(argument) for argument in sys.argv[1:]] or [250, 1000, 2000, 4000])
