"""The figures, one record each, in the order of the columns: the only list of what is reported of a design.

A new figure is a record here and its value in ``explore/model/figures.py``; sheet, page and terminal show it by
what the record says. A figure can be an objective or a bound of a scenario without more.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from explore.figures.record import (
    CYLINDERS,
    EXCHANGERS,
    MONEY,
    OTHER,
    PRESSURES,
    SCALES,
    WATER,
    WORK,
    YEAR,
    Digits,
    Record,
)
from explore.judgement.bill import LINES


class Figure(Record):
    """One reported figure."""


def _figure(name: str, unit: str, label: str, group: str, *more: Any, **fields: Any) -> Figure:
    """Make a figure whose scale, if not given, is that of its unit."""
    return Figure(name, unit, label, group, *more, **{"scale": SCALES.get(unit, 1.0)} | fields)


def _of_stage(stage: int) -> tuple[Figure, ...]:
    """Figures of one cylinder and of what stands before it."""
    applies = "always" if stage == 1 else f"stage {stage}"

    def one(name: str, unit: str, label: str, group: str = CYLINDERS, **fields: Any) -> Figure:
        return _figure(name, unit, f"{label}, stage {stage}", group, applies=applies, **fields)

    return (
        one(f"volume_ratio_{stage}", "", "Expansion volume ratio", scale=0.5),
        one(f"swept_volume_{stage}_L", "L", "Swept volume", better="less", places=("card", "terminal")),
        one(f"bore_{stage}_mm", "mm", "Bore"),
        one(f"stroke_{stage}_mm", "mm", "Stroke"),
        one(f"piston_speed_{stage}_m_per_s", "m/s", "Mean piston speed", better="less", places=("terminal",)),
        one(f"receiver_pressure_{stage}_bar_a", "bar abs.", "Inlet pressure", PRESSURES),
        one(f"stage_work_{stage}_kJ_per_kg", "kJ/kg", "Work", better="more"),
    )


def _losses_of_stage(stage: int) -> tuple[Figure, ...]:
    """What one cylinder loses."""
    applies = "always" if stage == 1 else f"stage {stage}"

    def one(name: str, unit: str, label: str, digits: Digits = "three") -> Figure:
        words = f"{label}, stage {stage}"
        return _figure(name, unit, words, CYLINDERS, digits, better="less", applies=applies)

    return (
        one(f"leakage_{stage}_fraction", "%", "Vapour lost by leaks", "share"),
        one(f"wall_loss_{stage}_fraction", "%", "Vapour lost to the walls", "share"),
        one(f"friction_{stage}_bar", "bar", "Friction mean pressure"),
    )


POINTS = (("full", "full store"), ("rated", "rated point"), ("size", "sizing point"))
"""Where between full and empty an engine is told of; on a stratified store all three are its rated point."""


def _at_point(at: str, words: str) -> tuple[Figure, ...]:
    """Figures of the engine at one of :data:`POINTS`."""
    return (
        _figure(f"speed_{at}_rev_per_min", "rev/min", f"Speed, {words}", CYLINDERS),
        _figure(f"torque_{at}_Nm", "N m", f"Shaft torque, {words}", CYLINDERS),
        _figure(f"power_{at}_W", "W", f"Power at the engine's shaft, {words}", CYLINDERS),
    )


BILL = {f"cost_{line}_EUR": line.replace("_", " ") for line in LINES}
"""Columns of the bill of materials and what each line is called, in the bill's order."""


class CylinderColumns(NamedTuple):
    """Columns in which one stage's cylinder stands."""

    bore: str
    stroke: str
    swept: str


CYLINDER_COLUMNS = tuple(
    CylinderColumns(f"bore_{stage}_mm", f"stroke_{stage}_mm", f"swept_volume_{stage}_L")
    for stage in (1, 2, 3)
)
"""Of the first stage and those behind it."""

