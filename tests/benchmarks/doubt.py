"""How long a study of doubt takes, and how much memory: ``python -m tests.benchmarks.doubt results/<scenario>/<time>``.

Prints what the whole of 1,000 worlds times 300 designs would take, also by processor time alone, for a busy machine;
and the memory of all processes at each tenth of the way, which should stay flat once every worker has its tables.
Nothing is kept beside the run.
"""

from __future__ import annotations

import argparse
import os
import time
from dataclasses import dataclass, field, replace
from pathlib import Path

from explore.doubt.choose import chosen
from explore.doubt.judge import Done
from explore.doubt.study import bench, study
from explore.model import Evaluator
from explore.run import reader
from explore.run.files import read_frame

WHOLE = 1000 * 300
MB = 2**20


def memory_MB() -> float:
    """Resident memory of this process and all that came of it [MB], as Linux tells it; what they share counts once each."""
    pids, found = set(), [os.getpid()]
    while found:
        pids.add(pid := found.pop())
        tasks = Path(f"/proc/{pid}/task").glob("*/children")
        found += [int(child) for children in tasks for child in children.read_text().split()]
    pages = 0
    for pid in pids:
        try:
            pages += int(Path(f"/proc/{pid}/statm").read_text().split()[1])
        except OSError:  # it has ended meanwhile
            continue
    return pages * os.sysconf("SC_PAGE_SIZE") / MB


@dataclass
class Watch:
    """Notes time and memory as a study goes on."""

    started: float = field(default_factory=time.perf_counter)
    rows: list[tuple[int, float, float]] = field(default_factory=list)

    def see(self, done: Done) -> None:
        """Note each tenth of the way."""
        tenth = 10 * done.worlds // max(done.of, 1)
        if not self.rows or tenth > self.rows[-1][0]:
            self.rows.append((tenth, time.perf_counter() - self.started, memory_MB()))


def main() -> None:
    """Time one study and print what it took."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("run", type=Path)
    parser.add_argument("--draws", type=int, default=64)
    parser.add_argument("--designs", type=int, default=300)
    parser.add_argument("--workers", type=int, default=2)
    asked = parser.parse_args()
    case, picks = reader.judged_case(asked.run), reader.read_summary(asked.run).get("picks", ())
    front, archive = (read_frame(asked.run / name) for name in ("front.csv", "designs.csv"))
    designs = chosen(case, front, archive, picks, asked.designs)
    watch = Watch()
    with bench(Evaluator(case), asked.workers) as quiet:
        study(replace(quiet, progress=watch.see), designs, asked.draws)
    seconds = time.perf_counter() - watch.started
    for tenth, passed, memory in watch.rows:
        print(f"{10 * tenth:3d} %  {passed:7.1f} s  {memory:7.0f} MB")
    count = asked.draws * len(designs)
    spent = sum(os.times()[:4])  # of the workers too, which have ended
    print(
        f"{asked.draws} worlds x {len(designs)} designs, {asked.workers} workers: {seconds:.1f} s, "
        f"{spent:.1f} s of processors"
    )
    start = (
        watch.rows[1][1] if len(watch.rows) > 2 else 0.0
    )  # workers read tables before their first chunk ends
    rate = (seconds - start) / max(count * (1.0 - watch.rows[1][0] / 10.0), 1.0) if start else seconds / count
    print(
        f"1,000 worlds x 300 designs at this pace: {(start + rate * WHOLE) / 60.0:.1f} min; by processor time "
        f"{spent / count * WHOLE / 60.0 / asked.workers:.1f} min, start included as if it grew with the worlds"
    )


if __name__ == "__main__":
    main()
