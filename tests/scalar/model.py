"""One design at a time, straight on the Helmholtz equations: the reference for the batch model.

Written from the physical model's description alone, so that an agreement of the two means
something. :func:`evaluate_one` returns the figures under the project's column names. The cycle
part (:func:`evaluate_cycle`) and the year (:func:`evaluate_year`) can be timed apart.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, NamedTuple

from tests.scalar.cycle import Cycle, InfeasibleError, Inputs, rated_cycle
from tests.scalar.laws import (
    CONSTANT,
    Laws,
    Load,
    drive_efficiency,
    pump_efficiency,
    suction_shortfall,
    warm_capacity,
)
from tests.scalar.machine import (
    Ask,
    Node,
    Plant,
    Sized,
    limit_temperature,
    lowest_temperature,
    size_mixed,
    size_stratified,
)
from tests.scalar.part_load import (
    MixedEngine,
    PowerMap,
    governed_map,
    governed_work_of_store,
    power_map,
    work_of_store,
)
from tests.scalar.properties import (
    ATMOSPHERE,
    GRAVITY,
    ZERO_C,
    Fluid,
    Water,
    boiling_temperature,
    fluid_named,
    water,
)
from tests.scalar.sizes import boiler_area, condenser_area, store_loss
from tests.scalar.year import (
    CollectorField,
    Season,
    Vessel,
    Weather,
    mixed_autonomy,
    mixed_year,
    stratified_year,
)

FIGURES = (
    "work_per_litre_kJ", "exergy_per_litre_kJ", "second_law_efficiency", "thermal_efficiency",
    "net_work_kJ_per_kg", "boiler_pressure_bar_a", "max_boiler_pressure_bar_a", "condenser_pressure_bar_a",
    "standstill_pressure_bar_g", "peak_pressure_bar_g", "water_per_fluid_kg", "cooling_water_per_fluid_kg",
    "return_temperature_degC", "held_fraction", "held_temperature_degC", "store_loss_W_per_K",
    "volume_ratio_1", "volume_ratio_2", "volume_ratio_3", "swept_volume_1_L", "swept_volume_2_L",
    "swept_volume_3_L", "boiler_area_m2", "condenser_area_m2", "fluid_flow_kg_per_s", "autonomy_hours",
    "served_share", "shaft_energy_kWh_per_year", "longest_unserved_hours", "stagnation_hours",
    "collector_yield_kWh_per_year", "fault_pressure_bar_g", "design_pressure_bar_g", "test_pressure_bar_g",
    "drive_efficiency", "pump_efficiency", "suction_margin_m", "sizing_temperature_degC",
    "speed_full_rev_per_min", "speed_rated_rev_per_min", "speed_size_rev_per_min", "torque_full_Nm",
    "torque_rated_Nm", "torque_size_Nm", "power_full_W", "power_rated_W", "outside_measured", "residual",
)  # fmt: skip


class Surroundings(NamedTuple):
    """Site and demand in SI units."""

    p_air: float
    T_boiling: float
    T_room: float
    power: float
    speed: float
    hold: float
    margin: float


class Store(NamedTuple):
    """Store water: mass [kg], loss [W/K], enthalpy [J/kg] and mean heat capacity from room temperature."""

    mass: float
    loss: float
    mean_c: float


class Computed(NamedTuple):
    """What the year needs from the cycle part."""

    inputs: Inputs
    around: Surroundings
    store: Store
    cycle: Cycle
    engine_map: PowerMap | None
    T_size: float
    fluid_flow: float
    figures: dict[str, float]
    violations: dict[str, float]
    laws: Laws = CONSTANT
    load: Load = Load()
    ask: Ask | None = None
    sized: Sized | None = None
    full_store: Node | None = None


def air_pressure(altitude: float) -> float:
    """Air pressure [Pa] at ``altitude`` [m]: ICAO standard atmosphere, troposphere (ISO 2533:1975)."""
    return ATMOSPHERE * (1.0 - 0.0065 * altitude / 288.15) ** (GRAVITY / (287.05287 * 0.0065))


def read_design(design: dict[str, Any], case: Any) -> Inputs:
    """Turn a row of inputs at edge units into SI."""

    def kelvin(name: str) -> float:
        return number(name) + ZERO_C

    def number(name: str) -> float:
        value = design.get(name)
        return math.nan if value is None or value == "" else float(value)

    stratified = design["store_mode"] == "stratified"
    T_top, approach, T_stop = kelvin("top_temperature_degC"), number("boil_approach_K"), math.nan
    T_evap, superheat = kelvin("evaporating_temperature_degC"), number("superheat_K")
    if not stratified:
        T_stop = kelvin("stop_temperature_degC")
        T_evap = 0.5 * (T_top + T_stop) - approach
        superheat = max(0.0, min(superheat, approach - 1.0))
    effectiveness = number("regenerator_effectiveness")
    site = case.scenario.site
    return Inputs(
        stratified, T_top, T_evap, kelvin("lowest_evaporating_temperature_degC"), approach, T_stop, superheat,
        kelvin("condensing_temperature_degC"), number("subcooling_K"), number("pinch_boiler_K"),
        number("pinch_condenser_K"), int(design["stages"]), int(design["pressure_levels"]),
        number("release_pressure_ratio"), 0.0 if math.isnan(effectiveness) else effectiveness,
        site.cooling_water_temperature_degC + ZERO_C, site.cooling_water_lift_m,
    )  # fmt: skip


def read_surroundings(case: Any, altitude_m: float = 0.0) -> Surroundings:
    """Site and demand; ``altitude_m`` stands in where the scenario leaves it to the weather file."""
    site, demand = case.scenario.site, case.scenario.demand
    p_air = air_pressure(altitude_m if site.altitude_m is None else site.altitude_m)
    return Surroundings(
        p_air, boiling_temperature(p_air), site.room_temperature_degC + ZERO_C, demand.shaft_power_W,
        demand.speed_rev_per_min / 60.0, demand.hold_hours * 3600.0,
        case.scenario.limits.standstill_margin_K,
    )  # fmt: skip


def limits_before(
    inputs: Inputs, around: Surroundings, fluid: Fluid, T_standstill: float
) -> dict[str, float]:
    """Constraints that need no cycle; positive values are violations."""
    limit = fluid.T_limit
    found = {
        "cold_pinch_K": inputs.T_cw + 0.5 - (inputs.T_cond - inputs.pinch_condenser),
        "subcooling_K": inputs.T_cw + 0.5 - (inputs.T_cond - inputs.subcooling),
        "store_boils_K": inputs.T_top - (around.T_boiling - 2.0),
        "condensing_near_critical_K": inputs.T_cond - limit,
        "standstill_near_critical_K": T_standstill - limit,
        "levels": float(inputs.levels - (inputs.stages if inputs.stratified else 1)),
    }
    if inputs.stratified:
        found["evaporating_near_critical_K"] = inputs.T_evap - limit
        found["evaporating_near_store_K"] = inputs.T_evap - (inputs.T_top - inputs.pinch_boiler - 0.5)
    else:
        found["evaporating_near_critical_K"] = inputs.T_top - inputs.boil_approach - limit
        found["stop_temperature_K"] = inputs.T_cond + inputs.boil_approach + 5.0 - inputs.T_stop
        found["discharge_K"] = 1e-3 - (inputs.T_top - inputs.T_stop)
    return found


def limits_of_cycle(engine: Any, inputs: Inputs, cycle: Cycle) -> dict[str, float]:
    """Constraints of the engine and the boilers; positive values are violations."""
    found = {}
    for j, stage in enumerate(cycle.stages, 1):
        found[f"clearance_{j}"] = stage.clearance_margin
        found[f"recompression_{j}"] = stage.recompression_margin
    if not inputs.stratified:
        return found
    least = engine.end_approach_fraction * inputs.pinch_boiler
    T_hot = inputs.T_top
    for i, boiler in enumerate(cycle.boilers, 1):
        found[f"boiler_hot_end_{i}_K"] = least - (T_hot - boiler.exit.T)
        T_hot = boiler.sat.T + inputs.pinch_boiler
    found["boiler_cold_end_K"] = least - (cycle.T_out - cycle.T_feed)
    return found


def read_store(
    engine: Any, design: dict[str, Any], inputs: Inputs, around: Surroundings, w: Water, laws: Laws
) -> Store:
    """Mass and losses of the store."""
    volume = design["store_volume_L"] * 1e-3
    loss = store_loss(engine, volume, design["insulation_mm"] * 1e-3, laws)
    return Store(volume * w.rho(inputs.T_top), loss, w.mean_c(around.T_room, inputs.T_top))


def pressure_figures(
    fluid: Fluid, inputs: Inputs, cycle: Cycle, around: Surroundings, T_standstill: float
) -> dict[str, float]:
    """Boiler, condenser, standstill and peak pressures [bar]."""
    boiler, highest = cycle.boilers[0].sat.p, cycle.boilers[0].sat.p
    if not inputs.stratified:
        highest = fluid.pressure_at(min(inputs.T_top - inputs.boil_approach, fluid.T_limit))
    standstill = fluid.pressure_at(min(T_standstill, fluid.T_limit))
    return {
        "boiler_pressure_bar_a": boiler * 1e-5,
        "max_boiler_pressure_bar_a": highest * 1e-5,
        "condenser_pressure_bar_a": cycle.condenser.p * 1e-5,
        "standstill_pressure_bar_g": (standstill - around.p_air) * 1e-5,
        "peak_pressure_bar_g": (max(standstill, highest) - around.p_air) * 1e-5,
        **fault_pressures(fluid, around, standstill),
    }


RELIEF_MARGIN, LEAST_DESIGN_BAR_G, TEST_FACTOR = 1.1, 0.5, 1.43


def fault_pressures(fluid: Fluid, around: Surroundings, standstill: float) -> dict[str, float]:
    """Pressure with the store boiling, design (and relief) pressure, test pressure [bar gauge].

    They are nan where the store boils above the critical temperature: there is no such pressure.
    """
    if around.T_boiling >= fluid.T_critical:
        fault = math.nan
    else:
        fault = (fluid.pressure_at(around.T_boiling) - around.p_air) * 1e-5
    greater = max(fault, (standstill - around.p_air) * 1e-5) if fault == fault else math.nan
    design = max(RELIEF_MARGIN * greater, LEAST_DESIGN_BAR_G) if fault == fault else math.nan
    return {
        "fault_pressure_bar_g": fault,
        "design_pressure_bar_g": design,
        "test_pressure_bar_g": TEST_FACTOR * design,
    }


def size_figures(cycle: Cycle, flow: float, speed: float) -> dict[str, float]:
    """Fluid flow and cylinder volumes for ``flow`` [kg/s] at ``speed`` [1/s]."""
    found = {"fluid_flow_kg_per_s": flow}
    for j, (stage, share) in enumerate(zip(cycle.stages, cycle.stage_flows, strict=True), 1):
        found[f"volume_ratio_{j}"] = stage.ratio
        found[f"swept_volume_{j}_L"] = stage.swept * share * flow / speed * 1e3
    return found


def read_ask(design: dict[str, Any], around: Surroundings, laws: Laws) -> tuple[Ask, float]:
    """Power the engine has to give, its speed and cylinders; and the efficiency of the drive.

    A design without the columns runs at the load's speed with one cylinder a stage.
    """
    speed = float(design.get("speed_rev_per_min", around.speed * 60.0)) / 60.0
    drive = drive_efficiency(laws, speed, around.speed)
    return Ask(around.power / drive, speed, int(design.get("cylinders_per_stage", 1))), drive


def with_card(laws: Laws, case: Any, fluid: str) -> Laws:
    """Laws with the constants of the fluid's card, those of :class:`Laws` where there is no card or it is silent."""
    cards = [card for card in getattr(case, "fluids", {}).values() if card.name == fluid]
    k = cards[0].liquid_conductivity_W_per_mK if cards else None
    mu = cards[0].vapour_viscosity_Pa_s if cards else None
    return replace(laws, conductivity=k or laws.conductivity, viscosity=mu or laws.viscosity)


