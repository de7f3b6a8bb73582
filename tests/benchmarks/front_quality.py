"""Hypervolume over time: this search, plain random search, Optuna's own samplers, and pymoo's NSGA-II and NSGA-III.

All run on the same model in the same number of worker processes. The reference is the non-dominated set
of a quasi-random sample united with every run's archive; normalisation and reference point are the scenario's.

    python -m tests.benchmarks.front_quality --seconds 60 --seeds 5 --sample 2000000

prints the median share of the reference's hypervolume at each tenth of the time. Needs the extra ``benchmarks``.

On a machine that others use too, ``--clock processor`` counts, instead of wall time, the processor time of
this process plus that of the workers divided by their number: on an idle machine that is the wall time of the
methods that wait for each batch, and more than the wall time of this search, which does not. Linux only.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import time
from collections.abc import Callable
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from explore import load_scenario
from explore.config.schema import Case
from explore.design.space import Space
from explore.judgement.front import hypervolume, nondominated, normalise
from explore.search import Progress, optimise
from explore.search.crew import Kit, all_done, crew_of
from explore.search.judge import Judged, judge
from explore.search.population import Genes
from explore.search.run import model

BATCH = 4096


@dataclass
class Run:
    """One run: (seconds, hypervolume) after each batch, and the archive of all it found."""

    history: list[tuple[float, float]] = field(default_factory=list)
    archive: np.ndarray = field(default_factory=lambda: np.empty((0, 3)))
    designs: int = 0
    front: pd.DataFrame = field(default_factory=pd.DataFrame)

    def take(self, judged: Judged, seconds: float) -> None:
        """Take an evaluated batch into the archive."""
        pool = np.concatenate([self.archive, judged.values[judged.feasible]])
        self.archive = pool[nondominated(pool)]
        self.designs += len(judged.values)
        self.history.append((seconds, hypervolume(self.archive)))


def _ticks_below(process: str) -> int:
    """Processor time of all processes that have come of one, with theirs [ticks]."""
    ticks = 0
    for task in Path(f"/proc/{process}/task").iterdir():
        with suppress(FileNotFoundError):  # a thread or a process has just ended
            for child in (task / "children").read_text().split():
                words = Path(f"/proc/{child}/stat").read_text().rpartition(")")[2].split()
                ticks += int(words[11]) + int(words[12]) + _ticks_below(child)
    return ticks


class Bench:
    """A case, its worker processes, and the clock: a function of no arguments that tells seconds."""

    def __init__(self, case: Case, workers: int, clock: str):
        self.case, self.space, self.workers = case, Space.from_case(case), workers
        self.clock = time.perf_counter if clock == "wall" else self._processor_seconds
        self._engaged = ExitStack()
        crew = crew_of(workers, Kit(case, self.space, model), lambda: model(case))
        self.crew = self._engaged.enter_context(crew)
        rng = np.random.default_rng(0)
        all_done(self.crew, [Genes(*self.space.sample_genes(200, rng))] * 2 * workers)

    def close(self) -> None:
        """End the processes."""
        self._engaged.close()

    def _processor_seconds(self) -> float:
        return time.process_time() + _ticks_below("self") / os.sysconf("SC_CLK_TCK") / self.workers

    def judged(self, genes: Genes) -> Judged:
        """Evaluate genes, divided evenly between the processes."""
        parts = np.array_split(np.arange(len(genes)), self.crew.size)
        outcomes = all_done(self.crew, [genes.take(rows) for rows in parts])
        columns = {name: np.concatenate([o[name] for o in outcomes]) for name in outcomes[0]}
        return judge(columns, self.case.scenario.objectives)


def ours(bench: Bench, seconds: float, seed: int, sampler: str = "islands") -> Run:
    """Run a search as the command does, by this or another sampler, ended by Ctrl-C when the time is up."""
    run, started, case = Run(), bench.clock(), bench.case
    settings = {"seconds": 1e9, "designs": None, "seed": seed, "workers": bench.workers, "sampler": sampler}
    search = case.search.model_copy(update=settings)

    def note(progress: Progress) -> None:
        run.history.append((bench.clock() - started, progress.hypervolume))
        if run.history[-1][0] >= seconds and signal.getsignal(signal.SIGINT) != signal.default_int_handler:
            os.kill(os.getpid(), signal.SIGINT)

    outcome = optimise(case.model_copy(update={"search": search}), progress=note)
    run.archive = normalise(outcome.front, case.scenario.objectives)
    run.front, run.designs = outcome.front, outcome.designs_evaluated
    return run


def random_search(bench: Bench, seconds: float, seed: int, *, designs: int | None = None) -> Run:
    """Evaluate quasi-random designs until the time is up, or so many of them."""
    run, started, rng = Run(), bench.clock(), np.random.default_rng(seed)
    while (bench.clock() - started < seconds) if designs is None else run.designs < designs:
        genes = Genes(*bench.space.sample_genes(BATCH * bench.crew.size, rng, quasi=True))
        run.take(bench.judged(genes), bench.clock() - started)
    return run


def pymoo_search(bench: Bench, seconds: float, seed: int, name: str, population: int) -> Run:
    """Run one of pymoo's algorithms with its default operators; choices are rounded down from [0, 1)."""
    from pymoo.algorithms.moo.nsga2 import NSGA2
    from pymoo.algorithms.moo.nsga3 import NSGA3
    from pymoo.core.problem import Problem
    from pymoo.core.termination import NoTermination
    from pymoo.util.ref_dirs import get_reference_directions

    space, run = bench.space, Run()
    counts = np.array(space.choice_counts)

    class Designs(Problem):
        def __init__(self) -> None:
            super().__init__(n_var=space.dimensions + len(counts), n_obj=3, n_ieq_constr=1, xl=0.0, xu=1.0)

        def _evaluate(self, x: np.ndarray, out: dict[str, Any], *_: Any, **__: Any) -> None:
            choices = np.minimum((x[:, space.dimensions :] * counts).astype(int), counts - 1)
            judged = bench.judged(Genes(x[:, : space.dimensions], choices))
            out["F"], out["G"] = judged.values, judged.breach[:, None]
            run.take(judged, bench.clock() - started)

    if name == "NSGA-II":
        algorithm = NSGA2(pop_size=population)
    else:
        directions = get_reference_directions("energy", 3, population, seed=1)
        algorithm = NSGA3(directions, pop_size=population)
    algorithm.setup(Designs(), termination=NoTermination(), seed=seed)
    started = bench.clock()
    while bench.clock() - started < seconds:
        algorithm.next()
    return run


