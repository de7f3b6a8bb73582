"""A day's bank behind an engine that runs free: one sum a day, an efficiency, nothing carried over."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from explore.year.season import SeasonResult
from tests import season_designs, season_twin
from tests.scalar import year as scalar
from tests.scalar.part_load import PowerMap
from tests.season_designs import mixed_year

FIGURES = [field.name for field in fields(SeasonResult)]


@pytest.fixture(scope="module")
def summer():
    """Forty days from June, six hours asked for over the day."""
    year = season_designs.greensboro(hours=(7, 11, 12, 13, 14, 20))
    return season_designs.days(year, 150, 40)


def strong(make, n, **values):
    """Return designs whose engine gives up to three times the power asked for, in a bank of 0.85."""
    d = make(n)
    d["power_fraction_grid"] = 3.0 * d["power_fraction_grid"]
    return d | {"power_may_rise": np.full(n, 2.5), "bank_efficiency": np.full(n, 0.85)} | values


@pytest.mark.parametrize("make", [season_designs.mixed_designs, season_designs.small_mixed_designs])
def test_slow_twin(make, summer):
    """All figures equal those of the plain scalar year to 1e-9, with and without a bank in one batch."""
    d = strong(make, 12)
    d["bank_efficiency"][::3], d["power_may_rise"][::3] = np.inf, 1.0
    fast = mixed_year(summer, **d)
    slow = [season_twin.mixed(summer, season_designs.one(d, i)) for i in range(12)]
    for name in FIGURES:
        wanted = np.array([row[name] for row in slow], dtype=float)
        assert_allclose(
            getattr(fast, name), wanted, rtol=1e-9, atol=1e-9 * np.abs(wanted).max(), err_msg=name
        )


def test_scalar_model_has_the_same_rule(summer):
    """Stores so large that both years take an hour in one step, against the independent year.

    Only those seldom near the zero of net work: there the two take the work of an hour as different middles.
    """
    d = strong(season_designs.mixed_designs, 12)
    d["capacity_J_per_K"] = 8.0 * d["capacity_J_per_K"]
    d["start_temperature_K"] = d["floor_temperature_K"] + 20.0
    fast = mixed_year(summer, **d)
    served = np.flatnonzero(fast.served_share > 0.4)
    assert len(served) > 2
    for i in served:
        one = season_designs.one(d, i)
        floor, top = float(one["floor_temperature_K"]), float(one["top_temperature_K"])
        efficiency = np.asarray(one["efficiency_grid"])
        runs = efficiency > 1e-6
        rate = one["power_W"] * np.clip(one["power_fraction_grid"], 0.0, 2.5) / np.maximum(efficiency, 1e-6)
        rate = np.where(runs, rate, rate[np.argmax(runs)])
        engine = PowerMap(floor, (top - floor) / (len(rate) - 1), rate.tolist(), efficiency.tolist())
        kind = int(one["collector_kind"])
        weather = scalar.Weather(
            summer.effective_irradiance[kind].tolist(),
            summer.air_temperature_K.tolist(),
            summer.demand.tolist(),
        )
        field = scalar.CollectorField(
            *(float(one[name]) for name in ("eta0", "a1", "a2", "area_m2", "pipe_loss"))
        )
        vessel = scalar.Vessel(
            float(one["capacity_J_per_K"]), float(one["UA_W_per_K"]), summer.room_temperature_K.tolist()
        )
        season = scalar.mixed_year(
            weather, field, vessel, top, float(one["start_temperature_K"]), float(one["power_W"]), engine,
            float(one["warm_up_J_per_K"]), float(one["evaporating_temperature_K"]), float(one["rise_K"]), 0.85,
        )  # fmt: skip
        assert fast.served_share[i] == pytest.approx(season.share, rel=1e-3)
        assert fast.longest_unserved_hours[i] == season.longest_unserved


def test_the_sum_of_a_day_is_delivered_early(summer):
    """A hot strong engine delivers the day's sum and rests: as much served, at most the sum, heat for 1/0.85 of it."""
    d = strong(season_designs.mixed_designs, 40)
    r = mixed_year(summer, **d)
    assert np.all(r.served_share <= 1.0 + 1e-9)
    assert np.sum(r.served_share > 0.99) > 2
    best = np.max(d["efficiency_grid"], axis=1)
    assert np.all(r.shaft_energy_kWh * 3.6e6 <= 0.85 * r.drawn_J * best * (1.0 + 1e-9))
    weak = mixed_year(summer, **(d | {"power_may_rise": np.ones(40)}))
    assert np.all(weak.served_share <= 0.85 + 1e-9)
    lagging = weak.served_share > 0.0
    assert np.all(weak.longest_unserved_hours[lagging] == np.count_nonzero(summer.demand))
    assert_allclose(r.drawn_J + r.lost_J + r.dumped_J + r.stored_change_J, r.collected_J, rtol=1e-9)


def test_without_a_bank_nothing_changes(summer):
    """The same bits with the bank left out and with one that is not there."""
    d = season_designs.mixed_designs(30)
    plain, none = mixed_year(summer, **d), mixed_year(summer, **d, bank_efficiency=np.inf)
    for name in FIGURES:
        assert_array_equal(getattr(plain, name), getattr(none, name), err_msg=name)
