"""One run of a batch of designs with its cycles kept: figures, sheets and accounts all read the same."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from explore.cycle.built import MixedEngine
from explore.cycle.performance import Performance
from explore.cycle.source import Coil, Source
from explore.cycle.stratified import circulating
from explore.design.designs import Designs
from explore.fluids.interface import Index, WorkingFluid
from explore.plant.circuit import Cycle


@dataclass(frozen=True)
class Group:
    """Designs of one structure, the places ``index`` they have in the batch, their rated cycle and built engine.

    ``engine`` is that of a fully mixed store; a stratified store runs at its rated point alone and has none.
    """

    index: Index
    designs: Designs
    fluid: WorkingFluid
    cycle: Cycle
    engine: MixedEngine | None

    @property
    def source(self) -> Source:
        """What heats the rated cycle."""
        if self.engine is None:
            return circulating(self.designs)
        return Coil(self.cycle.levels[0].dew_temperature + self.designs.boil_approach)

    def take(self, rows: Index) -> Group:
        """Return the designs at ``rows`` of the group."""
        return Group(
            self.index[rows],
            self.designs.take(rows),
            self.fluid.take(rows),
            self.cycle.take(rows),
            None if self.engine is None else self.engine.take(rows),
        )


class Runs(NamedTuple):
    """A batch that was run: what it does, and its groups."""

    designs: Designs
    done: Performance
    groups: list[Group]

    def alone(self) -> list[Group]:
        """Each design by itself, in the order of the batch."""
        each = {
            int(i): group.take(np.array([row])) for group in self.groups for row, i in enumerate(group.index)
        }
        return [each[i] for i in range(len(self.designs))]
