"""What is given of a machine: its cylinders and the conditions it runs at, refused where no machine could run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from explore.errors import InputError, quoted
from explore.fluids.blend import Blend
from explore.fluids.helmholtz import HelmholtzFluid
from explore.fluids.interface import Array
from explore.plant.governor import ratio_at
from explore.units import celsius

LEAST_QUALITY = 0.3
"""Wetter than this no engine is fed; the share of vapour [-]."""
LIQUID_MARGIN = 1e-3
"""Below the dew point by more than this [K], a state given by temperature is liquid."""
NAMED = ("inlet_pressure", "inlet_temperature", "outlet_pressure", "frequency")


@dataclass(frozen=True)
class Cylinder:
    """Cylinders of one stage: ``bore``, ``stroke`` [m], ``number`` side by side, ``acting`` 1 or 2 sides of the piston.

    Either ``cut_off`` eps [-] of the stroke or the built-in ``volume_ratio`` r [-], from cut-off to the end of expansion,
    clearance counted in both.
    """

    bore: float
    stroke: float
    number: int = 1
    acting: int = 1
    cut_off: float | None = None
    volume_ratio: float | None = None


def as_arrays(conditions: Mapping[str, ArrayLike]) -> dict[str, Array]:
    """Conditions as arrays of one length; raises :class:`InputError` where one is missing or no positive number."""
    known = {*NAMED, "inlet_quality"}
    odd = sorted(set(conditions) - known)
    if odd:
        raise InputError(f"conditions: {quoted(odd[0])} is not known, give {', '.join(sorted(known))}")
    if ("inlet_quality" in conditions) == ("inlet_temperature" in conditions):
        raise InputError("conditions: give either inlet_temperature or inlet_quality, one of the two")
    missing = [k for k in NAMED if k not in conditions and k != "inlet_temperature"]
    if missing:
        raise InputError(f"conditions: {missing[0]} is missing")
    try:
        listed = {k: np.atleast_1d(np.asarray(v, dtype=float)) for k, v in conditions.items()}
        arrays = dict(zip(listed, np.broadcast_arrays(*listed.values()), strict=True))
    except ValueError:
        raise InputError("conditions: every column needs numbers, as many as the others") from None
    for name, values in arrays.items():
        least_ok = values >= 0.0 if name == "inlet_quality" else values > 0.0
        wrong = np.flatnonzero(~(np.isfinite(values) & least_ok))
        if len(wrong):
            raise InputError(
                f"conditions: {name} of condition {wrong[0] + 1} is {values[wrong[0]]:g}, give a positive number"
            )
    rising = np.flatnonzero(arrays["outlet_pressure"] >= arrays["inlet_pressure"])
    if len(rising):
        raise InputError(
            f"conditions: outlet pressure of condition {rising[0] + 1} is not below its inlet pressure"
        )
    return {k: np.array(v) for k, v in arrays.items()}


def volume_ratio_of(cylinder: Cylinder, clearance: float | Array, number: int) -> Array:
    """Built-in ratio of a stage [-], of the clearance's shape; raises :class:`InputError` for a cylinder that cannot be."""
    where = f"cylinder of stage {number}"
    for name in ("bore", "stroke", "number"):
        value = getattr(cylinder, name)
        if not (np.isfinite(value) and value > 0.0):
            raise InputError(f"{where}: {name} is {value:g}, give a positive number")
    if cylinder.acting not in (1, 2):
        raise InputError(f"{where}: acting is {cylinder.acting}, give 1 (single) or 2 (double)")
    if (cylinder.cut_off is None) == (cylinder.volume_ratio is None):
        raise InputError(f"{where}: give either cut_off or volume_ratio, one of the two")
    if cylinder.cut_off is not None:
        if not 0.0 < cylinder.cut_off <= 1.0:
            raise InputError(f"{where}: cut-off is {cylinder.cut_off:g}, give a share of the stroke in 0-1")
        return ratio_at(clearance, np.array(cylinder.cut_off))
    ratio, most = cylinder.volume_ratio or 0.0, float(np.max(clearance))
    if not ratio >= 1.0:
        raise InputError(f"{where}: volume ratio is {ratio:g}, give 1 or more")
    if most > 0.0 and ratio >= (1.0 + most) / most:
        raise InputError(
            f"{where}: a clearance of {most:g} leaves no cut-off at volume ratio {ratio:g}, "
            f"which must stay below {(1.0 + most) / most:.3g}"
        )
    return np.full_like(clearance, ratio, dtype=float)


def bound_to(fluid: str | Blend, n: int) -> HelmholtzFluid:
    """Equation of state of a fluid for n conditions; raises :class:`InputError` for one that is not known."""
    try:
        return HelmholtzFluid([fluid], np.zeros(n, dtype=np.intp), wide=True)
    except ValueError:
        raise InputError(f"fluid {fluid!s} is not known to the property library") from None


def inlet_enthalpy(name: str, bound: HelmholtzFluid, given: dict[str, Array]) -> Array:
    """Enthalpy [J/kg] at the inlet; raises :class:`InputError` where no vapour can be there."""
    pressure = given["inlet_pressure"]
    low, high = float(bound.pressure_floor[0]), float(bound.pressure_roof[0])
    for key in ("inlet_pressure", "outlet_pressure"):
        odd = np.flatnonzero((given[key] > high) | (given[key] < low))
        if len(odd):
            place, value = odd[0] + 1, given[key][odd[0]] / 1e5
            side = "near or above the critical point" if value * 1e5 > high else "below the triple point"
            raise InputError(
                f"conditions: {key.replace('_', ' ')} of condition {place}, {value:.4g} bar, is {side} of {name}; "
                f"give {low / 1e5:.3g} to {high / 1e5:.4g} bar"
            )
    sat = bound.saturation(pressure)
    if "inlet_quality" in given:
        quality = given["inlet_quality"]
        wrong = np.flatnonzero((quality < LEAST_QUALITY) | (quality > 1.0))
        if len(wrong):
            raise InputError(
                f"conditions: inlet quality of condition {wrong[0] + 1} is {quality[wrong[0]]:g}, "
                f"give {LEAST_QUALITY:g} to 1"
            )
        return np.asarray(sat.h_liquid + quality * (sat.h_vapour - sat.h_liquid))
    above = given["inlet_temperature"] - sat.dew_temperature
    wet = np.flatnonzero(above < -LIQUID_MARGIN)
    if len(wet):
        i = wet[0]
        raise InputError(
            f"conditions: at the inlet of condition {i + 1} {name} is liquid, "
            f"{celsius(given['inlet_temperature'][i]):.2f} degC at {pressure[i] / 1e5:.4g} bar where it boils at "
            f"{celsius(sat.dew_temperature[i]):.2f} degC"
        )
    return bound.superheated(pressure, np.maximum(above, 0.0)).enthalpy
