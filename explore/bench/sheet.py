"""All that a build sheet tells of one design, as plain data in the units of the edges."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from explore import units
from explore.bench import commissioning, cylinders, parts, sizes, yardsticks
from explore.bench.coil import coils
from explore.bench.cylinders import Choices
from explore.bench.feed import feed
from explore.bench.scheme import scheme
from explore.bench.use import service
from explore.judgement.vessels import receiver_diameter_mm
from explore.model.details import as_made
from explore.model.translation import machine_of
from explore.model.tubing import hold_up_L_per_m2, tubing_of

if TYPE_CHECKING:
    from explore.config.schema import Case
    from explore.model import Evaluator

STOCK_BORES_MM = (
    8.0,
    10.0,
    12.0,
    16.0,
    20.0,
    25.0,
    32.0,
    40.0,
    50.0,
    63.0,
    80.0,
    100.0,
    125.0,
    160.0,
    200.0,
    250.0,
    320.0,
)
"""Bores of fluid power cylinders, ISO 3320 (list from memory): honed tube is sold in them."""
STOCK_WALLS_MM = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.5, 16.0, 20.0)
"""Walls of seamless precision tube, EN 10305-1 (list from memory)."""
ROD_RATIO = 4.0
"""Connecting rod over crank radius; common practice, no source: engines have 3 to 6."""
GAS_VELOCITY = 30.0
"""Mean velocity [m/s] of vapour in a port; common practice, no source: steam engines had 25 to 40."""
FLUCTUATION = 0.05
"""Coefficient of speed fluctuation; common practice, no source: pumps 0.03 to 0.05, generators 0.01 or less."""


def with_stock(case: Case, bores: Sequence[float], walls: Sequence[float] = ()) -> Case:
    """Return the case whose cylinders are made from tube at hand: ``bores`` and ``walls`` [mm], else the scenario's.

    Without either cylinders that are owned count, as long as wide, and else the lists of this module.
    """
    scenario = case.scenario
    owned = () if scenario.owned.may_buy_more else tuple(sorted(scenario.owned.square_bores_mm))
    chosen = tuple(sorted(bores)) or scenario.stock_bores_mm or owned or STOCK_BORES_MM
    thick = tuple(sorted(walls)) or scenario.stock_walls_mm or STOCK_WALLS_MM
    stocked = scenario.model_copy(update={"stock_bores_mm": chosen, "stock_walls_mm": thick})
    return case.model_copy(update={"scenario": stocked})


def build_sheet(
    evaluator: Evaluator,
    wanted: Mapping[str, Any],
    figures: Mapping[str, Any],
    details: Mapping[str, Any],
    made: Choices,
) -> dict[str, Any]:
    """Gather what is made: ``cylinders``, ``torque``, ``pump``, ``coils``, ``receivers``, ``parts``, ``filling`` and more.

    ``figures`` and ``details`` are of the design with bores from stock, ``wanted`` its figures with any bore. Charge, room
    and relief valve are those of the tubes that the sheet lists, which may hold more than the coefficients.
    """
    case, loops = evaluator.case, details["indicator"]
    held, details = as_made(evaluator, figures, details)
    machine = machine_of(case, evaluator.plant)
    if held["charge_kg"] != figures["charge_kg"]:
        machine = machine.model_copy(update=hold_up_L_per_m2(tubing_of(case)))
    found = [cylinders.cylinder(figures, loop, stage, made) for stage, loop in enumerate(loops, start=1)]
    tubes = dict(details["with_tubes"].get("tubes", {})) or _own_tubes(figures)
    told: dict[str, Any] = {
        "cylinders": found,
        "torque": cylinders.torque(figures, loops, made),
        "wanted": wanted,
        "changes": _changes(wanted, figures, case, len(found)),
        "pump": feed(evaluator, figures, details),
        "fill": _fill(evaluator, held) | {"evaluated_kg": float(figures["charge_kg"])},
        "filling": commissioning.commissioning(evaluator, machine, held, details),
        "coils": coils(tubes, figures, case),
        "receivers": _receivers(evaluator, figures),
        "stock_walls": _stock_walls(details["hazards"]["walls"], case),
        "scheme": scheme(figures, details),
        "service": service(case, figures, details),
        "ways": yardsticks.ways(evaluator, figures),
        "beside": yardsticks.beside(evaluator, figures),
        "hazards": details["hazards"],
        "cautions": details["cautions"],
    }
    return told | {"parts": parts.parts(told, figures, case)}


def _receivers(evaluator: Evaluator, figures: Mapping[str, Any]) -> list[dict[str, float]]:
    """Receivers before the stages: volume, and the inside of an upright vessel twice as high as wide."""
    volumes = commissioning.receivers_L(machine_of(evaluator.case, evaluator.plant), figures)
    return [
        {
            "stage": stage,
            "volume_L": volume,
            "diameter_mm": float(receiver_diameter_mm(volume)),
            "height_mm": 2.0 * float(receiver_diameter_mm(volume)),
        }
        for stage, volume in volumes.items()
    ]


def _stock_walls(walls: Sequence[Mapping[str, Any]], case: Case) -> dict[str, float | None]:
    """Of each vessel the wall in stock that is no less than the least of the thickest material; None where none is."""
    least: dict[str, float] = {}
    for one in walls:
        least[str(one["part"])] = max(least.get(str(one["part"]), 0.0), float(one["wall_mm"]))
    stock = case.scenario.stock_walls_mm or STOCK_WALLS_MM
    return {part: sizes.next_in_stock(wall, stock) for part, wall in least.items()}


def _changes(
    wanted: Mapping[str, Any], figures: Mapping[str, Any], case: Case, stages: int
) -> list[dict[str, Any]]:
    """What bores from stock change: the bore wanted, the nearest in stock that is no smaller, what is evaluated."""
    stock = np.array(sorted(case.scenario.stock_bores_mm or STOCK_BORES_MM))
    rows = []
    for stage in range(1, stages + 1):
        bore, got = (float(which[f"bore_{stage}_mm"]) for which in (wanted, figures))
        nearest = float(stock[np.argmin(np.abs(stock - bore))])
        held = bool(np.any(np.abs(stock - got) <= 1e-6 * got))
        rows.append(
            {"stage": stage, "wanted_mm": bore, "got_mm": got, "nearest_mm": nearest, "from_stock": held}
        )
    return rows


def _bound(evaluator: Evaluator, figures: Mapping[str, Any]) -> Any:
    return evaluator.fluid(np.array([evaluator.fluids.index(str(figures["fluid"]))], dtype=np.intp))


def _fill(evaluator: Evaluator, figures: Mapping[str, Any]) -> dict[str, float]:
    fluid = _bound(evaluator, figures)
    hot, cool = (
        1.0 / float(fluid.saturation(fluid.saturation_pressure(np.array([T]))).v_liquid[0])
        for T in (commissioning.HOT_K, commissioning.FILLING_K)
    )
    charge = float(figures["charge_kg"])
    return {
        "charge_kg": charge,
        "density_50_kg_per_m3": hot,
        "density_20_kg_per_m3": cool,
        "least_volume_L": sizes.least_volume(charge, hot, cool) * units.L_PER_M3,
    }


def _own_tubes(figures: Mapping[str, Any]) -> dict[str, float]:
    """Figures of tubes where the design was evaluated with them at once."""
    return {
        name: float(value)
        for name, value in figures.items()
        if "_tubes_" in name and not name.startswith("violation_") and value == value
    }
