"""Two runs side by side."""

import base64
import csv
import gzip
import json
import re

import pytest

from explore import load_scenario
from explore.errors import InputError
from explore.figures.catalogue import BILL
from explore.figures.format import shown
from explore.tell.page import set_otherwise, write_comparison
from explore.tell.page.compared import aboard
from explore.tell.page.comparison import differences
from explore.tell.page.data import read_run
from explore.tell.page.picks import pick
from tests.real_run import copy
from tests.report.synthetic import make_run, over_worlds, write_csv


@pytest.fixture(scope="module")
def pair(real_run, tmp_path_factory):
    """Two runs that differ in title and pressure ceiling."""
    root = tmp_path_factory.mktemp("pair")
    first = real_run
    second = copy(real_run, root / "b", title="<i>Second</i>")
    text = (second / "config.yaml").read_text(encoding="utf-8")
    changed = text.replace("pressure_ceiling_bar_g: 16.0", "pressure_ceiling_bar_g: 12.0")
    assert changed != text
    (second / "config.yaml").write_text(changed, encoding="utf-8")
    return first, second


def test_what_differs_is_listed(pair):
    """Exactly the values that differ are named, with the text of each run."""
    found = dict(differences([read_run(folder) for folder in pair]))
    assert found == {"scenario.limits.pressure_ceiling_bar_g": ["16", "12"]}


def test_page_holds_both_recommendations(pair, tmp_path):
    """The compromise of both runs stands side by side with its cost; titles stay text."""
    page = write_comparison(pair, tmp_path / "compare.html")
    text = page.read_text(encoding="utf-8")
    assert "<i>Second" not in text
    for folder in pair:
        run = read_run(folder)
        row = run.front.row(pick(run)[-1].row - 1)
        assert f"<td>{shown(row['cost_EUR'], 'cost_EUR')}</td>" in text
    assert len(text) < 6_000_000
    assert re.search(r"connect-src &#39;none&#39;", text)


@pytest.mark.parametrize("count", [1, 9])
def test_number_of_runs_is_checked(pair, tmp_path, count):
    """One run or nine are refused in a sentence."""
    with pytest.raises(InputError, match="2 to 8 runs"):
        write_comparison([pair[0]] * count, tmp_path / "c.html")
    assert not list(tmp_path.iterdir())


def carried(page):
    """Unpack what the page's script works on."""
    found = re.search(r'id="run-data">([^<]*)<', page.read_text(encoding="utf-8"))
    return json.loads(gzip.decompress(base64.b64decode(found.group(1))))


def test_a_huge_front_is_thinned_evenly_and_keeps_what_is_recommended():
    """No more than asked for, from one end of the front to the other, and always the designs named."""
    places = aboard(10_000, {7, 9_999}, 100)
    assert {0, 7, 5_000, 9_999} <= set(places)
    assert places == sorted(set(places))
    assert len(places) <= 102
    assert aboard(3, {1}, 100) == [0, 1, 2]
    assert aboard(0, set(), 100) == []


def test_columns_that_only_some_runs_have_are_left_out_of_the_others(tmp_path):
    """A column that a run lacks is not among its cells, so that it cannot be read as nought; its lines stay its own."""
    first, second = (make_run(tmp_path / name, count=400, seed=seed) for name, seed in (("a", 1), ("b", 2)))
    with (second / "front.csv").open(encoding="utf-8", newline="") as file:
        rows = [dict(row) for row in csv.DictReader(file)]
    for row in rows:
        del row["cost_levels_EUR"], row["served_share"]
    write_csv(second / "front.csv", rows)
    data = carried(write_comparison([first, second], tmp_path / "c.html"))
    own, other = (run["cells"] for run in data["runs"])
    assert {"cost_levels_EUR", "served_share"} <= set(own) - set(other)
    assert {one["column"] for one in data["bill"]} <= set(BILL)
    assert other["cost_EUR"] == pytest.approx([float(row["cost_EUR"]) for row in rows], abs=0.001)
    assert data["runs"][1]["lines"] == list(range(1, len(rows) + 1))


def test_runs_that_read_objectives_differently_are_told_by_their_own_values(tmp_path):
    """One searched over worlds beside one that is not: the figures told are those that both have, and the page says so."""
    first = make_run(tmp_path / "a", count=400)
    second = over_worlds(make_run(tmp_path / "b", count=400))
    page = write_comparison([first, second], tmp_path / "c.html")
    data = carried(page)
    assert {one["figure"] for one in data["axes"]} == {"work_per_litre_kJ", "cost_EUR", "peak_pressure_bar_g"}
    assert not [name for name in data["told"] if name.startswith("cautious")]
    assert "each recommends by its own reading" in page.read_text(encoding="utf-8")
    both = carried(write_comparison([second, second], tmp_path / "d.html"))
    assert "cautious_cost_EUR" in {one["figure"] for one in both["axes"]}


def test_what_was_set_is_told_in_few_words(orchard):
    """What a builder asks for and pays comes first, a price with its unit; what is left is counted."""
    scenario = orchard.scenario
    limits = scenario.limits.model_copy(update={"pressure_ceiling_bar_g": 6.0})
    other = orchard.model_copy(
        update={
            "scenario": scenario.model_copy(update={"limits": limits}),
            "costs": orchard.costs.model_copy(update={"store_EUR_per_L065": 40.0}),
            "fluids": {key: card for key, card in orchard.fluids.items() if card.name != "Acetone"},
            "engine": orchard.engine.model_copy(update={"ring_gap_um": 20.0, "wall_factor": 2.0}),
            "space": {"store_volume_L": 500},
            "search": orchard.search.model_copy(update={"seed": 7, "designs": 123, "seconds": 9.0}),
        }
    )
    cases = [orchard, other, orchard]

    class Held:
        def __init__(self, case):
            self.case = case

    apart = list(differences([Held(case) for case in cases]))
    words = set_otherwise.told(apart, cases, 1)
    assert words.startswith(
        "Set differently: Acetone left out of the fluids, pressure ceiling 6 instead of 16 bar gauge, "
    )
    assert "store volume searched over 500 instead of its whole range" in words
    assert "price of store 40 instead of 18 EUR/L^0.65" in words
    assert words.endswith("and 4 other values, in the table below")
    tight = orchard.model_copy(
        update={"engine": orchard.engine.model_copy(update={"ring_gap_um": 20.0, "friction_idle_bar": 0.1})}
    )
    tightened = list(differences([Held(orchard), Held(tight)]))
    words = set_otherwise.told(tightened, [orchard, tight], 1)
    assert words == "Set differently: ring gap 20 instead of 13 um and friction idle 0.1 instead of 0.052 bar"
    assert set_otherwise.told(apart, cases, 2).startswith("Nothing was set differently")


def test_parts_at_hand_are_told_as_such():
    """A tank that nobody has is bought and chosen: it is not a store volume that is not set."""
    mine = load_scenario("mine")
    other = mine.with_("scenario.owned.store_volume_L=null", "scenario.owned.insulation_mm=null")

    class Held:
        def __init__(self, case):
            self.case = case

    words = set_otherwise.told(list(differences([Held(mine), Held(other)])), [mine, other], 1)
    assert words == (
        "Set differently: store volume at hand none instead of 300 and insulation at hand none instead of 100"
    )
