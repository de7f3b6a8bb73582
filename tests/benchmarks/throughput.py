"""Processor time a design of the batch model on a stated mix, by machine code and as arrays, with the laws of loss and
with constant losses, at random and near the front, and its ratio to the scalar Helmholtz way, in one run.

The mix: half the designs on stratified stores, spread evenly over one to three pressure levels (and as many stages or
more), half on fully mixed stores with one and two stages; all fluids in turn; the year included. Near the front are the
designs of a small search, over and over until there are as many.

    python -m tests.benchmarks.throughput [designs] [scalar designs] [designs of the small search]
"""

from __future__ import annotations

import os
import sys
import time

import numpy as np

from explore import machine_code
from explore.config.compose import load_scenario
from explore.design.space import Space
from explore.figures.format import wished
from explore.model import Evaluator
from explore.search import optimise
from tests.scalar.cycle import InfeasibleError
from tests.scalar.model import evaluate_cycle, evaluate_year
from tests.scalar.plant import weather_of

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
    """Least processor time of a few runs."""
    times = []
    for _ in range(repeats):
        start = time.process_time()
        call()
        times.append(time.process_time() - start)
    return min(times)


def plainly(call) -> float:
    """The same as arrays; a process asks its environment once, so it is made to ask again."""
    os.environ[machine_code.PLAIN] = "1"
    machine_code.plain.cache_clear()
    try:
        return seconds(call)
    finally:
        del os.environ[machine_code.PLAIN]
        machine_code.plain.cache_clear()


def scalar_seconds(evaluator: Evaluator, columns: dict[str, np.ndarray], count: int) -> float:
    """Wall time a design of the scalar way, over the first ``count`` designs."""
    weather = weather_of(evaluator)
    pick = np.random.default_rng(0).choice(len(columns["fluid"]), count, replace=False)
    rows = [{name: values[i] for name, values in columns.items()} for i in pick]

    def run() -> None:
        for row in rows:
            try:
                computed = evaluate_cycle(row, evaluator.case, evaluator.altitude)
            except (InfeasibleError, ArithmeticError, ValueError):
                continue
            evaluate_year(row, evaluator.case, computed, weather[row["collector"]])

    run()
    return seconds(run, 1) / count


def main() -> None:
    """Print the table."""
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 8000
    scalar = int(sys.argv[2]) if len(sys.argv) > 2 else 120
    search = int(sys.argv[3]) if len(sys.argv) > 3 else 8192
    case = load_scenario("orchard")
    evaluator = Evaluator(case)
    constant = Evaluator(load_scenario("orchard", ["engine=constant"]))
    parts = {mode: working(evaluator, columns) for mode, columns in mix(case, 3 * n, 7).items()}
    half = min(n // 2, *(len(c["fluid"]) for c in parts.values()))
    parts = {f"{mode}, random": {k: v[:half] for k, v in c.items()} for mode, c in parts.items()}
    parts |= near_front(case, search, half)
    print(
        f"{'':22} {'designs':>8} {'us/design':>10} {'as arrays':>10} {'ratio':>6} {'constant':>9} {'scalar ms':>10} "
        f"{'ratio':>7}"
    )
    for name, columns in parts.items():
        count = len(columns["fluid"])
        fast = seconds(lambda some=columns: evaluator.evaluate(some)) / count
        plain = plainly(lambda some=columns: evaluator.evaluate(some)) / count
        simple = seconds(lambda some=columns: constant.evaluate(some)) / count
        one = scalar_seconds(evaluator, columns, min(scalar, count)) if scalar else np.nan
        print(
            f"{name:22} {count:8d} {fast * 1e6:10.1f} {plain * 1e6:10.1f} {plain / fast:6.2f} {simple * 1e6:9.1f} "
            f"{one * 1e3:10.2f} {one / fast:7.0f}"
        )


def near_front(case, designs: int, count: int) -> dict[str, dict[str, np.ndarray]]:
    """Return the designs on the front of a small search, by store mode, each repeated until there are ``count``."""
    small = case.model_copy(
        update={"search": case.search.model_copy(update={"designs": designs, "seconds": None})}
    )
    front = optimise(small).front
    inputs = Space.from_case(case).sample(1, np.random.default_rng(0))
    parts = {}
    for mode in sorted(set(front["store_mode"])):
        rows = np.resize(np.flatnonzero(front["store_mode"] == mode), count)
        parts[f"{mode}, near front"] = {name: front[name].to_numpy()[rows] for name in inputs}
    return parts


if __name__ == "__main__":
    main()
