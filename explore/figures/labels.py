"""What a column is called on the page, its unit and how its number is written.

Units come from the column's own name; only the words are listed here. A column that is not listed
is shown under its name with spaces, so a new figure of the model needs no change here.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from math import isfinite

SUFFIXES = {
    "_kJ_per_kgK": "kJ/(kg K)",
    "_W_per_m2K": "W/(m² K)",
    "_kJ_per_litre": "kJ/L",
    "_kWh_per_year": "kWh/a",
    "_EUR_per_kWh": "EUR/kWh",
    "_L_per_year": "L/a",
    "_kJ_per_kg": "kJ/kg",
    "_m_per_s": "m/s",
    "_rev_per_min": "rev/min",
    "_Nm": "N m",
    "_kg_per_s": "kg/s",
    "_W_per_K": "W/K",
    "_bar_a": "bar abs.",
    "_bar_g": "bar gauge",
    "_bar": "bar",
    "_fraction": "",
    "_count": "",
    "_degC": "°C",
    "_hours": "h",
    "_EUR": "EUR",
    "_kWh": "kWh",
    "_kJ": "kJ",
    "_Wh": "Wh",
    "_mm": "mm",
    "_m3": "m³",
    "_m2": "m²",
    "_kg": "kg",
    "_L": "L",
    "_K": "K",
    "_W": "W",
    "_m": "m",
}
UNITS = {
    "work_per_litre_kJ": "kJ/L",
    "work_per_litre_Wh": "Wh/L",
    "exergy_per_litre_kJ": "kJ/L",
    "annual_cost_EUR": "EUR/a",
    "water_per_fluid_kg": "kg/kg",
    "cooling_water_per_fluid_kg": "kg/kg",
}
SHARES = frozenset(
    {
        "second_law_efficiency",
        "thermal_efficiency",
        "isentropic_efficiency",
        "drive_efficiency",
        "pump_efficiency",
        "back_work_ratio",
        "exhaust_quality",
        "held_fraction",
        "served_share",
        "sun_to_shaft_efficiency",
        "regenerator_effectiveness",
        "outside_ranges_fraction",
    }
)
TUBE_COUNTS = (*(f"boiler_tubes_{level}_count" for level in (1, 2, 3)), "condenser_tubes_1_count")
COUNTS = frozenset({"stages", "pressure_levels", *TUBE_COUNTS})
LABELS = {
    "fluid": "Working fluid",
    "store_mode": "Store",
    "top_temperature_degC": "Store temperature, full",
    "evaporating_temperature_degC": "Evaporating temperature",
    "lowest_evaporating_temperature_degC": "Evaporating temperature, lowest level",
    "boil_approach_K": "Store above boiling fluid",
    "stop_temperature_degC": "Store temperature, engine stops",
    "superheat_K": "Superheat",
    "condensing_temperature_degC": "Condensing temperature",
    "subcooling_K": "Subcooling",
    "pinch_boiler_K": "Boiler pinch",
    "pinch_condenser_K": "Condenser pinch",
    "stages": "Expander stages",
    "pressure_levels": "Pressure levels",
    "release_pressure_ratio": "Release pressure over exhaust pressure",
    "regenerator_effectiveness": "Regenerator effectiveness",
    "store_volume_L": "Store volume",
    "insulation_mm": "Insulation",
    "collector": "Collector",
    "collector_area_m2": "Collector area",
    "work_per_litre_kJ": "Work per litre of hot water",
    "work_per_litre_Wh": "Work per litre of hot water",
    "exergy_per_litre_kJ": "Exergy per litre of hot water",
    "second_law_efficiency": "Second-law efficiency",
    "thermal_efficiency": "Thermal efficiency",
    "isentropic_efficiency": "Isentropic efficiency of the expander",
    "back_work_ratio": "Feed pump work, share of shaft work",
    "exhaust_quality": "Vapour quality at the exhaust",
    "net_work_kJ_per_kg": "Net work",
    "shaft_work_kJ_per_kg": "Shaft work",
    "pump_work_kJ_per_kg": "Feed pump work",
    "circulation_work_kJ_per_kg": "Water circulation work",
    "boiler_pressure_bar_a": "Boiler pressure, rated",
    "max_boiler_pressure_bar_a": "Boiler pressure, greatest while running",
    "lowest_boiler_pressure_bar_a": "Boiler pressure, lowest level",
    "condenser_pressure_bar_a": "Condenser pressure",
    "peak_pressure_bar_g": "Peak pressure",
    "standstill_pressure_bar_g": "Standstill pressure",
    "fault_pressure_bar_g": "Pressure with the store boiling",
    "design_pressure_bar_g": "Design pressure and relief setting",
    "pressure_at_20degC_bar_g": "Pressure at 20 °C",
    "test_pressure_bar_g": "Test pressure",
    "water_per_fluid_kg": "Hot water per fluid",
    "cooling_water_per_fluid_kg": "Cooling water per fluid",
    "return_temperature_degC": "Hot water return temperature",
    "held_fraction": "Hot water left after standing",
    "held_temperature_degC": "Store temperature after standing",
    "store_loss_W_per_K": "Store heat loss",
    "boiler_area_m2": "Boiler area",
    "condenser_area_m2": "Condenser area",
    "regenerator_area_m2": "Regenerator area",
    "outside_ranges_fraction": "Farthest outside a function's range",
    "outside_ranges": "Functions used outside their range",
    **{
        f"{exchanger}_tubes_{level}_{key}": f"{exchanger.capitalize()} tubes, {words}{place}"
        for exchanger, places in (
            ("boiler", ("", ", second level", ", third level")),
            ("condenser", ("",)),
        )
        for level, place in enumerate(places, start=1)
        for key, words in (("count", "side by side"), ("length_m", "length of each"))
    },
    **{
        f"{exchanger}_{key}": f"{exchanger.capitalize()}: {words}"
        for exchanger in ("boiler", "condenser")
        for key, words in (
            ("U_liquid_W_per_m2K", "U, liquid"),
            ("U_two_phase_W_per_m2K", "U, two-phase"),
            ("U_vapour_W_per_m2K", "U, vapour"),
            ("fluid_drop_bar", "pressure lost by the fluid"),
            ("water_drop_bar", "pressure lost by the water"),
            ("rated_pinch_K", "pinch with the tubes at hand"),
        )
    },
    "fluid_flow_kg_per_s": "Fluid flow",
    "hot_water_flow_kg_per_s": "Hot water flow",
    "cooling_water_flow_kg_per_s": "Cooling water flow",
    "suction_head_m": "Suction head at the feed pump",
    "speed_full_rev_per_min": "Speed, full store",
    "torque_full_Nm": "Shaft torque, full store",
    "power_full_W": "Power at the engine's shaft, full store",
    "speed_rated_rev_per_min": "Speed, rated point",
    "torque_rated_Nm": "Shaft torque, rated point",
    "power_rated_W": "Power at the engine's shaft, rated point",
    "speed_size_rev_per_min": "Speed, sizing point",
    "torque_size_Nm": "Shaft torque, sizing point",
    "power_size_W": "Power at the engine's shaft, sizing point",
    "rated_store_temperature_degC": "Store temperature, rated point",
    "sizing_store_temperature_degC": "Store temperature, sizing point",
    "drive_efficiency": "Efficiency of the drive to the load",
    "pump_efficiency": "Efficiency of the feed pump",
    "relief_capacity_kg_per_s": "Vapour the relief valve must pass",
    "outside_measured": "Below the pressures of measured engines",
    "cost_cut_off_gear_EUR": "Cost: variable cut-off gear",
    "charge_kg": "Fluid charge",
    "room_volume_needed_m3": "Room air volume needed",
    "served_share": "Demand served",
    "shaft_energy_kWh_per_year": "Shaft energy",
    "longest_unserved_hours": "Longest unserved stretch",
    "autonomy_hours": "Running time of a full store",
    "stagnation_hours": "Hours with heat to spare",
    "collector_yield_kWh_per_year": "Collector yield",
    "sun_to_shaft_efficiency": "Sun to shaft efficiency",
    "cooling_water_L_per_year": "Cooling water",
    "cost_EUR": "Cost",
    "annual_cost_EUR": "Annual cost",
    "cost_EUR_per_kWh": "Cost of shaft energy",
}
BROKEN = {
    "critical_temperature": "Too close to the critical point",
    "standstill_temperature": "Too close to the critical point at standstill",
    "store_boiling": "Store too close to boiling",
    "evaporating_temperature": "Evaporation too hot for the store",
    "boiler_hot_end": "Hot end of the boiler too narrow",
    "boiler_cold_end": "Cold end of the boiler too narrow",
    "level_flow": "A pressure level without vapour",
    "pressure_levels": "More pressure levels than stages",
    "stop_temperature": "Engine would stop too cold",
    "condenser_pinch": "Condenser too close to the cooling water",
    "condenser_subcooling": "Subcooling below the cooling water",
    "clearance": "Clearance too large for the expansion",
    "recompression": "Recompression longer than the stroke",
    "exchanger_pressure_drop": "Too much pressure lost in tubes",
    "exchanger_water_pressure_drop": "Too much pressure lost by water along tubes",
    "exchanger_unsettled": "Flow and pressure drops that do not settle",
    "boiler_tube_length": "Boiler tubes at hand too short",
    "condenser_tube_length": "Condenser tubes at hand too short",
    "part_load": "Too weak when the store has cooled",
    "work": "No net work",
    "fault_temperature": "Above the critical point when the store boils",
    "engine_residual": "Cylinders and losses that do not settle",
    "port_mach": "Admission port too small for the speed",
    "sizing_temperature": "Sized for a store hotter than it is after standing",
    "suction_head": "Feed pump lacks suction head",
    "stroke": "Stroke too short or too long for the bore",
    "governing": "Governor that the load does not take",
    "served_share": "Too little of the demand served",
    "peak_pressure": "Above the pressure ceiling",
    "safety_class": "Safety class not allowed",
    "fluid_choice": "Fluid not among those allowed",
    "condenser_vacuum": "Condenser below air pressure",
    "budget": "Over the budget",
    "room": "Room too small for the charge",
    "material_clash": "Fluid attacks the materials to be used",
    "laws_of_nature": "Against a law of nature",
    "numbers": "No sound result",
}
NUMBERED = {
    "volume_ratio": "Expansion volume ratio",
    "swept_volume": "Swept volume",
    "bore": "Bore",
    "stroke": "Stroke",
    "piston_speed": "Mean piston speed",
    "receiver_pressure": "Inlet pressure",
    "stage_work": "Work",
    "leakage": "Vapour lost by leaks",
    "wall_loss": "Vapour lost to the walls",
    "friction": "Friction mean pressure",
}
# Gauge pressures and margins are differences: what is less than this is no pressure.
LEAST_BAR = {"bar gauge": 0.01, "bar": 0.0005}
THIN_SPACE = "\u202f"
NONE = "–"
LONG = 100_000  # from here on even whole numbers keep no more than three digits


def unit(name: str) -> str:
    """Return the unit of a column as shown, '%' for a share, '' for a pure number or a word."""
    if name in SHARES:
        return "%"
    if name in UNITS:
        return UNITS[name]
    return next((shown for suffix, shown in SUFFIXES.items() if name.endswith(suffix)), "")


def label(name: str) -> str:
    """Return what a column is called on the page, without its unit."""
    if name in LABELS:
        return LABELS[name]
    if name.startswith("violation_"):
        return _limit(name.removeprefix("violation_"))
    bare = _without_unit(name)
    stem, _, last = bare.rpartition("_")
    if last.isdigit() and stem in NUMBERED:
        return f"{NUMBERED[stem]}, stage {last}"
    if name.startswith("cost_"):
        return f"Cost: {bare.removeprefix('cost_').replace('_', ' ')}"
    return _sentence_case(bare)


def _limit(name: str) -> str:
    if name.startswith("bound_"):
        return f"Outside the bounds of {label(name.removeprefix('bound_')).lower()}"
    bare = _without_unit(name)
    return BROKEN.get(bare, _sentence_case(bare))


def _sentence_case(name: str) -> str:
    words = name.replace("_", " ")
    return words[:1].upper() + words[1:]


def _without_unit(name: str) -> str:
    return next((name.removesuffix(suffix) for suffix in SUFFIXES if name.endswith(suffix)), name)


def write(value: float, name: str = "") -> str:
    """Write a number with sensible digits: three significant, from 1000 to 99 999 all before the point.

    Shares become percentages, counts whole numbers; NaN is a dash. The page's script writes the same
    (``writeNumber``); a test holds the two together.
    """
    if not isfinite(value):
        return NONE
    if name in COUNTS:
        return str(round(value))
    if abs(value) < LEAST_BAR.get(unit(name), 0.0):
        return "0"
    return three_digits(value * 100 if name in SHARES else value)


def whole(count: object) -> str:
    """Write a count with its thousands set apart."""
    return f"{int(str(count)):,}".replace(",", THIN_SPACE)


def three_digits(value: float) -> str:
    """Write ``value`` with three significant digits, those from 1000 to 99 999 whole; thousands set apart.

    Halves are rounded away from zero.
    """
    exact = Decimal(value)
    if abs(exact) < Decimal("1e-6"):
        return "0"
    whole = 1000 <= abs(exact) < LONG
    rounded = exact.quantize(Decimal(1), ROUND_HALF_UP) if whole else _significant(exact)
    return f"{rounded:,f}".replace(",", THIN_SPACE).replace("-", "−")


def _significant(exact: Decimal) -> Decimal:
    rounded = exact
    for _ in range(2):  # the second pass drops the digit gained when 9.999 becomes 10.00
        rounded = exact.quantize(Decimal(1).scaleb(rounded.adjusted() - 2), ROUND_HALF_UP)
    return rounded


def shown(cell: str, name: str, *, with_unit: bool = True) -> str:
    """Write a cell of column ``name`` for the reader; words stay as they are, but for names of files."""
    try:
        value = float(cell)
    except ValueError:
        return cell.replace("_", " ") or NONE
    text = write(value, name)
    ending = unit(name)
    return f"{text} {ending}" if with_unit and ending and text != NONE else text