RECORDS: tuple[Figure, ...] = (
    _figure("work_per_litre_kJ", "kJ/L", "Work per litre of hot water", WORK, better="more",
            places=("terminal", "compare", "hover"), short="Work per litre"),
    _figure("work_per_litre_Wh", "Wh/L", "Work per litre of hot water", WORK, better="more", places=("terminal",)),
    _figure("exergy_per_litre_kJ", "kJ/L", "Exergy per litre of hot water", WORK),
    _figure("second_law_efficiency", "%", "Second-law efficiency", WORK, "share", better="more",
            places=("card", "terminal", "compare", "table")),
    _figure("thermal_efficiency", "%", "Thermal efficiency", WORK, "share", better="more"),
    _figure("isentropic_efficiency", "%", "Isentropic efficiency of the expander", WORK, "share", better="more"),
    _figure("back_work_ratio", "%", "Feed pump work, share of shaft work", WORK, "share", better="less", scale=0.5),
    _figure("exhaust_quality", "%", "Vapour quality at the exhaust", WORK, "share", better="more"),
    _figure("net_work_kJ_per_kg", "kJ/kg", "Net work", WORK, better="more"),
    _figure("shaft_work_kJ_per_kg", "kJ/kg", "Shaft work", WORK, better="more"),
    _figure("pump_work_kJ_per_kg", "kJ/kg", "Feed pump work", WORK, better="less"),
    _figure("circulation_work_kJ_per_kg", "kJ/kg", "Water circulation work", WORK, better="less"),
    _figure("water_per_fluid_kg", "kg/kg", "Hot water per fluid", WATER, applies="stratified"),
    _figure("cooling_water_per_fluid_kg", "kg/kg", "Cooling water per fluid", WATER, better="less"),
    _figure("return_temperature_degC", "°C", "Hot water return temperature", WATER, applies="stratified"),
    _figure("held_fraction", "%", "Hot water left after standing", WATER, "share", better="more",
            applies="stratified"),
    _figure("held_temperature_degC", "°C", "Store temperature after standing", WATER, applies="mixed"),
    _figure("store_loss_W_per_K", "W/K", "Store heat loss", WATER, better="less"),
    _figure("boiler_pressure_bar_a", "bar abs.", "Boiler pressure, rated", PRESSURES, better="less",
            places=("terminal",)),
    _figure("max_boiler_pressure_bar_a", "bar abs.", "Boiler pressure, greatest while running", PRESSURES,
            better="less"),
    _figure("lowest_boiler_pressure_bar_a", "bar abs.", "Boiler pressure, lowest level", PRESSURES),
    _figure("condenser_pressure_bar_a", "bar abs.", "Condenser pressure", PRESSURES, places=("terminal",)),
    _figure("rest_pressure_bar_g", "bar gauge", "Engine and condenser at rest, shut off from the boiler", PRESSURES,
            places=("hazards",)),
    _figure("pressure_at_20degC_bar_g", "bar gauge", "Pressure at 20 °C", PRESSURES, better="less",
            places=("hazards",)),
    _figure("peak_pressure_bar_g", "bar gauge", "Peak pressure", PRESSURES, better="less", places=("terminal",
            "compare", "hover", "hazards")),
    _figure("standstill_pressure_bar_g", "bar gauge", "Standstill pressure", PRESSURES, better="less",
            places=("card", "hazards")),
    _figure("standstill_pressure_worst_bar_g", "bar gauge", "Standstill pressure, worst bottle", PRESSURES,
            better="less", applies="bottled", places=("card", "hazards")),
    _figure("fault_pressure_bar_g", "bar gauge", "Pressure with the store boiling", PRESSURES, better="less",
            applies="subcritical", places=("hazards",)),
    _figure("design_pressure_bar_g", "bar gauge", "Design pressure and relief setting", PRESSURES, better="less",
            places=("card", "hazards")),
    _figure("test_pressure_bar_g", "bar gauge", "Test pressure", PRESSURES, better="less", places=("card",
            "compare", "hazards")),
    *(one for stage in (1, 2, 3) for one in _of_stage(stage)),
    _figure("boiler_area_m2", "m²", "Boiler area", EXCHANGERS, better="less"),
    _figure("condenser_area_m2", "m²", "Condenser area", EXCHANGERS, better="less"),
    _figure("regenerator_area_m2", "m²", "Regenerator area", EXCHANGERS, better="less", applies="regenerator"),
    _figure("fluid_flow_kg_per_s", "kg/s", "Fluid flow", EXCHANGERS),
    _figure("hot_water_flow_kg_per_s", "kg/s", "Hot water flow", WATER, applies="stratified"),
    _figure("cooling_water_flow_kg_per_s", "kg/s", "Cooling water flow, at most", WATER),
    _figure("suction_head_m", "m", "Suction head at the feed pump", EXCHANGERS, better="more"),
    _figure("charge_kg", "kg", "Fluid charge", EXCHANGERS, better="less", places=("card", "compare", "hazards")),
    _figure("room_volume_needed_m3", "m³", "Room air volume needed", EXCHANGERS, better="less",
            applies="hazardous", places=("hazards",)),
    *(one for at, words in POINTS for one in _at_point(at, words)),
    _figure("rated_store_temperature_degC", "°C", "Store temperature, rated point", CYLINDERS, applies="mixed"),
    _figure("sizing_store_temperature_degC", "°C", "Store temperature, sizing point", CYLINDERS, applies="mixed"),
    _figure("drive_efficiency", "%", "Efficiency of the drive to the load", CYLINDERS, "share", better="more"),
    _figure("pump_efficiency", "%", "Efficiency of the feed pump", CYLINDERS, "share", better="more"),
    *(one for stage in (1, 2, 3) for one in _losses_of_stage(stage)),
    _figure("relief_capacity_kg_per_s", "kg/s", "Vapour the relief valve must pass", PRESSURES, better="less",
            applies="subcritical", places=("hazards",)),
    _figure("outside_measured", "", "Below the pressures of measured engines", CYLINDERS, "whole"),
    _figure("served_share", "%", "Demand served", YEAR, "share", better="more", places=("card", "terminal",
            "compare", "table", "hover", "parallel"), scale=0.2),
    _figure("shaft_energy_kWh_per_year", "kWh/a", "Shaft energy", YEAR, better="more"),
    _figure("longest_unserved_hours", "h", "Longest unserved stretch", YEAR, better="less"),
    _figure("autonomy_hours", "h", "Running hours of a full store, fading ones counted whole", YEAR, better="more"),
    _figure("bridged_hours", "h", "Sunless hours bridged by a full store", YEAR, better="more",
            short="Sunless hours bridged", places=("card", "terminal")),
    _figure("stagnation_hours", "h", "Hours with heat to spare", YEAR, better="less"),
    _figure("collector_yield_kWh_per_year", "kWh/a", "Collector yield", YEAR, better="more"),
    _figure("sun_to_shaft_efficiency", "%", "Sun to shaft efficiency", WORK, "share", better="more"),
    _figure("cooling_water_L_per_year", "L/a", "Cooling water", WATER, better="less"),
    *(_figure(name, "EUR", f"Cost: {line}", MONEY, better="less") for name, line in BILL.items()),
    _figure("cost_EUR", "EUR", "Cost", MONEY, better="less", places=("terminal", "compare", "hover")),
    _figure("annual_cost_EUR", "EUR/a", "Annual cost", MONEY, better="less"),
    _figure("cost_EUR_per_kWh", "EUR/kWh", "Cost of shaft energy", MONEY, better="less", applies="serving",
            places=("card", "terminal", "compare", "table")),
    _figure("outside_ranges_fraction", "%", "Farthest outside a function's range", EXCHANGERS, "share",
            better="less"),
)  # fmt: skip
FIGURES = tuple(one.name for one in RECORDS)


