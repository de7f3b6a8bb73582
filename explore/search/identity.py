"""What a campaign is a campaign of: the facts that must not change between its legs."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from explore.config.schema import Case

FREE_SETTINGS = {"name", "designs", "seconds", "workers", "storage", "artifacts"}
MODEL_PARTS = ("fluids", "plant", "year", "cycle", "judgement", "model", "units.py")
SPACE_PARTS = ("design", "search")


def facts(case: Case, factory: Callable[..., Any]) -> dict[str, str]:
    """Digests of all that decides what a leg finds, by the name a person knows it by."""
    whole = case.model_dump(mode="json")
    settings = {key: value for key, value in whole["search"].items() if key not in FREE_SETTINGS}
    return {
        "scenario": _digest(whole["scenario"]),
        "engine": _digest(whole["engine"]),
        "exchangers": _digest(whole["exchangers"]),
        "costs": _digest(whole["costs"]),
        "fluid and collector cards": _digest([whole["fluids"], whole["collectors"]]),
        "space": _digest({name: asked for name, asked in whole["space"].items() if asked is not None}),
        "search settings": _digest(settings),
        "model version": _sources(MODEL_PARTS) + f" {factory.__module__}.{factory.__qualname__}",
        "search version": _sources(SPACE_PARTS),
    }


def changed(before: dict[str, str], now: dict[str, str]) -> list[str]:
    """Names of the facts that differ."""
    return [name for name in now if before.get(name) != now[name]]


def together(facts: dict[str, str]) -> str:
    """One short digest of all facts."""
    return _digest(facts)[:8]


def _digest(data: Any) -> str:
    return hashlib.sha256(json.dumps(data, sort_keys=True).encode()).hexdigest()[:16]


def _sources(parts: tuple[str, ...]) -> str:
    """Digest of the source files of this package that ``parts`` name."""
    package = Path(__file__).resolve().parents[1]
    digest = hashlib.sha256()
    for part in parts:
        place = package / part
        for file in sorted(place.rglob("*.py")) if place.is_dir() else [place]:
            digest.update(file.read_bytes() if file.exists() else b"")
    return digest.hexdigest()[:16]
