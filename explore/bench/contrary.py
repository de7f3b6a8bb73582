"""Readings of an exchanger that contradict its fluid: water on the wrong side of it, or liquid where vapour should be."""

from __future__ import annotations

import numpy as np

from explore import units
from explore.bench.columns import BETWEEN, BOILER, FRESH, Array
from explore.bench.log import Trial
from explore.errors import InputError
from explore.fluids.interface import HIGHEST_VAPOUR_K, WorkingFluid

DOUBT = "is it the fluid of this design, air in it, or a gauge or thermometer that is wrong?"
SAME = 1e-3
"""Share by which a pressure and that at which properties answer differ through their tables alone."""
EXHAUST, QUALITY, INLET = "exhaust_temperature_degC", "exhaust_quality", "inlet_pressure_bar_a"
LEAST_SHARE = 0.5
"""Of a pressure that is read: so much at least is there, however poor the gauge."""


def refuse_contrary(test: Trial, fluid: WorkingFluid, name: str) -> None:
    """Raise :class:`InputError` where the readings of a boiler or condenser cannot be with this fluid.

    ``fluid`` has the properties of each line, ``name`` is its name. Water must be on its side of the fluid as read;
    liquid and vapour may miss theirs by as much as thermometer and gauge are good for.
    """
    hot = test.kind == BOILER
    where, side = ("boiler", "hot_water") if hot else ("condenser", "cooling_water")
    verb = "boils" if hot else "condenses"
    gauge = f"{where}_pressure_bar_a"
    _refuse_beyond(test, gauge, fluid, name)
    boiling = _boiling(test, gauge, fluid, 0.0)
    water = test.columns[f"{side}_temperature_degC"]
    whose = "the water that heats it" if hot else "its cooling water"
    for line, there, wet in zip(test.lines, boiling, water, strict=True):
        if (wet <= there) if hot else (wet >= there):
            raise InputError(
                f"line {line}: at this pressure {name} {verb} at {there:.1f} degC, and {whose} has {wet:.1f}; {DOUBT}"
            )
    series = [pair for pair in zip(FRESH, BETWEEN, strict=True) if pair[0][0] in test.columns]
    coldest = series[-1][0][0] if hot and series else gauge  # the boiler that is fed
    liquid = "feed_temperature_degC" if hot else "condensate_temperature_degC"
    _refuse(test, liquid, _boiling(test, coldest, fluid, 1.0), 1.0, f"{name} {verb}", "would be no liquid")
    if not hot:
        _refuse_quality(test, fluid, gauge)
    if hot and "inlet_temperature_degC" in test.columns:
        lowest = _boiling(test, gauge, fluid, -1.0, dew=True)
        if INLET in test.columns:  # behind a throttle, where it was read
            behind = _boiling(test, INLET, fluid, -1.0, dew=True)
            lowest = np.where(np.isnan(test.columns[INLET]), lowest, behind)
        _refuse(test, "inlet_temperature_degC", lowest, -1.0, f"{name} boils", "would be no vapour")
    if hot:
        refuse_no_vapour(test, fluid, name)
        for (own, _), between in series:
            _refuse(
                test, between, _boiling(test, own, fluid, 0.0), -1.0, f"{name} boils", "would not heat it"
            )


def refuse_no_vapour(test: Trial, fluid: WorkingFluid, name: str) -> None:
    """Raise :class:`InputError` where what a boiler behind the first gives would be no vapour."""
    for gauge, thermometer in FRESH:
        if gauge in test.columns:
            _refuse_beyond(test, gauge, fluid, name)
            lowest = _boiling(test, gauge, fluid, -1.0)
            _refuse(test, thermometer, lowest, -1.0, f"{name} boils", "would be no vapour")


def _refuse(test: Trial, column: str, bound: Array, side: float, verb: str, what: str) -> None:
    """Refuse what lies further beyond a bound [degC] than the thermometer may be off: above for a side of 1."""
    if column not in test.columns:
        return
    read, off = test.columns[column], test.accuracy[column]
    for line, there, one in zip(test.lines, bound, read, strict=True):
        if side * (one - there) > off:
            than = "at most" if side > 0.0 else "at least"
            raise InputError(
                f"line {line}: {column} is {one:.4g}; at this pressure {verb} at {there:.1f} degC {than}, so that it "
                f"{what}; {DOUBT}"
            )


def _refuse_quality(test: Trial, fluid: WorkingFluid, gauge: str) -> None:
    """Refuse exhaust that was read wet, and is warmer than its dew point by more than thermometer and gauge are off."""
    if QUALITY not in test.columns or not test.accuracy[QUALITY]:
        return
    dew, off = _boiling(test, gauge, fluid, 1.0, dew=True), test.accuracy[EXHAUST]
    for line, there, one, quality in zip(
        test.lines, dew, test.columns[EXHAUST], test.columns[QUALITY], strict=True
    ):
        if quality < 1.0 - test.accuracy[QUALITY] and one > there + off:
            raise InputError(
                f"line {line}: {QUALITY} is {quality:g}, and {EXHAUST} {one:.4g}, above its dew point of {there:.1f} degC "
                f"at most, so that the exhaust is dry; leave {QUALITY} empty, or check both"
            )


def _refuse_beyond(test: Trial, gauge: str, fluid: WorkingFluid, name: str) -> None:
    """Refuse what is hotter than any store: properties end there, and would stay as they are."""
    read = test.columns[gauge] * units.PA_PER_BAR
    held = fluid.saturation_pressure(fluid.saturation(read).temperature)
    for line, one, most in zip(test.lines, read, held, strict=True):
        if one > (1.0 + SAME) * most:
            raise InputError(
                f"line {line}: {gauge} is {units.bar(one):.5g}; {name} would be hotter than any store of hot water, it can "
                f"be up to {units.bar(most):.4g}"
            )
    exhaust = test.columns.get(EXHAUST, np.zeros_like(read))
    for line, one in zip(test.lines, exhaust, strict=True):
        if units.kelvin(one) > HIGHEST_VAPOUR_K:
            raise InputError(f"line {line}: {EXHAUST} is {one:.5g}, hotter than any store of hot water")


def _boiling(test: Trial, gauge: str, fluid: WorkingFluid, side: float, *, dew: bool = False) -> Array:
    """Boiling temperature [degC], or that of the ``dew`` point, at a pressure that is read, ``side`` accuracies off."""
    read = test.columns[gauge]
    there = np.maximum(read + side * test.accuracy[gauge], LEAST_SHARE * read)
    line = fluid.saturation(there * units.PA_PER_BAR)
    return units.celsius(line.dew_temperature if dew else line.temperature)
