"""Designs per second of the batch model on a stated mix, and its ratio to the scalar Helmholtz way, in one run.

The mix: half the designs on stratified stores, spread evenly over one to three pressure levels (and as many stages or
more), half on fully mixed stores with one and two stages; all fluids in turn; the year included.

    python -m tests.benchmarks.throughput [designs] [scalar designs]
"""

from __future__ import annotations

import sys
import time

import numpy as np

from explore.config.compose import load_scenario
from explore.design.space import Space
from explore.figures.format import wished
from explore.model import Evaluator
from tests.scalar.cycle import InfeasibleError
from tests.scalar.model import evaluate_cycle, evaluate_year
from tests.scalar.year import Weather

REPEATS = 3


def mix(case, n: int, seed: int) -> dict[str, dict[str, np.ndarray]]:
    """Return the designs of the mix by store mode, feasible or not as a search would meet them."""
    parts: dict[str, list[dict[str, np.ndarray]]] = {"stratified": [], "mixed": []}
    rng = np.random.default_rng(seed)
    for mode, stages, levels, share in (
        ("stratified", 1, 1, 1 / 6),
        ("stratified", 2, 2, 1 / 6),
        ("stratified", 3, 3, 1 / 6),
        ("mixed", 1, 1, 1 / 4),
        ("mixed", 2, 1, 1 / 4),
    ):
        pins = {"store_mode": mode, "stages": stages, "pressure_levels": levels, "collector_area_m2": [5, 25]}
        space = Space.from_case(case.model_copy(update={"space": pins}))
        parts[mode].append(space.sample(round(n * share), rng))
    return {
        mode: {name: np.concatenate([c[name] for c in columns]) for name in columns[0]}
        for mode, columns in parts.items()
    }


def working(evaluator: Evaluator, columns: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Keep the designs that work, so that none escapes the year; limits of the scenario do not count."""
    out = evaluator.evaluate(columns)
    limits = [name for name in out if name.startswith("violation_") and not wished(name)]
    keep = np.all([~(out[name] > 0.0) for name in limits], axis=0)
    return {name: values[keep] for name, values in columns.items()}


def seconds(call, repeats: int = REPEATS) -> float:
    """Best wall time of a few runs."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return min(times)


def scalar_seconds(evaluator: Evaluator, columns: dict[str, np.ndarray], count: int) -> float:
    """Wall time a design of the scalar way, over the first ``count`` designs."""
    year, kinds = evaluator.year, list(evaluator.collectors)
    weather = [
        Weather(row.tolist(), year.air_temperature_K.tolist(), year.demand.tolist())
        for row in year.effective_irradiance
    ]
    pick = np.random.default_rng(0).choice(len(columns["fluid"]), count, replace=False)
    rows = [{name: values[i] for name, values in columns.items()} for i in pick]

    def run() -> None:
        for row in rows:
            try:
                computed = evaluate_cycle(row, evaluator.case, evaluator.altitude)
            except (InfeasibleError, ArithmeticError, ValueError):
                continue
            evaluate_year(row, evaluator.case, computed, weather[kinds.index(row["collector"])])

    run()
    return seconds(run, 1) / count


def main() -> None:
    """Print the table."""
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 8000
    scalar = int(sys.argv[2]) if len(sys.argv) > 2 else 120
    case = load_scenario("orchard")
    evaluator = Evaluator(case)
    parts = {mode: working(evaluator, columns) for mode, columns in mix(case, 3 * n, 7).items()}
    half = min(n // 2, *(len(c["fluid"]) for c in parts.values()))
    each = {}
    print(f"{'store':12} {'designs':>8} {'us/design':>10} {'designs/s':>10} {'scalar ms':>10} {'ratio':>7}")
    for mode, columns in parts.items():
        some = {name: values[:half] for name, values in columns.items()}
        batch = seconds(lambda some=some: evaluator.evaluate(some)) / half
        one = scalar_seconds(evaluator, some, min(scalar, half))
        each[mode] = batch
        print(
            f"{mode:12} {half:8d} {batch * 1e6:10.1f} {1 / batch:10.0f} {one * 1e3:10.2f} {one / batch:7.0f}"
        )
    both = 0.5 * sum(each.values())
    print(f"{'the mix':12} {2 * half:8d} {both * 1e6:10.1f} {1 / both:10.0f}")


if __name__ == "__main__":
    main()
