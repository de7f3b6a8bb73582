"""The compiled year: the bits of the arrays, kept where it may write and nowhere else, never in a user's way."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_array_equal

from explore.config.compose import load_scenario
from explore.design.space import Space
from explore.model import Evaluator
from explore.year import compiled, kernels
from explore.year.season import SeasonResult, mixed_year, stratified_year
from tests import season_designs

FIGURES = [field.name for field in fields(SeasonResult)]
MODES = {
    "stratified": (stratified_year, season_designs.stratified_designs),
    "mixed": (mixed_year, season_designs.mixed_designs),
    "small": (mixed_year, season_designs.small_mixed_designs),
}
YEARS = {
    "evenings": season_designs.days(season_designs.greensboro(), 100, 20),
    "midday": season_designs.days(season_designs.greensboro(hours=(7, 11, 12, 13, 14, 20)), 150, 15),
    "outdoors": season_designs.days(
        season_designs.greensboro(room_temperature_K=None, hours=range(24), months=range(1, 13)), 75, 8
    ),
}


@pytest.fixture(scope="module", autouse=True)
def compiler():
    """The tests below compare arrays with arrays where the loops are not compiled."""
    assert compiled.loaded() is not None


@given(seed=st.integers(0, 2**31), banked=st.floats(0.0, 1.0))
@settings(max_examples=6, deadline=None)
@pytest.mark.parametrize("year", YEARS)
@pytest.mark.parametrize("mode", MODES)
def test_same_bits_as_arrays(mode, year, seed, banked):
    """Every figure of random designs, with banks and strong engines among them, is the same number either way."""
    march, designs = MODES[mode]
    rng = np.random.default_rng(seed)
    d = designs(37, seed=seed)  # no multiple of a block
    if mode != "stratified":
        into = rng.random(37) < banked
        d["power_fraction_grid"] = d["power_fraction_grid"] * rng.uniform(0.5, 3.0, (37, 1))
        d["power_may_rise"] = np.where(into, rng.uniform(1.0, 3.0, 37), 1.0)
        d["bank_efficiency"] = np.where(into, rng.uniform(0.5, 1.0, 37), np.inf)
        d["headroom_K"] = rng.uniform(0.0, 10.0, 37)
    fast, plain = march(YEARS[year], **d), march(YEARS[year], **d, plain=True)
    for name in FIGURES:
        assert_array_equal(getattr(fast, name), getattr(plain, name), err_msg=name)
    assert np.any(fast.served_share > 0.0)


@pytest.mark.parametrize("mode", MODES)
def test_same_bits_alone_and_in_any_place(mode):
    """A design gives the same bits alone as in a batch, wherever in a block it stands."""
    march, designs = MODES[mode]
    d = designs(50, seed=9)
    whole = march(YEARS["midday"], **d)
    order = np.random.default_rng(0).permutation(50)
    for index in (order, order[:17], *np.split(order[:6], 6)):
        part = march(YEARS["midday"], **season_designs.rows(d, index))
        for name in FIGURES:
            assert_array_equal(getattr(part, name), getattr(whole, name)[index], err_msg=name)


@pytest.mark.parametrize(
    ("scenario", "words"),
    [
        ("orchard", ["scenario.demand.speed_may_fall=true", "scenario.demand.bank=day"]),
        ("orchard", ["engine=constant"]),
        ("school_workshop", []),
        ("island_workshop", []),
    ],
)
def test_same_bits_in_every_scenario(scenario, words, monkeypatch):
    """All outputs of random designs of the scenarios, all governors and stores, are the same compiled or not."""
    case = load_scenario(scenario, words)
    columns = Space.from_case(case).sample(80, np.random.default_rng(3))
    evaluator = Evaluator(case)
    fast = evaluator.evaluate(columns)
    monkeypatch.setenv(compiled.PLAIN, "1")
    assert compiled.loaded() is None
    plain = evaluator.evaluate(columns)
    for name, values in plain.items():
        assert_array_equal(fast[name], values, err_msg=name)
    assert np.any(fast["served_share"] > 0.0)


def double(given, state, sun, air, room, hours):
    """Stand for a loop, quickly compiled."""
    state[0, 0] = 2.0 * given[0, 0]


@pytest.fixture
def quick(monkeypatch, tmp_path):
    """A cache of its own and one loop that is compiled in no time; returns the file names beside the code."""
    monkeypatch.setenv("EXPLORE_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(compiled, "SIGNATURES", dict.fromkeys(compiled.SIGNATURES, SHORT))
    for name in compiled.SIGNATURES:
        monkeypatch.setattr(kernels, name, double)
    return lambda: sorted(path.name for path in Path(__file__).parent.rglob("*.nb?"))


SHORT = compiled.SIGNATURES["stratified"]


def works(loops):
    """Tell whether a loop that was handed out does what it should."""
    state = np.zeros((1, 1))
    loops.stratified(np.full((1, 1), 3.0), state, state, *(state[0],) * 2, np.zeros(1, dtype=np.uint8))
    return state[0, 0] == 6.0


def test_translations_are_kept_in_the_cache(quick, tmp_path):
    """They lie in the program's cache folder and not beside the code; numba's own setting is left as it was."""
    import numba

    before = quick(), numba.config.CACHE_DIR
    assert works(compiled._load.__wrapped__())
    assert list((tmp_path / "cache" / "kernels").rglob("*.nbi"))
    assert (quick(), numba.config.CACHE_DIR) == before


def test_nothing_is_kept_where_nothing_can_be(quick, tmp_path):
    """Where the cache folder cannot be made every process compiles for itself, and no file appears anywhere."""
    (tmp_path / "cache").write_text("in the way")
    before = quick()
    assert works(compiled._load.__wrapped__())
    assert quick() == before
    assert [path.name for path in tmp_path.iterdir()] == ["cache"]


def test_a_torn_translation_is_made_anew(quick, tmp_path):
    """Files that are cut short or hold something else are replaced."""
    compiled._load.__wrapped__()
    for content in (b"", b"something else"):
        for file in (tmp_path / "cache").rglob("*.nb?"):
            file.write_bytes(content)
        assert works(compiled._load.__wrapped__())
        assert all(file.stat().st_size > 100 for file in (tmp_path / "cache").rglob("*.nbi"))


def test_a_compiler_that_fails_is_done_without(quick, monkeypatch):
    """Neither a numba that cannot be imported nor one that breaks reaches the user."""
    monkeypatch.setattr(compiled, "_translated", lambda *_: 1 / 0)
    assert compiled._load.__wrapped__() is None
    monkeypatch.setitem(sys.modules, "numba", None)
    assert compiled._load.__wrapped__() is None


def test_the_compiler_is_fetched_when_it_pays():
    """A command that asks for help or for one design's year does not import numba."""
    script = (
        "import sys; from explore.year.season import stratified_year; from tests import season_designs as s;"
        "import explore.cli;"
        "year = s.days(s.greensboro(), 0, 1);"
        "stratified_year(year, **s.stratified_designs(1)); print('numba' in sys.modules);"
        "stratified_year(year, **s.stratified_designs(64)); print('numba' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "True"]
