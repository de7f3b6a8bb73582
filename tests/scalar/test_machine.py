"""Engines with losses of their own: the fixed point, the governors, the year, and what must always hold."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from tests.compiled import plain
from tests.scalar import reference, year
from tests.scalar.cycle import InfeasibleError
from tests.scalar.designs import machine_designs, made_up_year, plain_case, random_designs
from tests.scalar.laws import BAR, CAREFUL, CONSTANT, IDEAL, ROOT, Laws, Load
from tests.scalar.machine import (
    Ask,
    FixedMachine,
    Plant,
    inlet_of,
    losses_of,
    size_mixed,
    size_stratified,
    stock_bore,
)
from tests.scalar.model import (
    Computed,
    evaluate_cycle,
    evaluate_one,
    fault_pressures,
    read_design,
    read_surroundings,
)
from tests.scalar.part_load import PowerMap
from tests.scalar.properties import ZERO_C, fluid_named, water
from tests.scalar.test_scalar import LOSSLESS, one_day
from tests.scalar.year import HOUR, CollectorField, Vessel, Weather, mixed_year, steps_of_hour

ANY_LOAD = Load(speed_may_fall=True, bank="day")


def plant_of(design: dict, laws: Laws = CAREFUL, power: float = 250.0, load: Load = ANY_LOAD) -> Plant:
    """Machine of a design that has to give ``power`` [W] at its shaft."""
    case = plain_case()
    speed, count = design["speed_rev_per_min"] / 60.0, design["cylinders_per_stage"]
    return Plant(
        fluid_named(design["fluid"]), water(), case.engine, read_design(design, case), laws, load,
        Ask(power, speed, count),
    )  # fmt: skip


def working(n: int, seed: int, mode: str) -> list[dict]:
    """Those of ``n`` seeded designs that give net work."""
    found = []
    for design in machine_designs(n, seed, mode):
        try:
            evaluate_cycle(design, plain_case(), laws=CAREFUL, load=ANY_LOAD)
        except InfeasibleError:
            continue
        found.append(design)
    assert len(found) > 0.6 * n
    return found


@pytest.fixture(scope="module")
def stratified() -> list[dict]:
    return working(23, 31, "stratified")


@pytest.fixture(scope="module")
def mixed() -> list[dict]:
    return working(23, 32, "mixed")


def computed(design: dict, laws: Laws = CAREFUL) -> Computed:
    return evaluate_cycle(design, plain_case(), laws=laws, load=ANY_LOAD)


def test_fixed_point_holds(stratified):
    """Cylinders pass the flow that gives the power, and the losses are those of the states they make."""
    for design in stratified:
        plant = plant_of(design)
        sized = size_stratified(plant)
        flow = 250.0 / sized.rated.net
        assert sized.flow == pytest.approx(flow, rel=1e-9)
        assert sized.residual < 1e-10
        for j, (stage, cylinder) in enumerate(zip(sized.rated.stages, sized.cylinders, strict=True)):
            through = sized.rated.stage_flows[j] * flow
            assert cylinder.volume * plant.ask.speed == pytest.approx(stage.swept * through, rel=1e-8)
            one = math.pi / 4.0 * cylinder.bore**2 * cylinder.stroke
            assert one * cylinder.count == pytest.approx(cylinder.volume, rel=1e-12)
            inlet = inlet_of(plant.fluid, stage.p_in, stage.h_in)
            again = losses_of(plant.fluid, CAREFUL, inlet, stage, cylinder, plant.ask.speed)
            assert again == pytest.approx(sized.losses[j], rel=1e-7, abs=1e-11)
            k = (1.0 - again.leakage_fraction) * (1.0 - again.wall_loss_fraction)
            assert stage.k == pytest.approx(k, rel=1e-9)
            friction = again.friction_mean_pressure_bar * BAR * stage.swept
            assert stage.work == pytest.approx(k * stage.indicated - friction, rel=1e-8, abs=1e-3)


def test_energy_books_close_with_scaled_losses(stratified):
    for design in stratified:
        result = computed(design)
        c = result.cycle
        friction = sum(
            f * loss.friction_mean_pressure_bar * BAR * s.swept
            for f, s, loss in zip(c.stage_flows, c.stages, result.sized.losses, strict=True)
        )
        rejected = c.h_to_condenser - c.liquid.h
        assert c.heat + c.pump_work == pytest.approx(c.work + friction + rejected, abs=1e-6 * c.heat)
        assert result.figures["second_law_efficiency"] < 1


def work_per_litre(design: dict, laws: Laws) -> float:
    result = evaluate_one(design, plain_case(), laws=laws, load=ANY_LOAD)
    if math.isnan(result["work_per_litre_kJ"]):
        assert result["violations"].keys() & {"net_work", "part_load", "held_K"}
        return 0.0
    return result["work_per_litre_kJ"]


@pytest.mark.parametrize(
    "worse",
    [
        {"gap": 18e-6},
        {"friction_a": 0.1 * BAR},
        {"friction_b": 0.12},
        {"friction_c": 0.07 * BAR},
        {"port_in": 0.03},
        {"port_out": 0.05},
        {"wall_factor": 0.8},
        {"pump_packing": 3.0 * BAR},
    ],
    ids=lambda worse: next(iter(worse)),
)
def test_worse_parts_never_help(stratified, worse):
    """A wider gap, rougher rings, smaller ports, thirstier walls, a poorer pump."""
    for design in stratified[::3]:
        before = work_per_litre(design, CAREFUL)
        assert work_per_litre(design, replace(CAREFUL, **worse)) < before * (1.0 + 1e-9)


def test_worse_parts_never_help_on_a_mixed_store(mixed):
    for design in mixed[1::5]:
        before = work_per_litre(design, CAREFUL)
        for worse in ({"gap": 18e-6}, {"friction_a": 0.1 * BAR}, {"port_in": 0.03}):
            assert work_per_litre(design, replace(CAREFUL, **worse)) < before * (1.0 + 1e-9)


def test_larger_machine_is_better(stratified):
    """Twice the bore and stroke at the same piston speed (four times the power): less rubs, leaks and cools."""
    for design in stratified:
        slow = design | {"speed_rev_per_min": 0.5 * design["speed_rev_per_min"]}
        small, large = size_stratified(plant_of(design)), size_stratified(plant_of(slow, power=1000.0))
        assert large.rated.net > small.rated.net


def test_two_cylinders_lose(stratified):
    """Two small cylinders in place of one leak, rub and cool more at the same piston speed."""
    for design in stratified[::2]:
        faster = design["speed_rev_per_min"] * 2.0 ** (1.0 / 3.0)
        one = size_stratified(plant_of(design | {"cylinders_per_stage": 1}))
        two = size_stratified(plant_of(design | {"cylinders_per_stage": 2, "speed_rev_per_min": faster}))
        assert two.rated.net < one.rated.net


def test_stock_bore_is_held(stratified, mixed):
    """The next larger tube is taken from the square cylinder; the stroke follows and the fixed point still holds."""
    stock = tuple(0.01 * i for i in range(1, 40))
    for design, size in ((stratified[0], size_stratified), (mixed[1], lambda p: size_mixed(p, 345.0).sized)):
        plant = plant_of(design)
        square = size(plant)
        held = size(plant._replace(ask=plant.ask._replace(bores=stock)))
        for a, b in zip(square.cylinders, held.cylinders, strict=True):
            assert 0.0 <= b.bore - a.bore < 0.01
            assert b.bore / 0.01 == pytest.approx(round(b.bore / 0.01), abs=1e-9)
            assert b.stroke < b.bore
            assert b.volume == pytest.approx(b.count * math.pi / 4.0 * b.bore**2 * b.stroke, rel=1e-12)
        assert held.residual < 1e-10
        assert held.rated.net != square.rated.net
    assert math.isclose(stock_bore(0.05, (0.03, 0.04)), 0.05)
    assert stock_bore(0.035, (0.04, 0.03)) == 0.04


def test_double_acting_halves_the_cylinder(stratified):
    """At the same losses half the volume passes the same flow; the smaller one leaks more."""
    design = stratified[0]
    single, double = (size_stratified(plant_of(design, replace(IDEAL, acting=acting))) for acting in (1, 2))
    volumes = [c.volume for c in single.cylinders]
    assert [2.0 * c.volume for c in double.cylinders] == pytest.approx(volumes, rel=1e-9)


def test_no_losses_is_the_plain_cycle():
    """The set ideal, with revision 3's store and streams, gives what the engine without losses gives.

    Two routes to the same figures: the march of section 3 with zeros, and the fixed point of laws that vanish; their
    discharges are summed up by different nodes.
    """
    case = plain_case()
    lossless = {k: v for k, v in LOSSLESS.items() if k != "water_pressure_drop_bar"}
    bare = SimpleNamespace(
        engine=case.engine.model_copy(update=lossless), scenario=case.scenario, collectors=case.collectors
    )
    U = (case.engine.boiler_U_liquid, case.engine.boiler_U_two_phase, case.engine.boiler_U_vapour)
    laws = replace(
        IDEAL, fittings=0.3, insulation_factor=1.0, coil_U=U, water_drop_limits=(0.2 * BAR, 0.2 * BAR),
        drive_step=1.0,
    )  # fmt: skip
    seen = 0
    for mode in ("stratified", "mixed"):
        for design in random_designs(23, 41, mode):
            plain = evaluate_one(design, bare)
            scaled = evaluate_one(design | {"governing": "speed"}, bare, laws=laws, load=ANY_LOAD)
            if math.isnan(plain["work_per_litre_kJ"]):
                continue
            seen += 1
            for name in (
                "work_per_litre_kJ", "net_work_kJ_per_kg", "swept_volume_1_L", "fluid_flow_kg_per_s",
                "boiler_area_m2", "condenser_area_m2", "store_loss_W_per_K", "peak_pressure_bar_g",
                "second_law_efficiency",
            ):  # fmt: skip
                summed = name in ("work_per_litre_kJ", "second_law_efficiency")
                assert scaled[name] == pytest.approx(plain[name], rel=1e-5 if summed else 2e-6), (
                    name,
                    design,
                )
            assert scaled["autonomy_hours"] == pytest.approx(plain["autonomy_hours"], rel=2e-3)
    assert seen > 35


def test_constant_set_does_not_see_the_new_columns():
    """Speed, cylinders, governor and sizing share leave revision 3's figures as they were, to the bit."""
    new = {"speed_rev_per_min": 77.0, "cylinders_per_stage": 3, "governing": "free", "sizing_share": 0.8}
    for mode in ("stratified", "mixed"):
        for design in random_designs(6, 2, mode):
            a, b = (
                evaluate_one(d, plain_case(), laws=CONSTANT, load=ANY_LOAD) for d in (design, design | new)
            )
            assert str(a) == str(b)


