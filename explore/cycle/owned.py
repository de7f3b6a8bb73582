"""What was bought with a design on a stratified store: cylinders, valve timing, areas or tubes, and flows of water."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from explore.cycle.rated import Plant
from explore.cycle.source import Boiling, CirculatingWater
from explore.cycle.tubes_bought import OwnedTubes, shares_lost, tubes_needed, tubes_owned
from explore.design.designs import Designs
from explore.fluids.interface import Array, Index, WorkingFluid
from explore.fluids.water import Water
from explore.plant import boiler, exchange
from explore.plant.circuit import Cycle, Drops, rows
from explore.plant.cylinder import Cylinders
from explore.plant.engine import AnyLosses

LEAST_SHARE, MOST_SHARE = 1e-3, 1.0 - 1e-6
"""Between these an effectiveness counts: no surface, and more than any."""
ALL_ODDS = math.log(0.999 / (1.0 - 0.999))
"""All the effectiveness there is: the next thousandth would take as much surface again."""
LEAST_AREA = 1e-9
"""Area [m2] that stands for none, whose logarithm is finite."""


@dataclass(frozen=True)
class Owned:
    """What was bought and set, each (n,) or a list of such by stage or boiler.

    ``cut_offs`` [-] of the valves; ``areas`` [m2]: boilers hottest first, condenser, regenerator (0 for none); flows of
    ``hot_water`` and ``cooling_water`` [kg/s], ``rise`` [K] of the latter in the run; ``start`` (n, m) the run's own values
    of all unknowns: boiling temperatures [K], logarithms of receivers [Pa], condensing temperature [K], of tubes the shares
    of pressure lost in boilers and condenser, log-odds of the effectiveness; ``losses``, ``releases`` [Pa] and ``joined``
    flows [-] its stages had; ``tubes`` where exchangers are made of them.
    """

    cylinders: list[Cylinders]
    cut_offs: list[Array]
    areas: list[Array]
    hot_water: Array
    cooling_water: Array
    rise: Array
    start: Array
    losses: list[AnyLosses]
    releases: list[Array]
    joined: list[Array]
    tubes: OwnedTubes | None = None

    def take(self, index: Index) -> Owned:
        """Return what was bought of the designs ``index``."""
        taken: Owned = rows(self, index)
        return taken


def cylinders_of(
    plant: Plant, designs: Designs, bores: Array, strokes: Array, stages: int
) -> list[Cylinders]:
    """Cylinders of all stages from bores and strokes [m] (n, 3)."""
    return [
        Cylinders(bores[:, j].copy(), strokes[:, j].copy(), designs.cylinders, plant.make.acting)
        for j in range(stages)
    ]


def clearance_of(plant: Plant) -> float:
    """Clearance over swept volume [-], whichever way the engine loses."""
    return plant.machine.losses.clearance_fraction if plant.laws is None else plant.laws.clearance


def owned(
    fluid: WorkingFluid,
    water: Water,
    plant: Plant,
    designs: Designs,
    cycle: Cycle,
    size: tuple[Array, Array, Array],
) -> Owned:
    """Buy the plant of a rated ``cycle``; ``size``: flow [kg/s] (n,), bores and strokes [m] (n, 3)."""
    from scipy.special import logit

    flow, bores, strokes = size
    stages, levels, c = cycle.stages, cycle.levels, clearance_of(plant)
    source = CirculatingWater(designs.top_temperature, designs.pinch_boiler)
    hot = Boiling(source, source.zones(fluid, water, cycle))
    effectiveness = np.clip(designs.regenerator_effectiveness, LEAST_SHARE, MOST_SHARE)
    receivers = [np.log(stage.inlet.pressure) for stage in stages[len(levels) :]]
    tubes = None
    start = [*(level.temperature for level in levels), *receivers, designs.condensing_temperature]
    if plant.tubing is not None:
        tubes = tubes_owned(plant.tubing, designs.fluid, fluid, cycle, hot, flow)
        start += shares_lost(tubes.drops, cycle)
    return Owned(
        cylinders_of(plant, designs, bores, strokes, len(stages)),
        [(1.0 + c) / s.volume_ratio - c for s in stages],
        needed(fluid, plant, designs, cycle, hot, flow).areas,
        flow * cycle.hot_water,
        flow * cycle.condenser.water_flow,
        cycle.condenser.outlet_temperature - plant.machine.cooling_water_temperature,
        np.stack([*start, logit(effectiveness)], axis=1),
        [s.losses for s in stages],
        [s.release_pressure for s in stages],
        [
            np.zeros_like(flow),
            *(above / own for above, own in zip(cycle.stage_flows[:-1], cycle.stage_flows[1:], strict=True)),
        ],
        tubes,
    )


class Needed(NamedTuple):
    """What a state needs: ``areas`` [m2] as in :class:`Owned`, and with tubes the ``drops`` [Pa] that they put on it.

    ``unsettled`` [-] is the share of a pressure by which these differ from the drops it ran with, (n,).
    """

    areas: list[Array]
    drops: Drops | None
    unsettled: Array


def needed(
    fluid: WorkingFluid,
    plant: Plant,
    designs: Designs,
    cycle: Cycle,
    hot: Boiling,
    flow: Array,
    left: Drops | None = None,
) -> Needed:
    """Areas of all exchangers of a cycle at a ``flow`` [kg/s]: by their coefficients, or by tubes of the number bought.

    ``left`` of drops as in :class:`~explore.cycle.tubes_bought.OwnedTubes`.
    """
    if plant.tubing is None:
        return Needed(areas_of(plant, cycle, hot.zones, flow), None, np.zeros_like(flow))
    tubes = tubes_needed(plant.tubing, designs.fluid, fluid, cycle, hot, flow, left)
    return Needed([*tubes.areas, regenerator_area(plant, cycle, flow)], tubes.drops, tubes.unsettled)


def regenerator_area(plant: Plant, cycle: Cycle, flow: Array) -> Array:
    """Area [m2] of the regenerator, which has coefficients whatever the other exchangers are."""
    r = cycle.regenerator
    return exchange.zone_area(
        r.heat * flow, plant.regenerator_coefficient, r.hot_difference, r.cold_difference
    )


def areas_of(plant: Plant, cycle: Cycle, zones: list[boiler.Zone], flow: Array) -> list[Array]:
    """Area [m2] of every boiler, hottest first, of condenser and regenerator; an economiser belongs to its boiler."""
    water = flow * cycle.hot_water
    parts = [zones] if len(cycle.levels) == 1 else by_boiler(zones, len(cycle.levels))
    return [
        *(boiler.area(part, water, plant.boiler_coefficients) for part in parts),
        boiler.area(cycle.condenser.zones, flow, plant.condenser_coefficients),
        regenerator_area(plant, cycle, flow),
    ]


def by_boiler(zones: list[boiler.Zone], levels: int) -> list[list[boiler.Zone]]:
    """Divide zones in the order of the water among boilers; an economiser belongs to the boiler that it feeds."""
    own: list[list[boiler.Zone]] = [[] for _ in range(levels)]
    along = iter(zones)
    for i in range(levels):
        if i:
            own[i - 1].append(next(along))
        own[i] += [next(along), next(along)]
    own[-1].append(next(along))
    return own


def regenerator_lack(needed: Array, had: Array, odds: Array, start: Array) -> Array:
    """Logarithm of the area needed over that there is [m2]; ``odds`` logarithm of those of the effectiveness.

    A surface that takes the exhaust down to its dew point with some to spare has all the effectiveness there is, and
    where exhaust is no warmer than the feed it does not matter which. Without one it stays where it was, at ``start``.
    """
    fitted = had > 0.0
    lack = np.log(np.maximum(needed, LEAST_AREA) / np.where(fitted, had, 1.0))
    return np.where(fitted, np.maximum(lack, odds - ALL_ODDS), odds - start)


def boiler_pinches(
    water: Water, top_temperature: Array, levels: Sequence[boiler.Level], raised: Sequence[Array]
) -> list[Array]:
    """Pinch [K] of each boiler that raises ``raised`` [kg/kg] of hot water: the balance of :func:`boiler.flows` turned."""
    pinches, passed = [], np.zeros_like(top_temperature)
    enthalpy = water.enthalpy(top_temperature)
    for i, level in enumerate(levels):
        heat = raised[i] * (level.exit_enthalpy - level.bubble_enthalpy)
        if i:
            heat = heat + passed * (levels[i - 1].bubble_enthalpy - level.bubble_enthalpy - level.lift_work)
        enthalpy = enthalpy - heat
        passed = passed + raised[i]
        pinches.append(water.temperature(enthalpy) - level.temperature)
    return pinches
