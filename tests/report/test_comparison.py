"""Two runs side by side."""

import re

import pytest

from explore.errors import InputError
from explore.figures.format import shown
from explore.tell.page import write_comparison
from explore.tell.page.comparison import differences
from explore.tell.page.data import read_run
from explore.tell.page.picks import pick
from tests.real_run import copy


@pytest.fixture(scope="module")
def pair(real_run, tmp_path_factory):
    """Two runs that differ in title and pressure ceiling."""
    root = tmp_path_factory.mktemp("pair")
    first = real_run
    second = copy(real_run, root / "b", title="<i>Second</i>")
    text = (second / "config.yaml").read_text(encoding="utf-8")
    changed = text.replace("pressure_ceiling_bar_g: 16.0", "pressure_ceiling_bar_g: 12.0")
    assert changed != text
    (second / "config.yaml").write_text(changed, encoding="utf-8")
    return first, second


def test_what_differs_is_listed(pair):
    """Exactly the values that differ are named, with the text of each run."""
    found = dict(differences([read_run(folder) for folder in pair]))
    assert found == {"scenario.limits.pressure_ceiling_bar_g": ["16", "12"]}


def test_page_holds_both_recommendations(pair, tmp_path):
    """The compromise of both runs stands side by side with its cost; titles stay text."""
    page = write_comparison(pair, tmp_path / "compare.html")
    text = page.read_text(encoding="utf-8")
    assert "<i>Second" not in text
    for folder in pair:
        run = read_run(folder)
        row = run.front.row(pick(run)[-1].row - 1)
        assert f"<td>{shown(row['cost_EUR'], 'cost_EUR')}</td>" in text
    assert len(text) < 6_000_000
    assert re.search(r"connect-src &#39;none&#39;", text)


@pytest.mark.parametrize("count", [1, 9])
def test_number_of_runs_is_checked(pair, tmp_path, count):
    """One run or nine are refused in a sentence."""
    with pytest.raises(InputError, match="2 to 8 runs"):
        write_comparison([pair[0]] * count, tmp_path / "c.html")
    assert not list(tmp_path.iterdir())
