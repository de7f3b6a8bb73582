"""Searching: proposing designs, many workers, storing, resuming, stopping.

For a study of one's own in Optuna: :class:`IslandSampler`, with the :class:`Parameters` that its trials take. They are
imported when first used, as Optuna is.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from explore.search.outcome import Moment, Progress, ProgressCallback, SearchOutcome
from explore.search.reprice import reprice
from explore.search.run import optimise, work

if TYPE_CHECKING:
    from explore.search.island_sampler import IslandSampler
    from explore.search.parameters import Parameters

__all__ = [
    "IslandSampler",
    "Moment",
    "Parameters",
    "Progress",
    "ProgressCallback",
    "SearchOutcome",
    "optimise",
    "reprice",
    "work",
]

_HOME = {"IslandSampler": "explore.search.island_sampler", "Parameters": "explore.search.parameters"}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'explore.search' has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)
