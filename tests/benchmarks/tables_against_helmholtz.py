"""Largest differences between tables and the Helmholtz equations over random feasible designs.

    python -m tests.benchmarks.tables_against_helmholtz [designs]

Feasible means: every physical limit kept; what only the scenario asks for does not count.
"""

from __future__ import annotations

import sys

import numpy as np

from explore.config.compose import load_scenario
from explore.design.space import Space
from explore.model import Evaluator
from tests.benchmarks.throughput import working

FIGURES = (
    "work_per_litre_kJ",
    "boiler_pressure_bar_a",
    "max_boiler_pressure_bar_a",
    "condenser_pressure_bar_a",
    "thermal_efficiency",
    "boiler_area_m2",
    "served_share",
)


def main() -> None:
    """Print the largest and the 99th percentile relative difference of each figure."""
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    case = load_scenario("orchard")
    tables = Evaluator(case)
    columns = working(tables, Space.from_case(case).sample(8 * n, np.random.default_rng(5)))
    some = {name: values[:n] for name, values in columns.items()}
    ours, plain = tables.evaluate(some), Evaluator(case, "helmholtz").evaluate(some)
    mixed = some["store_mode"] == "mixed"
    fluids = len(set(some["fluid"]))
    print(f"{len(mixed)} feasible designs, {mixed.sum()} on fully mixed stores, {fluids} fluids")
    print(f"{'figure':28} {'largest':>10} {'99 %':>10}")
    for name in FIGURES:
        with np.errstate(invalid="ignore", divide="ignore"):
            apart = np.abs(ours[name] / plain[name] - 1.0)
        apart = apart[np.isfinite(apart)]
        print(f"{name:28} {apart.max():10.1e} {np.quantile(apart, 0.99):10.1e}")


if __name__ == "__main__":
    main()
