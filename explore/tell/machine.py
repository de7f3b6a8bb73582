"""A given machine in the terminal: a line a condition, then what each loss takes, stage by stage."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

from explore.figures.names import parted
from explore.tell.terminal import table, width
from explore.units import fixed

if TYPE_CHECKING:
    import pandas as pd

    from explore.model.given import GivenRun

CELLS = 100
"""Columns of a remark: the widest that is read with ease."""
MOST_LINES = 40
"""Conditions that a terminal shows; a table for a program goes to a file."""
HEADS = {
    "speed_rev_per_min": ("speed", 0),
    "inlet_pressure_bar_a": ("in", 2),
    "inlet_temperature_degC": ("in", 1),
    "inlet_quality": ("quality", 3),
    "outlet_pressure_bar_a": ("out", 2),
    "flow_kg_per_h": ("flow", 2),
    "indicated_power_W": ("indicated", 1),
    "shaft_power_W": ("shaft", 1),
    "torque_Nm": ("torque", 2),
    "indicated_efficiency": ("indicated", 3),
    "shaft_efficiency": ("shaft", 3),
    "mechanical_efficiency": ("mechanical", 3),
    "missing_quantity": ("missing", 3),
}
"""Heading and decimals of each column of a table of conditions."""
LOSSES = ("valves", "clearance_and_release", "leak", "walls", "friction")


def machine_table(run: GivenRun, engine: str) -> str:
    """Lay a given machine out; ``engine`` names the losses used."""
    figures = run.figures
    shown = figures.head(MOST_LINES)
    columns = [name for name in HEADS if name in figures]
    lines = [_heading(run, engine), "", *_columns(shown, [(name, *HEADS[name]) for name in columns])]
    for number in range(1, len(run.machine.cylinders) + 1):
        lines += ["", *_stage(shown, number)]
    if len(figures) > MOST_LINES:
        lines += ["", f"the first {MOST_LINES} of {len(figures)} conditions; output=FILE.csv writes all"]
    lines += ["", *_remarks(run)]
    return "\n".join(lines)


def _heading(run: GivenRun, engine: str) -> str:
    parts = [
        f"stage {number}: {one.number} x {one.bore_mm:g} mm bore, {one.stroke_mm:g} mm stroke, {one.acting} acting, "
        + (f"cut-off {one.cut_off:g}" if one.cut_off is not None else f"volume ratio {one.volume_ratio:g}")
        for number, one in enumerate(run.machine.cylinders, start=1)
    ]
    return "\n".join([f"A given machine on {run.machine.fluid}, losses: {engine}", *parts])


def _stage(figures: pd.DataFrame, number: int) -> list[str]:
    lead = f"stage_{number}_"
    wanted: list[tuple[str, str, int]] = [
        (f"{lead}inlet_pressure_bar_a", "in", 2),
        (f"{lead}exhaust_pressure_bar_a", "exhaust", 2),
        (f"{lead}indicated_mean_pressure_bar", "ind. mean", 2),
        *((f"{lead}lost_to_{loss}_W", loss.partition("_")[0], 1) for loss in LOSSES),
        (f"{lead}shaft_power_W", "shaft", 1),
    ]
    return [f"Stage {number}: what each loss takes", *_columns(figures, wanted)]


def _columns(figures: pd.DataFrame, wanted: list[tuple[str, str, int]]) -> list[str]:
    cells: list[list[str]] = [
        [head, _under(name), *(fixed(float(value), digits) for value in figures[name])]
        for name, head, digits in wanted
    ]
    cells = [["", "", *map(str, range(1, len(figures) + 1))], *cells]
    return table(list(zip(*cells, strict=True)), left=0, whole=True).split("\n")


def _under(name: str) -> str:
    """The second line of a heading: the unit, or which pure number it is."""
    if name.endswith("_efficiency"):
        return "efficiency"
    return parted(name)[1] or "-"


def _remarks(run: GivenRun) -> list[str]:
    figures = run.figures
    found = [
        _where(figures["port_violation"] > 0.0, "an admission port chokes, the laws are stretched"),
        _where(figures["shaft_power_W"] <= 0.0, "the engine gives no work and would have to be driven"),
        _where(figures["residual"] > _unsettled(), "the losses do not settle, do not rely on these figures"),
    ]
    if run.assumed:
        found.append(
            f"{run.machine.fluid} has no card with these constants, assumed: {', '.join(run.assumed)}"
        )
    found.append(
        "efficiencies are over loss-free expansion from inlet to outlet; missing: leak and walls of stage 1. The model's "
        "losses are judged against few measured machines (task=verify detail='measured machines'): a plan to build "
        "or to run needs a margin, and the local rules for pressure equipment and a licensed practitioner decide"
    )
    return [line for remark in found if remark for line in textwrap.wrap(remark, min(CELLS, width()))]


def _where(marked: Any, words: str) -> str:
    places = [str(place + 1) for place, one in enumerate(marked) if one]
    if not places:
        return ""
    listed = ", ".join(places[:8]) + (f" and {len(places) - 8} more" if len(places) > 8 else "")
    return f"condition{'s' if len(places) > 1 else ''} {listed}: {words}"


def _unsettled() -> float:
    from explore.model.given import UNSETTLED

    return UNSETTLED
