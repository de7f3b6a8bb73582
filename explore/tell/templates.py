"""How a page's templates are read: everything put into one is escaped, and a name that is not there is a defect."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Environment


@cache
def environment(folder: Path) -> Environment:
    """Return the environment of the templates in a folder: one a process, for to compile them takes longer than to fill."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