def evaluate_cycle(
    design: dict[str, Any],
    case: Any,
    altitude_m: float = 0.0,
    laws: Laws = CONSTANT,
    load: Load | None = None,
) -> Computed:
    """Everything but the year. Raise :class:`InfeasibleError` where a broken constraint forbids to go on.

    With a ``laws`` that scales, the engine follows the columns speed_rev_per_min, cylinders_per_stage, governing
    (``throttle`` if missing) and sizing_share (0.25 if missing), and ``load`` says what the load accepts.
    """
    fluid, w, engine = fluid_named(design["fluid"]), water(), case.engine
    inputs, around = read_design(design, case), read_surroundings(case, altitude_m)
    T_standstill = min(inputs.T_top + around.margin, around.T_boiling)
    violations = limits_before(inputs, around, fluid, T_standstill)
    worst = max(violations, key=lambda name: violations[name])
    if violations[worst] > 0:
        raise InfeasibleError(worst, violations[worst])
    store = read_store(engine, design, inputs, around, w, laws)
    load = load or Load()
    violations["fault_above_critical_K"] = around.T_boiling - fluid.T_critical
    if laws.scaled:
        laws = with_card(laws, case, design["fluid"])
        ask, _ = read_ask(design, around, laws)
        plant = Plant(fluid, w, engine, inputs, laws, load, ask)
        finish = _scaled_stratified if inputs.stratified else _scaled_mixed
        return finish(plant, design, around, store, violations, T_standstill)
    cycle = rated_cycle(fluid, w, engine, inputs)
    violations |= limits_of_cycle(engine, inputs, cycle)
    violations["net_work"] = -cycle.net
    figures = rated_figures(fluid, w, inputs, cycle, around, store, T_standstill)
    if cycle.net <= 0:
        raise InfeasibleError("net_work", 1e-9 - cycle.net)
    finish = _finish_stratified if inputs.stratified else _finish_mixed
    computed = finish(fluid, w, engine, Computed(
        inputs, around, store, cycle, None, math.nan, math.nan, figures, violations
    ))  # fmt: skip
    figures["second_law_efficiency"] = figures["work_per_litre_kJ"] / figures["exergy_per_litre_kJ"]
    violations["work_per_litre"] = 1e-9 - figures["work_per_litre_kJ"]
    return computed