def at(history: list[tuple[float, float]], seconds: float) -> float:
    """Hypervolume reached by a moment."""
    return max((volume for moment, volume in history if moment <= seconds), default=0.0)


def main() -> None:
    """Run all methods with all seeds and print the table."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--scenario", default="orchard")
    options.add_argument("--seconds", type=float, default=60.0)
    options.add_argument("--seeds", type=int, default=5)
    options.add_argument("--sample", type=int, default=2_000_000)
    options.add_argument("--workers", type=int, default=2)
    options.add_argument("--populations", type=int, nargs="+", default=[200, 400, 2000])
    options.add_argument("--samplers", nargs="*", default=["nsga2", "nsga3", "tpe", "qmc"])
    options.add_argument("--clock", choices=("wall", "processor"), default="wall")
    options.add_argument("--json", type=Path)
    asked = options.parse_args()
    case = load_scenario(asked.scenario)
    bench = Bench(case, asked.workers, asked.clock)
    methods: dict[str, Callable[[int], Run]] = {
        "this search": lambda seed: ours(bench, asked.seconds, seed),
        "random": lambda seed: random_search(bench, asked.seconds, seed),
    }
    for name in asked.samplers:
        methods[f"Optuna {name}"] = lambda seed, name=name: ours(bench, asked.seconds, seed, name)
    for name in ("NSGA-II", "NSGA-III"):
        for population in asked.populations:
            methods[f"pymoo {name} {population}"] = lambda seed, name=name, population=population: (
                pymoo_search(bench, asked.seconds, seed, name, population)
            )
    runs: dict[str, list[Run]] = {name: [] for name in methods}
    for seed in range(1, asked.seeds + 1):
        for name, method in methods.items():
            run = method(seed)
            runs[name].append(run)
            reached = " ".join(f"{at(run.history, moment):.4f}" for moment in _moments(asked.seconds))
            print(f"seed {seed}: {name}: {run.designs:,} designs, {reached}", flush=True)
    sample = random_search(bench, 0.0, 1000, designs=asked.sample)
    bench.close()
    found = np.concatenate([sample.archive, *(run.archive for group in runs.values() for run in group)])
    reference = hypervolume(found[nondominated(found)])
    report(runs, sample, reference, asked.seconds)
    if asked.json:
        asked.json.write_text(
            json.dumps(
                {"reference": reference, "runs": {n: [r.history for r in group] for n, group in runs.items()}}
            )
        )


def _moments(seconds: float) -> np.ndarray:
    return np.linspace(seconds / 10.0, seconds, 10)


def report(runs: dict[str, list[Run]], sample: Run, reference: float, seconds: float) -> None:
    """Print the median share of the reference over time."""
    moments = _moments(seconds)
    print(
        f"\nreference hypervolume {reference:.5f}; the {sample.designs:,} sampled designs alone reach",
        end=" ",
    )
    print(f"{at(sample.history, np.inf) / reference:.1%}\n")
    print(
        f"{'share of the reference after s':32}"
        + "".join(f"{moment:8.0f}" for moment in moments)
        + "   designs"
    )
    for name, group in runs.items():
        shares = [np.median([at(run.history, moment) for run in group]) / reference for moment in moments]
        designs = int(np.median([run.designs for run in group]))
        print(f"{name:32}" + "".join(f"{share:8.2%}" for share in shares) + f"{designs:10,}")


if __name__ == "__main__":
    main()
