"""Engines whose cylinders and losses agree: convergence, and what must hold of any of them."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from explore.plant import settle as module
from explore.plant.cylinder import Make
from explore.plant.engine import Losses
from explore.plant.laws import Laws
from tests.plant.engines import CAREFUL, one_case, random_case

N = 1000


def converged(case, result, rated=None):
    """Where the engine gives work worth having: a twentieth of the ideal, a fifth of the rated."""
    work = result.marched.net_work
    sound = work > 0.05 * result.marched.ideal_work
    if rated is not None:
        sound &= work > 0.2 * (sum(s.shaft_work for s in rated) - case.pumped(case.pressure))
    return sound


@pytest.mark.parametrize("stages", [1, 2, 3])
@pytest.mark.parametrize("mixed", [False, True])
def test_sweeps_are_enough(stages, mixed):
    """Against 60 sweeps 99 of 100 engines lie within 0.05 % in work and 0.2 % in swept volume."""
    case = random_case(N, 3, stages)
    run = (lambda *k: case.settle_mixed(CAREFUL, 8.0, *k)) if mixed else (lambda *k: case.settle(CAREFUL, *k))
    one, reference = run(), run(60)
    sound = converged(case, reference, reference.marched.runs[0].stages if mixed else None)
    assert sound.mean() > 0.6
    work = np.abs(one.marched.net_work / reference.marched.net_work - 1.0)[sound]
    assert np.quantile(work, 0.99) < 5e-4
    for a, b in zip(one.cylinders, reference.cylinders, strict=True):
        assert np.quantile(np.abs(a.swept_volume / b.swept_volume - 1.0)[sound], 0.99) < 2e-3
    assert np.quantile(reference.residual[sound], 0.99) < 1e-6
    few = run(3)
    assert np.quantile(np.abs(few.marched.net_work / reference.marched.net_work - 1.0)[sound], 0.99) > 5e-4


def test_cylinders_pass_the_flow_that_gives_the_power():
    """V_D N i_a = k V_s mdot of every stage, mdot w_net = P, and the losses are those of these cylinders."""
    case = one_case(stages=2, power=[250.0, 900.0])
    s = case.settle(CAREFUL, 40)
    np.testing.assert_allclose(s.flow * s.marched.net_work, case.power, rtol=1e-12)
    walls = module.Walls(case.fluid)
    leaks = module.Leaks(CAREFUL, s.cylinders, case.frequency, case.films)
    again = module.run_losses(s.marched.runs[0].stages, leaks, walls)
    for stage, own, used, now in zip(s.marched.runs[0].stages, s.cylinders, s.losses[0], again, strict=True):
        np.testing.assert_allclose(own.displaced(case.frequency), stage.swept_volume * s.flow, rtol=1e-12)
        for field in dataclasses.fields(used):
            np.testing.assert_allclose(getattr(used, field.name), getattr(now, field.name), rtol=1e-8)


@pytest.mark.parametrize("mixed", [False, True])
def test_alone_or_in_a_batch(mixed):
    """One engine gives the same bits alone and among others."""
    case = random_case(9, 4, 2)
    run = (lambda c: c.settle_mixed(CAREFUL, 8.0)) if mixed else (lambda c: c.settle(CAREFUL))
    whole = run(case)
    for i in (0, 5):
        own = [getattr(case, f)[[i]] for f in ("index", "evaporating", "condensing", "superheat", "theta")]
        alone = run(type(case)(*own, case.power[[i]], case.frequency[[i]], stages=2))
        np.testing.assert_array_equal(alone.marched.net_work, whole.marched.net_work[[i]])
        np.testing.assert_array_equal(alone.cylinders[1].bore, whole.cylinders[1].bore[[i]])


def test_constants_need_no_sweep():
    """Losses that are the same for all march once, with the same work as without cylinders."""
    case = one_case(stages=2)
    constant = case.settle(Losses())
    work = sum(s.shaft_work for s in case.rated([Losses()] * 2)) - case.pumped(case.pressure)
    np.testing.assert_array_equal(constant.marched.net_work, work)
    assert np.all(constant.residual == 0.0)
    assert np.all(constant.port_violation < 0.0)


def test_bores_from_stock():
    """The next larger tube is taken, the stroke follows, and the engine agrees with its losses again."""
    free = one_case().settle(CAREFUL)
    stock = (0.02, 0.04, 0.06, 0.08, 0.10, 0.12, 0.16, 0.25)
    case = one_case(make=Make(stock_bores=stock))
    bought = case.settle(CAREFUL)
    want = min(b for b in stock if b >= free.cylinders[0].bore[0])
    assert bought.cylinders[0].bore[0] == want
    assert bought.cylinders[0].stroke[0] < free.cylinders[0].stroke[0]
    np.testing.assert_allclose(bought.flow * bought.marched.net_work, 250.0, rtol=1e-9)
    assert np.all(bought.residual < 1e-6)
    assert np.all(bought.violation < 0.0)


def test_saturation_is_looked_up_once_where_pressures_stay():
    """On a stratified store the inlet pressures never move, and a sweep looks nothing up there again."""
    case, asked = one_case(stages=2), []
    look = case.fluid.saturation
    case.fluid.saturation = lambda p: (asked.append(1), look(p))[1]
    walls = module.Walls(case.fluid)
    for _ in range(5):
        walls.at(0, case.pressure)
        walls.at(1, 0.5 * case.pressure)
    assert len(asked) == 2


def test_first_march_comes_from_the_small_side():
    """The first cylinder is that of half the ideal work and of a standing engine's valves."""
    case = one_case()
    first = case.settle(CAREFUL, 0)
    ideal = case.ideal(case.pressure, case.enthalpy)
    np.testing.assert_allclose(first.flow, 250.0 / (0.5 * ideal))
    assert first.losses[0][0].admission_pressure_loss == 0.02
    volume = first.marched.runs[0].stages[0].ideal_volume
    np.testing.assert_allclose(first.cylinders[0].displaced(case.frequency), volume * first.flow)


