"""A fixed engine under the laws, its governors and the drive to its load."""

import dataclasses

import numpy as np
import pytest

from explore.plant.governor import (
    Setting,
    built_cut_off,
    drive_efficiency,
    drive_steps,
    govern,
    ratio_at,
    with_cut_off,
)
from explore.plant.part_load import Ends, freeze, run_at
from explore.plant.settle import Leaks
from tests.plant.engines import CAREFUL, one_case, random_case


def hot(case, settled, warmer, laws=CAREFUL, sweeps=None):
    """The settled engine with the boiler ``warmer`` kelvin above its rated point."""
    rated = settled.marched.runs[0].stages
    p, h = case.boiler(case.evaporating + warmer)
    leaks = Leaks(laws, settled.cylinders, case.frequency, case.films)
    done = run_at(case.fluid, freeze(rated), Ends(p, h, case.low), leaks, settled.losses[0], sweeps, rated)
    return done, sum(s.shaft_work for s in done.stages) - case.pumped(p)


@pytest.mark.parametrize("stages", [1, 2, 3])
def test_at_its_rated_point_it_does_what_it_was_sized_for(stages):
    """Nothing moves where pressures and speed are those of the rated point."""
    case = one_case(stages=stages, power=[250.0, 900.0])
    settled = case.settle(CAREFUL, 40)
    done, work = hot(case, settled, 0.0)
    np.testing.assert_allclose(done.flow, 1.0, rtol=1e-6)
    np.testing.assert_allclose(work, settled.marched.net_work, rtol=1e-6)


@pytest.mark.parametrize("stages", [1, 2, 3])
def test_sweeps_at_a_node_are_enough(stages):
    """Within 5e-4 of the converged power for 99 of 100 engines, 9 K above and 4 K below the rated point."""
    case = random_case(300, 5, stages)
    settled = case.settle(CAREFUL)
    sound = (settled.marched.net_work > 0.2 * settled.marched.ideal_work) & (settled.residual < 1e-6)
    assert sound.mean() > 0.6
    for warmer in (-4.0, 9.0):
        one, work = hot(case, settled, warmer)
        reference, right = hot(case, settled, warmer, sweeps=60)
        off = np.abs(one.flow * work / (reference.flow * right) - 1.0)[sound]
        assert np.quantile(off, 0.99) < 5e-4
        assert np.quantile(one.residual[sound], 0.95) < 1e-2


def test_mass_flows_through_all_cylinders():
    """Away from the rated point every stage admits what the one before lets out, leaks counted."""
    case = one_case(stages=3, power=[100.0, 900.0])
    settled = case.settle(CAREFUL)
    engine = freeze(settled.marched.runs[0].stages)
    done, _ = hot(case, settled, 9.0, sweeps=30)
    for admission, stage in zip(engine.admissions, done.stages, strict=True):
        np.testing.assert_allclose(admission / (stage.inlet.volume * stage.kept), done.flow, rtol=1e-5)


def test_the_mixed_store_sizes_at_its_sizing_point():
    """Run at the sizing point with the cylinders settled there, it gives P, and volumes keep the rated proportion."""
    case = one_case(stages=2)
    s = case.settle_mixed(CAREFUL, 8.0, 40)
    rated, sized = (run.stages for run in s.marched.runs)
    done, work = hot(case, s, -8.0, sweeps=40)
    np.testing.assert_allclose(work, s.marched.net_work, rtol=1e-6)
    # flow at the sizing point: rated flow of these cylinders times the ratio
    rated_flow = s.cylinders[0].displaced(case.frequency) / rated[0].swept_volume
    np.testing.assert_allclose(rated_flow * done.flow * work, case.power, rtol=1e-5)
    np.testing.assert_allclose(
        s.cylinders[1].swept_volume / s.cylinders[0].swept_volume,
        rated[1].swept_volume / rated[0].swept_volume,
    )
    assert len(sized) == 2


@pytest.mark.parametrize("name", ["inlet_port", "outlet_port", "gap", "friction"])
def test_a_given_engine_made_worse_gives_less(name):
    """Smaller ports, a wider gap or rougher rings take power from the same cylinders."""
    case = random_case(40, 8)
    settled = case.settle(CAREFUL)
    factor = 0.7 if "port" in name else 1.4
    worse = dataclasses.replace(CAREFUL, **{name: factor * getattr(CAREFUL, name)})
    sound = settled.marched.net_work > 0.05 * settled.marched.ideal_work
    one, work = hot(case, settled, 0.0, sweeps=20)
    other, less = hot(case, settled, 0.0, worse, sweeps=20)
    assert np.all((other.flow * less)[sound] <= (one.flow * work)[sound] * (1.0 + 1e-9))


