"""What the documents tell people to type: blocks of code, and the commands in them with their placeholders filled in."""

from __future__ import annotations

import re
import shlex
import sys
from pathlib import Path
from typing import Any

import yaml

from explore import cli
from explore.tell.handbook.markdown import PAGES, Block, blocks

CLONE = Path(__file__).resolve().parents[1]
DOCUMENTS = {"README": CLONE / "README.md", **{file.stem: file for file in sorted(PAGES.glob("*.md"))}}
RUN = re.compile(r"results/[\w<>-]+/<\w+>")
OTHERS = ("python", "python3", "pip", "mkdir", "optuna-dashboard")
"""Programs beside ours that the documents call; they are not tried, but for python and mkdir in the tutorial."""


def read(name: str) -> list[Block]:
    """Return the pieces of code of a document."""
    return blocks(DOCUMENTS[name].read_text(encoding="utf-8"))


def commands(block: Block) -> list[str]:
    """Return the commands of a block as they are typed, one each; nothing of a block that holds none."""
    if block.language not in ("", "bash"):
        return []
    joined = block.text.replace("\\\n", " ")
    return [line.strip() for line in joined.splitlines() if line.strip()]


def words(command: str, run: Path | None = None) -> list[str]:
    """Part a command as a shell does, comment left out and ``run``, if given, in the place of every run's folder."""
    return shlex.split(command if run is None else RUN.sub(str(run), command), comments=True)


def bare_brackets(command: str) -> str:
    """Return what a shell would read itself: brackets and stars outside quotes."""
    outside = re.sub(r"'[^']*'|\"[^\"]*\"", "", command.partition("  #")[0])
    return "".join(re.findall(r"[][(){}*?]", outside))


def typed(given: list[str], monkeypatch: Any) -> int:
    """Give words to the command line, in this process; return its status."""
    monkeypatch.setattr(sys, "argv", given)
    return cli.main()


def changed(block: Block) -> None:
    """Do what a block of YAML asks for in its first line: change some lines of a file."""
    file = Path(block.text.splitlines()[0].removeprefix("# in "))
    merged = _merged(yaml.safe_load(file.read_text(encoding="utf-8")), yaml.safe_load(block.text))
    file.write_text(yaml.safe_dump(merged, sort_keys=False), encoding="utf-8")


def _merged(old: dict[str, Any], new: dict[str, Any]) -> dict[str, Any]:
    inner = {key: _merged(old[key], value) for key, value in new.items() if isinstance(value, dict)}
    return old | new | inner
