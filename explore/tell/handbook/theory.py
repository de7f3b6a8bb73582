"""The theory as the code has it: what each function of the physics says of itself, read off the source.

Nothing is imported, so that no property library is loaded; a function that changes changes its entry.
"""

from __future__ import annotations

import ast
import re
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from inspect import cleandoc
from pathlib import Path

PACKAGE = Path(__file__).resolve().parents[2]  # explore/, which this file stands in
ROOMS = {
    "plant": "The parts of the plant",
    "cycle": "The cycle, and the discharge of a store",
    "fluids": "Properties of fluids",
    "year": "The year",
    "judgement": "Bill, hazards, vessels and limits",
}
"""Folders of the physics, in the order in which heat goes through the plant."""
LEFT_OUT = ("kernels", "__init__")
"""Loops for the compiler do what the arrays beside them do; they hold no equation of their own."""
SHORT = 6
"""Lines of code up to which an entry shows them at once: they are then the equation itself."""


@dataclass(frozen=True)
class Entry:
    """What one function, class or named number says of itself.

    ``call`` is how it is written, ``words`` its docstring without source and examples, in paragraphs, ``source`` the
    work it quotes (empty: none named), ``example`` its doctest, ``code`` its lines without the docstring.
    """

    name: str
    call: str
    words: tuple[str, ...]
    source: str
    example: str
    code: str
    short: bool


@dataclass(frozen=True)
class Module:
    """One file of the physics: its ``name`` (plant/losses), what it is about, its entries and its named numbers."""

    name: str
    words: tuple[str, ...]
    entries: tuple[Entry, ...]
    numbers: tuple[Entry, ...]


def modules(room: str) -> list[Module]:
    """Read all files of one of :data:`ROOMS` that hold functions, in the order of their names."""
    files = [file for file in sorted((PACKAGE / room).rglob("*.py")) if file.stem not in LEFT_OUT]
    found = [_module(file) for file in files]
    return [one for one in found if one.entries]


@cache
def _module(file: Path) -> Module:
    """Read one file; kept, for no source changes while the program runs."""
    text = file.read_text(encoding="utf-8")
    tree = ast.parse(text)
    named = [node for node in tree.body if isinstance(node, ast.FunctionDef | ast.ClassDef)]
    entries = [_entry(node, text) for node in named if not node.name.startswith("_")]
    name = file.relative_to(PACKAGE).with_suffix("").as_posix()
    words = _told(ast.get_docstring(tree) or "")[0]
    return Module(name, words, tuple(one for one in entries if one.words), tuple(_numbers(tree, text)))


def _entry(node: ast.FunctionDef | ast.ClassDef, text: str) -> Entry:
    words, source, example = _told(ast.get_docstring(node) or "")
    if isinstance(node, ast.ClassDef):
        words += tuple(f"``{one.name}``: {' '.join(one.words)}" for one in _numbers(node, text))
        return Entry(node.name, node.name, words, source, example, "", False)
    code = _code(node, text)
    return Entry(node.name, f"{node.name}({_arguments(node)})", words, source, example, code, _is_short(node))


def _arguments(node: ast.FunctionDef) -> str:
    given = node.args
    return ", ".join(one.arg for one in (*given.posonlyargs, *given.args, *given.kwonlyargs))


def _is_short(node: ast.FunctionDef) -> bool:
    body = node.body[1:]
    return bool(body) and (body[-1].end_lineno or 0) - body[0].lineno < SHORT


def _code(node: ast.FunctionDef, text: str) -> str:
    """Return a function's lines without its docstring."""
    lines = text.splitlines()
    first = node.body[0]
    said = isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant)
    start = (first.end_lineno or first.lineno) if said else first.lineno - 1
    return textwrap.dedent("\n".join(lines[start : node.end_lineno])).strip("\n")


def _numbers(node: ast.Module | ast.ClassDef, text: str) -> Iterator[Entry]:
    """Read the named values of a module or a class behind which a text stands."""
    lines = text.encode().splitlines()
    for value, said in zip(node.body, node.body[1:], strict=False):
        target = value.targets[0] if isinstance(value, ast.Assign) else getattr(value, "target", None)
        if not isinstance(target, ast.Name) or target.id.startswith("_"):
            continue
        if not (isinstance(said, ast.Expr) and isinstance(said.value, ast.Constant)):
            continue
        if (
            isinstance(said.value.value, str)
            and isinstance(value, ast.Assign | ast.AnnAssign)
            and value.value
        ):
            words, source, example = _told(cleandoc(said.value.value))
            shown = " ".join(_written(value.value, lines).split())
            yield Entry(target.id, f"{target.id} = {shown}", words, source, example, "", True)


def _written(node: ast.expr, lines: Sequence[bytes]) -> str:
    """Return how a value is written; Python's own way parts the whole source for each."""
    rows = list(lines[node.lineno - 1 : node.end_lineno])
    rows[-1] = rows[-1][: node.end_col_offset]
    rows[0] = rows[0][node.col_offset :]
    return b"\n".join(rows).decode()


def _told(docstring: str) -> tuple[tuple[str, ...], str, str]:
    """Part a docstring into its paragraphs, the source it names, and its example."""
    words, sources, examples = [], [], []
    for paragraph in re.split(r"\n\s*\n", docstring.strip()):
        if paragraph.lstrip().startswith(">>>"):
            examples.append(paragraph)
            continue
        listed = re.match(r"(Args|Raises|Returns|Note):\n", paragraph)
        text = paragraph if listed or re.search(r"^\s*- ", paragraph, re.MULTILINE) else _line(paragraph)
        before, source = re.split(r"(?:^|(?<=\s))Sources?: ", f"{text} Source: ", maxsplit=1)
        source = source.removesuffix("Source: ").strip()
        words += [before.strip()] if before.strip() else []
        sources += [_line(source)] if source else []
    return tuple(words), " ".join(sources), "\n".join(examples)


def _line(text: str) -> str:
    return " ".join(text.split())