def _finish_stratified(fluid: Fluid, w: Water, engine: Any, so_far: Computed) -> Computed:
    inputs, around, store, cycle = so_far[:4]
    hot_heat = w.h(inputs.T_top) - w.h(cycle.T_out)
    decay = store.loss * (inputs.T_top - around.T_room) * around.hold / (store.mass * hot_heat)
    left = math.exp(-decay)
    flow = around.power / cycle.net
    so_far.figures.update(
        size_figures(cycle, flow, around.speed),
        held_fraction=left,
        work_per_litre_kJ=left * w.rho(inputs.T_top) * cycle.net / cycle.water * 1e-6,
        boiler_area_m2=flow * boiler_area(engine, w, inputs, cycle, math.nan),
        condenser_area_m2=flow * condenser_area(engine, w, inputs, cycle),
        autonomy_hours=store.mass / (cycle.water * flow) / 3600.0,
    )
    return so_far._replace(fluid_flow=flow)


def _finish_mixed(fluid: Fluid, w: Water, engine: Any, so_far: Computed) -> Computed:
    inputs, around, store, rated = so_far[:4]
    decay = math.exp(-store.loss * around.hold / (store.mass * store.mean_c))
    T_held = around.T_room + (inputs.T_top - around.T_room) * decay
    plant = MixedEngine(fluid, w, engine, inputs, rated)
    T_low = plant.lowest_temperature()
    T_size = inputs.T_stop + 0.25 * (inputs.T_top - inputs.T_stop)
    if T_held <= T_low:
        raise InfeasibleError("held_K", 1e-9 + T_low - T_held)
    if T_size <= T_low:
        raise InfeasibleError("part_load", engine.smallest_part_load)
    work = work_of_store(plant, w, T_low, T_held)
    size = plant.point(T_size).cycle
    so_far.violations["part_load"] = engine.smallest_part_load - size.net / rated.net
    flow = around.power / size.net
    engine_map = power_map(plant, around.power, T_low, T_size, inputs.T_top)
    K = store.mass * store.mean_c
    so_far.figures.update(
        size_figures(size, flow, around.speed),
        held_temperature_degC=T_held - ZERO_C,
        work_per_litre_kJ=w.rho(inputs.T_top) * work * 1e-6,
        boiler_area_m2=flow * boiler_area(engine, w, inputs, size, T_size),
        condenser_area_m2=flow * condenser_area(engine, w, inputs, size),
        autonomy_hours=mixed_autonomy(engine_map, T_size, inputs.T_top, K) / 3600.0,
    )
    return so_far._replace(fluid_flow=flow, engine_map=engine_map, T_size=T_size)


