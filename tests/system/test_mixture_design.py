"""Designs on bottled gas: conventions, pinch along the curve, books, limits, and every way to be refused."""

import numpy as np
import pandas as pd
import pytest
import yaml

from explore import cli
from explore.config.compose import compose_case, load_scenario
from explore.config.schema import Case
from explore.design.space import Space
from explore.design.variables import INPUTS
from explore.errors import InputError
from explore.fluids import mixture_tables
from explore.fluids.blend import Blend
from explore.fluids.helmholtz import substance
from explore.judgement.hazards import material_clashes
from explore.model import Evaluator, evaluate
from explore.model.dissect import dissect, dome, rated

GAS = "Butane-propane-70-30"
DESIGN = {
    "fluid": GAS,
    "store_mode": "stratified",
    "top_temperature_degC": 85.0,
    "evaporating_temperature_degC": 55.0,
    "superheat_K": 3.0,
    "condensing_temperature_degC": 24.0,
    "subcooling_K": 2.0,
    "pinch_boiler_K": 4.0,
    "pinch_condenser_K": 4.0,
    "stages": 1,
    "pressure_levels": 1,
    "release_pressure_ratio": 1.2,
    "regenerator_effectiveness": 0.0,
    "store_volume_L": 700.0,
    "insulation_mm": 120.0,
    "collector": "flat_plate",
    "collector_area_m2": 14.0,
}
STRATIFIED_ONLY = ("evaporating_temperature_degC", "pinch_boiler_K")
MIXED = {k: v for k, v in DESIGN.items() if k not in STRATIFIED_ONLY} | {
    "store_mode": "mixed",
    "boil_approach_K": 6.0,
    "stop_temperature_degC": 62.0,
}


def frame(*designs):
    """Designs as a frame with every input column."""
    return pd.DataFrame(list(designs)).reindex(columns=list(INPUTS))


def columns(*designs):
    """Designs as sound columns."""
    return {name: frame(*designs)[name].to_numpy() for name in INPUTS}


def with_card(case: Case, **changes):
    """The case with a second mixture in its catalogue."""
    card = case.card(GAS).model_copy(update=changes)
    return case.model_copy(update={"fluids": case.fluids | {card.name: card}})


@pytest.fixture(scope="module")
def gas():
    """Random designs on bottled gas, their figures, and which keep the physical limits."""
    case = load_scenario("orchard", [f"space.fluid={GAS}"])
    evaluator, space = Evaluator(case), Space.from_case(case)
    inputs = space.sample(2000, np.random.default_rng(3))
    out = evaluator.evaluate(inputs)
    wishes = ("served", "peak", "room")
    physical = [
        value
        for name, value in out.items()
        if name.startswith("violation_") and not any(wish in name for wish in wishes)
    ]
    return evaluator, inputs, out, np.all([~(v > 0) for v in physical], axis=0)


@pytest.fixture(scope="module")
def one(evaluator):
    """The two plain designs, their figures, and their parts."""
    inputs = columns(DESIGN, MIXED)
    return inputs, evaluator.evaluate(inputs), dissect(evaluator, inputs)


@pytest.fixture(scope="module")
def tables():
    """Tables of bottled gas for one state."""
    return mixture_tables.stack(Blend(GAS, ("n-Butane", "n-Propane"), (0.7, 0.3), True)).bind(np.zeros(1))


def K(degC):
    """One temperature [K] as an array."""
    return np.array([degC + 273.15])


def test_temperatures_name_bubble_points(one, tables):
    """Boiler and condenser stand at the bubble pressures of their temperatures; the vapour leaves at dew + superheat."""
    _, out, parts = one
    boiler, condenser = (float(tables.saturation_pressure(K(x))[0]) / 1e5 for x in (55.0, 24.0))
    assert out["boiler_pressure_bar_a"][0] == pytest.approx(boiler, rel=1e-9)
    assert out["condenser_pressure_bar_a"][0] == pytest.approx(condenser, rel=1e-9)
    dew = float(tables.saturation(np.array([boiler * 1e5])).dew_temperature[0]) - 273.15
    leaving = next(s for s in parts[0]["states"] if s["place"] == "boiler 1 outlet")
    assert dew > 55.0 + 8.0
    assert leaving["T_degC"] == pytest.approx(dew + 3.0, abs=2e-3)
    liquid = next(s for s in parts[0]["states"] if s["place"] == "condenser outlet")
    assert liquid["T_degC"] == pytest.approx(22.0, abs=1e-3)