STRATIFIED = (9.639640232553605, 0.04744520146825847, 0.9927148666826394)
MIXED = (7.677782461828739, 0.2995440619445485, 1.0228087334742135)


def test_revision_three_figures():
    """Figures of two designs as the commit before the laws gave them."""
    for mode, work, swept, area in (("stratified", *STRATIFIED), ("mixed", *MIXED)):
        result = evaluate_one(random_designs(1, 21, mode)[0], plain_case())
        assert result["work_per_litre_kJ"] == pytest.approx(work, rel=1e-12)
        assert result["swept_volume_1_L"] == pytest.approx(swept, rel=1e-12)
        assert result["boiler_area_m2"] == pytest.approx(area, rel=1e-12)


def test_governors_hold_the_power(mixed):
    """Power at T_size is P by construction; hotter, each governor holds it, and free gives more."""
    for design in mixed[::3]:
        plant = plant_of(design)
        top, stop = plant.inputs.T_top, plant.inputs.T_stop
        machine = size_mixed(plant, stop + 0.3 * (top - stop))
        assert machine.fixed.full(machine.T_size).power == pytest.approx(250.0, rel=1e-8)
        full = machine.fixed.full(top)
        for how in ("throttle", "cut_off", "speed"):
            node = machine.fixed.governed(top, how)
            assert node.power == pytest.approx(250.0, rel=1e-8)
            assert node.heat_rate < full.heat_rate
        assert machine.fixed.governed(top, "throttle").p_inlet < full.p_inlet
        assert machine.fixed.governed(top, "cut_off").cut_off < full.cut_off
        assert machine.fixed.governed(top, "speed").speed < full.speed
        assert machine.fixed.governed(top, "free").power == pytest.approx(min(full.power, 1000.0), rel=1e-8)
        assert full.power > 250.0


