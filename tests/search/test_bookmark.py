"""What a campaign's first legs came to, kept so that going on need not read them again: never other than they say."""

from __future__ import annotations

import io
import json
import logging
import shutil
from dataclasses import replace

import numpy as np
import pytest

from explore.design.space import Space
from explore.search import optimise
from explore.search.bookmark import Bookmark, Standing, packed, unpacked
from explore.search.files import Form, Shelf
from explore.search.hunt import Hunt
from explore.search.identity import facts
from explore.search.storage import BOOKMARK, LEGS, open_ledger
from tests.search.toy import ToyEvaluator, toy_case

SETTINGS = {"designs": 9000, "leg_designs": 500, "legs_per_round": 4, "archive_designs": 1000}
PART = SETTINGS | {"designs": 6000}
"""Three whole rounds of four legs; six legs more are the rest."""
CAPACITY = SETTINGS["archive_designs"]
SIZES = dict.fromkeys(range(12), 500)


@pytest.fixture(scope="module")
def uninterrupted():
    return optimise(toy_case(**SETTINGS), evaluator=ToyEvaluator)


@pytest.fixture(scope="module")
def begun(tmp_path_factory):
    """A folder whose search has kept a bookmark at every round's end."""
    folder = tmp_path_factory.mktemp("begun")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("explore.search.hunt.BOOKMARK_AFTER_S", 0.0)
        optimise(toy_case(**PART), evaluator=ToyEvaluator, run_folder=folder)
    return folder


@pytest.fixture(scope="module")
def mark(begun):
    """Make the bookmark of that search for a file of its own."""
    case = toy_case(**SETTINGS)
    space = Space.from_case(case)
    form = Form(space.fluids, space.dimensions, space.choice_counts, len(case.scenario.objectives))
    _, name = unpacked((begun / BOOKMARK).read_bytes(), CAPACITY)
    return lambda place: Bookmark(place, name, form)


@pytest.fixture
def run(begun, tmp_path):
    return shutil.copytree(begun, tmp_path / "run")


def gone_on_with(folder):
    """Go on with a run; return what was found and the numbers of the legs that were read."""
    read: list[str] = []
    with pytest.MonkeyPatch.context() as patch:
        whole = Shelf.open_reader
        patch.setattr(Shelf, "open_reader", lambda self, name: (read.append(name), whole(self, name))[1])
        found = optimise(toy_case(**SETTINGS), evaluator=ToyEvaluator, run_folder=folder)
    return found, len(read)


def assert_same(found, expected):
    assert found.front.equals(expected.front)
    assert found.designs.equals(expected.designs)
    assert (found.evaluated, found.feasible, found.lost_to) == (
        expected.evaluated,
        expected.feasible,
        expected.lost_to,
    )
    assert (found.legs, found.resolution) == (expected.legs, expected.resolution)
    assert [(m.designs, m.hypervolume) for m in found.history] == [
        (m.designs, m.hypervolume) for m in expected.history
    ]


def test_going_on_from_a_bookmark_equals_an_uninterrupted_run(run, uninterrupted):
    """Not one leg before the bookmark is read; front, archive, counts and history are those of the search in one go."""
    standing, _ = unpacked((run / BOOKMARK).read_bytes(), CAPACITY)
    assert standing.sizes == [500] * 12
    found, read = gone_on_with(run)
    assert_same(found, uninterrupted)
    assert read == 0
    assert found.legs_here == uninterrupted.legs - 12


def test_without_it_every_leg_is_read(run, uninterrupted):
    """The bookmark is a convenience: what it stands for is in the legs."""
    (run / BOOKMARK).unlink()
    found, read = gone_on_with(run)
    assert_same(found, uninterrupted)
    assert read == 12


def test_what_lies_before_the_bookmark_is_not_missed(run, uninterrupted):
    """A leg torn after its round was put on record need not be done again."""
    first = sorted((run / LEGS).iterdir())[0]
    first.write_bytes(first.read_bytes()[:100])
    found, _ = gone_on_with(run)
    assert_same(found, uninterrupted)
    assert found.legs_here == uninterrupted.legs - 12


