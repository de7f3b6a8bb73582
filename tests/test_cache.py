"""What is kept on disk between runs: made once for the same causes, never stale, never in the way."""

import subprocess
import sys

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from explore.cache import LATEST, cache_folder, remembered
from explore.errors import InputError
from explore.model import years
from explore.search import identity
from explore.year.series import make_year
from explore.year.weather import read_weather


@pytest.fixture
def cache(monkeypatch, tmp_path):
    """Return an empty cache folder of the test's own."""
    monkeypatch.setenv("EXPLORE_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache"


def test_a_cache_that_is_no_folder_is_refused(monkeypatch, tmp_path):
    """It would else be made anew by every command, and nobody told; one that is not there yet is."""
    (tmp_path / "file").write_text("")
    (tmp_path / "loop").symlink_to("loop")
    for name in ("file", "loop"):
        monkeypatch.setenv("EXPLORE_CACHE", str(tmp_path / name))
        with pytest.raises(InputError, match=f"EXPLORE_CACHE=.*{name} is no folder; name one"):
            cache_folder()
    monkeypatch.setenv("EXPLORE_CACHE", str(tmp_path / "new"))
    assert cache_folder() == tmp_path / "new"


def test_the_same_causes_are_asked_once(cache):
    """Other causes are others even where their bytes in a row are the same."""
    made = []

    def asked(*causes):
        return remembered(
            "thing", ["number"], causes, lambda: made.append(causes) or {"number": np.array(len(made))}
        )

    assert [int(asked(*causes)["number"]) for causes in ((b"ab", b"c"), (b"a", b"bc"), (b"ab", b"c"))] == [
        1,
        2,
        1,
    ]
    assert made == [(b"ab", b"c"), (b"a", b"bc")]


def test_the_latest_of_a_kind_are_kept(cache):
    """A search through many places does not fill the disk, nor push out another kind."""
    remembered("other", ["x"], [b""], lambda: {"x": np.zeros(1)})
    for number in range(LATEST + 5):
        remembered("thing", ["x"], [b"%d" % number], lambda: {"x": np.zeros(1)})
    assert len(list(cache.glob("thing-*.npz"))) == LATEST
    assert len(list(cache.glob("other-*.npz"))) == 1


@pytest.mark.parametrize("content", [b"", b"something else"])
def test_a_torn_file_is_made_anew(cache, content):
    """Whatever stands there, and where nothing can be kept every call makes its own."""
    remembered("thing", ["x"], [b"1"], lambda: {"x": np.zeros(1)})
    (file,) = cache.iterdir()
    file.write_bytes(content)
    assert remembered("thing", ["x"], [b"1"], lambda: {"x": np.ones(1)})["x"] == 1.0
    assert remembered("thing", ["x"], [b"1"], lambda: {"x": np.full(1, 2.0)})["x"] == 1.0


def test_a_file_that_holds_something_else_is_made_anew(cache):
    """Under the right name or not."""
    remembered("thing", ["x"], [b"1"], lambda: {"x": np.zeros(1)})
    (file,) = cache.iterdir()
    np.savez(file, y=np.zeros(1))
    assert remembered("thing", ["x"], [b"1"], lambda: {"x": np.ones(1)})["x"] == 1.0


def test_where_nothing_can_be_kept_every_call_makes_its_own(cache, monkeypatch):
    """A place where no folder can be made is no error."""
    cache.write_text("in the way")
    monkeypatch.setenv("EXPLORE_CACHE", str(cache / "within"))
    assert [
        float(remembered("thing", ["x"], [b"1"], lambda n=n: {"x": np.array(n)})["x"]) for n in (1.0, 2.0)
    ] == [
        1.0,
        2.0,
    ]


def test_a_file_that_is_refused_is_refused_again(cache, tmp_path):
    """Nothing is kept of a weather file that cannot be read."""
    file = tmp_path / "site.epw"
    file.write_text("no weather")
    for _ in range(2):
        with pytest.raises(InputError, match="cannot be read"):
            read_weather(str(file))
    assert not list(cache.glob("weather-*"))


def test_a_kept_year_is_the_one_that_was_made(cache):
    """To the bit, weather and what is laid out of it; another tilt is another year."""
    fresh, kept = (read_weather("pvlib:723170TYA.CSV") for _ in range(2))
    for name, values in vars(fresh).items():
        assert_array_equal(getattr(kept, name), values)
    settings = {"azimuth_deg": 180.0, "albedo": 0.2, "incidence_b0": (0.1,), "demand_hours": (18, 19)}
    settings |= {"demand_months": (4, 5), "room_temperature_K": None}
    for tilt in (30.0, 50.0):
        wanted = make_year(fresh, tilt_deg=tilt, **settings)
        for _ in range(2):
            found = years.remembered_year(kept, tilt_deg=tilt, **settings)
            for name, values in vars(wanted).items():
                assert_array_equal(getattr(found, name), values)
    assert len(list(cache.glob("year-*"))) == 2


def test_a_model_of_a_known_place_needs_no_weather_library():
    """What a worker reads before its first design: the libraries that read weather take half a second."""
    script = (
        "import sys; from explore import load_scenario; from explore.model import Evaluator;"
        "print(len(Evaluator(load_scenario('orchard')).year.day), {'pvlib', 'pandas', 'scipy'} & set(sys.modules))"
    )
    for _ in range(2):
        words = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert words.stdout.strip() == "8760 set()"


def test_the_digest_of_sources_is_that_of_the_sources(cache):
    """What was kept is what is worked out."""
    whole = identity.sources.__wrapped__
    fresh, kept = (whole(identity.MODEL_ROOTS) for _ in range(2))
    assert fresh == kept == identity.sources(identity.MODEL_ROOTS) != whole(identity.SEARCH_ROOTS)
    with pytest.raises(ValueError, match="no module"):
        whole(("explore.moved_away",))
