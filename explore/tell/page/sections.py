"""Which figures stand together on a design sheet."""

from __future__ import annotations

from collections.abc import Sequence

STARTS = {
    "The choice": "fluid store_mode top_temp evaporating lowest_evap boil_approach stop_temp superheat condensing_temp "
    "subcooling pinch stages pressure_levels release regenerator_eff store_volume insulation collector_area collector",
    "Work and efficiency": "work_per exergy second_law thermal_eff isentropic back_work exhaust_q net_work "
    "shaft_work pump_work circulation sun_to_shaft",
    "Pressures": "boiler_pressure max_boiler lowest_boiler condenser_pressure peak standstill fault pressure_at test_p "
    "receiver_pressure",
    "Store and water": "water_per cooling_water hot_water return_temp held store_loss",
    "Cylinders": "volume_ratio swept bore stroke piston stage_work",
    "Exchangers, flow and charge": "boiler_area boiler_tubes boiler_U boiler_fluid boiler_water boiler_rated "
    "condenser_area condenser_tubes condenser_U condenser_fluid condenser_water condenser_rated "
    "regenerator_area fluid_flow suction charge room outside_ranges",
    "The year": "served shaft_energy longest autonomy stagnation collector_yield",
    "Money": "cost annual",
    "Margins to the limits (negative is safe)": "violation",
}
REST = "Other figures"


def figure_sections(header: Sequence[str]) -> list[tuple[str, list[str]]]:
    """Sort columns into titled sections, in the order of the header; no column is lost but ``possible``, ``feasible``."""
    found: dict[str, list[str]] = {title: [] for title in (*STARTS, REST)}
    for name in header:
        if name not in ("possible", "feasible"):
            found[_section(name)].append(name)
    return [(title, names) for title, names in found.items() if names]


def _section(name: str) -> str:
    matches = [
        (len(start), title)
        for title, starts in STARTS.items()
        for start in starts.split()
        if name.startswith(start)
    ]
    return max(matches, default=(0, REST))[1]
