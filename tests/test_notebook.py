"""What a notebook calls: designs cheap to change, cases made of cases, sweeps, results that show themselves, searches."""

from __future__ import annotations

import itertools
import pickle
import re
import warnings

import numpy as np
import pandas as pd
import pytest

import explore
from explore.design.usual import USUAL
from explore.design.variables import INPUTS
from explore.errors import InputError
from explore.figures.format import record
from explore.notebook.result import BROKEN, Result
from tests.cells import run
from tests.documents import read


@pytest.fixture(scope="module")
def swept(orchard):
    """A design with two ring gaps and three stores."""
    return explore.sweep(
        explore.new_design(), orchard, {"engine.ring_gap_um": [8, 18]}, store_volume_L=[300, 600, 1200]
    )


@pytest.fixture(scope="module")
def found(orchard):
    """A small search."""
    return explore.optimise(
        orchard.with_(
            "search.designs=2000", "search.leg_designs=1000", "search.workers=1", {"search.seconds": None}
        )
    )


def test_the_usual_design_serves_the_default_scenario(orchard):
    """All inputs are there, it keeps every limit, and one change makes another of it."""
    assert tuple(USUAL) == INPUTS
    assert explore.evaluate(explore.new_design(), orchard)["feasible"].all()
    for changes in ({"store_mode": "mixed"}, {"stages": 3, "pressure_levels": 2}, {"fluid": "n-Butane"}):
        assert explore.evaluate(explore.new_design(**changes), orchard)["possible"].all()
    assert explore.new_design(stages=2) == USUAL | {"stages": 2}


def test_one_design_many_ways(orchard):
    """A dict, a list, a dict of lists, a frame, a row of a frame and an earlier result give the same figures."""
    design = explore.new_design()
    one = explore.evaluate(design, orchard)
    frame = pd.DataFrame([design])
    ways = ([design], design | {"stages": [1]}, frame, frame.iloc[0], one, one.iloc[0])
    for way in ways:
        pd.testing.assert_frame_equal(
            pd.DataFrame(explore.evaluate(way, orchard)), pd.DataFrame(one), check_dtype=False
        )


def test_inputs_that_do_not_apply_may_be_left_out(orchard):
    """A stratified design with one level needs no stop temperature; one that needs it is refused without."""
    mixed = ("stop_temperature_degC", "boil_approach_K", "lowest_evaporating_temperature_degC", "governing")
    lean = {name: value for name, value in USUAL.items() if name not in mixed}
    assert explore.evaluate(lean, orchard)["feasible"].all()
    with pytest.raises(InputError, match="lowest_evaporating_temperature_degC' is missing"):
        explore.evaluate(lean | {"stages": 2, "pressure_levels": 2}, orchard)
    with pytest.raises(InputError, match="'boil_approach_K' is missing, and 1 more"):
        explore.evaluate(lean | {"store_mode": "mixed"}, orchard)


def test_a_cards_file_may_stand_for_its_fluid(orchard):
    """As on the command line."""
    assert explore.evaluate(explore.new_design(fluid="R1233zdE"), orchard)["fluid"].tolist() == ["R1233zd(E)"]


