"""Losses of one expansion that scale with pressure, size, speed and superheat.

One law a function, on arrays of shape (n,), SI and kelvin, speeds in revolutions per second. What is drawn from print
and what is judgement stands with each law and with the coefficients of :class:`Laws`; measured machines are held
against them by :mod:`explore.verify`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from explore.fluids.interface import Array, Saturation

FORM_FACTOR = np.pi**2 / 12.0
"""Mean square of a piston's speed over the square of its mean, times one half, as valve loss takes it."""
MACH_FACTOR = np.pi / 2.0
"""Greatest over mean piston speed of a long connecting rod."""
LARGEST_INLET_LOSS, LARGEST_OUTLET_LOSS = 0.5, 1.0
LARGEST_PORT_MACH = 0.5
ISENTROPIC_EXPONENT = 1.1
"""Of heavy vapours near saturation, for the speed of sound in a port."""
LEAST_CUT_OFF = 0.02
"""A cut-off below it is no admission; the laws stay finite there."""
SMALL_BORE_M = 0.1
"""Gaps, clearances of fits and friction are stated at this bore."""
ORIFICE_COEFFICIENT = 0.63
CRITICAL_RATIO = 0.57
"""Pressure ratio below which an orifice passes no more."""
LEAK_FACTOR = 8.0
"""Perimeter over area times the turns' share, of a slit around the piston: 4/(D U/2)."""
SUPERHEAT_FACTOR = 2.4
"""Ripper, Proc. ICE 128 (1897), from memory: superheat that saves its own heat this many times over in wall loss."""
WALL_FLOOR = 0.15
"""No measured engine had walls without loss: what superheat cannot save (assumption)."""
LARGEST_WALL_SHARE = 0.95
SWING_K = 8.0
"""Wall swing follows the temperature difference g as g^2/(g + 8 K)."""
HEAD_FACTOR = 1.5
"""Area of head, piston and ports over twice the piston's area."""
IRON_EFFUSIVITY = 13_000.0
"""Of cast iron [W s^0.5/(m2 K)]."""
DRY_WALL = 0.02
"""Heat transfer number of superheated vapour on the wall."""


@dataclass(frozen=True)
class Laws:
    """Coefficients of the laws, SI; sources, bands and groups: :class:`explore.config.engine.Engine`."""

    valve_base_loss: float = 0.02
    inlet_port_share: float = 0.06
    outlet_port_share: float = 0.08
    clearance: float = 0.07
    gap: float = 13e-6
    gap_length: float = 3e-3
    leak_law: Literal["early", "mild"] = "early"
    wall_factor: float = 0.44
    wall_root_factor: float = 0.29
    wall_law: Literal["linear", "root"] = "linear"
    friction_idle: float = 0.052e5
    friction_load: float = 0.055
    friction_speed: float = 0.035e5


class Properties(NamedTuple):
    """Constants of the working fluids: ``conductivity`` k_l of saturated liquid at 50 degC [W/(m K)] and
    ``viscosity`` mu of saturated vapour at 80 degC [Pa s], each (n,)."""

    conductivity: Array
    viscosity: Array

    def take(self, index: Array) -> Properties:
        """Return those of the designs ``index``."""
        return Properties(self.conductivity[index], self.viscosity[index])


class Cylinder(NamedTuple):
    """The cylinders of one stage, each (n,): ``bore`` and ``stroke`` [m], ``speed`` [1/s] of the shaft."""

    bore: Array
    stroke: Array
    speed: Array

    @property
    def piston_speed(self) -> Array:
        """Mean piston speed U = 2 S N [m/s]."""
        return 2.0 * self.stroke * self.speed

    def at(self, speed: Array) -> Cylinder:
        """Return the same cylinders at another speed [1/s]."""
        return self._replace(speed=speed)

    def take(self, index: Array) -> Cylinder:
        """Return those of the designs ``index``."""
        return Cylinder(*(column[index] for column in self))


class StageLosses(NamedTuple):
    """Losses of one stage as its expansion needs them, each (n,).

    ``admission_pressure_loss``, ``exhaust_pressure_loss``, ``clearance_fraction``, ``leakage_fraction`` and
    ``wall_share`` [-]; ``friction_mean_pressure`` [Pa].
    """

    admission_pressure_loss: Array
    exhaust_pressure_loss: Array
    clearance_fraction: float
    leakage_fraction: Array
    wall_share: Array
    friction_mean_pressure: Array

    def take(self, index: Array) -> StageLosses:
        """Return those of the designs ``index``."""
        return StageLosses(*(c if np.ndim(c) == 0 else np.asarray(c)[index] for c in self))


