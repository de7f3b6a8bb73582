"""From the model's figures to what a search compares: objectives to minimise and one breach."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from explore.config.schema import Objective
from explore.figures.format import record
from explore.judgement.front import normalise

MISSING = 10.0
"""A design without a figure lies behind any that has all and breaks a few constraints by their scale."""
LEAST_BREACH = 1e-9
"""Above zero, so that infeasible stays infeasible where every margin is kept but by rounding."""

FARTHEST = 1e6
"""Scales of a limit from it that count as without end: farther than any move of a design."""


@dataclass(frozen=True)
class Judged:
    """A batch as a search sees it.

    ``values`` (n, m) are the objectives on the scenario's normalised axes, less is better;
    ``breach`` (n,) is 0 for feasible designs; ``violations`` (n, k) belong to ``names``.
    """

    values: np.ndarray
    breach: np.ndarray
    violations: np.ndarray
    names: tuple[str, ...]

    @property
    def feasible(self) -> np.ndarray:
        """Which designs keep every constraint, bool (n,)."""
        return self.breach <= 0.0

    @property
    def excess(self) -> np.ndarray:
        """Violations (n, k) by their scales, within :data:`FARTHEST`; that far below the limit where one does not apply."""
        scales = np.array([scale(name) for name in self.names])
        return np.clip(
            np.where(np.isnan(self.violations), -FARTHEST, self.violations / scales), -FARTHEST, FARTHEST
        )

    def take(self, rows: np.ndarray | slice) -> Judged:
        """Select rows."""
        return Judged(self.values[rows], self.breach[rows], self.violations[rows], self.names)

    @staticmethod
    def join(parts: Sequence[Judged]) -> Judged:
        """Put several batches behind one another; all have the same violations."""
        return Judged(
            np.concatenate([part.values for part in parts]),
            np.concatenate([part.breach for part in parts]),
            np.concatenate([part.violations for part in parts]),
            parts[0].names,
        )


def judge(outcome: Mapping[str, np.ndarray], objectives: Sequence[Objective]) -> Judged:
    """Read objectives and constraints from the model's columns; a missing objective is infeasible.

    A constraint that does not apply to a design is NaN there, and kept.
    """
    names = tuple(name for name in outcome if name.startswith("violation_"))
    values = normalise(dict(outcome), objectives)
    n = len(values)
    violations = (
        np.stack([np.asarray(outcome[x], float) for x in names], axis=1) if names else np.zeros((n, 0))
    )
    scales = np.array([scale(name) for name in names])
    excess = np.minimum(np.where(np.isnan(violations), 0.0, violations / scales), FARTHEST)
    broken = np.maximum(excess, 0.0).sum(axis=1)
    lacking = ~np.isfinite(values).all(axis=1)
    feasible = np.asarray(outcome["feasible"], bool) & ~lacking
    breach = np.where(feasible, 0.0, np.maximum(broken + MISSING * lacking, LEAST_BREACH))
    return Judged(np.where(np.isfinite(values), values, 1e6), breach, violations, names)


def scale(name: str) -> float:
    """Size of the violation called ``name`` that counts 1 in the breach, as its record says."""
    return record(name).scale
