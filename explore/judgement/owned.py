"""What is still to be bought where parts are there already: the sizes that a bill then counts."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from explore.plant import store
from explore.plant.parts.part import Sizes
from explore.units import L_PER_M3, MM_PER_M

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from explore.config.owned import Owned
    from explore.fluids.interface import Array

SAME = 1.0 + 1e-9
"""Ratio up to which a size is the one owned: a few roundings of what was written and read again."""
SAME_CYLINDER = 1.01
"""Ratio up to which a swept volume is that of the cylinders owned: they then turn by so much faster. Judgement."""


def lacking(size: Sizes, owned: Owned, same_collector: Array, same_fluid: Array) -> Sizes:
    """Return what is to be bought beside what is ``owned``, of n designs of ``size``.

    ``same_collector`` and ``same_fluid`` (n,) tell which designs use the kinds that are there. A tank, collectors, surface,
    insulation and gas are bought beside those owned, as parts of their own. Cylinders do not grow: one that is larger
    than that owned is bought whole; more stages or more cylinders side by side than are there are another engine.
    """
    if not owned.anything:
        return size
    tank, mm = owned.store_volume_L or 0.0, owned.insulation_mm or 0.0
    wrapped = (
        store.insulation_volume(np.array(tank / L_PER_M3), np.array(mm / MM_PER_M)) if tank and mm else 0.0
    )
    swept, stages = sum(owned.swept_volumes_L), len(owned.swept_volumes_L)
    fits = np.less_equal(size.stages, stages) & np.less_equal(size.cylinders, owned.cylinders_per_stage)
    serves = fits & np.less_equal(size.swept_volume_L, SAME_CYLINDER * swept)
    return replace(
        size,
        store_volume_L=_beyond(size.store_volume_L, tank),
        insulation_volume_m3=_beyond(size.insulation_volume_m3, float(wrapped)),
        collector_area_m2=_beyond(size.collector_area_m2, (owned.collector_area_m2 or 0.0) * same_collector),
        boiler_area_m2=_beyond(size.boiler_area_m2, owned.boiler_area_m2 or 0.0),
        condenser_area_m2=_beyond(size.condenser_area_m2, owned.condenser_area_m2 or 0.0),
        stages=np.where(fits, 0, size.stages),
        swept_volume_L=np.where(serves, 0.0, size.swept_volume_L),
        charge_kg=_beyond(size.charge_kg, (owned.charge_kg or 0.0) * same_fluid),
    )


def _beyond(size: ArrayLike, owned: ArrayLike) -> Array:
    """What a size [any unit] is more than the one owned, (n,); nothing where it is the same but for rounding."""
    size, owned = np.asarray(size, dtype=float), np.asarray(owned, dtype=float)
    return np.where(size <= SAME * owned, 0.0, size - owned)
