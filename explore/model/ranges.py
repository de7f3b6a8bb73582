"""Which functions a design uses outside the range they are good for."""

from __future__ import annotations

import numpy as np

from explore.cycle.performance import Performance
from explore.design.designs import Designs
from explore.figures.catalogue import RANGE_FIGURES
from explore.plant.correlations import validity


def outside_ranges(designs: Designs, done: Performance, tubes: bool) -> dict[str, np.ndarray]:
    """Return the columns named in ``RANGE_FIGURES``, each (n,): the largest relative excess, and all in words.

    The property tables always count, the correlations of films and pressure drops only with ``tubes``.
    """
    boiling = np.where(
        designs.stratified, designs.evaporating_temperature, designs.top_temperature - designs.boil_approach
    )
    found = validity.outside(
        "property tables",
        vapour_temperature=boiling + designs.superheat,
        condensing_temperature=designs.condensing_temperature,
    )
    table = validity.as_table(found, len(designs))
    if tubes:
        table = table + done.exchangers.tubes.outside
    return dict(zip(RANGE_FIGURES, (np.abs(table).max(axis=1), validity.told(table)), strict=True))
