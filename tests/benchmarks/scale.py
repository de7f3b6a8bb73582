"""What many legs cost beside the model: a campaign with a cheap problem in place of it, then the same gone on with.

    python -m tests.benchmarks.scale --legs 2000 --leg-designs 2048
    python -m tests.benchmarks.scale --legs 8000 --leg-designs 20480 --written 5900

prints, tenth by tenth, the milliseconds a leg (breeding, filing, taking into the archive and the campaign's book), what the
run's folder weighs, and then how long a fresh process takes to go on with it, and the most memory each of the two held.
A cost a leg that grows from tenth to tenth would forbid long campaigns. With ``--written`` nothing is bred: the legs, of so
many designs each, and the campaign's book are written as a search writes them, and the campaign is gone on with by two
rounds: first without the bookmark that a search keeps, so that every leg is read, then by two rounds more from it.
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

from explore.config.schema import Case
from explore.search import optimise
from explore.search.outcome import Progress
from tests.benchmarks.written_campaign import write_campaign
from tests.search.toy import ToyEvaluator, toy_case

KB_PER_MB = 1024.0
"""Exact; Linux counts the memory of a process in kB."""
ROUND = 8


def case_of(legs: int, leg_designs: int, archive: int) -> Case:
    """Make the case of a campaign of so many legs."""
    return toy_case(
        designs=legs * leg_designs,
        leg_designs=leg_designs,
        largest_leg_designs=leg_designs,
        legs_per_round=ROUND,
        archive_designs=archive,
        population=100,
    )


def campaign(folder: Path, legs: int, leg_designs: int, archive: int) -> None:
    """Run the campaign in ``folder``, or go on with it, and print what it took."""
    marks: list[tuple[int, float]] = [(0, time.perf_counter())]

    def progress(state: Progress) -> None:
        if state.legs >= marks[-1][0] + max(1, legs // 10) or state.legs == legs:
            marks.append((state.legs, time.perf_counter()))
            (before, then), (now, here) = marks[-2:]
            print(
                f"  legs {before:6d} to {now:6d}: {1e3 * (here - then) / (now - before):7.1f} ms a leg",
                flush=True,
            )

    case = case_of(legs, leg_designs, archive)
    outcome = optimise(case, evaluator=ToyEvaluator, run_folder=folder, progress=progress)
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / KB_PER_MB
    parts = ", ".join(f"{part} {seconds:.1f} s" for part, seconds in outcome.timings_s.items())
    print(
        f"  {outcome.designs_evaluated:,} designs, hypervolume {outcome.hypervolume:.6f}, front {len(outcome.front):,}, "
        f"most memory {most:,.0f} MB; {parts}",
        flush=True,
    )


def main() -> None:
    """Run or write the campaign, then go on with it in another process."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--legs", type=int, default=1000)
    options.add_argument("--leg-designs", type=int, default=2048)
    options.add_argument("--archive", type=int, default=20_000)
    options.add_argument("--written", type=int, default=0)
    options.add_argument("--folder", type=Path)
    asked = options.parse_args()
    if asked.written > asked.leg_designs:
        options.error(
            f"--written={asked.written} is more than the --leg-designs={asked.leg_designs} of a leg"
        )
    if asked.folder is not None:
        campaign(asked.folder, asked.legs, asked.leg_designs, asked.archive)
        return
    with tempfile.TemporaryDirectory() as place:
        ways = {"from nothing": asked.legs, "gone on with": asked.legs}
        if asked.written:
            started = time.perf_counter()
            case = case_of(asked.legs, asked.leg_designs, asked.archive)
            write_campaign(Path(place), case, asked.legs, asked.written)
            print(f"written: {time.perf_counter() - started:.1f} s, {weight_MB(place):,.0f} MB", flush=True)
            ways = {
                "gone on with, every leg read": asked.legs + 2 * ROUND,
                "gone on with from its bookmark": asked.legs + 4 * ROUND,
            }
        for words, legs in ways.items():
            again = [sys.executable, "-m", "tests.benchmarks.scale", "--folder", place, "--legs", str(legs)]
            again += ["--leg-designs", str(asked.leg_designs), "--archive", str(asked.archive)]
            started = time.perf_counter()
            print(words, flush=True)
            subprocess.run(again, check=True)
            print(
                f"  {time.perf_counter() - started:.1f} s in all; the folder holds {weight_MB(place):,.0f} MB"
            )


def weight_MB(place: str) -> float:
    """Add up the files of a folder."""
    return sum(os.path.getsize(file) for file in Path(place).rglob("*") if file.is_file()) / 1e6


if __name__ == "__main__":
    main()
