"""A damaged journal is kept, and written again from the whole legs in the run's folder."""

from __future__ import annotations

import json
import logging
import os
import shutil
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import optuna
import pytest
from optuna.storages import JournalStorage
from optuna.storages.journal import JournalFileBackend
from optuna.trial import TrialState

from explore.errors import InputError
from explore.search import optimise
from explore.search.campaign import FACTS, LOST
from explore.search.files import Stamp, pack, read_leg
from explore.search.journal import DamagedError, _check_book
from explore.search.population import Genes, Known
from explore.search.storage import JOURNAL, LEGS
from tests.search.toy import ToyEvaluator, toy_case

ROOT = Path(__file__).parents[2]
SETTINGS = {"designs": 2400, "leg_designs": 200, "legs_per_round": 4, "archive_designs": 1000}
DONE = 9
REBUILD = """
import os, signal, sys
from pathlib import Path
from explore.search import optimise
from tests.search.toy import ToyEvaluator, toy_case
left = [int(sys.argv[2])]
def dying(act):
    def acted(*arguments, **options):
        left[0] -= 1
        if left[0] < 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return act(*arguments, **options)
    return acted
for name in ("fsync", "replace", "unlink"):
    setattr(os, name, dying(getattr(os, name)))
optimise(toy_case(**{settings!r}), evaluator=ToyEvaluator, run_folder=Path(sys.argv[1]))
"""


@pytest.fixture(scope="module")
def undisturbed():
    """The search that nothing happens to."""
    return optimise(toy_case(**SETTINGS), evaluator=ToyEvaluator)


@pytest.fixture(scope="module")
def broken_off(tmp_path_factory):
    """The folder of a search that was broken off in its third round; not to be changed."""

    class StoppedError(Exception):
        pass

    def stop(progress):
        if progress.legs == DONE:
            raise StoppedError

    folder = tmp_path_factory.mktemp("run")
    with pytest.raises(StoppedError):
        optimise(toy_case(**SETTINGS), evaluator=ToyEvaluator, run_folder=folder, progress=stop)
    return folder


@pytest.fixture
def run(tmp_path, broken_off):
    """A copy of that folder."""
    return Path(shutil.copytree(broken_off, tmp_path / "run"))


def resumed(folder):
    """Go on with the search in a folder."""
    return optimise(toy_case(**SETTINGS), evaluator=ToyEvaluator, run_folder=folder)


def same(found, undisturbed):
    """The same front to the byte, the same counts and history."""
    assert found.front.to_csv() == undisturbed.front.to_csv()
    assert found.evaluated == undisturbed.evaluated
    assert [m.hypervolume for m in found.history] == [m.hypervolume for m in undisturbed.history]


def gains(folder):
    """What the journal says of the legs finished: number, focus and gain."""
    storage = JournalStorage(JournalFileBackend(str(folder / JOURNAL)))
    (study,) = optuna.get_all_study_names(storage)
    done = optuna.load_study(study_name=study, storage=storage).get_trials(states=(TrialState.COMPLETE,))
    return sorted((trial.user_attrs["leg"], trial.params["focus"], trial.value) for trial in done)


def leg_files(folder):
    """The files of the legs by number."""
    found = ((read_leg(path.read_bytes())[0].number, path) for path in (folder / LEGS).iterdir())
    return dict(sorted(found))


def line(lines, words):
    """The place of the last line that says ``words``."""
    return max(i for i, text in enumerate(lines) if words in text)


def garbage(content):
    middle = len(content) // 2
    return content[:middle] + np.random.default_rng(0).bytes(300) + content[middle + 300 :]


def garbage_in_the_first_lines(content):
    return b"\xff" * 2000 + content[2000:]


def a_record_of_no_kind(content):
    lines = content.splitlines(keepends=True)
    return b"".join([*lines[:20], b'{"op_code": 77}\n', *lines[20:]])


def a_record_without_its_parts(content):
    lines = content.splitlines(keepends=True)
    return b"".join([*lines[:20], b'{"op_code": 6, "worker_id": "w"}\n', *lines[20:]])


def a_leg_without_number(content):
    return content.replace(b'"leg":3', b'"lag":3')


def a_gain_that_is_none(content):
    lines = content.splitlines(keepends=True)
    place = line(lines, b'"state":1')
    lines[place] = json.dumps(json.loads(lines[place]) | {"values": ["much"]}).encode() + b"\n"
    return b"".join(lines)


def facts_that_are_none(content):
    return content.replace(b'"user_attr":{"facts":{', b'"user_attr":{"facts":3,"x":{')


def zeros(content):
    return b"\0" * len(content)


def nothing(content):
    return b""


DAMAGES = (
    garbage,
    garbage_in_the_first_lines,
    a_record_of_no_kind,
    a_record_without_its_parts,
    a_leg_without_number,
    a_gain_that_is_none,
    facts_that_are_none,
    zeros,
    nothing,
)


@pytest.mark.parametrize("damage", DAMAGES)
def test_a_damaged_journal_is_kept_and_the_search_goes_on_with_all_whole_legs(
    run, undisturbed, broken_off, caplog, damage
):
    """Damage in the middle, at the start, everywhere: the same front, no whole leg done twice, nothing thrown away."""
    content = damage((run / JOURNAL).read_bytes())
    assert content != (run / JOURNAL).read_bytes()
    (run / JOURNAL).write_bytes(content)
    times = [read_leg(path.read_bytes())[1].at_seconds for path in leg_files(run).values()]
    with caplog.at_level(logging.WARNING, "explore.search"):
        found = resumed(run)
    same(found, undisturbed)
    assert found.legs_here == 12 - DONE
    assert gains(run)[:DONE] == gains(broken_off)
    assert [m.seconds for m in found.history][:DONE] == times
    assert f"from the {DONE} whole legs" in caplog.text
    kept = [path.read_bytes() for path in sorted(run.glob(f"{JOURNAL}.*-1"))]
    assert content in kept
    assert list(leg_files(run)) == list(range(12))
    assert len(list((run / LEGS).iterdir())) == 12
    again = resumed(run)
    same(again, undisturbed)
    assert again.legs_here == 0


