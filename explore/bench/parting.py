"""What a line of a plant's log says to each of its parts: engine, boiler, condenser; and what a design cannot have.

A design knows its areas, store and valves, so that a running line may tell of the whole plant. What a line lacks for a part
is passed over for that part alone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from explore.bench.columns import (
    BETWEEN,
    BOILER,
    COLUMNS,
    CONDENSER,
    COOL_DOWN,
    EXCHANGERS,
    FRESH,
    NEEDED,
    RUNNING,
)
from explore.bench.plant import Built
from explore.errors import InputError

Values = dict[str, float]
HEAT = ("inlet_temperature_degC", "inlet_quality")
WATER = {BOILER: "hot_water_temperature_degC", CONDENSER: "cooling_water_temperature_degC"}
"""What is measured of an exchanger: without it a line says nothing of its films."""
STREAM = {
    BOILER: ("hot_water_flow_L_per_h", "hot_water_outlet_temperature_degC"),
    CONDENSER: ("cooling_water_flow_L_per_h", "cooling_water_outlet_temperature_degC"),
}
"""How the flow of the water is told: itself, or where it ends."""
FLOW = "flow_kg_per_h"
"""Of the fluid: where a line has not read it, but brake or card, the engine that is fitted says it."""
ONE_GAUGE = {"inlet_pressure_bar_a": "boiler", "outlet_pressure_bar_a": "condenser"}
"""Pressures at the engine, each with the exchanger whose gauge stands for it where nothing lies between."""
BRAKED = tuple(
    name for name, one in COLUMNS.items() if RUNNING in one.measured and not set(one.given) & set(EXCHANGERS)
)
"""What a running line measures for its engine alone: flow and exhaust are for the exchangers too, and make no line its."""

IN_SERIES = (*(name for pair in FRESH for name in pair), *BETWEEN)
"""What is measured at boilers behind the first."""


@dataclass(frozen=True)
class Parted:
    """A line as its tests, and of each exchanger whose water it measures what it lacks to be told."""

    tests: tuple[tuple[str, Values], ...]
    lacking: Mapping[str, str]


def refuse_exchangers(where: str, kind: str, values: Values) -> None:
    """Raise :class:`InputError` for a line of boiler or condenser where no design says their areas."""
    names = [name for name in values if set(COLUMNS[name].tests) <= set(EXCHANGERS) or name in IN_SERIES]
    if kind in EXCHANGERS or names:
        what = f"column {names[0]}" if names else f"test {kind}"
        raise InputError(
            f"{where}, {what}: areas of boiler and condenser stand in a design; give design=FILE in place of machine=, or "
            "leave it empty"
        )


def parted(where: str, kind: str, values: Values, plant: Built) -> Parted:
    """Divide a line among the parts of a plant; raises :class:`InputError` for what the plant cannot have."""
    _refuse_foreign(where, kind, values, plant)
    if kind == COOL_DOWN:
        store = {"store_volume_L": plant.store_volume_L, "insulation_mm": plant.insulation_mm}
        return Parted(((kind, store | values),), {})
    if kind == BOILER and plant.tubes is not None and plant.levels > 1:
        raise InputError(
            f"{where}, test boiler: no log tells how tubes of boilers in series divide the flow; leave the line away, "
            "lines of the condenser tell the one factor of all tubes"
        )
    if kind in EXCHANGERS:
        lacking = _lacking(kind, values, plant)
        if lacking:
            raise InputError(f"{where}, column {lacking}: a {kind} test of this plant needs it")
        return Parted(((kind, values),), {})
    if kind != RUNNING:
        return Parted(((kind, values),), {})
    return _running(where, _stood_in(values, plant), plant)


def _running(where: str, values: Values, plant: Built) -> Parted:
    """Divide a running line."""
    tests, lacking = list[tuple[str, Values]](), dict[str, str]()
    if set(BRAKED) & set(values):
        _refuse_one_gauge(where, values, plant)
    own = _own(RUNNING, values)
    whole = all(name in own for name in NEEDED[RUNNING]) and any(name in own for name in HEAT)
    for kind, water in WATER.items():
        if water not in values:
            continue
        without = _lacking(kind, values, plant, running=True)
        if kind == BOILER and plant.tubes is not None and plant.levels > 1:
            without = "a way to tell how tubes of boilers in series divide the flow"
        if without == FLOW and whole and set(own) & set(BRAKED):
            filled = {FLOW: math.nan} | values  # that of the engine, once it is fitted
            without = _lacking(kind, filled, plant, running=True)
        else:
            filled = values
        if without:
            lacking[kind] = without
        else:
            tests.append((kind, _own(kind, filled)))
    measured = [name for name in own if RUNNING in COLUMNS[name].measured]
    joins = [name for name in _fresh(plant) if name not in values]
    if joins and (set(measured) & set(BRAKED) or (whole and measured)):
        raise InputError(
            f"{where}, column {joins[0]}: vapour of {plant.levels} boilers joins between the stages of this design; a "
            "running test needs pressure and temperature of each"
        )
    if (whole and measured) or set(measured) & set(BRAKED) or not (tests or lacking):
        tests.append((RUNNING, own))
    return Parted(tuple(tests), lacking)


def _refuse_one_gauge(where: str, values: Values, plant: Built) -> None:
    """Raise :class:`InputError` where the engine's pressure would be that of an exchanger, and something lies between."""
    if plant.throttled and "inlet_pressure_bar_a" not in values:
        raise InputError(
            f"{where}, column inlet_pressure_bar_a: this design's engine is throttled, so that it is not the boiler's; "
            "give that behind the throttle"
        )
    for name, lost in ONE_GAUGE.items():
        if plant.tubes is not None and name not in values:
            raise InputError(
                f"{where}, column {name}: vapour loses pressure in the tubes of this design's {lost}, so that one gauge "
                "does not stand for both; give that at the engine"
            )


