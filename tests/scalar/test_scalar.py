"""Checks of the scalar reference model against published examples, by hand and against itself."""

from __future__ import annotations

import math

import numpy as np
import pytest
from CoolProp import AbstractState, CoolProp
from scipy.optimize import brentq

from tests.scalar.cycle import Cycle, Inputs, rated_cycle, rated_stage
from tests.scalar.designs import made_up_year, plain_case, random_designs
from tests.scalar.model import air_pressure, evaluate_cycle, evaluate_one
from tests.scalar.part_load import MixedEngine, PowerMap, bracketed_march, fixed_march
from tests.scalar.properties import ATMOSPHERE, ZERO_C, Fluid, fluid_named, water
from tests.scalar.sizes import boiler_area, condenser_area, mean_difference, store_loss
from tests.scalar.year import (
    HOUR,
    CollectorField,
    Vessel,
    Weather,
    hour_draw,
    mixed_autonomy,
    mixed_year,
    stratified_year,
)

LOSSLESS = {
    "pump_efficiency": 1.0,
    "admission_pressure_loss": 0.0,
    "exhaust_pressure_loss": 0.0,
    "clearance_fraction": 0.0,
    "leakage_fraction": 0.0,
    "wall_loss_per_K": 0.0,
    "friction_mean_pressure_bar": 0.0,
    "water_pressure_drop_bar": 0.0,
}


def engine(**changed: float):
    """Engine without any loss but the given ones."""
    return plain_case().engine.model_copy(update=LOSSLESS | changed)


def textbook(T_evap: float, T_cond: float, **changed) -> Inputs:
    """One ideal stage; a store at constant temperature unless ``stratified``."""
    plain = Inputs(
        stratified=False, T_top=368.15, T_evap=T_evap, T_evap_low=math.nan, boil_approach=0.0,
        T_stop=math.nan, superheat=0.0, T_cond=T_cond, subcooling=0.0, pinch_boiler=0.0,
        pinch_condenser=5.0, stages=1, levels=1, theta=1.0, effectiveness=0.0, T_cw=287.15, lift=0.0,
    )  # fmt: skip
    return plain._replace(**changed)


def cycle_of(fluid: str, inputs: Inputs, **losses: float) -> Cycle:
    """Rated cycle of a textbook case."""
    return rated_cycle(fluid_named(fluid), water(), engine(**losses), inputs)


def saturation_temperature(fluid: str, p: float) -> float:
    return fluid_named(fluid).dew(p).T


def test_ideal_steam_cycle():
    """Moran, Shapiro et al., Fundamentals of Engineering Thermodynamics, Ex. 8.1.

    Saturated vapour at 8 MPa to 0.008 MPa: efficiency 37.1 %, back-work ratio 0.84 %, exhaust 1794.8 kJ/kg.
    """
    inputs = textbook(saturation_temperature("Water", 8e6), saturation_temperature("Water", 8e3))
    cycle = cycle_of("Water", inputs)
    assert cycle.net / cycle.heat == pytest.approx(0.371, rel=3e-3)
    assert cycle.pump_work / cycle.work == pytest.approx(0.0084, rel=1e-2)
    assert cycle.stages[0].h_out == pytest.approx(1794.8e3, rel=1e-3)


def test_superheated_steam_cycle():
    """Cengel and Boles, Thermodynamics, Ex. 10-1: 3 MPa, 350 degC, 75 kPa give 26.0 %, pump 3.03 kJ/kg."""
    T_boil = saturation_temperature("Water", 3e6)
    inputs = textbook(T_boil, saturation_temperature("Water", 75e3), superheat=350 + ZERO_C - T_boil)
    cycle = cycle_of("Water", inputs)
    assert cycle.net / cycle.heat == pytest.approx(0.260, rel=3e-3)
    assert cycle.pump_work == pytest.approx(3.03e3, rel=3e-3)