class Governed:
    """A settled engine on a store 10 K above its rated point."""

    def __init__(self, stages=1):
        self.case = case = one_case(stages=stages, power=[100.0, 250.0, 2000.0])
        self.settled = settled = case.settle(CAREFUL)
        self.engine = freeze(settled.marched.runs[0].stages)
        self.p, self.h = case.boiler(case.evaporating + 10.0)
        self.eps = built_cut_off(self.engine, CAREFUL.clearance)
        self.full = Setting(self.p, self.eps, case.frequency)
        self.calls = 0

    def power(self, setting):
        """Net power [W] at a setting."""
        self.calls += 1
        case, settled = self.case, self.settled
        engine = with_cut_off(self.engine, CAREFUL.clearance, setting.cut_off)
        leaks = Leaks(CAREFUL, settled.cylinders, setting.frequency, case.films)
        ends = Ends(setting.pressure, self.h, case.low)
        done = run_at(case.fluid, engine, ends, leaks, settled.losses[0], 12)
        rated = settled.cylinders[0].displaced(setting.frequency) / settled.marched.volumes[0]
        work = sum(s.shaft_work for s in done.stages) - case.pumped(self.p)
        return rated * done.flow * work


@pytest.mark.parametrize("stages", [1, 2])
@pytest.mark.parametrize("governing", ["throttle", "cut_off", "speed", "free"])
def test_governors_hold_the_power(governing, stages):
    """Each turns one thing down until the power is P; free leaves all open up to what the load takes."""
    g = Governed(stages)
    unturned = g.power(g.full)
    assert np.all(unturned > 1.1 * g.case.power)
    setting = govern(governing, g.power, g.full, g.case.low, g.case.power, power_may_rise=1.05)
    wanted = g.case.power * (1.05 if governing == "free" else 1.0)
    np.testing.assert_allclose(g.power(setting), wanted, rtol=1e-4)
    moved = {
        "throttle": "pressure", "free": "pressure", "speed": "frequency", "cut_off": "cut_off",
    }[governing]  # fmt: skip
    for name in Setting._fields:
        same = np.array_equal(getattr(setting, name), getattr(g.full, name))
        assert same == (name != moved)
        assert np.all(getattr(setting, name) <= getattr(g.full, name))


def test_weak_engines_stay_at_full_admission():
    """An engine that gives no more than P (1 + 1e-7) is left alone, bit for bit; a free one up to its greater power."""
    g = Governed()
    unturned = g.power(g.full)
    for governing in ("throttle", "cut_off", "speed"):
        setting = govern(governing, g.power, g.full, g.case.low, unturned / (1.0 + 0.9e-7))
        for now, full in zip(setting, g.full, strict=True):
            np.testing.assert_array_equal(now, full)
    free = govern("free", g.power, g.full, g.case.low, g.case.power, power_may_rise=4.0)
    np.testing.assert_array_equal(free.pressure, g.full.pressure)
    turned = govern("throttle", g.power, g.full, g.case.low, unturned / (1.0 + 1e-3))
    assert np.all(turned.pressure < g.full.pressure)


def test_the_shortest_cut_off_is_followed_by_the_throttle():
    """Where even a cut-off of 0.05 is too much, the throttle holds the rest; a shorter built one is not lengthened."""
    g = Governed()
    shortest = g.power(g.full._replace(cut_off=np.minimum(0.05, g.eps)))
    power = np.array([0.5, 0.5, 1.0]) * np.abs(shortest) + np.array([0.0, 0.0, 1.0])
    setting = govern("cut_off", g.power, g.full, g.case.low, power, steps=14)
    np.testing.assert_allclose(setting.cut_off[:2], np.minimum(0.05, g.eps)[:2], rtol=1e-4)
    assert np.all(setting.pressure[:2] < g.full.pressure[:2])
    assert setting.pressure[2] == g.full.pressure[2]


def test_cut_off_and_built_in_ratio():
    """r_1 = 1.07/(0.3 + 0.07) = 2.8919; at its built cut-off an engine is itself."""
    np.testing.assert_allclose(ratio_at(0.07, np.array([0.3])), 2.8918919)
    g = Governed()
    same = with_cut_off(g.engine, 0.07, g.eps)
    np.testing.assert_allclose(same.volume_ratios[0], g.engine.volume_ratios[0])
    np.testing.assert_allclose(same.admissions[0], g.engine.admissions[0])


def test_drive():
    """A step of 4 to 1 either way costs 4 %, two 7.84 %, none nothing."""
    speeds = np.array([300.0, 1200.0, 75.0, 4800.0])
    np.testing.assert_allclose(drive_efficiency(speeds, 300.0), [1.0, 0.96, 0.96, 0.9216])
    np.testing.assert_allclose(drive_steps(speeds, 300.0), [0.0, 1.0, 1.0, 2.0])
