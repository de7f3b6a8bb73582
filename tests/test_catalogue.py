"""The records of inputs, figures and limits: complete, in agreement with names, and true of designs."""

from __future__ import annotations

import numpy as np
import pytest

from explore.design.variables import INPUTS
from explore.design.variables import RECORDS as INPUT_RECORDS
from explore.figures import catalogue, limits
from explore.figures.format import COLUMNS, record
from explore.figures.names import parted
from explore.figures.record import GROUPS
from explore.model import Evaluator

PER = {"kJ/L": "kJ", "Wh/L": "Wh", "EUR/a": "EUR", "kg/kg": "kg"}  # what is related to stands within the name


@pytest.fixture(scope="module", params=["coefficients", "tubes"])
def evaluated(request, orchard, designs):
    """Random designs with all their columns, exchangers by coefficients and made of tubes."""
    exchangers = orchard.exchangers.model_copy(update={"method": request.param})
    columns = designs(300, 4)
    return columns | Evaluator(orchard.model_copy(update={"exchangers": exchangers})).evaluate(columns)


def test_every_column_has_a_record(evaluated):
    """The model fills no column that the lists do not know."""
    assert [name for name in evaluated if name not in COLUMNS] == []


@pytest.mark.parametrize("name", COLUMNS)
def test_unit_of_the_record_is_that_of_the_name(name):
    """The unit at the end of a column's name is the one its record shows; shares are in percent."""
    one = COLUMNS[name]
    assert one.name == name
    assert one.group in GROUPS
    _, unit = parted(name.removeprefix(limits.PREFIX))
    if one.digits != "share":
        assert unit in (one.unit, PER.get(one.unit))
    else:
        assert one.unit == "%"


def test_figures_are_filled_where_their_records_say(evaluated):
    """What applies to a layout is a number for every design of it, and empty for every other."""
    stratified = evaluated["store_mode"] == "stratified"
    stages, levels = evaluated["stages"], evaluated["pressure_levels"]
    where = {
        "always": np.ones(len(stages), bool),
        "stratified": stratified,
        "mixed": ~stratified,
        "levels": levels > 1,
        "level 2": levels > 1,
        "level 3": levels > 2,
        "stage 2": stages > 1,
        "stage 3": stages > 2,
    }
    seen = set()
    for name, values in evaluated.items():
        one = record(name)
        if one.digits != "words" and one.applies in where and values.dtype.kind == "f":
            assert (np.isfinite(values) == where[one.applies]).all(), name
            seen.add(one.applies)
    assert {"always", "stratified", "mixed", "levels", "stage 2", "stage 3"} <= seen


def test_each_record_stands_once():
    """No name is listed twice, and genes have places 1, 2, 3 and so on."""
    names = [
        one.name
        for records in (INPUT_RECORDS, catalogue.RECORDS, catalogue.TUBE_RECORDS, limits.RECORDS)
        for one in records
    ]
    assert len(names) == len(set(names))
    assert sorted(one.gene for one in INPUT_RECORDS if one.gene) == list(range(1, 19))
    assert tuple(one.name for one in INPUT_RECORDS) == INPUTS


def test_a_bound_has_the_scale_and_unit_of_its_figure():
    """A broken bound of a pressure counts as a pressure, one of a share in percent."""
    pressure, share = record("violation_bound_peak_pressure_bar_g"), record("violation_bound_served_share")
    assert (pressure.scale, pressure.unit) == (5.0, "bar gauge")
    assert (share.scale, share.unit, share.digits) == (0.2, "%", "share")


GAINS = (
    "work_per_litre", "exhaust_quality", "net_work", "shaft_", "stage_work", "held_fraction", "suction_head",
    "served_share", "autonomy", "bridged", "collector_yield",
)  # fmt: skip


def test_more_is_better_of_what_is_got_and_less_of_what_is_spent():
    """Columns are sorted best first: gains and efficiencies from the most, burdens and prices from the least."""
    for figure in (*catalogue.RECORDS, *catalogue.TUBE_RECORDS):
        gain = figure.name.startswith(GAINS) or figure.name.endswith("_efficiency")
        assert figure.better in ("more" if gain else "less", ""), figure.name
