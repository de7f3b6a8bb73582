"""The seam behind which optimisers stand: a leg asks for designs, has them judged, and tells the result.

An optimiser is a module with one class for its start (:class:`Start`: what goes into a leg, made where
the archive is and sent to where the leg is done) and one for itself (:class:`Optimiser`). What it leaves
behind is what it was told: the archive takes that in and is what the next start is made from. Its name
stands in :data:`explore.search.planning.OPTIMISERS` and among the values of ``search.sampler``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from explore.config.schema import Search
from explore.design.space import Space
from explore.search.archive import Archive
from explore.search.judge import Judged
from explore.search.population import Genes


class Optimiser(Protocol):
    """Proposes designs and learns how they were judged; lives for one leg.

    One with ``learns_from_any`` set may be told of designs with other collectors than it has asked for.
    """

    def ask(self, n: int) -> Genes:
        """Propose about ``n`` designs, at least one; the same ``n`` until fewer are left of the leg."""
        ...

    def tell(self, genes: Genes, judged: Judged) -> None:
        """Learn how the designs last asked for were judged."""
        ...


class Start(Protocol):
    """What an optimiser starts a leg from: plain data, so that it can be sent to another process."""

    def begin(self, space: Space, rng: np.random.Generator) -> Optimiser:
        """Make the optimiser; all its randomness comes from ``rng``."""
        ...


@dataclass(frozen=True)
class Assignment:
    """What a start is made from.

    ``number`` of the leg, ``focus`` (a fluid's place, or :data:`~explore.search.population.ANY_FLUID`), how
    many ``designs`` the leg has, and all that is known when its round begins.
    """

    number: int
    focus: int
    designs: int
    archive: Archive
    space: Space
    search: Search
