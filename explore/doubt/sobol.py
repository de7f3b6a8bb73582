"""Sobol' indices by topic: which share of a figure's variance comes from which group of assumptions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from explore.doubt.draws import Array

RESAMPLES = 100
"""For the confidence of the indices: SALib's own number."""
CONFIDENCE = 0.95
"""As is usual where half-widths are told."""


@dataclass(frozen=True)
class Index:
    """Indices of one topic [-]: alone, with all that it does together with others, and 95 % half-widths of both."""

    topic: str
    first: float
    first_confidence: float
    total: float
    total_confidence: float


def problem(topics: Sequence[str]) -> dict[str, Any]:
    """Describe the unit cube to SALib: one uniform number a dimension, those of one topic together.

    Source of the method: A. Saltelli and others, Variance based sensitivity analysis of model output, Computer Physics
    Communications 181 (2010) 259.
    """
    names = [f"{number}" for number in range(len(topics))]
    return {
        "num_vars": len(topics), "names": names, "groups": list(topics), "bounds": [[0.0, 1.0]] * len(topics)
    }  # fmt: skip


def plan(topics: Sequence[str], base: int, seed: int) -> Array:
    """Return the points (base times (different topics + 2), d) at which a model is to be asked; base a power of two."""
    from SALib.sample import sobol

    return np.asarray(sobol.sample(problem(topics), base, calc_second_order=False, seed=seed))


def indices(topics: Sequence[str], answers: Array, seed: int) -> list[Index]:
    """Return the indices of all topics from the model's answers at the points of :func:`plan`, greatest total first.

    A figure that nothing moves has indices of zero.
    """
    from SALib.analyze import sobol

    names = list(dict.fromkeys(topics))
    if np.ptp(answers) <= 1e-12 * max(np.max(np.abs(answers)), 1e-300):
        return [Index(name, 0.0, 0.0, 0.0, 0.0) for name in names]
    found = sobol.analyze(
        problem(topics), np.asarray(answers, float), calc_second_order=False, num_resamples=RESAMPLES,
        conf_level=CONFIDENCE, seed=seed,
    )  # fmt: skip
    columns = (found[key].tolist() for key in ("S1", "S1_conf", "ST", "ST_conf"))
    listed = [Index(name, *numbers) for name, *numbers in zip(names, *columns, strict=True)]
    return sorted(listed, key=lambda one: -one.total)
