"""What a plant on a stratified store does as it was bought, in the records that sizes, figures and the year read."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from explore.cycle.as_bought import Bought, Found
from explore.cycle.performance import (
    Areas,
    Circulation,
    EngineSize,
    Exchangers,
    Performance,
    Running,
    Tubes,
    per_stage,
)
from explore.cycle.rated import capped, performance_of, standing
from explore.design.designs import Designs
from explore.plant import store
from explore.plant.governor import drive_efficiency


def performed(bought: Bought, found: Found) -> tuple[Designs, Performance]:
    """Return the designs with what moved, and their performance; margins of temperature are left empty."""
    plant, water, cycle, own = bought.plant, bought.water, found.cycle, bought.own
    designs = replace(
        bought.designs,
        evaporating_temperature=cycle.levels[0].temperature,
        condensing_temperature=found.settings.condensing_temperature,
        pinch_condenser=found.settings.pinch_condenser,
        regenerator_effectiveness=found.settings.regenerator_effectiveness,
    )
    rest, heat = standing(designs, water, plant), np.maximum(cycle.heat / cycle.hot_water, 1.0)
    top, n = designs.top_temperature, len(designs)
    fraction = store.held_fraction(
        rest.loss, top, plant.room_temperature, plant.hold_seconds, rest.mass, heat
    )
    drive, none = drive_efficiency(designs.speed, plant.load_speed), np.full(n, np.nan)
    size = [
        per_stage([getattr(c, side) for c in own.cylinders]) for side in ("swept_volume", "bore", "stroke")
    ]
    _, excess = capped(bought.fluid, cycle.levels[0].temperature)
    return designs, performance_of(
        bought.fluid,
        cycle,
        highest_pressure=cycle.levels[0].pressure,
        critical_excess=excess,
        engine=EngineSize(found.flow, size[0], size[1], size[2], none, none),
        running=Running(per_stage([designs.speed] * 3), per_stage([found.flow * cycle.net_work] * 3)),
        exchangers=Exchangers(
            Areas(np.sum(own.areas[:-2], axis=0), own.areas[-2], own.areas[-1]),
            Tubes.empty(n),
            found.flow * cycle.condenser.water_flow,
        ),
        store=rest,
        work_per_volume=drive * fraction * water.density(top) * cycle.net_work / cycle.hot_water,
        circulation=Circulation(fraction, heat, none, none, none),
    )
