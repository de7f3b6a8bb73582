"""From the configured exchangers to the model's tubes, SI."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from explore import units
from explore.fluids.transport import TransportStack
from explore.plant.correlations.boiling import GORENFLO_H0
from explore.plant.tubes import CONDUCTIVITIES, Tubes, Tubing

if TYPE_CHECKING:
    from explore.config.schema import Case
    from explore.config.tubes import Tubes as TubesGiven

UM_PER_M = 1e6
"""Exact."""


def tubing_of(case: Case) -> Tubing:
    """Translate configuration values into tubes; transport tables of all pure fluids are read or built."""
    e = case.exchangers
    names = case.pure_fluids()
    return Tubing(
        boiler=_tubes(e.boiler),
        coil=_tubes(e.coil),
        condenser=_tubes(e.condenser),
        boiling=e.boiling,
        fouling_water=e.fouling_water_m2K_per_W,
        fouling_fluid=e.fouling_fluid_m2K_per_W,
        roughness=e.roughness_um / UM_PER_M,
        aimed_drop=e.pressure_drop_aim_fraction,
        aimed_water_drop=e.water_pressure_drop_aim_bar * units.PA_PER_BAR,
        heads=e.bends_velocity_heads,
        largest_drop=e.pressure_drop_max_fraction,
        largest_water_drop=e.water_pressure_drop_max_bar * units.PA_PER_BAR,
        transport=TransportStack.of(names),
        references=np.array([GORENFLO_H0.get(name, np.nan) for name in names]),
        is_water=np.array([name == "Water" for name in names]),
        places=np.cumsum([not card.is_mixture for card in case.fluids.values()]) - 1,
        films_factor=e.tube_films_factor,
    )


def _tubes(given: TubesGiven) -> Tubes:
    return Tubes(
        kind=given.kind,
        inside=given.inside_diameter_mm / units.MM_PER_M,
        outside=given.outside_diameter_mm / units.MM_PER_M,
        jacket=(given.jacket_inside_diameter_mm or 0.0) / units.MM_PER_M,
        conductivity=CONDUCTIVITIES[given.material],
        count=given.count or 0,
        length=float("nan") if given.length_m is None else given.length_m,
    )


def hold_up_L_per_m2(tubing: Tubing) -> dict[str, float]:
    """Inner volume of tubes per outside area [L/m2], d_i^2 / (4 d_o), under the names of the group engine.

    The boiler's also stands for the coil, by the larger of the two.
    """

    def volume(tubes: Tubes) -> float:
        return 0.25 * tubes.inside**2 / tubes.outside * units.L_PER_M3

    return {
        "boiler_hold_up_L_per_m2": max(volume(tubing.boiler), volume(tubing.coil)),
        "condenser_hold_up_L_per_m2": volume(tubing.condenser),
    }
