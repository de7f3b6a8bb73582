"""Exchangers of plain tubes: geometry as a builder knows it, and the films on both sides of the wall.

The working fluid flows inside the tubes. Outside flows water, in a jacket around each tube or in the shell of a small
bundle, along the tubes and against the fluid; or the tube is a coil in a fully mixed store and the water moves by
free convection. Coefficients and heat fluxes count on the outside surface.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from explore.fluids.interface import Array, Index
from explore.fluids.transport import BoundTransport, Transport, TransportStack, WaterTransport
from explore.plant.correlations import boiling, condensation
from explore.plant.correlations.single_phase import (
    annulus_nusselt,
    churchill_chu,
    tube_nusselt,
    wall_resistance,
)
from explore.plant.correlations.validity import Excess, outside, worst
from explore.plant.pump import GRAVITY

Kind = Literal["coil", "jacket", "bundle"]
Boiling = Literal["liu_winterton", "cooper", "gorenflo"]
Film = Callable[[Array], tuple[Array, Array]]

PITCH_RATIO = 1.4
"""Pitch over tube diameter of a bundle in triangles: makers take 1.25 to 1.5; common practice, no source."""
LEAST_FLOW = 1e-9
"""Flow [kg/s] below which films are those of still water: no number is divided by zero where nothing flows."""
LEAST_FLUX = 1e-3
"""Heat flux [W/m2] from which the wall is sought: films of boiling grow as a power of it and would stand still at
none."""

CONDUCTIVITIES = {
    "copper": 340.0,
    "aluminium": 200.0,
    "brass": 110.0,
    "steel": 50.0,
    "stainless_steel": 15.0,
}
"""Conductivity of tube materials [W/(m K)]: typical textbook values, copper as drawn with phosphorus."""


@dataclass(frozen=True)
class Tubes:
    """Tubes of one exchanger, SI.

    ``inside``, ``outside`` diameter [m]; ``jacket`` inside diameter [m] of the jacket or shell, 0 for a bundle whose shell
    follows from a pitch of 1.4 tube diameters; ``conductivity`` of the wall [W/(m K)]; ``count`` of tubes side by
    side, 0 for as many as the vapour needs; ``length`` of each [m] if they are at hand, else NaN.
    """

    kind: Kind
    inside: float
    outside: float
    jacket: float
    conductivity: float
    count: int = 0
    length: float = float("nan")

    @property
    def bore_area(self) -> float:
        """Cross section inside one tube [m2]."""
        return 0.25 * np.pi * self.inside**2

    @property
    def wall(self) -> float:
        """Resistance of the wall on its outside area [m2 K/W]."""
        return wall_resistance(self.inside, self.outside, self.conductivity)


@dataclass(frozen=True)
class Tubing:
    """All that sizing by tubes needs, SI.

    Tubes of boiler (stratified store), coil (fully mixed store) and condenser; ``films_factor`` [-] of their coefficients
    of heat transfer over those of the correlations; fouling [m2 K/W]; ``roughness`` [m];
    ``aimed_drop`` [-] of the pressure and ``aimed_water_drop`` [Pa] that set the number of tubes; ``heads`` velocity
    heads lost in bends and ends; ``largest_drop`` [-] of the pressure that may be
    lost in an exchanger, ``largest_water_drop`` [Pa]; ``references`` h0
    of Gorenflo [W/(m2 K)] and ``is_water`` by fluid of ``transport``; ``places`` there of the fluids of all designs.
    """

    boiler: Tubes
    coil: Tubes
    condenser: Tubes
    boiling: Boiling
    fouling_water: float
    fouling_fluid: float
    roughness: float
    aimed_drop: float
    aimed_water_drop: float
    heads: float
    largest_drop: float
    largest_water_drop: float
    transport: TransportStack
    references: Array
    is_water: Array
    places: Index
    films_factor: float = 1.0

    @property
    def chosen(self) -> bool:
        """Whether the number of tubes of any exchanger is left to the sizing."""
        return not (self.boiler.count and self.coil.count and self.condenser.count)

    def bind(self, fluids: Index) -> BoundTransport:
        """Return transport properties for designs of the catalogue's fluids numbered ``fluids``, pure ones only."""
        return self.transport.bind(self.places[fluids])


class Shell(NamedTuple):
    """Water's way outside the tubes: streams side by side, flow area of each [m2], hydraulic diameter [m], ratio."""

    streams: Array
    area: Array
    hydraulic: Array
    ratio: Array


