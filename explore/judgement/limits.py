"""Constraints: a margin for each, in the unit of its name, at or below zero where the limit is kept.

A constraint that does not apply to a design is empty (NaN). Physical limits come first; what the scenario asks
for beyond them follows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from explore import units
from explore.cycle.performance import Performance
from explore.cycle.rated import LEAST_SPAN_K, STOP_MARGIN_K
from explore.cycle.sizing import sizing_temperature
from explore.design.designs import Designs
from explore.figures.format import record
from explore.figures.limits import PREFIX, RECORDS
from explore.fluids.interface import Array
from explore.judgement import hazards
from explore.plant.governor import GOVERNORS
from explore.plant.settle import RESIDUAL_LIMIT

if TYPE_CHECKING:
    from explore.config.schema import Case

Columns = dict[str, np.ndarray]

BOILING_MARGIN_K = 2.0
"""The full store stays this far below boiling at the site (model, section 5)."""
PINCH_MARGIN_K = 0.5
"""Reserve beside the boiler's pinch (model, section 5)."""
WATER_MARGIN_K = 0.5
"""Cooling water warms by half a kelvin at least: less would be a river (model, section 3)."""
LEAST_RESULT_KJ = 1e-3
"""Work [kJ/L] below which a plant gives none: a ten-thousandth of a good one's."""
UNSETTLED = 0.001
"""Share of a pressure by which drops in the cycle may miss those of its tubes: a thousandth, of which an expansion
over a ratio r loses about 1/ln r: less than a thousandth of the work."""
ROUNDING = 1e-9
"""What sums over the hours of a year may be off by, as a share: some 10^4 roundings of 10^-16, and a reserve."""
PHYSICAL = frozenset(one.name for one in RECORDS if one.physical)
"""Constraints that say what cannot be, whoever asks: a design that breaks one has no figures."""
STROKE_PER_BORE = (0.3, 3.0)
"""Range of stroke over bore in which a cylinder can be built and sealed; an assumption of this project. Flatter, the
piston tips and the clearance grows; longer, the rod buckles. Only tubes at hand lead out of it: else both are equal."""
YEAR = (
    "served_share",
    "shaft_energy_kWh_per_year",
    "longest_unserved_hours",
    "stagnation_hours",
    "collector_yield_kWh_per_year",
    "sun_to_shaft_efficiency",
    "cooling_water_L_per_year",
)


class Surroundings(NamedTuple):
    """What limits depend on beside design and figures: SI and kelvin.

    ``standstill_temperature`` of the store, ``critical_limit`` (0.95 of the critical temperature) and
    ``most_levels``, the number of pressure levels a design may have, are (n,); so is ``fault_excess`` [K] of the water's
    boiling temperature over the fluid's critical one.
    """

    air_pressure: float
    boiling_temperature: float
    standstill_temperature: Array
    critical_limit: Array
    cooling_water_temperature: float
    most_levels: Array
    fault_excess: Array


def violations(
    case: Case, designs: Designs, figures: Columns, done: Performance, around: Surroundings
) -> Columns:
    """Return all constraints as columns ``violation_<name>``, each (n,)."""
    found = _physical(designs, figures, done, around) | _wishes(case, designs, figures, done, around)
    found |= _engine(case, designs, figures, done)
    found |= _tubes(case, done) | _stock_bores(case, figures)
    named = {f"{PREFIX}{name}": np.asarray(v, dtype=float) for name, v in found.items()}
    lost = [np.isnan(v) & ~_spared(name, designs.stratified) for name, v in named.items()]
    return named | {f"{PREFIX}numbers_count": np.sum(lost, axis=0).astype(float)}


