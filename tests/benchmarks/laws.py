"""Count designs that break a law of nature and are called feasible, and exceptions, over all shipped scenarios.

Run from the project's folder: ``python -m tests.benchmarks.laws [N]``, N random designs in all (100,000). Tanks of
30 to 3000 L, collectors of 0.5 to 40 m2, both kinds of store, one to three stages and pressure levels. The laws
are worked out here from the hourly year anew, not read from the model's own guard. Prints zeros; status 1 if not.
"""

from __future__ import annotations

import sys
import traceback

import numpy as np

import explore
from explore.design.space import Space
from explore.model import Evaluator, years

SCENARIOS = ("orchard", "school_workshop", "island_workshop")
TANK_L, COLLECTOR_M2 = (30.0, 3000.0), (0.5, 40.0)
BATCH = 4096
ROUNDING = 1e-9
NEVER_NEGATIVE = (
    "collector_yield_kWh_per_year",
    "cooling_water_L_per_year",
    "shaft_energy_kWh_per_year",
    "served_share",
)
FINITE = (
    *NEVER_NEGATIVE,
    "sun_to_shaft_efficiency",
    "work_per_litre_kJ",
    "thermal_efficiency",
    "cost_EUR",
    "charge_kg",
)


class Watched(Evaluator):
    """An evaluator that keeps the performance of its last batches, for the year to be run again."""

    def perform(self, designs):
        """Run the cycles and remember them."""
        done = super().perform(designs)
        self.seen.append((designs, done))
        return done


def designs(space, rng, count):
    """Random designs, tanks and collectors evenly over the orders of magnitude."""
    columns = space.sample(count, rng)
    columns["store_volume_L"] = np.exp(rng.uniform(*np.log(TANK_L), count))
    columns["collector_area_m2"] = np.exp(rng.uniform(*np.log(COLLECTOR_M2), count))
    return columns


def breaks(evaluator, figures, rows):
    """Tell which designs break a law, from figures and the heat drawn in a second run of their year."""
    broken = np.zeros(rows, bool)
    for name in NEVER_NEGATIVE:
        broken |= ~(figures[name] >= 0.0)
    for name in FINITE:
        broken |= ~np.isfinite(figures[name])
    if len(evaluator.seen) == 1:
        lot, done = evaluator.seen[0]
        drawn = years.run(evaluator.year, evaluator.case, evaluator.plant, evaluator.water, lot, done)[
            years.DRAWN
        ]
        best = np.where(
            lot.stratified,
            done.rated.net_work / np.maximum(done.rated.hot_water, 1e-12) / done.circulation.heat,
            done.discharge.efficiencies.max(axis=1),
        )
        broken |= ~(drawn >= 0.0)
        broken |= figures["shaft_energy_kWh_per_year"] > drawn * best * (1.0 + ROUNDING) + ROUNDING
        carnot = 1.0 - evaluator.plant.machine.cooling_water_temperature / lot.top_temperature
        broken |= figures["sun_to_shaft_efficiency"] > carnot
    return broken


def main(count):
    """Print one line for each scenario and a sum; return the number of faults."""
    faults = 0
    for number, name in enumerate(SCENARIOS):
        case = explore.load_scenario(name)
        evaluator, space, rng = Watched(case), Space.from_case(case), np.random.default_rng(number)
        tried = feasible = possible = guarded = wrong = raised = 0
        while tried < count // len(SCENARIOS):
            rows = min(BATCH, count // len(SCENARIOS) - tried)
            columns, evaluator.seen = designs(space, rng, rows), []
            tried += rows
            try:
                figures = evaluator.evaluate(columns)
            except Exception:
                traceback.print_exc()
                raised += 1
                continue
            good = figures["feasible"]
            feasible += int(good.sum())
            possible += int(figures["possible"].sum())
            guarded += int((figures["violation_laws_of_nature_fraction"] > 0.0).sum())
            wrong += int((breaks(evaluator, figures, rows) & figures["possible"]).sum())
            print(f"{name} {tried:,d} designs, law-breakers {wrong}", end="\r", file=sys.stderr, flush=True)
        print(
            f"{name:16s} {tried:8,d} designs, {possible:,} possible, {feasible:,} feasible; "
            f"held back by the guard {guarded}, law-breakers let through {wrong}, exceptions {raised}",
            flush=True,
        )
        faults += wrong + raised
    print(f"faults {faults}")
    return faults


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000) > 0)
