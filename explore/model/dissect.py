"""One design taken apart: state points, heat curves, indicator diagrams and where the work goes.

The results are plain lists and numbers in edge units, ready for JSON; they serve the printed sheet and the
design sheets of the page.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from explore import units
from explore.cycle.books import Books, keep
from explore.design.designs import Designs
from explore.fluids import mixture_tables, tables
from explore.fluids.blend import Blend
from explore.fluids.interface import Array, WorkingFluid
from explore.fluids.water import Water
from explore.model import years
from explore.model.runs import Group
from explore.model.sunlight import account, per_litre
from explore.plant import glide
from explore.plant.circuit import Cycle
from explore.plant.engine import Stage
from explore.plant.parts import PARTS
from explore.plant.parts.part import Point

if TYPE_CHECKING:
    from explore.model.evaluator import Evaluator

LIQUID_POINTS = 6
"""Points along the warming of liquid: its line bends little."""
DIAGRAM_POINTS = 24
"""Points along an expansion in an indicator diagram, evenly in ln p: a smooth line."""
DIGITS = 6
"""Significant digits of a state in a sheet: enough to add enthalpies up again to a ten-thousandth of the work."""
QUALITY_DIGITS = 5
"""Decimals of a quality, as fine as the others."""


def dissect(evaluator: Evaluator, columns: Mapping[str, np.ndarray]) -> list[dict[str, Any]]:
    """Run designs once and take them apart, one after another.

    ``columns`` are sound input columns of n designs. Each result has ``states``, ``boilers``, ``condenser``,
    ``indicator`` and ``exergy``, all of the rated point and per kg of working fluid; ``sunlight``, the exergy
    of a whole charge per litre of hot water; ``served``, the share of the demand by month and clock hour
    (null where none is asked), and ``months``.
    """
    run = evaluator.run(evaluator.designs(columns))
    charge = account(evaluator, run)
    calendar = years.calendar(
        evaluator.year, evaluator.case, evaluator.plant, evaluator.water, run.designs, run.done
    )
    return [
        _one(evaluator, group, run.done.engine.swept_volumes[i] * units.L_PER_M3)
        | {"sunlight": per_litre(charge, i)}
        | _year(calendar, i)
        for i, group in enumerate(run.alone())
    ]


def _year(calendar: years.Calendar, row: int) -> dict[str, Any]:
    served = [[None if np.isnan(x) else round(float(x), 4) for x in hours] for hours in calendar.served[row]]
    return {
        "served": served,
        "months": {
            "collector_yield_kWh": _numbers(calendar.collector_yield_kWh[row]),
            "shaft_energy_kWh": _numbers(calendar.shaft_energy_kWh[row]),
        },
    }


def dome(substance: str | Blend) -> dict[str, list[float]]:
    """Saturation dome of a fluid or mixture: T_degC, s_liquid_kJ_per_kgK, s_vapour_kJ_per_kgK, coldest first.

    That of a mixture has bubble and dew line at equal temperatures and is open at the top.
    """
    held = mixture_tables.load(substance) if isinstance(substance, Blend) else tables.load(substance)
    T, s_liquid, s_vapour = held.dome.T
    return {
        "T_degC": _numbers(units.celsius(T)),
        "s_liquid_kJ_per_kgK": _numbers(s_liquid / units.J_PER_KJ),
        "s_vapour_kJ_per_kgK": _numbers(s_vapour / units.J_PER_KJ),
    }


def rated(evaluator: Evaluator, design: Designs) -> tuple[WorkingFluid, Cycle, Books]:
    """Run the rated cycle of designs of one structure, sorted by fluid, and keep its books."""
    (group,) = evaluator.run(design).groups
    return group.fluid, group.cycle, _books(evaluator, group)


def _books(evaluator: Evaluator, group: Group) -> Books:
    return keep(group.fluid, evaluator.water, evaluator.plant.machine, group.cycle, group.source)


def _one(evaluator: Evaluator, group: Group, swept_L: Array) -> dict[str, Any]:
    design, fluid, cycle, books = group.designs, group.fluid, group.cycle, _books(evaluator, group)
    clearance = evaluator.plant.machine.losses.clearance_fraction
    return {
        "states": _states(fluid, cycle),
        "boilers": [_gliding_boiler(fluid, evaluator.water, cycle, design)]
        if fluid.glides
        else _boilers(fluid, cycle, design),
        "condenser": _condenser(fluid, evaluator, cycle),
        "indicator": [
            _indicator(fluid, stage, float(volume), clearance)
            for stage, volume in zip(cycle.stages, swept_L, strict=False)
        ],
        "exergy": _exergy(books),
    }


def _numbers(values: Array) -> list[float]:
    return [float(f"{x:.{DIGITS}g}") for x in np.ravel(values)]


def _number(values: Array) -> float:
    return _numbers(values)[0]


def _states(fluid: WorkingFluid, cycle: Cycle) -> list[dict[str, Any]]:
    """The states that all parts make, in the order of the fluid's way."""
    points = [point for part in PARTS for point in part.points(fluid, cycle)]
    return [_state(point) for point in sorted(points, key=lambda point: point.section)]


