"""Outside checks of the model, as a feature: published numbers against the functions the model is made of.

:func:`run` computes every check, :func:`verdict` sums them up; :func:`influence` tells which results each
constant of the model moves.
"""

from __future__ import annotations

from explore.verify.influence import influence
from explore.verify.memory import remembered
from explore.verify.results import run, verdict

__all__ = ["influence", "remembered", "run", "verdict"]
