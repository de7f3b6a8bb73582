"""Exchangers of tubes in the whole model: losses, limits, ranges, rating, and what stays as it was."""

import numpy as np
import pandas as pd
import pytest

from explore.config.compose import load_scenario
from explore.cycle.exchangers import settled_flow
from explore.design.designs import checked
from explore.design.space import Space
from explore.errors import InputError
from explore.figures.catalogue import TUBE_FIGURES
from explore.figures.format import wished
from explore.model import Evaluator
from explore.model.dissect import rated

MIXTURE = "Butane-propane-70-30"


def with_tubes(case, **changes):
    """Return the case with exchangers made of tubes."""
    return case.model_copy(
        update={"exchangers": case.exchangers.model_copy(update={"method": "tubes", **changes})}
    )


@pytest.fixture(scope="module")
def tubes(orchard):
    """The model of the default case with exchangers made of tubes."""
    return Evaluator(with_tubes(orchard))


@pytest.fixture(scope="module")
def sound(orchard, evaluator):
    """Designs that work with coefficients and keep their temperature differences, both store modes and levels."""
    columns = Space.from_case(orchard).sample(4000, np.random.default_rng(3))
    out = evaluator.evaluate(columns)
    names = [n for n in out if n.startswith("violation_") and not wished(n)]
    keep = np.all([~(out[n] > 0.0) for n in names], axis=0) & (out["net_work_kJ_per_kg"] > 10.0)
    assert keep.sum() > 100
    return {name: values[keep] for name, values in columns.items()}


def test_coefficients_stay_without_tubes(evaluator, sound):
    """With coefficients there are no figures of tubes, and nothing is outside a range."""
    out = evaluator.evaluate(sound)
    assert not set(TUBE_FIGURES) & set(out)
    assert set(out["outside_ranges"]) == {""}
    assert (out["outside_ranges_fraction"] == 0.0).all()


def test_tubes_have_length_losses_and_a_price(tubes, evaluator, sound):
    """Areas are those of the tubes, and the bill, the charge and the work follow them."""
    out, plain = tubes.evaluate(sound), evaluator.evaluate(sound)
    levels = sum(
        np.nan_to_num(out[f"boiler_tubes_{k}_count"] * out[f"boiler_tubes_{k}_length_m"]) for k in (1, 2, 3)
    )
    np.testing.assert_allclose(levels * np.pi * 0.012, out["boiler_area_m2"], rtol=1e-9)
    single = out["condenser_tubes_1_count"] * out["condenser_tubes_1_length_m"]
    np.testing.assert_allclose(single * np.pi * 0.012, out["condenser_area_m2"], rtol=1e-9)
    price = tubes.case.costs.boiler_EUR_per_m2
    np.testing.assert_allclose(out["cost_boiler_EUR"], price * out["boiler_area_m2"])
    assert (out["boiler_fluid_drop_bar"] > 0.0).all()
    assert (out["condenser_fluid_drop_bar"] > 0.0).all()
    less = out["shaft_work_kJ_per_kg"] < plain["shaft_work_kJ_per_kg"]
    assert less.mean() > 0.95  # a plant that loses more gets a larger engine, which now and then loses less
    bigger = out["boiler_area_m2"] > 1.2 * plain["boiler_area_m2"]
    assert bigger.any()


def test_losses_of_pressure_always_cost_an_engine_whose_losses_are_the_same_at_every_size(sound):
    """With constant losses every design gives less shaft work per kg with tubes than without."""
    case = load_scenario("orchard", ["engine=constant"])
    some = {name: values[:150] for name, values in sound.items()}
    out, plain = Evaluator(with_tubes(case)).evaluate(some), Evaluator(case).evaluate(some)
    assert (out["shaft_work_kJ_per_kg"] < plain["shaft_work_kJ_per_kg"]).all()


