"""``explore task=doubt`` on a small real run, from the command to the files, the words and the page."""

from __future__ import annotations

import json
import sys

import pandas as pd
import pytest

from explore import cli
from explore.doubt.answers import NONE, TIED
from explore.errors import InputError
from explore.run import reader
from explore.tell import doubts
from tests import real_run as runs

SMALL = ("draws=16", "designs=24", "row=3")
"""A small study, and with it a design of the front that the run does not recommend."""


def command(monkeypatch, *words):
    """Type a command; returns its exit status."""
    monkeypatch.setattr(sys, "argv", ["explore", *words])
    return cli.main()


@pytest.fixture(scope="module")
def studied(real_run, tmp_path_factory):
    """A small study of a copy of the real run, by one worker; the folder and what was said."""
    run = runs.copy(real_run, tmp_path_factory.mktemp("doubt") / "run")
    with pytest.MonkeyPatch.context() as patch:
        assert command(patch, "task=doubt", f"run={run}", *SMALL, "search.workers=1") == 0
    (asked,) = (one["row"] for one in reader.read_doubt(run)["designs"] if one["role"] == "asked for")
    assert f"row={asked}" in SMALL
    return run


def test_probabilities_sum_to_one_and_carry_their_error(studied):
    """Under each ceiling, for fluids, stores and expansions; ties and nothing feasible are classes."""
    found = reader.read_doubt(studied)
    case = reader.read_case(studied)
    assert found["worlds"] == 16
    own = case.scenario.limits.pressure_ceiling_bar_g
    assert [one["ceiling_bar_g"] for one in found["ceilings"]][-1] == own
    for under in found["ceilings"]:
        for kind in ("fluid", "store_mode", "stages"):
            listed = under[kind]["best"]
            assert sum(one["probability"] for one in listed) == pytest.approx(1.0, abs=1e-12)
            for one in listed:
                near = (16 * one["probability"] + 2) / 20  # Agresti and Coull 1998
                assert one["standard_error"] == pytest.approx((near * (1 - near) / 20) ** 0.5)
        names = {card.name for card in case.fluids.values()} | {TIED, NONE}
        assert {one["best"] for one in under["fluid"]["best"]} <= names


def test_every_recommended_design_is_told(studied):
    """Its bands hold what lies between, and it is the design that the run recommends."""
    found, summary = reader.read_doubt(studied), reader.read_summary(studied)
    assert {one["row"] for one in found["designs"]} == {3, *(pick["row"] for pick in summary["picks"])}
    front = pd.read_csv(studied / "front.csv")
    for one in found["designs"]:
        for name, band in one["bands"].items():
            assert band["low"] <= band["likely"] <= band["high"]
            assert band["nominal"] == pytest.approx(front[name][one["row"] - 1], rel=1e-9)
        assert 0.0 <= one["keeps"]["probability"] <= 1.0
        assert one["keeps"]["probability"] + sum(each["share"] for each in one["broken"]) <= 1.0 + 1e-9
    table = pd.read_csv(studied / "doubt.csv")
    assert len(table) == found["designs_tried"]
    assert set(table["row"]) >= {one["row"] for one in found["designs"]}


def test_every_recommended_design_is_told_as_bought_too(studied):
    """The other question stands apart, in the same worlds, beside what the run itself says."""
    found = reader.read_doubt(studied)
    bought = found["as_bought"]
    assert bought["question"] != found["question"]
    assert bought["worlds"] == 16
    assert [one["row"] for one in bought["designs"]] == [one["row"] for one in found["designs"]]
    front = pd.read_csv(studied / "front.csv")
    for one in bought["designs"]:
        assert one["not_rated"] == ""
        for name, band in one["bands"].items():
            assert band["nominal"] == pytest.approx(front[name][one["row"] - 1], rel=1e-9)
    assert "as bought" in (studied / "report.html").read_text(encoding="utf-8")


