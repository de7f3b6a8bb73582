"""Collector efficiency and stagnation against published coefficients."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from explore.plant.collector import stagnation_excess, useful_heat

SELECTIVE_FLAT_PLATE = {"eta0": 0.80, "a1": 3.5, "a2": 0.015}

# Efficiency at G = 800 W/m2 and Tm - Ta = 0, 40, 70 K by eta0 - a1 x/G - a2 x^2/G (ISO 9806:2017).
EFFICIENCIES = [
    # Evacuated tube C762: coefficients of the SPF Rapperswil (CH) test report as quoted publicly.
    ({"eta0": 0.623, "a1": 1.52, "a2": 0.0146}, (0.6230, 0.5178, 0.4006)),
    # Selective flat plate, range values of many data sheets (from memory).
    (SELECTIVE_FLAT_PLATE, (0.800, 0.595, 0.4019)),
    # Evacuated tube by aperture area, range values of many data sheets (from memory).
    ({"eta0": 0.72, "a1": 1.2, "a2": 0.006}, (0.720, 0.648, 0.5783)),
]


@pytest.mark.parametrize(("kind", "efficiency"), EFFICIENCIES)
def test_efficiency_of_published_coefficients(kind, efficiency):
    """Published coefficients give the published efficiencies at 800 W/m2."""
    heat = useful_heat(800.0, np.array([0.0, 40.0, 70.0]), **kind)
    assert_allclose(heat / 800.0, efficiency, atol=6e-5)


def test_stagnation_temperature():
    """A selective flat plate at 1000 W/m2 and 30 degC stagnates at 172.1 degC (root of ISO 9806's curve)."""
    assert_allclose(30.0 + stagnation_excess(1000.0, **SELECTIVE_FLAT_PLATE), 172.07, atol=0.005)


def test_no_heat_at_stagnation_and_beyond():
    """At the stagnation temperature the heat is zero, above it stays zero."""
    excess = stagnation_excess(1000.0, **SELECTIVE_FLAT_PLATE)
    assert_allclose(useful_heat(1000.0, excess, **SELECTIVE_FLAT_PLATE), 0.0, atol=1e-9)
    assert useful_heat(1000.0, excess - 0.01, **SELECTIVE_FLAT_PLATE) > 0.01
    assert_array_equal(useful_heat(1000.0, excess + np.array([1.0, 50.0]), **SELECTIVE_FLAT_PLATE), 0.0)


def test_stagnation_without_quadratic_loss():
    """Without a2 the stagnation excess is eta0 G / a1, without sun it is zero."""
    assert_allclose(stagnation_excess([700.0, 0.0], eta0=0.8, a1=4.0, a2=0.0), [140.0, 0.0])


def test_stagnation_without_loss_is_unbounded():
    """A collector that loses nothing has no stagnation temperature."""
    assert np.isposinf(stagnation_excess(700.0, eta0=0.8, a1=0.0, a2=0.0))
