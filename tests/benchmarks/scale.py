"""What many legs cost beside the model: a campaign with a cheap problem in place of it, then the same gone on with.

    python -m tests.benchmarks.scale --legs 2000 --leg-designs 2048

prints, tenth by tenth, the milliseconds a leg (breeding, filing, taking into the archive and the campaign's book), what the
run's folder weighs, and then how long a fresh process takes to go on with it, and the most memory each of the two held.
A cost a leg that grows from tenth to tenth would forbid long campaigns.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from explore.search import optimise
from explore.search.outcome import Progress
from tests.search.toy import ToyEvaluator, toy_case

KB_PER_MB = 1024.0
"""Exact; Linux counts the memory of a process in kB."""


def campaign(folder: Path, legs: int, leg_designs: int, archive: int) -> None:
    """Run the campaign in ``folder``, or go on with it, and print what it took."""
    case = toy_case(
        designs=legs * leg_designs,
        leg_designs=leg_designs,
        legs_per_round=8,
        archive_designs=archive,
        population=100,
    )
    marks: list[tuple[int, float]] = [(0, time.perf_counter())]

    def progress(state: Progress) -> None:
        if state.legs >= marks[-1][0] + max(1, legs // 10) or state.legs == legs:
            marks.append((state.legs, time.perf_counter()))
            (before, then), (now, here) = marks[-2:]
            print(
                f"  legs {before:6d} to {now:6d}: {1e3 * (here - then) / (now - before):7.1f} ms a leg",
                flush=True,
            )

    outcome = optimise(case, evaluator=ToyEvaluator, run_folder=folder, progress=progress)
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / KB_PER_MB
    print(
        f"  {outcome.designs_evaluated:,} designs, hypervolume {outcome.hypervolume:.6f}, most memory {most:,.0f} MB",
        flush=True,
    )


def main() -> None:
    """Run the campaign, then go on with it in another process."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--legs", type=int, default=1000)
    options.add_argument("--leg-designs", type=int, default=2048)
    options.add_argument("--archive", type=int, default=20_000)
    options.add_argument("--folder", type=Path)
    asked = options.parse_args()
    if asked.folder is not None:
        campaign(asked.folder, asked.legs, asked.leg_designs, asked.archive)
        return
    with tempfile.TemporaryDirectory() as place:
        again = [sys.executable, "-m", "tests.benchmarks.scale", "--folder", place]
        again += [
            "--legs",
            str(asked.legs),
            "--leg-designs",
            str(asked.leg_designs),
            "--archive",
            str(asked.archive),
        ]
        for words in ("from nothing", "gone on with"):
            started = time.perf_counter()
            print(words, flush=True)
            subprocess.run(again, check=True)
            size = sum(os.path.getsize(file) for file in Path(place).rglob("*") if file.is_file())
            print(f"  {time.perf_counter() - started:.1f} s in all; the folder holds {size / 1e6:,.0f} MB")


if __name__ == "__main__":
    main()
