"""A perfect gas that stands in for the working fluid where textbooks draw hyperbolic indicator diagrams."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

import numpy as np

from explore.fluids.interface import Array, Vapour
from explore.plant.engine import LOSSLESS, Losses, Stage, expand

if TYPE_CHECKING:
    from explore.fluids.interface import WorkingFluid

GAS_CONSTANT = 287.0
NEARLY_ONE = 1e-6
"""Exponent less 1 of a gas whose expansion p v^k is the hyperbola p v to this share."""
SUPPLY_K = 400.0


class PerfectGas:
    """Perfect gas of exponent k: the two look-ups that a stage of the expander makes, in SI."""

    def __init__(self, exponent: float = 1.0 + NEARLY_ONE) -> None:
        self.heat_capacity = GAS_CONSTANT * exponent / (exponent - 1.0)

    def _state(self, pressure: Array, temperature: Array) -> Vapour:
        entropy = self.heat_capacity * np.log(temperature) - GAS_CONSTANT * np.log(pressure)
        return Vapour(
            self.heat_capacity * temperature, entropy, GAS_CONSTANT * temperature / pressure, temperature
        )

    def from_enthalpy(self, pressure: Array, enthalpy: Array) -> Vapour:
        """State from pressure [Pa] and enthalpy [J/kg]."""
        return self._state(pressure, enthalpy / self.heat_capacity)

    def from_entropy(self, pressure: Array, entropy: Array) -> Vapour:
        """State from pressure [Pa] and entropy [J/(kg K)]."""
        return self._state(pressure, np.exp((entropy + GAS_CONSTANT * np.log(pressure)) / self.heat_capacity))


def diagram(
    supply: float, back: float, ratio: float, losses: Losses = LOSSLESS, enthalpy: float | None = None
) -> Stage:
    """Run the plant's stage on a hyperbolic gas: ``supply`` and ``back`` pressure [Pa], ``ratio`` of expansion [-].

    ``enthalpy`` [J/kg] is that of the gas admitted, by default that of :data:`SUPPLY_K`.
    """
    gas = PerfectGas()
    admitted = gas.heat_capacity * SUPPLY_K if enthalpy is None else enthalpy
    p1, h1, p3 = (np.array([x]) for x in (supply, admitted, back))
    # a stage asks a fluid for no more than the two look-ups this gas has
    return expand(cast("WorkingFluid", gas), p1, h1, p3, p1 / ratio / p3, losses)


def mean_pressure(stage: Stage) -> float:
    """Indicated work over the volume swept [Pa], before leakage."""
    return float(stage.indicated_work[0] / stage.ideal_volume[0])