def test_r134a_on_hot_water():
    """Sonntag, Borgnakke and Van Wylen, Fundamentals of Thermodynamics, vapour-power problems, R-134a.

    2 kg/s of water at 95 degC, saturated vapour at 85 degC, no temperature difference where boiling
    starts, condenser at 40 degC: at most 15.2 kW.
    """
    cycle = cycle_of("R134a", textbook(85 + ZERO_C, 40 + ZERO_C, stratified=True))
    assert 2.0 / cycle.water * cycle.net == pytest.approx(15.2e3, rel=1e-2)


def test_r134a_cycle_per_kilogram():
    """The first problem of the same pair (answers from memory, but consistent with the 15.2 kW).

    Efficiency 0.102; pump 1.67, heat 169.9, turbine 18.96 kJ/kg; 1017 and 2926 kPa.
    """
    cycle = cycle_of("R134a", textbook(85 + ZERO_C, 40 + ZERO_C, stratified=True))
    assert cycle.net / cycle.heat == pytest.approx(0.102, rel=5e-3)
    assert cycle.pump_work == pytest.approx(1.67e3, rel=5e-3)
    assert cycle.heat == pytest.approx(169.9e3, rel=5e-3)
    assert cycle.work == pytest.approx(18.96e3, rel=5e-3)
    assert cycle.condenser.p == pytest.approx(1017e3, rel=1e-3)
    assert cycle.boilers[0].sat.p == pytest.approx(2926e3, rel=1e-3)


@pytest.mark.parametrize(
    ("fluid", "efficiency"),
    [("n-Butane", 0.1258), ("IsoButane", 0.1212), ("n-Pentane", 0.1291), ("Isopentane", 0.1275)],
)
def test_hydrocarbons_between_100_and_30_degc(fluid, efficiency):
    """Saleh, Koglbauer, Wendland and Fischer, Energy 32 (2007) 1210, cycle tables (from memory).

    Saturated vapour at 100 degC, condensing at 30 degC, turbine 0.85 (here: 15 % leakage), pump 0.65.
    """
    inputs = textbook(100 + ZERO_C, 30 + ZERO_C)
    cycle = cycle_of(fluid, inputs, leakage_fraction=0.15, pump_efficiency=0.65)
    assert cycle.net / cycle.heat == pytest.approx(efficiency, rel=1e-2)


def test_butane_with_regenerator():
    """Saleh et al., Energy 32 (2007) 1210, abstract: n-butane 100/30 degC with heat exchanger, 0.130.

    The exhaust leaves 10 K above the feed it meets (that detail from memory).
    """

    def solve(effectiveness: float) -> Cycle:
        inputs = textbook(100 + ZERO_C, 30 + ZERO_C, effectiveness=effectiveness)
        return cycle_of("n-Butane", inputs, leakage_fraction=0.15, pump_efficiency=0.65)

    T_feed = solve(0.0).T_feed
    cycle = solve(float(brentq(lambda e: solve(e).T_exhaust - T_feed - 10.0, 0.1, 0.99, xtol=1e-4)))
    assert cycle.net / cycle.heat == pytest.approx(0.130, rel=1e-2)
    assert cycle.net / cycle.heat > 1.02 * solve(0.0).net / solve(0.0).heat
    assert solve(1.0).T_exhaust == pytest.approx(max(T_feed, 30 + ZERO_C), abs=1e-6)


def test_logarithmic_mean_difference():
    """Incropera, Fundamentals of Heat and Mass Transfer, Ex. 11.1: 100 to 60 against 30 to 40.2 degC."""
    assert mean_difference(100 - 40.2, 60 - 30) == pytest.approx(43.2, abs=0.05)
    assert mean_difference(20.0, 20.0) == 20.0


def test_evacuated_tube_collector():
    """SPF Rapperswil test report C762: 0.623, 1.52, 0.0146 give 0.5178 at 40 K and 800 W/m2."""
    field = CollectorField(0.623, 1.52, 0.0146, 2.0, 0.0)
    assert field.heat(800.0, 40.0) == pytest.approx(0.5178 * 800 * 2 * HOUR, rel=1e-4)


def test_standard_atmosphere():
    """ISO 2533:1975 (ICAO), table (from memory): 89 874.6 Pa at 1000 geopotential metres."""
    assert air_pressure(1000.0) == pytest.approx(89874.6, rel=1e-6)


