"""Writes what a builder needs of one design: a sheet to print, the parts as a table, a drawing."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from explore.config.schema import Case
from explore.config.tasks import BuildTask
from explore.errors import InputError


def run(case: Case, task: BuildTask, command: str) -> None:
    """Write sheet, parts and drawing of one design, its cylinders bored from tube at hand, into a new folder."""
    from explore.bench import sheet
    from explore.bench.cylinders import Choices
    from explore.bench.more import told as parts_told
    from explore.model import Evaluator
    from explore.model.details import air_pressure_bar, details, records
    from explore.run.design_file import evaluated
    from explore.tell import more
    from explore.tell.build.files import new_folder, write
    from explore.tell.build.page import page
    from explore.tell.terminal import say

    if task.design is None:
        raise InputError("task=build needs design=FILE.yaml, or design=results/.../front.csv row=N")
    if task.design.lower().endswith(".csv") and task.row is None:
        raise InputError(f"design={task.design} is a table: say which line with row=N, counted from 1")
    folder = new_folder(task.output)
    stocked = sheet.with_stock(case, task.bores_mm or (), task.walls_mm or ())
    free = case.scenario.model_copy(update={"stock_bores_mm": None})
    wanted = records(evaluated(task.design, case.model_copy(update={"scenario": free}), task.row))[0]
    design = evaluated(task.design, stocked, task.row)
    figures = records(design)[0]
    if not wanted["possible"]:
        raise InputError(f"design={task.design}: physics forbids this design; task=inspect says why")
    if not figures["possible"]:
        bores = ",".join(f"{bore:.1f}" for bore in _bores(wanted))
        raise InputError(
            f"design={task.design}: it can be, but not with bores from stock; give others, bores_mm=[{bores}] or near them"
        )
    evaluator = Evaluator(stocked, case.search.properties)
    made = Choices(
        task.rod_ratio or sheet.ROD_RATIO,
        task.port_velocity_m_per_s or sheet.GAS_VELOCITY,
        task.speed_fluctuation or sheet.FLUCTUATION,
        task.crank_phasing_deg,
        1 if case.engine.acting == "single" else 2,
        air_pressure_bar(evaluator),
        _weighed(task, round(float(figures["stages"]))),
        _ports(task, case),
    )
    told = sheet.build_sheet(evaluator, wanted, figures, details(evaluator, design)[0], made)
    owns = case.scenario.owned.anything
    told["more"] = parts_told(Evaluator(case, case.search.properties), wanted, wanted) if owns else {}
    write(folder, page(told, figures, stocked, made), told)
    print(
        f"Build sheet: {folder / 'build.html'}\nParts: {folder / 'parts.csv'}\nDrawing: {folder / 'build.dxf'}"
    )
    if words := more.text(told["more"], "this design, with any bore"):
        say(f"\n{words}\n")
    print(
        "Local codes and licensed practice decide about pressure equipment; read the cautions on the sheet first."
    )


def _ports(task: BuildTask, case: Case) -> tuple[float, float] | None:
    """Return the shares of a piston that its ports let through in the evaluation; None where the builder says how wide."""
    engine = case.engine
    if task.port_velocity_m_per_s or engine.losses != "scaling":
        return None
    return engine.inlet_port_share, engine.outlet_port_share


def _bores(figures: Mapping[str, Any]) -> Iterator[float]:
    """Yield the bore of each stage [mm], a tenth up: the next larger in stock is taken."""
    for stage in range(1, round(float(figures["stages"])) + 1):
        yield math.ceil(10.0 * float(figures[f"bore_{stage}_mm"])) / 10.0


def _weighed(task: BuildTask, stages: int) -> tuple[float, ...]:
    """Return what goes to and fro in a cylinder of each stage [kg], empty if nobody has weighed it."""
    found = task.reciprocating_kg or ()
    if found and len(found) != stages:
        raise InputError(
            f"reciprocating_kg={[*found]}: this design has {stages} stage{'s' if stages > 1 else ''}; give one mass of "
            "piston and rod for each"
        )
    return tuple(found)
