"""What a campaign is a campaign of: the facts that must not change between its legs."""

from __future__ import annotations

import ast
import hashlib
import json
import os
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from explore.cache import Arrays, remembered
from explore.config.goals import over_worlds
from explore.config.schema import Case

PACKAGE = Path(__file__).resolve().parents[1]
"""explore/, which this file stands in"""
FREE_SETTINGS = {"name", "designs", "seconds", "workers", "storage", "artifacts"}
MODEL_ROOTS = ("explore.model.evaluator", "explore.judgement.front")
SEARCH_ROOTS = ("explore.design.space", "explore.search.leg", "explore.search.hunt", "explore.search.judge")
BLOCKS = ("body", "orelse", "finalbody", "handlers", "cases")
"""Where a statement holds others: imports are statements, so no expression need be looked through."""


def facts(case: Case, factory: Callable[..., Any]) -> dict[str, str]:
    """Digests of all that decides what a leg finds, by the name a person knows it by."""
    whole = case.model_dump(mode="json")
    weather = whole["scenario"]["site"].pop("weather")
    settings = {key: value for key, value in whole["search"].items() if key not in FREE_SETTINGS}
    found = {
        "scenario": _digest(whole["scenario"]),
        "weather file": file_digest(weather),
        "engine": _digest(whole["engine"]),
        "exchangers": _digest(whole["exchangers"]),
        "costs": _digest(whole["costs"]),
        "fluid and collector cards": _digest([whole["fluids"], whole["collectors"]]),
        "space": _digest({name: asked for name, asked in whole["space"].items() if asked is not None}),
        "search settings": _digest(settings),
        "model version": sources(MODEL_ROOTS) + f" {factory.__module__}.{factory.__qualname__}",
        "search version": sources(SEARCH_ROOTS),
    }
    return found | (_worlds(case, factory) if over_worlds(case) else {})


def _worlds(case: Case, factory: Callable[..., Any]) -> dict[str, str]:
    """Digest of what decides the worlds that a search over worlds reads its designs in."""
    doubt = case.doubt.model_copy(update={"weather_years": ()}).model_dump(mode="json")
    years = [file_digest(file) for file in case.doubt.weather_years]
    own = (factory.__module__,) if factory.__module__.startswith("explore.") else ()
    return {"doubt": _digest([doubt, years, sources(own)])}


def changed(before: dict[str, str], now: dict[str, str]) -> list[str]:
    """Names of the facts that differ."""
    return [name for name in now if before.get(name) != now[name]]


def together(facts: dict[str, str]) -> str:
    """One short digest of all facts."""
    return _digest(facts)[:8]


def _digest(data: Any) -> str:
    return hashlib.sha256(json.dumps(data, sort_keys=True).encode()).hexdigest()[:16]


def file_digest(spec: str) -> str:
    """Digest of what a weather file holds, wherever it stands: one of the same name may hold another climate."""
    path = Path(os.path.expanduser(spec))
    return hashlib.sha256(path.read_bytes() if os.path.isfile(path) else spec.encode()).hexdigest()[:16]


@cache
def sources(roots: tuple[str, ...]) -> str:
    """Digest of the source of modules and of every module of this package that they import, however far.

    Asked for once a process: what it runs was read by then. Which import which is kept on disk while no source changes.
    """

    def digested() -> Arrays:
        digest = hashlib.sha256()
        for name, file in sorted(closure(roots).items()):
            digest.update(name.encode() + b"\0" + file.read_bytes())
        return {"digest": np.array(digest.hexdigest()[:16])}

    return str(remembered("sources", ["digest"], [repr(roots).encode(), _package()], digested)["digest"])


@cache
def _package() -> bytes:
    """Digest of every source of this package."""
    digest = hashlib.sha256()
    for file in sorted(PACKAGE.rglob("*.py")):
        content = file.read_bytes()
        digest.update(b"%s %d:" % (os.fsencode(file.relative_to(PACKAGE)), len(content)) + content)
    return digest.digest()


def closure(roots: Iterable[str]) -> dict[str, Path]:
    """Files of this package that ``roots`` (``explore.model``) import at any depth, themselves included.

    Imports inside functions count, those for type checking too. Raises :class:`ValueError` for a root that is
    no module, so that a moved file cannot drop out unseen.
    """
    found: dict[str, Path] = {}
    waiting = list(roots)
    for root in waiting:
        if _file(root) is None:
            raise ValueError(f"{root} is no module of this package")
    while waiting:
        name = waiting.pop()
        file = _file(name)
        if file is None or name in found:
            continue
        found[name] = file
        waiting += [name.rpartition(".")[0], *_imported(file.read_text(encoding="utf-8"))]
    return found


@cache
def _imported(source: str) -> tuple[str, ...]:
    """Names that a source may import, wherever it does so; kept, for both digests share most of their sources."""
    names: list[str] = []
    waiting: list[ast.AST] = [ast.parse(source)]
    while waiting:
        node = waiting.pop()
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names += [node.module, *(f"{node.module}.{alias.name}" for alias in node.names)]
        waiting += [inner for place in BLOCKS for inner in getattr(node, place, ())]
    return tuple(names)


def _file(name: str) -> Path | None:
    parts = name.split(".")
    if parts[0] != __name__.split(".")[0] or len(parts) < 2:
        return None
    place = PACKAGE.joinpath(*parts[1:])
    files = (place.with_suffix(".py"), place / "__init__.py")
    return next((file for file in files if file.is_file()), None)
