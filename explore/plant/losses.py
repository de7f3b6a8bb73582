"""Losses of a stage that scale with its cylinders, its speed and its pressures.

Pure functions on arrays (n,), SI and kelvin, speeds in revolutions per second. Pressures and volumes follow the
stage: p1, v1 at its inlet, v1' behind the admission valve, p3, v3 at the receiver behind it. How far each law
is believed stands beside its coefficients (:mod:`explore.plant.laws`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from explore.fluids.interface import Array, Index
from explore.machine_code import called, loaded
from explore.plant import kernels
from explore.plant.laws import Laws

MOST_ADMISSION_LOSS = 0.5
"""Share of the inlet pressure that valves may take at most (model, section 3L): the law is one of small losses, and a
stage keeps an inlet."""
MOST_EXHAUST_LOSS = 1.0
"""Back pressure is at most twice the receiver's (model, section 3L): the law is one of small losses."""
ISENTROPIC_EXPONENT = 1.1
"""Of organic vapours near saturation, for the speed of sound in the port alone (model, section 3L); an assumption,
steam has 1.13-1.3."""
MACH_LIMIT = 0.5
"""Greatest Mach index of an inlet port (model, section 3L): above about half breathing falls off steeply, Taylor 1960
(M)."""
LEAST_CUT_OFF = 0.02
"""Laws divide by the cut-off; earlier than a fiftieth of the stroke no valve opens and shuts (model, section 3L)."""
ORIFICE = 0.63
"""Flow function of a choked orifice over sqrt(p1 v1): sqrt(k) (2/(k+1))^((k+1)/(2(k-1))) is 0.63 at k 1.1 (model,
section 3L)."""
CRITICAL_RATIO = 0.57
"""Pressure ratio at which that orifice chokes, (2/(k+1))^(k/(k-1)): 0.57 at k 1.15, 0.58 at 1.1 (model, section 3L)."""
LEAST_BORE = 0.1
"""Bore [m] up to which a careful hand holds one gap; above it grows with the root of the bore (model, section 3L,
assumption)."""
REFERENCE_BORE = 0.1
"""Bore [m] for which the friction's coefficients are stated (model, section 3L)."""
PISTON_FACES = 1.5
"""Wall at the dead centre over two plain faces, ports and passages counted (model, section 3L, f_p; assumption)."""
IRON_EFFUSIVITY = 13_000.0
"""Root of k rho c of cast iron [W s^0.5/(m2 K)]: 50 W/(m K), 7200 kg/m3 and 480 J/(kg K) give 13,100 (model, section
3L)."""
SWING_SOFTENING = 8.0
"""Swing of the wall [K] at which half of it condenses vapour (model, section 3L): it rounds the kink at no swing, and
C_w was fitted on steam with it."""
MOST_WALL_SHARE = 0.95
"""Walls leave at least a twentieth of the work, so that sweeps can divide by what is kept (model, section 3L)."""
MEASURED_PRESSURE = 1.5e5
"""Inlet pressure [Pa] below which two measured machines did 1.5 to 5 times better than the law of walls (model,
section 3L)."""
CARDLESS_CONDUCTIVITY = 0.10
"""Of saturated liquid at 50 degC [W/(m K)] where a card has none: the middle of organic fluids (model, section 3L,
assumption)."""
CARDLESS_VISCOSITY = 9e-6
"""Of saturated vapour at 80 degC [Pa s] where a card has none: the middle of organic fluids (model, section 3L,
assumption)."""


