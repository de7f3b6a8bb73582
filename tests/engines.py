"""The engine sets that ship, read from their files."""

from __future__ import annotations

from functools import cache

from explore.config.compose import load_scenario
from explore.config.engine import Engine


@cache
def engine_set(name: str) -> Engine:
    """Return the engine of ``configs/engine/<name>.yaml``."""
    return load_scenario("orchard", [f"engine={name}"]).engine
