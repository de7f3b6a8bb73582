"""Readings of one line that cannot stand together, whatever the machine is."""

from __future__ import annotations

import math
from collections.abc import Mapping

from explore.bench.columns import COLUMNS, TWICE
from explore.errors import InputError

DOUBTLESS = 1.1
"""Shaft over indicated power above which it is no matter of accuracy: twice the worst of the defaults together."""
STEPPED = (
    ("inlet_pressure_bar_a", "outlet_pressure_bar_a"),
    ("inlet_pressure_bar_a", "end_pressure_bar_a"),
    ("end_pressure_bar_a", "outlet_pressure_bar_a"),
    ("store_temperature_degC", "end_temperature_degC"),
    ("end_temperature_degC", "room_temperature_degC"),
    ("hot_water_temperature_degC", "hot_water_outlet_temperature_degC"),
    ("cooling_water_outlet_temperature_degC", "cooling_water_temperature_degC"),
    ("boiler_pressure_bar_a", "condenser_pressure_bar_a"),
    ("boiler_pressure_bar_a", "boiler_2_pressure_bar_a"),
    ("inlet_pressure_bar_a", "boiler_2_pressure_bar_a"),
    ("boiler_2_pressure_bar_a", "boiler_3_pressure_bar_a"),
    ("boiler_2_pressure_bar_a", "condenser_pressure_bar_a"),
    ("boiler_2_pressure_bar_a", "outlet_pressure_bar_a"),
    ("boiler_3_pressure_bar_a", "condenser_pressure_bar_a"),
    ("boiler_3_pressure_bar_a", "outlet_pressure_bar_a"),
    ("hot_water_temperature_degC", "boiler_2_water_temperature_degC"),
    ("boiler_2_water_temperature_degC", "boiler_3_water_temperature_degC"),
    ("boiler_2_water_temperature_degC", "hot_water_outlet_temperature_degC"),
    ("boiler_3_water_temperature_degC", "hot_water_outlet_temperature_degC"),
)
"""Of each pair the first must be the greater: the test is about the step between them."""
DOWNWARDS = (
    ("boiler_pressure_bar_a", "inlet_pressure_bar_a", "vapour flows from the boiler to the engine"),
    ("outlet_pressure_bar_a", "condenser_pressure_bar_a", "vapour flows from the engine to the condenser"),
    ("inlet_temperature_degC", "exhaust_temperature_degC", "vapour that expands gets no hotter"),
    ("hot_water_temperature_degC", "inlet_temperature_degC", "the water heats the vapour"),
    ("hot_water_temperature_degC", "boiler_2_temperature_degC", "the water heats the vapour"),
    ("hot_water_temperature_degC", "boiler_3_temperature_degC", "the water heats the vapour"),
    ("boiler_2_water_temperature_degC", "boiler_2_temperature_degC", "the water heats the vapour"),
    ("boiler_3_water_temperature_degC", "boiler_3_temperature_degC", "the water heats the vapour"),
    ("hot_water_outlet_temperature_degC", "feed_temperature_degC", "the water heats the feed"),
    ("exhaust_temperature_degC", "cooling_water_outlet_temperature_degC", "the water is heated by the exhaust"),
    ("exhaust_temperature_degC", "cooling_water_temperature_degC", "the water cools the exhaust"),
    ("condensate_temperature_degC", "cooling_water_temperature_degC", "the water cools the condensate"),
)  # fmt: skip
"""Of each pair the second is the greater by no more than both accuracies together, and why: what flows, flows downwards."""


def refuse_senseless(where: str, values: Mapping[str, float], own: Mapping[str, float]) -> None:
    """Raise :class:`InputError` for readings that cannot stand together; ``own`` accuracies in place of the defaults."""
    for one, other in TWICE:
        if one in values and other in values:
            raise InputError(
                f"{where}: {one} and {other} are one reading told twice; give either, one of the two"
            )
    for high, low in STEPPED:
        if high in values and low in values and values[low] >= values[high]:
            raise InputError(
                f"{where}: {low} is {values[low]:.5g} and {high} {values[high]:.5g}; it must be lower"
            )
    for high, low, why in DOWNWARDS:
        both = sum(own.get(name, COLUMNS[name].accuracy) for name in (high, low))
        if high in values and low in values and values[low] > values[high] + both:
            raise InputError(
                f"{where}: {low} is {values[low]:.5g} and {high} {values[high]:.5g}; it must not be higher, as {why}: is "
                "one in the wrong column?"
            )
    if values.get("shaft_power_W", 0.0) > DOUBTLESS * values.get("indicated_power_W", math.inf):
        raise InputError(
            f"{where}: the shaft gives more than is indicated, {values['shaft_power_W']:g} W; check both"
        )
