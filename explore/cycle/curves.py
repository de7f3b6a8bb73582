"""A discharge described by curves over the store's temperature, and the work it gives per kg of hot water."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from explore.cycle.built import Governed, MixedEngine
from explore.fluids.interface import Array, Index
from explore.fluids.water import Water
from explore.machine_code import called, loaded
from explore.plant import kernels
from explore.plant.circuit import Cycle
from explore.plant.governor import GOVERNORS


def _radau(count: int) -> Array:
    """Gauss-Radau nodes of a stretch, its upper end one of them."""
    return np.asarray(-np.real(np.polynomial.legendre.legroots([0.0] * (count - 1) + [1.0, 1.0]))[::-1])


Flags = NDArray[np.bool_]
NODES, WEIGHTS = np.polynomial.legendre.leggauss(8)
"""Places in a stretch that nothing bends: eight leave its work good to a thousandth."""
BELOW = np.polynomial.legendre.leggauss(4)[0]
"""Nodes between the floor and the sizing point, where no governor acts: the engine's curves run nearly straight. Of three
the share served of stores that stand long near the floor was off by 0.5 %; six give no more."""
ABOVE = _radau(6)
"""Between the sizing point and the full store, which is one of them: it is known anyway. The sizing point is none, for a
cut-off that shortens bends the curves there like a root."""
RISING = _radau(4)
"""Between the sizing point and the temperature from which the load holds a free engine, which is known too."""
HELD = np.array([-1.0, -np.sqrt(0.2), np.sqrt(0.2), 1.0])
"""Gauss-Lobatto nodes from there to the full store: both ends are known. With :data:`RISING` these are as many new nodes
as :data:`ABOVE` has."""
LEAST_STRETCH = 1e-3
"""Share of the discharge that each stretch keeps, for designs whose sizing point lies outside it."""
LEAST_WIDTH_K = 1e-9
"""A stretch that a design does not have is of no width; nothing is divided by it."""
STEADY = 1e-3
"""A governor that holds the power asked for so closely at every node holds it between them: it is there for that."""
LACK_J_PER_KG_K = 100.0
"""Work taken off for each kelvin that a held store falls below the floor: a slope for the search to climb, no physics."""


class Curve(NamedTuple):
    """A quantity over the temperature of the store: polynomials on stretches between ``edges`` [K], m + 1 of them (n,).

    ``series``: Legendre coefficients (n, k) of each of the m stretches. ``rooted`` (n,): where the second stretch is a
    polynomial in the root of the distance from its lower edge.
    """

    edges: list[Array]
    series: list[Array]
    rooted: Flags

    def stretches(self) -> Iterator[tuple[Array, Array, Array, Flags]]:
        """Each stretch: its edges [K], its coefficients, and where it grows like a root."""
        for j, (low, high, own) in enumerate(zip(self.edges[:-1], self.edges[1:], self.series, strict=True)):
            yield low, high, own, self.rooted if j == 1 else np.zeros_like(self.rooted)

    def at(self, T: Array) -> Array:
        """Value at temperatures [K], (n, m); beyond the ends the value there."""
        compiled = loaded(kernels, len(T))
        if compiled is not None:
            terms = np.array([own.shape[1] for own in self.series])
            series = np.zeros((len(terms), len(T), terms.max()))
            for whole, own in zip(series, self.series, strict=True):
                whole[:, : own.shape[1]] = own
            found = np.empty_like(T)
            called(compiled.curve, T, np.array(self.edges), series, terms, self.rooted, LEAST_WIDTH_K, found)
            return found
        value: Array = np.zeros_like(T)
        for j, (low, high, own, rooted) in enumerate(self.stretches()):
            share = np.clip((T - low[:, None]) / np.maximum(high - low, LEAST_WIDTH_K)[:, None], 0.0, 1.0)
            place = 2.0 * np.where(rooted[:, None], np.sqrt(share), share) - 1.0
            here = np.asarray(
                np.polynomial.legendre.legval(place, own.T[:, :, None], tensor=False), dtype=float
            )
            value = here if j == 0 else np.where(low[:, None] < T, here, value)
        return value


class Curves(NamedTuple):
    """A discharge: net work per heat [-], heat rate over the power asked [-], cooling water per heat [kg/J].

    The heat rate stays where power and efficiency vanish together. ``steady`` [K], (n,): the store's temperature from
    which on a governor holds the power asked for; infinite where none does.
    """

    efficiency: Curve
    heating: Curve
    cooling: Curve
    steady: Array

    def power_at(self, T: Array, efficiency: Array | None = None) -> Array:
        """Power over that asked at temperatures [K], (n, m), where the ``efficiency``, not negative, may be known."""
        known = np.maximum(self.efficiency.at(T), 0.0) if efficiency is None else efficiency
        found = known * np.maximum(self.heating.at(T), 0.0)
        return np.where(self.steady[:, None] <= T, 1.0, found)

    def at_top(self) -> Array:
        """Power of the full store over that asked, (n,)."""
        return np.asarray(self.power_at(self.efficiency.edges[-1][:, None])[:, 0])


def _values(cycle: Cycle, flow: Array, power: Array) -> Array:
    """The quantities of :class:`Curves` at states of the plant, (3, n)."""
    return np.stack(
        [cycle.net_work / cycle.heat, cycle.heat * flow / power, cycle.condenser.water_flow / cycle.heat]
    )


def _nodes(low: Array, high: Array, places: Array) -> Array:
    """Temperatures [K] (n, k) at ``places`` of -1 to 1 between two edges."""
    return np.asarray(low[:, None] + 0.5 * (places + 1.0) * (high - low)[:, None])


def _series(values: Array, places: Array, width: int) -> Array:
    """Legendre coefficients (3, n, ``width``) of the polynomials through ``values`` (3, n, k) at k ``places``."""
    k = len(places)
    transform = np.linalg.inv(np.polynomial.legendre.legvander(places, k - 1)).T
    found = np.zeros((*values.shape[:2], width))
    found[:, :, :k] = values @ transform
    return found


def _curves(edges: list[Array], series: list[Array], works: Index, rooted: Flags, steady: Array) -> Curves:
    """Curves with the ``series`` (3, designs of ``works``, k) of each stretch; zero for the others."""
    found = []
    for quantity in range(3):
        whole = [np.zeros((len(edges[0]), own.shape[2])) for own in series]
        for target, own in zip(whole, series, strict=True):
            target[works] = own[quantity]
        found.append(Curve(edges, whole, rooted))
    efficiency, heating, cooling = found
    return Curves(efficiency, heating, cooling, steady)


def _at_nodes(engine: MixedEngine, T: Array, works: Index) -> Array:
    """Quantities of :class:`Curves` with nothing governed, (3, designs, k), at T [K] (designs ``works``, k)."""
    part = engine.take(np.repeat(works, T.shape[1]))
    assert part.built is not None
    cycle = part.at(T.ravel())
    values = _values(cycle, part.built.rate * cycle.flow_ratio, part.built.frame.power)
    return values.reshape(3, *T.shape)


def ungoverned_curves(engine: MixedEngine, floor: Array, top: Array, works: Index) -> Curves:
    """One stretch from ``floor`` to ``top`` [K], (n,), for an engine whose speed alone holds its power."""
    values = _at_nodes(engine, _nodes(floor, top, NODES)[works], works)
    never = np.full(len(top), np.inf)
    return _curves([floor, top], [_series(values, NODES, len(NODES))], works, np.zeros(len(top), bool), never)


class Held(NamedTuple):
    """Free engines ``rows`` and the store ``temperature`` [K] from which on their load holds them."""

    rows: Index
    temperature: Array


class States(NamedTuple):
    """States under the governor.

    That of the ``full`` store; of free engines where their load begins to hold them, as :class:`Held` names them; and in
    the middle of the discharge those of engines whose speed falls.
    """

    full: Governed
    held: Governed
    turning: Governed


def governed_states(
    engine: MixedEngine,
    top: Array,
    middle: Array,
    limited: Held,
    T: Array,
    works: Index,
    power_may_rise: float,
) -> tuple[States, Array]:
    """All states that a discharge is described by, found at once: a governor's search takes as long for few designs.

    ``top`` and ``middle`` [K] of the discharge, (n,); T [K] (designs ``works``, k). Also returns the quantities of
    :class:`Curves` at T, (3, designs, k).
    """
    falling = falling_speed(engine)
    rows = [np.arange(len(top)), limited.rows, falling, np.repeat(works, T.shape[1])]
    part = engine.take(np.concatenate(rows))
    assert part.built is not None
    temperatures = np.concatenate([top, limited.temperature, middle[falling], T.ravel()])
    found = part.governed(temperatures, power_may_rise)
    ends = np.cumsum([0, *map(len, rows)])
    states = [found.take(np.arange(first, last)) for first, last in pairwise(ends[:4])]
    values = _values(found.cycle, found.flow, part.built.frame.power)[:, ends[3] :]
    return States(*states), values.reshape(3, *T.shape)


def falling_speed(engine: MixedEngine) -> Index:
    """Designs whose governor lets the speed fall."""
    assert engine.built is not None
    return np.flatnonzero(engine.built.governing == GOVERNORS.index("speed"))


def governed_curves(
    engine: MixedEngine,
    ends: tuple[Array, Array, Array],
    middle: Array,
    limited: Held,
    power_may_rise: float,
    works: Index,
) -> tuple[Curves, States]:
    """Stretches on both sides of where the governor bends every curve: the sizing point, and where a load holds it.

    ``ends``: temperatures [K] of floor, sizing point and full store; ``middle`` [K] of the discharge. Also returns the
    states that are more than a place on a curve.
    """
    built = engine.built
    assert built is not None
    floor, sizing, top = ends
    span = top - floor
    edge = np.clip(sizing, floor + LEAST_STRETCH * span, top - LEAST_STRETCH * span)
    below = _at_nodes(engine, _nodes(floor, edge, BELOW)[works], works)
    rooted = built.governing == GOVERNORS.index("cut_off")
    bend = top.copy()
    bend[limited.rows] = limited.temperature
    bends = (bend > edge + LEAST_STRETCH * span) & (bend < top - LEAST_STRETCH * span)
    bend = np.where(bends, bend, top)
    share = 0.5 * (ABOVE[:-1] + 1.0)
    plain = edge[:, None] + np.where(rooted[:, None], share**2, share) * (top - edge)[:, None]
    parted = np.concatenate([_nodes(edge, bend, RISING[:-1]), _nodes(bend, top, HELD[1:-1])], axis=1)
    T = np.where(bends[:, None], parted, plain)[works]
    states, inner = governed_states(engine, top, middle, limited, T, works, power_may_rise)
    last = _values(states.full.cycle, states.full.flow, built.frame.power)
    bent = np.zeros_like(last)
    bent[:, limited.rows] = _values(states.held.cycle, states.held.flow, built.frame.power[limited.rows])
    last, bent = last[:, works, None], bent[:, works, None]
    steady = np.full(len(top), np.inf)
    power = np.concatenate([inner[0] * inner[1], last[0] * last[1]], axis=1)
    holds = np.all(np.abs(power - 1.0) < STEADY, axis=1) & (built.governing[works] != GOVERNORS.index("free"))
    steady[works[holds]] = edge[works[holds]]
    rising = len(RISING) - 1
    whole = _series(np.concatenate([inner, last], axis=2), ABOVE, len(ABOVE))
    first = _series(np.concatenate([inner[:, :, :rising], bent], axis=2), RISING, len(ABOVE))
    second = _series(np.concatenate([bent, inner[:, :, rising:], last], axis=2), HELD, len(HELD))
    second[:, ~bends[works]] = 0.0
    second[:, ~bends[works], 0] = last[:, ~bends[works], 0]
    above = np.where(bends[works, None], first, whole)
    curves = _curves(
        [floor, edge, bend, top], [_series(below, BELOW, len(BELOW)), above, second], works, rooted, steady
    )
    return curves, states


def work_per_kg(water: Water, efficiency: Curve, floor: Array, held: Array) -> Array:
    """Integral of c_w w_net/q dT from the floor to the held temperature [J/kg], Gauss-Legendre on each stretch.

    A store that falls below the floor while it is held gives a negative result that grows with the lack.
    """
    work = np.zeros_like(floor)
    share = 0.5 * (NODES + 1.0)
    for low, high, _, rooted in efficiency.stretches():
        root = rooted[:, None]
        width = np.maximum(np.minimum(held, high) - low, 0.0)
        T = low[:, None] + np.where(root, share**2, share) * width[:, None]
        weights = 0.5 * WEIGHTS * np.where(root, 2.0 * share, 1.0)
        work = work + width * np.sum(weights * water.heat_capacity(T) * efficiency.at(T), axis=1)
    lack = 0.5 * (held - floor)
    return np.where(lack > 0.0, work, lack * LACK_J_PER_KG_K)