def _tubes(exchanger: str, levels: int) -> tuple[Figure, ...]:
    """Figures of an exchanger made of tubes, from the hottest level down."""
    title = exchanger.capitalize()
    made = []
    for level in range(1, levels + 1):
        place = ("", ", second level", ", third level")[level - 1]
        applies = "always" if level == 1 else f"level {level}"
        stem = f"{exchanger}_tubes_{level}"
        made += [
            _figure(
                f"{stem}_count",
                "",
                f"{title} tubes, side by side{place}",
                EXCHANGERS,
                "whole",
                applies=applies,
            ),
            _figure(
                f"{stem}_length_m", "m", f"{title} tubes, length of each{place}", EXCHANGERS, applies=applies
            ),
        ]
    unit = "W/(m² K)"
    return (
        *made,
        _figure(f"{exchanger}_U_liquid_W_per_m2K", unit, f"{title}: U, liquid", EXCHANGERS),
        _figure(f"{exchanger}_U_two_phase_W_per_m2K", unit, f"{title}: U, two-phase", EXCHANGERS),
        _figure(f"{exchanger}_U_vapour_W_per_m2K", unit, f"{title}: U, vapour", EXCHANGERS, applies="superheated"),
        _figure(f"{exchanger}_fluid_drop_bar", "bar", f"{title}: pressure lost by the fluid", EXCHANGERS),
        _figure(f"{exchanger}_water_drop_bar", "bar", f"{title}: pressure lost by the water", EXCHANGERS),
        _figure(f"{exchanger}_rated_pinch_K", "K", f"{title}: pinch with the tubes at hand", EXCHANGERS, applies="at hand"),
    )  # fmt: skip


TUBE_RECORDS = (*_tubes("boiler", 3), *_tubes("condenser", 1))
"""Figures of exchangers made of tubes: up to three boilers, one a pressure level, and one condenser."""
TUBE_FIGURES = tuple(one.name for one in TUBE_RECORDS)
"""Figures of exchangers made of tubes: boilers from the hottest down. Only with exchangers=tubes."""


class TubeColumns(NamedTuple):
    """What an exchanger is called, and the columns that hold how many tubes it has side by side and how long each is."""

    exchanger: str
    number: str
    length: str


TUBE_COLUMNS = tuple(
    TubeColumns(f"{part} {level}", f"{part}_tubes_{level}_count", f"{part}_tubes_{level}_length_m")
    for part, levels in (("boiler", 3), ("condenser", 1))
    for level in range(1, levels + 1)
)
"""Of each exchanger that may be made of tubes, the hottest first."""

RANGE_FIGURES = ("outside_ranges_fraction", "outside_ranges")
"""How far the design lies outside the ranges of the functions used: the largest relative excess, and all in words."""

WORDS = (Figure("outside_ranges", "", "Functions used outside their range", EXCHANGERS, "words"),)
FLAGS = (
    Figure("possible", "", "Within the laws of nature", OTHER, "words"),
    Figure("feasible", "", "Keeps every limit", OTHER, "words"),
)
"""What is true or false of a design; told in a sentence, not listed among the figures."""
