"""What is told of a design beyond its figures: states, curves, diagrams, exergy, walls, cautions.

The same data are printed by ``task=inspect`` and written to a run's ``sheets.json`` for the page.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from explore import units
from explore.design.variables import INPUTS
from explore.judgement import vessels
from explore.judgement.cautions import Coldest, cautions
from explore.model import beside, years
from explore.model.beside import with_tubes
from explore.plant.parts import PARTS
from explore.plant.site import air_pressure

if TYPE_CHECKING:
    import pandas as pd

    from explore.config.schema import Case
    from explore.model import Evaluator

Figures = Mapping[str, Any]
HAZARD_COLUMNS = (
    "design_pressure_bar_g",
    "standstill_pressure_bar_g",
    "standstill_pressure_worst_bar_g",
    "fault_pressure_bar_g",
    "relief_capacity_kg_per_s",
)
"""Figures that :func:`hazards` reads."""
DIGITS = 5
"""Significant digits of a drawn number: finer than any line, and the page stays small."""


def air_pressure_bar(evaluator: Evaluator) -> float:
    """Return the air pressure of the site [bar]."""
    return float(evaluator.air_pressure) / units.PA_PER_BAR


def site_air_pressure(case: Case) -> float:
    """Return the air pressure of a case's site [Pa], without making its model; reads the weather file for an altitude.

    Raises :class:`explore.errors.InputError` for a weather file that cannot be read.
    """
    return air_pressure(years.altitude_m(case, years.weather(case)))


def tried_with_tubes(evaluator: Evaluator, front: pd.DataFrame) -> dict[int, dict[str, Any]]:
    """Return what :func:`with_tubes` says of each line (from 1) of a front, or of other evaluated designs."""
    columns = {name: front[name].to_numpy() for name in INPUTS}
    return dict(enumerate(with_tubes(evaluator, columns, records(front)), start=1))


def details(
    evaluator: Evaluator, designs: pd.DataFrame, tubes: Sequence[dict[str, Any]] | None = None
) -> list[dict[str, Any]]:
    """Take evaluated designs apart: one dict of plain data each, in the order of the rows.

    ``tubes`` are what :func:`with_tubes` says of them, if that is known already.
    """
    from explore.model.dissect import dissect

    columns = {name: designs[name].to_numpy() for name in INPUTS}
    case, air_bar = evaluator.case, air_pressure_bar(evaluator)
    cold = coldest(evaluator)
    told = _whole(evaluator, columns, records(designs))
    tubes = with_tubes(evaluator, columns, told) if tubes is None else tubes
    return [
        {
            **parts,
            "served": np.array(parts["served"], dtype=float),
            "with_tubes": tubed,
            "hazards": hazards(figures, case),
            "cautions": [*warned(figures, case, air_bar, cold), *_caution_of_tubes(tubed)],
        }
        for parts, figures, tubed in zip(dissect(evaluator, columns), told, tubes, strict=True)
    ]


def as_made(
    evaluator: Evaluator, figures: Figures, taken: Mapping[str, Any]
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a design's figures and what :func:`details` says of it, with what the tubes hold that it is made of.

    Of the figures those of :data:`explore.model.beside.HELD` change; of the details ``hazards`` and ``cautions``.
    """
    held = beside.as_made(figures, taken["with_tubes"])
    if held == dict(figures):
        return held, dict(taken)
    found = warned(held, evaluator.case, air_pressure_bar(evaluator), coldest(evaluator))
    found += _caution_of_tubes(taken["with_tubes"])
    return held, {**taken, "hazards": hazards(held, evaluator.case), "cautions": found}


def _caution_of_tubes(found: Mapping[str, Any]) -> list[dict[str, str]]:
    from explore.figures.format import label

    return beside.caution(found, {name: label(name) for name in found.get("broken", ())})


