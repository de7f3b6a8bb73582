"""Packs scripts and data into the page: gzip, base64, and the hashes its Content-Security-Policy names."""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
SCRIPTS = (
    "unpack.js", "numbers.js", "designs.js", "state.js", "theme.js", "picks.js", "scatter.js", "parallel.js",
    "space3d.js", "table.js", "fluids.js", "schematic.js", "diagrams.js", "flow.js", "sheet.js", "progress.js", "main.js",
)  # fmt: skip


def packed(text: str) -> str:
    """Compress text and write it as base64; the page's ``inflate`` undoes it. Same text, same result."""
    return base64.b64encode(gzip.compress(text.encode("utf-8"), compresslevel=9, mtime=0)).decode("ascii")


def packed_json(content: Any) -> str:
    """Pack a JSON document."""
    return packed(json.dumps(content, ensure_ascii=False, separators=(",", ":"), allow_nan=False))


def plotly_script() -> str:
    """Return the charting library as shipped in the plotly package: the only one with every chart used here."""
    from plotly.offline import get_plotlyjs

    return str(get_plotlyjs())


def script(names: Iterable[str] = SCRIPTS) -> str:
    """Return the page's own scripts joined into one, strict, leaking no name."""
    parts = [(HERE / "static" / name).read_text(encoding="utf-8") for name in names]
    return '(() => {\n"use strict";\n' + "\n".join(parts) + "\n})();\n"


def style() -> str:
    """Return the page's style sheet."""
    return (HERE / "static" / "page.css").read_text(encoding="utf-8")


def policy(*scripts: str) -> str:
    """Return the Content-Security-Policy: nothing is fetched, and only these very scripts run.

    The charting library writes styles into its elements and makes its WebGL drawing functions from text, so
    both must be let; what runs is still only the two scripts named, and nothing can leave the page.
    """
    hashes = " ".join(f"'sha256-{_digest(text)}'" for text in scripts)
    return (
        f"default-src 'none'; script-src {hashes} 'unsafe-eval'; style-src 'unsafe-inline'; img-src data: blob:; "
        "connect-src 'none'; form-action 'none'; base-uri 'none'"
    )


def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
