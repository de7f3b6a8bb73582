"""The parts of one design: what, how many, what size, and the price that the bill has for each."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from explore.bench.coil import Coil
from explore.figures.catalogue import BILL
from explore.plant.parts.engine import ENGINE_EXPONENT

if TYPE_CHECKING:
    from explore.config.schema import Case, Costs

Row = dict[str, Any]
WITH_PARTS = ("engine", "boiler", "condenser", "levels", "charge")
"""Lines of the bill that are told part by part here; the others stand as lines of their own."""


def parts(told: Mapping[str, Any], figures: Mapping[str, Any], case: Case) -> list[Row]:
    """List the parts; their prices sum to the cost of the bill.

    ``told`` has the cylinders, flywheel, feed pumps, receivers, coils, fill and hazards of a build sheet. A part without a
    price is within that of the one before it: the bill knows no finer.
    """
    rows = [*_engine(told, figures, case), *_levels(told, figures, case), *_tubes(told, figures)]
    fill = told["fill"]
    charge, priced = (f"{fill[name]:.2f} kg" for name in ("charge_kg", "evaluated_kg"))
    size = charge if charge == priced else f"{charge} with these tubes; the bill has {priced}"
    rows.append(_part(f"working fluid, {figures['fluid']}", 1, size, _bill(figures, "charge")))
    for name, line in BILL.items():
        if line.replace(" ", "_") not in WITH_PARTS and float(figures[name]) > 0.0:
            rows.append(_part(line, 1, _bill_size(line, figures), float(figures[name])))
    return rows


def _bill(figures: Mapping[str, Any], line: str) -> float:
    return float(figures[f"cost_{line}_EUR"])


def stage_price(costs: Costs, number: int, swept_L: float, all_L: float) -> float:
    """Price [EUR] of one stage: its cylinders, and its share by volume of what all of them sweep."""
    by_volume = costs.engine_EUR_per_L06 * all_L**ENGINE_EXPONENT
    return float(costs.engine_EUR_per_stage * number**ENGINE_EXPONENT + by_volume * swept_L / all_L)


def _engine(told: Mapping[str, Any], figures: Mapping[str, Any], case: Case) -> list[Row]:
    rows: list[Row] = []
    swept = {one["stage"]: float(figures[f"swept_volume_{one['stage']}_L"]) for one in told["cylinders"]}
    number = {one["stage"]: one["number"] for one in told["cylinders"]}
    whole = {
        j: stage_price(case.costs, number[j], volume, sum(swept.values())) for j, volume in swept.items()
    }
    full = sum(whole.values())
    bought = _bill(figures, "engine") / full if full > 0.0 else 1.0  # 1 but for cylinders that are there
    for one in told["cylinders"]:
        n, stage = one["number"], one["stage"]
        price = whole[stage] * bought
        wall = told["stock_walls"].get(f"cylinder {stage}")
        size = f"bore {one['bore_mm']:.1f} mm, stroke {one['stroke_mm']:.1f} mm"
        rows += [
            _part(f"cylinder, stage {stage}", n, size + (f", wall {wall:g} mm" if wall else ""), price),
            _part(f"piston, stage {stage}", n, f"diameter {one['bore_mm']:.1f} mm less running clearance"),
            _part(f"connecting rod, stage {stage}", n, f"{one['rod_mm']:.1f} mm between centres"),
            _part(f"crank, stage {stage}", n, f"radius {0.5 * one['stroke_mm']:.1f} mm"),
            _part(
                f"inlet and exhaust valve, stage {stage}",
                2 * n,
                f"ports {one['port_mm2']:.0f} and {one['exhaust_mm2']:.0f} mm2",
            ),
        ]
    rows.append(_part("flywheel", 1, f"inertia {told['torque']['inertia_kg_m2']:.2f} kg m2"))
    return rows


def _levels(told: Mapping[str, Any], figures: Mapping[str, Any], case: Case) -> list[Row]:
    """Receivers, pumps, relief valves and shells, whose prices the bill has by pressure level."""
    costs, levels = case.costs, round(float(figures["pressure_levels"]))
    receivers, pump, relief = told["receivers"], told["pump"], told["hazards"]
    rows = []
    for one in receivers:
        size = f"{one['volume_L']:.2f} L, inside {one['diameter_mm']:.0f} mm by {one['height_mm']:.0f} mm"
        price = costs.receiver_EUR_per_level * levels / len(receivers)
        rows.append(_part(f"receiver before stage {one['stage']}", 1, size, price))
    plunger = f"diameter {pump['diameter_mm']:.1f} mm, stroke {pump['stroke_mm']:.1f} mm"
    rows.append(_part("feed pump plunger", 1, plunger, costs.feed_pump_EUR_per_level))
    for one in pump["between"]:
        size = f"diameter and stroke {one['diameter_mm']:.1f} mm, {one['rise_bar']:.2f} bar"
        rows.append(_part(f"pump to boiler {one['level']}", 1, size, costs.feed_pump_EUR_per_level))
    size = f"opens at {relief['relief_setting_bar_g']:.2f} bar gauge, {relief['relief_capacity_kg_per_s']:.3f} kg/s"
    rows.append(_part("relief valve", levels, size + " together", costs.safety_valve_EUR * levels))
    rows.append(_part("shell and fittings of a boiler", levels, "", costs.boiler_set_EUR_per_level * levels))
    return rows


def _tubes(told: Mapping[str, Any], figures: Mapping[str, Any]) -> list[Row]:
    """Tubes of boilers and condenser, priced by their share of the surface; the area alone where no tubes are known."""
    coils: list[Coil] = told["coils"]
    rows = []
    for what in ("boiler", "condenser"):
        own = [one for one in coils if one.what == what]
        surface = sum(one.total_m for one in own)
        for one in own:
            size = f"{one.length_m:.1f} m each, {one.outside_mm:g} x {one.inside_mm:g} mm"
            share = one.total_m / surface
            rows.append(
                _part(f"{what} tube, level {one.level}", one.count, size, share * _bill(figures, what))
            )
        if not own:
            area = float(figures[f"{what}_area_m2"])
            rows.append(_part(what, 1, f"{area:.3g} m2", _bill(figures, what)))
    return rows


def _bill_size(line: str, figures: Mapping[str, Any]) -> str:
    known = {
        "collectors": ("collector_area_m2", "m2"),
        "store": ("store_volume_L", "L"),
        "insulation": ("insulation_mm", "mm"),
        "regenerator": ("regenerator_area_m2", "m2"),
    }
    if line not in known:
        return ""
    name, unit = known[line]
    value = float(figures[name])
    return f"{value:.3g} {unit}" if value < 1000.0 else f"{value:.0f} {unit}"


def _part(what: str, quantity: int, size: str, price: float | None = None) -> Row:
    return {
        "part": what,
        "quantity": quantity,
        "size": size,
        "price_EUR": None if price is None else round(price, 2),
    }
