"""A plant on the bench as a design has it built: its engine as a machine of its own, and the areas of its exchangers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from explore.bench.columns import Array
from explore.config.machine import GivenMachine
from explore.config.schema import Case
from explore.cycle.owned import areas_of
from explore.design.variables import INPUTS
from explore.model import Evaluator
from explore.model.runs import Group
from explore.model.tubing import tubing_of
from explore.plant.tubes import Tubes

ZONES = ("liquid", "two_phase", "vapour")
"""Of an exchanger; each has a coefficient of its own."""
TUBE_FILMS = "tube_films_factor"
"""The one coefficient of exchangers made of tubes: on all their films, as correlations give them."""


@dataclass(frozen=True)
class Tubed:
    """Exchangers made of tubes as they were built: tubes of the ``boiler`` (or coil) and of the ``condenser``.

    So many side by side in each of the ``boilers``, hottest first, and ``condensers`` in the condenser; ``lengths`` [m] of
    boilers and, last, condenser. Vapour loses ``lost`` [-] of its pressure in each boiler where the design is rated.
    """

    boiler: Tubes
    condenser: Tubes
    boilers: tuple[float, ...]
    condensers: float
    lengths: tuple[float, ...]
    lost: tuple[float, ...]


@dataclass(frozen=True)
class Built:
    """A plant that stands: its engine as ``machine``, ``areas`` [m2] by the part's name, what does not move.

    ``levels`` boilers in series, ``boilers`` the area [m2] of each, hottest first; ``coil``: a fully mixed store with the
    boiler in it; ``throttled``: its governor lowers the pressure between boiler and engine; ``subcooling`` [K] behind the
    condenser; ``tubes`` where its exchangers are made of them.
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
    boilers: tuple[float, ...] = ()
    tubes: Tubed | None = None

    @property
    def boiler(self) -> str:
        """What the names of the boiler's coefficients begin with."""
        return "coil" if self.coil else "boiler"

    @property
    def two_gauges(self) -> bool:
        """Whether the engine's pressures are not those of boiler and condenser: a throttle or tubes lie between."""
        return self.throttled or self.tubes is not None

    @property
    def films(self) -> tuple[str, ...]:
        """The coefficients that are films of this plant: of tubes one factor, else those of the engine set."""
        if self.tubes is not None:
            return (TUBE_FILMS,)
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
    tubes = _tubes(figures, case) if case.exchangers.method == "tubes" else None
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
        _each_boiler(figures, case, areas, tubes),
        tubes,
    )


def _tubes(figures: Mapping[str, Any], case: Case) -> Tubed:
    """Return the tubes of evaluated ``figures``."""
    tubing, levels = tubing_of(case), round(float(figures["pressure_levels"]))
    names = [*(f"boiler_tubes_{i}" for i in range(1, levels + 1)), "condenser_tubes_1"]
    counts = tuple(float(figures[f"{name}_count"]) for name in names)
    cycle = _rated(figures, case)[1].cycle
    assert cycle.drops is not None, "with tubes a cycle has them"
    lost = [drop / level.pressure for drop, level in zip(cycle.drops.boilers, cycle.levels, strict=True)]
    return Tubed(
        tubing.coil if figures["store_mode"] == "mixed" else tubing.boiler,
        tubing.condenser,
        counts[:-1],
        counts[-1],
        tuple(float(figures[f"{name}_length_m"]) for name in names),
        tuple(float(share[0]) for share in lost),
    )


def _each_boiler(
    figures: Mapping[str, Any], case: Case, areas: Mapping[str, float], tubes: Tubed | None
) -> tuple[float, ...]:
    """Return the area [m2] of each boiler in series, hottest first; figures of coefficients have their sum."""
    if tubes is not None:
        each = zip(tubes.boilers, tubes.lengths, strict=False)
        return tuple(np.pi * tubes.boiler.outside * count * length for count, length in each)
    if round(float(figures["pressure_levels"])) == 1:
        return (areas["boiler"],)
    evaluator, group, flow = _rated(figures, case)
    zones = group.source.zones(group.fluid, evaluator.water, group.cycle)
    found = areas_of(evaluator.plant, group.cycle, zones, flow)
    return tuple(float(area[0]) for area in found[: len(group.cycle.levels)])


def _rated(figures: Mapping[str, Any], case: Case) -> tuple[Evaluator, Group, Array]:
    """Run one design again for what figures do not have: its cycle, and its flow [kg/s] (1,)."""
    evaluator = Evaluator(case, case.search.properties)
    designs = evaluator.designs({name: np.array([figures[name]]) for name in INPUTS})
    runs = evaluator.run(designs)
    (group,) = runs.groups
    return evaluator, group, runs.done.engine.flow
