"""What the plant does and costs, written as figures: from arrays in SI and kelvin to columns in edge units."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from explore import units
from explore.cycle.rated import LEAST_WORK
from explore.cycle.sizing import sizing_temperature
from explore.figures.catalogue import TUBE_FIGURES
from explore.judgement import bill, hazards, vessels
from explore.judgement.owned import lacking
from explore.model.translation import machine_of
from explore.plant import pump, store
from explore.plant.governor import GOVERNORS, drive_efficiency, drive_steps
from explore.plant.losses import MEASURED_PRESSURE
from explore.plant.parts.part import Contents, Sizes

if TYPE_CHECKING:
    from explore.config.schema import Case
    from explore.cycle.performance import Performance
    from explore.cycle.rated import Plant
    from explore.design.designs import Designs
    from explore.fluids.interface import Array, WorkingFluid
    from explore.fluids.water import Water

Columns = dict[str, np.ndarray]


def cycle(plant: Plant, water: Water, designs: Designs, done: Performance) -> Columns:
    """Work, efficiencies and flows of the cycle [edge units], each (n,), by the names of the catalogue."""
    rated = done.rated
    cold = plant.machine.cooling_water_temperature
    top = designs.top_temperature
    t0 = np.full_like(top, cold)
    exergy = water.density(top) * (
        water.enthalpy(top) - water.enthalpy(t0) - cold * (water.entropy(top) - water.entropy(t0))
    )
    kJ = units.J_PER_KJ
    per_litre = done.work_per_volume / units.L_PER_M3 / kJ
    return {
        "work_per_litre_kJ": per_litre,
        "work_per_litre_Wh": per_litre / 3.6,
        "exergy_per_litre_kJ": exergy / units.L_PER_M3 / kJ,
        "second_law_efficiency": done.work_per_volume / exergy,
        "thermal_efficiency": rated.net_work / rated.heat,
        "isentropic_efficiency": rated.isentropic_efficiency,
        "back_work_ratio": rated.pump_work / np.maximum(rated.shaft_work, LEAST_WORK),
        "exhaust_quality": rated.exhaust_quality,
        "net_work_kJ_per_kg": rated.net_work / kJ,
        "shaft_work_kJ_per_kg": rated.shaft_work / kJ,
        "pump_work_kJ_per_kg": rated.pump_work / kJ,
        "circulation_work_kJ_per_kg": rated.circulation_work / kJ,
        "water_per_fluid_kg": np.where(designs.stratified, rated.hot_water, np.nan),
        "cooling_water_per_fluid_kg": rated.cooling_water,
        "return_temperature_degC": units.celsius(rated.return_temperature),
        "held_fraction": done.circulation.held_fraction,
        "held_temperature_degC": units.celsius(done.discharge.held_temperature),
        "store_loss_W_per_K": done.store.loss,
    }


def machine(case: Case, plant: Plant, fluid: WorkingFluid, designs: Designs, done: Performance) -> Columns:
    """Cylinders, areas, flows, suction head and charge, each (n,)."""
    out: Columns = {}
    engine, stages, areas = done.engine, done.stages, done.exchangers.areas
    for j in range(3):
        swept, bore, stroke = (x[:, j] for x in (engine.swept_volumes, engine.bores, engine.strokes))
        out |= {
            f"volume_ratio_{j + 1}": stages.volume_ratios[:, j],
            f"swept_volume_{j + 1}_L": swept * units.L_PER_M3,
            f"bore_{j + 1}_mm": bore * units.MM_PER_M,
            f"stroke_{j + 1}_mm": stroke * units.MM_PER_M,
            f"piston_speed_{j + 1}_m_per_s": 2.0 * stroke * designs.speed,
            f"receiver_pressure_{j + 1}_bar_a": units.bar(stages.inlet_pressures[:, j]),
            f"stage_work_{j + 1}_kJ_per_kg": stages.works[:, j] / units.J_PER_KJ,
        }
    flow = engine.flow
    return out | {
        "boiler_area_m2": areas.boiler,
        "condenser_area_m2": areas.condenser,
        "regenerator_area_m2": np.where(designs.regenerator_effectiveness > 0, areas.regenerator, np.nan),
        "fluid_flow_kg_per_s": flow,
        "hot_water_flow_kg_per_s": np.where(designs.stratified, flow * done.rated.hot_water, np.nan),
        "cooling_water_flow_kg_per_s": done.exchangers.cooling_water,
        "suction_head_m": pump.suction_head(
            done.pressures.condenser,
            done.pressures.suction,
            done.pressures.suction_volume,
            case.scenario.site.pump_static_head_m,
        ),
        **_charge(case, plant, fluid, designs, done),
    }


def _charge(case: Case, plant: Plant, fluid: WorkingFluid, designs: Designs, done: Performance) -> Columns:
    areas, densities = done.exchangers.areas, done.densities
    contents = Contents(
        boiler_area_m2=areas.boiler,
        condenser_area_m2=areas.condenser,
        regenerator_area_m2=np.nan_to_num(areas.regenerator),
        swept_volumes_L=done.engine.swept_volumes.T * units.L_PER_M3,
        boiler_liquid_kg_per_m3=densities.boiler_liquid,
        boiler_vapour_kg_per_m3=densities.boiler_vapour,
        condenser_liquid_kg_per_m3=densities.condenser_liquid,
        condenser_vapour_kg_per_m3=densities.condenser_vapour,
        receiver_vapour_kg_per_m3=densities.receivers.T,
    )
    charge = hazards.charge_kg(machine_of(case, plant), contents)
    present, first, place = np.unique(designs.fluid, return_index=True, return_inverse=True)
    cards = list(case.fluids.values())
    allowed = [
        hazards.allowed_concentration_kg_per_m3(cards[number], float(mass), cards)
        for number, mass in zip(present, fluid.molar_mass[first], strict=True)
    ]
    room = hazards.room_volume_needed_m3(charge, np.array(allowed)[place])
    return {"charge_kg": charge, "room_volume_needed_m3": np.where(room > 0, room, np.nan)}


def running(
    plant: Plant, fluid: WorkingFluid, fault_temperature: float, designs: Designs, done: Performance
) -> Columns:
    """How the engine runs, what it loses, what its safety valve must pass with the store at the fault [K], each (n,)."""
    out: Columns = {}
    for k, state in enumerate(("full", "rated", "size")):
        speed, power = done.running.speeds[:, k], done.running.powers[:, k]
        out |= {
            f"speed_{state}_rev_per_min": 60.0 * speed,
            f"torque_{state}_Nm": power / (2.0 * np.pi * speed),
            f"power_{state}_W": power,
        }
    sizing = sizing_temperature(designs)
    middle = 0.5 * (designs.top_temperature + designs.stop_temperature)
    law, low = plant.machine.feed_pump, done.pressures.condenser
    if isinstance(law, pump.FeedPump):
        pumps = pump.feed_efficiency(law, low, done.pressures.lowest_boiler)
    else:
        pumps = np.full_like(low, law)
    out |= {
        "rated_store_temperature_degC": units.celsius(middle),
        "sizing_store_temperature_degC": units.celsius(sizing),
        "drive_efficiency": drive_efficiency(designs.speed, plant.load_speed),
        "pump_efficiency": pumps,
    }
    for j in range(3):
        out |= {
            f"leakage_{j + 1}_fraction": done.stages.leakages[:, j],
            f"wall_loss_{j + 1}_fraction": done.stages.wall_shares[:, j],
            f"friction_{j + 1}_bar": units.bar(done.stages.frictions[:, j]),
        }
    sat = fluid.saturation(done.pressures.boiler)
    heat = (
        done.exchangers.areas.boiler * _boiling(plant, designs, done) * (fault_temperature - sat.temperature)
    )
    measured = done.stages.inlet_pressures[:, 0] >= MEASURED_PRESSURE
    return out | {
        "relief_capacity_kg_per_s": vessels.relief_capacity_kg_per_s(heat, sat.h_vapour - sat.h_liquid),
        "outside_measured": np.where((plant.laws is None) | measured, 0.0, 1.0),
    }


def _boiling(plant: Plant, designs: Designs, done: Performance) -> Array:
    """Coefficient of heat transfer of the boiling zone [W/(m2 K)], (n,): of the tubes where they are known."""
    if plant.tubing is not None:
        return done.exchangers.tubes.figures[:, TUBE_FIGURES.index("boiler_U_two_phase_W_per_m2K")]
    coil, boiler = plant.coil_coefficients, plant.boiler_coefficients
    return np.where(designs.stratified, boiler["two_phase"], coil["two_phase"])


def costs(case: Case, plant: Plant, designs: Designs, out: Columns) -> Columns:
    """Lines of the bill, their sum [EUR], cost a year and a kWh, each (n,), from the figures ``out`` worked out before."""
    prices, cards = case.costs, list(case.fluids.values())
    kinds = list(case.collectors.values())
    swept = np.nansum([out[f"swept_volume_{j}_L"] for j in (1, 2, 3)], axis=0)
    size = Sizes(
        collector_price_EUR_per_m2=np.array([k.price_EUR_per_m2 for k in kinds])[designs.collector],
        collector_area_m2=designs.collector_area,
        store_volume_L=designs.volume * units.L_PER_M3,
        insulation_volume_m3=store.insulation_volume(designs.volume, designs.insulation),
        boiler_area_m2=out["boiler_area_m2"],
        condenser_area_m2=out["condenser_area_m2"],
        regenerator_area_m2=np.nan_to_num(out["regenerator_area_m2"]),
        stages=designs.stages,
        swept_volume_L=swept,
        pressure_levels=designs.levels,
        charge_kg=out["charge_kg"],
        fluid_price_EUR_per_kg=np.array([c.price_EUR_per_kg for c in cards])[designs.fluid],
        cylinders=designs.cylinders,
        cut_off_gear=~designs.stratified & (designs.governing == GOVERNORS.index("cut_off")),
        drive_steps=drive_steps(designs.speed, plant.load_speed),
        bank_EUR=np.where(
            ~designs.stratified & (designs.governing == GOVERNORS.index("free")), _bank_price(case), 0.0
        ),
        vapour_line=tuple(one.part for one in plant.machine.vapour_line),
    )
    owned = case.scenario.owned
    same_collector = np.array([kind.name == owned.collector for kind in kinds])[designs.collector]
    same_fluid = np.array([card.name == owned.fluid for card in cards])[designs.fluid]
    lines = bill.bill_lines(prices, lacking(size, owned, same_collector, same_fluid))
    total = bill.total(lines)
    annual = bill.annual_cost(total, prices)
    return {f"cost_{name}_EUR": values for name, values in lines.items()} | {
        "cost_EUR": total,
        "annual_cost_EUR": annual,
        "cost_EUR_per_kWh": bill.cost_per_kWh(annual, out["shaft_energy_kWh_per_year"]),
    }


def _bank_price(case: Case) -> float:
    """Price [EUR] of what takes a day's work of an engine that runs free, none where there is no bank."""
    demand, costs = case.scenario.demand, case.costs
    if demand.bank == "none":
        return 0.0
    day_kWh = demand.shaft_power_W * len(demand.hours) * units.SECONDS_PER_HOUR / units.J_PER_KWH
    if demand.bank_kind == "battery":
        return float(bill.battery_EUR(costs, day_kWh))
    return float(bill.header_tank_EUR(costs, day_kWh, demand.bank_head_m))
