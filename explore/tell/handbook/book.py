"""The whole handbook as one HTML file: nothing is fetched and no script is needed."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from explore.tell import templates
from explore.tell.handbook import markdown, references, theory
from explore.tell.page.glossary import GLOSSARY
from explore.tell.shelf import MARK, versioned

if TYPE_CHECKING:
    from markupsafe import Markup

    from explore.config.schema import Case

HERE = Path(__file__).parent
CONTENTS: dict[str, tuple[str, ...]] = {
    "Begin": ("start", "tutorial"),
    "How to": (
        "how-to-overnight",
        "how-to-machines",
        "how-to-engine",
        "how-to-fluid",
        "how-to-prices",
        "how-to-mine",
        "how-to-presenting",
        "how-to-sure",
        "how-to-fit",
        "how-to-day",
        "notebook",
    ),
    "Before you build": ("validity", "cautions"),
    "Theory": ("theory",),
    "Reference": ("configuration", "figures", "glossary"),
    "About": ("cite", "changes"),
}
"""Pages by part, in the order of reading; a page that is generated has a Markdown file for its opening words."""
ROLE = re.compile(r":(?:func|class|data|mod|meth|attr):`~?([^`]+)`")


def handbook(case: Case, version: str) -> str:
    """Return the handbook; ``case`` gives the ranges that depend on a scenario."""
    from markupsafe import Markup

    shown = {part: [markdown.page(name) for name in names] for part, names in CONTENTS.items()}
    template = _environment().get_template("handbook.html")
    return template.render(
        mark=Markup(MARK),
        parts=shown,
        version=version,
        versioned=Markup(versioned(version)),
        style=Markup((HERE / "handbook.css").read_text(encoding="utf-8")),
        theory={title: theory.modules(room) for room, title in theory.ROOMS.items()},
        tables={
            "configuration": [
                references.tasks(),
                references.space(case),
                *references.configuration(),
                references.bands(case),
            ],
            "figures": references.figures(),
        },
        glossary=dict(sorted(GLOSSARY.items())),
    )


def _environment() -> Any:
    """Return the template environment; everything put into a template is escaped, but pages already shown."""
    made = templates.environment(HERE / "templates")
    made.filters |= {"told": told, "slug": markdown.slug, "page_html": _shown}
    return made


def _shown(page: markdown.Page) -> Markup:
    from markupsafe import Markup

    return Markup(page.html)


def told(text: str) -> Markup:
    """Show the words of a docstring: ``code`` and names of functions as code, all else escaped."""
    from markupsafe import Markup, escape

    plain = ROLE.sub(lambda found: f"``{found[1].rpartition('.')[2]}``", text)
    parts = re.split(r"``([^`]+)``|`([^`]+)`", plain)
    shown = Markup("")
    for place, part in enumerate(parts):
        if part is not None:
            shown += escape(part) if place % 3 == 0 else Markup("<code>{}</code>").format(part)
    return shown
