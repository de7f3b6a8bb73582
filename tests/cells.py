"""Pieces of Python run as the cells of a notebook: in one namespace, and what the last line of each gives is shown.

What is shown is asked for as Jupyter does (its documentation, "Integrating your objects with IPython"): a bundle of
representations by type, else the single ones by the methods of their names.
"""

from __future__ import annotations

import ast
from collections.abc import Iterable
from typing import Any

ALONE = {"text/html": "_repr_html_", "image/svg+xml": "_repr_svg_", "image/png": "_repr_png_"}


def run(pieces: Iterable[str], names: dict[str, Any]) -> list[dict[str, Any]]:
    """Run the pieces with ``names``, which they add to; return what each shows by type, nothing where it shows nothing."""
    return [_shown(_cell(piece, names)) for piece in pieces]


def _cell(piece: str, names: dict[str, Any]) -> Any:
    """Run one cell and return what its last line gives; None of a statement, or of a line ended by a semicolon."""
    tree = ast.parse(piece)
    last = tree.body[-1]
    silent = piece.rstrip().endswith(";") or not isinstance(last, ast.Expr)
    body = tree.body if silent else tree.body[:-1]
    exec(compile(ast.Module(body, []), "notebook", "exec"), names)
    return None if silent else eval(compile(ast.Expression(last.value), "notebook", "eval"), names)


def _shown(value: Any) -> dict[str, Any]:
    """Return the representations of a value by type; those of a bundle come before the single ones."""
    if value is None:
        return {}
    single = {
        kind: found
        for kind, name in ALONE.items()
        if (found := getattr(value, name, lambda: None)()) is not None
    }
    bundle = getattr(value, "_repr_mimebundle_", None)
    found = bundle(include=None, exclude=None) if bundle is not None else {}
    return {"text/plain": repr(value)} | single | dict(found[0] if isinstance(found, tuple) else found or {})
