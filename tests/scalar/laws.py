"""Losses that scale with pressure, size, speed and superheat: one plain function for each law.

Symbols follow the design document's sections 3L, 3P, 4G and 5. SI units, pressures in Pa absolute, speeds in
rev/s; nothing here knows of a fluid equation, states come in as numbers. :class:`Laws` holds every
coefficient; its defaults are the central values, the set ``careful``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

BAR = 1e5


@dataclass(frozen=True)
class Laws:
    """Coefficients of the engine, its pump, drive and store; the defaults are the set ``careful``.

    ``scaled`` False stands for the set ``constant``: the losses are then the plain numbers of the engine's
    configuration and nothing else of this class is used. ``leak`` is ``plain`` or ``mild``; ``walls`` is
    ``swing`` or ``root``, or for the band of a machine outside what was measured ``none`` and ``most``,
    ``most_root`` (no superheat term, no dry part). ``stroke_ratio`` is S/D, ``acting`` 1 or 2.
    ``conductivity`` and ``viscosity`` belong to the fluid: give them where its card has them.
    """

    name: str = "careful"
    scaled: bool = True
    stroke_ratio: float = 1.0
    acting: int = 1
    conductivity: float = 0.10
    viscosity: float = 9e-6
    # valves
    port_in: float = 0.06
    port_out: float = 0.08
    drop_0: float = 0.02
    drop_factor: float = math.pi**2 / 12.0
    mach_limit: float = 0.5
    # clearance
    clearance: float = 0.07
    # leak
    leak: str = "plain"
    gap: float = 13e-6
    gap_length: float = 3e-3
    gap_bore: float = 0.1
    # walls
    walls: str = "swing"
    wall_factor: float = 0.44
    wall_root_factor: float = 0.29
    wall_floor: float = 0.15
    wall_most: float = 0.95
    superheat_relief: float = 2.4
    head_factor: float = 1.5
    swing_offset_K: float = 8.0
    iron: float = 13_000.0
    dry_factor: float = 0.02
    # friction
    friction_a: float = 0.052 * BAR
    friction_b: float = 0.055
    friction_c: float = 0.035 * BAR
    # feed pump
    pump_volumetric: float = 0.90
    pump_mechanical: float = 0.85
    pump_packing: float = 1.5 * BAR
    motor_efficiency: float = 0.55
    required_head: float = 1.0
    # drive, store, circulation, warm-up
    drive_step: float = 0.96
    fittings: float = 0.6
    insulation_factor: float = 1.25
    coil_U: tuple[float, float, float] = (145.0, 425.0, 160.0)
    water_drop: float = 0.2 * BAR
    water_rise: float = 10.0
    water_drop_limits: tuple[float, float] = (0.05 * BAR, 1.0 * BAR)
    warm_up: float = 8e3
    warm_up_volume: float = 0.5e-3
    warm_up_least: float = 4e3
    outside_pressure: float = 1.5 * BAR


CAREFUL = Laws()
LAPPED = replace(CAREFUL, name="lapped", gap=8e-6)
HOME_MADE = replace(CAREFUL, name="home_made", gap=18e-6)
MILD = replace(CAREFUL, name="mild", leak="mild", gap=14e-6)
ROOT = replace(CAREFUL, name="root", walls="root")
# An engine and pump without any loss; store, drive and water streams keep theirs.
IDEAL = replace(
    CAREFUL, name="ideal", drop_0=0.0, drop_factor=0.0, clearance=0.0, gap=0.0, wall_factor=0.0,
    wall_root_factor=0.0, dry_factor=0.0, friction_a=0.0, friction_b=0.0, friction_c=0.0,
    pump_volumetric=1.0, pump_mechanical=1.0, pump_packing=0.0, motor_efficiency=1.0,
)  # fmt: skip
CONSTANT = Laws(name="constant", scaled=False)
SETS = {laws.name: laws for laws in (CAREFUL, LAPPED, HOME_MADE, IDEAL, CONSTANT)}


@dataclass(frozen=True)
class Load:
    """What the scenario says of the load beyond its power and speed, and of the pump.

    ``bank``: ``none`` or ``day``; ``power_may_rise``: most power it takes, over P; ``pump_drive``:
    ``engine`` or ``motor``; ``static_head`` [m]: liquid level above the feed pump.
    """

    speed_may_fall: bool = False
    bank: str = "none"
    bank_efficiency: float = 1.0
    power_may_rise: float = 4.0
    pump_drive: str = "engine"
    static_head: float = 1.5


class StageLosses(NamedTuple):
    """Losses of one stage under the names of the engine's configuration, friction in bar."""

    admission_pressure_loss: float
    exhaust_pressure_loss: float
    clearance_fraction: float
    leakage_fraction: float
    wall_loss_fraction: float
    friction_mean_pressure_bar: float


