"""Toxicity classes of working fluids (ISO 817, ASHRAE 34)."""

from __future__ import annotations

CLASS_B_LIMIT_PPM = 400.0
"""ISO 817 / ASHRAE 34: class B below this exposure limit."""


def toxicity(exposure_limit_ppm: float) -> str:
    """Return the toxicity letter: B below an exposure limit of 400 ppm, else A (ISO 817, ASHRAE 34)."""
    return "B" if exposure_limit_ppm < CLASS_B_LIMIT_PPM else "A"
