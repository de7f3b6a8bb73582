"""What the reader may price anew on the page: the lines of the bill with the keys they follow, interest and lifetime."""

from __future__ import annotations

from typing import Any

from explore.config.schema import Case
from explore.figures.catalogue import BILL
from explore.tell.page.data import Run

KEYS = {
    "store": ("store_EUR_per_L065",),
    "insulation": ("insulation_EUR_per_m3",),
    "boiler": ("boiler_EUR_per_m2",),
    "condenser": ("condenser_EUR_per_m2",),
    "regenerator": ("regenerator_EUR_per_m2",),
    "engine": ("engine_EUR_per_stage", "engine_EUR_per_L06"),
    "cut_off_gear": ("cut_off_gear_EUR",),
    "drive": ("drive_EUR_per_ratio_4",),
    "bank": ("battery_EUR_per_kWh", "header_tank_EUR_per_m3"),
    "levels": (
        "boiler_set_EUR_per_level",
        "receiver_EUR_per_level",
        "feed_pump_EUR_per_level",
        "safety_valve_EUR",
    ),
    "instruments": ("instruments_EUR",),
}
"""Prices of the group ``costs`` that each line is proportional to, all together; collectors and charge follow the cards."""
SHARES = {
    "fittings": ("fittings_fraction", "Fittings, share of all other lines", "%", 100.0),
    "interest": ("interest_rate", "Interest", "% a year", 100.0),
    "maintenance": ("maintenance_fraction", "Maintenance a year, share of the cost", "%", 100.0),
    "lifetime": ("lifetime_years", "Years over which the plant is paid", "a", 1.0),
}
"""What is typed as it is and not as a factor: its key, its words, the unit shown, and how many of them are one."""


def lines(run: Run) -> list[dict[str, Any]]:
    """Return the lines that any design on the page pays for, with their keys and what these are in the searched case."""
    found = []
    for column, words in BILL.items():
        name = column.removeprefix("cost_").removesuffix("_EUR")
        keys = _keys(run.case, run, name)
        paid = any(number > 0.0 for table in (run.front, run.kept) for number in table.numbers(column))
        if name != "fittings" and column in run.front.header:
            found.append(
                {"name": name, "column": column, "line": words, "keys": keys, "paid": paid and bool(keys)}
            )
    return found


def shares(run: Run) -> list[dict[str, Any]]:
    """Return what is typed as it is, with its value in the searched case in the unit shown."""
    found = []
    for name, (key, words, unit, many) in SHARES.items():
        value = round(getattr(run.case.costs, key) * many, 9)
        found.append(
            {"name": name, "key": f"costs.{key}", "line": words, "unit": unit, "value": value, "many": many}
        )
    return found


def _keys(case: Case, run: Run, line: str) -> list[list[Any]]:
    """List keys of the configuration and their values, of which a line of the bill is a multiple."""
    if line == "collectors":
        return [
            [f"collectors.{key}.price_EUR_per_m2", card.price_EUR_per_m2]
            for key, card in case.collectors.items()
        ]
    if line == "charge":
        here = {*run.front.text("fluid"), *run.kept.text("fluid")}
        return [
            [f"fluids.{key}.price_EUR_per_kg", card.price_EUR_per_kg]
            for key, card in case.fluids.items()
            if card.name in here
        ]
    return [[f"costs.{key}", getattr(case.costs, key)] for key in KEYS.get(line, ())]