@dataclass(frozen=True)
class StageLosses:
    """Losses of one stage of every design, each (n,).

    ``admission_pressure_loss``, ``exhaust_pressure_loss``, ``clearance_fraction``, ``leakage_fraction``,
    ``wall_share`` chi [-]; ``friction_mean_pressure`` [Pa].
    """

    admission_pressure_loss: Array
    exhaust_pressure_loss: Array
    clearance_fraction: Array
    leakage_fraction: Array
    wall_share: Array
    friction_mean_pressure: Array

    @property
    def kept(self) -> Array:
        """Share of the ideal stage left by leak and walls, (1 - lambda)(1 - chi)."""
        return np.asarray((1.0 - self.leakage_fraction) * (1.0 - self.wall_share))

    def leaking(self, fraction: Array) -> StageLosses:
        """Return the same with another leakage, (n,)."""
        return StageLosses(
            self.admission_pressure_loss,
            self.exhaust_pressure_loss,
            self.clearance_fraction,
            fraction,
            self.wall_share,
            self.friction_mean_pressure,
        )

    def take(self, index: Index) -> StageLosses:
        """Return those of the designs ``index``."""
        return StageLosses(
            self.admission_pressure_loss[index],
            self.exhaust_pressure_loss[index],
            self.clearance_fraction[index],
            self.leakage_fraction[index],
            self.wall_share[index],
            self.friction_mean_pressure[index],
        )


def first_losses(laws: Laws, like: Array) -> StageLosses:
    """Losses from which sweeps start: valves of a standing engine, its clearance, nothing else; ``like`` (n,)."""
    none = np.zeros_like(like)
    still = np.full_like(like, laws.still_loss)
    return StageLosses(still, still, np.full_like(like, laws.clearance), none, none, none)


class Films(NamedTuple):
    """Constants of a fluid for the laws, each (n,).

    ``conductivity`` [W/(m K)] of saturated liquid at 50 degC, ``viscosity`` [Pa s] of saturated vapour at 80 degC.
    """

    conductivity: Array
    viscosity: Array

    def take(self, index: Index) -> Films:
        """Return those of the designs ``index``."""
        return Films(self.conductivity[index], self.viscosity[index])


def cardless_films(like: Array) -> Films:
    """Constants of a fluid whose card has none (assumptions), for arrays like ``like``."""
    return Films(np.full_like(like, CARDLESS_CONDUCTIVITY), np.full_like(like, CARDLESS_VISCOSITY))


class Wall(NamedTuple):
    """Saturation at a stage's inlet pressure, each (n,): dew temperature [K], h_l, h_v [J/kg], v_l, v_v [m3/kg]."""

    dew_temperature: Array
    h_liquid: Array
    h_vapour: Array
    v_liquid: Array
    v_vapour: Array


def cut_off(clearance: Array | float, volume_ratio: Array) -> Array:
    """Cut-off eps = (1 + c)/r - c as a share of the stroke [-], (n,), held within 0.02 to 1 for the laws."""
    return np.minimum(np.maximum((1.0 + clearance) / volume_ratio - clearance, LEAST_CUT_OFF), 1.0)


def crank_angle(eps: Array) -> Array:
    """Crank angle phi [rad] from dead centre to the cut-off ``eps`` [-] of a sinusoidal piston."""
    return np.asarray(np.arccos(1.0 - 2.0 * eps))


def admission_loss(laws: Laws, speed: Array, pressure: Array, volume: Array) -> Array:
    """Share d_in of the pressure lost in admission: d_0 + K (U/s_in)^2 / (p1 v1), within 0-0.5.

    ``speed`` U mean piston speed [m/s], ``pressure`` p1 [Pa], ``volume`` v1 [m3/kg].
    Source: form of the port Mach index, C. F. Taylor, The Internal-Combustion Engine in Theory and Practice, 1960
    (M); coefficients at :class:`Laws`.
    """
    lost = laws.still_loss + laws.port_factor * (speed / laws.inlet_port) ** 2 / (pressure * volume)
    return np.minimum(np.maximum(lost, 0.0), MOST_ADMISSION_LOSS)


def exhaust_loss(laws: Laws, speed: Array, pressure: Array, volume: Array) -> Array:
    """Share d_out [-] by which the back pressure exceeds the receiver's: d_0 + K (U/s_out)^2 / (p3 v3), within 0-1.

    Mean piston ``speed`` U [m/s], ``pressure`` p3 [Pa], ``volume`` v3 [m3/kg], (n,). Source: (model, section 3L).
    """
    lost = laws.still_loss + laws.port_factor * (speed / laws.outlet_port) ** 2 / (pressure * volume)
    return np.minimum(np.maximum(lost, 0.0), MOST_EXHAUST_LOSS)