def test_load_takes_no_more_than_it_can(mixed):
    """A free engine is throttled at the most the load takes."""
    plant = plant_of(mixed[0], load=replace(ANY_LOAD, power_may_rise=1.2))
    machine = size_mixed(plant, plant.inputs.T_stop + 0.1 * (plant.inputs.T_top - plant.inputs.T_stop))
    node = machine.fixed.governed(plant.inputs.T_top, "free")
    assert node.power == pytest.approx(300.0, rel=1e-8)
    assert node.p_inlet < node.cycle.boilers[0].sat.p


def test_early_cut_off_is_followed_by_the_throttle(mixed):
    """What the earliest cut-off leaves too much is throttled."""
    design = mixed[0]
    plant = plant_of(design)
    machine = size_mixed(plant, plant.inputs.T_stop + 0.1 * (plant.inputs.T_top - plant.inputs.T_stop))
    weak = machine.fixed.plant._replace(ask=plant.ask._replace(power=20.0))
    fixed = FixedMachine(weak, machine.sized.cylinders, machine.fixed.ratios)
    node = fixed.governed(plant.inputs.T_top, "cut_off")
    assert node.power == pytest.approx(20.0, rel=1e-7)
    assert node.cut_off == pytest.approx(min(0.05, fixed.cut_offs[0])) or node.p_inlet == pytest.approx(
        node.cycle.boilers[0].sat.p
    )