def _fresh(plant: Built) -> tuple[str, ...]:
    """Return the columns of the vapour that boilers behind the first give."""
    return tuple(name for pair in FRESH[: plant.levels - 1] for name in pair)


def _own(kind: str, values: Values) -> Values:
    return {name: value for name, value in values.items() if kind in COLUMNS[name].tests}


def _stood_in(values: Values, plant: Built) -> Values:
    """Let the gauge of an exchanger stand for the one at the engine, and this for that, where nothing lies between."""
    found = dict(values)
    pairs = [] if plant.tubes is not None else [("outlet_pressure_bar_a", "condenser_pressure_bar_a")]
    if not plant.two_gauges:
        pairs.append(("inlet_pressure_bar_a", "boiler_pressure_bar_a"))
    for pair in pairs:
        for one, other in (pair, pair[::-1]):
            if one in found:
                found.setdefault(other, found[one])
    return found


def _lacking(kind: str, values: Values, plant: Built, *, running: bool = False) -> str:
    """Name what a line lacks to tell of an exchanger, empty if nothing."""
    for name in (*NEEDED[kind], *(_fresh(plant) if kind == BOILER else ()), WATER[kind]):
        if name not in values:
            return name
    if kind == CONDENSER:
        if running and plant.regenerated:
            return "a line of its own, test condenser, with exhaust_temperature_degC behind the regenerator"
    elif not any(name in values for name in HEAT):
        return " or ".join(HEAT)
    elif plant.tubes is not None and "inlet_quality" not in values and "inlet_pressure_bar_a" not in values:
        return "inlet_pressure_bar_a"
    elif "feed_temperature_degC" not in values and (
        plant.regenerated or "condenser_pressure_bar_a" not in values
    ):
        return "feed_temperature_degC" + ("" if plant.regenerated else " or condenser_pressure_bar_a")
    if not (plant.coil and kind == BOILER) and not any(name in values for name in STREAM[kind]):
        return " or ".join(STREAM[kind])
    return ""


def _refuse_foreign(where: str, kind: str, values: Values, plant: Built) -> None:
    """Raise :class:`InputError` for a line that this plant cannot have given."""
    known = (*_fresh(plant), *BETWEEN[: plant.levels - 1])
    for name in IN_SERIES:
        if name in values and name not in known:
            what = (
                "a coil" if plant.coil else "one boiler" if plant.levels == 1 else f"{plant.levels} boilers"
            )
            raise InputError(f"{where}, column {name}: this design has {what}; leave it empty")
    for name in STREAM[BOILER]:
        if plant.coil and name in values:
            raise InputError(
                f"{where}, column {name}: this design's boiler is a coil in still water of the store, nothing flows; leave "
                "it empty, hot_water_temperature_degC is that of the store"
            )
