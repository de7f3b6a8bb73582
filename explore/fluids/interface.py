"""What the plant model asks of a working fluid, whichever way it is computed.

Both implementations, :mod:`explore.fluids.table_fluid` and :mod:`explore.fluids.helmholtz`, are bound
to a batch: element ``i`` of every argument belongs to the fluid of design ``i``. All values are
SI: kelvin, absolute pascal, J/kg, J/(kg K), m3/kg. Pressures are clipped to the range of the fluid
(``pressure_floor`` to ``pressure_roof``), so that no design can raise an exception.

A batch holds pure fluids only or mixtures only (``glides``). A mixture boils at one pressure from its bubble
point up to its dew point. Its saturation pressure at a temperature is that of the bubble point, the higher
and so the dangerous line; superheat counts from the dew point, subcooling from the bubble point.
"""

from __future__ import annotations

from typing import NamedTuple, Protocol, Self

import numpy as np
from numpy.typing import NDArray

from explore.fluids.blend import CRITICAL_SHARE

Array = NDArray[np.float64]
Index = NDArray[np.intp]

LOWEST_SATURATION_K = 248.15
"""25 K below the coldest condenser the model can hold, which is at 0 degC (design/variables.py)."""
HIGHEST_SATURATION_K = 379.0
"""6 K above water's boiling point at sea level: no store without pressure is hotter, and none boils its fluid hotter."""
HIGHEST_VAPOUR_K = 405.0
"""Above the hottest saturation by 26 K, a kelvin more than the greatest superheat of the search."""
CRITICAL_MARGIN = CRITICAL_SHARE


class Saturation(NamedTuple):
    """Bubble and dew states at one pressure, each of shape (n,).

    ``temperature`` is that of the bubble point; ``dew_temperature`` equals it for a pure fluid.
    """

    temperature: Array
    h_liquid: Array
    h_vapour: Array
    s_liquid: Array
    s_vapour: Array
    v_liquid: Array
    v_vapour: Array
    dew_temperature: Array


class Vapour(NamedTuple):
    """A vapour or two-phase state, each of shape (n,)."""

    enthalpy: Array
    entropy: Array
    volume: Array
    temperature: Array


class Liquid(NamedTuple):
    """A liquid state, each of shape (n,)."""

    enthalpy: Array
    entropy: Array
    volume: Array
    temperature: Array


class WorkingFluid(Protocol):
    """Properties of the working fluids of a batch of designs."""

    @property
    def glides(self) -> bool:
        """Whether the fluids are mixtures, whose temperature changes while they boil and condense."""

    @property
    def critical_temperature(self) -> Array:
        """Critical temperature [K]."""

    @property
    def molar_mass(self) -> Array:
        """Molar mass [kg/mol]."""

    @property
    def pressure_floor(self) -> Array:
        """Lowest pressure that is resolved [Pa]."""

    def take(self, index: Index) -> Self:
        """Return the properties bound to the designs ``index`` of this batch."""

    def saturation_pressure(self, temperature: Array) -> Array:
        """Vapour pressure [Pa] at a temperature [K]; of a mixture, that of its bubble point."""

    def dew_pressure(self, temperature: Array) -> Array:
        """Pressure [Pa] whose dew point is at a temperature [K]; the vapour pressure for a pure fluid."""

    def saturation(self, pressure: Array) -> Saturation:
        """Bubble and dew states at a pressure [Pa]."""

    def superheated(self, pressure: Array, superheat: Array) -> Vapour:
        """Vapour at a pressure [Pa], ``superheat`` [K] >= 0 above its dew point."""

    def from_entropy(self, pressure: Array, entropy: Array) -> Vapour:
        """Vapour or two-phase state from pressure [Pa] and entropy [J/(kg K)]."""

    def from_enthalpy(self, pressure: Array, enthalpy: Array) -> Vapour:
        """Vapour or two-phase state from pressure [Pa] and enthalpy [J/kg]."""

    def quality(self, pressure: Array, enthalpy: Array) -> Array:
        """Vapour's share by mass [-] from pressure [Pa] and enthalpy [J/kg]; 1 from the dew point on."""

    def liquid(self, pressure: Array, temperature: Array, boiling: Array | None = None) -> Liquid:
        """Liquid at a pressure [Pa] and a temperature [K] not above its bubble point.

        ``boiling`` is that point [K] where it is known already.
        """

    def liquid_from_enthalpy(self, pressure: Array, enthalpy: Array) -> Liquid:
        """Liquid from pressure [Pa] and enthalpy [J/kg] not above its bubble point."""
