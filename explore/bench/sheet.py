"""All that a build sheet tells of one design, as plain data in the units of the edges."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from explore import units
from explore.bench import commissioning, cylinders, sizes
from explore.bench.cylinders import Choices
from explore.figures.catalogue import BILL

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
ROD_RATIO = 4.0
"""Connecting rod over crank radius; common practice, no source: engines have 3 to 6."""
GAS_VELOCITY = 30.0
"""Mean velocity [m/s] of vapour in a port; common practice, no source: steam engines had 25 to 40."""
FLUCTUATION = 0.05
"""Coefficient of speed fluctuation; common practice, no source: pumps 0.03 to 0.05, generators 0.01 or less."""


def with_stock(case: Case, bores: Sequence[float]) -> Case:
    """Return the case whose cylinders are bored from tube at hand: ``bores`` [mm], else the scenario's, else the list."""
    chosen = tuple(sorted(bores)) or case.scenario.stock_bores_mm or STOCK_BORES_MM
    return case.model_copy(update={"scenario": case.scenario.model_copy(update={"stock_bores_mm": chosen})})


def build_sheet(
    evaluator: Evaluator,
    wanted: Mapping[str, Any],
    figures: Mapping[str, Any],
    details: Mapping[str, Any],
    made: Choices,
) -> dict[str, Any]:
    """Gather what is made: ``cylinders``, ``torque``, ``pump``, ``fill``, ``exchangers``, ``parts``, ``changes``, hazards.

    ``figures`` and ``details`` are of the design with bores from stock, ``wanted`` its figures with any bore.
    """
    loops = details["indicator"]
    found = [cylinders.cylinder(figures, loop, stage, made) for stage, loop in enumerate(loops, start=1)]
    told: dict[str, Any] = {
        "cylinders": found,
        "torque": cylinders.torque(figures, loops, made),
        "wanted": wanted,
        "changes": _changes(wanted, figures, evaluator.case, len(found)),
        "pump": _pump(evaluator, figures, details),
        "fill": _fill(evaluator, figures),
        "filling": commissioning.commissioning(evaluator, figures, details),
        "exchangers": dict(details["with_tubes"].get("tubes", {})) or _own_tubes(figures),
        "hazards": details["hazards"],
        "cautions": details["cautions"],
    }
    tubes = evaluator.case.exchangers
    sizes_mm = {
        name: f"{one.outside_diameter_mm:g} x {one.inside_diameter_mm:g} mm"
        for name, one in (("boiler", tubes.boiler), ("condenser", tubes.condenser))
    }
    return told | {"parts": _parts(told, figures, sizes_mm)}


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


def _pump(evaluator: Evaluator, figures: Mapping[str, Any], details: Mapping[str, Any]) -> dict[str, float]:
    first = next(one for one in details["states"] if one["place"] == "condenser outlet")
    pressure = np.array([first["p_bar_a"] * units.PA_PER_BAR])
    liquid = _bound(evaluator, figures).liquid_from_enthalpy(
        pressure, np.array([first["h_kJ_per_kg"] * units.J_PER_KJ])
    )
    frequency = float(figures["speed_rated_rev_per_min"]) / units.SECONDS_PER_MINUTE
    flow, share = float(figures["fluid_flow_kg_per_s"]), evaluator.case.engine.pump_volumetric_efficiency
    swept, diameter = sizes.plunger(flow, float(liquid.volume[0]), frequency, share)
    return {
        "swept_mL": swept * units.L_PER_M3 * units.MM_PER_M,
        "needed_mL": swept / sizes.PLUNGER_MARGIN * units.L_PER_M3 * units.MM_PER_M,
        "diameter_mm": diameter * units.MM_PER_M,
        "stroke_mm": diameter * units.MM_PER_M,
        "margin_percent": 100.0 * (sizes.PLUNGER_MARGIN - 1.0),
        "volumetric": share,
    }


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


def _parts(
    told: Mapping[str, Any], figures: Mapping[str, Any], tubes_mm: Mapping[str, str]
) -> list[dict[str, Any]]:
    """List of parts: what, how many, size; price only on the lines of the bill, which cover those before them."""
    rows: list[dict[str, Any]] = []
    for one in told["cylinders"]:
        n, stage = one["number"], one["stage"]
        size = f"bore {one['bore_mm']:.1f} mm, stroke {one['stroke_mm']:.1f} mm"
        rows.append(_part(f"cylinder, stage {stage}", n, size))
        rows.append(
            _part(f"piston, stage {stage}", n, f"diameter {one['bore_mm']:.1f} mm less running clearance")
        )
        rows.append(_part(f"connecting rod, stage {stage}", n, f"{one['rod_mm']:.1f} mm between centres"))
        rows.append(_part(f"crank, stage {stage}", n, f"radius {0.5 * one['stroke_mm']:.1f} mm"))
    rows.append(_part("flywheel", 1, f"inertia {told['torque']['inertia_kg_m2']:.2f} kg m2"))
    pump = told["pump"]
    rows.append(
        _part(
            "feed pump plunger",
            1,
            f"diameter {pump['diameter_mm']:.1f} mm, stroke {pump['stroke_mm']:.1f} mm",
        )
    )
    tubes = told["exchangers"]
    for name in (name for name in tubes if name.endswith("_count")):
        length = tubes[name.replace("_count", "_length_m")]
        what, level = name.removesuffix("_count").split("_tubes_")
        rows.append(
            _part(f"{what} tube, level {level}", round(tubes[name]), f"{length:.1f} m each, {tubes_mm[what]}")
        )
    relief = told["hazards"]
    size = f"opens at {relief['relief_setting_bar_g']:.2f} bar gauge, {relief['relief_capacity_kg_per_s']:.3f} kg/s"
    rows.append(_part("relief valve", 1, size))
    rows.append(_part(f"working fluid, {figures['fluid']}", 1, f"{told['fill']['charge_kg']:.2f} kg"))
    for name, line in BILL.items():
        price = float(figures[name])
        if price > 0.0:
            rows.append(_part(f"bill: {line}", 1, _bill_size(line, figures), price))
    return rows


def _bill_size(line: str, figures: Mapping[str, Any]) -> str:
    known = {
        "collectors": ("collector_area_m2", "m2"),
        "store": ("store_volume_L", "L"),
        "insulation": ("insulation_mm", "mm"),
        "boiler": ("boiler_area_m2", "m2"),
        "condenser": ("condenser_area_m2", "m2"),
        "charge": ("charge_kg", "kg"),
    }
    if line not in known:
        return ""
    name, unit = known[line]
    return (
        f"{float(figures[name]):.3g} {unit}"
        if float(figures[name]) < units.MM_PER_M
        else f"{float(figures[name]):.0f} {unit}"
    )


def _part(what: str, quantity: int, size: str, price: float | None = None) -> dict[str, Any]:
    return {
        "part": what,
        "quantity": quantity,
        "size": size,
        "price_EUR": None if price is None else round(price, 2),
    }
