"""Two components in any ratio: the bubble pressure over the ratio, and the ratio that a pressure asks for."""

from __future__ import annotations

from functools import lru_cache

from explore.fluids.blend import Blend, UnusableError
from explore.fluids.helmholtz import substance

NEAREST_SHARE = 1e-4
"""Mass fraction below which a component is left out: its pressure differs by less than any gauge shows, and the flash
of a trace may fail."""
SHARE_STEP = 1e-5
"""Mass fraction to which a ratio is solved: a hundredth of what is written of it."""


class Pair:
    """Two fluids that CoolProp can mix, ``first`` and ``second`` by their CoolProp names.

    No table and no range of saturation is asked for, as :class:`~explore.fluids.mixture.Mixture` does: the flashes near
    the critical point that it needs fail at some ratios. Raises :class:`UnusableError` where CoolProp has no equation
    for the two.
    """

    def __init__(self, first: str, second: str) -> None:
        import CoolProp

        self.names = (first, second)
        self._bubble = CoolProp.QT_INPUTS
        try:
            self._state = CoolProp.AbstractState("HEOS", f"{first}&{second}")
            self._pure = (substance(first), substance(second))
        except ValueError as error:
            raise UnusableError(f"of {first} and {second}", "CoolProp does not hold it") from error

    def bubble_pressure(self, share: float, temperature: float) -> float:
        """Return the bubble pressure [Pa] at T [K] with a mass fraction ``share`` [-] of the second in the liquid.

        Raises :class:`UnusableError` where the flash finds none, as above a critical point.
        """
        try:
            if share < NEAREST_SHARE or share > 1.0 - NEAREST_SHARE:
                return self._pure[round(share)].vapour_pressure(temperature)
            self._state.set_mole_fractions(self.mole_fractions(share))
            self._state.update(self._bubble, 0.0, temperature)
        except ValueError as error:
            raise UnusableError(f"of {' and '.join(self.names)}", "CoolProp finds no bubble point") from error
        return float(self._state.p())

    def mole_fractions(self, share: float) -> list[float]:
        """Return the mole fractions [-] of both at a mass fraction ``share`` of the second."""
        return Blend("", self.names, (1.0 - share, share), by_mass=True).mole_fractions()

    def share_for(self, pressure: float, temperature: float) -> float:
        """Return the mass fraction [-] of the second with which the liquid boils at p [Pa] and T [K].

        Found by bisection and secants (Brent); 0 or 1 where the pressure lies beyond that of the nearer pure fluid.
        Raises :class:`UnusableError` as :meth:`bubble_pressure` does.
        """
        from scipy.optimize import brentq

        ends = [self.bubble_pressure(share, temperature) for share in (0.0, 1.0)]
        if not min(ends) < pressure < max(ends):
            return float(abs(pressure - ends[1]) < abs(pressure - ends[0]))
        return float(
            brentq(lambda x: self.bubble_pressure(x, temperature) - pressure, 0.0, 1.0, xtol=SHARE_STEP)
        )


@lru_cache(maxsize=16)
def pair(first: str, second: str) -> Pair:
    """Return the one :class:`Pair` of two names in this process."""
    return Pair(first, second)
