"""The plain twin of a mixture: bubble and dew lines, two-phase states by flash, vapour and liquid.

Saturation of a mixture is two lines. At one pressure it boils from the bubble point up to the dew point (the
glide), at one temperature its bubble pressure is the higher one. Here a saturation *pressure* is always that
of the bubble point: it is what the full charge shows on a gauge, and the line that is dangerous.
Two-phase states come from flashes at constant pressure and composition, not from the lever rule.
"""

from __future__ import annotations

from explore.fluids.blend import Blend, UnusableError
from explore.fluids.interface import CRITICAL_MARGIN, HIGHEST_SATURATION_K, LOWEST_SATURATION_K
from explore.fluids.substance import Substance
from explore.units import bar, celsius

ROOM_K = 293.15
"""20 degC, at which bottles and pressures at rest are stated."""


class Mixture(Substance):
    """One mixture, with the symbols, units and calls of :class:`~explore.fluids.substance.Substance`.

    ``critical_temperature`` [K] is the mean of the components' by mole fraction (W. B. Kay, Ind. Eng. Chem. 28
    (1936) 1014), lower than the true one of butane and propane: 405 K against 410 K. Raises
    :class:`UnusableError` where CoolProp has no equation for the mixture or its flash fails.
    """

    glides = True

    def __init__(self, blend: Blend) -> None:
        import CoolProp

        self._cp = CoolProp
        self.blend = blend
        try:
            fractions = blend.mole_fractions()
            self.state = CoolProp.AbstractState("HEOS", "&".join(blend.components))
            self.state.set_mole_fractions(fractions)
            parts = [CoolProp.AbstractState("HEOS", name) for name in blend.components]
        except ValueError as error:
            raise UnusableError(blend.name, _in_words(error)) from error
        self.critical_temperature = sum(
            x * part.T_critical() for x, part in zip(fractions, parts, strict=True)
        )
        self.molar_mass = self.state.molar_mass()
        self._molar_masses = [part.molar_mass() for part in parts]
        coldest = max(max(part.Ttriple(), part.Tmin()) for part in parts) + 0.02
        self.lowest_temperature = max(LOWEST_SATURATION_K, coldest)
        self.highest_temperature = min(HIGHEST_SATURATION_K, CRITICAL_MARGIN * self.critical_temperature)
        try:
            self.pressure_floor = self.dew(self.lowest_temperature)[0]
            self.pressure_roof = self.bubble(self.highest_temperature)[0]
        except ValueError as error:
            span = f"{celsius(self.lowest_temperature):.0f} to {celsius(self.highest_temperature):.0f} degC"
            raise UnusableError(
                blend.name, f"CoolProp finds no bubble or dew point at an end of {span}"
            ) from error

    def vapour_pressure(self, temperature: float) -> float:
        """Return the bubble pressure [Pa] at T [K]."""
        return self.bubble(temperature)[0]

    def saturation(self, pressure: float) -> tuple[float, ...]:
        """Return the bubble T, h', h'', s', s'', v', v'' and the dew T at p [Pa]."""
        p = self.clip(pressure)
        state = self._at(self._cp.PQ_INPUTS, p, 0.0)
        T, h, s, v = state.T(), state.hmass(), state.smass(), 1.0 / state.rhomass()
        state = self._at(self._cp.PQ_INPUTS, p, 1.0)
        return T, h, state.hmass(), s, state.smass(), v, 1.0 / state.rhomass(), state.T()

    def at_quality(self, pressure: float, mole_quality: float) -> tuple[float, float, float, float, float]:
        """Return h, s, v, T and the vapour's share by mass of a two-phase state at p [Pa].

        ``mole_quality`` is its share by mole, from 0 (bubble point) to 1 (dew point).
        """
        state = self._at(self._cp.PQ_INPUTS, pressure, mole_quality)
        vapour = sum(y * M for y, M in zip(state.mole_fractions_vapor(), self._molar_masses, strict=True))
        share = mole_quality * vapour / self.molar_mass
        return state.hmass(), state.smass(), 1.0 / state.rhomass(), state.T(), share

    def gas_fractions(self, temperature: float = ROOM_K) -> list[float]:
        """Return the mass fractions of the first gas over the liquid charge at T [K]."""
        self._at(self._cp.QT_INPUTS, 0.0, temperature)
        return self.blend.mass_fractions(list(self.state.mole_fractions_vapor()))

    def wet(self, pressure: float, column: int, value: float) -> tuple[float, float, float, float, float]:
        """Return the two-phase state at p [Pa] whose enthalpy (column 0) or entropy (1) is ``value``.

        Found by bisection and secants (Brent) on the quality; outside the dome the nearer end is returned.
        """
        from scipy.optimize import brentq

        p = self.clip(pressure)
        ends = [self.at_quality(p, q)[column] for q in (0.0, 1.0)]
        if not ends[0] < value < ends[1]:
            return self.at_quality(p, 0.0 if value <= ends[0] else 1.0)
        quality = brentq(lambda q: self.at_quality(p, q)[column] - value, 0.0, 1.0, xtol=1e-10, rtol=1e-10)
        return self.at_quality(p, quality)

    def from_entropy(self, pressure: float, entropy: float) -> tuple[float, float, float, float]:
        """Return h, s, v, T from p [Pa] and s [J/(kg K)]; by flash below the dew line."""
        if entropy > self.saturation(pressure)[4]:
            return super().from_entropy(pressure, entropy)
        h, _, v, T, _ = self.wet(pressure, 1, entropy)
        return h, entropy, v, T

    def from_enthalpy(self, pressure: float, enthalpy: float) -> tuple[float, float, float, float]:
        """Return h, s, v, T from p [Pa] and h [J/kg]; by flash below the dew line."""
        if enthalpy > self.saturation(pressure)[2]:
            return super().from_enthalpy(pressure, enthalpy)
        _, s, v, T, _ = self.wet(pressure, 0, enthalpy)
        return enthalpy, s, v, T

    def quality(self, pressure: float, enthalpy: float) -> float:
        """Return the vapour's share by mass [-] from p [Pa] and h [J/kg], by flash."""
        return 1.0 if enthalpy >= self.saturation(pressure)[2] else self.wet(pressure, 0, enthalpy)[4]


def _in_words(error: Exception) -> str:
    """Say in words that follow a name why CoolProp does not hold a mixture."""
    text = str(error).splitlines()[0].strip()
    if "binary pair" in text:
        return "CoolProp has no mixing rule for a pair of its components"
    return f"CoolProp does not hold it ({text})"


def failed(blend: Blend, pressure: float) -> UnusableError:
    """Return the complaint about a flash that failed at p [Pa]."""
    return UnusableError(
        blend.name, f"CoolProp finds no state between bubble and dew point at {bar(pressure):.3g} bar_a"
    )
