"""Files that grow when read, nest without end or are merely large: refused in one sentence wherever YAML is read."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest

from explore import cli
from explore.config.plain_yaml import DEEPEST, LONGEST, MOST_BYTES, MOST_EVENTS, parse
from explore.errors import InputError

EXAMPLE = Path(__file__).parents[1] / "results" / "example"
NINE = range(9)
LAUGHS = "a0: &a0 [ha]\n" + "".join(f"a{k + 1}: &a{k + 1} [{','.join([f'*a{k}'] * 9)}]\n" for k in NINE)
BOMBS = {
    "laughs": (LAUGHS, "anchor or alias"),
    "lists": ("note: " + "[" * 10_000 + "]" * 10_000 + "\n", "nest"),
    "mappings": ("note: " + "{a: " * 10_000 + "1" + "}" * 10_000 + "\n", "nest"),
    "dashes": ("note:\n  " + "- " * 10_000 + "1\n", "nested deeper than 24 levels"),
    "keys": ("? " * 10_000 + "a\n", "nested deeper than 24 levels"),
    "many": ("".join(f"k{k}: {k}\n" for k in range(MOST_EVENTS)), "more than 10000 values"),
    "long": ("note: " + "x " * LONGEST + "\n", "more than 10000 characters"),
    "large": ("#" + "x" * MOST_BYTES + "\nnote: 1\n", "larger than 500 kB"),
    "digits": ("note: " + "1" * 9000 + "\n", "cannot be read"),
}
PLACES = {
    "scenario": ("own.yaml", ["scenario=own.yaml"]),
    "design": ("own.yaml", ["task=inspect", "design=own.yaml"]),
    "folder of scenarios": ("my/scenario/own.yaml", ["-cd", "my", "scenario=own"]),
    "folder of cards": ("my/fluid/own.yaml", ["-cd", "my"]),
    "folder of any group": ("my/some/deep/own.yaml", ["-cd", "my", "+some/deep=own"]),
    "main configuration": ("my/config.yaml", ["-cp", "my", "-cn", "config"]),
    "run": ("run/config.yaml", ["task=report", "run=run"]),
}


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("bomb", BOMBS)
def test_a_bomb_is_refused_wherever_it_lies(tmp_path, monkeypatch, capfd, place, bomb):
    """Status 2, one sentence that names the file, and nothing left."""
    monkeypatch.chdir(tmp_path)
    name, words = PLACES[place]
    text, says = BOMBS[bomb]
    if place == "run":
        shutil.copytree(EXAMPLE, "run")
    path = tmp_path / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    before = sorted(tmp_path.rglob("*"))
    monkeypatch.setattr(sys, "argv", ["explore", *words])
    status = cli.main()
    out, err = capfd.readouterr()
    assert (status, out) == (2, ""), err
    assert err.startswith("explore: ")
    assert err.count("\n") == 1
    assert len(err) < 300 + len(str(tmp_path))
    assert name in err
    assert says in err
    assert sorted(tmp_path.rglob("*")) == before


def test_what_just_fits_is_read():
    """The bounds refuse no file within them."""
    deep = "[" * (DEEPEST - 1) + "]" * (DEEPEST - 1)
    text = f"deep: {deep}\nlong: {'x' * LONGEST}\n" + "".join(
        f"k{k}: {k}\n" for k in range(MOST_EVENTS // 2 - 40)
    )
    assert len(parse(text, "a file")) == MOST_EVENTS // 2 - 38
    with pytest.raises(InputError, match="nested deeper"):
        parse(f"deep: [{deep}]", "a file")


@pytest.mark.parametrize(
    ("value", "says"),
    [
        ('"${oc.env:PGPASSWORD}"', "asks for interpolation"),
        ('"a ${oc.decode:${other}} b"', "asks for interpolation"),
        ('"${${other}:PGPASSWORD}"', "asks for interpolation"),
        ('"${ oc.env : PGPASSWORD }"', "asks for interpolation"),
        (r'"a\e]0;title\a"', "control character"),
        (r'"a\0b"', "control character"),
        (r'"\x9b31m"', "control character"),
        ("8:20", "base of sixty"),
        ("-1:30:15.5", "base of sixty"),
    ],
)
def test_values_that_are_not_what_they_seem(value, says):
    """Nothing in a file calls a function, commands the reader's terminal or is another number than it looks."""
    with pytest.raises(InputError, match=f"FILE line 2.*{says}"):
        parse(f"a: 1\nnote: {value}\n", "FILE", interpolation=True)


@pytest.mark.parametrize(
    ("value", "read"),
    [("${a}", "${a}"), ('"8:20"', "8:20"), (r'"two\nlines\tand °C €"', "two\nlines\tand °C €"), ("0.5", 0.5)],
)
def test_values_that_are(value, read):
    """References to other keys, quoted times and lines of text stay what they are."""
    assert parse(f"note: {value}\n", "FILE", interpolation=True) == {"note": read}
