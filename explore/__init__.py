"""Explores the designs of small piston heat engines that run on stored hot water.

From a notebook: :func:`load_scenario`, then :func:`new_design` and :func:`evaluate` for designs of your own,
:func:`sweep` for many of them, or :func:`optimise` for the best the design space holds; :func:`run_machine` for a
machine whose cylinders are given. Each is imported when first used, so that ``import explore`` is quick.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from explore.config.compose import load_scenario
    from explore.errors import InputError
    from explore.model.given import run_machine
    from explore.notebook.designs import new_design
    from explore.notebook.evaluation import evaluate, sweep
    from explore.notebook.search import optimise

__version__ = "0.1.0"

__all__ = ["InputError", "evaluate", "load_scenario", "new_design", "optimise", "run_machine", "sweep"]

_HOME = {
    "InputError": "explore.errors",
    "evaluate": "explore.notebook.evaluation",
    "load_scenario": "explore.config.compose",
    "new_design": "explore.notebook.designs",
    "optimise": "explore.notebook.search",
    "run_machine": "explore.model.given",
    "sweep": "explore.notebook.evaluation",
}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'explore' has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
