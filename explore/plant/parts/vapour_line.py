"""The way of the vapour from the boilers to the engine, and the governor's throttle in it: accounts."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from explore.plant.parts.part import Account, Balance, Part, Section


def drops(balance: Balance) -> Iterable[Account]:
    """Throttling of vapour by the pressure lost in boilers and condenser."""
    fluid, cycle = balance.fluid, balance.cycle
    if cycle.drops is None:
        return
    made = np.zeros_like(cycle.heat)
    for share, level, lost in zip(cycle.shares, cycle.levels, cycle.drops.boilers, strict=True):
        arrived = fluid.from_enthalpy(level.pressure - lost, level.exit_enthalpy).entropy
        made = made + share * (arrived - level.exit_entropy)
    last = cycle.stages[-1]
    before = fluid.from_enthalpy(last.exhaust_pressure, last.exhaust_enthalpy).entropy
    behind = fluid.from_enthalpy(cycle.condenser_pressure, last.exhaust_enthalpy).entropy
    lost = made + behind - before
    yield Account("exchanger pressure drops", Section.VAPOUR, np.zeros_like(made), lost, np.abs(behind))


def throttle(balance: Balance) -> Iterable[Account]:
    """The governor's throttle before the first stage, where it lowers the pressure."""
    fluid, cycle = balance.fluid, balance.cycle
    (before, enthalpy), inlet = cycle.arriving[0], cycle.stages[0].inlet.pressure
    if np.array_equal(before, inlet):
        return
    arrived = fluid.from_enthalpy(before, enthalpy).entropy
    behind = fluid.from_enthalpy(inlet, enthalpy).entropy
    made = cycle.shares[0] * (behind - arrived)
    yield Account("throttle", Section.VAPOUR, np.zeros_like(made), made, np.abs(behind))


EXCHANGER_DROPS = Part("exchanger drops", drops)
THROTTLE = Part("throttle", throttle)
