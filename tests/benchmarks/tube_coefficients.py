"""What coefficients of heat transfer exchangers made of tubes come to, beside the defaults: median, 10 % and 90 %.

Over random designs of all shipped scenarios that work with tubes, by exchanger, zone and store:

    python -m tests.benchmarks.tube_coefficients [designs]
"""

from __future__ import annotations

import sys

import numpy as np

from explore.config.compose import load_scenario
from explore.design.space import Space
from explore.model import Evaluator

SCENARIOS = ("orchard", "school_workshop", "island_workshop")
ZONES = {"liquid": "liquid", "two_phase": "two_phase", "vapour": "vapour"}


def main() -> None:
    """Print the table."""
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 3000
    found: dict[tuple[str, str, str], list[np.ndarray]] = {}
    engine = load_scenario("orchard").engine
    for seed, scenario in enumerate(SCENARIOS):
        case = load_scenario(scenario, ["exchangers=tubes"])
        columns = Space.from_case(case).sample(n // len(SCENARIOS), np.random.default_rng(seed))
        out = Evaluator(case).evaluate(columns)
        works = out["possible"].astype(bool)
        for mode in ("stratified", "mixed"):
            rows = works & (columns["store_mode"] == mode)
            for exchanger in ("boiler", "condenser"):
                for zone in ZONES:
                    name = f"{exchanger}_U_{zone}_W_per_m2K"
                    if name in out:
                        found.setdefault((exchanger, mode, zone), []).append(out[name][rows])
    print(
        f"{'exchanger':10} {'store':11} {'zone':10} {'designs':>7} {'10 %':>7} {'median':>7} {'90 %':>7} {'default':>8}"
    )
    for (exchanger, mode, zone), parts in found.items():
        values = np.concatenate(parts)
        values = values[np.isfinite(values)]
        low, middle, high = np.quantile(values, (0.1, 0.5, 0.9)) if len(values) else (np.nan,) * 3
        part = "coil" if (exchanger, mode) == ("boiler", "mixed") else exchanger
        default = getattr(engine, f"{part}_U_{zone}")
        print(
            f"{part:10} {mode:11} {zone:10} {len(values):7d} {low:7.0f} {middle:7.0f} {high:7.0f} {default:8.0f}"
        )


if __name__ == "__main__":
    main()