def rated_figures(
    fluid: Fluid,
    w: Water,
    inputs: Inputs,
    cycle: Cycle,
    around: Surroundings,
    store: Store,
    T_standstill: float,
) -> dict[str, float]:
    """Figures of the rated point and the store that do not ask for sizes."""
    exergy = w.exergy(inputs.T_top, inputs.T_cw) * w.rho(inputs.T_top)
    return {
        **pressure_figures(fluid, inputs, cycle, around, T_standstill),
        "thermal_efficiency": cycle.net / cycle.heat,
        "net_work_kJ_per_kg": cycle.net * 1e-3,
        "water_per_fluid_kg": cycle.water,
        "cooling_water_per_fluid_kg": cycle.cooling,
        "return_temperature_degC": cycle.T_out - ZERO_C,
        "exergy_per_litre_kJ": exergy * 1e-6,
        "store_loss_W_per_K": store.loss,
    }


def _scaled_figures(
    plant: Plant, around: Surroundings, store: Store, sized: Sized, T_standstill: float
) -> tuple[dict[str, float], dict[str, float]]:
    """Figures and violations of a sized engine that both kinds of store have."""
    fluid, w, engine, inputs, laws, load, ask = plant
    cycle = sized.rated
    dp = cycle.boilers[-1].sat.p - cycle.condenser.p
    p_liquid = fluid.pressure_at(inputs.T_cond - inputs.subcooling)
    short = suction_shortfall(
        laws, cycle.condenser.p, p_liquid, cycle.liquid.v, load.static_head, GRAVITY
    )  # fmt: skip
    figures = {
        **rated_figures(fluid, w, inputs, cycle, around, store, T_standstill),
        "drive_efficiency": around.power / ask.power,
        "pump_efficiency": pump_efficiency(laws, engine, dp, load.pump_drive),
        "suction_margin_m": -short,
        "outside_measured": float(cycle.stages[0].p_in < laws.outside_pressure),
        "residual": sized.residual,
        "fluid_flow_kg_per_s": sized.flow,
    }
    for j, (stage, cylinder) in enumerate(zip(cycle.stages, sized.cylinders, strict=True), 1):
        figures[f"volume_ratio_{j}"] = stage.ratio
        figures[f"swept_volume_{j}_L"] = cylinder.volume * 1e3
    violations = {
        **limits_of_cycle(engine, inputs, cycle),
        "net_work": -cycle.net,
        "port_mach": sized.mach,
        "residual": sized.residual - 0.01,
        "suction_m": short,
    }
    return figures, violations