def test_a_journal_that_is_gone_is_written_again(run, undisturbed):
    """The legs alone are enough."""
    (run / JOURNAL).unlink()
    found = resumed(run)
    same(found, undisturbed)
    assert found.legs_here == 12 - DONE


def test_damage_twice_keeps_both_journals(run, undisturbed):
    """What was kept before is not overwritten."""
    first, second = garbage((run / JOURNAL).read_bytes()), b"x\ny\nz\n"
    for number, content in enumerate((first, second), 1):
        (run / JOURNAL).write_bytes(content)
        same(resumed(run), undisturbed)
        assert (run / f"{JOURNAL}.damaged-{number}").read_bytes() == content
    assert (run / f"{JOURNAL}.damaged-1").read_bytes() == first


def test_a_torn_end_is_kept_beside_the_journal(run, undisturbed, caplog):
    """What the mender cuts lies beside the journal and is named in the log; a second cut leaves the first."""
    for number, torn in enumerate((b'{"op_code": 4, "wor', b"\0" * 50), 1):
        with (run / JOURNAL).open("ab") as file:
            file.write(torn)
        with caplog.at_level(logging.WARNING, "explore.search"):
            same(resumed(run), undisturbed)
        kept = run / f"{JOURNAL}.cut-{number}"
        assert kept.read_bytes() == torn
        assert str(kept) in caplog.text
    assert (run / f"{JOURNAL}.cut-1").read_bytes() == b'{"op_code": 4, "wor'


def change(path, **facts):
    """Write a leg's file with other facts or designs; its stamp stays."""
    result, stamp = read_leg(path.read_bytes())
    path.write_bytes(pack(replace(result, **facts), stamp))


def torn(files):
    files[2].write_bytes(files[2].read_bytes()[:900])


def of_another_number(files):
    shutil.copyfile(files[5], files[2])


def of_another_space(files):
    known = read_leg(files[2].read_bytes())[0].known
    genes = Genes(known.genes.unit[:, 1:], known.genes.choices)
    change(files[2], known=Known(genes, known.values, known.breach))


def of_an_unknown_choice(files):
    known = read_leg(files[2].read_bytes())[0].known
    genes = Genes(known.genes.unit, known.genes.choices + 50)
    change(files[2], known=Known(genes, known.values, known.breach))


def of_another_fluid(files):
    change(files[2], focus="Helium")


def of_another_campaign(files):
    result, stamp = read_leg(files[2].read_bytes())
    files[2].write_bytes(pack(result, Stamp("other", stamp.gain, stamp.at_seconds)))


@pytest.mark.parametrize("journal", ["whole", "damaged"])
@pytest.mark.parametrize(
    "harm",
    [torn, of_another_number, of_another_space, of_an_unknown_choice, of_another_fluid, of_another_campaign],
)
def test_a_damaged_or_wrong_leg_is_done_again(run, undisturbed, harm, journal):
    """With a whole journal and with a damaged one: that leg once more, all others as they are, the same front."""
    harm(leg_files(run))
    if journal == "damaged":
        (run / JOURNAL).write_bytes(garbage((run / JOURNAL).read_bytes()))
    found = resumed(run)
    same(found, undisturbed)
    assert found.legs_here == 12 - DONE + 1


@pytest.mark.parametrize("damage", [garbage, garbage_in_the_first_lines, zeros])
def test_a_damaged_journal_lets_no_other_campaign_in(run, damage):
    """Whether the facts can still be read or not: another cost is refused in a sentence, and nothing is written."""
    (run / JOURNAL).write_bytes(damage((run / JOURNAL).read_bytes()))
    case = toy_case(**SETTINGS)
    dearer = case.model_copy(update={"costs": case.costs.model_copy(update={"interest_rate": 0.09})})
    before = {path: path.read_bytes() for path in run.rglob("*") if path.is_file()}
    with pytest.raises(InputError, match="start a new run"):
        optimise(dearer, evaluator=ToyEvaluator, run_folder=run)
    assert {path: path.read_bytes() for path in run.rglob("*") if path.is_file()} == before


@pytest.mark.parametrize("call", [1, 3, 7, 50, 52, 58])
def test_killed_while_the_journal_is_written_again_no_leg_is_lost(run, undisturbed, call):
    """SIGKILL at any write of the repair: the next start repairs again and does no whole leg twice."""
    (run / JOURNAL).write_bytes(garbage((run / JOURNAL).read_bytes()))
    child = subprocess.run(
        [sys.executable, "-c", REBUILD.replace("{settings!r}", repr(SETTINGS)), str(run), str(call)],
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        check=False,
    )
    assert child.returncode == -signal.SIGKILL
    found = resumed(run)
    same(found, undisturbed)
    assert found.legs_here == 12 - DONE
    assert not list(run.rglob("*.part"))
    assert list(leg_files(run)) == list(range(12))


@pytest.mark.parametrize(
    "attributes", [{FACTS: 3}, {LOST: 3}, {LOST: ["much"]}, {LOST: [True]}, {LOST: [-1]}]
)
def test_a_book_whose_facts_are_none_is_damaged(attributes):
    """Facts that are no mapping, lost legs that are no whole numbers: refused before anything is made of them."""
    with pytest.raises(DamagedError, match="facts are none"):
        _check_book(attributes, ())
