"""Notes per design: kept while the page is read, saved in a copy of the file, and only ever text."""

import hashlib
import json
import re
from base64 import b64encode

import pytest

from tests.browser.conftest import settled, turn_to
from tests.browser.test_report_page import embedded, report
from tests.browser.test_states import SEEN

pytestmark = pytest.mark.browser
NASTY = (
    'Ask the <b>welder</b> & co </script><script>window.bad = 1</script><img src=x onerror="window.bad = 2">'
    "<!-- \u2028 \\u003c ${1}\nsecond line"
)


def write_note(page, name, text):
    """Open a design by its address and write a note on its sheet."""
    turn_to(page, f"#design-{name}")
    assert page.text_content("#sheet-line") == name
    page.fill("#note", text)


def saved(page, folder):
    """Save a copy with notes and return its path."""
    with page.expect_download() as waiting:
        page.locator("[data-save-notes]").last.click()
    name = waiting.value.suggested_filename
    target = folder / name
    waiting.value.save_as(target)
    return target


def warned(page):
    """Whether the page would hold back a reader who leaves it now."""
    return page.evaluate("!dispatchEvent(new Event('beforeunload', { cancelable: true }))")


def listed(page):
    return page.locator("#notes-list li .written").evaluate_all(
        "items => items.map((item) => item.textContent)"
    )


def scripts(path):
    """Type and text of each script of a page, without the notes."""
    found = re.findall(r"<script([^>]*)>(.*?)</script>", path.read_text(encoding="utf-8"), re.DOTALL)
    return [one for one in found if "reader-notes" not in one[0]]


def test_notes_come_back_from_the_copy_as_text(watched, run_folder, tmp_path):
    """What was written stands in the copy's sheet, list, shortlist and decision, to the letter, and nothing of it runs."""
    page = watched.open(report(run_folder))
    names = [card["name"] for card in page.evaluate(SEEN)["cards"]]
    other = next(name for name in names if name != names[-1])  # a design may be recommended twice
    beside = next(name for name in embedded(run_folder) if name.startswith("D"))
    assert not page.locator("#notes").is_visible()
    write_note(page, names[-1], NASTY)
    write_note(page, beside, "Too dear")
    write_note(page, other, "to be taken back")
    page.fill("#note", "")
    assert listed(page) == [NASTY, "Too dear"]
    assert "Not saved yet" in page.text_content("#note-state")
    copy = saved(page, tmp_path)
    assert copy.name == "orchard-notes.html"
    assert "Not saved yet" not in page.text_content("#note-state")
    before = page.evaluate(SEEN)
    page = watched.open(copy, f"#design-{names[-1]}&shortlist={names[-1]},{beside}")
    settled(page)
    assert page.input_value("#note") == NASTY
    assert listed(page) == [NASTY, "Too dear"]
    assert page.evaluate("window.bad") is None
    assert page.locator("#notes-list b, #notes-list img, #shortlist-table img").count() == 0
    assert NASTY in page.text_content("#shortlist-table")
    assert page.evaluate(SEEN) == before
    page.evaluate("location.hash = '#&present=7'")
    page.wait_for_selector('[data-screen="7"]')
    assert NASTY in page.text_content("#screens")
    assert page.evaluate("window.bad") is None
    assert watched.errors == []
    assert watched.strayed() == []


def test_the_page_says_where_its_notes_stand(watched, run_folder, tmp_path):
    """In no file, in the copy alone, in no file again once more is written, in the file that the copy is."""
    page = watched.open(report(run_folder))
    assert (page.text_content("#note-state"), warned(page)) == ("", False)
    write_note(page, "1", "Kept")
    assert "Not saved yet" in page.text_content("#note-state")
    assert warned(page)
    copy = saved(page, tmp_path)
    assert page.text_content("#note-state") == "Saved in the copy; this file is unchanged."
    assert not warned(page)
    write_note(page, "1", "Kept, and more")
    assert "Not saved yet" in page.text_content("#note-state")
    assert warned(page)
    page = watched.open(copy)
    assert page.text_content("#note-state") == "As they stand in this file."
    assert not warned(page)
    assert watched.errors == []


def test_a_copy_is_the_page_and_a_copy_of_it_the_same(watched, run_folder, tmp_path):
    """Scripts, data and policy are those of the page, to the byte; nothing drawn is in it; copied again it is equal."""
    page = watched.open(report(run_folder))
    page.fill("#ceiling", "5")
    page.evaluate("scrollTo(0, document.documentElement.scrollHeight)")
    settled(page)
    write_note(page, "1", "Kept")
    copy = saved(page, tmp_path)
    text = copy.read_text(encoding="utf-8")
    assert scripts(copy) == scripts(report(run_folder))
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', text)[1]
    for kind, script in scripts(copy):
        if not kind:
            assert b64encode(hashlib.sha256(script.encode()).digest()).decode() in policy
    assert 'class="js-plotly-plot' not in text
    assert "main-svg" not in text.split("<script")[0]
    assert abs(len(text) - len(report(run_folder).read_text(encoding="utf-8"))) < 4000
    page = watched.open(copy)
    assert page.evaluate(SEEN)["count"].endswith("on the front")
    again = saved(page, tmp_path / "again")
    assert again.read_bytes() == copy.read_bytes()
    assert watched.errors == []


@pytest.fixture(scope="module")
def strange(tmp_path_factory):
    """One file for the pages of strangers, one after another: a page of the same address opens in half the time."""
    return tmp_path_factory.mktemp("strangers") / "strange.html"


@pytest.mark.parametrize(
    ("data", "kept", "words"),
    [
        ("{}", [], ""),
        ('{"notes": {"1": "good", "no such": "x", "__proto__": "y", "2": "  "}}', ["good"], ""),
        ('{"notes": {"1": {"toString": 1}}}', [], "cannot be read"),
        ('{"notes": ["a"]}', [], "cannot be read"),
        ("not json", [], "cannot be read"),
        ("null", [], "cannot be read"),
        (json.dumps({"notes": {"1": "long " * 2000}}), [("long " * 2000)[:4000]], ""),
    ],
)
def test_notes_of_a_strangers_file_are_data(watched, run_folder, strange, data, kept, words):
    """Whatever stands where notes should is shown as text, cut, or left out with a word; the page opens all the same."""
    text = report(run_folder).read_text(encoding="utf-8")
    mark = '<script type="application/json" id="reader-notes">{}</script>'
    assert text.count(mark) == 1
    strange.write_text(text.replace(mark, mark.replace("{}", data)), encoding="utf-8")
    page = watched.open(strange)
    assert listed(page) == kept
    assert words in page.text_content("#note-state")
    assert page.evaluate(SEEN)["cards"]
    assert watched.errors == []
