"""The model's default parameters, written down a second time so that none changes unnoticed."""

from dataclasses import asdict

import pytest

from explore.config.compose import load_scenario
from explore.config.schema import Costs, Demand, Limits
from explore.model.translation import plant_of
from explore.plant.engine import Losses
from explore.plant.laws import Laws
from tests.engines import engine_set

ENGINE = {
    "pump_efficiency": 0.6,
    "admission_pressure_loss": 0.04,
    "exhaust_pressure_loss": 0.04,
    "clearance_fraction": 0.06,
    "leakage_fraction": 0.05,
    "wall_loss_per_K": 0.002,
    "friction_mean_pressure_bar": 0.15,
    "end_approach_fraction": 0.5,
    "water_pressure_drop_bar": 0.2,
    "water_pump_efficiency": 0.35,
    "boiler_U_liquid": 300.0,
    "boiler_U_two_phase": 700.0,
    "boiler_U_vapour": 60.0,
    "condenser_U_liquid": 300.0,
    "condenser_U_two_phase": 600.0,
    "condenser_U_vapour": 60.0,
    "insulation_conductivity": 0.035,
    "outside_film": 10.0,
    "fittings_W_per_K": 0.3,
    "pipe_loss_fraction": 0.03,
    "collector_rise_mixed_K": 3.0,
    "warm_up_kJ_per_K_per_stage": 8.0,
    "smallest_part_load": 0.2,
}


FILMS = {
    "boiler_hold_up_L_per_m2": 2.1,
    "condenser_hold_up_L_per_m2": 2.1,
    "boiler_U_liquid": 165.0,
    "boiler_U_two_phase": 600.0,
    "boiler_U_vapour": 190.0,
    "coil_U_liquid": 145.0,
    "coil_U_two_phase": 425.0,
    "coil_U_vapour": 160.0,
    "condenser_U_liquid": 35.0,
    "condenser_U_two_phase": 450.0,
    "condenser_U_vapour": 100.0,
}


@pytest.mark.parametrize(("name", "value"), FILMS.items())
def test_coefficient_of_the_careful_engine(name, value):
    """Each is the median that tubes give (tests/benchmarks/tube_coefficients.py), or what a tube at hand holds."""
    assert getattr(engine_set("careful"), name) == value


@pytest.mark.parametrize(("name", "value"), ENGINE.items())
def test_engine_default(name, value):
    """Each loss and coefficient has the value the model was agreed on."""
    assert getattr(engine_set("constant"), name) == value


def test_defaults_of_scenario_and_prices():
    """Speed, holding time, standstill margin, the exponents' companions and the rates of the bill."""
    assert Demand().speed_rev_per_min == 300.0
    assert Demand().hold_hours == 12.0
    assert Limits().standstill_margin_K == 5.0
    assert Costs().fittings_fraction == 0.10


def test_parameters_reach_the_model_in_si(orchard):
    """Configuration values arrive in the model as SI values."""
    constant = plant_of(orchard.model_copy(update={"engine": engine_set("constant")}))
    assert constant.laws is None
    assert constant.machine.losses == Losses()
    plant = plant_of(orchard)
    assert plant.laws is not None
    arrived, careful = asdict(plant.laws), asdict(Laws.careful())
    assert arrived.keys() == careful.keys()
    for name, value in careful.items():
        wanted = value if isinstance(value, str) else pytest.approx(value, rel=1e-12)
        assert arrived[name] == wanted, name
    assert plant.machine.cooling_water_temperature == pytest.approx(287.15)
    assert plant.machine.cooling_water_lift == 6.0
    assert plant.machine.water_pressure_drop == 0.2e5
    assert plant.load_speed == 5.0
    assert plant.hold_seconds == 12 * 3600.0
    assert plant.power == 250.0


def test_what_exchangers_hold_is_what_the_tubes_at_hand_hold():
    """Volume over outside area of a tube, d²/(4 D): the default engine's rounded to a tenth."""
    from explore.model.tubing import hold_up_L_per_m2, tubing_of

    for name, volume in hold_up_L_per_m2(tubing_of(load_scenario("orchard"))).items():
        assert getattr(engine_set("careful"), name) == pytest.approx(volume, abs=0.05)