def _whole(
    evaluator: Evaluator, columns: Mapping[str, Any], figures: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    """Give designs that cannot be their figures back: no caution is lost because a figure is not shown."""
    if all(row.get("possible", True) for row in figures):
        return figures
    found = evaluator.evaluate(columns)
    return [row | {name: values[i] for name, values in found.items()} for i, row in enumerate(figures)]


def records(designs: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows as mappings of column to value."""
    return [{str(name): value for name, value in row.items()} for row in designs.to_dict("records")]


def warned(figures: Figures, case: Case, air_bar: float, cold: Coldest | None = None) -> list[dict[str, str]]:
    """List the cautions of a design, gravest first, as files hold them: topic, text and level; ``cold`` as in cautions."""
    from explore.fluids import mixture_tables
    from explore.fluids.blend import Blend

    card = case.card(str(figures["fluid"]))
    substance = card.substance
    materials = (*case.scenario.materials, *case.exchangers.materials())
    found = cautions(
        card,
        figures,
        case.scenario.model_copy(update={"materials": tuple(dict.fromkeys(materials))}),
        air_pressure_bar_a=air_bar,
        pump_required_head_m=case.engine.pump_required_head_m,
        coldest=cold,
        shares=mixture_tables.shares(substance) if isinstance(substance, Blend) else None,
    )
    return [one.plain() for one in found]


def transport_sources(case: Case, fluid: str) -> dict[str, str]:
    """Say where each transport property of a fluid comes from; empty where tubes are not asked for."""
    from explore.fluids import transport

    if case.exchangers.method != "tubes":
        return {}
    return {one["property"]: one["source"] for one in transport.sources([fluid])}


def hazards(figures: Figures, case: Case) -> dict[str, Any]:
    """Give the four pressures in order, relief setting and the walls that the vessels of all parts need."""
    pressure = float(figures["design_pressure_bar_g"])
    shells = [vessel for part in PARTS for vessel in part.vessels(case.engine, figures)]
    worst = float(figures["standstill_pressure_worst_bar_g"])
    return {
        "standstill_pressure_bar_g": float(figures["standstill_pressure_bar_g"]),
        **({"standstill_pressure_worst_bar_g": worst} if math.isfinite(worst) else {}),
        "fault_pressure_bar_g": float(figures["fault_pressure_bar_g"]),
        "design_pressure_bar_g": pressure,
        "relief_setting_bar_g": float(vessels.relief_setting_bar_g(pressure)),
        "relief_capacity_kg_per_s": float(figures["relief_capacity_kg_per_s"]),
        "test_pressure_bar_g": float(vessels.proof_test_bar_g(pressure)),
        "walls": vessels.walls(pressure, vessels.diameters_mm(shells), case.scenario.materials),
    }


def told(
    case: Case,
    designs: pd.DataFrame,
    *,
    air_bar: float,
    cold: Coldest | None,
    tubes: Mapping[int, dict[str, Any]] | None = None,
) -> tuple[list[list[dict[str, str]]], list[dict[str, Any]]]:
    """Return cautions, and walls with the pressures they follow from, of evaluated designs, without a cycle run again.

    ``tubes`` holds what :func:`tried_with_tubes` says of some rows (from 1). Walls are left out, {}, where the table lacks
    a pressure they follow from, as those of earlier versions do.
    """
    rows = records(designs)
    cautions = [
        [*warned(row, case, air_bar, cold), *_caution_of_tubes((tubes or {}).get(line, {}))]
        for line, row in enumerate(rows, start=1)
    ]
    walled = all(name in designs for name in HAZARD_COLUMNS)
    return cautions, [hazards(row, case) if walled else {} for row in rows]


def coldest(evaluator: Evaluator) -> Coldest:
    """Return how cold it becomes around store and engine, and outdoors."""
    return Coldest(units.celsius(evaluator.coldest_room), units.celsius(evaluator.coldest_air))


def sheets(
    evaluator: Evaluator, front: pd.DataFrame, lines: Sequence[int], tubes: Mapping[int, dict[str, Any]]
) -> dict[str, Any]:
    """Return the content of ``sheets.json``: the domes of the front's fluids, the details of some of its lines.

    ``tubes`` holds for each of the ``lines`` (from 1) what :func:`tried_with_tubes` says of it.
    """
    from explore.model.dissect import dome

    fluids = sorted({str(fluid) for fluid in front["fluid"]})
    apart = details(evaluator, front.iloc[[line - 1 for line in lines]], [tubes[line] for line in lines])
    return {
        "domes": {fluid: dome(evaluator.case.card(fluid).substance) for fluid in fluids},
        "designs": {str(line): _short(one) for line, one in zip(lines, apart, strict=True)},
    }


def spread(count: int, most: int, wanted: Iterable[int] = ()) -> list[int]:
    """Return lines from 1 to ``count``: all if they are few, else ``most`` spread evenly and the ``wanted`` ones."""
    if count <= most:
        return list(range(1, count + 1))
    step = (count - 1) / max(most - 1, 1)
    return sorted({round(1 + i * step) for i in range(most)} | set(wanted))


def _short(value: Any) -> Any:
    """Cut every number to :data:`DIGITS`, which is enough for a drawing and keeps the page small."""
    if isinstance(value, Mapping):
        return {key: _short(item) for key, item in value.items()}
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, list | tuple):
        return [_short(item) for item in value]
    return float(f"{value:.{DIGITS}g}") if isinstance(value, float) else value