def test_pressures_at_rest_are_those_of_the_bubble_point(one, evaluator, tables):
    """Standstill and 20 degC pressures are those of the dangerous line, well above the dew line."""
    _, out, _ = one
    air = evaluator.air_pressure / 1e5
    for name, degC in (("standstill_pressure_bar_g", 90.0), ("pressure_at_20degC_bar_g", 20.0)):
        bubble = float(tables.saturation_pressure(K(degC))[0]) / 1e5
        assert out[name][0] == pytest.approx(bubble - air, rel=1e-9)
        assert bubble > 1.1 * float(tables.dew_pressure(K(degC))[0]) / 1e5
    assert out["peak_pressure_bar_g"][0] == out["standstill_pressure_worst_bar_g"][0]


def test_worst_bottle_counts_in_peak_fault_and_design_pressure(one, evaluator):
    """Two fifths of propane, the card's worst end, stand above its own three tenths, and every limit sees them."""
    _, out, _ = one
    richest = Blend("richest", ("n-Butane", "n-Propane"), (0.6, 0.4), by_mass=True)
    air = evaluator.air_pressure
    standing = (substance(richest).vapour_pressure(90.0 + 273.15) - air) / 1e5
    boiling = (substance(richest).vapour_pressure(evaluator.boiling_temperature) - air) / 1e5
    assert out["standstill_pressure_worst_bar_g"][0] == pytest.approx(standing, rel=1e-6)
    assert standing > out["standstill_pressure_bar_g"][0] + 1.5
    assert out["violation_peak_pressure_bar"][0] == pytest.approx(standing - 16.0, rel=1e-6)
    assert out["fault_pressure_bar_g"][0] == pytest.approx(boiling, rel=1e-9)
    assert out["design_pressure_bar_g"][0] == pytest.approx(1.1 * boiling)


def test_a_card_without_a_range_stands_at_its_own_mixture(orchard, one):
    """Without a range nothing is shown beside the standstill pressure, and the peak is its own."""
    inputs, _, _ = one
    card = orchard.card(GAS).model_copy(update={"composition_range": None})
    case = orchard.model_copy(update={"fluids": {"gas": card}})
    out = Evaluator(case).evaluate(inputs)
    assert np.isnan(out["standstill_pressure_worst_bar_g"][0])
    assert out["peak_pressure_bar_g"][0] == out["standstill_pressure_bar_g"][0]


def test_propane_in_butane_raises_its_standstill_pressure(orchard):
    """A card of butane that may hold propane is judged by it, shown beside the pure one."""
    card = orchard.card("n-Butane").model_copy(update={"composition_range": {"n-Propane": (0.0, 0.2)}})
    case = orchard.model_copy(update={"fluids": orchard.fluids | {"n-Butane": card}})
    pure, mixed = (
        evaluate(frame(DESIGN | {"fluid": "n-Butane"}), which).iloc[0] for which in (orchard, case)
    )
    assert mixed["standstill_pressure_bar_g"] == pure["standstill_pressure_bar_g"]
    rise = mixed["standstill_pressure_worst_bar_g"] - pure["standstill_pressure_bar_g"]
    assert 3.9 < rise < 4.2  # by mole at 90 degC; 4.6 bar at 100 degC
    assert mixed["peak_pressure_bar_g"] == mixed["standstill_pressure_worst_bar_g"]


def test_coil_keeps_its_approach_where_boiling_ends(one, evaluator):
    """On a fully mixed store the approach is that to the dew point: the vapour never passes the store."""
    _, _, parts = one
    design = evaluator.designs(columns(MIXED))
    _, cycle, _ = rated(evaluator, design)
    middle = 273.15 + 0.5 * (85.0 + 62.0)
    assert cycle.levels[0].dew_temperature[0] == pytest.approx(middle - 6.0, abs=0.01)
    assert cycle.levels[0].temperature[0] < middle - 14.0
    curve = parts[1]["boilers"][0]
    assert min(np.array(curve["water_T_degC"]) - np.array(curve["fluid_T_degC"])) > 2.0


