"""What must always hold, on random designs of every fluid and structure."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from explore import units
from explore.config.compose import load_scenario
from explore.design.space import Space
from explore.model import Evaluator
from explore.model.dissect import rated

LAYOUTS = [("stratified", s, lv) for s in (1, 2, 3) for lv in range(1, s + 1)] + [
    ("mixed", s, 1) for s in (1, 2, 3)
]


def structured(evaluator, designs, mode, stages, levels, n=600, seed=2):
    """Designs of one structure, all fluids among them."""
    columns = designs(n, seed)
    d = evaluator.designs(columns)
    keep = (d.stratified == (mode == "stratified")) & (d.stages == stages)
    keep &= (np.minimum(d.levels, d.stages) if mode == "stratified" else np.ones(n)) == levels
    return d.take(np.flatnonzero(keep))


def working(cycle):
    """Rows whose cycle delivers work."""
    return (cycle.net_work > 500.0) & np.all([m > 0.0 for m in cycle.raised], axis=0)


@pytest.mark.parametrize(("mode", "stages", "levels"), LAYOUTS)
def test_energy_and_exergy_books_close(evaluator, designs, mode, stages, levels):
    """Energy of every component and of the whole, and the exergy account, close to 1e-6 of the heat input."""
    part = structured(evaluator, designs, mode, stages, levels)
    _, cycle, books = rated(evaluator, part)
    ok = working(cycle)
    assert ok.sum() >= 10
    for account in books.accounts:
        assert np.abs(account.energy_residual / cycle.heat)[ok].max() < 1e-6, account.component
    assert np.abs(books.energy_residual() / cycle.heat)[ok].max() < 1e-6
    assert np.abs(books.exergy_residual() / cycle.heat)[ok].max() < 1e-6


@pytest.mark.parametrize(("mode", "stages", "levels"), LAYOUTS)
def test_every_component_generates_entropy(evaluator, designs, mode, stages, levels):
    """No component destroys entropy beyond 1e-4 of the flow's entropy change (table path)."""
    part = structured(evaluator, designs, mode, stages, levels)
    _, cycle, books = rated(evaluator, part)
    ok = working(cycle) & pinched(evaluator, part)
    change = cycle.heat / part.condensing_temperature
    for account in books.accounts:
        assert (account.entropy_generated / change)[ok].min() > -1e-4, account.component


def pinched(evaluator, part):
    """Rows whose exchangers keep their temperature differences."""
    T_cw = evaluator.plant.machine.cooling_water_temperature
    ok = part.condensing_temperature - np.maximum(part.pinch_condenser, part.subcooling) > T_cw + 0.5
    approach = np.where(part.stratified, 0.5 * part.pinch_boiler, 0.0)
    boiling = np.where(
        part.stratified,
        part.evaporating_temperature,
        0.5 * (part.top_temperature + part.stop_temperature) - part.boil_approach,
    )
    return ok & (np.where(part.stratified, part.top_temperature - boiling - part.superheat, 1.0) >= approach)


def test_no_design_beats_exergy_or_carnot(evaluator, designs):
    """Work per litre stays below the exergy of the litre; the cycle below Carnot between store and cooling water."""
    columns = designs(1500, 5)
    out = evaluator.evaluate(columns)
    sound = (out["violation_condenser_pinch_K"] <= 0) & ~(out["violation_boiler_hot_end_K"] > 0)
    assert sound.sum() > 500
    assert out["second_law_efficiency"][sound].max() < 1.0
    top = units.kelvin(columns["top_temperature_degC"])
    carnot = 1.0 - evaluator.plant.machine.cooling_water_temperature / top
    assert np.all(out["thermal_efficiency"][sound] < carnot[sound])


def test_one_design_alone_or_in_any_batch(evaluator, designs):
    """A design gives the same figures alone, in a batch, and in a shuffled batch."""
    columns = designs(60, 9)
    whole = evaluator.evaluate(columns)
    order = np.random.default_rng(0).permutation(60)
    shuffled = evaluator.evaluate({k: v[order] for k, v in columns.items()})
    alone = [evaluator.evaluate({k: v[[i]] for k, v in columns.items()}) for i in range(0, 60, 6)]
    assert (shuffled.pop("outside_ranges") == whole.pop("outside_ranges")[order]).all()
    for name, values in whole.items():
        np.testing.assert_allclose(shuffled[name], values[order], rtol=1e-12, atol=1e-12, err_msg=name)
        one_by_one = np.concatenate([a[name] for a in alone])
        np.testing.assert_allclose(one_by_one, values[::6], rtol=1e-12, atol=1e-12, err_msg=name)


