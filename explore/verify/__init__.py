"""Outside checks of the model, as a feature: published numbers against the functions the model is made of.

:func:`run` computes every check, :func:`table` shows them; :func:`influence` tells which results each
constant of the model moves.
"""

from __future__ import annotations

from explore.verify.influence import influence, influence_table
from explore.verify.memory import remembered
from explore.verify.results import run, table, verdict

__all__ = ["influence", "influence_table", "remembered", "run", "table", "verdict"]