def port_violation(laws: Laws, speed: Array, pressure: Array, volume: Array) -> Array:
    """Greatest Mach index [-] of the admission port less its limit: (pi/2) U / (s_in a) - 0.5, a = sqrt(1.1 p1 v1).

    Mean piston ``speed`` U [m/s], ``pressure`` p1 [Pa], ``volume`` v1 [m3/kg], (n,).

    Source: port Mach index, C. F. Taylor, The Internal-Combustion Engine in Theory and Practice, 1960 (M).
    """
    sound = np.sqrt(ISENTROPIC_EXPONENT * pressure * volume)
    return np.asarray(0.5 * np.pi * speed / (laws.inlet_port * sound) - MACH_LIMIT)


def leak_area_rate(
    laws: Laws, bore: Array, inlet: Array, outlet: Array, volume: Array, viscosity: Array
) -> Array:
    """Leak past a piston j [m2/s], per circumference and as volume at the inlet: slit and orifice in series.

    Slit h^3 p1 (1 - (p3/p1)^2) / (24 mu l); orifice h Psi sqrt(p1 v1) with Psi = 0.63 sqrt(1 - ((p3/p1 - 0.57)/0.43)^2).
    ``bore`` D [m], ``inlet`` p1 and ``outlet`` p3 [Pa], ``volume`` v1 [m3/kg], ``viscosity`` mu [Pa s].
    Nothing where p3 >= p1.
    Source: textbook forms of a gas in a laminar slit and in an orifice; that a leak does not ask how fast the piston
    slides and grows with the pressure difference: Steam Engine Research Committee, IMechE 1905 (V).
    """
    h = laws.gap * np.sqrt(np.maximum(bore, LEAST_BORE) / LEAST_BORE)
    ratio = np.minimum(outlet / inlet, 1.0)
    slit = h * h * h * inlet * (1.0 - ratio**2) / (24.0 * viscosity * laws.land)
    beyond = np.maximum(0.0, (ratio - CRITICAL_RATIO) / (1.0 - CRITICAL_RATIO))
    orifice = h * ORIFICE * np.sqrt(1.0 - np.minimum(beyond, 1.0) ** 2) * np.sqrt(inlet * volume)
    both = slit + orifice
    return np.asarray(slit * orifice / np.where(both > 0.0, both, 1.0))


def leakage(laws: Laws, leak: Array, bore: Array, speed: Array, eps: Array) -> Array:
    """Share lambda = x/(1 + x) of the flow that leaks, x = 8 j / (D U eps); variant `mild` sqrt(2/eps - 1) for 1/eps.

    ``leak`` j [m2/s], ``bore`` D [m], mean piston ``speed`` U [m/s], cut-off ``eps`` [-], (n,).

    Source: (model, section 3L), fitted on measured machines; marks at :class:`Laws`.
    """
    rise = np.sqrt(2.0 / eps - 1.0) if laws.leak == "mild" else 1.0 / eps
    x = 8.0 * leak * rise / (bore * speed)
    return np.asarray(x / (1.0 + x))


def leaked(
    laws: Laws,
    bore: Array,
    speed: Array,
    volume_ratio: Array,
    inlet: Array,
    outlet: Array,
    volume: Array,
    viscosity: Array,
) -> Array:
    """Share of the flow that leaks past a piston: :func:`leakage` of :func:`leak_area_rate` at :func:`cut_off`.

    ``volume_ratio`` r built in [-]; the rest as in those three, all (n,).
    """
    given = (bore, speed, volume_ratio, inlet, outlet, volume, viscosity)
    compiled = loaded(kernels, bore.size)
    if compiled is not None and laws.serves(bore.size) and len({x.shape for x in given}) == 1:
        share = np.empty_like(bore)
        called(
            compiled.leaked,
            laws.table, laws.leak == "mild", LEAST_BORE, CRITICAL_RATIO, ORIFICE, LEAST_CUT_OFF, *given, share,
        )  # fmt: skip
        return share
    leak = leak_area_rate(laws, bore, inlet, outlet, volume, viscosity)
    return leakage(laws, leak, bore, speed, cut_off(laws.clearance, volume_ratio))