def _state(point: Point) -> dict[str, Any]:
    quality = None if point.quality is None else float(point.quality[0])
    spot = {} if point.spot is None else {"at": list(point.spot)}
    return {
        "name": point.name,
        "place": point.place,
        "p_bar_a": _number(units.bar(point.pressure)),
        "T_degC": _number(units.celsius(point.temperature)),
        "h_kJ_per_kg": _number(point.enthalpy / units.J_PER_KJ),
        "s_kJ_per_kgK": _number(point.entropy / units.J_PER_KJ),
        "quality": None if quality is None or math.isnan(quality) else round(quality, QUALITY_DIGITS),
        **spot,
    }


def _curve(points: list[tuple[Array, Array, Array, Array]]) -> dict[str, list[float]]:
    """Turn (q [J/kg], fluid T [K], fluid s [J/(kg K)], water T [K]) points, cold end first, into a curve."""
    q, T, s, water = (np.array([float(np.ravel(p[i])[0]) for p in points]) for i in range(4))
    return {
        "q_kJ_per_kg": _numbers(q / units.J_PER_KJ),
        "fluid_T_degC": _numbers(units.celsius(T)),
        "fluid_s_kJ_per_kgK": _numbers(s / units.J_PER_KJ),
        "water_T_degC": _numbers(units.celsius(water)),
    }


def _gliding_boiler(
    fluid: WorkingFluid, water: Water, cycle: Cycle, design: Designs
) -> dict[str, list[float]]:
    """Heat curve of a mixture's boiler, with the water's temperature from its enthalpy at every point."""
    level, feed = cycle.levels[0], cycle.warmed
    boiling = glide.boiling(fluid, level)
    liquid = [feed + k / LIQUID_POINTS * (level.bubble_enthalpy - feed) for k in range(LIQUID_POINTS)]
    points = []
    for h in [*liquid, *boiling.enthalpy, level.exit_enthalpy]:
        if design.stratified[0]:
            drawn = (level.exit_enthalpy - h) / cycle.hot_water
            source = water.temperature(water.enthalpy(design.top_temperature) - drawn)
        else:
            source = level.dew_temperature + design.boil_approach
        below = h < level.bubble_enthalpy
        state = (fluid.liquid_from_enthalpy if below else fluid.from_enthalpy)(level.pressure, h)
        points.append((h - feed, state.temperature, state.entropy, source))
    return _curve(points)


def _boilers(fluid: WorkingFluid, cycle: Cycle, design: Designs) -> list[dict[str, list[float]]]:
    """Heat curves of all boilers, hottest first: economiser, boiling, superheating.

    The two ends and the pinch are those of the model; between them the water's temperature is linear in the heat.
    """
    stratified = bool(design.stratified[0])
    levels, pinch = cycle.levels, design.pinch_boiler
    store = levels[0].dew_temperature + design.boil_approach
    curves = []
    passed = np.zeros_like(cycle.heat)
    for i, level in enumerate(levels):
        share = cycle.shares[i]
        last = i == len(levels) - 1
        feed = cycle.warmed if last else levels[i + 1].bubble_enthalpy + levels[i + 1].lift_work
        entry = design.top_temperature if i == 0 else levels[i - 1].temperature + pinch
        below = cycle.return_temperature if last else levels[i + 1].temperature + pinch
        through = passed + share
        heat_liquid = through * (level.bubble_enthalpy - feed)
        heat_boil = share * (level.dew_enthalpy - level.bubble_enthalpy)
        heat_vapour = share * (level.exit_enthalpy - level.dew_enthalpy)
        bubble_water = level.temperature + pinch
        span = np.maximum(heat_boil + heat_vapour, 1e-9)
        dew_water = bubble_water + (entry - bubble_water) * heat_boil / span
        waters = (below, bubble_water, dew_water, entry) if stratified else (store,) * 4
        points = []
        for k in range(LIQUID_POINTS):
            part = k / LIQUID_POINTS
            state = fluid.liquid_from_enthalpy(level.pressure, feed + part * (level.bubble_enthalpy - feed))
            water = waters[0] + part * (waters[1] - waters[0])
            points.append((part * heat_liquid, state.temperature, state.entropy, water))
        sat = fluid.saturation(level.pressure)
        points.append((heat_liquid, level.temperature, level.bubble_entropy, waters[1]))
        points.append((heat_liquid + heat_boil, level.temperature, sat.s_vapour, waters[2]))
        if float(heat_vapour[0]) > 1.0:
            total = heat_liquid + heat_boil + heat_vapour
            points.append((total, level.exit_temperature, level.exit_entropy, waters[3]))
        curves.append(_curve(points))
        passed = through
    return curves


