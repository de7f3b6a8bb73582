"""The plant as bought in many worlds: bands, chances, words, and what is refused."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from explore.config.doubtful import GLASS
from explore.doubt import as_bought as asked
from explore.doubt.as_bought import ENOUGH, QUESTION, Batch, as_bought
from explore.doubt.choose import LINE, ROLE
from explore.doubt.draws import points
from explore.doubt.study import QUESTION as THE_CHOICE
from explore.doubt.study import bench
from explore.doubt.weathers import OWN
from explore.doubt.worlds import Worlds
from explore.errors import InputError
from explore.model.as_bought import FIGURES, Purchase
from explore.run import reader
from explore.tell import as_bought as words

SURE = {"best": "x", "probability": 1.0, "standard_error": 0.0}


@pytest.fixture(scope="module")
def picked(evaluator, designs):
    """Three designs that serve, one of them fully mixed, as a study has them: two recommended, one not."""
    columns = designs(3000, 21)
    found = evaluator.evaluate(columns)
    good = found["possible"].astype(bool) & (found["served_share"] > 0.5) & (found["work_per_litre_kJ"] > 3.0)
    stratified = columns["store_mode"] == "stratified"
    rows = [
        np.flatnonzero(good & stratified)[0],
        np.flatnonzero(good & ~stratified)[0],
        np.flatnonzero(good)[-1],
    ]
    frame = pd.DataFrame({name: values[rows] for name, values in columns.items()})
    return frame.assign(**{LINE: [4, 9, 0], ROLE: ["most work per litre", "compromise", ""]})


@pytest.fixture(scope="module")
def answer(evaluator, picked):
    """What 24 worlds say of them."""
    with bench(evaluator, 1) as alone:
        return as_bought(alone, picked, 24)


def test_only_recommended_designs_are_asked_and_the_question_is_marked(answer):
    """Bands of one question never go by the name of the other."""
    assert answer["question"] == QUESTION != THE_CHOICE
    assert [one["row"] for one in answer["designs"]] == [4, 9]


def test_bands_hold_what_lies_between(answer, evaluator, picked):
    """Likely lies between low and high, and the run's own figures stand beside."""
    found = evaluator.evaluate({n: picked[n].to_numpy() for n in picked if n not in (LINE, ROLE)})
    for place, one in enumerate(answer["designs"]):
        assert set(one["bands"]) == set(FIGURES)
        for name, band in one["bands"].items():
            assert band["low"] <= band["likely"] <= band["high"]
            assert band["nominal"] == pytest.approx(found[name][place])
        assert one["bands"]["peak_pressure_bar_g"]["low"] == one["bands"]["peak_pressure_bar_g"]["high"]
        assert one["bands"]["power_size_W"]["low"] < one["bands"]["power_size_W"]["high"]


def test_chances_are_counted_over_all_worlds(answer, evaluator, picked):
    """Counted anew here from the chunk itself; both at once is no likelier than either."""
    columns = {n: picked[n].to_numpy()[:2] for n in picked if n not in (LINE, ROLE)}
    worlds = Worlds(evaluator)
    cloud = points(24, worlds.draws.dimensions, evaluator.case.doubt.seed)
    told = Batch(cloud, columns).carried_out(evaluator)
    assert told.shape == Batch(cloud, columns).shape
    for place, one in enumerate(answer["designs"]):
        power = told[:, place, FIGURES.index("power_size_W")]
        gives = power >= ENOUGH * one["power_asked_W"]
        assert one["gives_power"]["probability"] == pytest.approx(gives.mean())
        least = min(one["gives_power"]["probability"], one["serves"]["probability"])
        assert one["both"]["probability"] <= least


def test_a_world_without_a_state_counts_as_failed():
    """A plant that nobody could rate is not taken for one that works."""
    values = np.tile([260.0, 9.0, 0.9, 4.0, 3.0, 1.0], (10, 1))
    values[:4] = np.nan
    one = asked._told(values, dict.fromkeys(FIGURES, 1.0), 250.0, 0.8)
    assert one["settled"] == pytest.approx(0.6)
    assert one["gives_power"]["probability"] == pytest.approx(0.6)
    assert one["bands"]["power_size_W"]["low"] is None
    assert one["bands"]["power_size_W"]["likely"] == 260.0
    assert one["bands"]["condenser_pressure_bar_a"]["low"] == 1.0
    said = words.card_words({"as_bought": {"designs": [one | {"row": 3}]}}, 3)
    assert "In 40 % of worlds no state was found" in said
    assert "– to 260 W" in said
    nowhere = asked._told(np.full((10, 6), np.nan), dict.fromkeys(FIGURES, 1.0), 250.0, 0.8)
    assert "in no world" in nowhere["not_rated"]


def test_the_likely_world_gives_the_run_itself(evaluator, picked):
    """With every value at its likely one the plant is where it was sized."""
    columns = {n: picked[n].to_numpy()[:2] for n in picked if n not in (LINE, ROLE)}
    worlds = Worlds(evaluator)
    sample = worlds.draws.sample(points(1, worlds.draws.dimensions, 3))
    middle = np.array([[1.0 if one.name == GLASS else one.likely for one in worlds.draws.items]])
    own = np.full(1, OWN)  # the run's own year of weather
    model = worlds.model(replace(sample, values=middle, laws=np.zeros((1, 2), bool), weather=own), 0)
    rated, wanted = Purchase.of(evaluator, columns).rated(model), evaluator.evaluate(columns)
    for name in FIGURES:
        assert rated[name] == pytest.approx(wanted[name], rel=1e-3), name


def test_words(answer):
    """Terminal, page and card say that it is the plant as bought, and how likely it does its work."""
    said = "\n".join(words.told({"as_bought": answer}))
    assert "as bought" in said
    assert "Nothing is sized anew" in said
    assert said.count("asked at its engine's shaft") == 2
    card = words.card_words({"as_bought": answer}, 9)
    assert card.startswith("As bought, nothing sized anew")
    assert words.card_words({"as_bought": answer}, 5) == ""
    assert words.told({}) == []
    refused = {"row": 4, "role": "compromise", "fluid": "x", "not_rated": "for a reason"}
    assert words.design_words(refused, answer).endswith("is not rated as bought: for a reason.")
    assert words.card_words({"as_bought": {"designs": [refused]}}, 4) == "Not rated as bought: for a reason."


@pytest.mark.parametrize(
    "bought",
    [
        {
            "worlds": 5,
            "served_share_min": 0.8,
            "designs": [{"row": 1, "role": "r", "fluid": "f", "not_rated": ""}],
        },
        {"worlds": 0, "served_share_min": 0.8, "designs": []},
        [],
    ],
)
def test_a_broken_answer_is_refused_in_a_sentence(tmp_path, bought):
    """A file that someone else wrote is data of one shape or none."""
    whole = {
        "worlds": 5,
        "designs_tried": 3,
        "designs": [],
        "ceilings": [
            {
                "ceiling_bar_g": 4.0,
                "figure": "cost_EUR",
                "corners": [],
                **{key: {"nominal": "x", "best": [SURE]} for key in ("fluid", "store_mode", "stages")},
            }
        ],
        "steady": [],
        "measure_first": [],
    }
    path = tmp_path / "doubt.json"
    path.write_text(json.dumps(whole))
    assert reader.read_doubt(tmp_path)["worlds"] == 5
    path.write_text(json.dumps(whole | {"as_bought": bought}))
    with pytest.raises(InputError, match="as_bought"):
        reader.read_doubt(tmp_path)