def shell(tubes: Tubes, count: Array) -> Shell:
    """Return the water's way around ``count`` tubes in jackets or in one shell.

    The hydraulic diameter is four times the flow area over the wetted perimeter. A bundle counts as an annulus around
    each tube with the same hydraulic diameter.
    """
    d = tubes.outside
    if tubes.kind == "jacket":
        gap = np.full_like(count, tubes.jacket - d)
        return Shell(count, np.full_like(count, 0.25 * np.pi * (tubes.jacket**2 - d**2)), gap, d / (d + gap))
    if tubes.jacket:
        across = np.full_like(count, tubes.jacket)
    else:
        cell = 0.5 * np.sqrt(3.0) * (PITCH_RATIO * d) ** 2
        across = np.sqrt(count * cell * 4.0 / np.pi)
    area = 0.25 * np.pi * np.maximum(across**2 - count * d**2, 0.05 * across**2)
    hydraulic = 4.0 * area / (np.pi * (across + count * d))
    return Shell(np.ones_like(count), area, hydraulic, d / (d + hydraulic))


def heat_flux(difference: Array, outer: Film, resistance: float, inner: Film, steps: int) -> Array:
    """Heat flux q [W/m2] on the outside surface that a temperature difference [K] drives through film, wall, film.

    ``outer`` gives coefficient and exponent d ln h / d ln dT for the water's own difference dT, ``inner`` coefficient
    (on the outside surface) and exponent d ln h / d ln q for a flux; ``resistance`` [m2 K/W] of wall and fouling. The sum
    of the three differences is a convex rising function of ln dT, so Newton's steps close in from above.
    """
    u = np.log(0.5 * difference)
    target = np.log(difference)
    for _ in range(steps):
        water = np.exp(u)
        h, exponent = outer(water)
        q = np.maximum(h * water, LEAST_FLUX)
        inside, follows = inner(q)
        fluid = q / inside
        total = water + q * resistance + fluid
        slope = water + (1.0 + exponent) * (q * resistance + (1.0 - follows) * fluid)
        u = u - (np.log(total) - target) * total / slope
    water = np.exp(u)
    return np.maximum(np.asarray(outer(water)[0] * water), LEAST_FLUX)


def constant(coefficient: Array) -> Film:
    """Return a film whose coefficient [W/(m2 K)] depends on nothing."""
    zero = np.zeros_like(coefficient)
    return lambda _: (coefficient, zero)


def _stream(way: Shell, flow: Array, water: WaterTransport) -> tuple[Array, Array]:
    """Reynolds and Prandtl number [-] of water flowing along the tubes, ``flow`` [kg/s] in all."""
    mass_flux = np.maximum(flow, LEAST_FLOW) / (way.streams * way.area)
    return mass_flux * way.hydraulic / water.mu, water.cp * water.mu / water.k


def stream_film(way: Shell, flow: Array, water: WaterTransport, roughness: float) -> Film:
    """Film of water flowing along the tubes, ``flow`` [kg/s] in all."""
    nusselt = annulus_nusselt(*_stream(way, flow, water), way.ratio, roughness / way.hydraulic)
    return constant(nusselt * water.k / way.hydraulic)


def stream_excess(way: Shell, flow: Array, water: WaterTransport) -> Excess:
    """Excess of :func:`stream_film` at a ``flow`` [kg/s], (n,)."""
    reynolds, prandtl = _stream(way, flow, water)
    return outside("Gnielinski", Reynolds_number=reynolds, Prandtl_number=prandtl)


def still_film(tubes: Tubes, water: WaterTransport) -> Film:
    """Film of still water around a horizontal coil: free convection, neighbours' plumes left out."""
    prandtl = water.cp * water.mu / water.k
    per_kelvin = GRAVITY * water.beta * tubes.outside**3 * water.rho**2 * water.cp / (water.mu * water.k)

    def film(difference: Array) -> tuple[Array, Array]:
        nusselt, exponent = churchill_chu(per_kelvin * difference, prandtl)
        return nusselt * water.k / tubes.outside, exponent

    return film


def still_excess(tubes: Tubes, water: WaterTransport, difference: Array) -> Excess:
    """Excess of :func:`still_film` at the water's own temperature difference [K]."""
    per_kelvin = GRAVITY * water.beta * tubes.outside**3 * water.rho**2 * water.cp / (water.mu * water.k)
    return outside("Churchill-Chu", Rayleigh_number=per_kelvin * difference)