def test_frames_without_rows_work(orchard):
    """All columns, no rows; its table and its HTML too."""
    one = explore.evaluate(explore.new_design(), orchard)
    none = explore.evaluate(one.iloc[:0], orchard)
    assert len(none) == 0
    assert list(none.columns) == list(one.columns)
    assert len(none.table()) == 0
    assert "<table" in none._repr_html_()
    assert len(none.plot().data) == 0


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda case: explore.new_design(store_volume=3), "did you mean store_volume_L"),
        (lambda case: explore.evaluate({"fluid": "n-Butane"}, case), "'store_mode' is missing, and 17 more"),
        (lambda case: explore.evaluate(USUAL | {"store_vol": 1}, case), "unknown column store_vol"),
        (lambda case: explore.evaluate(USUAL | {"height": 1}, case), "unknown column height"),
        (lambda case: explore.evaluate(pd.DataFrame([USUAL | {"stage": 1}]), case), "did you mean stages"),
        (lambda case: explore.evaluate([1], case), "a list of something else"),
        (lambda case: explore.evaluate([], case), "list of something else"),
        (lambda case: explore.evaluate(3, case), "not int"),
        (lambda case: explore.evaluate({"fluid": ["a", "b"], "stages": [1]}, case), "of one length"),
        (lambda case: explore.evaluate(USUAL | {"stages": 5}, case), "a number from 1 to 3"),
        (lambda case: explore.evaluate(USUAL, "orchard"), "load_scenario"),
        (lambda case: explore.sweep(USUAL, "orchard", stages=[1]), "load_scenario"),
        (lambda case: explore.sweep(USUAL, case), "say what to vary"),
        (lambda case: explore.sweep(USUAL, case, stage=[1]), "did you mean stages"),
        (lambda case: explore.sweep(USUAL, case, stages=[]), "has no values"),
        (lambda case: explore.sweep(USUAL, case, {"engine.ring_gap": [1]}), "engine.ring_gap_um"),
        (lambda case: explore.sweep(USUAL, case, insulation_mm=range(1, 200_001)), "more than 100,000"),
        (lambda case: case.with_("costs.instrument_EUR=3"), "costs.instruments_EUR"),
        (lambda case: case.with_("cost.instruments_EUR=3"), "did you mean costs"),
        (lambda case: case.with_({"scenario.demand.hours": [25]}), "from 0 to 23"),
        (lambda case: case.with_("costs.instruments_EUR.much=3"), "holds no keys"),
        (lambda case: case.with_("costs"), "key=value"),
        (lambda case: case.with_("costs.instruments_EUR=["), "key=value"),
        (lambda case: case.with_("engine=lapped"), r"with_\(engine='lapped'\)"),
        (lambda case: case.with_(engine="lappd"), "did you mean lapped"),
        (lambda case: case.with_(engines="lapped"), "did you mean engine"),
        (lambda case: explore.load_scenario(None), "named by a text or a path, .* not by None"),
        (lambda case: explore.load_scenario({}), "not by {}"),
        (lambda case: explore.load_scenario("x" * 1000), "xxx"),
        (lambda case: explore.optimise(5), "not by 5"),
        (lambda case: explore.load_scenario("orchard", None), "a list of texts, .* not None"),
        (lambda case: explore.load_scenario("orchard", [1]), r"a list of texts, .* not \[1\]"),
        (lambda case: explore.load_scenario("orchard", "engine.ring_gap_um=9"), "a list of texts"),
        (lambda case: explore.evaluate(USUAL, case, properties="nonsense"), "tables or helmholtz"),
        (lambda case: explore.evaluate(USUAL | {"fluid": {"Water"}}, case), "fluid in row 1"),
        (lambda case: explore.evaluate(USUAL | {"fluid": 10**5000}, case), "thousands of digits"),
        (lambda case: explore.evaluate(USUAL | {"store_volume_L": {500}}, case), "it must be a number"),
        (lambda case: explore.evaluate(USUAL | {"store_volume_L": 10**400}, case), "it must be a number"),
        (lambda case: explore.evaluate(USUAL | {"store_volume_L": 10**5000}, case), "thousands of digits"),
        (lambda case: explore.evaluate(USUAL | {"store_volume_L": 500 + 1j}, case), "it must be a number"),
        (lambda case: explore.evaluate(pd.DataFrame([USUAL]).iloc[:, [0, *range(18), 0]], case), "twice"),
        (lambda case: explore.evaluate(pd.concat({"a": pd.DataFrame([USUAL])}, axis=1), case), "levels"),
        (lambda case: explore.sweep(USUAL, case, store_volume_L=np.ones((2, 2))), "single values"),
        (lambda case: explore.sweep(USUAL, case, store_volume_L=range(10**9)), "1,000,000,000 combin"),
        (lambda case: explore.sweep(USUAL, case, store_volume_L=itertools.count()), "more than 100,000"),
        (lambda case: explore.run_machine({}), "are missing; explore task=new what=machine"),
    ],
)
def test_what_is_refused(orchard, call, says):
    """One sentence of less than 300 characters, whatever was wrong."""
    with pytest.raises(InputError, match=says) as refused:
        call(orchard)
    assert len(str(refused.value)) < 300