def laws_of_nature(
    figures: Columns, drawn: Array, best_efficiency: Array, top_temperature: Array, around: Surroundings
) -> Array:
    """Share by which a design's year breaks a law of nature, less :data:`ROUNDING`; at most zero where all hold.

    ``drawn`` heat [kWh] (n,), ``best_efficiency`` [-] of the engine in this design at any store temperature,
    ``top_temperature`` [K] of the full store. Collector yield, heat drawn and cooling water are not negative; the
    shaft gives no more than the heat drawn at the engine's best efficiency; sunlight gives no more work than
    Carnot's cycle between T_top and the cooling water. A figure of the year that is not finite counts whole.
    """
    shaft, sun = figures["shaft_energy_kWh_per_year"], figures["sun_to_shaft_efficiency"]
    most = np.maximum(drawn * best_efficiency, 0.0)
    carnot = 1.0 - around.cooling_water_temperature / top_temperature
    numbers = np.array([figures[name] for name in YEAR] + [drawn, best_efficiency], dtype=float)
    negative = np.min(
        [figures["collector_yield_kWh_per_year"], drawn, figures["cooling_water_L_per_year"]], axis=0
    )
    with np.errstate(invalid="ignore"):
        excess = np.max(
            [
                -negative / np.maximum(np.abs(negative), 1.0),
                (shaft - most) / np.maximum(np.abs(shaft), 1e-3),
                sun - carnot,
                np.zeros_like(shaft),
            ],
            axis=0,
        )
    return np.where(np.isfinite(numbers).all(axis=0), excess, 1.0) - ROUNDING


def _physical(designs: Designs, figures: Columns, done: Performance, around: Surroundings) -> Columns:
    T_c, cold = designs.condensing_temperature, around.cooling_water_temperature
    circulation, margins, glide = done.circulation, done.margins, done.pressures.condenser_glide
    return {
        "critical_temperature_K": np.maximum(margins.critical_excess, T_c - around.critical_limit),
        "standstill_temperature_K": around.standstill_temperature - around.critical_limit,
        "fault_temperature_K": around.fault_excess,
        "store_boiling_K": designs.top_temperature - (around.boiling_temperature - BOILING_MARGIN_K),
        "evaporating_temperature_K": designs.evaporating_temperature
        + designs.pinch_boiler
        + PINCH_MARGIN_K
        - designs.top_temperature,
        "boiler_hot_end_K": circulation.hot_end,
        "boiler_cold_end_K": circulation.cold_end,
        "level_flow_fraction": circulation.level_flow,
        "pressure_levels_count": designs.levels - around.most_levels,
        "stop_temperature_K": np.maximum(
            T_c + glide + designs.boil_approach + STOP_MARGIN_K - designs.stop_temperature,
            designs.stop_temperature + LEAST_SPAN_K - designs.top_temperature,
        ),
        "condenser_pinch_K": cold + WATER_MARGIN_K - (T_c - designs.pinch_condenser),
        "condenser_subcooling_K": cold + WATER_MARGIN_K - (T_c - designs.subcooling),
        "clearance_fraction": margins.clearance,
        "recompression_fraction": margins.recompression,
        "part_load_fraction": done.discharge.part_load,
        "work_kJ_per_litre": LEAST_RESULT_KJ - figures["work_per_litre_kJ"],
    }


