"""Limits and figures that come with an engine whose losses follow from its cylinders."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import explore
from explore.config.compose import load_scenario
from tests.system.test_limits import MIXED, STRATIFIED

DRIVEN = {"cylinders_per_stage": 1, "sizing_share": 0.25, "speed_rev_per_min": 300.0}
NEW = (
    "engine_residual_fraction",
    "port_mach_fraction",
    "sizing_temperature_K",
    "suction_head_m",
    "stroke_fraction",
)


@pytest.fixture(scope="module")
def careful():
    """The orchard with the engine whose losses scale."""
    return load_scenario("orchard", ["engine=careful"])


def demanding(case, **demand):
    """The case with another demand."""
    wanted = case.scenario.demand.model_copy(update=demand)
    return case.model_copy(update={"scenario": case.scenario.model_copy(update={"demand": wanted})})


def outcome(case, *designs):
    """Evaluate designs; returns the table."""
    return explore.evaluate(pd.DataFrame([DRIVEN | one for one in designs]), case)


def test_margins_of_an_engine_that_scales(careful):
    """Sizing temperature against the held one, suction head against the pump's, residual and port within bounds."""
    thin = MIXED | {"governing": "throttle", "insulation_mm": 5.0, "sizing_share": 0.9}
    flat = STRATIFIED | {"governing": "throttle"}
    out = outcome(careful, MIXED | {"governing": "throttle"}, thin, flat)
    size = 52.0 + np.array([0.25, 0.9]) * (91.0 - 52.0)
    np.testing.assert_allclose(
        out["violation_sizing_temperature_K"][:2], size - out["held_temperature_degC"][:2], atol=1e-9
    )
    assert out["violation_sizing_temperature_K"][1] > 0.0
    assert np.isnan(out["violation_sizing_temperature_K"][2])
    need = careful.engine.pump_required_head_m
    np.testing.assert_allclose(out["violation_suction_head_m"], need - out["suction_head_m"])
    assert np.all(out["violation_engine_residual_fraction"] < 0.0)
    assert np.all(out["violation_stroke_fraction"] == -0.5)
    assert np.all(out["violation_numbers_count"] == 0.0)


def test_a_fast_engine_chokes(careful):
    """At 10,000 rev/min the admission port passes its Mach index."""
    out = outcome(careful, STRATIFIED, STRATIFIED | {"speed_rev_per_min": 10_000.0})
    assert out["violation_port_mach_fraction"][0] < 0.0 < out["violation_port_mach_fraction"][1]


def test_stock_bores_give_strokes_that_are_refused(careful):
    """A bore much too large leaves a short stroke."""
    scenario = careful.scenario.model_copy(update={"stock_bores_mm": (70.0,)})
    out = outcome(careful.model_copy(update={"scenario": scenario}), STRATIFIED)
    ratio = min(out[f"stroke_{j}_mm"][0] / out[f"bore_{j}_mm"][0] for j in (1, 2))
    assert out["violation_stroke_fraction"][0] == pytest.approx(0.5 - ratio)
    assert ratio < 0.5


def test_the_load_decides_on_the_governor(careful, orchard):
    """Falling speed and free running only where the load takes them; constant losses always let the speed fall."""
    kinds = [MIXED | {"governing": how} for how in ("throttle", "cut_off", "speed", "free")]
    assert list(outcome(careful, *kinds)["violation_governing_count"]) == [0.0, 0.0, 1.0, 1.0]
    easy = demanding(careful, speed_may_fall=True, bank="day")
    assert list(outcome(easy, *kinds)["violation_governing_count"]) == [0.0] * 4
    assert outcome(orchard, kinds[2])["violation_governing_count"][0] == 0.0
    assert outcome(orchard, kinds[3])["violation_governing_count"][0] == 1.0
    assert np.isnan(outcome(careful, STRATIFIED)["violation_governing_count"][0])


def test_a_fault_above_the_critical_point_is_refused(orchard):
    """Water boils at 99.1 degC (260 m up): above propane's 96.74 degC, far below n-butane's."""
    out = outcome(orchard, STRATIFIED, STRATIFIED | {"fluid": "n-Propane"})
    boiling = explore.model.Evaluator(orchard).boiling_temperature
    np.testing.assert_allclose(
        out["violation_fault_temperature_K"], [boiling - 425.125, boiling - 369.89], atol=0.02
    )
    assert not out["feasible"][1]


def test_constant_losses_bring_no_other_limit(orchard):
    """With constant losses the suction head stays a remark and nothing new can bind."""
    out = outcome(orchard, MIXED, STRATIFIED)
    assert not [name for name in NEW if f"violation_{name}" in out]
