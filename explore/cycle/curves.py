"""A discharge described by curves over the store's temperature, and the work it gives per kg of hot water."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from explore.cycle.built import Governed, MixedEngine
from explore.fluids.interface import Array, Index
from explore.fluids.water import Water
from explore.plant.circuit import Cycle

NODES, WEIGHTS = np.polynomial.legendre.leggauss(8)
"""Places in a stretch that nothing bends: eight leave its work good to a thousandth."""
BELOW = np.polynomial.legendre.leggauss(3)[0]
"""Nodes between the floor and the sizing point, where no governor acts: the engine's curves run nearly straight."""
ABOVE: Array = -np.real(np.polynomial.legendre.legroots([0, 0, 0, 0, 1, 1]))[::-1]
"""Gauss-Radau nodes between the sizing point and the full store, which is one of them: it is known anyway. The sizing
point is none, for there a cut-off that shortens bends the curves like a root."""
LEAST_STRETCH = 1e-3
"""Share of the discharge that each stretch keeps, for designs whose sizing point lies outside it."""
LACK_J_PER_KG_K = 100.0
"""Work taken off for each kelvin that a held store falls below the floor: a slope for the search to climb, no physics."""


class Curve(NamedTuple):
    """A quantity over the temperature of the store: polynomials on stretches between ``edges`` [K], m + 1 of them (n,).

    ``series``: Legendre coefficients (n, k) of each of the m stretches.
    """

    edges: list[Array]
    series: list[Array]

    def at(self, T: Array) -> Array:
        """Value at temperatures [K], (n, m); beyond the ends the value there."""
        value: Array = np.zeros_like(T)
        for j, (low, high, own) in enumerate(zip(self.edges[:-1], self.edges[1:], self.series, strict=True)):
            place = np.clip(2.0 * (T - low[:, None]) / (high - low)[:, None] - 1.0, -1.0, 1.0)
            here = np.asarray(
                np.polynomial.legendre.legval(place, own.T[:, :, None], tensor=False), dtype=float
            )
            value = here if j == 0 else np.where(low[:, None] < T, here, value)
        return value


class Curves(NamedTuple):
    """A discharge: net work per heat [-], heat rate over the power asked [-], cooling water per heat [kg/J].

    The heat rate stays where power and efficiency vanish together.
    """

    efficiency: Curve
    heating: Curve
    cooling: Curve

    def at_top(self) -> Array:
        """Power of the full store over that asked, (n,)."""
        top = self.efficiency.edges[-1][:, None]
        return np.maximum(self.efficiency.at(top), 0.0)[:, 0] * np.maximum(self.heating.at(top), 0.0)[:, 0]


def _values(cycle: Cycle, flow: Array, power: Array) -> Array:
    """The quantities of :class:`Curves` at states of the plant, (3, n)."""
    return np.stack(
        [cycle.net_work / cycle.heat, cycle.heat * flow / power, cycle.condenser.water_flow / cycle.heat]
    )


def _nodes(low: Array, high: Array, places: Array) -> Array:
    """Temperatures [K] (n, k) at ``places`` of -1 to 1 between two edges."""
    return np.asarray(low[:, None] + 0.5 * (places + 1.0) * (high - low)[:, None])


def _curves(edges: list[Array], values: list[Array], nodes: list[Array], works: Index) -> Curves:
    """Curves through ``values`` (3, designs of ``works``, k) at the ``nodes`` of each stretch; zero for the others."""
    transforms = [np.linalg.inv(np.polynomial.legendre.legvander(x, len(x) - 1)).T for x in nodes]
    found = []
    for quantity in range(3):
        series = [np.zeros((len(edges[0]), len(x))) for x in nodes]
        for own, value, transform in zip(series, values, transforms, strict=True):
            own[works] = value[quantity] @ transform
        found.append(Curve(edges, series))
    return Curves(*found)


def _at_nodes(engine: MixedEngine, T: Array, works: Index) -> Array:
    """Quantities of :class:`Curves` with nothing governed, (3, designs, k), at T [K] (designs ``works``, k)."""
    part = engine.take(np.repeat(works, T.shape[1]))
    assert part.built is not None
    cycle = part.at(T.ravel())
    values = _values(cycle, part.built.rate * cycle.flow_ratio, part.built.frame.power)
    return values.reshape(3, *T.shape)


def ungoverned_curves(engine: MixedEngine, floor: Array, top: Array, works: Index) -> Curves:
    """One stretch from floor to full, for an engine whose speed alone holds its power."""
    values = _at_nodes(engine, _nodes(floor, top, NODES)[works], works)
    return _curves([floor, top], [values], [NODES], works)


def governed_curves(
    engine: MixedEngine,
    floor: Array,
    sizing: Array,
    top: Array,
    full: Governed,
    power_may_rise: float,
    works: Index,
) -> Curves:
    """Two stretches: the governor bends every curve at the sizing point, where it begins to act.

    ``full`` is the cycle of the full store.
    """
    built = engine.built
    assert built is not None
    span = top - floor
    edge = np.clip(sizing, floor + LEAST_STRETCH * span, top - LEAST_STRETCH * span)
    below = _at_nodes(engine, _nodes(floor, edge, BELOW)[works], works)
    T = _nodes(edge, top, ABOVE[:-1])[works]
    part = engine.take(np.repeat(works, T.shape[1]))
    assert part.built is not None
    held = part.governed(T.ravel(), power_may_rise)
    inner = _values(held.cycle, held.flow, part.built.frame.power).reshape(3, *T.shape)
    last = _values(full.cycle, full.flow, built.frame.power)[:, works, None]
    above = np.concatenate([inner, last], axis=2)
    return _curves([floor, edge, top], [below, above], [BELOW, ABOVE], works)


def work_per_kg(water: Water, efficiency: Curve, floor: Array, held: Array) -> Array:
    """Integral of c_w w_net/q dT from the floor to the held temperature [J/kg], Gauss-Legendre on each stretch.

    A store that falls below the floor while it is held gives a negative result that grows with the lack.
    """
    work = np.zeros_like(floor)
    for low, high in zip(efficiency.edges[:-1], efficiency.edges[1:], strict=True):
        half = 0.5 * np.maximum(np.minimum(held, high) - low, 0.0)
        T = low[:, None] + (NODES + 1.0) * half[:, None]
        work = work + half * np.sum(WEIGHTS * water.heat_capacity(T) * efficiency.at(T), axis=1)
    lack = 0.5 * (held - floor)
    return np.where(lack > 0.0, work, lack * LACK_J_PER_KG_K)