def test_water_follows_reference_equation():
    """The polynomials follow IAPWS-95 at 1 atm to better than 1e-6 of the scale of each property."""
    state, w = AbstractState("HEOS", "Water"), water()
    for T in np.linspace(274.0, 372.5, 41):
        state.update(CoolProp.PT_INPUTS, ATMOSPHERE, float(T))
        assert w.h(T) == pytest.approx(state.hmass(), abs=0.01)
        assert w.s(T) == pytest.approx(state.smass(), abs=1e-4)
        assert w.rho(T) == pytest.approx(state.rhomass(), rel=1e-7)
        assert w.c(T) == pytest.approx(state.cpmass(), rel=1e-6)
        assert w.temperature(w.h(T)) == pytest.approx(T, abs=1e-8)


def test_states_follow_reference_equation():
    """The own searches in (p, h), (p, s) and (v, s) give what CoolProp's inputs give, dry and wet."""
    fluid, state = Fluid("R245fa"), AbstractState("HEOS", "R245fa")
    for p in (1.2e5, 9e5):
        for above in (-60e3, -1e3, 2e3, 40e3):
            here = fluid.ph(p, fluid.dew(p).h + above)
            state.update(CoolProp.HmassP_INPUTS, here.h, p)
            assert abs(here.T - state.T()) < 1e-5
            assert here.s == pytest.approx(state.smass(), rel=1e-7)
            assert here.v == pytest.approx(1 / state.rhomass(), rel=1e-6)
            assert fluid.ps(p, here.s).v == pytest.approx(here.v, rel=1e-7)
            u = fluid.internal_energy_vs(here.v, here.s, here.T + 7.0)
            assert u == pytest.approx(here.h - p * here.v, abs=0.5)


def test_searches_need_no_help():
    """Newton's method settles over the whole range of use without CoolProp's slower inputs behind it."""
    for name in ("n-Propane", "Ammonia", "R1336mzz(Z)", "Water"):
        fluid = Fluid(name)
        fluid._flash = None
        for T in (285.0, 320.0, 0.995 * min(fluid.T_limit, 370.0)):
            sat = fluid.saturation(T)
            for above in (1e2, 1e4, 6e4):
                here = fluid.ph(sat.p, sat.vapour.h + above)
                assert fluid.ps(sat.p, here.s).h == pytest.approx(here.h, abs=1e-2)


def indicated_work(fluid: Fluid, p1: float, h1: float, p3: float, theta: float, c: float) -> float:
    """Area of the indicator diagram [J per kg admitted], summed along its four lines."""
    inlet = fluid.ph(p1, h1)
    p2 = min(theta * p3, p1)

    def under(p_from: float, p_to: float) -> float:
        p = np.geomspace(p_from, p_to, 801)
        v = np.array([fluid.ps(float(one), inlet.s).v for one in p])
        return float(np.sum(0.5 * (p[1:] + p[:-1]) * np.diff(v)))

    v2, v3 = fluid.ps(p2, inlet.s).v, fluid.ps(p3, inlet.s).v
    # Volume after exhaust closing holds m, at the end of expansion 1 + m; both share the clearance.
    m = c * v2 / ((1 + c) * inlet.v - c * v2)
    back = p3 * ((1 + m) * v2 - m * v3)
    return p1 * inlet.v + (1 + m) * under(p1, p2) - back + m * under(p3, p1)


@pytest.mark.parametrize(("theta", "c"), [(1.0, 0.0), (1.8, 0.0), (1.0, 0.06), (2.2, 0.09)])
def test_stage_work_is_area_of_diagram(theta, c):
    """The closed expression of a stage's work equals the area of its indicator diagram, valves included."""
    fluid = fluid_named("n-Butane")
    boil = fluid.saturation(345.0)
    for loss_in, loss_out in ((0.0, 0.0), (0.06, 0.03)):
        losses = {"admission_pressure_loss": loss_in, "exhaust_pressure_loss": loss_out}
        cylinder = engine(clearance_fraction=c, **losses)
        stage = rated_stage(fluid, cylinder, boil.p, boil.vapour.h, 3.2e5, theta)
        p1, p3 = boil.p * (1 - loss_in), 3.2e5 * (1 + loss_out)
        area = indicated_work(fluid, p1, boil.vapour.h, p3, theta, c)
        assert stage.work == pytest.approx(area, rel=1e-4)


