"""From configuration values to the model's SI parameters."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from explore import units
from explore.cycle.rated import Plant
from explore.cycle.supply import Machine
from explore.model.tubing import hold_up_L_per_m2, tubing_of
from explore.plant.cylinder import Make
from explore.plant.engine import Losses
from explore.plant.laws import Laws
from explore.plant.losses import CARDLESS_CONDUCTIVITY, CARDLESS_VISCOSITY, Films
from explore.plant.parts import PARTS
from explore.plant.pump import FeedPump

if TYPE_CHECKING:
    from explore.config.schema import Case, Engine


def plant_of(case: Case) -> Plant:
    """Translate configuration values into the model's SI parameters."""
    e, site, demand = case.engine, case.scenario.site, case.scenario.demand
    machine = Machine(
        _constant_losses(e),
        _feed_pump(e),
        e.water_pressure_drop_bar * units.PA_PER_BAR,
        e.water_pump_efficiency,
        units.kelvin(site.cooling_water_temperature_degC),
        site.cooling_water_lift_m,
        cooling_drop_follows_rise=e.cooling_drop_law == "rise",
        vapour_line=tuple(one for part in PARTS for one in part.vapour_line(case)),
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
        load_speed=demand.speed_rev_per_min / 60.0,
        smallest_part_load=e.smallest_part_load,
        power_may_rise=demand.power_may_rise,
        make=Make(
            e.stroke_over_bore,
            1 if e.acting == "single" else 2,
            tuple(sorted(bore / units.MM_PER_M for bore in case.scenario.stock_bores_mm or ())),
            e.one_throw,
        ),
        laws=_laws(e) if e.losses == "scaling" else None,
        films=_films(case),
        tubing=tubing_of(case) if case.exchangers.method == "tubes" else None,
    )


def _feed_pump(e: Engine) -> FeedPump | float:
    if e.pump_law == "constant":
        return e.pump_efficiency
    return FeedPump(
        e.pump_volumetric_efficiency,
        e.pump_drive_efficiency,
        e.pump_packing_bar * units.PA_PER_BAR,
        e.pump_motor_efficiency,
        e.pump_drive,
    )


def losses_of(e: Engine) -> Laws | Losses:
    """Return how an engine loses: laws that scale, or constant shares."""
    return _laws(e) if e.losses == "scaling" else _constant_losses(e)


def _constant_losses(e: Engine) -> Losses:
    return Losses(
        e.admission_pressure_loss,
        e.exhaust_pressure_loss,
        e.clearance_fraction,
        e.leakage_fraction,
        e.wall_loss_per_K,
        e.friction_mean_pressure_bar * units.PA_PER_BAR,
    )


def _laws(e: Engine) -> Laws:
    laws = Laws(
        inlet_port=e.inlet_port_share,
        outlet_port=e.outlet_port_share,
        still_loss=e.valve_base_loss,
        clearance=e.clearance_fraction,
        gap=e.ring_gap_um * 1e-6,
        land=e.ring_length_mm * 1e-3,
        wall=e.wall_factor,
        root_wall=e.wall_root_factor,
        walls="root" if e.wall_law == "root" else "swing",
        friction=e.friction_idle_bar * units.PA_PER_BAR,
        load_friction=e.friction_load_share,
        speed_friction=e.friction_speed_bar_s_per_m * units.PA_PER_BAR,
    )
    return laws.milder_leak() if e.leak_law == "mild" else laws


def _films(case: Case) -> Films:
    """Constants of the catalogue's fluids for the laws of loss, one a card."""
    cards = list(case.fluids.values())
    return Films(
        np.array([card.liquid_conductivity_W_per_mK or CARDLESS_CONDUCTIVITY for card in cards]),
        np.array([card.vapour_viscosity_Pa_s or CARDLESS_VISCOSITY for card in cards]),
    )


def machine_of(case: Case, plant: Plant) -> Engine:
    """Return the machine with the inner volume of its exchangers, that of the tubes where they are known."""
    if plant.tubing is None:
        return case.engine
    return case.engine.model_copy(update=hold_up_L_per_m2(plant.tubing))
