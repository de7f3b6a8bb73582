"""Years of weather: days resampled within months, files given, and that each world has one of them."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pvlib
import pytest

from explore.config.compose import load_scenario
from explore.doubt import weathers
from explore.doubt.draws import Draws, points
from explore.doubt.worlds import Worlds
from explore.errors import InputError
from explore.model import Evaluator, years
from explore.run import folder as runs
from explore.run import reader
from explore.run.carried import carry
from explore.tell import doubts
from explore.year.resampled import BLOCK_DAYS, drawn_days, resampled

CLIMATE = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
ELSEWHERE = "pvlib:703165TY.csv"
MONTHS = np.repeat(np.arange(1, 13), [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])


@pytest.fixture(scope="module")
def dull(tmp_path_factory):
    """A file of the same place with half of the sun in every hour (invented)."""
    with CLIMATE.open(encoding="utf-8", newline="") as file:
        lines = list(csv.reader(file))
    sun = [
        place for place, name in enumerate(lines[1]) if name in ("GHI (W/m^2)", "DNI (W/m^2)", "DHI (W/m^2)")
    ]
    assert len(sun) == 3
    for line in lines[2:]:
        for place in sun:
            line[place] = str(float(line[place]) / 2)
    path = tmp_path_factory.mktemp("climate") / "dull.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(lines)
    return path


def of_files(*files):
    """The default case with these weather years."""
    return load_scenario("orchard", [f"doubt.weather_years=[{','.join(map(str, files))}]"])


def test_whole_days_of_the_same_month_move_in_blocks(evaluator):
    """Sun and air of a day stay together and keep their hour; five days follow one another, round the month's end."""
    own = evaluator.weather
    other = resampled(own, (1, 2))
    days = drawn_days(MONTHS, np.random.default_rng((1, 2)))
    assert np.array_equal(MONTHS[days], MONTHS)
    for name in ("ghi", "dni", "dhi", "air_temperature_K"):
        found, before = (getattr(one, name).reshape(365, 24) for one in (other, own))
        assert np.array_equal(found, before[days]), name
    assert np.array_equal(other.month, own.month)
    assert np.array_equal(other.hour, own.hour)
    for month in range(1, 13):
        within = days[month == MONTHS] - np.flatnonzero(month == MONTHS)[0]
        steps = np.diff(within) % len(within)
        inside = np.arange(1, len(within)) % BLOCK_DAYS != 0
        assert (steps[inside] == 1).all()
    assert "resampled" in other.source


def test_resampled_months_have_the_mean_and_the_spread_of_the_method(evaluator):
    """Every day is as likely as any other, so the mean is the month's own; its variance is that of the blocks' means.

    Source: D. N. Politis, J. P. Romano, A circular block-resampling procedure for stationary data, in: Exploring the
    Limits of Bootstrap, Wiley, 1992, 263-270: blocks are independent, each of the circular ones as likely as any other.
    """
    june = np.flatnonzero(MONTHS == 6)
    sums = evaluator.weather.ghi.reshape(365, 24).sum(axis=1)
    own = sums[june]
    rng = np.random.default_rng(5)
    means = np.array([sums[drawn_days(MONTHS, rng)[june]].mean() for _ in range(3000)])
    blocks = np.array([np.roll(own, -start)[:BLOCK_DAYS].mean() for start in range(len(own))])
    spread = blocks.std() / np.sqrt(len(own) / BLOCK_DAYS)
    assert means.mean() == pytest.approx(own.mean(), abs=4 * spread / np.sqrt(3000))
    assert means.std() == pytest.approx(spread, rel=0.05)


def test_each_year_comes_as_often_as_any_other(orchard):
    """Of eight years an eighth of the worlds has each; the same seed draws the same, and none are drawn if so asked."""
    draws = Draws.of(orchard)
    sample = draws.sample(points(1024, draws.dimensions, 1))
    assert np.bincount(sample.weather).tolist() == [128] * 8
    assert draws.topics[-1] == "weather"
    plain = Draws.of(load_scenario("orchard", ["doubt.resampled_years=0"]))
    assert plain.dimensions == draws.dimensions - 1
    assert "weather" not in plain.topics
    assert (plain.sample(points(16, plain.dimensions, 1)).weather == weathers.OWN).all()


