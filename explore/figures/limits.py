"""The limits, one record each: the only list of what a design may break.

A new limit is a record here and its margin in :mod:`explore.judgement.limits`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from explore.figures.record import MARGINS, SCALES, Record

PREFIX = "violation_"
BOUND = f"{PREFIX}bound_"


@dataclass(frozen=True)
class Limit(Record):
    """One limit; its column is ``violation_<name>``, at or below zero where the limit is kept.

    ``applies`` says which designs it is about: the margin of others may be empty. A ``wish`` is asked by the
    scenario, what is none is asked by nature or by the machine. A ``physical`` one says what cannot be, whoever asks: a
    design that breaks it has no figures.
    """

    wish: bool = False
    physical: bool = False


def _limit(name: str, unit: str, label: str, **fields: Any) -> Limit:
    return Limit(PREFIX + name, unit, label, MARGINS, **{"scale": SCALES.get(unit, 1.0)} | fields)


RECORDS: tuple[Limit, ...] = (
    _limit("critical_temperature_K", "K", "Too close to the critical point", physical=True),
    _limit("standstill_temperature_K", "K", "Too close to the critical point at standstill", physical=True),
    _limit("store_boiling_K", "K", "Store too close to boiling", physical=True),
    _limit(
        "evaporating_temperature_K",
        "K",
        "Evaporation too hot for the store",
        applies="stratified",
        physical=True,
    ),
    _limit("boiler_hot_end_K", "K", "Hot end of the boiler too narrow", applies="stratified", physical=True),
    _limit(
        "boiler_cold_end_K", "K", "Cold end of the boiler too narrow", applies="stratified", physical=True
    ),
    _limit("level_flow_fraction", "", "A pressure level without vapour", applies="stratified", physical=True),
    _limit("pressure_levels_count", "", "More pressure levels than stages"),
    _limit("stop_temperature_K", "K", "Engine would stop too cold", applies="mixed", physical=True),
    _limit("condenser_pinch_K", "K", "Condenser too close to the cooling water", physical=True),
    _limit("condenser_subcooling_K", "K", "Subcooling below the cooling water", physical=True),
    _limit("clearance_fraction", "", "Clearance too large for the expansion", physical=True),
    _limit("recompression_fraction", "", "Recompression longer than the stroke", physical=True),
    _limit("part_load_fraction", "", "Too weak when the store has cooled", applies="mixed", physical=True),
    _limit("work_kJ_per_litre", "kJ/L", "No net work", physical=True),
    _limit("served_share_fraction", "", "Too little of the demand served", wish=True, scale=0.2),
    _limit("peak_pressure_bar", "bar", "Above the pressure ceiling", wish=True),
    _limit("safety_class_count", "", "Safety class not allowed", wish=True),
    _limit("material_clash_count", "", "Fluid attacks the materials to be used", wish=True),
    _limit("room_m3", "m³", "Room too small for the charge", wish=True),
    _limit("fluid_choice_count", "", "Fluid not among those allowed", wish=True),
    _limit("condenser_vacuum_bar", "bar", "Condenser below air pressure", wish=True),
    _limit("budget_EUR", "EUR", "Over the budget", wish=True),
    _limit("exchanger_pressure_drop_fraction", "", "Too much pressure lost in tubes"),
    _limit("exchanger_water_pressure_drop_bar", "bar", "Too much pressure lost by water along tubes"),
    _limit("exchanger_unsettled_fraction", "", "Flow and pressure drops that do not settle", physical=True),
    _limit("boiler_tube_length_m", "m", "Boiler tubes at hand too short", applies="at hand"),
    _limit("condenser_tube_length_m", "m", "Condenser tubes at hand too short"),
    _limit("fault_temperature_K", "K", "Above the critical point when the store boils"),
    _limit("engine_residual_fraction", "", "Cylinders and losses that do not settle", physical=True),
    _limit("port_mach_fraction", "", "Admission port too small for the speed"),
    _limit(
        "sizing_temperature_K", "K", "Sized for a store hotter than it is after standing", applies="mixed"
    ),
    _limit("suction_head_m", "m", "Feed pump lacks suction head"),
    _limit("governing_count", "", "Governor that the load does not take", applies="mixed", wish=True),
    _limit("stroke_ratio", "", "Stroke that does not suit the bores at hand", applies="at hand"),
    _limit("laws_of_nature_fraction", "", "Against a law of nature", physical=True),
    _limit("numbers_count", "", "No sound result", physical=True),
)
"""Every limit, in the order in which they are told."""
LIMITS = {one.name: one for one in RECORDS}


def bound(record: Record) -> Limit:
    """Return the limit of a figure or an input that a scenario bounds."""
    name, label = f"{BOUND}{record.name}", f"Outside the bounds of {record.label.lower()}"
    return Limit(
        name, record.unit, label, MARGINS, record.digits, applies="bounded", scale=record.scale, wish=True
    )