def _scaled_stratified(
    plant: Plant, design: dict[str, Any], around: Surroundings, store: Store, violations: dict[str, float],
    T_standstill: float,
) -> Computed:  # fmt: skip
    """Sizes and figures of an engine that always runs at its rated point."""
    _, w, engine, inputs, laws, load, ask = plant
    sized = size_stratified(plant)
    cycle = sized.rated
    if cycle.net <= 0:
        raise InfeasibleError("net_work", 1e-9 - cycle.net)
    figures, broken = _scaled_figures(plant, around, store, sized, T_standstill)
    violations = violations | broken
    hot_heat = w.h(inputs.T_top) - w.h(cycle.T_out)
    left = math.exp(-store.loss * (inputs.T_top - around.T_room) * around.hold / (store.mass * hot_heat))
    drive = around.power / ask.power
    torque = ask.power / (2.0 * math.pi * ask.speed)
    figures |= {
        "held_fraction": left,
        "work_per_litre_kJ": drive * left * w.rho(inputs.T_top) * cycle.net / cycle.water * 1e-6,
        "boiler_area_m2": sized.flow * boiler_area(engine, w, inputs, cycle, math.nan, laws),
        "condenser_area_m2": sized.flow * condenser_area(engine, w, inputs, cycle),
        "autonomy_hours": store.mass / (cycle.water * sized.flow) / 3600.0,
        "power_rated_W": ask.power,
        **dict.fromkeys(
            ("speed_full_rev_per_min", "speed_rated_rev_per_min", "speed_size_rev_per_min"), ask.speed * 60.0
        ),
        **dict.fromkeys(("torque_full_Nm", "torque_rated_Nm", "torque_size_Nm"), torque),
    }
    return _close(Computed(
        inputs, around, store, cycle, None, math.nan, sized.flow, figures, violations, laws, load, ask, sized
    ))  # fmt: skip