def free_of_loss(laws: Laws, like: Array) -> StageLosses:
    """Return where a search for the cylinders starts: open valves' base loss, no leak, no walls, no friction."""
    zero, base = np.zeros_like(like), np.full_like(like, laws.valve_base_loss)
    return StageLosses(base, base, laws.clearance, zero, zero, zero)


def cut_off(volume_ratio: Array, clearance: float) -> Array:
    """Cut-off eps [-], share of the stroke at which admission ends: (1 + c)/r - c, held within 0.02 and 1."""
    return np.clip((1.0 + clearance) / volume_ratio - clearance, LEAST_CUT_OFF, 1.0)


def crank_angle(eps: Array) -> Array:
    """Crank angle phi [rad] from dead centre to cut-off with a long rod: arccos(1 - 2 eps).

    >>> float(crank_angle(np.array(0.5)) / np.pi)
    0.5
    """
    return np.arccos(1.0 - 2.0 * eps)


def valve_loss(
    piston_speed: Array, port_share: float, base: float, pressure: Array, volume: Array, largest: float
) -> Array:
    """Pressure lost through a valve, share of ``pressure`` [-]: d_0 + K (U/s)^2/(p v), K = pi^2/12.

    ``piston_speed`` U [m/s]; ``port_share`` s [-], discharge coefficient times port over piston area; ``pressure`` [Pa]
    and ``volume`` [m3/kg] of the vapour that passes. Dynamic head of the mean square speed in the port. Judgement.
    """
    return np.minimum(base + FORM_FACTOR * (piston_speed / port_share) ** 2 / (pressure * volume), largest)


def port_mach(piston_speed: Array, port_share: float, pressure: Array, volume: Array) -> Array:
    """Greatest speed in the inlet port over that of sound [-], (pi/2) U/(s a), a = sqrt(1.1 p v).

    Form: inlet Mach index, C. F. Taylor, The Internal-Combustion Engine in Theory and Practice, 1960 (from memory).
    """
    sound = np.sqrt(ISENTROPIC_EXPONENT * pressure * volume)
    return MACH_FACTOR * piston_speed / (port_share * sound)


def leak_conductance(
    bore: Array, pressure: Array, volume: Array, exhaust_pressure: Array, viscosity: Array, laws: Laws
) -> Array:
    """Leak past a unit length of seal, as volume of inlet vapour [m2/s]; zero where nothing drives it.

    A laminar slit h^3 p1 (1 - (p3/p1)^2)/(24 mu l) in series with an orifice h Psi sqrt(p1 v1),
    Psi = 0.63 sqrt(1 - max(0, (p3/p1 - 0.57)/0.43)^2); the gap h grows with the root of the bore above 0.1 m. Pressures
    [Pa], ``volume`` v1 [m3/kg], ``viscosity`` [Pa s]. Leak follows pressure, not sliding speed: Steam Engine Research
    Committee, IMechE 1905, in Lineham, Text-Book of Mechanical Engineering; size of the gap: judgement.
    """
    gap = laws.gap * np.sqrt(np.maximum(bore, SMALL_BORE_M) / SMALL_BORE_M)
    ratio = np.minimum(exhaust_pressure / pressure, 1.0)
    slit = gap**3 * pressure * (1.0 - ratio**2) / (24.0 * viscosity * laws.gap_length)
    beyond = np.maximum(0.0, (ratio - CRITICAL_RATIO) / (1.0 - CRITICAL_RATIO))
    orifice = gap * ORIFICE_COEFFICIENT * np.sqrt(1.0 - beyond**2) * np.sqrt(pressure * volume)
    both = slit + orifice
    return np.where(both > 0.0, slit * orifice / np.where(both > 0.0, both, 1.0), 0.0)


def leakage(conductance: Array, cylinder: Cylinder, eps: Array, law: str = "early") -> Array:
    """Share of the flow that leaks, lambda = x/(1 + x) [-], x = 8 j/(D U eps); ``mild``: sqrt(2/eps - 1) for 1/eps.

    ``conductance`` j [m2/s] of :func:`leak_conductance`, ``eps`` the cut-off [-].
    """
    early = 1.0 / eps if law == "early" else np.sqrt(2.0 / eps - 1.0)
    x = LEAK_FACTOR * conductance * early / (cylinder.bore * cylinder.piston_speed)
    return x / (1.0 + x)