def test_what_to_measure_first_is_ranked(studied):
    """Every topic has its bench measurement; the greatest comes first."""
    listed = reader.read_doubt(studied)["measure_first"]
    totals = [one["total"] for one in listed]
    assert totals == sorted(totals, reverse=True)
    assert totals[0] > 0.0
    assert "weather" in [one["topic"] for one in listed]
    for one in listed:
        assert "no measurement" not in doubts.bench(one["topic"])


def test_the_words(studied):
    """Terminal and page share them; no number stands without its doubt."""
    found, case = reader.read_doubt(studied), reader.read_case(studied)
    said = "\n".join(doubts.told(found, case))
    assert "16 plausible worlds" in said
    assert "keeps every limit in" in said
    assert doubts.measure_words(found)
    assert "sized anew" in said
    assert (
        "8 years of weather, resampled from one typical year in blocks of 5 days: real years vary more"
        in said
    )
    assert "Longest unserved stretch" in said
    assert "plausible worlds under" in doubts.headline(found, case)
    assert "Asked for" in said


def chunks_of(run):
    """The chunks that a study keeps in its run, by where they lie."""
    return {path.relative_to(run): path for path in sorted((run / "doubt").rglob("*.npy"))}


def test_the_same_bytes_with_two_workers_and_after_a_stop(studied, tmp_path, monkeypatch):
    """Files do not depend on workers; chunks that a kill left are taken over, the others made again."""
    run = runs.copy(studied, tmp_path / "run")
    (run / "doubt.csv").unlink()
    (run / "doubt.json").unlink()
    before, chunks = chunks_of(studied), chunks_of(run)
    assert len(chunks) >= 5
    gone = [path for path in chunks.values() if path.parent.name.startswith("bought")]
    gone += [path for path in chunks.values() if path.parent.name.startswith("sobol")][-2:]
    assert len(gone) == 4, "two workers start where two chunks are to be made"
    kept = {name: path.stat().st_mtime_ns for name, path in chunks.items() if path not in gone}
    for path in gone:
        path.unlink()
    assert command(monkeypatch, "task=doubt", f"run={run}", *SMALL, "search.workers=2") == 0
    assert (run / "doubt.csv").read_bytes() == (studied / "doubt.csv").read_bytes()
    first, second = (json.loads((folder / "doubt.json").read_text()) for folder in (run, studied))
    assert {**first, "command": ""} == {**second, "command": ""}
    assert {name: path.read_bytes() for name, path in chunks_of(run).items()} == {
        name: path.read_bytes() for name, path in before.items()
    }
    assert {name: chunks[name].stat().st_mtime_ns for name in kept} == kept


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("scenario.limits.served_share_min=0.5",), "cannot change"),
        (("engine=lapped",), "cannot change"),
        (("doubt.bands.ring_gap=[9,18]",), "did you mean ring_gap_um?"),
        (("doubt.bands.ring_gap_um=[18,9]",), "crossed or empty"),
        (("row=100000",), "holds the designs 1 to"),
    ],
)
def test_what_cannot_be_asked(studied, monkeypatch, capfd, words, says):
    """One sentence, status 2, and the answers stay as they were."""
    before = (studied / "doubt.json").read_bytes()
    assert command(monkeypatch, "task=doubt", f"run={studied}", *SMALL, *words) == 2
    out, err = capfd.readouterr()
    assert says in err
    assert err.count("\n") == 1
    assert out == ""
    assert (studied / "doubt.json").read_bytes() == before


@pytest.mark.parametrize(
    "text",
    [
        "[]",
        "{",
        '{"worlds": 0}',
        '{"worlds": 5, "designs_tried": 3, "designs": [{"row": -1}], "ceilings": []}',
    ],
)
def test_a_broken_file_is_refused_in_a_sentence(tmp_path, text):
    """Whoever wrote it: nothing of it reaches the page."""
    (tmp_path / "doubt.json").write_text(text)
    with pytest.raises(InputError, match=r"doubt\.json"):
        reader.read_doubt(tmp_path)


def test_no_answers_no_words(tmp_path):
    """A run that was not doubted has none."""
    assert reader.read_doubt(tmp_path) == {}
