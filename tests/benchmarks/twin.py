"""How far the batch model lies from the independent scalar one, structure by structure, with careful losses.

    python -m tests.benchmarks.twin --designs 500 --processes 2 --step-K 0.25

draws so many designs of each kind of store with each number of expansions, of all fluids, speeds and governors,
evaluates them both ways, and prints for each figure the median, the 99th percentile and the greatest difference as a share
of the scalar figure, and how many lie within 0.3 %. Designs that give next to nothing, or whose engine has not settled
and is refused, are left out, and counted. The scalar year takes steps that move a fully mixed store by ``--step-K``
at most.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from typing import Any

import numpy as np
import pandas as pd

from explore.config.compose import load_scenario
from explore.design.designs import checked
from explore.model import Evaluator
from tests.scalar import year as scalar_year
from tests.scalar.designs import machine_designs
from tests.scalar.laws import CAREFUL
from tests.scalar.model import evaluate_one
from tests.scalar.plant import load_of, weather_of
from tests.system.test_against_scalar import CLOSE, YEAR

WORDS = ["scenario.demand.speed_may_fall=true", "scenario.demand.bank=day"]
LEAST_WORK_KJ = 0.5
"""Below that a litre gives next to nothing, and a share of it says nothing."""
NOTHING = 1e-9
"""A share served that is rounding alone: warm-up takes all the heat there is."""
CLOSE_ENOUGH = 3e-3
"""What the two are asked to agree to."""


def scalar(rows: list[dict[str, Any]], step_K: float) -> list[dict[str, Any]]:
    """Evaluate designs one by one the scalar way."""
    scalar_year.MOST_MOVE = step_K
    case = load_scenario("orchard", WORDS)
    evaluator = Evaluator(case)
    weather, load = weather_of(evaluator), load_of(case)
    return [
        evaluate_one(row, case, weather[row["collector"]], evaluator.altitude, CAREFUL, load) for row in rows
    ]


def drawn(count: int, mode: str, stages: int) -> list[dict[str, Any]]:
    """Draw designs of one structure."""
    many = [row for row in machine_designs(4 * count + 100, 17, mode) if row["stages"] == stages]
    return many[:count]


def main() -> None:
    """Print the table."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--designs", type=int, default=500)
    options.add_argument("--processes", type=int, default=2)
    options.add_argument("--step-K", type=float, default=scalar_year.MOST_MOVE)
    asked = options.parse_args()
    evaluator = Evaluator(load_scenario("orchard", WORDS))
    with ProcessPoolExecutor(asked.processes) as pool:
        for mode in ("stratified", "mixed"):
            for stages in (1, 2, 3):
                rows = drawn(asked.designs, mode, stages)
                parts = [rows[start :: asked.processes] for start in range(asked.processes)]
                ordered = [row for part in parts for row in part]
                other = pd.DataFrame(
                    [one for part in pool.map(scalar, parts, [asked.step_K] * len(parts)) for one in part]
                )
                ours = evaluator.evaluate(
                    checked(pd.DataFrame(ordered), evaluator.fluids, evaluator.collectors, evaluator.usual)
                )
                report(mode, stages, ours, other)


def report(mode: str, stages: int, ours: dict[str, np.ndarray], other: pd.DataFrame) -> None:
    """Print what one structure shows."""
    both = (other["work_per_litre_kJ"] > LEAST_WORK_KJ).to_numpy() & (
        ours["work_per_litre_kJ"] > LEAST_WORK_KJ
    )
    both &= ours["violation_engine_residual_fraction"] <= 0.0
    print(f"{mode}, {stages} expansions: {both.sum()} of {len(other)} designs", flush=True)
    for figure in (*CLOSE, *YEAR):
        mine, theirs = ours[figure][both], other[figure].to_numpy(dtype=float)[both]
        known = np.isfinite(mine) & np.isfinite(theirs) & (np.abs(theirs) > NOTHING)
        if not known.any():
            continue
        off = np.abs(mine[known] / theirs[known] - 1.0)
        ends = f"{np.median(off):9.1e} {np.quantile(off, 0.99):9.1e} {off.max():9.1e}"
        print(f"  {figure:28} {ends}  within 0.3 %: {np.mean(off <= CLOSE_ENOUGH):7.2%}", flush=True)


if __name__ == "__main__":
    main()
