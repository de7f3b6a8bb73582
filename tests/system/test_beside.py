"""Designs beside themselves with tubes: what is compared, what breaks, what is told."""

import numpy as np
import pytest

from explore.config.compose import load_scenario
from explore.model import Evaluator
from explore.model.beside import COMPARED, caution, with_tubes
from explore.tell import sheet
from tests.system.test_mixture_design import DESIGN, MIXED, columns

PURE = DESIGN | {"fluid": "n-Butane", "collector_area_m2": 18.0}


def beside(evaluator, inputs):
    """Compare designs as their sheet does, with the figures they have on coefficients."""
    out = evaluator.evaluate(inputs)
    plain = [{name: values[row] for name, values in out.items()} for row in range(len(inputs["fluid"]))]
    return with_tubes(evaluator, inputs, plain)


def test_figures_are_those_of_both_models():
    """Each pair is what the plain model and the one with tubes report; both store modes."""
    case = load_scenario("orchard")
    inputs = columns(PURE, MIXED | {"fluid": "Isopentane"})
    plain = Evaluator(case)
    tubed = Evaluator(load_scenario("orchard", ["exchangers=tubes"])).evaluate(inputs)
    before = plain.evaluate(inputs)
    for row, found in enumerate(beside(plain, inputs)):
        assert set(found["compared"]) == set(COMPARED)
        for name, pair in found["compared"].items():
            assert pair == pytest.approx([before[name][row], tubed[name][row]], rel=1e-12)
        assert found["tubes"]["condenser_tubes_1_count"] >= 1.0
        assert not np.isnan(list(found["tubes"].values())).any()


def test_nothing_for_mixtures_and_for_a_case_with_tubes():
    """A mixture has no tubes here; where tubes are the rule there is nothing beside them."""
    both = beside(Evaluator(load_scenario("orchard")), columns(DESIGN, PURE))
    assert both[0] == {}
    assert both[1]
    assert beside(Evaluator(load_scenario("orchard", ["exchangers=tubes"])), columns(PURE)) == [{}]
    assert sheet.with_tubes({}) == ""
    assert caution({}, {}) == []


def test_limits_that_break_only_with_tubes_are_told():
    """One short tube at hand for the boiler breaks its length, and caution and sheet say so."""
    words = ["exchangers.boiler.count=1", "exchangers.boiler.length_m=2"]
    (found,) = beside(Evaluator(load_scenario("orchard", words)), columns(PURE))
    (broken,) = [name for name in found["broken"] if "boiler" in name]
    assert found["broken"][broken] > 0.0
    (told,) = caution(found, dict.fromkeys(found["broken"], "Boiler tubes too short"))
    assert told["level"] == "warning"
    assert "Boiler tubes too short" in told["text"]
    assert "With tubes it breaks: " in sheet.with_tubes(found)
