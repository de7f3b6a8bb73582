"""What the water of boilers in series would read as it enters each of them, by their areas and films.

Pressures, vapour temperatures, the whole flow and the flow of the water (or where it ends) are conditions. How the flow
divides among the boilers nobody reads: it is such that each needs just its own area, as the temperature of the water is.
Arrays (n,), SI inside; boilers from the hottest down.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from explore import units
from explore.bench.columns import BETWEEN, FRESH, Array
from explore.bench.films import fed_at, level_at, litres, of, or_else, pressure_of, vapour_of
from explore.bench.plant import Built
from explore.bench.surfaces import area_of, films_of
from explore.config.schema import Engine
from explore.cycle.agreement import Tried, Unknowns, agree
from explore.cycle.owned import boiler_pinches, by_boiler
from explore.fluids.interface import Index, WorkingFluid
from explore.fluids.water import HIGH_K, Water
from explore.plant.boiler import Level, return_enthalpy, stratified_zones
from explore.plant.condenser import LEAST_RISE_K
from explore.plant.glide import LEAST_DROP
from explore.plant.pump import FeedPump, pumped

HOTTEST = (1e-3, 1.0, 0.7)
"""Of the logarithm of how much warmer the water is than the hottest vapour: the difference for its slope, the longest
step, and the step up where a pinch is lost."""
DIVISION = (1e-3, 1.0, 0.0)
"""Of the log-odds by which the flow divides: the same."""
STEPS = 9
"""Of Newton's method from a plant with equal pinches: over the bands of films they leave 1e-6 K, six 1e-2 K."""
FIRST_PINCH_K = 6.0
"""Of each boiler, to begin from: what plants have, two to some fifteen."""
LEAST_FIRST_K = 1.0
"""The water above the hottest vapour, to begin from."""
LEAST_SHARE = 0.05
"""Of the flow that is left, in each boiler, to begin from: none gives no vapour at all."""
NARROW = 0.02
"""Pinch [K] below which no flow is told: nearer the water passes no heat that a plant has."""


@dataclass(frozen=True)
class Boilers:
    """A plant's boilers at the conditions of n lines: ``films`` [W/(m2 K)] by zone, numbers or (n,).

    ``flow`` [kg/s] of the fluid; ``water_flow`` [m3/s] and ``outlet`` [K] of the water, either may be no number;
    ``entering`` [J/kg] and ``feed`` [K] of the liquid.
    """

    water: Water
    levels: list[Level]
    areas: tuple[float, ...]
    films: Mapping[str, Any]
    flow: Array
    water_flow: Array
    outlet: Array
    entering: Array
    feed: Array

    def take(self, index: Index) -> Boilers:
        """Return the lines ``index``."""
        films = {name: np.broadcast_to(one, self.flow.shape)[index] for name, one in self.films.items()}
        rest = (self.flow, self.water_flow, self.outlet, self.entering, self.feed)
        levels = [Level(*(column[index] for column in level)) for level in self.levels]
        return Boilers(self.water, levels, self.areas, films, *(column[index] for column in rest))

    def start(self) -> Array:
        """Unknowns (n, m) to begin from: logarithm of how much warmer [K] the water is than the hottest vapour, log-odds.

        Those of boiler i are of what of the flow that reaches it goes on to hotter ones.
        """
        water, levels, passed = self.water, self.levels, self.flow
        below = [water.enthalpy(level.temperature + FIRST_PINCH_K) for level in levels]
        warmed = self.flow * (levels[-1].bubble_enthalpy - self.entering)
        left = below[-1] - water.enthalpy(
            np.fmin(self.outlet, levels[-1].temperature + FIRST_PINCH_K - LEAST_RISE_K)
        )
        stream = or_else(
            self.water_flow * water.density(levels[0].temperature), warmed / np.maximum(left, LEAST_DROP)
        )
        odds = list[Array]()
        for i in range(len(levels) - 1, 0, -1):
            lifted = _lifted(levels, i)
            boils = levels[i].exit_enthalpy - levels[i].bubble_enthalpy
            own = (stream * (below[i - 1] - below[i]) - passed * lifted) / (boils - lifted)
            share = np.clip(own / passed, LEAST_SHARE, 1.0 - LEAST_SHARE)
            odds.insert(0, np.log((1.0 - share) / share))
            passed = passed * (1.0 - share)
        heat = passed * (levels[0].exit_enthalpy - levels[0].bubble_enthalpy)
        hottest = np.maximum(
            water.temperature(below[0] + heat / stream), levels[0].exit_temperature + LEAST_FIRST_K
        )
        return np.stack([np.log(hottest - levels[0].exit_temperature), *odds], axis=1)

    def tried(self, x: Array) -> tuple[Tried, Array]:
        """Return how far areas are off at unknowns ``x`` (n, m), and the water [K] as it enters each boiler (n, levels)."""
        water, levels = self.water, self.levels
        top = np.minimum(levels[0].exit_temperature + np.exp(x[:, 0]), HIGH_K)
        flows = self._divided(x)
        h_top = water.enthalpy(top)
        heat = self.flow * (levels[-1].bubble_enthalpy - self.entering) + np.sum(
            [
                own * (level.exit_enthalpy - level.bubble_enthalpy)
                for own, level in zip(flows, levels, strict=True)
            ],
            axis=0,
        )
        passed = np.zeros_like(self.flow)
        for i in range(1, len(levels)):
            passed = passed + flows[i - 1]
            heat = heat + passed * _lifted(levels, i)
        left = h_top - water.enthalpy(np.fmin(self.outlet, top - LEAST_RISE_K))
        stream = or_else(self.water_flow * water.density(top), heat / left)
        raised = [own / stream for own in flows]
        pinches = boiler_pinches(water, top, levels, raised)
        back = water.temperature(
            return_enthalpy(water, levels[-1], pinches[-1], self.flow / stream, self.entering)
        )
        zones = stratified_zones(water, top, back, levels, pinches, raised, self.entering, self.feed)
        lack = [
            np.log(area_of(own, stream, self.films) / area)
            for own, area in zip(by_boiler(zones, len(levels)), self.areas, strict=True)
        ]
        entries = [top, *(level.temperature + pinch for level, pinch in zip(levels, pinches, strict=True))]
        margins = [
            *(pinch - NARROW for pinch in pinches),
            *(
                entry - level.exit_temperature - NARROW
                for entry, level in zip(entries[1:], levels[1:], strict=False)
            ),
            back - self.feed - NARROW,
        ]
        tried = Tried(np.stack(lack, axis=1), np.stack(margins, axis=1), ())
        return tried, np.stack(entries[:-1], axis=1)

    def _divided(self, x: Array) -> list[Array]:
        """Flow [kg/s] that each boiler turns into vapour: of what reaches boiler i a share 1/(1 + exp x_i) stays."""
        flows, passed = list[Array](), self.flow
        for i in range(len(self.levels) - 1, 0, -1):
            goes = passed / (1.0 + np.exp(-x[:, i]))
            flows.insert(0, passed - goes)
            passed = goes
        return [passed, *flows]

    def entries(self) -> Array:
        """Temperature [K] of the water as it enters each boiler, (n, levels)."""
        n, m = len(self.flow), len(self.levels)
        tall = self.take(np.tile(np.arange(n), m + 1))

        def attempt(x: Array, places: Index, carried: Any) -> Tried:
            return tall.tried(x)[0]

        varied = Unknowns(*np.array([HOTTEST, *[DIVISION] * (m - 1)]).T)
        x, _ = agree(attempt, self.start(), (), varied, STEPS)
        return self.tried(x)[1]


