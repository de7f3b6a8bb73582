"""Packs scripts and data into the page: gzip, base64, and the hashes its Content-Security-Policy names."""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import re
from functools import cache
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
STYLES = ("page.css", "discussion.css")
IMPORT = re.compile(r'^import \{([^}]*)\} from "\./([\w-]+\.js)";\n', re.MULTILINE)
EXPORT = re.compile(r"^export (?=(?:async )?(?:function|const|class) (\w+))", re.MULTILINE)


LEVEL = 6
"""Of compression: the highest, 9, takes half as long again for one per cent less."""


def packed(text: str) -> str:
    """Compress text and write it as base64; the page's ``inflate`` undoes it. Same text, same result."""
    return base64.b64encode(gzip.compress(text.encode("utf-8"), compresslevel=LEVEL, mtime=0)).decode("ascii")


def packed_json(content: Any) -> str:
    """Pack a JSON document."""
    return packed(json.dumps(content, ensure_ascii=False, separators=(",", ":"), allow_nan=False))


def plotly_script() -> str:
    """Return the charting library as shipped in the plotly package: the only one with every chart used here."""
    from plotly.offline import get_plotlyjs

    return str(get_plotlyjs())


@cache
def packed_plotly() -> str:
    """Pack the charting library; it is the same for every page of a process, and large."""
    return packed(plotly_script())


def script(entry: str = "main.js") -> str:
    """Return the page's own script: the module ``entry`` and all it imports, each in a scope of its own, strict.

    The modules are plain ECMAScript ones that Node and browsers also load from their files; a page opened from a file
    may import none, so they are put into one. Each becomes a function called once, which returns what it exports.
    Raises :class:`ValueError` for modules that import each other in a circle or a name that is not exported.
    """
    return f"{_closed(entry)};\n"


def exported(entry: str, name: str) -> str:
    """Return an expression that is what the module ``entry`` exports as ``name``."""
    return _closed(entry, f"return {_scope(entry)}.{name};\n")


def _closed(entry: str, last: str = "") -> str:
    modules: dict[str, tuple[str, set[str]]] = {}
    _add_module(entry, modules, ())
    parts = [
        f"const {_scope(name)} = (() => {{\n{text}return {{ {', '.join(sorted(names))} }};\n}})();"
        for name, (text, names) in modules.items()
    ]
    return '(() => {\n"use strict";\n' + "\n".join(parts) + f"\n{last}}})()"


def _add_module(name: str, modules: dict[str, tuple[str, set[str]]], above: tuple[str, ...]) -> None:
    """Put a module behind those it imports into ``modules``: its text without import and export, and its names."""
    if name in above:
        raise ValueError(
            f"{' imports '.join([*above, name])}: modules of the page import each other in a circle"
        )
    if name in modules:
        return
    text = (HERE / "static" / name).read_text(encoding="utf-8")
    for wanted, source in IMPORT.findall(text):
        _add_module(source, modules, (*above, name))
        missing = {part.strip() for part in wanted.split(",") if part.strip()} - modules[source][1]
        if missing:
            raise ValueError(f"{name} imports {', '.join(sorted(missing))}, which {source} does not export")
    names = set(EXPORT.findall(text))
    text = IMPORT.sub(lambda found: f"const {{{found[1]}}} = {_scope(found[2])};\n", text)
    modules[name] = EXPORT.sub("", text), names


def _scope(name: str) -> str:
    return f"module_{name.removesuffix('.js').replace('-', '_')}"


def style() -> str:
    """Return the page's style sheets, one after the other."""
    return "\n".join((HERE / "static" / name).read_text(encoding="utf-8") for name in STYLES)


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