def test_leakage_wall_and_friction():
    """Leakage and wall shrink work and cylinder alike; friction costs its mean pressure times the stroke."""
    fluid = fluid_named("n-Butane")
    boil = fluid.saturation(345.0)
    h = boil.vapour.h
    ideal = rated_stage(fluid, engine(clearance_fraction=0.06), boil.p, h, 3.2e5, 1.5)
    lossy = rated_stage(
        fluid,
        engine(
            clearance_fraction=0.06,
            leakage_fraction=0.1,
            wall_loss_per_K=0.004,
            friction_mean_pressure_bar=0.2,
        ),
        boil.p,
        h,
        3.2e5,
        1.5,
    )
    T_out = fluid.ph(3.2e5, h - 0.9 * ideal.work).T
    k = 0.9 * (1 - 0.004 * (345.0 - T_out))
    assert lossy.work == pytest.approx(k * (ideal.work - 0.2e5 * ideal.swept), rel=1e-9)
    assert lossy.swept == pytest.approx(k * ideal.swept, rel=1e-9)
    assert lossy.h_out == pytest.approx(h - k * ideal.work, rel=1e-9)


def test_circulation_work():
    """Both streams meet 0.2 bar, the cooling water 6 m of lift as well, at a pump efficiency of 0.35."""
    inputs = textbook(350.0, 300.0, stratified=True, lift=6.0)
    c = cycle_of("n-Butane", inputs, water_pressure_drop_bar=0.2)
    hot, cold = 0.2e5 / water().rho(368.15), 0.2e5 / water().rho(287.15) + 9.80665 * 6.0
    assert c.circulation == pytest.approx((c.water * hot + c.cooling * cold) / 0.35, rel=1e-9)


def summed_area(h_cold, T_cold, T_hot, U: float) -> float:
    """Surface per flow from many slices: duty over U and local temperature difference."""
    difference = np.asarray(T_hot) - np.asarray(T_cold)
    return float(np.sum(np.diff(h_cold) / (U * 0.5 * (difference[1:] + difference[:-1]))))


def test_areas_by_slices():
    """Zone areas by mean differences equal the sum over thin slices, but for varying heat capacities."""
    case, fluid, w = plain_case(), fluid_named("n-Butane"), water()
    inputs = textbook(
        335.0, 297.0, stratified=True, superheat=8.0, subcooling=4.0, pinch_boiler=4.0, theta=1.3
    )
    c = rated_cycle(fluid, w, case.engine, inputs)
    sat, out = c.boilers[0]
    vapour = np.linspace(sat.vapour.h, out.h, 60)
    wet = np.linspace(sat.liquid.h, sat.vapour.h, 200)
    liquid = np.linspace(c.h_feed, sat.liquid.h, 60)
    h_out = w.h(c.T_out)

    def hot(h):
        return [w.temperature(h_out + (one - c.h_feed) / c.water) for one in h]

    T_liquid = [fluid.liquid_ph(sat.p, h, c.liquid).T for h in liquid]
    T_vapour = [fluid.ph(sat.p, h).T for h in vapour]
    total = summed_area(liquid, T_liquid, hot(liquid), 300) + summed_area(vapour, T_vapour, hot(vapour), 60)
    total += summed_area(wet, [sat.T] * 200, hot(wet), 700)
    assert boiler_area(case.engine, w, inputs, c, math.nan) == pytest.approx(total, rel=0.01)

    h = [np.linspace(c.liquid.h, c.condenser.liquid.h, 60)]
    h += [np.linspace(c.condenser.liquid.h, c.condenser.vapour.h, 200)]
    h += [np.linspace(c.condenser.vapour.h, c.h_to_condenser, 60)]
    T = [[fluid.liquid_ph(c.condenser.p, one, c.liquid).T for one in h[0]], [297.0] * 200]
    T += [[fluid.ph(c.condenser.p, one).T for one in h[2]]]
    h_in = w.h(inputs.T_cw)
    cold = [[w.temperature(h_in + (one - c.liquid.h) / c.cooling) for one in zone] for zone in h]
    total = sum(summed_area(a, b, d, u) for a, b, d, u in zip(h, cold, T, (300, 600, 60), strict=True))
    assert c.T_exhaust > 298.0
    assert condenser_area(case.engine, w, inputs, c) == pytest.approx(total, rel=0.01)


