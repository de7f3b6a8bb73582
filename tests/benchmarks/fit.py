"""Whether fitted intervals keep what they say: python -m tests.benchmarks.fit [LOGS] [WHAT].

Invented logs, made by the model with constants drawn from their bands and with noise, conditions too. For each constant:
in how many logs it was identified, and in how many of these the true one lay in its 90 % interval. With ``films`` the logs
are those of boilers, coils and condensers of two invented plants, with ``power`` those of whole plants whose flow was not
read, else of an engine, its pump and store. ``series`` and ``compound`` are the same of boilers in series, ``glide`` as
``films`` of a mixture, ``wet`` of a condenser whose exhaust is wet, ``boilers`` as ``series`` without the condenser,
``tubes`` of exchangers made of tubes, ``tubes_power`` as ``power`` of these.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from explore.bench.fit import fit
from explore.config.compose import load_scenario
from tests.bench.synthetic_log import Count, synthetic
from tests.bench.synthetic_plant import (
    boilers_in_series,
    by_power,
    compound,
    gliding,
    in_series,
    of_tubes,
    synthetic_plant,
    tubes_by_power,
    weighed,
)

MADE = {
    "films": synthetic_plant,
    "power": by_power,
    "series": in_series,
    "compound": compound,
    "glide": gliding,
    "wet": weighed,
    "boilers": boilers_in_series,
    "tubes": of_tubes,
    "tubes_power": tubes_by_power,
}
"""What makes a log, by the word typed."""


def main(logs: int, what: str) -> None:
    """Print one line a constant, and all of them together."""
    made = MADE.get(what, synthetic)
    case, count, start = load_scenario("orchard"), Count(), time.process_time()
    for seed in range(logs):
        log, truth, bench = made(case, seed)
        count.add(fit(log, bench), truth)
    for name, widths in count.widths.items():
        told, inside = count.told.get(name, 0), count.inside.get(name, 0)
        share = f"{100.0 * inside / told:5.1f} %" if told else "      -"
        found = f"identified in {told:3} of {len(widths):3}, inside {inside:3} ({share})"
        print(f"{name:28} {found}, width {np.median(widths):.2f}")
    told, inside = sum(count.told.values()), sum(count.inside.values())
    print(f"all: {inside} of {told} inside, {100.0 * count.share:.1f} %")
    print(f"misfit up to {max(count.misfits):.2f}; {time.process_time() - start:.0f} s of processor time")


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:] if word.isdecimal()]
    main(numbers[0] if numbers else 100, sys.argv[-1])