def _wishes(
    case: Case, designs: Designs, figures: Columns, done: Performance, around: Surroundings
) -> Columns:
    """What the scenario asks for; a wish it does not have is no column."""
    limits, cards = case.scenario.limits, list(case.fluids.values())
    found: Columns = {
        "served_share_fraction": limits.served_share_min - figures["served_share"],
        "peak_pressure_bar": figures["peak_pressure_bar_g"] - limits.pressure_ceiling_bar_g,
    }
    if limits.safety_classes is not None:
        barred = [hazards.class_margin(card.safety_class, limits.safety_classes) for card in cards]
        found["safety_class_count"] = np.array(barred)[designs.fluid]
    clashing = np.array([len(hazards.material_clashes(card, case.scenario.materials)) for card in cards])
    found["material_clash_count"] = clashing[designs.fluid]
    if case.scenario.room_volume_m3 is not None:
        needed = np.nan_to_num(figures["room_volume_needed_m3"])  # empty: the fluid asks for no room
        found["room_m3"] = hazards.room_margin_m3(needed, case.scenario.room_volume_m3)
    if case.scenario.fluids is not None:
        unasked = np.array([float(card.name not in case.scenario.fluids) for card in cards])
        found["fluid_choice_count"] = unasked[designs.fluid]
    if not limits.vacuum_condenser:
        running = hazards.vacuum_margin_bar(
            units.bar(done.pressures.condenser), units.bar(around.air_pressure)
        )
        found["condenser_vacuum_bar"] = np.maximum(running, -figures["rest_pressure_bar_g"])
    if limits.budget_EUR is not None:
        found["budget_EUR"] = figures["cost_EUR"] - limits.budget_EUR
    bounds = case.scenario.owned.bounds() | limits.bounds
    for figure, (least, most) in bounds.items():
        below = -np.inf if least is None else least - figures[figure]
        above = -np.inf if most is None else figures[figure] - most
        found[f"bound_{figure}"] = np.where(np.isfinite(figures[figure]), np.maximum(below, above), np.nan)
    return found


def _stock_bores(case: Case, figures: Columns) -> Columns:
    """How far a stroke lies outside :data:`STROKE_PER_BORE` of its bore, where bores at hand decide it."""
    if case.scenario.stock_bores_mm is None:
        return {}
    shortest, longest = STROKE_PER_BORE
    ratios = np.stack([figures[f"stroke_{j}_mm"] / figures[f"bore_{j}_mm"] for j in (1, 2, 3)])
    return {"stroke_ratio": np.fmax.reduce(np.maximum(shortest - ratios, ratios - longest), axis=0)}


def _engine(case: Case, designs: Designs, figures: Columns, done: Performance) -> Columns:
    """Limits of the engine and of the load it drives.

    With constant losses there are no cylinders to judge: what stands is the governor that a load cannot take, and the
    falling speed, which was the only one there, is no breach.
    """
    demand, scaling = case.scenario.demand, case.engine.losses == "scaling"
    falls, free = (designs.governing == GOVERNORS.index(name) for name in ("speed", "free"))
    refused = (falls & (scaling and not demand.speed_may_fall)) | (free & (demand.bank != "day"))
    found = {"governing_count": np.where(designs.stratified, np.nan, refused.astype(float))}
    if not scaling:
        return found
    return found | {
        "engine_residual_fraction": done.engine.residual - RESIDUAL_LIMIT,
        "port_mach_fraction": done.engine.port_mach,
        "sizing_temperature_K": np.where(
            designs.stratified, np.nan, sizing_temperature(designs) - done.discharge.held_temperature
        ),
        "suction_head_m": hazards.suction_head_margin_m(
            figures["suction_head_m"], case.engine.pump_required_head_m
        ),
    }


def _tubes(case: Case, done: Performance) -> Columns:
    """Limits of exchangers made of tubes: pressure lost, and length where tubes are at hand.

    A design whose pressure drops and flow drive each other up without end is one whose drops do not settle.
    """
    exchangers, tubes = case.exchangers, done.exchangers.tubes
    if exchangers.method != "tubes":
        return {}
    found = {
        "exchanger_pressure_drop_fraction": tubes.fluid_drop_excess,
        "exchanger_water_pressure_drop_bar": units.bar(tubes.water_drop_excess),
    }
    found["exchanger_unsettled_fraction"] = tubes.unsettled - UNSETTLED
    if exchangers.boiler.length_m is not None or exchangers.coil.length_m is not None:
        found["boiler_tube_length_m"] = tubes.boiler_lack
    if exchangers.condenser.length_m is not None:
        found["condenser_tube_length_m"] = tubes.condenser_lack
    return found


def _spared(column: str, stratified: np.ndarray) -> np.ndarray:
    """Tell where a constraint does not apply and may be empty."""
    applies = record(column).applies
    if applies == "stratified":
        return ~stratified
    if applies == "mixed":
        return stratified
    return np.full_like(stratified, applies != "always")