def test_evaluation_leaves_its_inputs_alone(evaluator, designs):
    """Columns handed in are not written to."""
    columns = designs(40, 4)
    for values in columns.values():
        values.setflags(write=False)
    evaluator.evaluate(columns)


def test_objectives_and_violations_are_finite(evaluator, designs):
    """No NaN or infinity in an objective; a violation is finite wherever it applies."""
    out = evaluator.evaluate(designs(1500, 12))
    for objective in evaluator.case.scenario.objectives:
        assert np.isfinite(out[objective.figure]).all()
    for name in (n for n in out if n.startswith("violation_")):
        assert not np.isinf(out[name]).any(), name
    assert out["feasible"].dtype == bool


@pytest.mark.parametrize("column", ["insulation_mm", "collector_area_m2"])
@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 10_000), factor=st.floats(1.05, 2.0))
def test_more_insulation_or_collector_never_serves_less(evaluator, designs, column, seed, factor):
    """More of either never serves less, within rounding."""
    columns = designs(40, seed)
    more = dict(columns) | {column: columns[column] * factor}
    before, after = evaluator.evaluate(columns), evaluator.evaluate(more)
    works = before["work_per_litre_kJ"] > 0.5
    assert np.all(after["served_share"][works] >= before["served_share"][works] - 2e-3)


def test_coarse_findings_of_an_independent_study():
    """With constant losses: 90/14 degC, 2 K pinches, 200 L, 12 h; stratified 7-13 kJ/L, mixed 9-17 kJ/L at their best.

    Orders of magnitude from an independent scalar evaluation of the same physics.
    """
    orchard, best = load_scenario("orchard", ["engine=constant"]), {}
    evaluator = Evaluator(orchard)
    for mode in ("stratified", "mixed"):
        space = Space.from_case(
            orchard.model_copy(
                update={
                    "space": {
                        "store_mode": mode,
                        "fluid": ["n-Butane", "IsoButane", "R134a", "R1233zd(E)"],
                        "top_temperature_degC": 90,
                        "store_volume_L": 200,
                        "insulation_mm": 150,
                        "pressure_levels": 1,
                        "pinch_condenser_K": 2,
                        "release_pressure_ratio": [1.0, 1.3],
                    }
                    | ({"pinch_boiler_K": 2} if mode == "stratified" else {"boil_approach_K": 3})
                }
            )
        )
        out = evaluator.evaluate(space.sample(1500, np.random.default_rng(1)))
        sound = ~(out["violation_condenser_pinch_K"] > 0) & ~(out["violation_boiler_hot_end_K"] > 0)
        best[mode] = out["work_per_litre_kJ"][sound & (out["violation_standstill_temperature_K"] <= 0)].max()
    assert 7.0 < best["stratified"] < 13.0
    assert 9.0 < best["mixed"] < 17.0
    assert best["mixed"] > best["stratified"]


def test_tables_follow_helmholtz(orchard, evaluator, designs):
    """Work per litre within 0.2 % and pressures within 0.05 % of the Helmholtz path."""
    columns = designs(400, 21)
    out = evaluator.evaluate(columns)
    good = np.flatnonzero((out["work_per_litre_kJ"] > 1.0) & (out["violation_condenser_pinch_K"] <= 0))[:40]
    some = {k: v[good] for k, v in columns.items()}
    plain = Evaluator(orchard, "helmholtz").evaluate(some)
    np.testing.assert_allclose(out["work_per_litre_kJ"][good], plain["work_per_litre_kJ"], rtol=2e-3)
    for name in ("boiler_pressure_bar_a", "max_boiler_pressure_bar_a", "condenser_pressure_bar_a"):
        np.testing.assert_allclose(out[name][good], plain[name], rtol=5e-4)
