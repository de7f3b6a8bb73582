"""Designs between designs of a front: where like designs lie on it, their genes are nearly linear in what they are worth.

Within one set of choices the best designs form a smooth sheet of as many dimensions as there are objectives, less one
(Zhang, Zhou and Jin, IEEE Transactions on Evolutionary Computation 12 (2008) 41-63). A straight line of genes over
objectives, fitted to a design's neighbours by least squares, evens out what chance left in each of them, and read off a
little beyond them it says what a better design would look like.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from explore.search.population import Known

NEIGHBOURS = 16
"""Of four to sixteen neighbours the most serve best: what one of them has wrong weighs less."""
LEAST_NEIGHBOURS = 5
"""With three objectives a line has four numbers to find in each gene."""
NEAREST = 1e-4
"""A hundredth of each axis: neighbours nearer than that weigh alike."""
FLATTENED = 1e-4
"""Share of the neighbours' weight that holds slopes down in directions in which they do not differ."""


class Read(NamedTuple):
    """Genes (n, d) in [0, 1] read off, and for which designs there were neighbours to read them from, bool (n,)."""

    unit: np.ndarray
    found: np.ndarray


def between(sheet: Known, at: Known, beyond: np.ndarray, span: np.ndarray) -> Read:
    """Read genes of designs with the choices of ``at`` off a ``sheet``, each worth its objectives less ``beyond`` (n, m).

    ``beyond`` are shares of ``span`` (m,), the range of the front in each objective.
    """
    both = np.concatenate([sheet.genes.choices, at.genes.choices])
    kind = np.unique(both, axis=0, return_inverse=True)[1].reshape(-1)
    of_sheet, of_at = kind[: len(sheet)], kind[len(sheet) :]
    unit, found = at.genes.unit.copy(), np.zeros(len(at), bool)
    for one in np.unique(of_at):
        own, rows = np.flatnonzero(of_sheet == one), np.flatnonzero(of_at == one)
        if len(own) < LEAST_NEIGHBOURS:
            continue
        there = _read_off(
            sheet.values[own] / span, sheet.genes.unit[own], at.values[rows] / span, beyond[rows]
        )
        unit[rows], found[rows] = there, True
    return Read(unit, found)


def _read_off(values: np.ndarray, unit: np.ndarray, at: np.ndarray, beyond: np.ndarray) -> np.ndarray:
    """Fit a line through each one's neighbours, and read it off ``beyond`` it."""
    distance = ((at[:, None] - values[None]) ** 2).sum(axis=2)
    count = min(NEIGHBOURS, len(values))
    near = np.argpartition(distance, count - 1, axis=1)[:, :count]
    weight = 1.0 / (np.take_along_axis(distance, near, axis=1) + NEAREST)
    apart = values[near] - at[:, None]
    terms = np.concatenate([np.ones((*near.shape, 1)), apart], axis=2)
    normal = np.einsum("nk,nki,nkj->nij", weight, terms, terms)
    held = FLATTENED * weight.sum(axis=1)
    inner = np.arange(1, terms.shape[2])
    normal[:, inner, inner] += held[:, None]
    right = np.einsum("nk,nki,nkd->nid", weight, terms, unit[near])
    line = np.linalg.solve(normal, right)
    return np.clip(line[:, 0] - np.einsum("nm,nmd->nd", beyond, line[:, 1:]), 0.0, 1.0)