def test_losses_of_pressure_are_those_of_the_cycle(tubes, sound):
    """The engine starts below the boiler by the drop in its tubes and exhausts above the condenser by that in its own."""
    out = tubes.evaluate(sound)
    settled = ~(out["violation_exchanger_unsettled_fraction"] > 0.0)
    settled &= ~(out["violation_exchanger_pressure_drop_fraction"] > 0.0)
    one = settled & (sound["pressure_levels"] == 1) & (sound["store_mode"] == "stratified")
    assert settled.mean() > 0.8
    before = (out["boiler_pressure_bar_a"] - out["receiver_pressure_1_bar_a"])[one]
    bar = out["boiler_pressure_bar_a"][one]
    assert np.abs(before - out["boiler_fluid_drop_bar"][one]).max() < 0.0011 * bar.max()
    assert (np.abs(before - out["boiler_fluid_drop_bar"][one]) < 0.0011 * bar).all()


@pytest.mark.parametrize(
    ("mode", "stages", "levels"), [("stratified", 1, 1), ("stratified", 2, 2), ("mixed", 1, 1)]
)
def test_books_close_with_tubes(tubes, sound, mode, stages, levels):
    """Energy and exergy close to 1e-6 of the heat with throttling by pressure drops, which makes entropy."""
    designs = tubes.designs(sound)
    keep = (designs.stratified == (mode == "stratified")) & (designs.stages == stages)
    keep &= designs.levels == levels
    part = designs.take(np.flatnonzero(keep)[:60])
    assert len(part) >= 3
    _, cycle, books = rated(tubes, part)
    assert np.abs(books.energy_residual() / cycle.heat).max() < 1e-6
    assert np.abs(books.exergy_residual() / cycle.heat).max() < 1e-6
    (drops,) = (a for a in books.accounts if a.component == "exchanger pressure drops")
    assert (drops.entropy_generated > 0.0).all()