def test_an_unfinished_round_is_never_put_on_record(tmp_path, uninterrupted):
    """Legs of one round all start from what was known before it: a bookmark within it would start the rest from another."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("explore.search.hunt.BOOKMARK_AFTER_S", 0.0)
        optimise(toy_case(**PART | {"designs": 3000}), evaluator=ToyEvaluator, run_folder=tmp_path)
    assert len(unpacked((tmp_path / BOOKMARK).read_bytes(), CAPACITY)[0].history) == 4
    found, read = gone_on_with(tmp_path)
    assert_same(found, uninterrupted)
    assert read == 2


def test_a_leg_that_was_cut_short_leaves_its_rest_to_those_after_it(tmp_path):
    """Going on with more designs: with the bookmark and without it the same legs, the twelfth a short one."""
    found = []
    for after_s in (0.0, 99.0):
        folder = tmp_path / str(after_s)
        folder.mkdir()
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("explore.search.hunt.BOOKMARK_AFTER_S", after_s)
            optimise(toy_case(**PART | {"designs": 5800}), evaluator=ToyEvaluator, run_folder=folder)
        found.append(gone_on_with(folder))
    (marked, none), (plain, all_legs) = found
    assert_same(marked, plain)
    assert (none, all_legs, marked.legs, marked.designs_evaluated) == (0, 12, 19, 9000)


def test_fewer_designs_than_it_stands_for_are_found_without_it(run):
    """A smaller budget ends where a search of that budget does, also where the bookmark lies behind it."""
    fewer = toy_case(**SETTINGS | {"designs": 3000})
    assert_same(
        optimise(fewer, evaluator=ToyEvaluator, run_folder=run), optimise(fewer, evaluator=ToyEvaluator)
    )


def test_a_short_search_leaves_none(tmp_path):
    """A search whose legs are taken in again in a moment writes no file for it."""
    optimise(toy_case(**PART), evaluator=ToyEvaluator, run_folder=tmp_path)
    assert not (tmp_path / BOOKMARK).exists()


def test_a_folder_that_went_away_is_not_made_again_for_it(tmp_path, monkeypatch):
    """When the campaign can no longer be stored, nor is its standing."""
    monkeypatch.setattr("explore.search.hunt.BOOKMARK_AFTER_S", 0.0)
    folder = tmp_path / "run"
    folder.mkdir()

    def vanish(progress):
        if progress.legs == 5:
            shutil.rmtree(folder)

    found = optimise(toy_case(**SETTINGS), evaluator=ToyEvaluator, run_folder=folder, progress=vanish)
    assert found.trouble
    assert not (folder / BOOKMARK).exists()


def altered(standing, **facts):
    """A standing's file in which some of the archive is another."""
    return replace(standing, archive=replace(standing.archive, **facts))


def harmed(content, how):
    """The content of a bookmark in which one thing is wrong."""
    standing, mark = unpacked(content, CAPACITY)
    known, history = standing.archive.known, standing.history
    outside = replace(known, genes=replace(known.genes, unit=known.genes.unit + 1.0))
    strange = replace(known, genes=replace(known.genes, choices=known.genes.choices + 99))
    counts = standing.tally
    more = {**counts.evaluated, "n-Butane": counts.evaluated["n-Butane"] + 1}
    wrong: dict[str, Standing] = {
        "designs outside": altered(standing, known=outside),
        "choices outside": altered(standing, known=strange),
        "another front": altered(standing, on_front=np.roll(standing.archive.on_front, 1)),
        "no front": altered(standing, on_front=np.zeros(len(known), bool)),
        "flags of others": altered(standing, best_of_niche=standing.archive.best_of_niche[1:]),
        "resolution": altered(standing, resolution=float("nan")),
        "counts": replace(standing, tally=replace(counts, evaluated=more)),
        "negative counts": replace(standing, tally=replace(counts, lost={"room": -1})),
        "fluids": replace(standing, tally=replace(counts, feasible={})),
        "fewer legs": replace(standing, history=(replace(history[0], designs=1000), *history[2:])),
        "no history": replace(standing, history=()),
        "time": replace(standing, history=(replace(history[0], seconds=float("inf")), *history[1:])),
    }
    if how in wrong:
        return packed(wrong[how], mark)
    if how == "another campaign":
        return packed(standing, "0" * 8)
    with np.load(io.BytesIO(content)) as arrays:
        parts = dict(arrays)
    facts = json.loads(parts["facts"].tobytes())
    if how == "another bound":
        facts["capacity"] = CAPACITY + 1
    if how == "counts that overflow":
        parts["history"][0, 0] = np.inf
    if how == "flags as numbers":
        parts["on_front"] = parts["on_front"].astype(int)
    if how == "objects":
        parts["values"] = parts["values"].astype(object)
    parts["facts"] = np.frombuffer(json.dumps(facts).encode(), np.uint8)
    file = io.BytesIO()
    np.savez(file, **parts)
    return file.getvalue()


