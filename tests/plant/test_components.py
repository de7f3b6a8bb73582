"""Store, pumps, heat exchange and the root finder, each on its own."""

import numpy as np
import pytest

from explore.fluids.table_fluid import Stack
from explore.fluids.water import Water
from explore.plant import boiler, condenser, exchange, pump, store
from explore.plant.roots import falling_root


def test_loss_of_an_insulated_store():
    """A 498 L store, 0.65 m wide and 1.5 m high, under 100 mm of 0.035 W/(m K): 1.407 W/K from its parts.

    Recomputed from the layers of Bergman et al., Fundamentals of Heat and Mass Transfer, ch. 3, at an outside film of
    8 W/(m2 K); the store here is slimmer (height two diameters), so its parts are compared, not the sum.
    """
    volume, t, k, film = np.array([0.4]), np.array([0.1]), 0.035, 8.0
    r1 = float(store.radius(volume)[0])
    assert np.pi * r1**2 * 4 * r1 == pytest.approx(0.4)
    shell = 2 * np.pi * 4 * r1 / (np.log((r1 + 0.1) / r1) / k + 1.0 / (film * (r1 + 0.1)))
    ends = 2 * np.pi * r1**2 / (0.1 / k + 1.0 / film)
    assert float(store.loss_coefficient(volume, t, k, film, 0.0)[0]) == pytest.approx(shell + ends)
    assert float(store.loss_coefficient(volume, t, k, film, 0.3)[0]) == pytest.approx(shell + ends + 0.3)


def test_unheated_store_cools():
    """481 kg, UA 1.407 W/K, 95 degC in 20 degC: 90.61 degC after 24 h (lumped cooling, closed form)."""
    held = store.held_temperature(
        np.array([1.407]), np.array([368.15]), 293.15, 86_400.0, np.array([481 * 4190.0])
    )
    assert float(held[0]) - 273.15 == pytest.approx(90.61, abs=0.01)


def test_hot_layer_shrinks():
    """A hot layer that loses a tenth of its drawable heat shrinks by exp(-0.1)."""
    left = store.held_fraction(
        np.array([1.0]), np.array([360.0]), 290.0, 1000.0, np.array([10.0]), np.array([70e3])
    )
    assert float(left[0]) == pytest.approx(np.exp(-0.1))


def test_insulation_volume():
    """Insulation of a store is the larger cylinder less the smaller."""
    v = store.insulation_volume(np.array([0.4]), np.array([0.1]))
    r = (0.4 / (4 * np.pi)) ** (1 / 3)
    assert float(v[0]) == pytest.approx(np.pi * (r + 0.1) ** 2 * (4 * r + 0.2) - 0.4)


def test_feed_work():
    """3.03 kJ/kg to pump 1.037e-3 m3/kg from 75 kPa to 3 MPa: Cengel and Boles, Thermodynamics, Ex. 10-1."""
    work = pump.feed_work(np.array([1.037e-3]), np.array([75e3]), np.array([3e6]), 1.0)
    assert float(work[0]) == pytest.approx(3.03e3, rel=2e-3)


def test_suction_head():
    """A bar of subcooling over 600 kg/m3 is 17 m of head."""
    head = pump.suction_head(np.array([3e5]), np.array([2e5]), np.array([1 / 600.0]), 0.5)
    assert float(head[0]) == pytest.approx(1e5 / 600.0 / 9.80665 + 0.5)


def test_circulation_work_counts_lift_and_pressure():
    """Lifting a kilogram 6 m costs g z over the pump's efficiency, beside the pressure drop."""
    work = pump.circulation_work(np.array([2.0]), np.array([1e-3]), 0.2e5, 6.0, 0.35)
    assert float(work[0]) == pytest.approx(2.0 * (20.0 + 9.80665 * 6.0) / 0.35)


def test_cooling_drop_keeps_within_its_bounds():
    """0.2 bar at 10 K is 0.8 bar at 5 K, no more than 1 bar at 2 K and no less than 0.05 bar at 40 K."""
    found = pump.cooling_drop(np.array([10.0, 5.0, 2.0, 40.0]), 0.2e5)
    np.testing.assert_allclose(found, [0.2e5, 0.8e5, 1.0e5, 0.05e5])


