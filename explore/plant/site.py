"""The air around the plant."""

from __future__ import annotations

SEA_LEVEL_PA = 101_325.0
"""Standard pressure at sea level [Pa]: ICAO Doc 7488."""


def air_pressure(altitude_m: float) -> float:
    """Air pressure [Pa] at an altitude [m], ICAO standard atmosphere (ICAO Doc 7488), below 11 km."""
    return float(SEA_LEVEL_PA * (1.0 - 2.25577e-5 * altitude_m) ** 5.25588)