def test_losses_hold_at_every_node(mixed):
    """Away from the rated point the laws give the losses of the present pressures and speed."""
    for design in mixed[::3]:
        result = computed(design)
        plant, node = plant_of(design), result.full_store
        for stage, cylinder, losses in zip(
            node.cycle.stages, result.sized.cylinders, node.losses, strict=True
        ):
            inlet = inlet_of(plant.fluid, stage.p_in, stage.h_in)
            again = losses_of(plant.fluid, CAREFUL, inlet, stage, cylinder, node.speed)
            assert again == pytest.approx(losses, rel=1e-6, abs=1e-10)
        passed = [
            ((1.07 / s.ratio - 0.07) * c.volume) / (s.v_in * s.k)
            for s, c in zip(node.cycle.stages, result.sized.cylinders, strict=True)
        ]
        assert passed == pytest.approx([node.flow / node.speed] * len(passed), rel=1e-8)


def test_rated_machine_repeats_its_rated_point(mixed):
    """The fixed engine at the temperature it was made for, ungoverned, is the rated cycle."""
    for design in mixed[::3]:
        plant = plant_of(design)
        machine = size_mixed(plant, plant.inputs.T_stop + 0.5 * (plant.inputs.T_top - plant.inputs.T_stop))
        again = machine.fixed.full(plant.inputs.T_evap + plant.inputs.boil_approach).cycle
        assert again.net == pytest.approx(machine.sized.rated.net, rel=1e-7)
        for a, b in zip(again.stages, machine.sized.rated.stages, strict=True):
            assert a.p_in == pytest.approx(b.p_in, rel=1e-7)


def test_two_ways_to_the_receivers(mixed, monkeypatch):
    """Broyden's method and bracketing receiver after receiver find the same working point."""
    design = next(d for d in mixed if d["stages"] == 2)
    plant = plant_of(design)
    T_size = plant.inputs.T_stop + 0.3 * (plant.inputs.T_top - plant.inputs.T_stop)
    machine = size_mixed(plant, T_size)
    quick = machine.fixed.full(plant.inputs.T_top)
    monkeypatch.setattr(FixedMachine, "_quick", lambda *_: None)
    sure = FixedMachine(plant, machine.sized.cylinders, machine.fixed.ratios).full(plant.inputs.T_top)
    assert sure.power == pytest.approx(quick.power, rel=1e-8)


def test_wall_variants_and_band(stratified):
    """No wall loss is the best of all; the flag follows the inlet pressure."""
    for design in stratified[::3]:
        none = size_stratified(plant_of(design, replace(CAREFUL, walls="none"))).rated.net
        for laws in (CAREFUL, ROOT, replace(CAREFUL, walls="most")):
            assert size_stratified(plant_of(design, laws)).rated.net <= none * (1.0 + 1e-9)
        result = computed(design)
        assert result.figures["outside_measured"] == (result.cycle.stages[0].p_in < 1.5e5)