def wall_area(bore: Array, stroke: Array, eps: Array) -> Array:
    """Wall per volume admitted, A/V = 2 f_p/(S eps) + 4/D [1/m], f_p = 1.5 for faces with passages."""
    return 2.0 * PISTON_FACES / (stroke * eps) + 4.0 / bore


def condensed(
    swing: Array, area: Array, wall: Wall, latent: Array, conductivity: Array, time: Array
) -> Array:
    """Vapour condensed over vapour admitted, B [-], by walls that swing by ``swing`` dT [K] during admission.

    B = (A/V) v_v / (L (1/q_f + 1/q_w)): a growing film of liquid q_f = sqrt(2 k_l rho_l L dT t) (Stefan) in series with
    iron q_w = (2/sqrt(pi)) 13,000 dT sqrt(t). ``area`` A/V [1/m], ``latent`` L [J/kg], ``conductivity`` k_l [W/(m K)],
    ``time`` t [s]. Zero where dT is.
    Source: growing film after Stefan and a wall as a half-space, textbook forms (M); how much of it counts, C_w, is
    fitted at :class:`Laws`.
    """
    film = np.sqrt(2.0 * conductivity / wall.v_liquid * latent * swing * time)
    iron = 2.0 / np.sqrt(np.pi) * IRON_EFFUSIVITY * swing * np.sqrt(time)
    both = film + iron
    heat = film * iron / np.where(both > 0.0, both, 1.0)
    return np.asarray(area * wall.v_vapour / latent * heat)


class Swept(NamedTuple):
    """What the walls see of their cylinder: ``bore`` D, ``stroke`` S [m], ``frequency`` N [rev/s], cut-off ``eps`` [-]."""

    bore: Array
    stroke: Array
    frequency: Array
    eps: Array


def wall_share(
    laws: Laws,
    swept: Swept,
    inlet: tuple[Array, Array],
    coldest: Array,
    wall: Wall,
    conductivity: Array,
) -> Array:
    """Share chi = x/(1 + x) of the work lost to walls, at most 0.95.

    x = max(C_w B - 2.4 max(0, h1 - h_v)/L, 0.15 C_w B_0) + x_d; variant `root`: y = 0.29 sqrt(B_0) in both places.
    B with the swing g^2/(g + 8 K), B_0 with g = max(0, (T_dew - T*)/2). ``inlet`` = (h1 [J/kg], T1 [K]), ``coldest`` T* [K]
    after loss-free expansion, ``wall`` saturation at p1, ``conductivity`` k_l.
    Source: (model, section 3L): a law of this project, fitted on steam engines; superheat after Ripper, Proc. ICE 128
    (1897) (M).
    """
    enthalpy, temperature = inlet
    bore, stroke, frequency, eps = swept
    phi = crank_angle(eps)
    area = wall_area(bore, stroke, eps)
    latent = wall.h_vapour - wall.h_liquid
    time = phi / (2.0 * np.pi * frequency)
    g = np.maximum(0.0, 0.5 * (wall.dew_temperature - coldest))
    full = condensed(g, area, wall, latent, conductivity, time)
    if laws.walls == "root":
        wet = least = laws.root_wall * np.sqrt(full)
    else:
        swing = g**2 / (g + SWING_SOFTENING)
        wet = laws.wall * condensed(swing, area, wall, latent, conductivity, time)
        least = laws.wall * full
    saved = laws.superheat * np.maximum(0.0, enthalpy - wall.h_vapour) / latent
    x = np.maximum(wet - saved, laws.wall_floor * least)
    x = x + dry_walls(laws, area, stroke, phi, temperature, coldest)
    return np.minimum(x / (1.0 + x), MOST_WALL_SHARE)