def test_energy_books_close():
    """Heat and pump work equal shaft work, friction and condenser heat, whatever the levels and stages."""
    case = plain_case()
    levels = set()
    for design in random_designs(46, 11, "stratified"):
        result = evaluate_one(design, case)
        if not result["feasible"]:
            continue
        computed = evaluate_cycle(design, case)
        c = computed.cycle
        friction = sum(
            f * case.engine.friction_mean_pressure_bar * 1e5 * s.swept
            for f, s in zip(c.stage_flows, c.stages, strict=True)
        )
        rejected = c.h_to_condenser - c.liquid.h
        assert c.heat + c.pump_work == pytest.approx(c.work + friction + rejected, abs=1e-6 * c.heat)
        assert result["second_law_efficiency"] < 1
        levels.add(computed.inputs.levels)
    assert levels == {1, 2, 3}


def test_one_level_is_the_single_boiler():
    """At one level the water balance and the heat are those of the plain pinch equations."""
    case, w = plain_case(), water()
    design = next(d for d in random_designs(23, 4, "stratified") if d["pressure_levels"] == 1)
    computed = evaluate_cycle(design, case)
    c, i = computed.cycle, computed.inputs
    boiler = c.boilers[0]
    pinch_drop = w.h(i.T_top) - w.h(i.T_evap + i.pinch_boiler)
    assert c.water * pinch_drop == pytest.approx(boiler.exit.h - boiler.sat.liquid.h, rel=1e-9)
    assert c.heat == pytest.approx(boiler.exit.h - c.h_feed, rel=1e-7)


def test_second_pressure_level_pays():
    """At 90/14 degC a second boiler on the same water wins between 15 and 30 % of work per litre.

    Reversible engines at one and two boiling temperatures on one stream would win 52 and 68 % of its
    exergy (Chambadal's square-root rule and its extension, derivable): 31 % more.
    """
    base = random_designs(2, 5, "stratified")[1] | {
        "top_temperature_degC": 90.0, "condensing_temperature_degC": 18.2, "pinch_condenser_K": 2.0,
        "pinch_boiler_K": 2.0, "release_pressure_ratio": 1.1, "superheat_K": 0.0, "subcooling_K": 0.0,
        "regenerator_effectiveness": 0.0, "store_volume_L": 200.0, "insulation_mm": 100.0,
    }  # fmt: skip
    single = {"stages": 1, "pressure_levels": 1, "evaporating_temperature_degC": 55.0}
    double = {
        "stages": 2, "pressure_levels": 2, "evaporating_temperature_degC": 69.0,
        "lowest_evaporating_temperature_degC": 46.0,
    }  # fmt: skip
    one, two = (evaluate_one(base | more, plain_case()) for more in (single, double))
    assert base["fluid"] == "IsoButane"
    assert one["feasible"]
    assert two["feasible"]
    assert 1.15 < two["work_per_litre_kJ"] / one["work_per_litre_kJ"] < 1.30


def mixed_design(stages: int) -> dict:
    """First fully mixed design of that many stages that works."""
    case = plain_case()
    for design in random_designs(92, 7, "mixed"):
        if design["stages"] == stages and evaluate_one(design, case)["feasible"]:
            return design
    raise LookupError(stages)


