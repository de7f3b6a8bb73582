"""The data files of published numbers: CSV below a header of ``#`` lines that cites what they quote."""

from __future__ import annotations

import csv
from importlib.resources import files


def rows(name: str) -> list[dict[str, str]]:
    """Read the rows of ``data/<name>.csv``; lines that start with ``#`` are its citation header."""
    text = (files("explore.verify") / "data" / f"{name}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
