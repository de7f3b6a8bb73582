"""Parts that are there: they pin the design, bound its sizes and cost nothing; what is bought beside them has its price."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import explore
from explore.config.compose import compose_case
from explore.config.owned import LEAST_USED, Owned
from explore.config.schema import Costs
from explore.design.space import Space
from explore.doubt.draws import points
from explore.doubt.worlds import Worlds
from explore.errors import InputError
from explore.judgement.bill import bill_lines
from explore.judgement.owned import lacking
from explore.model import Evaluator
from explore.plant.parts.part import Sizes

DESIGN = {
    "fluid": "n-Butane",
    "store_mode": "stratified",
    "top_temperature_degC": 72.9,
    "evaporating_temperature_degC": 49.4,
    "superheat_K": 18.0,
    "condensing_temperature_degC": 22.3,
    "subcooling_K": 1.2,
    "pinch_boiler_K": 3.2,
    "pinch_condenser_K": 3.1,
    "stages": 1,
    "pressure_levels": 1,
    "release_pressure_ratio": 1.1,
    "regenerator_effectiveness": 0.7,
    "store_volume_L": 300.0,
    "insulation_mm": 100.0,
    "collector": "flat_plate",
    "collector_area_m2": 6.0,
    "speed_rev_per_min": 495.0,
}
"""An invented design of the parts of the shipped template."""
SIZE = Sizes(
    collector_price_EUR_per_m2=230.0,
    collector_area_m2=np.array([6.0, 8.0]),
    store_volume_L=np.array([300.0, 500.0]),
    insulation_volume_m3=np.array([0.3, 0.4]),
    boiler_area_m2=np.array([0.5, 0.8]),
    condenser_area_m2=np.array([1.0, 1.0]),
    regenerator_area_m2=0.2,
    stages=np.array([1, 1]),
    swept_volume_L=np.array([0.098, 0.12]),
    pressure_levels=1,
    charge_kg=np.array([2.0, 6.0]),
    fluid_price_EUR_per_kg=4.0,
)
PARTS = Owned(
    store_volume_L=300.0,
    collector="flat_plate",
    collector_area_m2=6.0,
    bores_mm=(50.0,),
    stroke_mm=50.0,
    boiler_area_m2=0.6,
    condenser_area_m2=1.0,
    fluid="n-Butane",
    charge_kg=5.0,
)
YES = np.array([True, True])


@pytest.fixture(scope="module")
def case():
    """The shipped template."""
    return explore.load_scenario("mine")


def design(**other):
    """The invented design as a table, with other values."""
    from explore.design.usual import USUAL

    return pd.DataFrame([USUAL | DESIGN | other])


def test_swept_volume_is_that_of_the_cylinders():
    """Two side by side of 40 mm and two of 63 mm, stroke 60 mm: by hand 0.1508 and 0.3741 L."""
    swept = Owned(bores_mm=(40.0, 63.0), stroke_mm=60.0, cylinders_per_stage=2).swept_volumes_L
    assert swept == pytest.approx((0.15080, 0.37407), rel=1e-4)


def test_what_is_bought_beside():
    """Of one design all is there; the other lacks 2 m2, 200 L, 0.2 m2, 1 kg, and its larger cylinder is bought whole."""
    lines = bill_lines(Costs(), lacking(SIZE, PARTS, YES, YES))
    for name in ("collectors", "store", "boiler", "condenser", "engine", "charge"):
        assert lines[name][0] == 0.0
    assert lines["collectors"][1] == pytest.approx(2.0 * 230.0)
    assert lines["store"][1] == pytest.approx(18.0 * 200.0**0.65)
    assert lines["boiler"][1] == pytest.approx(0.2 * 320.0)
    assert lines["charge"][1] == pytest.approx(1.0 * 4.0)
    assert lines["engine"][1] == pytest.approx(500.0 * 0.12**0.6)  # the running gear is there
    assert (lines["insulation"] > 0.0).all()  # none is owned
    others = sum(values for name, values in lines.items() if name != "fittings")
    assert lines["fittings"] == pytest.approx(0.1 * others)


def test_parts_of_another_kind_are_bought():
    """Flat plates are no tubes and butane is no pentane; two expansions are another engine."""
    lines = bill_lines(Costs(), lacking(SIZE, PARTS, ~YES, ~YES))
    assert lines["collectors"] == pytest.approx(230.0 * SIZE.collector_area_m2)
    assert lines["charge"] == pytest.approx(4.0 * SIZE.charge_kg)
    two = lacking(SIZE, PARTS.model_copy(update={"bores_mm": None, "stroke_mm": None}), YES, YES)
    assert bill_lines(Costs(), two)["engine"] == pytest.approx(400.0 + 500.0 * SIZE.swept_volume_L**0.6)


def test_nothing_owned_changes_nothing():
    """A scenario without parts has the bill it had."""
    assert lacking(SIZE, Owned(), YES, YES) is SIZE
    assert not Owned().anything
    assert Owned().pins() == {} == Owned().bounds()


def test_the_space_is_pinned(case):
    """All designs drawn have the tank, collectors, gas and build that are there; what is typed comes before."""
    columns = Space.from_case(case).sample(200, np.random.default_rng(1))
    for name, value in case.scenario.owned.pins().items():
        assert set(columns[name]) == {value}, name
    wider = compose_case(["scenario=mine", "space.store_volume_L=[300,600]"])
    assert Space.from_case(wider).bounds["store_volume_L"] == (300.0, 600.0)
    assert Space.from_case(wider).bounds["collector_area_m2"] == (6.0, 6.0)


def test_owned_parts_cost_nothing_in_a_design(case):
    """Lines of what is there are nothing, others have their price; without the parts the same plant costs more."""
    found = explore.evaluate(design(), case).iloc[0]
    assert found["possible"]
    owned = ("collectors", "store", "insulation", "boiler", "condenser", "engine", "charge")
    assert [found[f"cost_{line}_EUR"] for line in owned] == [0.0] * len(owned)
    assert found["cost_levels_EUR"] > 0.0
    bare = case.model_copy(update={"scenario": case.scenario.model_copy(update={"owned": Owned()})})
    bought = explore.evaluate(design(), bare).iloc[0]
    assert bought["cost_EUR"] > found["cost_EUR"] + 3000.0
    for figure in ("shaft_energy_kWh_per_year", "work_per_litre_kJ", "boiler_area_m2", "charge_kg"):
        assert bought[figure] == found[figure]


def test_sizes_keep_to_what_is_there(case):
    """More surface or another cylinder than is there breaks a limit by so much, or is bought where that is allowed."""
    found = explore.evaluate(design(), case).iloc[0]
    margin = found["violation_bound_boiler_area_m2"]
    assert margin == pytest.approx(found["boiler_area_m2"] - 0.6)
    volume = 0.25 * math.pi * 0.5**2 * 0.5
    fast = explore.evaluate(design(speed_rev_per_min=700.0), case).iloc[0]
    assert fast["violation_bound_swept_volume_1_L"] == pytest.approx(
        LEAST_USED * volume - fast["swept_volume_1_L"]
    )
    assert not fast["feasible"]
    freer = compose_case(["scenario=mine", "scenario.owned.may_buy_more=true"])
    slow = explore.evaluate(design(speed_rev_per_min=250.0), freer).iloc[0]
    assert "violation_bound_swept_volume_1_L" not in slow
    assert slow["cost_engine_EUR"] == pytest.approx(500.0 * slow["swept_volume_1_L"] ** 0.6)


def test_the_template_asks_for_no_service(case):
    """Any hour of the year, no share of it, and the energy is the first objective; it composes without a word more."""
    scenario = case.scenario
    assert scenario.limits.served_share_min == 0.0
    assert (len(scenario.demand.hours), len(scenario.demand.months)) == (24, 12)
    assert scenario.objectives[0].figure == "shaft_energy_kWh_per_year"
    assert "nvented" in scenario.description


def test_a_copy_of_the_template_composes(case, tmp_path, capsys):
    """It has its own name, all parts of the template and a comment beside each."""
    from explore.config.tasks import NewTask
    from explore.tasks import new

    file = tmp_path / "my_parts.yaml"
    new.run(case, NewTask(what="mine", file=str(file)), "explore")
    assert f"explore scenario={file}" in capsys.readouterr().out
    own = explore.load_scenario(file).scenario
    assert own.name == "my_parts"
    assert own.model_copy(update={"name": "mine"}) == case.scenario
    assert (tmp_path / "scenario.schema.json").is_file()
    text = file.read_text(encoding="utf-8")
    assert "INVENTED" in text


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["scenario.owned.fluid=Ammonia"], ["Ammonia", "attacks copper and brass"]),
        (["scenario.owned.bores_mm=[50,70]", "space.pressure_levels=3"], ["leave no layout"]),
        (["scenario.owned.collector=null"], ["owned.collector and owned.collector_area_m2"]),
    ],
)
def test_parts_that_do_not_fit_are_refused(words, says):
    """One sentence says which part, and why."""
    with pytest.raises(InputError) as refusal:
        Space.from_case(compose_case(["scenario=mine", *words]))
    for part in says:
        assert part in str(refusal.value)


def test_worlds_of_a_study_buy_what_they_lack(case):
    """Sized anew a design needs other parts than those at hand: a world prices them and refuses nothing for them."""
    worlds = Worlds(Evaluator(case))
    sample = worlds.draws.sample(points(4, worlds.draws.dimensions, 5))
    assert not any(
        f"bound_{name}" in limit
        for limit in worlds.model(sample, 1).evaluate(
            {name: np.array([value]) for name, value in design().iloc[0].items()}
        )
        for name in case.scenario.owned.bounds()
    )
    assert worlds.case(sample, 1).scenario.owned.pins() == case.scenario.owned.pins()


def test_a_cylinder_of_a_hundredth_more_is_the_one_owned():
    """It turns by so much faster; a larger one is bought whole."""
    swept = sum(PARTS.swept_volumes_L) * np.array([1.009, 1.011])
    bought = lacking(replace(SIZE, swept_volume_L=swept), PARTS, YES, YES).swept_volume_L
    assert bought == pytest.approx([0.0, swept[1]])