@pytest.mark.parametrize("stages", [1, 2, 3])
def test_fixed_engine_at_rated_point(stages):
    """At the boiler temperature it was made for, the fixed engine repeats its rated point."""
    design, case = mixed_design(stages), plain_case()
    computed = evaluate_cycle(design, case)
    rated, fluid = computed.cycle, fluid_named(design["fluid"])
    plant = MixedEngine(fluid, water(), case.engine, computed.inputs, rated)
    guesses = [1.2 * s.p_in for s in rated.stages[1:]]
    again = fixed_march(
        fluid, case.engine, plant.fixed, rated.boilers[0], rated.condenser.p, guesses, [0.9] * stages
    )
    for a, b in zip(again, rated.stages, strict=True):
        assert a.p_in == pytest.approx(b.p_in, rel=1e-8)
        assert a.work == pytest.approx(b.work, rel=1e-6)
        assert a.swept == pytest.approx(b.swept, rel=1e-6)


@pytest.mark.parametrize("stages", [2, 3])
def test_two_ways_to_the_receiver_pressures(stages, monkeypatch):
    """Broyden's method and bracketing one receiver after another find the same pressures."""
    design, case = mixed_design(stages), plain_case()
    quick = evaluate_one(design, case)
    calls = []

    def counted(*args):
        calls.append(1)
        return bracketed_march(*args)

    monkeypatch.setattr("tests.scalar.part_load._quick_march", lambda *args: None)
    monkeypatch.setattr("tests.scalar.part_load.bracketed_march", counted)
    sure = evaluate_one(design, case)
    assert len(calls) >= 10
    assert quick["work_per_litre_kJ"] == pytest.approx(sure["work_per_litre_kJ"], rel=1e-8)


def test_mass_flow_is_the_same_in_all_cylinders():
    """Away from the rated point every cylinder passes the same mass per revolution."""
    design, case = mixed_design(3), plain_case()
    computed = evaluate_cycle(design, case)
    plant = MixedEngine(fluid_named(design["fluid"]), water(), case.engine, computed.inputs, computed.cycle)
    cycle = plant.point(computed.T_size).cycle
    c = case.engine.clearance_fraction
    per_turn = [
        ((1 + c) / s.ratio - c) * swept / (s.v_in * s.k)
        for s, swept in zip(cycle.stages, [s.swept for s in computed.cycle.stages], strict=True)
    ]
    assert per_turn == pytest.approx([per_turn[0]] * 3, rel=1e-8)
    assert per_turn[0] == pytest.approx(plant.point(computed.T_size).filling, rel=1e-12)


def test_store_loss_by_hand():
    """A store 1 m wide and 2 m high, 100 mm insulation of 0.035 W/(m K), film 10: 3.1687 W/K by hand."""
    assert store_loss(plain_case().engine, math.pi / 2, 0.1) == pytest.approx(3.1687, rel=1e-4)


def one_day(sunny_hours: int, demand_hours: int) -> Weather:
    """Full sun first, then the engine; 20 degC all day."""
    sun = [900.0] * sunny_hours + [0.0] * (24 - sunny_hours)
    demand = [24 - demand_hours <= hour for hour in range(24)]
    return Weather(sun, [293.15] * 24, demand)


def test_stratified_day_without_losses():
    """All heat of a lossless store comes back; warm-up takes its share of it before any work."""
    field, vessel = CollectorField(0.8, 0.0, 0.0, 2.0, 0.0), Vessel(2e6, 0.0, 293.15)
    season = stratified_year(one_day(5, 8), field, vessel, 363.15, 318.15, 3000.0, 8000.0, 333.15)
    collected = 5 * 0.8 * 900 * 2 * HOUR
    assert season.collected == pytest.approx(collected, rel=1e-12)
    assert season.heat_drawn == pytest.approx(collected, rel=1e-12)
    assert season.served == pytest.approx((collected - 8000 * 40) / (3000 * HOUR), rel=1e-12)
    assert season.asked == 8
    assert season.longest_unserved == pytest.approx(8 - season.served, abs=1 - season.served % 1 + 1e-9)