def _condenser(fluid: WorkingFluid, evaluator: Evaluator, cycle: Cycle) -> dict[str, list[float]]:
    water, cold = evaluator.water, evaluator.plant.machine.cooling_water_temperature
    p, flow = cycle.condenser_pressure, cycle.condenser.water_flow
    sat, liquid = fluid.saturation(p), cycle.condensate
    entering = cycle.into_condenser
    h_cold = water.enthalpy(np.full_like(flow, cold))
    upper = np.minimum(entering, sat.h_vapour)
    marks = [liquid.enthalpy, sat.h_liquid, upper]
    if fluid.glides:
        marks[2:2] = list(glide.curve(fluid, p, sat.h_liquid, upper).enthalpy[1:-1])
    if float(entering[0]) > float(sat.h_vapour[0]):
        steps = np.linspace(0.0, 1.0, 4)[1:]
        marks += [sat.h_vapour + f * (entering - sat.h_vapour) for f in steps]
    points = []
    for k, h in enumerate(marks):
        q = h - liquid.enthalpy
        if k == 0:
            T, s = liquid.temperature, liquid.entropy
        elif k == 1:
            T, s = sat.temperature, sat.s_liquid
        else:
            state = fluid.from_enthalpy(p, h)
            T, s = state.temperature, state.entropy
        points.append((q, T, s, water.temperature(h_cold + q / flow)))
    return _curve(points)


def _indicator(fluid: WorkingFluid, stage: Stage, swept_L: float, clearance: float) -> dict[str, list[float]]:
    """Closed indicator loop of one cylinder: admission, expansion, release, exhaust, recompression."""
    top, full = clearance * swept_L, (1.0 + clearance) * swept_L
    cut_off = full / float(stage.volume_ratio[0])
    p1, p2, p3 = (
        float(x[0]) for x in (stage.inlet.throttled_pressure, stage.release_pressure, stage.back_pressure)
    )
    V, p = [top, cut_off], [p1, p1]
    volumes = _along(fluid, stage, np.geomspace(p1, p2, DIAGRAM_POINTS))
    V += list(cut_off * volumes[1:])
    p += list(np.geomspace(p1, p2, DIAGRAM_POINTS)[1:])
    V[-1] = full
    if clearance > 0.0:
        back = _along(fluid, stage, np.geomspace(p3, p1, DIAGRAM_POINTS))
        V += [full, *(top * back)]
        p += [p3, *np.geomspace(p3, p1, DIAGRAM_POINTS)]
    else:
        V += [full, 0.0, 0.0]
        p += [p3, p3, p1]
    return {"V_L": _numbers(np.array(V)), "p_bar_a": _numbers(units.bar(np.array(p)))}


def _along(fluid: WorkingFluid, stage: Stage, pressures: Array) -> Array:
    """Specific volume over that behind the admission valve, at pressures [Pa] along the inlet's entropy."""
    many = fluid.take(np.zeros(len(pressures), dtype=np.intp))
    volumes = many.from_entropy(pressures, np.full(len(pressures), float(stage.inlet.entropy[0]))).volume
    return np.asarray(volumes / float(stage.inlet.volume[0]))


def _exergy(books: Books) -> dict[str, Any]:
    """Where the exergy of the hot water goes, per kg of working fluid."""
    accounts = [
        {"component": name, "destroyed_kJ_per_kg": _number(work / units.J_PER_KJ)}
        for name, work in books.destroyed().items()
    ]
    accounts.append(
        {
            "component": "warmed cooling water",
            "destroyed_kJ_per_kg": _number(books.exergy_rejected / units.J_PER_KJ),
        }
    )
    return {
        "supplied_kJ_per_kg": _number(books.exergy_supplied / units.J_PER_KJ),
        "work_kJ_per_kg": _number(books.net_work / units.J_PER_KJ),
        "accounts": accounts,
    }
