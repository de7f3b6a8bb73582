"""The pumps of hot and cooling water: their account."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from explore.plant.parts.part import Account, Balance, Part, Section


def accounts(balance: Balance) -> Iterable[Account]:
    """All their work turns into heat of the air: what it warms the water by is left out."""
    work = balance.cycle.circulation_work
    lost = work / balance.ambient
    yield Account("water circulation", Section.AROUND, np.zeros_like(work), lost, lost, work)


WATER_PUMPS = Part("water pumps", accounts)