def _close(computed: Computed) -> Computed:
    figures = computed.figures
    figures["second_law_efficiency"] = figures["work_per_litre_kJ"] / figures["exergy_per_litre_kJ"]
    computed.violations["work_per_litre"] = 1e-9 - figures["work_per_litre_kJ"]
    return computed


def governor_violation(how: str, load: Load) -> float:
    """Positive where the load does not take what the governor ``how`` gives it."""
    if how == "speed":
        return -1.0 if load.speed_may_fall else 1.0
    if how == "free":
        return -1.0 if load.bank == "day" else 1.0
    return -1.0 if how in ("throttle", "cut_off") else 1.0


def _scaled_mixed(
    plant: Plant, design: dict[str, Any], around: Surroundings, store: Store, violations: dict[str, float],
    T_standstill: float,
) -> Computed:  # fmt: skip
    """Sizes and figures of a fixed engine under its governor.

    Areas are those of the greatest heat flow among the sizing temperature, the full store, seven temperatures
    between and the points of the discharge; under ``free`` that is where the load begins to hold the engine.
    """
    _, w, engine, inputs, laws, load, ask = plant
    how, share = design.get("governing", "throttle"), float(design.get("sizing_share", 0.25))
    T_size = inputs.T_stop + share * (inputs.T_top - inputs.T_stop)
    T_rated = inputs.T_evap + inputs.boil_approach
    machine = size_mixed(plant, T_size)
    sized, fixed = machine.sized, machine.fixed
    rated = sized.rated
    if rated.net <= 0 or sized.at_size.net <= 0:
        raise InfeasibleError("net_work", 1e-9 - min(rated.net, sized.at_size.net))
    decay = math.exp(-store.loss * around.hold / (store.mass * store.mean_c))
    T_held = around.T_room + (inputs.T_top - around.T_room) * decay
    T_low = lowest_temperature(fixed, inputs.T_stop, T_rated)
    if T_held <= T_low:
        raise InfeasibleError("held_K", 1e-9 + T_low - T_held)
    if T_size <= T_low:
        raise InfeasibleError("part_load", engine.smallest_part_load)
    figures, broken = _scaled_figures(plant, around, store, sized, T_standstill)
    violations = violations | broken
    violations["part_load"] = engine.smallest_part_load - sized.at_size.net / rated.net
    violations["sized_above_held_K"] = T_size - T_held
    violations["governing"] = governor_violation(how, load)
    drive = around.power / ask.power
    limited = limit_temperature(fixed, T_size, inputs.T_top) if how == "free" else inputs.T_top
    bends = [T_low, T_size, limited, inputs.T_top]
    work = drive * governed_work_of_store(fixed, w, how, bends, T_held)
    engine_map = governed_map(fixed, how, drive, bends)
    fixed.governed(limited, how)
    hot = [n for (kind, T), n in fixed.nodes.items() if kind == how and T_size <= T <= inputs.T_top]
    greatest = max(hot, key=lambda n: n.heat_rate)
    full_store = fixed.governed(inputs.T_top, how)
    at_rated, at_size = fixed.governed(T_rated, how), fixed.governed(T_size, how)
    figures |= {
        "held_temperature_degC": T_held - ZERO_C,
        "sizing_temperature_degC": T_size - ZERO_C,
        "work_per_litre_kJ": w.rho(inputs.T_top) * work * 1e-6,
        "boiler_area_m2": greatest.flow * boiler_area(engine, w, inputs, greatest.cycle, greatest.T, laws),
        "condenser_area_m2": greatest.flow * condenser_area(engine, w, inputs, greatest.cycle),
        "autonomy_hours": mixed_autonomy(engine_map, T_size, inputs.T_top, store.mass * store.mean_c)
        / 3600.0,
        "power_full_W": full_store.power,
        "power_rated_W": at_rated.power,
    }
    for name, node in (("full", full_store), ("rated", at_rated), ("size", at_size)):
        figures[f"speed_{name}_rev_per_min"] = node.speed * 60.0
        figures[f"torque_{name}_Nm"] = node.power / (2.0 * math.pi * node.speed)
    return _close(Computed(
        inputs, around, store, rated, engine_map, T_size, sized.flow, figures, violations, laws, load, ask,
        sized, full_store,
    ))  # fmt: skip