def test_pinch_is_kept_and_touched_along_the_curve(gas):
    """Between bubble and dew point no gap is smaller than the pinch, and one equals it: in boilers and condensers."""
    evaluator, inputs, _, ok = gas
    rows = np.flatnonzero(ok & (inputs["store_mode"] == "stratified"))[:40]
    assert len(rows) == 40
    some = {k: v[rows] for k, v in inputs.items()}
    inside = 0
    for i, part in enumerate(dissect(evaluator, some)):
        states = {s["place"]: s["T_degC"] for s in part["states"]}
        for curve, name, pinch, sign in (
            (part["boilers"][0], "boiler 1", some["pinch_boiler_K"][i], 1.0),
            (part["condenser"], "condenser", some["pinch_condenser_K"][i], -1.0),
        ):
            fluid, water = np.array(curve["fluid_T_degC"]), np.array(curve["water_T_degC"])
            within = (fluid >= states[f"{name}, bubble point"] - 1e-3) & (
                fluid <= states[f"{name}, dew point"] + 1e-3
            )
            gaps = (sign * (water - fluid))[within]
            assert gaps.min() == pytest.approx(pinch, abs=0.01)
            inside += 0 < int(np.argmin(gaps)) < len(gaps) - 1
    assert inside > 0, "the search along the curve never mattered"


def test_books_close(gas):
    """Energy and exergy of every component close to 1e-6, none destroys entropy: all structures."""
    evaluator, inputs, _, ok = gas
    designs = evaluator.designs(inputs)
    structure = evaluator.structure(designs)
    assert len(np.unique(structure[ok])) == 6
    for code in np.unique(structure[ok]):
        part = designs.take(np.flatnonzero(ok & (structure == code)))
        _, cycle, books = rated(evaluator, part)
        for account in books.accounts:
            assert np.abs(account.energy_residual / cycle.heat).max() < 1e-6, account.component
            change = cycle.heat / part.condensing_temperature
            assert (account.entropy_generated / change).min() > -1e-4, account.component
        assert np.abs(books.energy_residual() / cycle.heat).max() < 1e-6
        assert np.abs(books.exergy_residual() / cycle.heat).max() < 1e-6


def test_nothing_beats_exergy_and_every_number_is_sound(gas):
    """The second-law efficiency stays below one; no design loses a number."""
    _, _, out, ok = gas
    assert ok.mean() > 0.1
    assert out["second_law_efficiency"][ok].max() < 0.6
    assert out["work_per_litre_kJ"][ok].min() > 0.0
    assert not out["violation_numbers_count"].any()


def test_alone_in_a_batch_and_beside_pure_fluids(gas, designs):
    """A design on a mixture gives the same figures alone and beside designs on pure fluids, and they theirs."""
    evaluator, inputs, out, _ = gas
    pure = designs(30, 7)
    both = {k: np.concatenate([pure[k][:15], inputs[k][:20], pure[k][15:]]) for k in inputs}
    got, alone = evaluator.evaluate(both), evaluator.evaluate(pure)
    assert not any(got.pop("outside_ranges"))
    for name, values in got.items():
        np.testing.assert_allclose(values[15:35], out[name][:20], rtol=1e-12, atol=1e-12, err_msg=name)
        np.testing.assert_array_equal(np.concatenate([values[:15], values[35:]]), alone[name], err_msg=name)


def test_tables_follow_the_equation_of_state(gas):
    """Work per litre within 0.2 %, pressures 0.05 % of the flash itself, both store modes."""
    evaluator, inputs, out, ok = gas
    stratified = inputs["store_mode"] == "stratified"
    rows = np.concatenate([np.flatnonzero(ok & stratified)[:8], np.flatnonzero(ok & ~stratified)[:1]])
    plain = Evaluator(evaluator.case, "helmholtz").evaluate({k: v[rows] for k, v in inputs.items()})
    for name, most in (
        ("work_per_litre_kJ", 2e-3),
        ("boiler_area_m2", 2e-3),
        ("condenser_area_m2", 2e-3),
        ("max_boiler_pressure_bar_a", 5e-4),
        ("condenser_pressure_bar_a", 5e-4),
        ("standstill_pressure_bar_g", 5e-4),
    ):
        np.testing.assert_allclose(out[name][rows], plain[name], rtol=most, err_msg=name)