def wall_swing(difference: Array) -> Array:
    """Swing of the wall's surface [K] for a temperature difference g [K]: g^2/(g + 8 K)."""
    return difference**2 / (difference + SWING_K)


def condensing_share(
    swing: Array, cylinder: Cylinder, eps: Array, sat: Saturation, conductivity: Array
) -> Array:
    """Vapour that condenses on the walls in a turn over that admitted, B [-]; 0 where nothing swings.

    (A/V) v_v/(L (1/q_f + 1/q_w)): wall area over admitted volume A/V = 2 f_p/(S eps) + 4/D; heat taken by a growing film
    q_f = sqrt(2 k_l rho_l L dT t) (Stefan's problem) and by the iron q_w = (2/sqrt(pi)) 13,000 dT sqrt(t) in series,
    t = phi/(2 pi N) the time of admission. ``sat`` at p1, ``conductivity`` k_l [W/(m K)].
    """
    L = sat.h_vapour - sat.h_liquid
    time = crank_angle(eps) / (2.0 * np.pi * cylinder.speed)
    area = 2.0 * HEAD_FACTOR / (cylinder.stroke * eps) + 4.0 / cylinder.bore
    moving = swing > 0.0
    safe = np.where(moving, swing, 1.0)
    film = np.sqrt(2.0 * conductivity / sat.v_liquid * L * safe * time)
    iron = 2.0 / np.sqrt(np.pi) * IRON_EFFUSIVITY * safe * np.sqrt(time)
    return np.where(moving, area * sat.v_vapour / (L * (1.0 / film + 1.0 / iron)), 0.0)


def dry_share(cylinder: Cylinder, eps: Array, warm: Array, cold: Array) -> Array:
    """Wall loss of vapour that stays dry [-]: 0.02 (A/V) S phi/(4 pi) max(0, T1 - T*)/T1, temperatures [K]."""
    area = 2.0 * HEAD_FACTOR / (cylinder.stroke * eps) + 4.0 / cylinder.bore
    turn = cylinder.stroke * crank_angle(eps) / (4.0 * np.pi)
    return DRY_WALL * area * turn * np.maximum(0.0, warm - cold) / warm


def wall_share(
    sat: Saturation,
    enthalpy: Array,
    temperature: Array,
    expanded: Array,
    cylinder: Cylinder,
    eps: Array,
    conductivity: Array,
    laws: Laws,
) -> Array:
    """Share of the work lost to the walls, chi = x/(1 + x) [-], at most 0.95.

    x = max(C_w B - 2.4 (h1 - h_v)/L, 0.15 C_w B_0) + dry part; law ``root``: y = 0.29 sqrt(B_0) for C_w B and
    C_w B_0. g = max(0, (T_dew(p1) - T*)/2), B with the swing of g, B_0 with g itself. ``sat`` at p1; ``enthalpy`` h1
    [J/kg] and ``temperature`` T1 [K] before the valve; ``expanded`` T* [K] after expansion without loss. Missing over
    indicated steam, ~ 1/D and 1/sqrt(N): Cotterill's formula in Lineham, Text-Book of Mechanical Engineering; C_w
    fitted on steam; no measurement on an organic vapour is known.
    """
    g = np.maximum(0.0, 0.5 * (sat.dew_temperature - expanded))
    whole = condensing_share(g, cylinder, eps, sat, conductivity)
    if laws.wall_law == "root":
        wet = most = laws.wall_root_factor * np.sqrt(whole)
    else:
        wet = laws.wall_factor * condensing_share(wall_swing(g), cylinder, eps, sat, conductivity)
        most = laws.wall_factor * whole
    saved = SUPERHEAT_FACTOR * np.maximum(0.0, enthalpy - sat.h_vapour) / (sat.h_vapour - sat.h_liquid)
    x = np.maximum(wet - saved, WALL_FLOOR * most) + dry_share(cylinder, eps, temperature, expanded)
    return np.minimum(x / (1.0 + x), LARGEST_WALL_SHARE)


def friction(indicated_pressure: Array, cylinder: Cylinder, laws: Laws) -> Array:
    """Friction mean pressure [Pa]: (a + b max(0, p_i)) sqrt(0.1 m/D) + c_f U.

    ``indicated_pressure`` p_i [Pa]. Form: Chen and Flynn, SAE 650733 (1965) (from memory); root of the bore: judgement.
    """
    loaded = laws.friction_idle + laws.friction_load * np.maximum(0.0, indicated_pressure)
    return loaded * np.sqrt(SMALL_BORE_M / cylinder.bore) + laws.friction_speed * cylinder.piston_speed
