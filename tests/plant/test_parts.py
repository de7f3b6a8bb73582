"""The parts of the plant: each tells of itself once, and the whole is what they tell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from explore.config.schema import Costs
from explore.cycle import books
from explore.judgement import bill, hazards, vessels
from explore.plant.circuit import rows
from explore.plant.exchange import without_regenerator
from explore.plant.parts import PARTS
from explore.plant.parts.part import Contents, HoldUp, Line, Part, Sizes, Vessel
from tests.engines import engine_set
from tests.test_bill import PLANT as SIZES
from tests.test_hazards import PLANT as CONTENTS

KETTLE = Part(
    "kettle",
    lines=(Line("kettle", lambda costs, size: np.multiply(7.0, size.pressure_levels)),),
    hold_up=lambda engine, contents: [HoldUp("pipe_volume_L", np.array([100.0]))],
    vessels=lambda engine, figures: [Vessel("kettle", volume_L=3.0)],
)


def test_every_part_and_every_line_has_a_name_of_its_own():
    """No two parts share a name, no two lines of the bill."""
    assert len({part.key for part in PARTS}) == len(PARTS)
    assert len(set(bill.LINES)) == len(bill.LINES)


def test_one_more_part_is_billed_and_filled(monkeypatch):
    """A part added to the list costs its line and fittings on it, and holds its fluid; nobody else is told of it."""
    before = bill.bill_lines(Costs(), Sizes(**SIZES))
    charge = hazards.charge_kg(engine_set("constant"), Contents(**CONTENTS))
    for room in (bill, hazards):
        monkeypatch.setattr(room, "PARTS", (*PARTS, KETTLE))
    after = bill.bill_lines(Costs(), Sizes(**SIZES))
    assert float(after["kettle"][0]) == 14.0
    assert float((bill.total(after) - bill.total(before))[0]) == pytest.approx(14.0 * 1.1)
    more = hazards.charge_kg(engine_set("constant"), Contents(**CONTENTS)) - charge
    assert float(more[0]) == pytest.approx(1e-3 * engine_set("constant").pipe_volume_L * 100.0)


def test_a_vessel_known_by_its_volume_is_as_wide_as_a_receiver():
    """A diameter is taken as it is, a volume as that of an upright vessel twice as high as wide."""
    found = vessels.diameters_mm([Vessel("cylinder 1", 80.0), *KETTLE.vessels(engine_set("constant"), {})])
    assert found == {"cylinder 1": 80.0, "kettle": float(vessels.receiver_diameter_mm(3.0))}


@pytest.mark.parametrize("mode", ["stratified", "mixed"])
def test_books_miss_the_part_that_is_left_out(evaluator, designs, monkeypatch, mode):
    """Without any one of the parts that destroy work the exergy account no longer closes; with all it does."""
    columns = designs(400, 3)
    rows_of = np.flatnonzero((columns["store_mode"] == mode) & (columns["regenerator_effectiveness"] > 0.3))[
        :1
    ]
    (group,) = evaluator.run(evaluator.designs({k: v[rows_of] for k, v in columns.items()})).groups
    told = (group.fluid, evaluator.water, evaluator.plant.machine, group.cycle, group.source)
    whole = books.keep(*told)
    assert abs(whole.exergy_residual()[0]) < 1e-6 * whole.exergy_supplied[0]
    for key in ("boiler", "condenser", "regenerator", "engine", "feed pump", "water pumps"):
        monkeypatch.setattr(books, "PARTS", tuple(part for part in PARTS if part.key != key))
        lacking = books.keep(*told)
        assert abs(lacking.exergy_residual()[0]) > 1e-6 * whole.exergy_supplied[0], key


def test_rows_of_a_record_of_records():
    """Every array within gives up its rows, lists and records stay what they are, numbers stay."""
    feed = np.array([1.0, 2.0, 3.0])
    record = without_regenerator(None, feed, 2.0 * feed)
    taken = rows([record, 4.0], np.array([2]))
    assert taken[0].feed_enthalpy.tolist() == [3.0]
    assert taken[0].exhaust_enthalpy.tolist() == [6.0]
    assert taken[1] == 4.0
    assert rows(replace(KETTLE), np.array([0])) == KETTLE
