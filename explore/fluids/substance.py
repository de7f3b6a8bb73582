"""One pure fluid on CoolProp's Helmholtz equations: every property by one call at a time.

Slow and simple on purpose. The tables are built from the functions here and held against them.
Imposing the phase avoids CoolProp's refusal of states within 1e-4 % of saturation.
"""

from __future__ import annotations

from typing import Any

from explore.fluids.interface import CRITICAL_MARGIN, HIGHEST_SATURATION_K, LOWEST_SATURATION_K


class Substance:
    """One pure fluid: an ``AbstractState`` with the few calls the model needs (mixtures: ``mixture.py``).

    p absolute pressure [Pa], T temperature [K], h enthalpy [J/kg], s entropy [J/(kg K)], v volume [m3/kg]; h and s count
    from CoolProp's reference state of the fluid. Range: saturation from 248.15 K (or the triple point) to 379 K (or 0.95
    of the critical temperature), with ``wide`` from the triple point to 0.99 of it; pressures are clipped to that.
    Source: the fluid's Helmholtz equation as CoolProp has it (I. H. Bell and others, Ind. Eng. Chem. Res. 53 (2014)
    2498). Raises ``ValueError`` from CoolProp if the name is unknown.
    """

    glides = False

    def __init__(self, name: str, wide: bool = False) -> None:
        import CoolProp

        self._cp = CoolProp
        self.state = CoolProp.AbstractState("HEOS", name)
        self.critical_temperature: float = self.state.T_critical()
        self.molar_mass: float = self.state.molar_mass()
        lowest = max(self.state.Ttriple(), self.state.Tmin()) + 0.02
        self.lowest_temperature = lowest if wide else max(LOWEST_SATURATION_K, lowest)
        self.highest_temperature = (
            0.99 * self.critical_temperature
            if wide
            else min(HIGHEST_SATURATION_K, CRITICAL_MARGIN * self.critical_temperature)
        )
        self.pressure_floor = self.dew(self.lowest_temperature)[0]
        self.pressure_roof = self.dew(self.highest_temperature)[0]

    def _at(self, pair: Any, first: float, second: float, phase: Any = None) -> Any:
        if phase is None:
            self.state.unspecify_phase()
        else:
            self.state.specify_phase(phase)
        self.state.update(pair, first, second)
        return self.state

    def dew(self, temperature: float) -> tuple[float, float, float, float]:
        """Return p [Pa], h [J/kg], s [J/(kg K)], v [m3/kg] of saturated vapour at T [K]."""
        state = self._at(self._cp.QT_INPUTS, 1.0, temperature)
        return state.p(), state.hmass(), state.smass(), 1.0 / state.rhomass()

    def vapour_pressure(self, temperature: float) -> float:
        """Return the pressure [Pa] of liquid at its boiling point T [K]."""
        return self.dew(temperature)[0]

    def bubble(self, temperature: float) -> tuple[float, float, float, float]:
        """Return p, h, s, v of saturated liquid at T [K]."""
        state = self._at(self._cp.QT_INPUTS, 0.0, temperature)
        return state.p(), state.hmass(), state.smass(), 1.0 / state.rhomass()

    def critical_entropy(self) -> float:
        """Return s [J/(kg K)] at the critical point."""
        return float(
            self._at(self._cp.DmassT_INPUTS, self.state.rhomass_critical(), self.critical_temperature).smass()
        )

    def bubble_slopes(self, temperature: float) -> tuple[float, float]:
        """Return (dh/dp) at constant T [m3/kg] and (dv/dT) at constant p [m3/(kg K)] of saturated liquid."""
        state = self._at(self._cp.QT_INPUTS, 0.0, temperature)
        dh_dp = state.first_partial_deriv(self._cp.iHmass, self._cp.iP, self._cp.iT)
        drho_dT = state.first_partial_deriv(self._cp.iDmass, self._cp.iT, self._cp.iP)
        return dh_dp, -drho_dT / state.rhomass() ** 2

    def saturation(self, pressure: float) -> tuple[float, ...]:
        """Return T, h', h'', s', s'', v', v'' and once more T, that of the dew point, at p [Pa]."""
        p = min(max(pressure, self.pressure_floor), self.pressure_roof)
        state = self._at(self._cp.PQ_INPUTS, p, 0.0)
        liquid = (state.hmass(), state.smass(), 1.0 / state.rhomass())
        state = self._at(self._cp.PQ_INPUTS, p, 1.0)
        vapour = (state.hmass(), state.smass(), 1.0 / state.rhomass())
        T = state.T()
        return (T, *(x for pair in zip(liquid, vapour, strict=True) for x in pair), T)

    def vapour_pt(self, pressure: float, temperature: float) -> tuple[float, float, float, float]:
        """Return h, s, v, T of vapour at p [Pa] and T [K]."""
        state = self._at(self._cp.PT_INPUTS, pressure, temperature, self._cp.iphase_gas)
        return state.hmass(), state.smass(), 1.0 / state.rhomass(), temperature

    def superheated(self, pressure: float, superheat: float) -> tuple[float, float, float, float]:
        """Return h, s, v, T of vapour ``superheat`` [K] above its dew point at p [Pa]."""
        _, _, h, _, s, _, v, T = self.saturation(pressure)
        return self.vapour_pt(self.clip(pressure), T + superheat) if superheat > 1e-9 else (h, s, v, T)

    def clip(self, pressure: float) -> float:
        """Return the pressure held within the range of the fluid."""
        return min(max(pressure, self.pressure_floor), self.pressure_roof)

    def _two_phase(
        self, sat: tuple[float, ...], x: float, h: float, s: float
    ) -> tuple[float, float, float, float]:
        T, _, _, _, _, v_l, v_v, _ = sat
        return h, s, v_l + x * (v_v - v_l), T

    def from_entropy(self, pressure: float, entropy: float) -> tuple[float, float, float, float]:
        """Return h, s, v, T from p [Pa] and s [J/(kg K)]; the lever rule below the dew line."""
        sat = self.saturation(pressure)
        _, h_l, h_v, s_l, s_v, _, _, _ = sat
        if entropy <= s_v:
            x = (entropy - s_l) / (s_v - s_l)
            return self._two_phase(sat, x, h_l + x * (h_v - h_l), entropy)
        state = self._at(self._cp.PSmass_INPUTS, self.clip(pressure), entropy, self._cp.iphase_gas)
        return state.hmass(), entropy, 1.0 / state.rhomass(), state.T()

    def from_enthalpy(self, pressure: float, enthalpy: float) -> tuple[float, float, float, float]:
        """Return h, s, v, T from p [Pa] and h [J/kg]; the lever rule below the dew line."""
        sat = self.saturation(pressure)
        _, h_l, h_v, s_l, s_v, _, _, _ = sat
        if enthalpy <= h_v:
            x = (enthalpy - h_l) / (h_v - h_l)
            return self._two_phase(sat, x, enthalpy, s_l + x * (s_v - s_l))
        state = self._at(self._cp.HmassP_INPUTS, enthalpy, self.clip(pressure), self._cp.iphase_gas)
        return enthalpy, state.smass(), 1.0 / state.rhomass(), state.T()

    def quality(self, pressure: float, enthalpy: float) -> float:
        """Return the vapour's share by mass [-] from p [Pa] and h [J/kg]."""
        _, h_l, h_v, *_ = self.saturation(pressure)
        return min((enthalpy - h_l) / (h_v - h_l), 1.0)

    def liquid(self, pressure: float, temperature: float) -> tuple[float, float, float, float]:
        """Return h, s, v, T of liquid; at or above the bubble point, the bubble point."""
        sat = self.saturation(pressure)
        if temperature >= sat[0] - 1e-9:
            return sat[1], sat[3], sat[5], sat[0]
        state = self._at(self._cp.PT_INPUTS, self.clip(pressure), temperature, self._cp.iphase_liquid)
        return state.hmass(), state.smass(), 1.0 / state.rhomass(), temperature

    def liquid_from_enthalpy(self, pressure: float, enthalpy: float) -> tuple[float, float, float, float]:
        """Return h, s, v, T of liquid; at or above the bubble point, the bubble point."""
        sat = self.saturation(pressure)
        if enthalpy >= sat[1] - 1e-6:
            return sat[1], sat[3], sat[5], sat[0]
        state = self._at(self._cp.HmassP_INPUTS, enthalpy, self.clip(pressure), self._cp.iphase_liquid)
        return enthalpy, state.smass(), 1.0 / state.rhomass(), state.T()