def test_a_year_is_laid_out_once(evaluator, monkeypatch):
    """However many worlds have it; other worlds have others, and the longest gap moves with them."""
    made = []
    whole = years.year
    monkeypatch.setattr(
        years, "year", lambda case, weather: made.append(weather.source) or whole(case, weather)
    )
    worlds = Worlds(evaluator)
    sample = worlds.draws.sample(points(32, worlds.draws.dimensions, 1))
    assert made == []
    models = [worlds.model(sample, row) for row in range(32)]
    assert len(made) == 2 * len(set(sample.weather.tolist())) == 16  # over black ground and white
    same = np.flatnonzero(sample.weather == sample.weather[0])
    assert len({id(models[row].weather) for row in same}) == 1
    assert len({models[row].year.plane_irradiance.sum() for row in range(32)}) == 32  # the ground differs too


def test_another_year_moves_what_is_served_and_nothing_of_the_cycle(evaluator, designs):
    """Served share and longest gap follow the weather alone."""
    worlds = Worlds(evaluator)
    sample = worlds.draws.sample(points(16, worlds.draws.dimensions, 1))
    one = replace(
        sample,
        values=np.repeat(sample.values[:1], 16, axis=0),
        laws=np.repeat(sample.laws[:1], 16, axis=0),
    )
    columns = designs(80, 2)
    found = [worlds.model(one, row).evaluate(columns) for row in range(16)]
    served = np.array([each["served_share"] for each in found])
    gap = np.array([each["longest_unserved_hours"] for each in found])
    able = np.isfinite(served[0]) & (served[0] > 0.1) & (served[0] < 0.95)
    assert able.sum() > 5
    assert (np.ptp(served[:, able], axis=0) > 0.0).all()
    assert (np.ptp(gap[:, able], axis=0) > 0.0).any()
    for name in ("work_per_litre_kJ", "cost_EUR", "peak_pressure_bar_g"):
        assert all(np.array_equal(each[name], found[0][name], equal_nan=True) for each in found), name


def test_files_take_the_place_of_resampled_years(dull, designs):
    """Each world has one of the files, and half of the sun serves less."""
    case = of_files(CLIMATE, dull)
    evaluator = Evaluator(case)
    worlds = Worlds(evaluator)
    sample = worlds.draws.sample(points(8, worlds.draws.dimensions, 1))
    assert set(sample.weather.tolist()) == {0, 1}
    bright, cloudy = (worlds.model(sample, int(np.flatnonzero(sample.weather == k)[0])) for k in (0, 1))
    assert cloudy.weather.ghi.sum() == pytest.approx(bright.weather.ghi.sum() / 2)
    assert np.array_equal(bright.weather.ghi, evaluator.weather.ghi)
    assert weathers.about(case) == {"years": 2, "resampled": False, "block_days": None}


@pytest.mark.parametrize(
    ("files", "says"),
    [
        ([CLIMATE], "one year cannot differ from itself"),
        ([CLIMATE, "nowhere.csv"], "does not exist"),
        ([CLIMATE, ELSEWHERE], "give years of one place"),
    ],
)
def test_years_that_cannot_be(files, says):
    """One short sentence says what is wrong."""
    with pytest.raises(InputError, match=says) as refused:
        weathers.refuse_bad_years(of_files(*files))
    assert len(str(refused.value)) < 300


def test_the_files_go_with_the_run(dull, tmp_path):
    """They are copied into the run's folder, named as seen from there, and read from there alone."""
    run = tmp_path / "run"
    run.mkdir()
    runs.write_config(run, carry(run, of_files(CLIMATE, dull)))
    written = (run / "config.yaml").read_text()
    assert "years/2/dull.csv" in written
    assert str(tmp_path) not in written
    case = reader.judged_case(run)
    assert [Path(file).read_bytes() for file in case.doubt.weather_years] == [
        CLIMATE.read_bytes(),
        dull.read_bytes(),
    ]
    assert all(Path(file).is_relative_to(run.resolve()) for file in case.doubt.weather_years)
    (run / "config.yaml").write_text(written.replace("years/2/dull.csv", str(dull)))
    with pytest.raises(InputError, match="its own folder"):
        reader.judged_case(run)
    (run / "config.yaml").write_text(written)
    (run / "years" / "2" / "dull.csv").unlink()
    with pytest.raises(InputError, match="put it back"):
        reader.judged_case(run)


@pytest.mark.parametrize(
    ("weather", "words"),
    [
        (None, "the same year throughout"),
        ({"years": 0, "resampled": True}, "the same year throughout"),
        (
            {"years": 8, "resampled": True, "block_days": 5},
            "resampled from one typical year in blocks of 5 days",
        ),
        (
            {"years": 3, "resampled": False, "block_days": None},
            "one of 3 years of weather, as given in files",
        ),
    ],
)
def test_the_words_say_which_years(weather, words):
    """Those of before had one year only."""
    assert words in doubts.scope({"weather": weather})
