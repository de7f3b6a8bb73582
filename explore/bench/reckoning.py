"""What the lines of an exchanger lack and other lines say, and which of them say nothing after all."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from explore import units
from explore.bench.columns import BOILER, CONDENSER, FRESH, Array
from explore.bench.log import Reckoned, Trial
from explore.bench.plant import Built
from explore.bench.trials import Bench
from explore.errors import InputError

Flows = Callable[[Sequence[int], Mapping[str, str]], tuple[Array, Reckoned]]
"""From lines, and the conditions shared with an exchanger, to flow [kg/h] (n,) and its doubt."""
SHARED = {
    BOILER: {
        "inlet_pressure_bar_a": "boiler_pressure_bar_a",
        "inlet_temperature_degC": "inlet_temperature_degC",
        "inlet_quality": "inlet_quality",
        **{name: name for pair in FRESH for name in pair},
    },
    CONDENSER: {"outlet_pressure_bar_a": "condenser_pressure_bar_a"},
}
"""Conditions of the engine that are an exchanger's as well, read once: where they are wrong, they are so for both."""
APART = {"inlet_pressure_bar_a": "inlet_pressure_bar_a"}
"""Where a throttle or tubes lie between boiler and engine: that gauge says the superheat, not where it boils."""
WEIGHED = ("cooling_water_flow_L_per_h", "cooling_water_outlet_temperature_degC")
"""What says the heat of exhaust whose temperature does not."""
QUALITY = "exhaust_quality"
LEAST_WEIGHED, MOST_WEIGHED = 0.3, 1.3
"""Of what the water says: wetter no engine exhausts, and a dry one is no warmer by more heat than instruments are off."""
WEIGHED_STEP = 1e-4
"""Of the greatest value of a reading, for the slope of what is weighed: it is nearly straight over a hundredth."""


def dry(test: Trial, bench: Bench, untold: list[str]) -> Trial:
    """Leave out the lines of a condenser whose exhaust may be wet and nothing says how wet.

    Wet is what within its accuracy is no warmer than its dew point. How wet is read, or :func:`weighed` later.
    """
    if test.kind != CONDENSER:
        return test
    gone = _colder(test, bench, 0.0) & ~np.isfinite(_read(test, QUALITY)) & ~_weighable(test)
    if gone.any():
        untold.append(
            f"Of the condenser {_lines(test, gone)}: the exhaust is no warmer than its dew point, within its accuracy; how "
            f"wet it is {QUALITY} would say, or {' and '.join(WEIGHED)} together."
        )
    return _without(test, gone)


def weighed(test: Trial, bench: Bench) -> Trial:
    """Reckon the quality of exhaust that may be wet from the heat that its cooling water took up, where nobody read it.

    Within the accuracy of thermometer and gauge: dry exhaust is weighed as well as wet. Raises :class:`InputError` where
    the water says what no exhaust can be.
    """
    if test.kind != CONDENSER:
        return test
    found = _colder(test, bench, 1.0) & ~np.isfinite(_read(test, QUALITY)) & _weighable(test)
    if not found.any():
        return test
    quality = np.where(found, _quality(test, bench), _read(test, QUALITY))
    for line, one, own in zip(test.lines, quality, found, strict=True):
        if own and not LEAST_WEIGHED <= one <= MOST_WEIGHED:
            raise InputError(
                f"line {line}: by the heat that the cooling water took up the exhaust would be {100.0 * one:.0f} % vapour; "
                "check flow_kg_per_h and the flow and temperatures of the water"
            )
    slopes = {}
    for name in (*test.given(), *test.measured()):
        step = WEIGHED_STEP * max(float(np.nanmax(np.abs(test.columns[name]))), 1.0)
        moved = replace(test, columns={**test.columns, name: test.columns[name] + step})
        slope = np.where(found, (_quality(moved, bench) - quality) / step, 0.0)
        if slope.any():
            slopes[name] = np.nan_to_num(slope)
    accuracy = {QUALITY: 0.0} | dict(test.accuracy)  # what was read keeps its own
    joint = {**test.joint, QUALITY: Reckoned(np.zeros((len(found), len(found))), slopes)}
    return replace(test, columns={**test.columns, QUALITY: quality}, accuracy=accuracy, joint=joint)