def test_log_mean_of_equal_ends():
    """Equal ends give their difference without 0/0; 100-60 against 30-40.2 degC gives 43.2004 K.

    Bergman et al., Fundamentals of Heat and Mass Transfer, Ex. 11.1 (oil cooler, counterflow).
    """
    assert float(exchange.log_mean(np.array([20.0]), np.array([20.0]))[0]) == 20.0
    assert float(exchange.log_mean(np.array([59.8]), np.array([30.0]))[0]) == pytest.approx(43.2004, abs=1e-4)


def test_boiler_pinch_holds():
    """The flow raised takes exactly the heat of the water between the top and the pinch."""
    fluid, water = Stack.of(("n-Butane",)).bind(np.zeros(1, dtype=int)), Water.load()
    T, p = np.array([340.0]), fluid.saturation_pressure(np.array([340.0]))
    sat, out = fluid.saturation(p), fluid.superheated(p, np.array([4.0]))
    zero = np.zeros(1)
    level = boiler.Level(
        T,
        p,
        sat.h_liquid,
        sat.s_liquid,
        sat.v_liquid,
        sat.h_vapour,
        out.enthalpy,
        out.entropy,
        T + 4.0,
        zero,
        T,
        T,
    )
    (flow,) = boiler.flows(water, np.array([363.15]), [level], np.array([3.0]))
    given = water.enthalpy(np.array([363.15])) - water.enthalpy(np.array([343.0]))
    assert float(flow[0] * (out.enthalpy[0] - sat.h_liquid[0])) == pytest.approx(float(given[0]))


def test_condenser_heat_meets_cooling_water():
    """All heat given up by the exhaust is found in the cooling water, and the pinch stands at the dew point."""
    fluid, water = Stack.of(("n-Butane",)).bind(np.zeros(1, dtype=int)), Water.load()
    T_c = np.array([298.15])
    p = fluid.saturation_pressure(T_c)
    sat = fluid.saturation(p)
    exhaust = fluid.superheated(p, np.array([20.0]))
    liquid = fluid.liquid(p, T_c - 3.0)
    done = condenser.condense(
        water,
        (exhaust.temperature, exhaust.enthalpy),
        (T_c, sat.h_vapour),
        sat.h_liquid,
        (liquid.temperature, liquid.enthalpy),
        np.array([4.0]),
        287.15,
    )
    zones = sum(float(z.heat[0]) for z in done.zones)
    assert zones == pytest.approx(float(exhaust.enthalpy[0] - liquid.enthalpy[0]))
    rise = water.enthalpy(done.outlet_temperature) - water.enthalpy(np.array([287.15]))
    assert float(done.water_flow[0] * rise[0]) == pytest.approx(zones, rel=1e-6)
    assert float(done.zones[1].hot_difference[0]) == pytest.approx(4.0)


def test_regenerator_gives_what_it_takes():
    """Heat leaves the exhaust, enters the feed, and never past the bubble point."""
    fluid = Stack.of(("n-Pentane",)).bind(np.zeros(1, dtype=int))
    p_c, p_e = (fluid.saturation_pressure(np.array([T])) for T in (300.0, 345.0))
    exhaust = fluid.superheated(p_c, np.array([30.0])).enthalpy
    feed = fluid.liquid(p_e, np.array([300.0])).enthalpy
    done = exchange.regenerate(fluid, np.array([0.7]), exhaust, p_c, feed, p_e)
    assert float(done.heat[0]) > 0.0
    assert float(done.feed_enthalpy[0] - feed[0]) == pytest.approx(
        float(exhaust[0] - done.exhaust_enthalpy[0])
    )
    assert float(done.feed_enthalpy[0]) <= float(fluid.saturation(p_e).h_liquid[0])


def test_root_finder_meets_roots_and_ends():
    """Roots inside the bracket are met to rounding; without one the nearer end is returned."""
    root = np.array([0.3, 1.7, 5.0, -2.0])

    def f(x):
        return np.tanh(root - x) + 0.1 * (root - x)

    x = falling_root(f, np.zeros(4), np.full(4, 2.0), np.ones(4), -1.0, 30)
    np.testing.assert_allclose(x[:2], root[:2], atol=1e-10)
    np.testing.assert_allclose(x[2:], [2.0, 0.0], atol=1e-6)


def test_cooling_water_warms_by_a_tenth_of_a_kelvin_at_least():
    """However cold the condenser: much water flows, and none backwards."""
    dew, pinch = np.array([290.0, 291.05, 300.0]), np.full(3, 4.0)
    _, (pinched, _) = condenser.cold_side(Water.load(), dew, pinch, 287.0)
    np.testing.assert_allclose(pinched, [287.1, 287.1, 296.0])
