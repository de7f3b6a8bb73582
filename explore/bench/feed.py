"""The feed pumps: what each must move a revolution over the whole discharge, and the plunger that does."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from explore import units
from explore.bench import sizes
from explore.config.doubtful import doubtful
from explore.design.variables import INPUTS

if TYPE_CHECKING:
    from explore.config.schema import Case
    from explore.model import Evaluator
    from explore.model.runs import Group

PLACES = 5
"""Store temperatures between empty and full at which the need is told: a table that is read at a glance."""
WORN = 0.75 / 0.90
"""Volumetric efficiency of a poor pump over that of a likely one where its band is not known: as the band of the key."""
ML = 1e6
"""Millilitres in a cubic metre, exact."""


def feed(evaluator: Evaluator, figures: Mapping[str, Any], details: Mapping[str, Any]) -> dict[str, Any]:
    """Size the feed pump of one design, and the pumps between its boilers.

    ``needs``: liquid a revolution [mL] over the store temperature [degC], full first; of a stratified store the engine
    runs at its rated point alone. The plunger moves the greatest need even at the worst volumetric efficiency of its
    10-90 % band; ``least_percent`` and ``most_percent`` are what the likely one then brings too much of, back by a bypass.
    """
    run = evaluator.run(evaluator.designs({name: np.array([figures[name]]) for name in INPUTS}))
    (group,) = run.groups
    first = next(one for one in details["states"] if one["place"] == "condenser outlet")
    pressure = np.array([first["p_bar_a"] * units.PA_PER_BAR])
    liquid = group.fluid.liquid_from_enthalpy(pressure, np.array([first["h_kJ_per_kg"] * units.J_PER_KJ]))
    volume = float(liquid.volume[0])
    frequency = float(figures["speed_rated_rev_per_min"]) / units.SECONDS_PER_MINUTE
    flow = float(figures["fluid_flow_kg_per_s"])
    floor = float(run.done.discharge.floor_temperature[0])
    ranged = _over_discharge(evaluator, group, floor) if group.engine is not None else []
    rows = ranged or [(float(figures["top_temperature_degC"]), flow, frequency)]
    likely, poor = volumetric(evaluator.case)
    needs = [(T, rate * volume / speed) for T, rate, speed in rows]
    swept, diameter = sizes.plunger(max(need for _, need in needs), poor)
    return {
        "needs": [(T, ML * need, 100.0 * (swept * likely / need - 1.0)) for T, need in needs],
        "swept_mL": ML * swept,
        "needed_mL": ML * max(need for _, need in needs),
        "diameter_mm": diameter * units.MM_PER_M,
        "stroke_mm": diameter * units.MM_PER_M,
        "volumetric": likely,
        "worst_volumetric": poor,
        "least_percent": 100.0 * (likely / poor - 1.0),
        "most_percent": 100.0 * (swept * likely / min(need for _, need in needs) - 1.0),
        "between": _between(group, flow, frequency, poor),
    }


def volumetric(case: Case) -> tuple[float, float]:
    """Return the volumetric efficiency of a feed pump [-], likely and at the lower end of its band."""
    likely = case.engine.pump_volumetric_efficiency
    bands = [one.low for one in doubtful(case) if one.name == "pump_volumetric_efficiency"]
    return likely, min(bands[0] if bands else likely * WORN, likely)


def _over_discharge(evaluator: Evaluator, group: Group, floor: float) -> list[tuple[float, float, float]]:
    """Store temperature [degC], flow [kg/s] and speed [rev/s] of a governed engine from the full store down to empty."""
    assert group.engine is not None
    T = np.linspace(float(group.designs.top_temperature[0]), floor, PLACES)
    held = group.engine.take(np.zeros(PLACES, dtype=np.intp)).governed(T, evaluator.plant.power_may_rise)
    found = zip(units.celsius(T), held.flow, held.frequency, strict=True)
    return [(float(t), float(flow), float(speed)) for t, flow, speed in found if flow > 0.0]


def _between(group: Group, flow: float, frequency: float, poor: float) -> list[dict[str, float]]:
    """Pumps that lift liquid from one boiler to the next hotter one: level it feeds, plunger, at the rated point."""
    levels, passed, found = group.cycle.levels, 0.0, []
    for place, (hotter, colder) in enumerate(pairwise(levels), start=1):
        passed += float(group.cycle.shares[place - 1][0])
        volume = float(group.fluid.saturation(colder.pressure).v_liquid[0])
        swept, diameter = sizes.plunger(passed * flow * volume / frequency, poor)
        found.append(
            {
                "level": place,
                "rise_bar": float(units.bar(hotter.pressure - colder.pressure)[0]),
                "swept_mL": ML * swept,
                "diameter_mm": diameter * units.MM_PER_M,
            }
        )
    return found
