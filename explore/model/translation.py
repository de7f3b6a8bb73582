"""From configuration values to the model's SI parameters."""

from __future__ import annotations

from typing import TYPE_CHECKING

from explore import units
from explore.cycle.cycle import Machine
from explore.cycle.performance import Plant
from explore.model.tubing import hold_up_L_per_m2, tubing_of
from explore.plant.engine import Losses

if TYPE_CHECKING:
    from explore.config.schema import Case, Engine


def plant_of(case: Case) -> Plant:
    """Translate configuration values into the model's SI parameters."""
    e, site, demand = case.engine, case.scenario.site, case.scenario.demand
    losses = Losses(
        e.admission_pressure_loss,
        e.exhaust_pressure_loss,
        e.clearance_fraction,
        e.leakage_fraction,
        e.wall_loss_per_K,
        e.friction_mean_pressure_bar * units.PA_PER_BAR,
    )
    machine = Machine(
        losses,
        e.pump_efficiency,
        e.water_pressure_drop_bar * units.PA_PER_BAR,
        e.water_pump_efficiency,
        units.kelvin(site.cooling_water_temperature_degC),
        site.cooling_water_lift_m,
        cooling_drop_follows_rise=e.cooling_drop_law == "rise",
    )
    return Plant(
        machine=machine,
        end_approach=e.end_approach_fraction,
        boiler_coefficients={
            "liquid": e.boiler_U_liquid,
            "two_phase": e.boiler_U_two_phase,
            "vapour": e.boiler_U_vapour,
        },
        condenser_coefficients={
            "liquid": e.condenser_U_liquid,
            "two_phase": e.condenser_U_two_phase,
            "vapour": e.condenser_U_vapour,
        },
        regenerator_coefficient=e.regenerator_U,
        coil_coefficients={
            "liquid": e.coil_U_liquid,
            "two_phase": e.coil_U_two_phase,
            "vapour": e.coil_U_vapour,
        },
        insulation_conductivity=e.insulation_conductivity,
        outside_film=e.outside_film,
        fittings=e.fittings_W_per_K,
        joints=e.insulation_joints_factor,
        room_temperature=units.kelvin(site.room_temperature_degC),
        hold_seconds=demand.hold_hours * units.SECONDS_PER_HOUR,
        power=demand.shaft_power_W,
        speed=demand.speed_rev_per_min / 60.0,
        smallest_part_load=e.smallest_part_load,
        tubing=tubing_of(case) if case.exchangers.method == "tubes" else None,
    )


def machine_of(case: Case, plant: Plant) -> Engine:
    """Return the machine with the inner volume of its exchangers, that of the tubes where they are known."""
    if plant.tubing is None:
        return case.engine
    return case.engine.model_copy(update=hold_up_L_per_m2(plant.tubing))