def _quality(test: Trial, bench: Bench) -> Array:
    """Share of vapour [-] that the heat taken up by the cooling water leaves for the exhaust; above 1 it is superheated."""
    water, column = bench.water, test.columns
    pressure = column["condenser_pressure_bar_a"] * units.PA_PER_BAR
    fluid = bench.fluid.take(np.zeros(len(pressure), dtype=np.intp))
    line = fluid.saturation(pressure)
    assert bench.plant is not None, "such tests are refused of an engine alone"
    cold = units.kelvin(_read(test, "condensate_temperature_degC"))
    cold = np.where(np.isnan(cold), line.temperature - bench.plant.subcooling, cold)
    liquid = fluid.liquid(pressure, np.minimum(cold, line.temperature)).enthalpy
    entry = units.kelvin(column["cooling_water_temperature_degC"])
    outlet = units.kelvin(_read(test, "cooling_water_outlet_temperature_degC"))
    outlet = np.where(np.isnan(outlet), entry, outlet)  # of a line that is not weighed
    taken = water.density(entry) * (water.enthalpy(outlet) - water.enthalpy(entry))
    heat = taken * column["cooling_water_flow_L_per_h"] / units.L_PER_M3 / column["flow_kg_per_h"]
    return np.asarray((liquid + heat - line.h_liquid) / (line.h_vapour - line.h_liquid))


def _colder(test: Trial, bench: Bench, gauges: float) -> NDArray[np.bool_]:
    """Tell where exhaust is no warmer than its dew point, within the thermometer's accuracy and ``gauges`` gauge's."""
    gauge, thermometer = "condenser_pressure_bar_a", "exhaust_temperature_degC"
    pressure = (test.columns[gauge] + gauges * test.accuracy[gauge]) * units.PA_PER_BAR
    fluid = bench.fluid.take(np.zeros(len(pressure), dtype=np.intp))
    dew = units.celsius(fluid.saturation(pressure).dew_temperature)
    return np.asarray(test.columns[thermometer] < dew + test.accuracy[thermometer])


def _weighable(test: Trial) -> NDArray[np.bool_]:
    return np.logical_and.reduce([np.isfinite(_read(test, name)) for name in WEIGHED])


def _read(test: Trial, name: str) -> Array:
    """Return a column, NaN where it is not there."""
    return test.columns.get(name, np.full(len(test.lines), np.nan))


def shared(kind: str, plant: Built | None) -> dict[str, str]:
    """Return the conditions of the engine that are those of an exchanger of the plant as well, by their names there."""
    if plant is None or not plant.two_gauges:
        return SHARED[kind]
    if kind == BOILER:
        return SHARED[kind] | APART
    return {} if plant.tubes is not None else SHARED[kind]


def fed(test: Trial, flows: Flows | None, untold: list[str], plant: Built | None = None) -> Trial:
    """Give the lines of an exchanger that have no flow that of the fitted engine; without one they are ``untold``."""
    without = np.isnan(test.columns["flow_kg_per_h"])
    if not without.any():
        return test
    if flows is None:
        untold.append(
            f"Of the {test.kind} {_lines(test, without)}: flow_kg_per_h is not there, and of the engine that would say it "
            "nothing is told."
        )
        return _without(test, without)
    lines = [line for line, one in zip(test.lines, without, strict=True) if one]
    flow, doubt = flows(lines, shared(test.kind, plant))
    filled = test.columns["flow_kg_per_h"].copy()
    filled[without] = flow
    whole, slopes = np.zeros((len(without), len(without))), dict[str, Array]()
    whole[np.ix_(without, without)] = doubt.covariance
    for name, slope in doubt.slopes.items():
        slopes[name] = np.zeros(len(without))
        slopes[name][without] = slope
    joint = {"flow_kg_per_h": Reckoned(whole, slopes)}
    return replace(test, columns={**test.columns, "flow_kg_per_h": filled}, joint=joint)


def _lines(test: Trial, chosen: NDArray[np.bool_]) -> str:
    lines = [str(line) for line, one in zip(test.lines, chosen, strict=True) if one]
    return f"{'line' if len(lines) == 1 else 'lines'} {', '.join(lines)} {'says' if len(lines) == 1 else 'say'} nothing"


def _without(test: Trial, gone: NDArray[np.bool_]) -> Trial:
    kept = {name: values[~gone] for name, values in test.columns.items()}
    lines = tuple(line for line, one in zip(test.lines, gone, strict=True) if not one)
    return replace(test, lines=lines, columns=kept)