def test_almost_pure_mixture_is_the_pure_design(orchard):
    """With a trace of propane in butane every figure is that of the design on butane within 0.1 %."""
    butane = orchard.card("n-Butane")
    case = with_card(
        orchard,
        name="almost-butane",
        components={"n-Butane": 1 - 1e-7, "n-Propane": 1e-7},
        liquid_conductivity_W_per_mK=butane.liquid_conductivity_W_per_mK,
        vapour_viscosity_Pa_s=butane.vapour_viscosity_Pa_s,
        composition_range={},
    )
    evaluator = Evaluator(case, "helmholtz")
    pure, mixed = (evaluator.evaluate(columns(DESIGN | {"fluid": x})) for x in ("n-Butane", "almost-butane"))
    for name in pure:
        other = name.startswith("violation_") or "room_volume" in name or name.startswith("cost_charge")
        if other or name == "outside_ranges":
            continue
        np.testing.assert_allclose(mixed[name], pure[name], rtol=1e-3, atol=1e-6, err_msg=name)


def test_one_boiler_only(evaluator):
    """Two pressure levels on a mixture are refused as a violation, not with an error, and computed with one."""
    two = DESIGN | {"stages": 2, "pressure_levels": 2, "lowest_evaporating_temperature_degC": 40.0}
    out = evaluator.evaluate(columns(two, DESIGN | {"stages": 2}))
    assert list(out["violation_pressure_levels_count"]) == [1.0, 0.0]
    assert not out["feasible"][0]
    assert out["work_per_litre_kJ"][0] == out["work_per_litre_kJ"][1]


def test_hot_end_keeps_the_whole_pinch(evaluator):
    """Boiling that ends closer to the water than the pinch is a violation by just that much."""
    hot = DESIGN | {"evaporating_temperature_degC": 74.0, "superheat_K": 0.0}
    out = evaluator.evaluate(columns(hot))
    dew = next(
        s for s in dissect(evaluator, columns(hot))[0]["states"] if s["place"] == "boiler 1, dew point"
    )
    assert out["violation_boiler_hot_end_K"][0] == pytest.approx(dew["T_degC"] + 4.0 - 85.0, abs=2e-3)
    assert out["violation_boiler_hot_end_K"][0] > 0.0


def test_stop_temperature_counts_from_the_condensers_dew_point(evaluator, tables):
    """A store may not be used down to where boiling would end below the end of condensing."""
    out = evaluator.evaluate(columns(MIXED | {"stop_temperature_degC": 40.0}))
    sat = tables.saturation(tables.saturation_pressure(K(24.0)))
    dew = float(sat.dew_temperature[0]) - 273.15
    assert out["violation_stop_temperature_K"][0] == pytest.approx(dew + 6.0 + 5.0 - 40.0, abs=1e-2)


def test_dome_is_drawn_from_both_lines(orchard):
    """The diagram's dome of a mixture has rising temperatures and the vapour line right of the liquid line."""
    lines = dome(orchard.card(GAS).substance)
    assert np.all(np.diff(lines["T_degC"]) > 0)
    assert np.all(np.array(lines["s_vapour_kJ_per_kgK"]) > np.array(lines["s_liquid_kJ_per_kgK"]))


def test_default_search_leaves_mixtures_alone(orchard):
    """A mixture is searched only where scenario.fluids or space.fluid names it, by name or file."""
    pure = {card.name for card in orchard.fluids.values() if not card.is_mixture}
    clashing = {name for name in pure if material_clashes(orchard.card(name), orchard.scenario.materials)}
    assert set(Space.from_case(orchard).fluids) == pure - clashing
    assert "Ammonia" in clashing  # it attacks copper
    assert GAS not in Space.from_case(orchard).left_out
    for words in ([f"scenario.fluids=[{GAS},n-Butane]"], [f"space.fluid=[{GAS},n-Butane]"]):
        space = Space.from_case(load_scenario("orchard", words))
        assert set(space.fluids) == {GAS, "n-Butane"}
        assert max(layout.pressure_levels for layout in space.layouts) == 3
    alone = Space.from_case(load_scenario("orchard", [f"space.fluid={GAS}"]))
    assert {layout.pressure_levels for layout in alone.layouts} == {1}
    with pytest.raises(InputError, match="one boiler"):
        Space.from_case(load_scenario("orchard", [f"space.fluid={GAS}", "space.pressure_levels=2"]))


