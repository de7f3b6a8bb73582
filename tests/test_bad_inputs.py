"""A list of bad inputs (data/bad_inputs.yaml): each is refused in one sentence and leaves nothing behind."""

from __future__ import annotations

import copy
import functools
import shlex
import sys
from pathlib import Path

import pandas as pd
import pytest
import yaml

import explore
from explore import cli
from explore.config import compose
from explore.config.schema import Case
from explore.design.designs import checked as checked_designs
from explore.design.space import Space
from explore.errors import InputError
from explore.run.design_file import read_designs
from tests.test_cli import DESIGN

LINES = yaml.safe_load((Path(__file__).parent / "data" / "bad_inputs.yaml").read_text(encoding="utf-8"))
LONGEST = 300


LONG = {"NINES": "9" * 401, "DIGITS": "9" * 5000, "LETTERS": "x" * 1000}
"""Words that stand for long ones."""


def _of(kind):
    return [pytest.param(_written_out(what), says, id=what) for place, what, says in LINES if place == kind]


def _written_out(what):
    for word, long in LONG.items():
        what = what.replace(word, long)
    return what


def _held(sentence, says):
    assert "\n" not in sentence.strip()
    assert "Traceback" not in sentence
    assert "hush" not in sentence
    assert len(sentence) <= LONGEST, sentence
    for part in says:
        assert part in sentence


@pytest.fixture(scope="module")
def whole():
    """The shipped configuration, composed and not yet checked."""
    return compose.composed()


@pytest.fixture(scope="module")
def case(whole):
    """The same, checked."""
    return compose.checked(whole)


@pytest.fixture
def quick(monkeypatch):
    """Read the cards once: they are the same for every line."""
    monkeypatch.setattr(compose, "register", _register)


_original = compose.register


@functools.cache
def _registered(folders):
    _original(list(folders))


def _register(folders):
    _registered(tuple(folders))


def test_the_list_is_long():
    """Enough to cover every group, and no line twice."""
    assert len(LINES) >= 250
    assert len({(kind, what) for kind, what, _ in LINES}) == len(LINES)


@pytest.mark.parametrize(("what", "says"), _of("setting"))
def test_bad_settings(whole, what, says):
    """A value in a configuration file."""
    config = copy.deepcopy(whole)
    ((key, value),) = yaml.safe_load(what).items()
    *groups, last = key.split(".")
    place = config
    for group in groups:
        place = place[group]
    place[last] = value
    with pytest.raises(InputError) as error:
        Space.from_case(compose.checked(config))
    _held(str(error.value), says)


@pytest.mark.parametrize(("what", "says"), _of("design"))
def test_bad_designs(case, tmp_path, what, says):
    """A value in the file of a design."""
    path = tmp_path / "design.yaml"
    path.write_text(yaml.safe_dump(DESIGN | yaml.safe_load(what)))
    with pytest.raises(InputError) as error:
        _read(path, case)
    _held(str(error.value), says)


def _read(path, case):
    names = [card.name for card in case.fluids.values()]
    checked_designs(read_designs(path), names, [card.name for card in case.collectors.values()])


@pytest.mark.parametrize(("what", "says"), _of("typed"))
def test_bad_words(quick, tmp_path, monkeypatch, capfd, what, says):
    """Words after the command: status 2, one line, and an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "argv", ["explore", *shlex.split(what)])
    status = cli.main()
    out, err = capfd.readouterr()
    assert status == 2
    assert out == ""
    assert err.startswith("explore: ")
    _held(err, says)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("designs", "scenario", "says"),
    [
        (DESIGN | {"tank": 3}, None, "tank"),
        ([3], None, "DataFrame"),
        ("design.yaml", None, "DataFrame"),
        (pd.DataFrame([DESIGN]), "orchard", "load_scenario"),
        (pd.DataFrame([DESIGN]), {}, "load_scenario"),
        (pd.DataFrame(), None, "is missing"),
    ],
)
def test_what_evaluate_does_not_take(case, designs, scenario, says):
    """A strange dict, a list of numbers, a name: a sentence, not a traceback from within."""
    with pytest.raises(InputError, match=says):
        explore.evaluate(designs, case if scenario is None else scenario)


def test_the_case_itself_is_sound(case):
    """What the lines change is accepted before they do."""
    assert isinstance(case, Case)
    assert Space.from_case(case).fluids
