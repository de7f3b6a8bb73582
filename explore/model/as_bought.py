"""Plants as bought: designs are sized in one case, and run in the world of another with what was bought."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from explore.cycle.agreement import MOST_MISS
from explore.cycle.as_bought import Bought
from explore.cycle.as_bought_mixed import BoughtMixed, OwnedMixed, owned_mixed
from explore.cycle.bought_performance import performed
from explore.cycle.owned import Owned, owned
from explore.cycle.performance import Performance
from explore.design.designs import Designs
from explore.fluids.interface import Array
from explore.model import figures as written
from explore.model import years
from explore.model.evaluator import Evaluator
from explore.model.runs import Group
from explore.year.season import stratified_year

FIGURES = (
    "power_size_W",
    "work_per_litre_kJ",
    "served_share",
    "peak_pressure_bar_g",
    "max_boiler_pressure_bar_a",
    "condenser_pressure_bar_a",
)
"""What is told of a plant as bought: what it gives, and the pressures that move."""
GIVEN = FIGURES[:3]
"""What it gives: a plant that finds no state gives less of it than one that does."""


@dataclass(frozen=True)
class Purchase:
    """Plants of n designs, bought as the case of ``of`` sizes them; ``groups`` of one structure with what they own."""

    count: int
    groups: tuple[tuple[Group, Owned | OwnedMixed], ...]

    @staticmethod
    def of(evaluator: Evaluator, columns: Mapping[str, np.ndarray]) -> Purchase:
        """Size the designs of sound ``columns`` in the case of a model, and buy them."""
        designs, plant = evaluator.designs(columns), evaluator.plant
        runs, bought = evaluator.run(designs), list[tuple[Group, Owned | OwnedMixed]]()
        size = runs.done.engine
        for group in runs.groups:
            flow, bores, strokes = (one[group.index] for one in (size.flow, size.bores, size.strokes))
            if group.engine is not None:
                bought.append(
                    (group, owned_mixed(plant, group.designs, group.engine, size.take(group.index)))
                )
            else:
                own = owned(
                    group.fluid, evaluator.water, plant, group.designs, group.cycle, (flow, bores, strokes)
                )
                bought.append((group, own))
        return Purchase(len(designs), tuple(bought))

    def rated(self, world: Evaluator) -> dict[str, Array]:
        """Return :data:`FIGURES` of the plants in the case of ``world``, each (n,).

        NaN where no state was found that its areas and cylinders agree on.
        """
        found = {name: np.full(self.count, np.nan) for name in FIGURES}
        for group, own in self.groups:
            if isinstance(own, OwnedMixed):
                figures, miss = _mixed(world, group, own)
            else:
                figures, miss = _stratified(world, group, own)
            for name in FIGURES:
                found[name][group.index] = np.where(miss <= MOST_MISS, figures[name], np.nan)
        return found


def _stratified(world: Evaluator, group: Group, own: Owned) -> tuple[dict[str, Array], Array]:
    bought = Bought(group.fluid, world.water, world.plant, group.designs, own)
    state, miss = bought.rate()
    designs, done = performed(bought, state)
    power = np.maximum(state.flow * state.cycle.net_work, 0.0)
    plants = years.stratified_plants(world.case, world.plant, world.water, designs, done)
    # what a strong engine could give beyond the load it does not give; a weak one serves every hour in part
    share = np.clip(power / world.plant.frame(designs).power, 0.0, 1.0)
    service = replace(plants.service, power_W=np.multiply(plants.service.power_W, share))
    season = stratified_year(world.year, replace(plants, service=service))
    return _figures(world, group, designs, done, power) | {"served_share": season.served_share * share}, miss


def _mixed(world: Evaluator, group: Group, own: OwnedMixed) -> tuple[dict[str, Array], Array]:
    (designs, _, _, done, power), miss = BoughtMixed(world.plant, group.designs, own).rate()
    season = years.run(world.year, world.case, world.plant, world.water, designs, done)
    return _figures(world, group, designs, done, power) | {"served_share": season["served_share"]}, miss


def _figures(
    world: Evaluator, group: Group, designs: Designs, done: Performance, power: Array
) -> dict[str, Array]:
    cycle = written.cycle(world.plant, world.water, designs, done)
    pressures = world.pressures(group.fluid, designs, done)
    # a store that falls empty while it is held has a negative number elsewhere, for a search to climb
    given = np.maximum(cycle["work_per_litre_kJ"], 0.0)
    return {"power_size_W": power, "work_per_litre_kJ": given} | {
        name: values for name, values in pressures.items() if name in FIGURES
    }
