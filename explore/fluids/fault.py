"""Pressure of a fluid at one temperature, up to its critical point: for the fault, where a store boils.

The tables end at 0.95 of the critical temperature; a fault above that must not be read at a clipped temperature.
"""

from __future__ import annotations

import json
import math
from importlib.metadata import version
from pathlib import Path

from explore.cache import cache_folder, write_text
from explore.fluids.blend import Blend

PLACES = 4
"""Digits of the temperature [K] under which a pressure is kept: finer than any site's air pressure is known."""


def fault_pressure(fluid: str | Blend, temperature: float) -> tuple[float, float]:
    """Saturation pressure [Pa] of a fluid at a temperature [K] and its critical temperature [K].

    Of a mixture, that of its bubble point. NaN at and above the critical temperature, where nothing boils. Kept on
    disk, so that a search needs no equation of state; source: CoolProp's Helmholtz equations.
    """
    name = fluid if isinstance(fluid, str) else repr(fluid)
    key = f"{name} at {round(temperature, PLACES)}"
    path = cache_folder() / f"fault-{version('CoolProp')}.json"
    try:
        known = json.loads(path.read_text(encoding="utf-8"))
        pressure, critical = known[key]
        return (math.nan if pressure is None else float(pressure)), float(critical)
    except (OSError, ValueError, KeyError, TypeError):
        known = _read(path)
    found = _computed(fluid, temperature)
    known[key] = [None if math.isnan(found[0]) else found[0], found[1]]
    write_text(path, json.dumps(known))
    return found


def _read(path: Path) -> dict[str, list[float | None]]:
    try:
        known = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return known if isinstance(known, dict) else {}


def _computed(fluid: str | Blend, temperature: float) -> tuple[float, float]:
    from explore.fluids.helmholtz import substance

    own = substance(fluid)
    critical = own.critical_temperature
    if temperature >= critical:
        return math.nan, critical
    return own.vapour_pressure(temperature), critical
