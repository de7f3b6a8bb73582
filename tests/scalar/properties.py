"""Fluid states straight from CoolProp's Helmholtz equations, one state at a time.

Saturation goes through QT and PQ inputs. Single-phase states are found by Newton's method in
density and temperature, which is several times faster than CoolProp's own (p, h) and (p, s)
inputs; those stand behind it as a fallback.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from CoolProp import AbstractState, CoolProp

ATMOSPHERE = 101325.0
GRAVITY = 9.80665
ZERO_C = 273.15


class State(NamedTuple):
    """Temperature [K], enthalpy [J/kg], entropy [J/(kg K)], specific volume [m3/kg]."""

    T: float
    h: float
    s: float
    v: float


class Saturation(NamedTuple):
    """Pressure [Pa], temperature [K], and the saturated liquid and vapour."""

    p: float
    T: float
    liquid: State
    vapour: State


class Fluid:
    """A pure working fluid; every method takes and returns SI floats."""

    def __init__(self, name: str) -> None:
        self.name = name
        self._saturated = AbstractState("HEOS", name)
        self._single = AbstractState("HEOS", name)
        self._single.specify_phase(CoolProp.iphase_gas)
        self._flash = AbstractState("HEOS", name)
        self.T_critical = self._saturated.T_critical()
        self.T_limit = 0.95 * self.T_critical
        self.p_lowest = 1.02 * self._saturated.trivial_keyed_output(CoolProp.iP_triple)

    def _read_saturated(self) -> State:
        st = self._saturated
        return State(st.T(), st.hmass(), st.smass(), 1.0 / st.rhomass())

    def saturation(self, T: float) -> Saturation:
        """Saturation at temperature ``T`` [K]."""
        st = self._saturated
        st.update(CoolProp.QT_INPUTS, 0.0, T)
        liquid = self._read_saturated()
        st.update(CoolProp.QT_INPUTS, 1.0, T)
        return Saturation(st.p(), T, liquid, self._read_saturated())

    def pressure_at(self, T: float) -> float:
        """Vapour pressure [Pa] at ``T`` [K]."""
        self._saturated.update(CoolProp.QT_INPUTS, 1.0, T)
        return self._saturated.p()

    def dew(self, p: float) -> State:
        """Saturated vapour at ``p`` [Pa]."""
        self._saturated.update(CoolProp.PQ_INPUTS, p, 1.0)
        return self._read_saturated()

    def bubble(self, p: float) -> State:
        """Saturated liquid at ``p`` [Pa]."""
        self._saturated.update(CoolProp.PQ_INPUTS, p, 0.0)
        return self._read_saturated()

    def _read_single(self) -> State:
        st = self._single
        return State(st.T(), st.hmass(), st.smass(), 1.0 / st.rhomass())

    def _at_density(self, rho: float, T: float) -> State:
        self._single.update(CoolProp.DmassT_INPUTS, rho, T)
        return self._read_single()

    def single(self, p: float, T: float, near: State) -> State:
        """Return the single-phase state at ``p`` [Pa], ``T`` [K] on the branch of the state ``near``."""
        st = self._single
        rho = 1.0 / near.v
        for _ in range(30):
            st.update(CoolProp.DmassT_INPUTS, rho, T)
            step = (p - st.p()) / st.first_partial_deriv(CoolProp.iP, CoolProp.iDmass, CoolProp.iT)
            rho += step
            if abs(step) < 1e-11 * rho:
                return self._at_density(rho, T)
        raise ArithmeticError(f"{self.name}: no density at {p} Pa, {T} K")

    def _newton(self, p: float, target: float, entropy: bool, near: State) -> State:
        """Solve p(rho, T) = ``p`` together with h or s equal to ``target``, starting at ``near``."""
        st = self._single
        rho, T = 1.0 / near.v, near.T
        for _ in range(40):
            st.update(CoolProp.DmassT_INPUTS, rho, T)
            p_T = st.first_partial_deriv(CoolProp.iP, CoolProp.iT, CoolProp.iDmass)
            p_rho = st.first_partial_deriv(CoolProp.iP, CoolProp.iDmass, CoolProp.iT)
            if entropy:
                y, y_T, y_rho = st.smass(), st.cvmass() / T, -p_T / (rho * rho)
            else:
                y, y_T, y_rho = st.hmass(), st.cvmass() + p_T / rho, (p_rho - T * p_T / rho) / rho
            dp, dy = p - st.p(), target - y
            determinant = p_rho * y_T - p_T * y_rho
            d_rho = (dp * y_T - p_T * dy) / determinant
            d_T = (p_rho * dy - y_rho * dp) / determinant
            change = max(abs(d_rho) / rho, abs(d_T) / T)
            damp = min(1.0, 0.3 / change) if change > 0 else 1.0
            rho += damp * d_rho
            T += damp * d_T
            if change < 1e-7:
                return self._at_density(rho, T)
        raise ArithmeticError(f"{self.name}: Newton did not settle at {p} Pa")

    def _outside_dome(self, p: float, target: float, entropy: bool, near: State) -> State:
        try:
            return self._newton(p, target, entropy, near)
        except (ArithmeticError, ValueError):
            pair = (CoolProp.PSmass_INPUTS, p, target) if entropy else (CoolProp.HmassP_INPUTS, target, p)
            self._flash.update(*pair)
            st = self._flash
            return State(st.T(), st.hmass(), st.smass(), 1.0 / st.rhomass())

    def ph(self, p: float, h: float) -> State:
        """Vapour or wet vapour at ``p`` [Pa], ``h`` [J/kg]."""
        dew = self.dew(p)
        if h > dew.h:
            return self._outside_dome(p, h, False, dew)
        bubble = self.bubble(p)
        return mixed_states(bubble, dew, (h - bubble.h) / (dew.h - bubble.h))

    def ps(self, p: float, s: float) -> State:
        """Vapour or wet vapour at ``p`` [Pa], ``s`` [J/(kg K)]."""
        dew = self.dew(p)
        if s > dew.s:
            return self._outside_dome(p, s, True, dew)
        bubble = self.bubble(p)
        return mixed_states(bubble, dew, (s - bubble.s) / (dew.s - bubble.s))

    def liquid_ph(self, p: float, h: float, near: State) -> State:
        """Liquid at ``p`` [Pa], ``h`` [J/kg]; ``near`` is a liquid state not far away."""
        return self._outside_dome(p, h, False, near)

    def internal_energy_vs(self, v: float, s: float, T: float) -> float:
        """Internal energy [J/kg] of vapour or wet vapour at ``v`` [m3/kg], ``s`` [J/(kg K)].

        ``T`` [K] is a guess.
        """
        st, rho = self._single, 1.0 / v
        for _ in range(60):
            st.update(CoolProp.DmassT_INPUTS, rho, T)
            step = (s - st.smass()) / st.cvmass()
            T *= math.exp(max(-0.2, min(0.2, step)))
            if abs(step) < 1e-7:
                break
        too_hot = self.T_critical <= T
        if too_hot or self.saturation(T).vapour.v <= v:
            st.update(CoolProp.DmassT_INPUTS, rho, T)
            return st.umass()
        return self._wet_internal_energy(v, s, T)

    def _wet_internal_energy(self, v: float, s: float, T: float) -> float:
        """Secant on the temperature of a two-phase state of given volume and entropy."""

        def miss(T: float) -> tuple[float, State, float]:
            sat = self.saturation(T)
            x = (v - sat.liquid.v) / (sat.vapour.v - sat.liquid.v)
            here = mixed_states(sat.liquid, sat.vapour, x)
            return here.s - s, here, sat.p

        T_old, (f_old, _, _) = T, miss(T)
        T_new = min(T + 0.5, 0.999 * self.T_critical)
        for _ in range(60):
            f_new, here, p = miss(T_new)
            if abs(f_new) < 1e-9 * abs(s) + 1e-9 or f_new == f_old:
                return here.h - p * v
            T_next = T_new - f_new * (T_new - T_old) / (f_new - f_old)
            T_old, f_old, T_new = T_new, f_new, min(max(T_next, T_new - 20.0), T_new + 20.0)
        raise ArithmeticError(f"{self.name}: no wet state at {v} m3/kg")


def mixed_states(liquid: State, vapour: State, x: float) -> State:
    """Lever rule at vapour fraction ``x`` [-]."""
    y = 1.0 - x
    return State(
        vapour.T, y * liquid.h + x * vapour.h, y * liquid.s + x * vapour.s, y * liquid.v + x * vapour.v
    )


class Water:
    """Liquid water at 1 atm between 0.5 and 99.9 degC: polynomials through IAPWS-95."""

    def __init__(self) -> None:
        T = ZERO_C + 50.2 + 49.7 * np.cos(np.pi * (np.arange(40) + 0.5) / 40)
        st = AbstractState("HEOS", "Water")
        st.specify_phase(CoolProp.iphase_liquid)
        rows = []
        for one in T:
            st.update(CoolProp.PT_INPUTS, ATMOSPHERE, float(one))
            rows.append((st.hmass(), st.smass(), st.rhomass()))
        h, s, rho = np.array(rows).T
        self._h = self._powers(T, h)
        self._s = self._powers(T, s)
        self._rho = self._powers(T, rho)
        self._c = [n * a / 50.0 for n, a in enumerate(self._h)][1:]

    @staticmethod
    def _powers(T: np.ndarray, y: np.ndarray) -> list[float]:
        """Coefficients of a power series in (T - 50 degC) / 50 K; residuals are below 1e-8."""
        series = np.polynomial.Chebyshev.fit((T - ZERO_C - 50.0) / 50.0, y, 11, domain=[-1.0, 1.0])
        return [float(a) for a in series.convert(kind=np.polynomial.Polynomial).coef]

    @staticmethod
    def _at(powers: list[float], T: float) -> float:
        x, total = (T - ZERO_C - 50.0) / 50.0, 0.0
        for a in reversed(powers):
            total = total * x + a
        return total

    def h(self, T: float) -> float:
        """Enthalpy [J/kg] at ``T`` [K]."""
        return self._at(self._h, T)

    def s(self, T: float) -> float:
        """Entropy [J/(kg K)] at ``T`` [K]."""
        return self._at(self._s, T)

    def rho(self, T: float) -> float:
        """Density [kg/m3] at ``T`` [K]."""
        return self._at(self._rho, T)

    def c(self, T: float) -> float:
        """Isobaric heat capacity [J/(kg K)] at ``T`` [K]."""
        return self._at(self._c, T)

    def temperature(self, h: float) -> float:
        """Temperature [K] at enthalpy ``h`` [J/kg]."""
        T = ZERO_C + h / 4190.0
        for _ in range(20):
            step = (h - self.h(T)) / self.c(T)
            T += step
            if abs(step) < 1e-10:
                break
        return T

    def mean_c(self, T_low: float, T_high: float) -> float:
        """Mean heat capacity [J/(kg K)] between two temperatures [K]."""
        if abs(T_high - T_low) < 1e-6:
            return self.c(T_low)
        return (self.h(T_high) - self.h(T_low)) / (T_high - T_low)

    def exergy(self, T: float, T_0: float) -> float:
        """Exergy [J/kg] of water at ``T`` [K] that may cool to ``T_0`` [K]."""
        return self.h(T) - self.h(T_0) - T_0 * (self.s(T) - self.s(T_0))


@lru_cache(maxsize=64)
def fluid_named(name: str) -> Fluid:
    """Return the one reusable :class:`Fluid` of this name."""
    return Fluid(name)


@lru_cache(maxsize=1)
def water() -> Water:
    """Return the one water table of the process."""
    return Water()


@lru_cache(maxsize=256)
def boiling_temperature(p: float) -> float:
    """Boiling temperature of water [K] at the air pressure ``p`` [Pa]."""
    st = AbstractState("HEOS", "Water")
    st.update(CoolProp.PQ_INPUTS, p, 0.0)
    return st.T()
