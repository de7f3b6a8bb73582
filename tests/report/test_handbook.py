"""The handbook: one file, whole, with links that lead somewhere and theory that is the code's own."""

from __future__ import annotations

import ast
from html.parser import HTMLParser

import pytest

from explore import __version__
from explore.config.reference import GROUPS, keys
from explore.config.tasks import HandbookTask
from explore.errors import InputError
from explore.figures import catalogue, limits
from explore.tasks import handbook as task
from explore.tell.handbook import handbook, markdown, theory
from explore.tell.handbook.book import CONTENTS, told
from explore.tell.page.glossary import GLOSSARY


class Reader(HTMLParser):
    """Collects places, links, what would be fetched, and the text."""

    def __init__(self) -> None:
        super().__init__()
        self.places: list[str] = []
        self.links: list[str] = []
        self.fetched: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag, attrs):
        """Take in a place, a link, or what would be fetched."""
        given = dict(attrs)
        self.places += [given["id"]] if "id" in given else []
        self.links += [given["href"]] if tag == "a" else []
        if tag in ("script", "link", "img", "iframe", "object") or "src" in given:
            self.fetched.append(tag)

    def handle_data(self, data):
        """Take in text."""
        self.text.append(data)


@pytest.fixture(scope="module")
def html(orchard):
    """The handbook as written."""
    return handbook(orchard, __version__)


@pytest.fixture(scope="module")
def reader(html):
    """The handbook as read."""
    made = Reader()
    made.feed(html)
    return made


def test_presenting_says_what_no_limit_moves(reader):
    """The study of doubt is of the case as searched, as its screen says; all other screens follow the reader."""
    assert "All of it but the study of doubt follows what the reader sets." in " ".join(
        "".join(reader.text).split()
    )


def test_every_link_leads_somewhere(reader):
    """A link within the handbook has its place, no place is there twice; others are secure addresses."""
    assert len(reader.places) == len(set(reader.places))
    within = {link.removeprefix("#") for link in reader.links if link.startswith("#")}
    assert within <= set(reader.places)
    assert all(link.startswith(("#", "https://")) for link in reader.links)
    assert len(within) > 100


def test_a_link_to_nowhere_is_seen(monkeypatch, tmp_path):
    """Links between files become places; one that names no page stays what no place has."""
    (tmp_path / "one.md").write_text("# One\n\n## A word\n\n[a](one.md#a-word) [b](#a-word) [c](two.md)\n")
    monkeypatch.setattr(markdown, "PAGES", tmp_path)
    made = Reader()
    made.feed(markdown.page("one").html)
    assert made.links == ["#one-a-word", "#one-a-word", "#two"]
    assert made.places == ["one", "one-a-word"]


def test_it_is_one_file_without_script(html, reader):
    """Nothing is fetched, nothing runs, and the browser is told so."""
    assert reader.fetched == []
    assert "default-src 'none'; style-src 'unsafe-inline'" in html
    assert "url(" not in html
    assert "@import" not in html


def test_every_page_has_its_place_in_the_contents():
    """No file is forgotten, and none is named that is not there."""
    named = [name for names in CONTENTS.values() for name in names]
    assert sorted(named) == sorted(file.stem for file in markdown.PAGES.glob("*.md"))


def test_references_hold_all_there_is(reader):
    """Every key, figure, limit and word of the glossary."""
    text = set(reader.text)
    assert {key.name for group in GROUPS for key in keys(group)} <= text
    assert {one.name for one in (*catalogue.RECORDS, *catalogue.TUBE_RECORDS, *limits.RECORDS)} <= text
    assert set(GLOSSARY) | set(GLOSSARY.values()) <= text


def test_theory_holds_every_public_function_of_the_physics(reader):
    """Counted by another way through the source: each function without an underscore that says what it is."""
    for room in theory.ROOMS:
        for file in (theory.PACKAGE / room).rglob("*.py"):
            if file.stem in theory.LEFT_OUT:
                continue
            module = file.relative_to(theory.PACKAGE).with_suffix("").as_posix()
            for node in ast.parse(file.read_text(encoding="utf-8")).body:
                if isinstance(node, ast.FunctionDef) and node.name[0] != "_" and ast.get_docstring(node):
                    assert f"theory-{markdown.slug(module)}--{node.name}" in reader.places


def test_theory_says_what_the_code_says(monkeypatch, tmp_path):
    """Words, equation, source, example and code of a function come from its file."""
    (tmp_path / "plant").mkdir()
    (tmp_path / "plant" / "rod.py").write_text(
        '"""Rods."""\n\nSTIFF = 2.0\n"""By eye."""\n\n\ndef force(x, *, k=STIFF):\n    """Force F = k x [N].\n\n'
        "    ``x`` [m].\n    Source: R. Hooke,\n    De Potentia, 1678.\n\n    >>> force(1.0)\n    2.0\n    "
        + '"""\n'
        "    return k * x\n\n\ndef _own():\n    return 1\n"
    )
    monkeypatch.setattr(theory, "PACKAGE", tmp_path)
    (module,) = theory.modules("plant")
    (one,) = module.entries
    assert (module.name, module.words) == ("plant/rod", ("Rods.",))
    assert (one.call, one.words) == ("force(x, k)", ("Force F = k x [N].", "``x`` [m]."))
    assert one.source == "R. Hooke, De Potentia, 1678."
    assert (one.code, one.short) == ("return k * x", True)
    assert one.example.startswith(">>> force(1.0)")
    assert [(number.call, number.words) for number in module.numbers] == [("STIFF = 2.0", ("By eye.",))]


def test_words_of_the_code_are_escaped():
    """Whatever a docstring holds is text; names of functions and code are shown as such."""
    assert told("p < 1 in ``a<b`` by :func:`explore.plant.rod.force`") == (
        "p &lt; 1 in <code>a&lt;b</code> by <code>force</code>"
    )


def test_html_in_a_page_is_text(monkeypatch, tmp_path):
    """A page cannot bring in a script."""
    (tmp_path / "one.md").write_text("# One\n\n<script>alert(1)</script>\n")
    monkeypatch.setattr(markdown, "PAGES", tmp_path)
    assert "<script>" not in markdown.page("one").html


def test_the_task_writes_it_and_writes_over_nothing_else(orchard, tmp_path, monkeypatch, capsys):
    """A second time it renews its own file; another file is left as it was."""
    monkeypatch.chdir(tmp_path)
    for _ in range(2):
        task.run(orchard, HandbookTask(), "explore")
        assert capsys.readouterr().out == "handbook: handbook.html\n"
    assert "<title>Work from stored hot water: handbook</title>" in (tmp_path / "handbook.html").read_text()
    (tmp_path / "mine.html").write_text("mine", encoding="utf-8")
    for file, said in (
        ("mine.html", "no handbook"),
        ("x.txt", "ends in .html"),
        ("no/x.html", "make it first"),
    ):
        with pytest.raises(InputError, match=said):
            task.run(orchard, HandbookTask(file=file), "explore")
    assert (tmp_path / "mine.html").read_text(encoding="utf-8") == "mine"
