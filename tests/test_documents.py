"""What README and handbook tell people to type: it composes, as the command line itself reads it, or really runs."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from explore.config.tasks import TASKS
from explore.tasks import registry
from explore.tasks.usage import usage
from tests import documents
from tests.documents import DOCUMENTS, OTHERS, bare_brackets, changed, commands, read, typed, words

REAL = ("new", "keys")
"""Tasks that are quick enough to be carried out; of others what they are given is looked at."""
LAUNCHERS = ("hydra/launcher=", "hydra.launcher.", "hydra.sweep.")
"""Settings of packages that are not installed here."""


@pytest.fixture(scope="module")
def composed():
    """Commands that have been tried and read no file of the reader's: whichever document repeats one, it does the same."""
    return set()


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_command_composes(name, real_run, tmp_path, monkeypatch, capsys, composed):
    """Each command of a document reaches its task with a checked case; files to start from are really made."""
    cases = []
    carried_out = registry.run
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(
        registry, "run", lambda case, command: cases.append(case) or
        (carried_out(case, command) if case.task.name in REAL else None),
    )  # fmt: skip
    (tmp_path / "alder_ford.csv").write_text("", encoding="utf-8")
    (tmp_path / "FILE.yaml").write_text("", encoding="utf-8")
    (tmp_path / "my_engine").mkdir()
    (tmp_path / "my_engine" / "fitted.yaml").write_text("engine: {ring_gap_um: 15}", encoding="utf-8")
    for block in read(name):
        if block.language == "yaml":
            changed(block)
        for command in commands(block):
            given = [word for word in words(command, real_run) if not word.startswith(LAUNCHERS)]
            if given[0] == "mkdir":
                Path(given[-1]).mkdir(parents=True)
            if given[0] != "explore":
                assert given[0] in OTHERS, command
                continue
            if tuple(given) in composed:
                continue
            if not re.search(r"\.(csv|epw|yaml)\b|=new\b", command):
                composed.add(tuple(given))
            count = len(cases)
            status = typed(given, monkeypatch)
            said = capsys.readouterr()
            assert status == 0, f"{command}: {said.err}"
            assert len(cases) > count or "--help" in given or "--cfg" in given, command


@pytest.mark.parametrize("name", DOCUMENTS)
def test_brackets_are_quoted(name):
    """Every shell passes each command on as it is written."""
    for block in read(name):
        for command in commands(block):
            assert not bare_brackets(command), command


def test_bare_brackets_are_seen():
    """Within quotes they are no matter; a placeholder is none."""
    assert bare_brackets("explore runs=[a,b]  # [c]") == "[]"
    assert bare_brackets("explore 'runs=[a,b]' run=results/<a>/<b>") == ""


def test_brackets_are_quoted_in_the_help_text():
    """What --help shows can be typed as it stands."""
    shown = usage(documents.CLONE / "configs")
    for line in shown.splitlines():
        for word in re.findall(r"\S*=\S*\[\S*", line):
            assert word.startswith("'"), line
    assert "'runs=[A,B]'" in shown


def test_every_task_is_told_of():
    """README or handbook show how each is called."""
    every = " ".join(file.read_text(encoding="utf-8") for file in DOCUMENTS.values())
    for name in TASKS:
        assert f"task={name}" in every or name == "search"


SMALL = (
    "search.designs=1600",
    "search.leg_designs=400",
    "search.seconds=null",
    "search.workers=1",
    "report.sheets=10",
)
"""What is added to a search of the tutorial, whose own takes a minute or more.

The second search, from which resume and doubt go on, has the quickest engine and store besides: doubt judges a hundred
worlds of it.
"""


def less(given: list[str]) -> list[str]:
    """Return the words of a command of the tutorial with a budget for a test."""
    if any(word.startswith("resume=") for word in given):
        return [*given, "search.designs=2000", "search.seconds=null", "search.workers=1"]
    if "task=doubt" in given:
        return [*given, "draws=16", "designs=6", "search.workers=1"]
    quickest = ["engine=constant", "space.store_mode=[stratified]"] if "search=standard" in given else []
    return given if any(word.startswith("task=") for word in given) else [*given, *SMALL, *quickest]


def test_the_tutorial_really_runs(tmp_path, monkeypatch, capsys):
    """Typed in an empty folder, in the order of the page: every command ends well, and the place's pages stand there."""
    monkeypatch.chdir(tmp_path)
    count = 0
    for block in read("tutorial"):
        if block.language == "yaml":
            changed(block)
        for command in commands(block):
            runs = sorted(Path("results/alder_ford").glob("*Z*"))
            for place, run in zip(("<A>", "<B>"), runs, strict=False):
                command = command.replace(place, run.name)
            given = words(command.replace("<time>", runs[-1].name if runs else ""))
            count += 1
            if given[0] == "python":
                subprocess.run([sys.executable, *given[1:]], check=True)
                continue
            assert typed(less(given), monkeypatch) == 0, f"{command}: {capsys.readouterr().err}"
    pages = [run / "report.html" for run in Path("results/alder_ford").glob("*Z*")]
    assert len(pages) == 3
    assert all(page.is_file() for page in pages)
    assert count <= 15
