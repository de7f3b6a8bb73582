"""The bill of materials, the annuity and the cost of a kilowatt-hour."""

from __future__ import annotations

import numpy as np
import pytest

from explore.config.schema import Costs
from explore.judgement import bill
from explore.plant.parts.engine import ENGINE_EXPONENT
from explore.plant.parts.part import Sizes, scaled_cost

PLANT = {
    "collector_price_EUR_per_m2": 230.0,
    "collector_area_m2": 6.0,
    "store_volume_L": 500.0,
    "insulation_volume_m3": 0.8,
    "boiler_area_m2": 1.2,
    "condenser_area_m2": 1.5,
    "regenerator_area_m2": 0.4,
    "stages": 2,
    "swept_volume_L": 0.7,
    "pressure_levels": 2,
    "charge_kg": 2.5,
    "fluid_price_EUR_per_kg": 4.0,
    "cylinders": 3,
    "cut_off_gear": 1,
    "drive_steps": 0.7,
}

# Capital recovery factors i (1 + i)^n / ((1 + i)^n - 1), as in any table of engineering economy (for
# instance Park, Contemporary Engineering Economics, appendix of interest factors).
RECOVERY = [
    (0.10, 10, 0.162745),
    (0.08, 20, 0.101852),
    (0.05, 20, 0.080243),
    (0.05, 25, 0.070952),
    (0.03, 20, 0.067216),
    (0.06, 5, 0.237396),
]

# What each price acts on, worked out by hand from PLANT; "levels" has two of everything.
BY_HAND = {
    "store_EUR_per_L065": ("store", 500.0**0.65),
    "insulation_EUR_per_m3": ("insulation", 0.8),
    "boiler_EUR_per_m2": ("boiler", 1.2),
    "condenser_EUR_per_m2": ("condenser", 1.5),
    "regenerator_EUR_per_m2": ("regenerator", 0.4),
    "engine_EUR_per_stage": ("engine", 2.0 * 3.0**0.6),
    "cut_off_gear_EUR": ("cut_off_gear", 1.0),
    "drive_EUR_per_ratio_4": ("drive", 0.7),
    "engine_EUR_per_L06": ("engine", 0.7**0.6),
    "boiler_set_EUR_per_level": ("levels", 2.0),
    "receiver_EUR_per_level": ("levels", 2.0),
    "feed_pump_EUR_per_level": ("levels", 2.0),
    "safety_valve_EUR": ("levels", 2.0),
    "instruments_EUR": ("instruments", 1.0),
}


@pytest.mark.parametrize(("rate", "years", "factor"), RECOVERY)
def test_recovery_factor_equals_the_interest_tables(rate, years, factor):
    """The capital recovery factor equals printed tables to their last digit."""
    assert bill.capital_recovery_factor(rate, years) == pytest.approx(factor, abs=6e-7)


def test_recovery_factor_has_the_right_limits():
    """Without interest the n-th part is due each year; over endless years the interest alone."""
    assert bill.capital_recovery_factor(0.0, 15.0) == pytest.approx(1.0 / 15.0, abs=1e-15)
    assert bill.capital_recovery_factor(1e-12, 15.0) == pytest.approx(1.0 / 15.0, rel=1e-9)
    assert bill.capital_recovery_factor(0.04, 1e5) == pytest.approx(0.04, abs=1e-9)


def test_six_tenths_rule():
    """Twice the size costs 1.5157 times as much, ten times 3.981 (Williams, Chem. Eng. 54(12), 1947, 124)."""
    ratio = scaled_cost(500.0, [0.2, 1.0], ENGINE_EXPONENT) / scaled_cost(500.0, 0.1, ENGINE_EXPONENT)
    assert ratio == pytest.approx([1.5157, 3.981], rel=1e-4)


def test_lines_add_up_and_carry_the_agreed_names():
    """The bill has the agreed lines, and fittings are a tenth of all others."""
    lines = bill.bill_lines(Costs(), Sizes(**PLANT))
    assert tuple(lines) == bill.LINES
    others = sum(float(lines[name][0]) for name in bill.LINES if name != "fittings")
    assert float(lines["fittings"][0]) == pytest.approx(0.1 * others, rel=1e-12)
    assert float(bill.total(lines)[0]) == pytest.approx(1.1 * others, rel=1e-12)


