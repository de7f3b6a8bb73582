"""How far the inputs of a design may move by themselves before it is another design: flat directions told as ranges."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from explore.config.schema import Objective
from explore.design.space import INPUTS, Space
from explore.judgement.front import normalise
from explore.search.leg import Evaluator
from explore.search.refine import SETTLED

OFFSETS = 0.004 * 1.35 ** np.arange(16)
"""Steps from a design, as shares of an input's range in the search: from what no workshop holds to a third of it. Each
is a third wider than the one before, so a range is told up to a quarter too narrow and never too wide."""
LEAST_WIDTH = 0.04
"""Of an input's range in the search: what is narrower is no freedom that a builder could use."""


class Leeway(NamedTuple):
    """An input of a design and the values [its column's unit] between which it may lie, all others held."""

    name: str
    low: float
    high: float


def leeway(
    designs: Mapping[str, Any],
    space: Space,
    evaluator: Evaluator,
    objectives: Sequence[Objective],
    span: np.ndarray,
) -> list[list[Leeway]]:
    """Find the flat directions of designs, widest first, for each of them.

    ``designs`` holds input columns and objectives of n designs of the space. Within a range the design stays feasible and
    no objective worsens by more than :data:`~explore.search.refine.SETTLED` of ``span`` (m,), the range of the front
    on the normalised axes.
    """
    columns = {name: np.asarray(designs[name]) for name in INPUTS}
    unit, choices = space.encode(columns)
    own = normalise(designs, objectives)
    rows, genes = np.nonzero(space.applies(choices) & space.free)
    if len(rows) == 0:
        return [[] for _ in own]
    steps = np.concatenate([-OFFSETS, OFFSETS])
    row, gene = np.repeat(rows, len(steps)), np.repeat(genes, len(steps))
    wanted = unit[row].copy()
    wanted[np.arange(len(row)), gene] += np.tile(steps, len(rows))
    inside = (wanted >= 0.0).all(axis=1) & (wanted <= 1.0).all(axis=1)
    tried = space.decode(*_held(space, unit, choices, np.clip(wanted, 0.0, 1.0), row, gene))
    figures = evaluator.evaluate(tried)
    worse = (normalise(figures, objectives) - own[row]) / span
    good = inside & np.asarray(figures["feasible"], bool) & (worse <= SETTLED).all(axis=1)
    good &= _alone(tried, columns, row, [space.variables[g].name for g in gene])
    reach = good.reshape(len(rows), 2, len(OFFSETS)).cumprod(axis=2).sum(axis=2)
    found: list[list[Leeway]] = [[] for _ in own]
    widths: list[list[float]] = [[] for _ in own]
    for k, (r, g) in enumerate(zip(rows, genes, strict=True)):
        name = space.variables[g].name
        below, above = (int(n) for n in reach[k])
        values = tried[name].reshape(len(rows), 2, len(OFFSETS))[k]
        low = values[0, below - 1] if below else columns[name][r]
        high = values[1, above - 1] if above else columns[name][r]
        width = sum(float(OFFSETS[n - 1]) for n in (below, above) if n)
        if width >= LEAST_WIDTH:
            found[r].append(Leeway(name, float(low), float(high)))
            widths[r].append(width)
    return [
        [one[i] for i in np.argsort(-np.array(wide), kind="stable")]
        for one, wide in zip(found, widths, strict=True)
    ]


def _held(
    space: Space, unit: np.ndarray, choices: np.ndarray, wanted: np.ndarray, row: np.ndarray, gene: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Genes that give one input its wanted value and all others their own, where bounds that hang together allow it."""
    moved = space.decode(wanted, choices[row])
    own = space.decode(unit, choices)
    names = np.array([variable.name for variable in space.variables])[gene]
    mixed = {
        name: own[name][row] if name not in names else np.where(names == name, moved[name], own[name][row])
        for name in INPUTS
    }
    again, kinds = space.encode(mixed)
    return np.clip(again, 0.0, 1.0), kinds


def _alone(
    tried: Mapping[str, np.ndarray], own: Mapping[str, np.ndarray], row: np.ndarray, names: list[str]
) -> np.ndarray:
    """Whether all inputs but the one named are the design's own."""
    held = np.ones(len(row), bool)
    for name in INPUTS:
        if tried[name].dtype.kind != "f":
            continue
        same = np.isclose(
            tried[name], np.asarray(own[name], float)[row], rtol=1e-6, atol=1e-9, equal_nan=True
        )
        held &= same | (np.array(names) == name)
    return held