def test_an_array_of_one_value_is_that_value(orchard):
    """As NumPy hands it back."""
    one = explore.evaluate(explore.new_design(), orchard)
    arrays = {name: np.array(value) for name, value in explore.new_design().items()}
    assert explore.evaluate(arrays, orchard)["cost_EUR"].equals(one["cost_EUR"])


def test_absurd_designs_make_no_noise(orchard):
    """What a law makes of them is judged, and no warning of a library is shown."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = explore.evaluate(explore.new_design(top_temperature_degC=[5.0, 20.0, 110.0]), orchard)
    assert not found["possible"].iloc[0]


@pytest.mark.parametrize("name", [1, None, []])
def test_a_column_is_named_by_a_text(swept, name):
    """A number or a list is none."""
    with pytest.raises(InputError, match="table: a column is named by a text"):
        swept.table(name)
    if name:
        with pytest.raises(InputError, match="plot: a column is named by a text"):
            swept.plot(name)


def test_a_chart_of_names_is_drawn(swept):
    """Fluids have no per cent."""
    assert set(swept.plot("fluid", "fluid", "fluid").data[0].x) == {USUAL["fluid"]}


def test_a_case_makes_others_and_stays(orchard, tmp_path):
    """Values as typed or as a dict, groups by name or file; the first case is what it was."""
    before = orchard.model_dump()
    prices = tmp_path / "prices.yaml"
    prices.write_text("instruments_EUR: 77\n", encoding="utf-8")
    other = orchard.with_(
        "scenario.limits.bounds.boiler_area_m2=[null,2]",
        {"scenario.demand.hours": [6, 7], "space.store_volume_L": 500},
        engine="lapped",
        costs=prices,
    )
    assert other.scenario.limits.bounds == {"boiler_area_m2": (None, 2.0)}
    assert (other.scenario.demand.hours, other.space["store_volume_L"]) == ((6, 7), 500)
    assert (other.engine.ring_gap_um, other.costs.instruments_EUR) == (8.0, 77.0)
    assert orchard.model_dump() == before
    assert other == explore.load_scenario(
        "orchard",
        ["scenario.limits.bounds.boiler_area_m2=[null,2]", "scenario.demand.hours=[6,7]", "space.store_volume_L=500",
         "engine=lapped", f"costs={prices}"],
    )  # fmt: skip
    assert pickle.loads(pickle.dumps(other)) == other


def test_a_sweep_has_every_combination(orchard, swept):
    """What was varied stands first; each row is what a single evaluation gives."""
    assert swept.varied == ("engine.ring_gap_um", "store_volume_L")
    assert list(swept["engine.ring_gap_um"]) == [8, 8, 8, 18, 18, 18]
    assert list(swept["store_volume_L"]) == [300.0, 600.0, 1200.0] * 2
    alone = explore.evaluate(explore.new_design(store_volume_L=600), orchard.with_("engine.ring_gap_um=18"))
    for name in ("work_per_litre_kJ", "cost_EUR", "served_share"):
        assert swept.loc[4, name] == alone.loc[0, name]
    assert swept.loc[1, "work_per_litre_kJ"] > swept.loc[4, "work_per_litre_kJ"]  # a wider gap leaks more


def test_a_table_has_labels_units_and_limits(swept):
    """Numbers are written as the page writes them, each under its label with its unit; what is the same is left out."""
    table = swept.table()
    assert list(table)[:2] == ["engine.ring_gap_um", "Store volume [L]"]
    one = record("served_share")
    assert table[f"{one.label} [{one.unit}]"].tolist()[
        0
    ] == f"{swept.loc[0, 'served_share']:.1%}".removesuffix("%")
    assert table.loc[0, BROKEN] == "too little of the demand served"
    assert swept.broken()[0] == ["violation_served_share_fraction"]
    assert "Working fluid" not in table
    assert list(swept.table("cost_EUR", "fluid")) == ["Cost [EUR]", "Working fluid"]
    with pytest.raises(InputError, match="did you mean cost_EUR"):
        swept.table("cost")


def test_a_result_is_a_frame_and_stays_one(swept):
    """Rows and columns of it are results that know what was varied."""
    assert isinstance(swept, pd.DataFrame)
    part = swept[swept["feasible"]].head(1)
    assert isinstance(part, Result)
    assert part.varied == swept.varied


def test_html_shows_few_side_by_side_and_escapes(swept):
    """Few designs are columns; many are rows, and at most so many; text is text."""
    assert "<th>Cost [EUR]</th>" in swept.head(2)._repr_html_()
    many = Result(pd.concat([swept] * 5, ignore_index=True))
    assert "the first 20 of 30 designs" in many._repr_html_()
    assert many._repr_html_().count("<tr") == 21
    assert "<b>x" not in swept.head(1).assign(fluid="<b>x</b>")._repr_html_()


def test_a_chart_has_titles_with_units(swept):
    """A line for each value of the second variable, shares in per cent, open marks where a limit is broken."""
    figure = swept.plot(x="store_volume_L", y="served_share", colour="engine.ring_gap_um")
    assert figure.layout.xaxis.title.text == "Store volume [L]"
    assert figure.layout.yaxis.title.text == "Demand served [%]"
    assert [trace.name for trace in figure.data] == ["8", "18"]
    assert figure.data[0].y[0] == pytest.approx(100 * swept.loc[0, "served_share"])
    assert figure.data[0].marker.symbol[0] == "circle-open"
    with pytest.raises(InputError, match="did you mean"):
        swept.plot(y="served")


def test_columns_stand_in_one_order(orchard, found, swept):
    """A front, all designs, an evaluation and a sweep without what was varied."""
    one = list(explore.evaluate(explore.new_design(), orchard).columns)
    assert list(found.front.columns) == list(found.designs.columns) == one
    assert [name for name in swept.columns if name != "engine.ring_gap_um"] == one


def test_a_search_hands_over_front_picks_study(found, orchard):
    """The best trials of the study are the front, and the picks are rows of it."""
    assert found.designs_evaluated >= 2000
    assert found.front["feasible"].all()
    assert len(found.study().best_trials) == len(found.front)
    for line, fluid in zip(found.picks["line"], found.picks["fluid"], strict=True):
        assert found.front["fluid"].iloc[int(line) - 1] == fluid
    assert "on the front" in found._repr_html_()


def test_a_search_writes_its_page(found, tmp_path, monkeypatch):
    """As the command does, with the same picks."""
    monkeypatch.chdir(tmp_path)
    page = found.page()
    assert page.is_file()
    assert {"front.csv", "summary.json", "config.yaml"} <= {file.name for file in page.parent.iterdir()}
    import json

    picks = json.loads((page.parent / "summary.json").read_text(encoding="utf-8"))["picks"]
    assert [one["row"] for one in picks] == found.picks["line"].tolist()


def test_the_worked_notebook_runs(tmp_path, monkeypatch):
    """The pieces of the handbook's page as cells, in their order; the last line of each shows itself."""
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {"__name__": "__main__"}
    pieces = [block.text for block in read("notebook") if block.language == "python"]
    shown = run(pieces, names)
    assert len(pieces) >= 8
    tables = [one["text/html"] for one in shown if "text/html" in one]
    assert len(tables) >= 3
    for table in tables:
        assert table.count("<table") == 1
        assert "<script" not in table
    # A result, a search's front and a figure, left alone on a line.
    result, front, figure = run(["result", "found.front", "figure"], names)
    assert "Work per litre" in result["text/html"]
    assert "Work per litre" in front["text/html"]
    assert "text/html" in figure or any("plotly" in kind for kind in figure)
    assert "plotly" in (tmp_path / "sweep.html").read_text(encoding="utf-8")
    assert names["page"].is_file()
    assert re.search(r"R1233zd\(E\)", names["result"]._repr_html_())
