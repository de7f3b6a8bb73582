"""The columns of a bench log: in which tests each stands, what its readings can be, and how accurate they are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

RUNNING, MOTORING, LEAK_DOWN, COOL_DOWN, PUMP = "running", "motoring", "leak_down", "cool_down", "pump"
BOILER, CONDENSER = "boiler", "condenser"
EXCHANGERS = (BOILER, CONDENSER)
"""Tests of a plant whose areas are known, that of a design; a running line of it may hold their columns as well."""


@dataclass(frozen=True)
class Column:
    """A column: in which tests it stands, as ``given`` condition or else as measured, and what its readings can be.

    ``accuracy`` is within which 95 % of readings lie, in the column's unit; with ``share`` as a share of the greatest
    reading of the column. Conditions without accuracy count as exact. ``why`` says where the accuracy is from.
    """

    least: float
    most: float
    given: tuple[str, ...] = ()
    measured: tuple[str, ...] = ()
    accuracy: float = 0.0
    share: bool = False
    why: str = ""

    @property
    def tests(self) -> tuple[str, ...]:
        """Every test in which it may stand."""
        return self.given + self.measured


GAUGE = "gauge of class 1 to 10 bar, 1 % of full scale; assumption"
THERMOMETER = "sensor with its bracket in the flow; assumption"
POCKET = "sensor in a pocket in the water; assumption"
METER = "water meter or a vessel over some minutes; assumption"
ONE_THERMOMETER = "one sensor read twice, so that only its change counts; assumption"
BRAKE = "brake with a spring balance; assumption"
CARD = "indicator with its spring calibrated; assumption"
WEIGHED = "weighed or measured in a vessel over some minutes; assumption"
COUNTER = "counter on the crank; assumption"

COLUMNS: dict[str, Column] = {
    "speed_rev_per_min": Column(1, 20_000, (RUNNING, MOTORING), accuracy=0.005, share=True, why=COUNTER),
    "inlet_pressure_bar_a": Column(0.01, 200, (RUNNING, LEAK_DOWN, BOILER), accuracy=0.1, why=GAUGE),
    "outlet_pressure_bar_a": Column(0.01, 200, (RUNNING, LEAK_DOWN), accuracy=0.1, why=GAUGE),
    "inlet_temperature_degC": Column(-60, 400, (RUNNING, LEAK_DOWN, BOILER), accuracy=1.0, why=THERMOMETER),
    "inlet_quality": Column(0.3, 1, (RUNNING, BOILER), accuracy=0.01, why="from a throttling calorimeter; assumption"),
    "boiler_pressure_bar_a": Column(0.01, 200, (BOILER,), accuracy=0.1, why=GAUGE),
    "boiler_2_pressure_bar_a": Column(0.01, 200, (RUNNING, BOILER), accuracy=0.1, why=GAUGE),
    "boiler_2_temperature_degC": Column(-60, 400, (RUNNING, BOILER), accuracy=1.0, why=THERMOMETER),
    "boiler_3_pressure_bar_a": Column(0.01, 200, (RUNNING, BOILER), accuracy=0.1, why=GAUGE),
    "boiler_3_temperature_degC": Column(-60, 400, (RUNNING, BOILER), accuracy=1.0, why=THERMOMETER),
    "condenser_pressure_bar_a": Column(0.01, 200, EXCHANGERS, accuracy=0.1, why=GAUGE),
    "feed_temperature_degC": Column(-60, 200, (BOILER,), accuracy=1.0, why=THERMOMETER),
    "hot_water_flow_L_per_h": Column(0.1, 1e6, (BOILER,), accuracy=0.02, share=True, why=METER),
    "hot_water_outlet_temperature_degC": Column(0, 99, (BOILER,), accuracy=0.5, why=POCKET),
    "exhaust_quality": Column(0.3, 1, (CONDENSER,), accuracy=0.01, why="from a throttling calorimeter; assumption"),
    "condensate_temperature_degC": Column(-60, 200, (CONDENSER,), accuracy=1.0, why=THERMOMETER),
    "cooling_water_flow_L_per_h": Column(0.1, 1e6, (CONDENSER,), accuracy=0.02, share=True, why=METER),
    "cooling_water_outlet_temperature_degC": Column(0, 99, (CONDENSER,), accuracy=0.5, why=POCKET),
    "stage": Column(1, 6, (RUNNING, LEAK_DOWN)),
    "held_volume_L": Column(0.001, 1000, (LEAK_DOWN,)),
    "duration_s": Column(0.1, 1e6, (LEAK_DOWN,)),
    "duration_h": Column(0.1, 1000, (COOL_DOWN,)),
    "store_volume_L": Column(5, 100_000, (COOL_DOWN,)),
    "insulation_mm": Column(1, 1000, (COOL_DOWN,)),
    "store_temperature_degC": Column(0, 110, (COOL_DOWN,), accuracy=0.2, why=ONE_THERMOMETER),
    "room_temperature_degC": Column(-40, 60, (COOL_DOWN,), accuracy=1.0, why=THERMOMETER),
    "pump_pressure_rise_bar": Column(0.05, 200, (PUMP,), accuracy=0.1, why=GAUGE),
    "pump_displacement_L_per_h": Column(0.01, 100_000, (PUMP,)),
    "flow_kg_per_h": Column(0.001, 1e5, EXCHANGERS, (RUNNING,), accuracy=0.02, share=True, why=WEIGHED),
    "indicated_power_W": Column(0.1, 1e6, measured=(RUNNING,), accuracy=0.03, share=True, why=CARD),
    "indicated_mean_pressure_bar": Column(0.001, 100, measured=(RUNNING,), accuracy=0.03, share=True, why=CARD),
    "card_admission_pressure_bar_a": Column(0.01, 200, measured=(RUNNING,), accuracy=0.1, why=CARD),
    "card_exhaust_pressure_bar_a": Column(0.01, 200, measured=(RUNNING,), accuracy=0.1, why=CARD),
    "shaft_power_W": Column(0.1, 1e6, measured=(RUNNING,), accuracy=0.02, share=True, why=BRAKE),
    "torque_Nm": Column(0.001, 1e5, measured=(RUNNING, MOTORING), accuracy=0.02, share=True, why=BRAKE),
    "exhaust_temperature_degC": Column(-60, 400, (CONDENSER,), (RUNNING,), accuracy=1.0, why=THERMOMETER),
    "end_pressure_bar_a": Column(0.01, 200, measured=(LEAK_DOWN,), accuracy=0.1, why=GAUGE),
    "end_temperature_degC": Column(-20, 110, measured=(COOL_DOWN,), accuracy=0.2, why=ONE_THERMOMETER),
    "pump_flow_L_per_h": Column(0.01, 1e5, measured=(PUMP,), accuracy=0.02, share=True, why=WEIGHED),
    "pump_power_W": Column(0.01, 1e5, measured=(PUMP,), accuracy=0.03, share=True, why=BRAKE),
    "hot_water_temperature_degC": Column(0, 110, measured=(BOILER,), accuracy=0.5, why=POCKET),
    "boiler_2_water_temperature_degC": Column(0, 110, measured=(BOILER,), accuracy=0.5, why=POCKET),
    "boiler_3_water_temperature_degC": Column(0, 110, measured=(BOILER,), accuracy=0.5, why=POCKET),
    "cooling_water_temperature_degC": Column(0, 99, measured=(CONDENSER,), accuracy=0.5, why=POCKET),
}  # fmt: skip
"""Every column by name. Ranges are wide: they catch a wrong unit, not a bad reading. Accuracies are those of a careful
hobby bench: assumptions, changed by the key ``accuracy``."""
NEEDED = {
    RUNNING: ("speed_rev_per_min", "inlet_pressure_bar_a", "outlet_pressure_bar_a"),
    MOTORING: ("speed_rev_per_min",),
    LEAK_DOWN: ("inlet_pressure_bar_a", "outlet_pressure_bar_a", "inlet_temperature_degC", "held_volume_L", "duration_s"),
    COOL_DOWN: ("store_temperature_degC", "room_temperature_degC", "duration_h", "store_volume_L", "insulation_mm"),
    PUMP: ("pump_pressure_rise_bar", "pump_displacement_L_per_h"),
    BOILER: ("boiler_pressure_bar_a", "flow_kg_per_h"),
    CONDENSER: ("condenser_pressure_bar_a", "flow_kg_per_h", "exhaust_temperature_degC"),
}  # fmt: skip
"""Conditions without which a test says nothing; running needs the inlet's temperature or quality as well."""
GAUGED = {
    f"{name}_bar_g": f"{name}_bar_a"
    for name in (
        "inlet_pressure", "outlet_pressure", "card_admission_pressure", "card_exhaust_pressure", "end_pressure",
        "boiler_pressure", "boiler_2_pressure", "boiler_3_pressure", "condenser_pressure",
    )
}  # fmt: skip
"""Columns of a gauge, in bar above the air around, and the absolute ones that they become."""
FRESH = tuple((f"boiler_{i}_pressure_bar_a", f"boiler_{i}_temperature_degC") for i in (2, 3))
"""Of boilers in series, from the second: where its gauge stands, and the thermometer of the vapour that it gives."""
BETWEEN = tuple(f"boiler_{i}_water_temperature_degC" for i in (2, 3))
"""The hot water as it comes to them."""
TWICE = (("shaft_power_W", "torque_Nm"), ("indicated_power_W", "indicated_mean_pressure_bar"))
"""Columns that speed and swept volume make of one another: both in a line would count one reading as two."""
