"""The stage, against its indicator diagram and against thermodynamics without losses."""

import dataclasses

import numpy as np
import pytest

from explore.fluids.table_fluid import Stack
from explore.plant.engine import LOSSLESS, Losses, expand, receiver_pressures
from explore.plant.part_load import Ends, freeze, run_fixed

N = 6
NAMES = ("n-Butane", "Ammonia", "R1233zd(E)")


@pytest.fixture(scope="module")
def vapour():
    """Dry saturated vapour of three fluids at 70 degC, exhausting at 25 degC."""
    index = np.arange(N) % len(NAMES)
    fluid = Stack.of(NAMES).bind(index)
    p1 = fluid.saturation_pressure(np.full(N, 343.15))
    p3 = fluid.saturation_pressure(np.full(N, 298.15))
    return fluid, p1, fluid.superheated(p1, np.full(N, 5.0)).enthalpy, p3


def test_without_losses_the_work_is_isentropic(vapour):
    """Complete expansion without losses gives the isentropic enthalpy drop."""
    fluid, p1, h1, p3 = vapour
    stage = expand(fluid, p1, h1, p3, np.ones(N), LOSSLESS)
    entropy = fluid.from_enthalpy(p1, h1).entropy
    ideal = h1 - fluid.from_entropy(p3, entropy).enthalpy
    np.testing.assert_allclose(stage.shaft_work, ideal, rtol=1e-12)
    np.testing.assert_allclose(stage.exhaust_enthalpy, h1 - ideal, rtol=1e-12)


@pytest.mark.parametrize("theta", [1.0, 1.7])
def test_indicated_work_is_the_area_of_the_diagram(vapour, theta):
    """The closed-form work equals the integral of V dp around the diagram, clearance and release included."""
    fluid, p1, h1, p3 = vapour
    losses = dataclasses.replace(Losses(), leakage_fraction=0.0, wall_loss_per_K=0.0)
    stage = expand(fluid, p1, h1, p3, np.full(N, theta), losses)
    c = losses.clearance_fraction
    swept = stage.ideal_volume
    full, top = (1.0 + c) * swept, c * swept
    area = np.zeros(N)
    for start, end, volume_at_start, share in (
        (stage.inlet.throttled_pressure, stage.release_pressure, full / stage.volume_ratio, -1.0),
        (stage.back_pressure, stage.inlet.throttled_pressure, None, -1.0),
    ):
        f = np.linspace(0.0, 1.0, 2001)[:, None]
        p = np.exp(np.log(start) + f * np.log(end / start))
        v = np.stack([fluid.from_entropy(row, stage.inlet.entropy).volume for row in p])
        V = (top if volume_at_start is None else volume_at_start) * v / stage.inlet.volume
        area += share * np.sum(0.5 * (V[1:] + V[:-1]) * np.diff(p, axis=0), axis=0)
    area += full * (stage.release_pressure - stage.back_pressure)
    np.testing.assert_allclose(stage.indicated_work, area, rtol=2e-4)


def test_each_loss_costs_work(vapour):
    """Raising any loss lowers the shaft work per kg."""
    fluid, p1, h1, p3 = vapour
    base = expand(fluid, p1, h1, p3, np.full(N, 1.2), Losses()).shaft_work
    for field in dataclasses.fields(Losses):
        if field.name == "clearance_fraction":
            continue
        worse = dataclasses.replace(Losses(), **{field.name: 1.2 * getattr(Losses(), field.name)})
        assert np.all(expand(fluid, p1, h1, p3, np.full(N, 1.2), worse).shaft_work < base), field.name


def test_clearance_asks_for_a_larger_cylinder(vapour):
    """Clearance lengthens the cylinder that passes a kilogram."""
    fluid, p1, h1, p3 = vapour
    small = expand(fluid, p1, h1, p3, np.full(N, 1.2), dataclasses.replace(Losses(), clearance_fraction=0.02))
    large = expand(fluid, p1, h1, p3, np.full(N, 1.2), dataclasses.replace(Losses(), clearance_fraction=0.10))
    assert np.all(large.swept_volume > small.swept_volume)


def test_impossible_clearance_is_a_positive_violation(vapour):
    """Expansion beyond what the clearance allows breaks its margin."""
    fluid, p1, h1, _ = vapour
    stage = expand(
        fluid, p1, h1, p1 / 40.0, np.ones(N), dataclasses.replace(Losses(), clearance_fraction=0.2)
    )
    assert np.all(stage.violation_clearance > 0.0)
    np.testing.assert_allclose(stage.violation_clearance, stage.volume_ratio * 0.2 / 1.2 - 1.0)
    np.testing.assert_allclose(
        stage.violation_recompression, 0.2 * stage.clearance_volume / stage.inlet.volume / 1.2 - 1.0
    )
    assert np.all(np.isfinite(stage.shaft_work))


def test_equal_pressure_ratios():
    """Three stages without levels divide the pressure into equal ratios; levels set their own boundaries."""
    p = receiver_pressures([np.array([8.0e5])], np.array([1.0e5]), 3)
    np.testing.assert_allclose([x[0] for x in p], [8e5, 4e5, 2e5, 1e5])
    p = receiver_pressures([np.array([8.0e5]), np.array([4.0e5])], np.array([1.0e5]), 3)
    np.testing.assert_allclose([x[0] for x in p], [8e5, 4e5, 2e5, 1e5])


@pytest.mark.parametrize("stages", [1, 2, 3])
def test_fixed_engine_reproduces_its_rated_point(vapour, stages):
    """At the state it was sized for, the fixed engine does what it was sized to do."""
    fluid, p1, h1, p3 = vapour
    rated, h = [], h1
    bounds = receiver_pressures([p1], p3, stages)
    for j in range(stages):
        rated.append(expand(fluid, bounds[j], h, bounds[j + 1], np.full(N, 1.3), Losses()))
        h = rated[-1].exhaust_enthalpy
    again, flow = run_fixed(fluid, freeze(rated), Ends(p1, h1, p3), Losses())
    np.testing.assert_allclose(flow, 1.0, rtol=1e-9)
    for one, other in zip(rated, again, strict=True):
        np.testing.assert_allclose(other.shaft_work, one.shaft_work, rtol=1e-7)


def test_mass_flow_is_the_same_through_all_cylinders(vapour):
    """Away from the rated point every stage admits what the one before lets out."""
    fluid, p1, h1, p3 = vapour
    bounds = receiver_pressures([p1], p3, 3)
    rated, h = [], h1
    for j in range(3):
        rated.append(expand(fluid, bounds[j], h, bounds[j + 1], np.full(N, 1.3), Losses()))
        h = rated[-1].exhaust_enthalpy
    engine = freeze(rated)
    hotter = fluid.saturation_pressure(np.full(N, 350.0))
    ends = Ends(hotter, fluid.superheated(hotter, np.zeros(N)).enthalpy, p3)
    stages, flow = run_fixed(fluid, engine, ends, Losses())
    for admission, stage in zip(engine.admissions, stages, strict=True):
        np.testing.assert_allclose(admission / (stage.inlet.volume * stage.kept), flow, rtol=2e-8)
    assert np.all(flow > 1.0)
