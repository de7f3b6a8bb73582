"""Reasons beside tuned numbers: grid sizes, tolerances, pauses and shares say why they are what they are."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import explore

PACKAGE = Path(explore.__file__).parent
CHECKS = PACKAGE / "verify"
"""Numbers of published checks are data: what they are and where they are from stands in each check and in its page."""
FILES = [file for file in sorted(PACKAGE.rglob("*.py")) if CHECKS not in file.parents]


def named_numbers(text: str) -> list[tuple[str, bool]]:
    """List the named numbers of a module, and whether a text after or a comment before or behind says why."""
    lines, body = text.splitlines(), ast.parse(text).body
    found = []
    for place, node in enumerate(body):
        target = node.targets[0] if isinstance(node, ast.Assign) else getattr(node, "target", None)
        names = [n.id for n in ast.walk(target) if isinstance(n, ast.Name)] if target is not None else []
        if not names or not names[0].strip("_").isupper():
            continue
        numbers = (
            isinstance(n, ast.Constant) and type(n.value) in (int, float) for n in ast.walk(node.value)
        )
        if not any(numbers):
            continue
        after = body[place + 1] if place + 1 < len(body) else None
        said = isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant)
        before = lines[node.lineno - 2].lstrip().startswith("#")
        found.append((names[0], said or before or "  # " in lines[node.end_lineno - 1]))
    return found


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.relative_to(PACKAGE).with_suffix("").as_posix())
def test_every_tuned_number_says_why(file):
    """Next to each number that has a name stands a reason."""
    silent = [name for name, said in named_numbers(file.read_text(encoding="utf-8")) if not said]
    assert not silent, f"{file.name}: {', '.join(silent)} does not say why"


def test_every_room_is_looked_at():
    """No room but that of the published checks is left out."""
    rooms = {file.relative_to(PACKAGE).parts[0] for file in FILES}
    assert {
        "plant",
        "cycle",
        "judgement",
        "design",
        "fluids",
        "search",
        "year",
        "tell",
        "run",
        "bench",
    } <= rooms


def test_a_silent_number_is_seen():
    """A number without a reason is found, one with a reason before, behind or after it is not."""
    text = 'A = 1\n# why\nB = 2.0\nC = 3  # why\nD = (4, 5)\n"""Why."""\nE = \'word\'\n'
    assert named_numbers(text) == [("A", False), ("B", True), ("C", True), ("D", True)]