def test_governor_has_to_suit_the_load(mixed):
    """A falling speed and a free engine are violations where the load does not take them."""
    for how, load in (("speed", Load(bank="day")), ("free", Load(speed_may_fall=True))):
        design = mixed[0] | {"governing": how}
        assert evaluate_one(design, plain_case(), laws=CAREFUL, load=load)["violations"]["governing"] > 0
        fine = evaluate_one(design, plain_case(), laws=CAREFUL, load=ANY_LOAD)
        assert fine["violations"]["governing"] < 0


def test_drive_costs_at_the_load(stratified):
    """At four times the load's speed the engine gives P / 0.96, and the work per litre counts 0.96 of it."""
    design = stratified[0] | {"speed_rev_per_min": 1200.0}
    result = computed(design)
    assert result.ask.power == pytest.approx(250.0 / 0.96)
    raw = computed(design, replace(CAREFUL, drive_step=1.0))
    assert raw.ask.power == 250.0
    per_water = result.cycle.net / result.cycle.water
    expected = 0.96 * result.figures["held_fraction"] * water().rho(result.inputs.T_top) * per_water
    assert result.figures["work_per_litre_kJ"] == pytest.approx(expected * 1e-6, rel=1e-12)


def test_fault_design_and_test_pressures():
    """n-Butane at 100 degC stands at 15.27 bar_a: 14.26 bar_g, design 15.69, test 22.43; propane is refused."""
    case = plain_case()
    around = read_surroundings(case)
    fluid = fluid_named("n-Butane")
    found = fault_pressures(fluid, around, fluid.pressure_at(95.0 + ZERO_C))
    fault = (fluid.pressure_at(around.T_boiling) - 101325.0) * 1e-5
    assert found["fault_pressure_bar_g"] == pytest.approx(fault)
    assert fault == pytest.approx(14.26, abs=0.05)
    assert found["design_pressure_bar_g"] == pytest.approx(1.1 * fault)
    assert found["test_pressure_bar_g"] == pytest.approx(1.43 * 1.1 * fault)
    assert fault_pressures(fluid_named("Water"), around, 9e4)["design_pressure_bar_g"] == 0.5
    assert math.isnan(fault_pressures(fluid_named("n-Propane"), around, 3e6)["fault_pressure_bar_g"])
    propane = next(d for d in random_designs(23, 5, "stratified") if d["fluid"] == "n-Propane")
    over = evaluate_one(propane, case)["violations"]["fault_above_critical_K"]
    assert over == pytest.approx(373.124 - 369.89, abs=0.02)


def test_reference_prints_json(capsys):
    reference.main(["--designs", "2", "--seed", "9"])
    rows = json.loads(capsys.readouterr().out)
    assert len(rows) == 4
    first = rows[0]["figures"]
    assert {"w_net", "V_D", "chi", "lambda", "d_in", "d_out", "fmep", "eta_pump", "W_l", "speeds"} <= set(
        first
    )
    assert len(first["V_D"]) == rows[0]["design"]["stages"]
    assert first["residual"] < 1e-9


MAP = PowerMap(325.0, 40.0, [1500.0, 2000.0], [0.05, 0.05])


def test_characteristics_end_where_the_map_ends():
    """Below and above the map the engine is that of its end."""
    slanted = PowerMap(325.0, 20.0, [1000.0, 1500.0, 2500.0], [0.04, 0.05, 0.07])
    assert slanted.at(300.0) == (1000.0, 0.04)
    assert slanted.at(400.0) == (2500.0, 0.07)
    assert slanted.at(355.0) == pytest.approx((2000.0, 0.06))


def test_hour_in_steps():
    """An hour that may move the store by 10 K is cut into ten; a slow one stays whole."""
    assert steps_of_hour(10.0 * 1e6, 0.0, 1e6) == 10
    assert steps_of_hour(0.0, 6.5 * 1e6, 1e6) == 7
    assert steps_of_hour(1.0 * 1e6, 0.0, 1e6) == 1
    assert steps_of_hour(0.0, 0.0, 1e6) == 1


