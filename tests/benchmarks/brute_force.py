"""Hold a run's front against plain random designs: does any of them beat it by more than 2 %?

    python -m tests.benchmarks.brute_force results/<scenario>/<time> [designs] [seed]

A point of the front is beaten if a feasible random design is better in every objective by more than 2 % of the
front's range in that objective. Exit status 1 if any is.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd

from explore.config.compose import load_scenario
from explore.design.space import Space
from explore.model import Evaluator

SHARE = 0.02
BATCH = 4096


def oriented(frame: pd.DataFrame, objectives) -> np.ndarray:
    """Objectives as (n, m) with smaller better."""
    signs = [-1.0 if o.direction == "maximise" else 1.0 for o in objectives]
    return np.stack([s * frame[o.figure].to_numpy() for s, o in zip(signs, objectives, strict=True)], axis=1)


def random_feasible(case, n: int, seed: int) -> pd.DataFrame:
    """Evaluate ``n`` random designs of the case and keep the feasible ones' objectives."""
    space, evaluator, rng = Space.from_case(case), Evaluator(case), np.random.default_rng(seed)
    kept = []
    for start in range(0, n, BATCH):
        columns = space.sample(min(BATCH, n - start), rng)
        out = evaluator.evaluate(columns)
        ok = out["feasible"]
        kept.append(
            pd.DataFrame(
                {"fluid": columns["fluid"][ok]}
                | {o.figure: out[o.figure][ok] for o in case.scenario.objectives}
            )
        )
    return pd.concat(kept, ignore_index=True)


def main() -> int:
    """Print how many points of the front random designs beat, and the front's margin."""
    folder = Path(sys.argv[1])
    n = int(sys.argv[2]) if len(sys.argv) > 2 else 200_000
    seed = int(sys.argv[3]) if len(sys.argv) > 3 else 11
    case = load_scenario(str(folder / "config.yaml"))
    objectives = case.scenario.objectives
    front = oriented(pd.read_csv(folder / "front.csv"), objectives)
    started = time.perf_counter()
    sample = random_feasible(case, n, seed)
    points = oriented(sample, objectives)
    span = np.ptp(front, axis=0)
    # how far, in shares of the range, the best random design is ahead of each front point in its worst objective
    lead = np.array([((f - points) / span).min(axis=1).max() for f in front])
    beaten = int(np.sum(lead > SHARE))
    print(
        f"{n} random designs, {len(points)} feasible, {time.perf_counter() - started:.0f} s; front of {len(front)}: "
        f"{beaten} points beaten by more than {SHARE:.0%} of the range in every objective, largest lead {lead.max():.2%}"
    )
    return int(beaten > 0)


if __name__ == "__main__":
    sys.exit(main())