def test_a_design_does_not_depend_on_its_batch(tubes, sound):
    """Alone, in reverse or among others a design with tubes has the same figures."""
    whole = tubes.evaluate(sound)
    n = len(sound["fluid"])
    back = tubes.evaluate({name: values[::-1] for name, values in sound.items()})
    for row in (0, n // 2, n - 1):
        alone = tubes.evaluate({name: values[row : row + 1] for name, values in sound.items()})
        for name, values in whole.items():
            assert back[name][n - 1 - row] == values[row] or values[row] != values[row], name
            if values.dtype == object:
                assert alone[name][0] == values[row]
            else:
                np.testing.assert_allclose(alone[name][0], values[row], rtol=1e-12, err_msg=name)


def test_drops_settle(tubes, sound, monkeypatch):
    """Three sizings come close to many: half of the designs within 0.05 % of their work, nine in ten within 0.5 %."""
    few = tubes.evaluate(sound)
    monkeypatch.setattr("explore.cycle.exchangers.PASSES", 12)
    many = tubes.evaluate(sound)
    ok = ~(few["violation_exchanger_unsettled_fraction"] > 0.0)
    ok &= ~(few["violation_exchanger_pressure_drop_fraction"] > 0.0)
    off = np.abs(few["work_per_litre_kJ"] / many["work_per_litre_kJ"] - 1.0)[ok]
    assert np.median(off) < 5e-4
    assert np.quantile(off, 0.9) < 5e-3
    assert np.quantile(many["violation_exchanger_unsettled_fraction"][ok], 0.9) < 1e-5 - 0.001


def test_flow_settles_where_its_own_drops_leave_the_power():
    """The flow found balances power, work without drops and drops that grow with its 2.8th power."""
    free, taken, w0, cost = np.array([0.01]), np.array([0.012]), 5e4, 4e3
    power = w0 * free
    found = power / (w0 - cost)
    m = settled_flow(free, taken, found)
    np.testing.assert_allclose(m * (w0 - cost * (m / taken) ** 2.8), power, rtol=1e-6)
    far = settled_flow(free, taken, 1e3 * taken)
    assert np.isfinite(far).all()


def test_ranges_left_are_told(tubes, sound):
    """A flagged design names the correlation, the quantity and the limit; the number is zero where no words stand."""
    out = tubes.evaluate(sound)
    said = out["outside_ranges"] != ""
    assert said.any()
    assert ((out["outside_ranges_fraction"] > 0.0) == said).all()
    assert any("Mueller-Steinhagen-Heck: mass flux" in words for words in out["outside_ranges"])


def test_tables_have_a_range_too(orchard, evaluator, sound):
    """With coefficients, vapour hotter than the property tables is told."""
    frame = pd.DataFrame(sound).iloc[:2].reset_index(drop=True)
    frame["store_mode"], frame["stages"], frame["pressure_levels"] = "stratified", 1, 1
    frame["evaporating_temperature_degC"], frame["pinch_boiler_K"] = [80.0, 100.0], 3.0
    frame["superheat_K"] = [5.0, 40.0]
    out = evaluator.evaluate(checked(frame, evaluator.fluids, evaluator.collectors))
    assert out["outside_ranges"].tolist() == ["", "property tables: vapour temperature 413 above 405 K"]


@pytest.mark.parametrize(("mode", "pinch"), [("stratified", "pinch_boiler_K"), ("mixed", "boil_approach_K")])
def test_tubes_at_hand_are_rated(orchard, tubes, sound, mode, pinch):
    """Tubes as a design asks for reach its own approaches; tubes too short break a limit and reach a wider approach."""
    choose = (sound["store_mode"] == mode) & (sound["pressure_levels"] == 1)
    choose &= tubes.evaluate(sound)["violation_exchanger_unsettled_fraction"] < -0.0009
    row = np.flatnonzero(choose)[2]
    design = {name: values[row : row + 1] for name, values in sound.items()}
    sized = {name: float(v[0]) for name, v in tubes.evaluate(design).items() if v.dtype != object}

    def owned(share):
        given = orchard.exchangers
        parts = {
            name: getattr(given, name).model_copy(
                update={"count": int(sized[f"{side}_tubes_1_count"]),
                        "length_m": share * sized[f"{side}_tubes_1_length_m"]}
            )
            for name, side in (("boiler", "boiler"), ("coil", "boiler"), ("condenser", "condenser"))
        }  # fmt: skip
        out = Evaluator(with_tubes(orchard, **parts)).evaluate(design)
        return {name: float(v[0]) for name, v in out.items() if v.dtype != object}

    same, short = owned(1.0 + 1e-3), owned(0.7)
    np.testing.assert_allclose(same["boiler_rated_pinch_K"], design[pinch][0], rtol=5e-3)
    np.testing.assert_allclose(same["condenser_rated_pinch_K"], design["pinch_condenser_K"][0], rtol=5e-3)
    assert same["violation_condenser_tube_length_m"] <= 0.0
    assert short["violation_boiler_tube_length_m"] > 0.0
    assert short["violation_condenser_tube_length_m"] > 0.0
    assert short["condenser_rated_pinch_K"] > same["condenser_rated_pinch_K"]
    assert short["boiler_rated_pinch_K"] > same["boiler_rated_pinch_K"]


def test_a_mixture_is_left_out_with_the_reason(orchard, tubes, sound):
    """Films are known for pure fluids: a mixture asked for among others is left out, and refused where evaluated."""
    case = with_tubes(orchard).model_copy(update={"space": {"fluid": ["n-Butane", MIXTURE]}})
    space = Space.from_case(case)
    assert space.fluids == ("n-Butane",)
    assert "pure fluids only" in space.left_out[MIXTURE]
    design = {name: values[:1].copy() for name, values in sound.items()}
    design["fluid"] = np.array([MIXTURE], dtype=object)
    design["pressure_levels"] = np.array([1])
    with pytest.raises(InputError, match=f"{MIXTURE} cannot be used: films in tubes"):
        tubes.evaluate(design)


def test_copper_tubes_and_ammonia_clash(orchard):
    """The cautions of a design count what its tubes are made of."""
    from explore.model.details import warned

    copper = orchard.exchangers.condenser.model_copy(update={"material": "copper"})
    scenario = orchard.scenario.model_copy(update={"materials": ("steel",)})
    case = with_tubes(orchard, condenser=copper).model_copy(update={"scenario": scenario})
    topics = {one["topic"]: one["level"] for one in warned({"fluid": "Ammonia"}, case, 1.0)}
    assert topics["material clash"] == "danger"
