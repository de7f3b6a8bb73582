"""Store water and boiling at altitude."""

import numpy as np
import pytest

from explore.fluids.water import Water, boiling_temperature
from explore.plant.site import air_pressure


@pytest.fixture(scope="module")
def water():
    """The tabulated store water."""
    return Water.load()


def test_store_water_follows_reference_equation(water):
    """Density, heat capacity and enthalpy at 80 and 95 degC.

    IAPWS R6-95(2018), evaluated at 0.2 MPa with the IAPWS-95 equation; 1 atm and 2 bar differ by 1e-4.
    """
    T = np.array([353.15, 368.15])
    np.testing.assert_allclose(water.density(T), [971.83, 961.93], rtol=1e-4)
    np.testing.assert_allclose(water.heat_capacity(T), [4196.5, 4209.9], rtol=1e-4)
    np.testing.assert_allclose(np.diff(water.enthalpy(T)), [63.05e3], rtol=1e-3)


def test_what_is_no_temperature_has_no_properties(water):
    """NaN stays NaN and disturbs nobody else; beyond the table its ends hold."""
    T = np.array([np.nan, 300.0, -np.inf, np.inf])
    density = water.density(T)
    assert np.isnan(density[0])
    assert density[1] == water.density(T[1:2])[0]
    assert density[2:].tolist() == water.density(np.array([273.16, 373.10])).tolist()


def test_exergy_of_a_litre(water):
    """95 degC water against 15 degC holds 39.40 kJ/kg, 37.90 kJ per hot litre, 10.53 Wh.

    Recomputed from IAPWS R6-95(2018): h1 - h0 - T0 (s1 - s0).
    """
    top, cold = np.array(368.15), np.array(288.15)
    exergy = water.enthalpy(top) - water.enthalpy(cold) - 288.15 * (water.entropy(top) - water.entropy(cold))
    assert float(exergy) == pytest.approx(39.40e3, rel=2e-3)
    assert float(exergy * water.density(top)) / 3.6e6 == pytest.approx(10.53, rel=2e-3)


def test_temperature_inverts_enthalpy(water):
    """Temperature from enthalpy gives back the temperature."""
    T = np.linspace(275.0, 372.0, 50)
    np.testing.assert_allclose(water.temperature(water.enthalpy(T)), T, atol=1e-6)


def test_boiling_temperature():
    """Boiling at 0.1 MPa is 372.755919 K, IAPWS R7-97(2012), Table 36."""
    assert boiling_temperature(0.1e6) == pytest.approx(372.755919, abs=1e-6)


def test_standard_atmosphere():
    """89 874.6 Pa at 1000 m and 54 019.9 Pa at 5000 m, ICAO Doc 7488, table of the standard atmosphere."""
    assert air_pressure(1000.0) == pytest.approx(89_874.6, rel=2e-5)
    assert air_pressure(5000.0) == pytest.approx(54_019.9, rel=1e-4)