def test_an_engine_without_work_is_sized_and_said():
    """A tiny fast engine that rubs away all it gets stays finite, sized with a twentieth of the ideal work."""
    case = one_case("Ethanol", power=2.0, frequency=50.0, evaporating=333.0, condensing=308.0, theta=1.0)
    s = case.settle(Laws.home_made())
    np.testing.assert_allclose(s.flow, 2.0 / (0.05 * s.marched.ideal_work))
    assert np.all(np.isfinite([s.flow, s.cylinders[0].bore, s.residual]))
    assert s.marched.net_work < 0.0


WORSE = {
    "gap": 1.3, "friction": 1.3, "load_friction": 1.3, "speed_friction": 1.3,
    "wall": 1.3, "dry": 1.5, "superheat": 0.8,
}  # fmt: skip


@settings(max_examples=25, deadline=None)
@given(name=st.sampled_from(sorted(WORSE)), seed=st.integers(0, 10_000))
def test_worse_made_never_helps(name, seed):
    """A wider gap, rougher rings, colder walls never raise the net work of a settled engine."""
    case = random_case(12, seed)
    base = case.settle(CAREFUL, 20)
    factor = WORSE[name]
    worse = case.settle(dataclasses.replace(CAREFUL, **{name: factor * getattr(CAREFUL, name)}), 20)
    sound = converged(case, base) & (base.residual < 1e-9) & (worse.residual < 1e-9)
    assert np.all(worse.marched.net_work[sound] <= base.marched.net_work[sound] * (1.0 + 1e-6))


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_twice_as_large_is_better(seed):
    """The same machine for twice the power at the same piston speed and states gives more work a kilogram."""
    case = random_case(12, seed)
    twice = dataclasses.replace(case, power=2.0 * case.power, frequency=case.frequency / np.sqrt(2.0))
    small, large = case.settle(CAREFUL, 20), twice.settle(CAREFUL, 20)
    sound = converged(case, small) & (small.residual < 1e-9) & (large.residual < 1e-9)
    sound &= large.cylinders[0].bore < 0.1  # beyond, gaps grow with the bore
    assert np.all(large.marched.net_work[sound] >= small.marched.net_work[sound])


@pytest.mark.parametrize("name", ["n-Butane", "Ethanol", "R1233zd(E)", "Acetone", "Isopentane"])
def test_there_is_a_best_speed(name):
    """Between 20 and 3,000 rev/min the net work of a 1 kW engine rises and falls, for every fluid."""
    speeds = np.geomspace(20.0, 3000.0, 60)
    case = one_case(name, frequency=speeds / 60.0, evaporating=355.0, power=1000.0, theta=2.0)
    work = case.settle(CAREFUL).marched.net_work
    best = int(np.argmax(work))
    assert 0 < best < len(speeds) - 1
    assert work[0] < 0.97 * work[best]
    assert work[-1] < 0.97 * work[best]


def test_one_throw_gives_one_stroke():
    """All stages of a compound engine on one throw have one stroke, and the volumes that the flow asks."""
    case = one_case(stages=3, make=Make(one_throw=True))
    s = case.settle(CAREFUL)
    strokes = [c.stroke[0] for c in s.cylinders]
    assert strokes[0] == strokes[1] == strokes[2]
    for stage, own in zip(s.marched.runs[0].stages, s.cylinders, strict=True):
        np.testing.assert_allclose(own.displaced(case.frequency), stage.swept_volume * s.flow, rtol=1e-12)