def dry_walls(
    laws: Laws, area: Array, stroke: Array, phi: Array, temperature: Array, coldest: Array
) -> Array:
    """Dry part of the walls' loss x_d = 0.02 (A/V) S phi/(4 pi) max(0, T1 - T*)/T1 [-].

    Source: (model, section 3L), an assumption.
    """
    drop = np.maximum(0.0, temperature - coldest) / temperature
    return np.asarray(laws.dry * area * stroke * phi / (4.0 * np.pi) * drop)


def friction(laws: Laws, bore: Array, speed: Array, indicated: Array) -> Array:
    """Mean pressure of friction [Pa]: (a + b max(0, p_i)) sqrt(0.1/D) + c_f U; ``indicated`` p_i [Pa].

    Source: form of Chen and Flynn, SAE 650733 (1965) (M); root of the bore an assumption.
    """
    rubbing = laws.friction + laws.load_friction * np.maximum(0.0, indicated)
    return np.asarray(rubbing * np.sqrt(REFERENCE_BORE / bore) + laws.speed_friction * speed)


class Seen(NamedTuple):
    """What the laws see of a stage in its present state, each (n,).

    Before it p1 [Pa], v1 [m3/kg], h1 [J/kg] and T1 [K]; behind it p3 and v3; ``coldest`` T* [K] after loss-free expansion;
    ``indicated_work`` [J/kg] over ``ideal_volume`` [m3/kg] is p_i.
    """

    pressure: Array
    volume: Array
    enthalpy: Array
    temperature: Array
    outlet_pressure: Array
    outlet_volume: Array
    coldest: Array
    indicated_work: Array
    ideal_volume: Array


def losses(
    laws: Laws, swept: Swept, speed: Array, volume_ratio: Array, seen: Seen, wall: Wall, films: Films
) -> StageLosses:
    """All losses of a stage, each (n,), by the laws above, at which units and sources stand.

    ``swept`` of its cylinder with the cut-off of the built-in ``volume_ratio`` r [-], ``speed`` U [m/s].
    """
    p1, v1, h1, T1, p3, v3, coldest, work, volume = seen
    leak = leaked(laws, swept.bore, speed, volume_ratio, p1, p3, v1, films.viscosity)
    phi = crank_angle(swept.eps)
    given = (
        swept.bore,
        swept.stroke,
        swept.frequency,
        speed,
        swept.eps,
        phi,
        *seen,
        *wall,
        films.conductivity,
    )
    compiled = loaded(kernels, p1.size)
    if compiled is not None and laws.serves(p1.size) and len({x.shape for x in given}) == 1:
        found = np.empty((5, len(p1)))
        called(
            compiled.losses,
            laws.table, laws.walls == "root", MOST_ADMISSION_LOSS, MOST_EXHAUST_LOSS, SWING_SOFTENING, PISTON_FACES,
            IRON_EFFUSIVITY, MOST_WALL_SHARE, REFERENCE_BORE, *given, found,
        )  # fmt: skip
        into, out, clearance, walls, rubbed = found
        return StageLosses(into, out, clearance, leak, walls, rubbed)
    return StageLosses(
        admission_loss(laws, speed, p1, v1),
        exhaust_loss(laws, speed, p3, v3),
        np.full_like(p1, laws.clearance),
        leak,
        wall_share(laws, swept, (h1, T1), coldest, wall, films.conductivity),
        friction(laws, swept.bore, speed, work / volume),
    )


def outside_measured(pressure: Array) -> Array:
    """Whether stage 1 at the rated point is fed below 1.5 bar, where the two machines known did far better than walls say.

    ``pressure`` p1 [Pa], (n,); booleans (n,).
    """
    return np.asarray(pressure < MEASURED_PRESSURE)
