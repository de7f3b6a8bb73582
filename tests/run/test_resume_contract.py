"""Resume is a contract: one study a folder."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest

from explore import cli, load_scenario
from explore.search.identity import MODEL_ROOTS, changed, closure, facts

EXAMPLE = Path(__file__).parents[2] / "results" / "example"


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("search.seed=5", "search.seed cannot change"),
        ("scenario.name=x", "scenario.name cannot change"),
        ("engine.friction_load_share=0.08", "engine.friction_load_share cannot change"),
        ("exchangers=tubes", "exchangers=tubes: resume=run takes the run's own configuration"),
        ("search.designs=1", "below the"),
    ],
)
def test_another_study_is_refused(tmp_path, monkeypatch, capsys, word, said):
    """What would make it another study is named, with the way to a new run; the results stay."""
    monkeypatch.chdir(tmp_path)
    shutil.copytree(EXAMPLE, tmp_path / "run")
    (tmp_path / "run" / "campaign.journal").write_text("")
    before = {path: path.read_bytes() for path in (tmp_path / "run").iterdir()}
    monkeypatch.setattr(sys, "argv", ["explore", "resume=run", word])
    assert cli.main() == 2
    err = capsys.readouterr().err
    assert said in err
    assert "new run" in err
    assert {path: path.read_bytes() for path in (tmp_path / "run").iterdir()} == before


def test_the_content_of_the_weather_file_is_part_of_the_identity(tmp_path):
    """A changed file of the same name is another climate."""
    file = tmp_path / "site.epw"
    file.write_text("one")
    case = load_scenario("orchard")
    site = case.scenario.site.model_copy(update={"weather": str(file)})
    case = case.model_copy(update={"scenario": case.scenario.model_copy(update={"site": site})})
    before = facts(case, cli.main)
    file.write_text("two")
    assert changed(before, facts(case, cli.main)) == ["weather file"]


def test_the_identity_reaches_all_code_that_judges():
    """The front's rule, the bill and the weather are among what the model's digest covers."""
    names = closure(MODEL_ROOTS)
    assert {"explore.judgement.front", "explore.judgement.bill", "explore.year.weather"} <= set(names)
    with pytest.raises(ValueError, match="no module"):
        closure(["explore.moved_away"])