def boilers(
    fluid: WorkingFluid,
    water: Water,
    plant: Built,
    engine: Engine,
    feed_pump: FeedPump | float,
    column: Mapping[str, Array],
) -> dict[str, Array]:
    """Temperature [degC] of the water as it enters each boiler, by the names of its columns.

    Vapour leaves the hottest as in :func:`explore.bench.films.boiler`, others dry at the temperature of their own
    thermometer. Pumps that lift liquid from boiler to boiler are those of the design.
    """
    pressure = pressure_of(column, "boiler")
    levels = [level_at(fluid, pressure, vapour_of(fluid, pressure, column))]
    for gauge, thermometer in FRESH[: plant.levels - 1]:
        own = column[gauge] * units.PA_PER_BAR
        line = fluid.saturation(own)
        superheat = np.maximum(units.kelvin(column[thermometer]) - line.dew_temperature, 0.0)
        level = level_at(fluid, own, fluid.superheated(own, superheat).enthalpy)
        above = levels[-1].pressure
        work = pumped(feed_pump, line.v_liquid, own, above)
        lifted = fluid.liquid_from_enthalpy(above, line.h_liquid + work).temperature
        levels.append(level._replace(lift_work=work, lifted_temperature=lifted))
    feed, entering = fed_at(fluid, plant, levels[-1], column)
    found = Boilers(
        water,
        levels,
        plant.boilers,
        films_of(engine, plant.boiler),
        column["flow_kg_per_h"] / units.SECONDS_PER_HOUR,
        litres(column, "hot_water_flow_L_per_h", pressure),
        units.kelvin(of(column, "hot_water_outlet_temperature_degC", pressure)),
        entering,
        feed,
    ).entries()
    names = ["hot_water_temperature_degC", *BETWEEN[: plant.levels - 1]]
    return {name: units.celsius(found[:, i]) for i, name in enumerate(names)}


def _lifted(levels: list[Level], i: int) -> Array:
    """Heat [J/kg] that liquid takes on its way from boiler ``i`` up to the bubble point of the next hotter one."""
    return levels[i - 1].bubble_enthalpy - levels[i].bubble_enthalpy - levels[i].lift_work
