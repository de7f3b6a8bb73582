"""A plant on a stratified store as it was bought: what it does where coefficients are others than those it was sized with.

Cylinders, valve timing, areas, the speed and both flows of water stay; evaporating temperatures, receivers, condensing
temperature and the flow of the fluid move until every area is just what its heat needs and every cylinder swallows what
reaches it. Of exchangers made of tubes number, diameters and length stay; films follow from the state, and so do the drops
of pressure, which are unknowns too: the vapour of a colder boiler answers to them so strongly that drops of the trial
before would swing for ever. Superheat and subcooling are held by feed and charge. A strong engine is not throttled: its
power is what it could give.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np

from explore.cycle.agreement import MOST_MISS, Tried, Unknowns, agree
from explore.cycle.cycle import Expansion, go_round
from explore.cycle.owned import Needed, Owned, boiler_pinches, clearance_of, needed, regenerator_lack
from explore.cycle.rated import Plant, settings_of
from explore.cycle.source import Boiling, CirculatingWater
from explore.cycle.supply import Settings, Supply, lift_work_of, supply
from explore.cycle.tubes_bought import shares_lost
from explore.design.designs import Designs
from explore.fluids.interface import Array, Index, WorkingFluid
from explore.fluids.water import Water
from explore.plant import boiler, exchange, glide, pump
from explore.plant.circuit import Cycle, Drops, put, rows
from explore.plant.engine import AnyLosses, Stage, admit, finish
from explore.plant.governor import ratio_at
from explore.plant.part_load import release_state
from explore.plant.settle import Leaks, Walls, run_losses

SWEEPS = 3
"""Marches at one state, from the losses and releases of a state close by: the pressures around every stage are known, so
that three leave 1e-6 of the flow."""
LEAST_FLOW = 1e-9
"""Share of vapour that a boiler raises at least: one that the engine asks for none still has a number."""
UNKNOWN = {
    "boiling": (0.02, 5.0, -2.0),
    "receiver": (1e-3, 0.3, 0.0),
    "condensing": (0.02, 5.0, 2.0),
    "drop": (1e-4, 0.03, 0.0),
    "effectiveness": (1e-2, 2.0, 0.0),
}
"""Of each kind of unknown: the difference for its slope, the longest step and the retreat; temperatures [K], receivers as
logarithms of pressure, drops in tubes as shares of it, effectiveness as its log-odds. Two kelvin open any pinch that
another world closed."""
OTHER_STARTS_K = (-4.0, 2.0)
"""How far off the run's boiling temperatures plants with tubes begin once more where no state was found: films bend where
one law takes over from another, and a first way may end there; so it did in 9 of 128 worlds of one plant."""


class Found(NamedTuple):
    """The plant at one state: its ``cycle``, the ``flow`` [kg/s] of fluid, the ``pinches`` [K] of all boilers.

    ``settings`` are those that agree, ``needed`` the areas, boilers first, then condenser and regenerator.
    """

    cycle: Cycle
    flow: Array
    pinches: list[Array]
    settings: Settings
    needed: Needed

    @property
    def areas(self) -> list[Array]:
        """Area [m2] that each exchanger needs."""
        return self.needed.areas


class Carried(NamedTuple):
    """What a state close by begins from, by stage: losses, release pressures [Pa], share of the flow from above [-].

    Of tubes also the drops [Pa] of the water.
    """

    losses: list[AnyLosses]
    releases: list[Array]
    joined: list[Array]
    drops: Drops | None


@dataclass(frozen=True)
class Bought:
    """Plants of one structure, as ``own`` says, in the world of ``plant``."""

    fluid: WorkingFluid
    water: Water
    plant: Plant
    designs: Designs
    own: Owned

    def take(self, index: Index) -> Bought:
        """Return the plants ``index``."""
        return Bought(
            self.fluid.take(index), self.water, self.plant, self.designs.take(index), self.own.take(index)
        )

    @property
    def levels(self) -> int:
        """Boilers in series on the water."""
        return len(self.own.areas) - 2

    @property
    def regenerated(self) -> bool:
        """Whether any of the plants has a regenerator."""
        return bool(np.any(self.own.areas[-1] > 0.0))

    def rate(self) -> tuple[Found, Array]:
        """Find the state at which all areas and cylinders agree, and the greatest share by which one still misses (n,)."""
        x, carried = self._agreed(self.own.start)
        tried, found = self.tried(x, carried)
        miss = _miss(tried, found)
        for shift in () if self.own.tubes is None else OTHER_STARTS_K:
            lost = np.flatnonzero(~(miss <= MOST_MISS))
            if len(lost) == 0:
                break
            part = self.take(lost)
            start = part.own.start.copy()
            start[:, : self.levels] += shift
            tried, again = part.tried(*part._agreed(start))
            new = _miss(tried, again)
            better = np.flatnonzero(new < miss[lost])
            found, miss = put((found, miss), lost[better], rows((again, new), better))
        return found, miss

    def _agreed(self, start: Array) -> tuple[Array, Carried]:
        """Values of all unknowns from ``start`` on, and what their last trial carried."""
        kinds = ["boiling"] * self.levels + ["receiver"] * (len(self.own.cylinders) - self.levels)
        kinds += ["condensing"] + ["drop"] * (0 if self.own.tubes is None else self.levels + 1)
        kinds += ["effectiveness"] * self.regenerated
        varied, m = Unknowns(*np.array([UNKNOWN[kind] for kind in kinds]).T), len(kinds)
        tall = self.take(np.tile(np.arange(len(self.designs)), m + 1))

        def attempt(x: Array, places: Index, carried: Any) -> Tried:
            return tall.tried(x, carried)[0]

        return agree(attempt, start[:, :m], self.carried(), varied)

    def carried(self) -> Carried:
        """The run's own state, to begin from."""
        own, losses = self.own, self.own.losses
        if self.plant.laws is None:
            losses = [self.plant.machine.losses] * len(own.cylinders)
        drops = None if own.tubes is None else own.tubes.drops
        return Carried(losses, own.releases, own.joined, drops)

    def tried(self, x: Array, carried: Carried) -> tuple[Tried, Found]:
        """Run the plants with unknowns ``x`` (n, m), as :attr:`Owned.start` has them."""
        given, settings = self._supplied(x, carried.drops)
        expansion, flows, carried = self._expanded(given, x, carried)
        found = self._closed(given, settings, expansion, flows)
        carried = carried._replace(drops=found.needed.drops)
        cycle, own = found.cycle, self.own
        lack = [
            np.log(needed / had) for needed, had in zip(found.areas[: self.levels], own.areas, strict=False)
        ]
        lack += [np.log(flows[j] / flows[j - 1]) for j in range(self.levels, len(flows))]
        lack.append(np.log(found.areas[-2] / own.areas[-2]))
        if found.needed.drops is not None:
            stages, scale = len(own.cylinders), UNKNOWN["drop"][1]
            lost = shares_lost(found.needed.drops, cycle)
            lack += [(share - x[:, stages + 1 + i]) / scale for i, share in enumerate(lost)]
        if self.regenerated:
            lack.append(regenerator_lack(found.areas[-1], own.areas[-1], x[:, -1], own.start[:, -1]))
        margins = [
            *found.pinches,
            found.settings.pinch_condenser,
            cycle.condensate.temperature - self.plant.machine.cooling_water_temperature,
            self.designs.top_temperature - cycle.levels[0].exit_temperature,
            cycle.return_temperature - cycle.warmed_temperature,
            cycle.levels[-1].temperature - found.settings.condensing_temperature,
        ]
        return Tried(np.stack(lack, axis=1), np.stack(margins, axis=1), carried), found

    def _supplied(self, x: Array, lost: Drops | None) -> tuple[Supply, Settings]:
        """What boilers and pump give at the unknowns ``x``."""
        from scipy.special import expit

        designs, machine, stages = self.designs, self.plant.machine, len(self.own.cylinders)
        settings = settings_of(designs, designs.superheat)._replace(condensing_temperature=x[:, stages])
        if self.regenerated:
            share = np.where(self.own.areas[-1] > 0.0, expit(x[:, -1]), 0.0)
            settings = settings._replace(regenerator_effectiveness=share)
        source = CirculatingWater(designs.top_temperature, designs.pinch_boiler)
        temperatures = [x[:, i] for i in range(self.levels)]
        drops = self._water_drops()
        if lost is not None:
            pressures = [self.fluid.saturation_pressure(T) for T in [*temperatures, x[:, stages]]]
            shed = [x[:, stages + 1 + i] * p for i, p in enumerate(pressures)]
            drops = lost._replace(boilers=shed[:-1], condenser=shed[-1])
        return supply(self.fluid, self.water, machine, settings, temperatures, source, drops), settings

    def _water_drops(self) -> Drops:
        """What only the water loses in exchangers without tubes."""
        machine, n = self.plant.machine, len(self.designs)
        none, drop = np.zeros(n), np.full(n, machine.water_pressure_drop)
        cold = pump.cooling_drop(self.own.rise, machine.water_pressure_drop)
        # flows and passages are those bought, so that the drop does not ask how much the water warms here
        return Drops(
            [none] * self.levels, none, drop, cold if machine.cooling_drop_follows_rise else drop,
            [none] * self.levels, none,
        )  # fmt: skip

    def _expanded(self, given: Supply, x: Array, carried: Carried) -> tuple[Expansion, list[Array], Carried]:
        """Expand through the cylinders bought; the flow [kg/s] that each stage swallows."""
        own, laws, speed = self.own, self.plant.laws, self.designs.speed
        stages = len(own.cylinders)
        receivers = [np.exp(x[:, j]) for j in range(self.levels, stages)]
        pressures = [*(vapour.pressure for vapour in given.arriving), *receivers, given.end]
        films = self.plant.films_of(self.designs)
        leaks = None if laws is None else Leaks(laws, own.cylinders, speed, films)
        walls = Walls(self.fluid)
        for _ in range(SWEEPS):
            done, entering = self._marched(given, pressures, carried)
            flows = [c.displaced(speed) / s.swept_volume for c, s in zip(own.cylinders, done, strict=True)]
            losses = carried.losses
            if leaks is not None:
                losses = list[AnyLosses](run_losses(done, leaks, walls))
            joined = [np.zeros_like(flows[0]), *(a / b for a, b in pairwise(flows))]
            carried = Carried(losses, [s.release_pressure for s in done], joined, carried.drops)
        shares = [flow / flows[self.levels - 1] for flow in flows]
        return Expansion(done, shares, entering, np.ones(len(x))), flows, carried

    def _marched(
        self, given: Supply, pressures: Sequence[Array], carried: Carried
    ) -> tuple[list[Stage], list[Array]]:
        """One march between receivers of known pressure; at those of the boilers fresh vapour joins."""
        c, fluid, done, entering = clearance_of(self.plant), self.fluid, list[Stage](), list[Array]()
        for j, losses in enumerate(carried.losses):
            enthalpy = given.arriving[0].enthalpy if j == 0 else done[-1].exhaust_enthalpy
            if 0 < j < self.levels:
                share = np.clip(carried.joined[j], 0.0, 1.0)
                enthalpy = share * enthalpy + (1.0 - share) * given.arriving[j].enthalpy
            inlet = admit(fluid, pressures[j], enthalpy, losses)
            ratio = ratio_at(c, self.own.cut_offs[j])
            release = release_state(fluid, inlet, ratio, carried.releases[j])
            done.append(finish(fluid, inlet, pressures[j + 1], release, losses))
            entering.append(enthalpy)
        return done, entering

    def _closed(self, given: Supply, settings: Settings, expansion: Expansion, flows: list[Array]) -> Found:
        """Close the cycle with the flows of water that the pumps give; find the pinches and areas this takes."""
        own, water, machine, top = self.own, self.water, self.plant.machine, self.designs.top_temperature
        total = flows[self.levels - 1]
        fresh = [flows[0], *(b - a for a, b in pairwise(flows[: self.levels]))]
        fresh = [np.maximum(one, LEAST_FLOW * total) for one in fresh]
        raised = [one / own.hot_water for one in fresh]
        per_water = total / own.hot_water
        if self.fluid.glides:
            pinches = [glide.boiler_pinch(self.fluid, water, top, given.levels[0], raised[0])]
        else:
            pinches = boiler_pinches(water, top, given.levels, raised)
        shares = [one / total for one in fresh]
        source = CirculatingWater(top, pinches[-1])
        assert given.drops is not None
        given = replace(
            given,
            raised=raised,
            shares=shares,
            total=per_water,
            lift_work=lift_work_of(given.levels, shares),
            hot_water_work=source.pump_work(
                water, per_water, given.drops.hot_water, machine.water_pump_efficiency
            ),
            source=source,
        )
        entering = self._entering(given, settings, expansion)
        settings = settings._replace(pinch_condenser=self._condenser_pinch(given, settings, entering, total))
        cycle = go_round(self.fluid, water, machine, settings, given, expansion)
        zones = self._boiler_zones(cycle, source, pinches, raised)
        hot, left = Boiling(source, zones), None if own.tubes is None else own.tubes.left
        asked = needed(self.fluid, self.plant, self.designs, cycle, hot, total, left)
        return Found(cycle, total, pinches, settings, asked)

    def _condenser_pinch(self, given: Supply, settings: Settings, entering: Array, flow: Array) -> Array:
        """Pinch [K] that the cooling water bought leaves a ``flow`` [kg/s] that comes with ``entering`` [J/kg]."""
        water, liquid, cooling = self.water, given.condensate.enthalpy, self.own.cooling_water
        cold = np.full_like(flow, self.plant.machine.cooling_water_temperature)
        if self.fluid.glides:
            return glide.condenser_pinch(
                self.fluid, water, given.condenser_pressure, entering, liquid, cooling / flow, cold
            )
        heat = np.minimum(entering, given.condensing.h_vapour) - liquid
        return settings.condensing_temperature - water.temperature(
            water.enthalpy(cold) + heat * flow / cooling
        )

    def _boiler_zones(
        self, cycle: Cycle, source: CirculatingWater, pinches: list[Array], raised: list[Array]
    ) -> list[boiler.Zone]:
        """Zones of all boilers, each with a pinch [K] of its own."""
        if self.fluid.glides:
            return source.zones(self.fluid, self.water, cycle)
        return boiler.stratified_zones(
            self.water,
            self.designs.top_temperature,
            cycle.return_temperature,
            cycle.levels,
            pinches,
            raised,
            cycle.warmed,
            cycle.warmed_temperature,
        )

    def _entering(self, given: Supply, settings: Settings, expansion: Expansion) -> Array:
        """Enthalpy [J/kg] that enters the condenser, behind the regenerator."""
        exhaust, p_c = expansion.stages[-1].exhaust_enthalpy, given.condenser_pressure
        if not self.regenerated:
            return exhaust
        cold = (given.feed.temperature, given.feed_enthalpy)
        return exhaust - exchange.regenerated_heat(
            self.fluid, settings.regenerator_effectiveness, self.fluid.from_enthalpy(p_c, exhaust),
            exchange.feed_side(self.fluid, p_c, cold, given.levels[-1].pressure),
        )  # fmt: skip


def _miss(tried: Tried, found: Found) -> Array:
    """The greatest share by which a condition misses (n,)."""
    return np.maximum(np.max(np.abs(tried.lack), axis=1), found.needed.unsettled)
