"""A design to begin with."""

from __future__ import annotations

from typing import Any

USUAL: dict[str, Any] = {
    "fluid": "R1233zd(E)",
    "store_mode": "stratified",
    "top_temperature_degC": 90.0,
    "evaporating_temperature_degC": 65.0,
    "lowest_evaporating_temperature_degC": 45.0,
    "boil_approach_K": 6.0,
    "stop_temperature_degC": 50.0,
    "superheat_K": 5.0,
    "condensing_temperature_degC": 22.0,
    "subcooling_K": 1.0,
    "pinch_boiler_K": 4.0,
    "pinch_condenser_K": 4.0,
    "stages": 1,
    "pressure_levels": 1,
    "release_pressure_ratio": 1.3,
    "regenerator_effectiveness": 0.0,
    "store_volume_L": 1000.0,
    "insulation_mm": 200.0,
    "collector": "flat_plate",
    "collector_area_m2": 12.0,
    "speed_rev_per_min": 300.0,
    "cylinders_per_stage": 1,
    "governing": "throttle",
    "sizing_share": 0.3,
}
"""Round values of a plain plant that serves the default scenario with a fluid that does not burn: no optimum. All inputs
are there, those as well that count only for another store or number of stages, so that any one can be changed alone."""