class Cylinder(NamedTuple):
    """The ``count`` equal cylinders of a stage: swept volume of all [m3], bore and stroke [m]."""

    volume: float
    count: int
    bore: float
    stroke: float


class Inlet(NamedTuple):
    """Vapour before the valve: p [Pa], T [K], v [m3/kg], and saturation at that pressure.

    ``superheat`` is h - h_dew [J/kg] where positive, ``latent`` h_dew - h_bubble, ``rho_liquid`` of the bubble
    point.
    """

    p: float
    T: float
    v: float
    T_dew: float
    v_dew: float
    latent: float
    rho_liquid: float
    superheat: float


def cylinder_of(laws: Laws, volume: float, count: int, bore: float | None = None) -> Cylinder:
    """Return bore and stroke of ``count`` cylinders of together ``volume`` [m3]; a given ``bore`` [m] is held."""
    one = volume / count
    if bore is None:
        bore = (4.0 * one / (math.pi * laws.stroke_ratio)) ** (1.0 / 3.0)
        return Cylinder(volume, count, bore, laws.stroke_ratio * bore)
    return Cylinder(volume, count, bore, 4.0 * one / (math.pi * bore * bore))


def cut_off_fraction(clearance: float, ratio: float) -> float:
    """Cut-off eps over the stroke for a built-in ``ratio``, within 0.02 to 1 as the laws want it."""
    return min(1.0, max(0.02, (1.0 + clearance) / ratio - clearance))


def crank_angle(eps: float) -> float:
    """Angle [rad] from dead centre to cut-off for a long connecting rod."""
    return math.acos(1.0 - 2.0 * eps)


def valve_drop(laws: Laws, U: float, port: float, p: float, v: float, most: float) -> float:
    """Pressure lost in a valve over the pressure: ``U`` piston speed [m/s], ``port`` effective area ratio."""
    return min(most, max(0.0, laws.drop_0 + laws.drop_factor * (U / port) ** 2 / (p * v)))


def port_mach(laws: Laws, U: float, p: float, v: float) -> float:
    """Greatest speed in the inlet port over that of sound, less the limit; positive is a violation."""
    return 0.5 * math.pi * U / (laws.port_in * math.sqrt(1.1 * p * v)) - laws.mach_limit


def gap_flow(laws: Laws, bore: float, p1: float, v1: float, p3: float) -> float:
    """Leak j [m2/s], volume at inlet state per metre of rim: slit and orifice one after the other."""
    gap = laws.gap * math.sqrt(max(bore, laws.gap_bore) / laws.gap_bore)
    if p3 >= p1 or gap <= 0.0:
        return 0.0
    behind = p3 / p1
    slit = gap**3 * p1 * (1.0 - behind**2) / (24.0 * laws.viscosity * laws.gap_length)
    psi = 0.63 * math.sqrt(1.0 - max(0.0, (behind - 0.57) / 0.43) ** 2)
    orifice = gap * psi * math.sqrt(p1 * v1)
    return slit * orifice / (slit + orifice)


def leak_fraction(laws: Laws, j: float, bore: float, U: float, eps: float) -> float:
    """Share of the flow that leaks; the variant ``mild`` leans less on an early cut-off."""
    by_cut_off = math.sqrt(2.0 / eps - 1.0) if laws.leak == "mild" else 1.0 / eps
    x = 8.0 * j / (bore * U) * by_cut_off
    return x / (1.0 + x)


def wall_film(laws: Laws, inlet: Inlet, dT: float, t: float, area_per_volume: float) -> float:
    """B [-]: vapour condensed on the walls in the admission time ``t`` [s] at a swing ``dT`` [K], over that admitted."""
    if dT <= 0.0:
        return 0.0
    film = math.sqrt(2.0 * laws.conductivity * inlet.rho_liquid * inlet.latent * dT * t)
    wall = 2.0 / math.sqrt(math.pi) * laws.iron * dT * math.sqrt(t)
    return area_per_volume * inlet.v_dew / (inlet.latent * (1.0 / film + 1.0 / wall))