def test_small_store_never_stands_above_its_top(monkeypatch):
    """20 m2 over 50 litres: the engine never sees the store above T_top by more than a step's gain."""
    seen, looked_up = [], year.looked_up
    for name in ("mixed_hour", "_drawn", "_missed"):
        monkeypatch.setattr(year, name, plain(getattr(year, name)))
    monkeypatch.setattr(year, "looked_up", lambda T, *rest: seen.append(T) or looked_up(T, *rest))
    field, vessel = CollectorField(0.8, 0.0, 0.0, 20.0, 0.0), Vessel(2e5, 0.0, 293.15)
    weather = Weather([900.0] * 8 + [0.0] * 16, [293.15] * 24, [True] * 10 + [False] * 14)
    season = mixed_year(weather, field, vessel, 365.0, 325.0, 80.0, MAP, 0.0, 330.0, 3.0)
    assert max(seen) <= 365.0 + 1.0
    books = season.collected - season.heat_drawn  # J left in the store
    assert -1e-6 <= books <= 2e5 * 40.0
    assert season.stagnation_hours == 8


def test_finer_steps_change_little(monkeypatch):
    """Steps of 1 K are near enough to steps of 0.1 K for a small store under many square metres."""
    field, vessel = CollectorField(0.8, 3.5, 0.015, 20.0, 0.03), Vessel(4e5, 2.0, 293.15)
    slanted = PowerMap(325.0, 40.0, [5000.0, 4000.0], [0.04, 0.07])

    def run() -> float:
        args = (vessel, 365.0, 325.0, 250.0, slanted, 8e3, 330.0, 3.0)
        return mixed_year(made_up_year(), field, *args).share

    coarse = run()
    monkeypatch.setattr(year, "MOST_MOVE", 0.1)
    assert run() == pytest.approx(coarse, rel=0.003)


def test_banked_day_is_one_sum():
    """Five hours of sun bank 1296 kJ of work; 6 demand hours of 40 W ask for 864 kJ, through a bank of 0.9.

    The engine gives 100 W: 90 W banked, so the sum never lags and the engine stops after 2.667 hours.
    """
    field, vessel = CollectorField(0.8, 0.0, 0.0, 2.0, 0.0), Vessel(2e6, 0.0, 293.15)
    steady = PowerMap(325.0, 40.0, [2000.0, 2000.0], [0.05, 0.05])
    day = one_day(5, 6)
    season = mixed_year(day, field, vessel, 365.0, 325.0, 40.0, steady, 0.0, 330.0, 3.0, 0.9)
    assert season.served == pytest.approx(6.0, rel=1e-9)
    assert season.longest_unserved == 0.0
    assert season.heat_drawn == pytest.approx(6 * 40.0 * HOUR / 0.9 / 0.05, rel=1e-9)
    # Asked for 150 W the engine's 90 W lag from the first hour on: six unserved hours, 0.6 of the sum.
    season = mixed_year(day, field, vessel, 365.0, 325.0, 150.0, steady, 0.0, 330.0, 3.0, 0.9)
    assert season.longest_unserved == 6.0
    assert season.share == pytest.approx(min(6 * 90.0, 5 * 1440.0 * 0.05 * 0.9) / 900.0, rel=1e-9)


def test_banked_day_is_not_carried_over():
    """What the second day lacks is not made up by the first."""
    field, vessel = CollectorField(0.8, 0.0, 0.0, 2.0, 0.0), Vessel(8e6, 0.0, 293.15)
    steady = PowerMap(325.0, 40.0, [2000.0, 2000.0], [0.05, 0.05])
    day = one_day(4, 4)
    two = Weather([*day.irradiance, *([0.0] * 24)], day.T_air * 2, [*day.demand, *day.demand])
    season = mixed_year(two, field, vessel, 365.0, 325.0, 60.0, steady, 0.0, 330.0, 3.0, 1.0)
    stored = 4 * 1440.0 * HOUR * 0.05 / HOUR  # W h of work
    assert season.served * 60.0 == pytest.approx(min(stored, 480.0), rel=1e-9)
    assert season.asked == 8


def test_year_with_the_laws(stratified, mixed):
    """Every working design gets a season within bounds; free running serves through its bank."""
    weather, case = made_up_year(), plain_case()
    for design in (*stratified[:2], *mixed[:4]):
        result = evaluate_one(design, case, weather, laws=CAREFUL, load=ANY_LOAD)
        assert 0.0 <= result["served_share"] <= 1.0 + 1e-9
        assert np.isfinite(result["collector_yield_kWh_per_year"])
