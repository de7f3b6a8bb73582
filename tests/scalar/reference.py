"""Print the reference figures of seeded designs as JSON, to hold the batch model against.

Run from the project's folder: ``python -m tests.scalar.reference [--designs N] [--seed S] [--set NAME]
[--structure NAME]``. One record a design: its input columns, its figures in SI (w_net in J/kg, V_D in m3,
pressures in Pa, speeds in rev/min), and the violations above zero. A design that cannot be computed
carries the constraint that it breaks and no figures.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from typing import Any

from tests.scalar.cycle import InfeasibleError
from tests.scalar.designs import machine_designs, plain_case
from tests.scalar.laws import MILD, ROOT, SETS, Laws, Load, StageLosses
from tests.scalar.model import Computed, evaluate_cycle

STRUCTURES = ("stratified", "mixed")
# Every governor is allowed, so that each can be compared.
LOAD = Load(speed_may_fall=True, bank="day")


def losses_record(losses: list[StageLosses]) -> dict[str, list[float]]:
    """Return the losses of the stages, one list a kind; fmep in Pa."""
    return {
        "d_in": [x.admission_pressure_loss for x in losses],
        "d_out": [x.exhaust_pressure_loss for x in losses],
        "lambda": [x.leakage_fraction for x in losses],
        "chi": [x.wall_loss_fraction for x in losses],
        "fmep": [x.friction_mean_pressure_bar * 1e5 for x in losses],
    }


def record(computed: Computed) -> dict[str, Any]:
    """Figures of one design in SI; the losses are those of the rated point."""
    figures, sized, node = computed.figures, computed.sized, computed.full_store
    if sized is None:
        raise ValueError("the set constant has no cylinders of its own: take any other set")
    found: dict[str, Any] = {
        "w_net": sized.rated.net,
        "w_net_size": sized.at_size.net,
        "heat": sized.rated.heat,
        "V_D": [c.volume for c in sized.cylinders],
        "bore": [c.bore for c in sized.cylinders],
        "ratio": [s.ratio for s in sized.rated.stages],
        **losses_record(sized.losses),
        "eta_pump": figures["pump_efficiency"],
        "eta_drive": figures["drive_efficiency"],
        "flow": sized.flow,
        "W_l": figures["work_per_litre_kJ"] * 1e6,
        "speeds": {where: figures[f"speed_{where}_rev_per_min"] for where in ("full", "rated", "size")},
        "torques": {where: figures[f"torque_{where}_Nm"] for where in ("full", "rated", "size")},
        "boiler_area": figures["boiler_area_m2"],
        "condenser_area": figures["condenser_area_m2"],
        "store_loss": figures["store_loss_W_per_K"],
        "autonomy_hours": figures["autonomy_hours"],
        "outside_measured": bool(figures["outside_measured"]),
        "residual": sized.residual,
    }
    if node is not None:
        found["full_store"] = {
            "power": node.power,
            "w_net": node.cycle.net,
            "p_inlet": node.p_inlet,
            "cut_off": node.cut_off,
            "receivers": [s.p_in for s in node.cycle.stages[1:]],
            **losses_record(node.losses),
        }
    return found


def references(n: int, seed: int, store_mode: str, laws: Laws) -> list[dict[str, Any]]:
    """Return the records of ``n`` seeded designs of one kind of store."""
    case, records = plain_case(), []
    for design in machine_designs(n, seed, store_mode):
        entry: dict[str, Any] = {"design": design}
        try:
            computed = evaluate_cycle(design, case, laws=laws, load=LOAD)
        except (InfeasibleError, ArithmeticError, ValueError) as broken:
            entry["broken"] = str(broken)
        else:
            entry["figures"] = record(computed)
            entry["violations"] = {k: v for k, v in computed.violations.items() if v > 0}
        records.append(entry)
    return records


def without_nan(value: Any) -> Any:
    """Replace what JSON cannot hold by null."""
    if isinstance(value, dict):
        return {k: without_nan(v) for k, v in value.items()}
    if isinstance(value, list):
        return [without_nan(v) for v in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def main(arguments: list[str] | None = None) -> None:
    """Print one JSON list."""
    sets = {name: laws for name, laws in SETS.items() if laws.scaled} | {"mild": MILD, "root": ROOT}
    parser = argparse.ArgumentParser(description="Reference figures of seeded designs as JSON.")
    parser.add_argument("--designs", type=int, default=46, help="designs of each kind of store")
    parser.add_argument("--seed", type=int, default=9)
    parser.add_argument("--set", choices=sorted(sets), default="careful")
    parser.add_argument("--structure", choices=STRUCTURES, help="both if not given")
    chosen = parser.parse_args(arguments)
    modes = [chosen.structure] if chosen.structure else STRUCTURES
    rows = [r for mode in modes for r in references(chosen.designs, chosen.seed, mode, sets[chosen.set])]
    json.dump(without_nan(rows), sys.stdout, indent=1, allow_nan=False)
    sys.stdout.write("\n")


if __name__ == "__main__":
    main()