def wall_fraction(
    laws: Laws, inlet: Inlet, T_star: float, cylinder: Cylinder, eps: float, speed: float
) -> float:
    """Missing quantity chi: share of the steam that the walls take from the work.

    ``T_star`` [K]: temperature after loss-free expansion to the back pressure; ``speed`` in rev/s.
    """
    phi = crank_angle(eps)
    t = phi / (2.0 * math.pi * speed)
    over_volume = 2.0 * laws.head_factor / (cylinder.stroke * eps) + 4.0 / cylinder.bore
    g = max(0.0, 0.5 * (inlet.T_dew - T_star))
    swing = g * g / (g + laws.swing_offset_K) if g > 0.0 else 0.0
    relief = laws.superheat_relief * max(0.0, inlet.superheat) / inlet.latent
    B = wall_film(laws, inlet, swing, t, over_volume)
    B_0 = wall_film(laws, inlet, g, t, over_volume)
    root = laws.wall_root_factor * math.sqrt(B_0)
    dry = laws.dry_factor * over_volume * cylinder.stroke * phi / (4.0 * math.pi)
    dry *= max(0.0, inlet.T - T_star) / inlet.T
    x = {
        "swing": max(laws.wall_factor * B - relief, laws.wall_floor * laws.wall_factor * B_0) + dry,
        "root": max(root - relief, laws.wall_floor * root) + dry,
        "none": 0.0,
        "most": laws.wall_factor * B_0,
        "most_root": root,
    }[laws.walls]
    return min(laws.wall_most, x / (1.0 + x))


def friction_pressure(laws: Laws, p_indicated: float, bore: float, U: float) -> float:
    """Friction mean pressure [Pa] over the swept volume at the indicated mean pressure [Pa]."""
    pressed = laws.friction_a + laws.friction_b * max(0.0, p_indicated)
    return pressed * math.sqrt(0.1 / bore) + laws.friction_c * U


def pump_efficiency(laws: Laws, engine: Any, dp: float, drive: str = "engine") -> float:
    """Efficiency of a feed pump that lifts ``dp`` [Pa]; the set ``constant`` has the engine's one number."""
    if not laws.scaled:
        return engine.pump_efficiency
    # A pump that lifts nothing needs nothing: any efficiency will do, but not zero.
    rising = dp / (dp + laws.pump_packing) if dp > 0.0 else 1.0
    eta = laws.pump_volumetric * laws.pump_mechanical * rising
    return eta * laws.motor_efficiency if drive == "motor" else eta


def suction_shortfall(
    laws: Laws, p_cond: float, p_liquid: float, v_liquid: float, static: float, gravity: float
) -> float:
    """Head [m] missing at the feed pump; ``p_liquid`` [Pa] is the vapour pressure of what it sucks."""
    return laws.required_head - ((p_cond - p_liquid) * v_liquid / gravity + static)


def drive_efficiency(laws: Laws, speed: float, load_speed: float) -> float:
    """Efficiency of the belt or gear between engine and load (any one unit of speed)."""
    return laws.drive_step ** (abs(math.log(speed / load_speed)) / math.log(4.0)) if laws.scaled else 1.0


def cooling_drop(laws: Laws, engine: Any, rise: float) -> float:
    """Pressure drop [Pa] of the cooling water that warms by ``rise`` [K] in passages made for 10 K."""
    if not laws.scaled:
        return engine.water_pressure_drop_bar * BAR
    low, high = laws.water_drop_limits
    return min(high, max(low, laws.water_drop * (laws.water_rise / max(rise, 1e-6)) ** 2))


def warm_capacity(laws: Laws, engine: Any, volumes: list[float]) -> float:
    """Heat capacity [J/K] warmed at the first demand hour; ``volumes`` [m3] swept by each stage."""
    if not laws.scaled:
        return engine.warm_up_kJ_per_K_per_stage * 1e3 * len(volumes)
    return sum(max(laws.warm_up_least, laws.warm_up * v / laws.warm_up_volume) for v in volumes)
