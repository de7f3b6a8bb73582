"""Filling a plant: what a leak test shows, what evacuating and purging leave, how full of liquid it gets, when it freezes.

SI and kelvin, absolute pascal; gases are ideal.
"""

from __future__ import annotations

import math

GAS_CONSTANT = 8.314462618
"""J/(mol K): exact, CODATA 2018."""
NITROGEN = 0.0280134
"""Molar mass of nitrogen [kg/mol], IUPAC; air leaks as it does, within a few per cent."""
NITROGEN_VISCOSITY = 17.6e-6
"""Of nitrogen at 20 degC [Pa s]: Lemmon and Jacobsen, Int. J. Thermophys. 25 (2004) 21, from memory."""
SECONDS_PER_YEAR = 365.25 * 24.0 * 3600.0
"""By definition of the Julian year."""
DIATOMIC = 2.5
"""1/(k - 1) at k = 1.4, of nitrogen and air: ASME PCC-2, article 5.1, appendix II."""
DIATOMIC_POWER = 0.286
"""(k - 1)/k at k = 1.4, as written there."""


def warmed(pressure: float, cold: float, warm: float) -> float:
    """Pressure [Pa] of a gas shut in at p [Pa] and T [K] once it has another temperature [K]: p2 = p1 T2/T1.

    >>> round(warmed(3e5, 300.0, 310.0))
    310000
    """
    return pressure * warm / cold


def moles_lost(volume: float, before: tuple[float, float], after: tuple[float, float]) -> float:
    """Gas lost [mol] from a volume [m3] between two readings of (pressure [Pa], temperature [K]).

    n = V/R (p1/T1 - p2/T2), the ideal gas law twice: what temperature does to the pressure is taken out.
    """
    return volume / GAS_CONSTANT * (before[0] / before[1] - after[0] / after[1])


def leak_rate(fall: float, volume: float, seconds: float) -> float:
    """Leak [Pa m3/s] that lets the pressure of a volume [m3] fall, or rise, by so many Pa: Q = dp V/t.

    >>> f"{leak_rate(1e5, 4e-3, 30 * 24 * 3600.0):.1e}"
    '1.5e-04'
    """
    return fall * volume / seconds


def mass_rate(leak: float, molar_mass: float, temperature: float) -> float:
    """Mass [kg/s] that a leak [Pa m3/s] of a gas [kg/mol] at T [K] carries: m = Q M/(R T)."""
    return leak * molar_mass / (GAS_CONSTANT * temperature)


def throughput(mass: float, molar_mass: float, temperature: float) -> float:
    """Leak [Pa m3/s] that carries so much mass [kg/s]; inverts :func:`mass_rate`."""
    return mass * GAS_CONSTANT * temperature / molar_mass


def laminar_ratio(
    first: tuple[float, float], second: tuple[float, float], viscosities: tuple[float, float]
) -> float:
    """Leak [Pa m3/s] of the same hole in a second state over that in a first.

    Pressures [Pa] on its two sides, high before low; ``viscosities`` [Pa s] of the first and the second gas. Viscous
    flow, Q ~ (p1^2 - p2^2)/mu: holes that a gauge and soap find are of this kind (LACO Technologies, technical reference
    guide on conversions in leak testing).
    """
    driven = (second[0] ** 2 - second[1] ** 2) / (first[0] ** 2 - first[1] ** 2)
    return driven * viscosities[0] / viscosities[1]


def stored_energy(pressure: float, air: float, volume: float) -> float:
    """Energy [J] that a gas at p [Pa] in V [m3] sets free when a part gives way: 2.5 p V (1 - (pa/p)^0.286).

    Source: ASME PCC-2, article 5.1, mandatory appendix II, equation II-2, for air and nitrogen.
    """
    return DIATOMIC * pressure * volume * (1.0 - (air / pressure) ** DIATOMIC_POWER)


def share_left(low: float, high: float, cycles: int) -> float:
    """Share of the first gas left after pulling down to p_low and filling up to p_high [Pa] so many times: (pl/ph)^n.

    The ideal gas law at one temperature, mixed well each time. The same for vacuum with nitrogen let in after it and for
    pressure let off; Crowl and Louvar, Chemical Process Safety, chapter on designs to prevent fires (from memory).
    """
    return float((low / high) ** cycles)


def cycles_for(share: float, low: float, high: float) -> int:
    """Times that :func:`share_left` needs to bring the first gas to a ``share`` of what there was."""
    return math.ceil(math.log(share) / math.log(low / high))


def swept_share(volumes: float) -> float:
    """Share of the first gas left after so many volumes were swept through and mixed: exp(-n).

    >>> round(swept_share(3.04), 3)
    0.048
    """
    return math.exp(-volumes)


def liquid_share(charge: float, volume: float, liquid: float, vapour: float) -> float:
    """Share of a volume [m3] that liquid fills, with ``charge`` [kg] in it at one temperature; above one it is over-full.

    ``liquid`` and ``vapour`` [m3/kg] are the specific volumes at saturation: V = m' v' + (m - m') v''.
    """
    if charge * liquid >= volume:
        return charge * liquid / volume
    return max((charge * vapour - volume) / (vapour - liquid), 0.0) * liquid / volume


def cooling_seconds(heat_capacity: float, loss: float, start: float, end: float, around: float) -> float:
    """Time [s] in which a body [J/K] that loses ``loss`` [W/K] goes from one temperature to another [K].

    t = C/UA ln((T0 - Ta)/(T - Ta)), Newton's law; infinite where the air around is no colder than the end.
    """
    if around >= end:
        return math.inf
    return heat_capacity / loss * math.log((start - around) / (end - around))