@pytest.mark.parametrize(
    "how",
    [
        "designs outside",
        "choices outside",
        "another front",
        "no front",
        "flags of others",
        "resolution",
        "counts",
        "negative counts",
        "fluids",
        "fewer legs",
        "no history",
        "time",
        "another bound",
        "counts that overflow",
        "flags as numbers",
        "objects",
    ],
)
def test_what_the_legs_do_not_say_is_told_and_not_used(begun, mark, tmp_path, caplog, how):
    """Whatever a file says that somebody else wrote: no standing is taken from it, and one sentence says so."""
    place = tmp_path / BOOKMARK
    place.write_bytes(harmed((begun / BOOKMARK).read_bytes(), how))
    with caplog.at_level(logging.WARNING, "explore.search"):
        assert mark(place).found(CAPACITY, SIZES) is None
    assert caplog.text.count("every leg is read again") == 1


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9, 0.999])
def test_a_torn_one_is_told_and_not_used(begun, mark, tmp_path, caplog, share):
    """A file cut anywhere is no bookmark."""
    content = (begun / BOOKMARK).read_bytes()
    place = tmp_path / BOOKMARK
    place.write_bytes(content[: int(share * len(content))])
    with caplog.at_level(logging.WARNING, "explore.search"):
        assert mark(place).found(CAPACITY, SIZES) is None
    assert caplog.text.count("every leg is read again") == 1


def test_other_legs_in_the_book_are_told(begun, mark, caplog):
    """A book that lacks a leg, or has one of another size, is believed."""
    for sizes in ({**SIZES, 3: 499}, {n: size for n, size in SIZES.items() if n != 11}):
        with caplog.at_level(logging.WARNING, "explore.search"):
            assert mark(begun / BOOKMARK).found(CAPACITY, sizes) is None
    assert caplog.text.count("the campaign has other legs") == 2
    assert mark(begun / BOOKMARK).found(CAPACITY, SIZES) is not None


def test_one_of_another_campaign_is_none(begun, mark, tmp_path, caplog):
    """Whoever puts another search's file there is not warned of damage: there is just none of this."""
    place = tmp_path / BOOKMARK
    place.write_bytes(harmed((begun / BOOKMARK).read_bytes(), "another campaign"))
    with caplog.at_level(logging.WARNING, "explore.search"):
        assert mark(place).found(CAPACITY, SIZES) is None
    assert not caplog.records


def test_a_search_goes_on_beside_a_torn_one(run, uninterrupted, caplog):
    """Every leg is read, the same is found, and the next round's end writes a whole one."""
    place = run / BOOKMARK
    place.write_bytes(place.read_bytes()[:5000])
    with caplog.at_level(logging.WARNING, "explore.search"):
        found, read = gone_on_with(run)
    assert "every leg is read again" in caplog.text
    assert read == 12
    assert_same(found, uninterrupted)


def test_a_standing_survives_its_file_bit_for_bit(run):
    """What is read is what was written."""
    content = (run / BOOKMARK).read_bytes()
    standing, mark = unpacked(content, CAPACITY)
    again = packed(standing, mark)
    with np.load(io.BytesIO(content)) as one, np.load(io.BytesIO(again)) as two:
        assert {name: one[name].tobytes() for name in one} == {name: two[name].tobytes() for name in two}


def test_a_hunt_goes_on_from_where_it_was(run):
    """Legs, counts and clock."""
    case = toy_case(**SETTINGS)
    ledger = open_ledger(case, Space.from_case(case), run, facts(case, ToyEvaluator))
    try:
        hunt = Hunt(case, Space.from_case(case), ledger)
        assert hunt.legs == len(hunt.history) == 12
        assert hunt.tally.evaluated_total == 6000
        assert hunt.seconds >= hunt.history[-1].seconds - 0.001
    finally:
        ledger.close()


def test_a_leg_that_the_end_of_the_time_cut_is_not_put_on_record(run):
    """It is done whole when the campaign is gone on with, so that what it came to would not be believed."""
    case, place = toy_case(**SETTINGS), run / BOOKMARK
    ledger = open_ledger(case, Space.from_case(case), run, facts(case, ToyEvaluator))
    try:
        standing = ledger.standing(CAPACITY)
        assert standing is not None
        place.unlink()
        *before, last = standing.history
        ledger.keep_standing(replace(standing, history=(*before, replace(last, designs=last.designs - 1))))
        assert not place.exists()
        ledger.keep_standing(standing)
        assert place.exists()
    finally:
        ledger.close()
