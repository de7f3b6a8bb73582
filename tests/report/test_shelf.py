"""The handbook beside the results: written once, linked to where it stands, and never over anything else."""

from __future__ import annotations

import re

import pytest

from explore import __version__
from explore.tasks.results import leave_handbook
from explore.tell import shelf
from explore.tell.handbook import handbook
from explore.tell.page.data import read_run
from explore.tell.page.page import AMOUNTS, render
from tests.report.synthetic import make_run
from tests.report.test_handbook import Reader


@pytest.fixture(scope="module")
def results(tmp_path_factory):
    """A folder of results with one made-up run."""
    made = tmp_path_factory.mktemp("shelf") / "results"
    make_run(made / "made_up" / "t", count=200)
    return made


def kept_in(case, folder):
    """Return the case with its results in ``folder``."""
    return case.model_copy(update={"results_folder": str(folder)})


def links(run):
    """Return where the page of a run leads, but within itself."""
    page = render(read_run(run), AMOUNTS[-1])
    assert "explore task=handbook" in page
    return [link for link in re.findall(r'href="([^"]*)"', page) if not link.startswith(("#", "data:"))]


def test_the_page_links_to_it_only_where_it_stands(orchard, results):
    """By the way that holds wherever the results are moved to as a whole, and to places that the handbook has."""
    run = results / "made_up" / "t"
    (results / shelf.NAME).unlink(missing_ok=True)
    assert links(run) == []
    leave_handbook(run, kept_in(orchard, results))
    found = links(run)
    assert {link.partition("#")[0] for link in found} == {"../../handbook.html"}
    reader = Reader()
    reader.feed((run / "../../handbook.html").resolve().read_text(encoding="utf-8"))
    assert {link.partition("#")[2] for link in found} <= set(reader.places)


def test_it_is_written_once_a_version(orchard, results):
    """Not again while it is there; anew once another version wrote it."""
    run, file = results / "made_up" / "t", results / shelf.NAME
    for old in ("0.0.1", __version__):
        file.write_text(handbook(orchard, old), encoding="utf-8")
        before = file.stat().st_mtime_ns
        leave_handbook(run, kept_in(orchard, results))
        assert (file.stat().st_mtime_ns != before) == (old != __version__)
        assert shelf.is_of(file, __version__)


def test_it_is_written_beside_results_alone(orchard, results, tmp_path):
    """A run that lies elsewhere, as one that was sent, gets none beside it."""
    run = make_run(tmp_path / "a" / "b", count=50)
    leave_handbook(run, kept_in(orchard, results))
    assert not (tmp_path / shelf.NAME).exists()


@pytest.mark.parametrize("kind", ["file", "folder", "link"])
def test_what_is_no_handbook_stays(orchard, tmp_path, kind):
    """Somebody's own file, folder or link of that name is left alone and not linked to."""
    run, file = tmp_path / "results" / "made_up" / "t", tmp_path / "results" / shelf.NAME
    run.mkdir(parents=True)
    if kind == "file":
        file.write_text("mine", encoding="utf-8")
    elif kind == "folder":
        file.mkdir()
    else:
        file.symlink_to(tmp_path / "nowhere")
    leave_handbook(run, kept_in(orchard, tmp_path / "results"))
    assert shelf.link(run) == ""
    assert not (tmp_path / "nowhere").exists()
    assert kind != "file" or file.read_text(encoding="utf-8") == "mine"


def test_a_folder_that_cannot_be_written_loses_no_run(orchard, tmp_path, monkeypatch, caplog):
    """It is noted in the log and that is all."""
    from explore.run.files import UnwritableError

    def full(*given):
        raise UnwritableError("no room")

    run = tmp_path / "results" / "made_up" / "t"
    run.mkdir(parents=True)
    monkeypatch.setattr("explore.tasks.results.write_text", full)
    leave_handbook(run, kept_in(orchard, tmp_path / "results"))
    assert "no handbook beside the results: no room" in caplog.text