@pytest.mark.parametrize("price", BY_HAND)
def test_each_price_acts_on_its_own_line(price):
    """One euro more on a price adds its own quantity to its own line, and fittings on top."""
    line, quantity = BY_HAND[price]
    dearer = Costs(**{price: getattr(Costs(), price) + 1.0})
    before, after = bill.bill_lines(Costs(), Sizes(**PLANT)), bill.bill_lines(dearer, Sizes(**PLANT))
    rise = {name: float((after[name] - before[name])[0]) for name in bill.LINES}
    expected = dict.fromkeys(bill.LINES, 0.0) | {line: quantity, "fittings": 0.1 * quantity}
    assert rise == pytest.approx(expected, abs=1e-9)


def test_a_bank_for_a_day():
    """1 kWh in a battery is 300 EUR; lifted by 10 m it is 36.71 m3 of water, 3671 EUR, at 20 m half of that."""
    assert float(bill.battery_EUR(Costs(), 1.0)) == pytest.approx(300.0)
    assert float(bill.header_tank_m3(1.0, 10.0)) == pytest.approx(36.71, abs=0.005)
    assert float(bill.header_tank_EUR(Costs(), 1.0, 20.0)) == pytest.approx(1835.5, abs=0.5)
    rich, plain = (bill.bill_lines(Costs(), Sizes(**PLANT, bank_EUR=price)) for price in (500.0, 0.0))
    assert float((bill.total(rich) - bill.total(plain))[0]) == pytest.approx(550.0)


def test_one_cylinder_is_billed_as_before():
    """Without more cylinders, gear or drive the engine's line is that of its stages and volume."""
    lines = bill.bill_lines(
        Costs(), Sizes(**(PLANT | {"cylinders": 1, "cut_off_gear": 0, "drive_steps": 0.0}))
    )
    assert float(lines["engine"][0]) == 800.0 + 500.0 * 0.7**0.6
    assert float(sum(lines[name][0] for name in ("cut_off_gear", "drive", "bank"))) == 0.0


def test_collectors_and_charge_are_quantity_times_price():
    """Six square metres at 230 EUR and 2.5 kg at 4 EUR."""
    lines = bill.bill_lines(Costs(), Sizes(**PLANT))
    assert float(lines["collectors"][0]) == pytest.approx(1380.0)
    assert float(lines["charge"][0]) == pytest.approx(10.0)


def test_no_regenerator_costs_nothing():
    """A plant without a regenerator has a zero on that line, not a missing one."""
    assert (
        float(bill.bill_lines(Costs(), Sizes(**(PLANT | {"regenerator_area_m2": 0.0})))["regenerator"][0])
        == 0.0
    )


def test_a_batch_is_billed_like_its_members():
    """Every line is an array over the designs, and each entry is what the design alone would cost."""
    volumes = np.array([100.0, 500.0, 2000.0])
    batch = bill.bill_lines(Costs(), Sizes(**(PLANT | {"store_volume_L": volumes})))
    assert all(line.shape == (3,) for line in batch.values())
    for k, volume in enumerate(volumes):
        alone = bill.bill_lines(Costs(), Sizes(**(PLANT | {"store_volume_L": volume})))
        assert {n: float(v[k]) for n, v in batch.items()} == {n: float(v[0]) for n, v in alone.items()}


def test_store_prices_lie_in_the_published_band():
    """A bare 300 L store with 100 mm of insulation costs 2.3-3.7 EUR/L (Quaschning 2010, section 6.5)."""
    lines = bill.bill_lines(
        Costs(), Sizes(**(PLANT | {"store_volume_L": 300.0, "insulation_volume_m3": 0.36}))
    )
    assert 2.3 <= float((lines["store"] + lines["insulation"])[0]) / 300.0 <= 3.7


def test_annual_cost_is_recovery_plus_maintenance():
    """10 000 EUR at 8 % over 20 years and 3 % maintenance are 1018.52 + 300 EUR a year."""
    costs = Costs(interest_rate=0.08, lifetime_years=20.0, maintenance_fraction=0.03)
    assert float(bill.annual_cost(10_000.0, costs)) == pytest.approx(1318.52, abs=0.01)


def test_shaft_cost_is_empty_without_energy():
    """A plant that serves nothing has no cost per kWh; one that serves 200 kWh for 600 EUR has 3 EUR."""
    result = bill.cost_per_kWh([600.0, 600.0], [200.0, 0.0])
    assert result[0] == pytest.approx(3.0)
    assert np.isnan(result[1])