def test_stratified_store_cools_towards_the_room():
    """Standing loss takes from the hot layer UA (T_top - T_room) an hour, as far as it is hot."""
    field, K, UA = CollectorField(0.8, 0.0, 0.0, 2.0, 0.0), 2e6, 3.0
    loss = 70.0 * UA * HOUR / K
    heat = 0.8 * 900 * 2 * HOUR
    T_cold, f = 318.15, 0.0
    for hour in range(24):
        f += heat / (K * (363.15 - T_cold)) if hour < 5 else 0.0
        f -= f * loss / (363.15 - T_cold)
        T_cold -= UA * HOUR / K * (T_cold - 293.15)
    season = stratified_year(one_day(5, 1), field, Vessel(K, UA, 293.15), 363.15, 318.15, 1e6, 0.0, 333.15)
    assert season.heat_drawn == pytest.approx(f * K * 45.0, rel=1e-12)


def test_mixed_day_without_losses():
    """Heat of a lossless mixed store is drawn down to the lowest temperature, work is its share of it."""
    field, vessel = CollectorField(0.8, 0.0, 0.0, 2.0, 0.0), Vessel(2e6, 0.0, 293.15)
    engine_map = PowerMap(325.0, 40.0, [1500.0, 2000.0], [0.05, 0.05])
    season = mixed_year(one_day(5, 12), field, vessel, 365.0, 325.0, 100.0, engine_map, 0.0, 330.0, 3.0)
    collected = 5 * 0.8 * 900 * 2 * HOUR
    assert season.collected == pytest.approx(collected, rel=1e-12)
    assert season.heat_drawn == pytest.approx(collected, rel=1e-12)
    assert season.served == pytest.approx(collected * 0.05 / (100.0 * HOUR), rel=1e-12)


def test_hour_of_a_mixed_store():
    """In an hour the engine takes its heat rate at the middle of what it takes, or what is left."""
    engine_map = PowerMap(325.0, 40.0, [1500.0, 2500.0], [0.05, 0.05])
    heat = hour_draw(engine_map, 345.0, 20.0 * 1e6, 1e6)
    assert heat == pytest.approx(HOUR * (1500.0 + 25.0 * (345.0 - 0.5 * heat / 1e6 - 325.0)), rel=1e-9)
    assert hour_draw(engine_map, 327.0, 2.0 * 1e6, 1e6) == 2e6


def test_running_time_of_a_mixed_store():
    """At a constant heat rate a full store lasts its heat divided by that rate."""
    engine_map = PowerMap(325.0, 40.0, [2000.0, 2000.0], [0.05, 0.05])
    assert mixed_autonomy(engine_map, 335.0, 365.0, 2e6) == pytest.approx(2e6 * 40 / 2000, rel=1e-12)


def test_full_store_dumps():
    """What does not fit is dumped, its hours count as stagnation and its heat is no yield."""
    field, vessel = CollectorField(0.8, 0.0, 0.0, 20.0, 0.0), Vessel(2e6, 0.0, 293.15)
    season = stratified_year(one_day(5, 0), field, vessel, 363.15, 318.15, 3000.0, 0.0, 333.15)
    assert season.collected == pytest.approx(2e6 * 45.0, rel=1e-12)
    assert season.stagnation_hours == 4


@pytest.mark.parametrize("mode", ["stratified", "mixed"])
def test_random_designs_stay_within_nature(mode):
    """Every working design stays under the exergy and the Carnot efficiency, and every figure is a number."""
    case, weather = plain_case(), made_up_year()
    results = [evaluate_one(d, case, weather) for d in random_designs(23, 2, mode)]
    working = [r for r in results if r["feasible"]]
    assert len(working) >= 15
    for r in working:
        assert 0 < r["second_law_efficiency"] < 1
        assert r["thermal_efficiency"] < 1 - 287.15 / 368.15
        assert 0 <= r["served_share"] <= 1
        assert r["boiler_area_m2"] > 0
        assert r["swept_volume_1_L"] > 0


def test_infeasible_design_says_why():
    """A design beyond a limit names the broken constraint and by how much."""
    design = random_designs(1, 2, "stratified")[0]
    result = evaluate_one(design | {"top_temperature_degC": 99.0}, plain_case())
    assert not result["feasible"]
    assert result["violations"]["store_boils_K"] == pytest.approx(1.0, abs=0.05)