def test_unusable_mixture_is_left_out_with_the_reason(orchard):
    """What the equation of state cannot serve is left out of a search; alone, or designed with, it is an error."""
    parts = {"components": {"Ammonia": 0.5, "Water": 0.5}}
    case = with_card(orchard, name="aqua-ammonia", safety_class="B2L", **parts)
    space = Space.from_case(case.model_copy(update={"space": {"fluid": ["aqua-ammonia", "n-Butane"]}}))
    assert space.fluids == ("n-Butane",)
    assert "no mixing rule" in space.left_out["aqua-ammonia"]
    scenario = case.scenario.model_copy(update={"fluids": ("aqua-ammonia",)})
    for broken in (
        case.model_copy(update={"space": {"fluid": "aqua-ammonia"}}),
        case.model_copy(update={"scenario": scenario}),
    ):
        with pytest.raises(InputError, match="no mixing rule"):
            Space.from_case(broken)
    with pytest.raises(InputError, match="aqua-ammonia cannot be used"):
        evaluate(frame(DESIGN | {"fluid": "aqua-ammonia"}), case)
    assert len(evaluate(frame(DESIGN), case)) == 1


CARD = f"fluids.{GAS}"


@pytest.fixture
def typed(tmp_path, monkeypatch, capsys):
    """The command as typed in an empty folder: words to status, output and complaints."""

    def run(*words):
        monkeypatch.chdir(tmp_path)
        monkeypatch.setattr("sys.argv", ["explore", *words])
        status = cli.main()
        return status, *capsys.readouterr()

    return run


@pytest.mark.parametrize(
    ("words", "parts"),
    [
        ([f"{CARD}.components.n-Propane=0.31"], [CARD, "mass fractions", "1.01", "must sum to 1"]),
        ([f"{CARD}.components.n-Propane=0.300002"], ["1.000002", "must sum to 1"]),
        ([f"{CARD}.components.n-Propane=-0.3"], [f"{CARD}.components.n-Propane", "greater than 0"]),
        ([f"~{CARD}.components.n-Propane"], ["at least two"]),
        (
            [f"~{CARD}.components.n-Propane", f"+{CARD}.components.n-Propan=0.3"],
            [f"{CARD}.components", "'n-Propan'", "did you mean n-Propane?"],
        ),
        ([f"{CARD}.fractions=volume"], [f"{CARD}.fractions", "'volume'"]),
        ([f"{CARD}.name=n-Butane"], ["n-Butane", "two cards"]),
    ],
)
def test_a_card_that_cannot_be_is_refused(words, parts, typed):
    """Fractions that do not sum to one, a component unknown to CoolProp: one sentence, status 2."""
    with pytest.raises(InputError) as error:
        compose_case(words)
    for part in parts:
        assert part in str(error.value)
    assert "\n" not in str(error.value)
    status, out, err = typed(*words)
    assert (status, out) == (2, "")
    assert str(error.value) in err


def test_fractions_within_a_millionth_are_taken():
    """A sum that is one within 1e-6 is taken and scaled to one."""
    case = compose_case([f"{CARD}.components.n-Propane=0.3000005"])
    assert sum(case.card(GAS).substance.mole_fractions()) == pytest.approx(1.0, abs=1e-15)


def test_inspect_end_to_end(tmp_path, typed):
    """task=inspect prints a design on bottled gas whole, with its glide and the warning about the gas."""
    (tmp_path / "gas.yaml").write_text(yaml.safe_dump(DESIGN | {"collector_area_m2": 18.0}))
    status, printed, _ = typed("task=inspect", "design=gas.yaml", "scenario.limits.pressure_ceiling_bar_g=25")
    assert status == 0
    out = " ".join(printed.split())
    for words in (
        "Bottled gas, butane and propane 70/30 by mass in scenario orchard",
        "Feasible: it keeps every limit",
        "bubble point of what boils",
        "dew point of what condenses",
        "70 % n-Butane and 30 % n-Propane by mass, but the first gas above it at 20 °C is 40 % n-Butane and 60 %",
        "sum: sunlight",
    ):
        assert words in out, words
