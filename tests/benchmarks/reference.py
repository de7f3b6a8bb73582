"""The best front known of a scenario, made by long searches with local polishing, and how near short searches come to it.

    python -m tests.benchmarks.reference make orchard --designs 500000 --seeds 11 12 13
    python -m tests.benchmarks.reference compare orchard --seconds 10 30 60 --seeds 8

``make`` joins the polished fronts of long searches with other seeds than those compared, and of what is kept already, and
writes ``data/reference_<scenario>.csv``: inputs of the designs, at most 600 by the hypervolume that each adds. ``compare``
judges them by the model as it is now, so that a changed model changes both sides. It prints the share of the hypervolume
after so many seconds of the search, seed by seed and the median, and which niches (a fluid in a layout) that hold
0.2 % of the reference, or the best of an objective, are not on a seed's front. Seconds are those of
``--clock processor``: the processor time of this process and, divided by their number, of the workers.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import moocore
import numpy as np
import pandas as pd

from explore import load_scenario
from explore.config.schema import Case
from explore.design.space import INPUTS, Layout
from explore.judgement.front import feasible_front, hypervolume, normalise
from explore.model import Evaluator
from explore.search import optimise
from tests.benchmarks.front_quality import Bench, at, ours

DATA = Path(__file__).parent / "data"
MOST = 600
HELD = 0.002
"""Share of the reference's hypervolume from which a niche counts."""


def kept(scenario: str) -> Path:
    """Return where the reference of a scenario stands."""
    return DATA / f"reference_{scenario}.csv"


def judged(case: Case, designs: pd.DataFrame) -> pd.DataFrame:
    """Judge designs by the model as it is now; return those no other feasible one beats."""
    columns = {name: designs[name].to_numpy() for name in INPUTS}
    frame = pd.DataFrame(columns | Evaluator(case).evaluate(columns))
    return feasible_front(frame, case.scenario.objectives)


def thinned(front: pd.DataFrame, case: Case) -> pd.DataFrame:
    """Keep the designs that add most hypervolume, the least dropped first, some at a time."""
    while len(front) > MOST:
        box = np.clip(normalise(front, case.scenario.objectives), 0.0, 1.0)
        gains = moocore.hv_contributions(box, ref=np.ones(box.shape[1]))
        drop = max(1, min(len(front) - MOST, len(front) // 20))
        front = front.drop(front.index[np.argsort(gains, kind="stable")[:drop]])
    return front


def make(scenario: str, designs: int, seeds: list[int]) -> None:
    """Search long with each seed, join what was found with what is kept, and write the best."""
    case, path = load_scenario(scenario), kept(scenario)
    parts = [pd.read_csv(path, comment="#")[list(INPUTS)]] if path.exists() else []
    settings = {"seconds": None, "designs": designs, "leg_designs": 4096, "legs_per_round": 2}
    for seed in seeds:
        search = case.search.model_copy(update=settings | {"seed": seed})
        outcome = optimise(case.model_copy(update={"search": search}))
        parts.append(outcome.front[list(INPUTS)])
        print(
            f"seed {seed}: {outcome.designs_evaluated:,} designs, hypervolume {outcome.hypervolume:.5f}",
            flush=True,
        )
    front = judged(case, pd.concat(parts, ignore_index=True))
    best = thinned(front, case)
    whole, less = (hypervolume(normalise(one, case.scenario.objectives)) for one in (front, best))
    said = (
        f"{len(seeds)} searches of {designs} designs, seeds {seeds}, polished, joined with those kept before"
    )
    words = f"# {said}; hypervolume {less:.5f}"
    path.parent.mkdir(exist_ok=True)
    path.write_text(f"{words}\n{best[list(INPUTS)].to_csv(index=False)}", encoding="utf-8")
    print(f"{path.name}: {len(best)} of {len(front)} designs, hypervolume {less:.5f} of {whole:.5f}")


def niches(front: pd.DataFrame) -> pd.Series:
    """Name the niche of each design."""
    layouts = zip(
        *(front[name] for name in ("store_mode", "stages", "pressure_levels", "governing")), strict=True
    )
    words = [
        Layout(str(mode), int(stages), int(levels), governor).words
        for mode, stages, levels, governor in layouts
    ]
    return front["fluid"].astype(str) + ", " + pd.Series(words, index=front.index)


def that_count(front: pd.DataFrame, case: Case) -> dict[str, str]:
    """Return the niches of a front that must be found, and why."""
    objectives, names = case.scenario.objectives, niches(front)
    values = normalise(front, objectives)
    whole, found = hypervolume(values), {}
    for name in sorted(set(names)):
        share = 1.0 - hypervolume(values[(names != name).to_numpy()]) / whole
        if share >= HELD:
            found[name] = f"{100.0 * share:.1f} %"
    for axis, objective in enumerate(objectives):
        found.setdefault(names.iloc[int(np.argmin(values[:, axis]))], f"best {objective.figure}")
    return found


def compare(scenario: str, seconds: list[float], seeds: int, workers: int, clock: str) -> None:
    """Search with each seed and print how near it comes."""
    case = load_scenario(scenario)
    reference = judged(case, pd.read_csv(kept(scenario), comment="#"))
    bench = Bench(case, workers, clock)
    wanted = that_count(reference, case)
    print(
        f"reference {hypervolume(normalise(reference, case.scenario.objectives)):.5f}; niches that count: {wanted}"
    )
    runs, fronts, found = [], [], [normalise(reference, case.scenario.objectives)]
    for seed in range(1, seeds + 1):
        run = ours(bench, max(seconds), seed)
        runs.append(run)
        fronts.append(set(niches(run.front)))
        found.append(run.archive)
        words = " ".join(f"{at(run.history, moment):.4f}" for moment in seconds)
        missing = sorted(set(wanted) - fronts[-1])
        polished = hypervolume(run.archive)
        print(
            f"seed {seed}: {run.designs:,} designs, {words}, polished {polished:.4f}; lacks {missing}",
            flush=True,
        )
    bench.close()
    best = hypervolume(np.concatenate(found))
    print(f"best known, all joined: {best:.5f}")
    for moment in seconds:
        shares = sorted(at(run.history, moment) / best for run in runs)
        print(
            f"after {moment:.0f} s: median {np.median(shares):.2%}, least {shares[0]:.2%}, most {shares[-1]:.2%}"
        )
    shares = sorted(hypervolume(run.archive) / best for run in runs)
    print(f"polished: median {np.median(shares):.2%}, least {shares[0]:.2%}")
    for name, why in wanted.items():
        print(f"{name} ({why}): on {sum(name in front for front in fronts)} of {seeds} fronts")


def main() -> None:
    """Make or compare."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ways = options.add_subparsers(dest="way", required=True)
    making, comparing = ways.add_parser("make"), ways.add_parser("compare")
    for one in (making, comparing):
        one.add_argument("scenario")
    making.add_argument("--designs", type=int, default=500_000)
    making.add_argument("--seeds", type=int, nargs="+", default=[11, 12, 13])
    comparing.add_argument("--seconds", type=float, nargs="+", default=[10.0, 30.0, 60.0])
    comparing.add_argument("--seeds", type=int, default=8)
    comparing.add_argument("--workers", type=int, default=2)
    comparing.add_argument("--clock", choices=("wall", "processor"), default="processor")
    asked = options.parse_args()
    if asked.way == "make":
        make(asked.scenario, asked.designs, asked.seeds)
    else:
        compare(asked.scenario, asked.seconds, asked.seeds, asked.workers, asked.clock)


if __name__ == "__main__":
    main()
