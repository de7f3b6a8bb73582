"""Time the hourly year: processor time a design in batches, compiled and as arrays, and the ratios in one run.

Run from the project's folder: ``python -m tests.benchmarks.year [designs ...]``. The slow twin's answers are
compared before a time counts. Then the same of a whole evaluation, for engine=constant and engine=careful, at random
and near the front: the designs of a small search's front, each changed by a hundredth.
"""

from __future__ import annotations

import sys

import numpy as np

from explore.config.compose import load_scenario
from explore.design.space import Space
from explore.model import Evaluator
from tests import season_designs, season_twin
from tests.benchmarks.throughput import plainly, seconds
from tests.season_designs import mixed_year, stratified_year

CASES = (
    ("stratified", stratified_year, season_designs.stratified_designs, season_twin.stratified),
    ("mixed", mixed_year, season_designs.mixed_designs, season_twin.mixed),
)
TWINS = 6
POOL = 6_000
"""Random designs whose non-dominated ones stand for a front."""


def line(words, n, fast, plain):
    """Print the time of a design in microseconds, compiled and as arrays."""
    print(
        f"{words:40s} {n:5d} designs {fast / n * 1e6:7.1f} us compiled, {plain / n * 1e6:7.1f} us as arrays, "
        f"ratio {plain / fast:.1f}",
        flush=True,
    )


def years(sizes):
    """Print one line for each store mode and batch size."""
    year = season_designs.greensboro()
    for name, march, designs, twin in CASES:
        d = designs(TWINS)
        slow = [twin(year, season_designs.one(d, i))["served_share"] for i in range(TWINS)]
        np.testing.assert_allclose(march(year, **d).served_share, slow, rtol=1e-9)
        for n in sizes:
            batch = designs(n)
            times = [
                seconds(lambda batch=batch, march=march, plain=plain: march(year, **batch, plain=plain))
                for plain in (False, True)
            ]
            line(f"year, {name}", n, *times)


def near_front(evaluator, space, rng):
    """Genes of non-dominated designs among many, changed by a hundredth."""
    unit, choices = space.sample_genes(POOL, rng)
    out = evaluator.evaluate(space.decode(unit, choices))
    wrong = np.sum([np.maximum(v, 0.0) for k, v in out.items() if k.startswith("violation_")], axis=0)
    best = np.argsort(np.where(wrong > 0.0, -wrong, out["work_per_litre_kJ"]))[-300:]
    return np.clip(unit[best] + rng.normal(0.0, 0.01, unit[best].shape), 0.0, 1.0), choices[best]


def evaluations(sizes):
    """Print one line for each law of the engine, store, kind of design and batch size."""
    for engine in ("constant", "careful"):
        case = load_scenario("orchard", [f"engine={engine}"])
        evaluator = Evaluator(case)
        for mode in ("stratified", "mixed"):
            space = Space.from_case(case.model_copy(update={"space": {"store_mode": mode}}))
            rng = np.random.default_rng(5)
            good = near_front(evaluator, space, rng)
            for kind in ("random", "near front"):
                for n in sizes:
                    genes = [np.resize(g, (n, *g.shape[1:])) for g in good]
                    columns = space.sample(n, rng) if kind == "random" else space.decode(*genes)
                    fast = seconds(lambda columns=columns, model=evaluator: model.evaluate(columns))
                    plain = plainly(lambda columns=columns, model=evaluator: model.evaluate(columns))
                    line(f"evaluate, {engine}, {mode}, {kind}", n, fast, plain)


if __name__ == "__main__":
    asked = [int(argument) for argument in sys.argv[1:]] or [256, 2048]
    years(asked)
    evaluations(asked)
