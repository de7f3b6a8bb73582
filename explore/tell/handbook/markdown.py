"""The handbook's pages as they are written, in Markdown, and as they are shown.

A page links to another by its file (``tutorial.md``, ``figures.md#limits``), as a viewer of the files does; in the one file
of the handbook these are places. Text is escaped: a page holds no HTML of its own.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from markdown_it import MarkdownIt
    from markdown_it.token import Token

PAGES = Path(__file__).resolve().parents[2] / "handbook"
"""Package data: the pages, one a file."""


@dataclass(frozen=True)
class Heading:
    """A heading of a page: its ``place`` in the handbook, its words, and how deep it stands."""

    place: str
    words: str
    depth: int


@dataclass(frozen=True)
class Page:
    """A page as shown: name, title, headings below it, and HTML."""

    name: str
    title: str
    headings: tuple[Heading, ...]
    html: str


@dataclass(frozen=True)
class Block:
    """A piece of code in a page: its language (bash, yaml, python, or nothing) and its text."""

    language: str
    text: str


def parser() -> MarkdownIt:
    """Return what reads Markdown: CommonMark with tables, HTML shown as text."""
    from markdown_it import MarkdownIt

    return MarkdownIt("commonmark", {"html": False}).enable("table")


def slug(words: str) -> str:
    """Return the part of a place that a heading's words give: small letters, digits and hyphens."""
    return re.sub(r"[^a-z0-9]+", "-", words.lower()).strip("-")


def page(name: str) -> Page:
    """Read and show one page; its first heading is its title."""
    read = parser()
    tokens = read.parse((PAGES / f"{name}.md").read_text(encoding="utf-8"))
    headings = []
    for place, token in enumerate(tokens):
        if token.type == "heading_open":
            words = _plain(tokens[place + 1])
            token.attrSet("id", name if token.tag == "h1" else f"{name}-{slug(words)}")
            headings.append(Heading(str(token.attrGet("id")), words, int(token.tag[1:])))
        for child in token.children or ():
            if child.type == "link_open":
                child.attrSet("href", target(name, str(child.attrGet("href"))))
    title, *below = headings
    return Page(name, title.words, tuple(below), read.renderer.render(tokens, read.options, {}))


def target(name: str, href: str) -> str:
    """Turn a link between the files of the pages into a place of the handbook; others stay."""
    found = re.fullmatch(r"([a-z-]+)\.md(?:#([a-z0-9-]+))?|#([a-z0-9-]+)", href)
    if found is None:
        return href
    file, place, here = found.groups()
    return f"#{name}-{here}" if here else f"#{file}-{place}" if place else f"#{file}"


def blocks(text: str) -> list[Block]:
    """Return the pieces of code of a Markdown text, fenced or indented."""
    tokens = parser().parse(text)
    return [
        Block(token.info.strip(), token.content) for token in tokens if token.type in ("fence", "code_block")
    ]


def _plain(inline: Token) -> str:
    return "".join(child.content for child in inline.children or () if child.type in ("text", "code_inline"))
