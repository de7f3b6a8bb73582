"""Time the scalar reference model: milliseconds per design, one design after another.

Run from the project's folder: ``python -m tests.benchmarks.scalar_way [designs per store mode]``.
"""

from __future__ import annotations

import sys
from time import perf_counter
from typing import Any

from tests.scalar.cycle import InfeasibleError
from tests.scalar.designs import FLUIDS, made_up_year, plain_case, random_designs
from tests.scalar.model import evaluate_cycle, evaluate_year


def time_mode(store_mode: str, n: int, seed: int = 1) -> dict[str, Any]:
    """Mean time [ms] of the cycle part, of the year and of both, over the designs that can be computed."""
    case, weather = plain_case(), made_up_year()
    for design in random_designs(len(FLUIDS), 0, store_mode):
        _timed_cycle(design, case)
    cycle = year = 0.0
    computed_designs = 0
    for design in random_designs(n, seed, store_mode):
        seconds, computed = _timed_cycle(design, case)
        if computed is None:
            continue
        start = perf_counter()
        evaluate_year(design, case, computed, weather)
        year += perf_counter() - start
        cycle += seconds
        computed_designs += 1
    per_design = 1e3 / computed_designs
    return {
        "store_mode": store_mode,
        "designs": computed_designs,
        "cycle_ms": cycle * per_design,
        "year_ms": year * per_design,
        "both_ms": (cycle + year) * per_design,
    }


def _timed_cycle(design: dict[str, Any], case: Any) -> tuple[float, Any]:
    start = perf_counter()
    try:
        computed = evaluate_cycle(design, case)
    except InfeasibleError:
        computed = None
    return perf_counter() - start, computed


def main() -> None:
    """Print one line per store mode."""
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 230
    print(f"{'store':<11}{'designs':>8}{'cycle ms':>10}{'year ms':>10}{'both ms':>10}")
    for mode in ("stratified", "mixed"):
        t = time_mode(mode, n)
        print(f"{mode:<11}{t['designs']:>8}{t['cycle_ms']:>10.2f}{t['year_ms']:>10.2f}{t['both_ms']:>10.2f}")


if __name__ == "__main__":
    main()
