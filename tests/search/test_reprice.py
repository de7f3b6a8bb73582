"""An archive judged again under changed prices and limits, on the real model."""

from __future__ import annotations

import pytest

from explore import InputError, evaluate, load_scenario
from explore.design.space import Space, random_designs
from explore.judgement.front import feasible_front
from explore.search import reprice


@pytest.fixture(scope="module")
def archive():
    pins = ["space.fluid=n-Pentane", "space.collector_area_m2=[20,40]", "space.insulation_mm=[200,400]"]
    case = load_scenario("orchard", pins)
    assert Space.from_case(case).fluids == ("n-Pentane",)
    return evaluate(random_designs(case, 300, 3), case)


def test_the_same_case_gives_the_archive_back(archive):
    """Nothing changed: the same figures and the front of the archive."""
    case = load_scenario("orchard")
    found = reprice(case, archive)
    assert found.designs["cost_EUR"].equals(archive["cost_EUR"])
    assert found.front.equals(feasible_front(archive, case.scenario.objectives))
    assert found.designs_evaluated == 300
    assert found.designs_feasible == archive["feasible"].sum() > 0


def test_dearer_steel_raises_every_cost_and_leaves_the_work(archive):
    """A changed price changes costs alone."""
    dearer = load_scenario("orchard", ["costs.store_EUR_per_L065=56"])
    found = reprice(dearer, archive)
    can_be = archive["possible"]
    assert can_be.sum() > 50
    assert (found.designs["cost_EUR"] > archive["cost_EUR"] + 100.0)[can_be].all()
    assert found.designs["work_per_litre_kJ"].equals(archive["work_per_litre_kJ"])


def test_a_tighter_limit_takes_designs_off_the_front(archive):
    """Less pressure allowed: nothing above it on the front; nothing at all is an input error."""
    found = reprice(load_scenario("orchard", ["scenario.limits.pressure_ceiling_bar_g=4"]), archive)
    assert 0 < found.designs_feasible < archive["feasible"].sum()
    assert found.front["peak_pressure_bar_g"].max() <= 4.0
    with pytest.raises(InputError, match="search again"):
        reprice(load_scenario("orchard", ["scenario.limits.pressure_ceiling_bar_g=0.5"]), archive)


def test_a_table_without_the_inputs_is_refused(archive):
    """A missing column is named."""
    with pytest.raises(InputError, match="collector_area_m2"):
        reprice(load_scenario("orchard"), archive.drop(columns="collector_area_m2"))


@pytest.mark.parametrize("whole", [True, False])
def test_what_the_run_kept_is_told_on(archive, whole):
    """A repriced archive is all designs of its run only if the run kept them all."""
    found = reprice(load_scenario("orchard"), archive, {"seed": 7, "all_designs_written": whole})
    assert (found.all_kept, len(found.designs)) == (whole, 300)
