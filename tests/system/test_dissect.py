"""One design taken apart: states, curves, diagrams and accounts agree with its figures."""

import numpy as np
import pytest

from explore.model.dissect import dissect, dome


@pytest.fixture(scope="module")
def apart(evaluator, designs):
    """Random designs that work, their figures and their parts."""
    columns = designs(500, 31)
    out = evaluator.evaluate(columns)
    physical = [
        v for k, v in out.items() if k.startswith("violation_") and "served" not in k and "peak" not in k
    ]
    ok = np.flatnonzero(np.all([~(v > 0) for v in physical], axis=0))[:40]
    some = {k: v[ok] for k, v in columns.items()}
    return some, {k: v[ok] for k, v in out.items()}, dissect(evaluator, some)


def state(parts, place):
    """The state point at a place."""
    return next(s for s in parts["states"] if s["place"] == place)


def test_states_carry_the_reported_pressures(apart):
    """Boiler and condenser pressures of the states are those of the figures."""
    some, out, parts = apart
    for i, part in enumerate(parts):
        assert state(part, "boiler 1 outlet")["p_bar_a"] == pytest.approx(
            out["boiler_pressure_bar_a"][i], rel=1e-5
        )
        last = f"stage {int(some['stages'][i])} outlet"
        assert state(part, last)["p_bar_a"] == pytest.approx(out["condenser_pressure_bar_a"][i], rel=1e-5)
        assert state(part, "condenser outlet")["T_degC"] == pytest.approx(
            some["condensing_temperature_degC"][i] - some["subcooling_K"][i], abs=1e-3
        )


def test_indicator_areas_are_the_indicated_work(apart, evaluator):
    """The loop's area, times speed, over what leakage and walls leave, is the power asked for and its losses."""
    _, out, parts = apart
    for i, part in enumerate(parts):
        for j, loop in enumerate(part["indicator"], start=1):
            V, p = np.array(loop["V_L"]), np.array(loop["p_bar_a"])
            assert V[0] == pytest.approx(V[-1], rel=1e-4)
            assert max(V) - min(V) == pytest.approx(out[f"swept_volume_{j}_L"][i], rel=1e-4)
            assert (
                -np.sum(0.5 * (V[1:] + V[:-1]) * np.diff(p)) > -1e-6
                or out[f"stage_work_{j}_kJ_per_kg"][i] < 0
            )


def test_curves_keep_their_pinch(apart):
    """Water stays above the fluid in the boilers and below it in the condenser."""
    _, _, parts = apart
    for part in parts:
        for curve in part["boilers"]:
            gap = np.array(curve["water_T_degC"]) - np.array(curve["fluid_T_degC"])
            assert gap.min() > 0.4
            assert np.all(np.diff(curve["q_kJ_per_kg"]) >= 0.0)
        gap = np.array(part["condenser"]["fluid_T_degC"]) - np.array(part["condenser"]["water_T_degC"])
        assert gap.min() > 0.4


def test_exergy_and_sunlight_accounts_sum(apart):
    """Both accounts sum to what they are supplied."""
    _, _, parts = apart
    for part in parts:
        gone = sum(a["destroyed_kJ_per_kg"] for a in part["exergy"]["accounts"])
        assert part["exergy"]["supplied_kJ_per_kg"] == pytest.approx(
            part["exergy"]["work_kJ_per_kg"] + gone, rel=1e-4
        )
        sun = part["sunlight"]
        gone = sum(a["destroyed_kJ_per_L"] for a in sun["destroyed"]) + sun["rejected_kJ_per_L"]
        assert sun["sunlight_kJ_per_L"] == pytest.approx(sun["work_kJ_per_L"] + gone, rel=1e-6)


def test_months_sum_to_the_year(apart):
    """Shaft energy of the months is that of the year; the map has twelve rows of twenty-four hours."""
    _, out, parts = apart
    for i, part in enumerate(parts):
        assert sum(part["months"]["shaft_energy_kWh"]) == pytest.approx(
            out["shaft_energy_kWh_per_year"][i], rel=1e-4, abs=1e-6
        )
        assert [len(row) for row in part["served"]] == [24] * 12
        assert part["served"][0] == [None] * 24


def test_dome_closes_at_the_critical_point():
    """The lines of the dome meet at the critical point (butane: 425.125 K, Buecker and Wagner 2006), without a flat top."""
    lines = dome("n-Butane")
    liquid, vapour = np.array(lines["s_liquid_kJ_per_kgK"]), np.array(lines["s_vapour_kJ_per_kgK"])
    assert lines["T_degC"][-1] == pytest.approx(425.125 - 273.15, abs=0.01)
    assert vapour[-1] == liquid[-1]
    assert vapour[-2] - liquid[-2] < 0.05 * (vapour[0] - liquid[0])
    assert (np.diff(liquid) > 0).all()


def test_states_have_places_of_their_own_on_the_schematic(apart):
    """Every state of a pure fluid is marked, none where another is, all within the drawing of 980 by 500."""
    _, _, parts = apart
    for part in parts:
        spots = [tuple(state["at"]) for state in part["states"]]
        assert len({spot[:2] for spot in spots}) == len(spots)
        assert all(0 < x < 980 and 0 < y < 500 and side in (-1, 0, 1, 2, 3, 4) for x, y, side in spots)
