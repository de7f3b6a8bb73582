"""A plant on the bench as a design has it built: its engine as a machine of its own, and the areas of its exchangers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from explore.config.machine import GivenMachine
from explore.config.schema import Case
from explore.cycle.owned import areas_of
from explore.design.variables import INPUTS
from explore.model import Evaluator

ZONES = ("liquid", "two_phase", "vapour")
"""Of an exchanger; each has a coefficient of its own."""
NO_COEFFICIENTS = (
    "its exchangers are made of tubes, whose films follow from correlations; take exchangers=coefficients"
)


@dataclass(frozen=True)
class Built:
    """A plant that stands: its engine as ``machine``, ``areas`` [m2] by the part's name, what does not move.

    ``levels`` boilers in series, ``boilers`` the area [m2] of each, hottest first; ``coil``: a fully mixed store with the
    boiler in it; ``throttled``: its governor lowers the pressure between boiler and engine; ``subcooling`` [K] behind the
    condenser; ``no_films`` says why its films cannot be fitted, empty where they can.
    """

    machine: GivenMachine
    levels: int
    coil: bool
    throttled: bool
    regenerated: bool
    subcooling: float
    areas: Mapping[str, float]
    store_volume_L: float
    insulation_mm: float
    no_films: str
    boilers: tuple[float, ...] = ()

    @property
    def boiler(self) -> str:
        """What the names of the boiler's coefficients begin with."""
        return "coil" if self.coil else "boiler"

    @property
    def films(self) -> tuple[str, ...]:
        """The coefficients of the engine set that are films of this plant."""
        if self.no_films:
            return ()
        return tuple(f"{part}_U_{zone}" for part in (self.boiler, "condenser") for zone in ZONES)


def as_built(figures: Mapping[str, Any], case: Case) -> Built:
    """Return the plant of evaluated ``figures`` in the case that sized it; cut-offs stay, as valves are set.

    With c the clearance and r the volume ratio of a stage, its cut-off is (1 + c)/r - c (model, section 3).
    """
    stages = round(float(figures["stages"]))
    clearance = case.engine.clearance_fraction
    cylinders = [
        {
            "bore_mm": float(figures[f"bore_{j}_mm"]),
            "stroke_mm": float(figures[f"stroke_{j}_mm"]),
            "number": round(float(figures["cylinders_per_stage"])),
            "acting": case.engine.acting,
            "cut_off": min(1.0, (1.0 + clearance) / float(figures[f"volume_ratio_{j}"]) - clearance),
        }
        for j in range(1, stages + 1)
    ]
    coil = figures["store_mode"] == "mixed"
    machine = GivenMachine.model_validate(
        {
            "fluid": figures["fluid"],
            "cylinders": cylinders,
            # conditions that every record has; a log's own take their place
            "speed_rev_per_min": float(figures["speed_rev_per_min"]),
            "inlet_pressure_bar_a": float(figures["boiler_pressure_bar_a"]),
            "outlet_pressure_bar_a": float(figures["condenser_pressure_bar_a"]),
            "inlet_quality": 1.0,
        }
    )
    tubes = case.exchangers.method == "tubes"
    levels = round(float(figures["pressure_levels"]))
    areas = {part: float(figures[f"{part}_area_m2"]) for part in ("boiler", "condenser")}
    return Built(
        machine,
        levels,
        coil,
        coil and figures["governing"] == "throttle",
        float(figures["regenerator_effectiveness"]) > 0.0,
        float(figures["subcooling_K"]),
        areas,
        float(figures["store_volume_L"]),
        float(figures["insulation_mm"]),
        NO_COEFFICIENTS if tubes else "",
        (areas["boiler"],) if tubes or levels == 1 else _each_boiler(figures, case),
    )


def _each_boiler(figures: Mapping[str, Any], case: Case) -> tuple[float, ...]:
    """Return the area [m2] of each boiler in series, hottest first; figures have their sum."""
    evaluator = Evaluator(case, case.search.properties)
    designs = evaluator.designs({name: np.array([figures[name]]) for name in INPUTS})
    runs = evaluator.run(designs)
    (group,) = runs.groups
    zones = group.source.zones(group.fluid, evaluator.water, group.cycle)
    areas = areas_of(evaluator.plant, group.cycle, zones, runs.done.engine.flow)
    return tuple(float(area[0]) for area in areas[: len(group.cycle.levels)])
