"""Which results a constant of the model moves: each is changed a little, on a few designs of both stores."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from explore.config.doubtful import counts
from explore.judgement import hazards
from explore.model import Evaluator

if TYPE_CHECKING:
    import pandas as pd

    from explore.config.schema import Case, Checked

Columns = dict[str, np.ndarray]

STEP = 0.05
GROUPS = ("engine", "costs")
LABELS = ("price_year",)
"""Values that say what the others mean and enter no figure."""
MAIN = {
    "work_per_litre_kJ": "work/L",
    "thermal_efficiency": "efficiency",
    "served_share": "served",
    "cost_EUR": "cost",
    "cost_EUR_per_kWh": "cost/kWh",
}
MOVED = 1e-9

NONE = np.nan
DESIGNS: tuple[dict[str, Any], ...] = (
    {"fluid": "n-Butane", "store_mode": "stratified", "evaporating_temperature_degC": 55.0, "pinch_boiler_K": 4.0,
     "stages": 1, "pressure_levels": 1, "regenerator_effectiveness": 0.0},
    {"fluid": "IsoButane", "store_mode": "stratified", "evaporating_temperature_degC": 68.0,
     "lowest_evaporating_temperature_degC": 45.0, "pinch_boiler_K": 4.0, "stages": 2, "pressure_levels": 2,
     "regenerator_effectiveness": 0.6},
    {"fluid": "n-Butane", "store_mode": "mixed", "boil_approach_K": 6.0, "stop_temperature_degC": 58.0, "stages": 1,
     "pressure_levels": 1, "regenerator_effectiveness": 0.0, "governing": "cut_off"},
    {"fluid": "R1233zd(E)", "store_mode": "mixed", "boil_approach_K": 6.0, "stop_temperature_degC": 58.0, "stages": 2,
     "pressure_levels": 1, "regenerator_effectiveness": 0.5, "speed_rev_per_min": 75.0},
)  # fmt: skip
SHARED: dict[str, Any] = {
    "top_temperature_degC": 90.0,
    "evaporating_temperature_degC": NONE,
    "lowest_evaporating_temperature_degC": NONE,
    "boil_approach_K": NONE,
    "stop_temperature_degC": NONE,
    "superheat_K": 2.0,
    "condensing_temperature_degC": 24.0,
    "subcooling_K": 1.0,
    "pinch_boiler_K": NONE,
    "pinch_condenser_K": 4.0,
    "release_pressure_ratio": 1.3,
    "store_volume_L": 500.0,
    "insulation_mm": 100.0,
    "collector_area_m2": 9.0,
    "speed_rev_per_min": 300.0,
    "cylinders_per_stage": 1,
    "governing": "throttle",
    "sizing_share": 0.25,
}
BANKS = {"battery_EUR_per_kWh": "battery", "header_tank_EUR_per_m3": "tank"}
"""Prices that count where the day's work is banked, and in what."""
GEAR = ("cut_off_gear_EUR", "drive_EUR_per_ratio_4")
"""Prices that count where speed and governor are chosen, which constant losses do not know of."""


def designs(case: Case) -> Columns:
    """Return the fixed designs as columns, their collector the first of the case; where a bank is, one runs free."""
    kind = next(iter(case.collectors.values())).name
    rows = [SHARED | {"collector": kind} | design for design in DESIGNS]
    if case.scenario.demand.bank == "day":
        rows[-1]["governing"] = "free"
    return {name: np.array([row[name] for row in rows]) for name in rows[0]}


def influence(case: Case, step: float = STEP, evaluator: Evaluator | None = None) -> pd.DataFrame:
    """Change every constant of the engine and every price by ``step`` (a share) and see what moves.

    Returns one row a constant, the most influential first: ``group``, ``constant``, ``value``, ``unit``, ``moved`` (the
    figures that change at all, separated by spaces), ``most_moved`` and ``most_percent`` (the figure that changes most,
    margins to limits left out), and for each of :data:`MAIN` its greatest change over the designs [%]. A
    constant that may not grow is lowered; :data:`LABELS` are left out. ``evaluator`` is one of the case, if there is.
    """
    import pandas as pd

    base = evaluator or Evaluator(case)
    columns = designs(case)
    before = figures(base, columns)
    rows = []
    for group, name, changed in variants(case, step):
        after = figures(base.under(changed), columns)
        about = getattr(case, group)
        extra: Any = type(about).model_fields[name].json_schema_extra
        head = {"group": group, "constant": name, "value": getattr(about, name), "unit": extra["unit"]}
        rows.append(head | _compared(before, after))
    frame = pd.DataFrame(rows)
    weight = frame[list(MAIN)].abs().max(axis=1)
    return frame.loc[weight.sort_values(ascending=False, kind="stable").index].reset_index(drop=True)


def variants(case: Case, step: float) -> Iterator[tuple[str, str, Case]]:
    """Yield group, name and the case with that one constant changed, for constants that the case's laws use."""
    for group in GROUPS:
        values: Checked = getattr(case, group)
        for name, field in type(values).model_fields.items():
            number = isinstance(field.json_schema_extra, dict) and "unit" in field.json_schema_extra
            if number and name not in LABELS and counts(case, group, name, laws=True) and _paid(case, name):
                yield group, name, case.model_copy(update={group: shifted(values, name, step)})


def _paid(case: Case, name: str) -> bool:
    demand = case.scenario.demand
    banked = name not in BANKS or (demand.bank == "day" and demand.bank_kind == BANKS[name])
    return banked and (name not in GEAR or case.engine.losses == "scaling")


def shifted(values: Checked, name: str, step: float) -> Checked:
    """Return a group with one value larger by ``step``, or smaller where the larger one is out of range."""
    from pydantic import ValidationError

    old, others = getattr(values, name), values.model_dump()
    try:
        return type(values).model_validate(others | {name: old * (1.0 + step)})
    except ValidationError:
        return type(values).model_validate(others | {name: old * (1.0 - step)})


def figures(evaluator: Evaluator, columns: Columns) -> Columns:
    """Evaluate the designs; to the reported figures comes the margin of the pump's suction, which a caution shows."""
    found = evaluator.evaluate(columns)
    required = evaluator.case.engine.pump_required_head_m
    margin = hazards.suction_head_margin_m(found["suction_head_m"], required)
    numbers = {name: values for name, values in found.items() if values.dtype != object}
    return numbers | {"suction_head_margin_m": margin}


def _compared(before: Columns, after: Columns) -> dict[str, Any]:
    changes = {name: _change(before[name], after[name]) for name in before}
    moved = [name for name, change in changes.items() if abs(change) > MOVED]
    figures_moved = [name for name in moved if not name.startswith("violation_") and "_margin_" not in name]
    most = max(figures_moved or moved, key=lambda name: abs(changes[name]), default="")
    main = {name: 100.0 * changes[name] for name in MAIN}
    return {
        "moved": " ".join(moved),
        "most_moved": most,
        "most_percent": 100.0 * changes[most] if most else 0.0,
    } | main


def _change(before: np.ndarray, after: np.ndarray) -> float:
    """Greatest relative change over the designs, with its sign; a figure that is nothing before counts whole."""
    old, new = np.asarray(before, dtype=float), np.asarray(after, dtype=float)
    known = np.isfinite(old) & np.isfinite(new)
    if not known.any():
        return 0.0
    change = (new[known] - old[known]) / np.where(old[known] == 0.0, 1.0, np.abs(old[known]))
    return float(change[np.argmax(np.abs(change))])
