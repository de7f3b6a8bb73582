"""Results of the checks, remembered on disk: they depend on the code and its libraries, not on a scenario."""

from __future__ import annotations

import hashlib
import json
from importlib.metadata import version
from pathlib import Path
from typing import Any

from explore.cache import opened
from explore.verify.results import run
from explore.whole_file import write_whole

LIBRARIES = ("CoolProp", "numpy", "scipy", "pvlib", "moocore")


def remembered(folder: Path | None = None) -> list[dict[str, Any]]:
    """Return the rows of :func:`explore.verify.run`, computed once for this code and these libraries.

    A memory that cannot be read or written costs the few seconds of computing the checks.
    """
    path = opened(folder) / f"checks-{fingerprint()}.json"
    try:
        rows = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        rows = json.loads(run().to_json(orient="records"))
        _keep(path, rows)
    return list(rows)


def fingerprint() -> str:
    """Return a digest of the package's source and data and of the libraries' versions."""
    digest = hashlib.sha256()
    package = Path(__file__).resolve().parents[1]
    for file in sorted(p for p in package.rglob("*") if p.suffix in (".py", ".csv", ".yaml")):
        digest.update(file.read_bytes())
    for name in LIBRARIES:
        digest.update(f"{name} {version(name)}".encode())
    return digest.hexdigest()[:16]


def _keep(path: Path, rows: list[dict[str, Any]]) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, json.dumps(rows).encode())
    except OSError:
        return