def evaluate_year(design: dict[str, Any], case: Any, computed: Computed, weather: Weather) -> Season:
    """Run the hourly year of a design whose cycle part is computed."""
    inputs, around, store, cycle = computed[:4]
    engine, kind = case.engine, case.collectors[design["collector"]]
    field = CollectorField(
        kind.eta0, kind.a1, kind.a2, float(design["collector_area_m2"]), engine.pipe_loss_fraction
    )
    T_room = weather.T_air if case.scenario.site.room == "outdoor" else around.T_room
    volumes = [c.volume for c in computed.sized.cylinders] if computed.sized else [0.0] * inputs.stages
    warm_up = warm_capacity(computed.laws, engine, volumes)
    if computed.engine_map is None:
        w = water()
        capacity = store.mass * w.mean_c(cycle.T_out, inputs.T_top)
        return stratified_year(
            weather, field, Vessel(capacity, store.loss, T_room), inputs.T_top, cycle.T_out,
            computed.fluid_flow * cycle.heat, warm_up, inputs.T_evap,
        )  # fmt: skip
    vessel = Vessel(store.mass * store.mean_c, store.loss, T_room)
    banked = computed.laws.scaled and design.get("governing") == "free"
    return mixed_year(
        weather, field, vessel, inputs.T_top, inputs.T_stop, around.power, computed.engine_map, warm_up,
        inputs.T_evap, engine.collector_rise_mixed_K, computed.load.bank_efficiency if banked else None,
    )  # fmt: skip


def evaluate_one(
    design: dict[str, Any], case: Any, weather: Weather | None = None, altitude_m: float = 0.0,
    laws: Laws = CONSTANT, load: Load | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Evaluate one design.

    ``design``: input columns at edge units. ``case``: anything with ``engine``, ``scenario`` and
    ``collectors`` like ``explore.config.schema.Case``. Without ``weather`` the year's figures are nan. ``laws``: the engine
    set; ``constant`` takes the losses of ``case.engine``.
    Return :data:`FIGURES` (nan where not applicable or not computed) and ``feasible``, ``violations``
    (name -> amount, positive: broken) and ``worst_violation`` (the largest amount).
    """
    result: dict[str, Any] = dict.fromkeys(FIGURES, math.nan)
    try:
        computed = evaluate_cycle(design, case, altitude_m, laws, load)
    except InfeasibleError as broken:
        violations = {broken.name: broken.amount}
    except (ArithmeticError, ValueError) as error:
        violations = {f"not computed: {error}": 1.0}
    else:
        violations = computed.violations
        result |= computed.figures
        if weather is not None:
            season = evaluate_year(design, case, computed, weather)
            served = season.served * computed.around.power * 1e-3
            result |= {
                "served_share": season.share,
                "shaft_energy_kWh_per_year": served,
                "longest_unserved_hours": season.longest_unserved,
                "stagnation_hours": season.stagnation_hours,
                "collector_yield_kWh_per_year": season.collected / 3.6e6,
            }
    worst = max(violations.values())
    return {**result, "violations": violations, "worst_violation": worst, "feasible": worst <= 0}