def one_phase_film(tubes: Tubes, mass_flux: Array, mu: Array, k: Array, cp: Array, roughness: float) -> Film:
    """Film of liquid or vapour inside the tubes, G [kg/(m2 s)], on the outside surface."""
    nusselt = tube_nusselt(mass_flux * tubes.inside / mu, cp * mu / k, roughness / tubes.inside)
    return constant(nusselt * k / tubes.outside)


def one_phase_excess(tubes: Tubes, mass_flux: Array, mu: Array, k: Array, cp: Array) -> Excess:
    """Excess of :func:`one_phase_film`, arguments and units as there [SI]."""
    return outside("Gnielinski", Reynolds_number=mass_flux * tubes.inside / mu, Prandtl_number=cp * mu / k)


def boiling_film(
    tubing: Tubing, tubes: Tubes, bound: BoundTransport, state: Transport, p: Array, G: Array, x: Array
) -> Film:
    """Film of boiling fluid inside the tubes at reduced pressure p [-], mass flux G [kg/(m2 s)] and quality x [-], (n,).

    Flux and coefficient belong to the outside surface.
    """
    spread = tubes.outside / tubes.inside
    mass = bound.molar_mass

    def film(flux: Array) -> tuple[Array, Array]:
        q = flux * spread
        if tubing.boiling == "cooper":
            h, exponent = boiling.cooper(q, p, mass)
        elif tubing.boiling == "gorenflo":
            h, exponent = boiling.pool(
                q, p, mass, tubing.references[bound.index], tubing.is_water[bound.index]
            )
        else:
            h, exponent = boiling.liu_winterton(q, x, G, tubes.inside, state, p, mass)
        return h / spread, exponent

    return film


def boiling_excess(
    tubing: Tubing, tubes: Tubes, bound: BoundTransport, p: Array, G: Array, flux: Array
) -> Excess:
    """Excess of the boiling correlation in use; ``flux`` [W/m2] on the outside surface, several places a design."""
    plain = outside("Cooper", reduced_pressure=p, molar_mass=bound.molar_mass)
    if tubing.boiling == "gorenflo":
        known = np.isfinite(tubing.references[bound.index])
        plain = {name: np.where(known, 0.0, excess) for name, excess in plain.items()}
        own = outside("Gorenflo", reduced_pressure=p)
        return plain | {name: np.where(known, excess, 0.0) for name, excess in own.items()}
    if tubing.boiling == "cooper":
        return plain
    q = flux * tubes.outside / tubes.inside
    flow = outside("Liu-Winterton", mass_flux=G, reduced_pressure=p, diameter=np.full_like(p, tubes.inside))
    ends = [outside("Liu-Winterton", heat_flux=edge(q, axis=0)) for edge in (np.min, np.max)]
    return plain | flow | worst(ends)


def condensing_film(tubes: Tubes, state: Transport, p: Array, G: Array, x: Array) -> Film:
    """Film of condensing fluid inside the tubes at reduced pressure p [-], mass flux G [kg/(m2 s)] and quality x [-], (n,).

    Flux and coefficient belong to the outside surface.
    """
    spread = tubes.outside / tubes.inside

    def film(flux: Array) -> tuple[Array, Array]:
        h, exponent = condensation.in_tube(flux * spread, x, G, tubes.inside, state, p)
        return h / spread, exponent

    return film


def condensing_excess(tubes: Tubes, state: Transport, p: Array, G: Array, x: Array, flux: Array) -> Excess:
    """Excess of shear and film, each where it governs at any of the places along the tube.

    Reduced pressure p [-], mass flux G [kg/(m2 s)], quality x [-] and outside heat ``flux`` [W/m2], of one shape.
    """
    d = tubes.inside
    _, exponent = condensation.in_tube(flux * tubes.outside / d, x, G, d, state, p)
    falls = exponent < 0.0
    sheared = outside(
        "Shah",
        mass_flux=G,
        reduced_pressure=p,
        Reynolds_number=G * d / state.mu_l,
        Prandtl_number=state.cp_l * state.mu_l / state.k_l,
        diameter=np.full_like(p, d),
    )
    found = {name: np.where(falls.all(axis=0), 0.0, excess) for name, excess in sheared.items()}
    fastest = np.max(np.where(falls, x * G * d / state.mu_v, 0.0), axis=0)
    return found | outside("Chato", vapour_Reynolds_number=fastest)
