"""What the lines of an exchanger lack and other lines say, and which of them say nothing after all."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from explore import units
from explore.bench.columns import BOILER, CONDENSER, Array
from explore.bench.log import Reckoned, Trial
from explore.bench.trials import Bench

Flows = Callable[[Sequence[int], Mapping[str, str]], tuple[Array, Reckoned]]
"""From lines, and the conditions shared with an exchanger, to flow [kg/h] (n,) and its doubt."""
SHARED = {
    BOILER: {
        "inlet_pressure_bar_a": "boiler_pressure_bar_a",
        "inlet_temperature_degC": "inlet_temperature_degC",
        "inlet_quality": "inlet_quality",
    },
    CONDENSER: {"outlet_pressure_bar_a": "condenser_pressure_bar_a"},
}
"""Conditions of the engine that are an exchanger's as well, read once: where they are wrong, they are so for both."""


def dry(test: Trial, bench: Bench, untold: list[str]) -> Trial:
    """Leave out the lines of a condenser whose exhaust may be wet: within its accuracy no warmer than its dew point."""
    if test.kind != CONDENSER:
        return test
    pressure = test.columns["condenser_pressure_bar_a"] * units.PA_PER_BAR
    dew = units.celsius(
        bench.fluid.take(np.zeros(len(pressure), dtype=np.intp)).saturation(pressure).temperature
    )
    wet = test.columns["exhaust_temperature_degC"] < dew + test.accuracy["exhaust_temperature_degC"]
    if wet.any():
        untold.append(
            f"Of the condenser {_lines(test, wet)}: the exhaust is no warmer than its dew point, within its accuracy, and "
            "how wet it is nobody has read."
        )
    return _without(test, wet)


def fed(test: Trial, flows: Flows | None, untold: list[str]) -> Trial:
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
    flow, doubt = flows(lines, SHARED[test.kind])
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
