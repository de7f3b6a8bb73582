"""A day of a real design: it agrees with the year's hours, its pressures are the model's, its files are whole."""

from __future__ import annotations

import csv
import datetime
import io
import re
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from CoolProp.CoolProp import PropsSI

import explore
from explore import cli
from explore.config.compose import compose_case
from explore.design.variables import INPUTS
from explore.errors import InputError
from explore.model import Evaluator, years
from explore.model.day import agreement, by_hour, date_of, day, last_set
from explore.model.details import records
from explore.run.design_file import evaluated
from explore.tell.day import words
from explore.tell.day.page import hours, page
from explore.tell.day.table import minutes_csv
from explore.year.hours import HourBooks, loss_ahead
from explore.year.season import Diary, mixed_year, stratified_year

FRONT = Path(__file__).parent / "data" / "day_designs.csv"
SAMPLE = Path(__file__).parents[1] / "results" / "example"
ROWS = {"stratified": 1, "throttle": 3, "cut_off": 2}
"""Lines of a search's front: a stratified store, and a fully mixed one with either governor."""
DATES = ("07-20", "cloudy", "01-15")
AGREES = 0.03
"""What is promised."""


@pytest.fixture(scope="module")
def model():
    """The default case and its model."""
    case = compose_case(["task=day"])
    return case, Evaluator(case, case.search.properties)


@pytest.fixture(scope="module")
def told(model):
    """A function that follows a line of the sample run through a day, once."""
    case, evaluator = model
    held = {}

    def follow(kind, date):
        if (kind, date) not in held:
            figures = records(evaluated(FRONT, case, ROWS[kind]))[0]
            held[kind, date] = figures, day(evaluator, figures, on(evaluator, date))
        return held[kind, date]

    return follow


def on(evaluator, date):
    """A date, or the day of the season with the least sun."""
    if date != "cloudy":
        return date_of(date)
    sun = evaluator.year.plane_irradiance.reshape(-1, 24).sum(axis=1)
    asked = evaluator.year.demand.reshape(-1, 24).any(axis=1)
    number = int(np.argmin(np.where(asked, sun, np.inf)))
    return datetime.date(1990, 1, 1) + datetime.timedelta(number)


@pytest.mark.parametrize("date", DATES)
@pytest.mark.parametrize("kind", ROWS)
def test_hours_agree_with_the_year(told, kind, date):
    """Each hour within 3 % of the greatest hour of its account; the standing loss of the day's greatest hour of heat.

    Of itself the loss differs by more: the hourly march takes it before the engine's draw (tests/test_day.py shows that
    it comes to the day's with shorter hours).
    """
    _, day_ = told(kind, date)
    found = agreement(day_)
    assert (day_.loss_ahead_J.any()) == (kind == "stratified")
    for name in ("collected", "drawn", "served", "dumped"):
        assert found[name].own_hour < AGREES, name
        assert abs(found[name].day) < AGREES, name
    assert found["lost"].hour < AGREES
    assert abs(found["lost"].day) < 0.05
    assert abs(day_.march.unclosed()) < 1e-9


@pytest.mark.parametrize("date", DATES)
def test_the_loss_differs_by_the_order_of_the_hour(told, date):
    """What the hourly march loses beyond the day is UA/(m c) x 1 h x half of what came, was kept and was drawn.

    It leaves 0.3 % of the day's loss (of 4 %), and 4 % of its greatest hour (of 9 %), where the store runs empty in it.
    """
    _, day_ = told("stratified", date)
    own, theirs = by_hour(day_.march, "lost"), day_.hours.lost
    assert abs(float(np.sum(own - theirs + day_.loss_ahead_J))) < 0.003 * float(np.sum(theirs))
    assert np.max(np.abs(own - theirs + day_.loss_ahead_J)) < 0.04 * np.max(theirs)
    if date == "07-20":
        assert float(np.sum(own - theirs)) < -0.03 * float(np.sum(theirs))
        share = -100.0 * np.sum(day_.loss_ahead_J) / np.sum(theirs)
        assert f"which makes {share:+.1f} % by itself" in words.compared(day_)


def test_the_order_of_an_hour_by_hand(model):
    """Of 100 MJ kept and 60 MJ drawn in an hour, 4 of them at once, UA/(m c) x 3600 s x 82 MJ is lost too much."""
    case, evaluator = model
    run = evaluator.run(evaluator.designs({
        name: np.array([one]) for name, one in records(evaluated(FRONT, case, 1))[0].items() if name in INPUTS
    }))  # fmt: skip
    plants = years.stratified_plants(case, evaluator.plant, evaluator.water, run.designs, run.done)
    hour = np.eye(24)[7]
    books = HourBooks((0.5, 20.0), 110e6 * hour, 0.0 * hour, 10e6 * hour, 60e6 * hour, hour)
    found = loss_ahead(plants, books, 4e6 * hour)
    volume, top = float(run.designs.volume[0]), float(run.designs.top_temperature[0])
    density, heat = (PropsSI(name, "T", top - 20.0, "P", 101325, "Water") for name in ("D", "C"))
    seconds = volume * density * heat / float(run.done.store.loss[0])
    assert found[7] == pytest.approx(3600.0 / seconds * 82e6, rel=0.03)
    assert found.sum() == found[7]


@pytest.mark.parametrize("kind", ROWS)
def test_the_year_has_the_day_in_it(model, told, kind):
    """The hours set beside the minutes are those of the year: the diary of the whole march says the same."""
    case, evaluator = model
    figures, day_ = told(kind, "07-20")
    run = evaluator.run(evaluator.designs({name: np.array([figures[name]]) for name in INPUTS}))
    given = (case, evaluator.plant, evaluator.water, run.designs, run.done)
    diary = Diary(evaluator.year, 1)
    if kind == "stratified":
        stratified_year(evaluator.year, years.stratified_plants(*given), diary=diary)
    else:
        mixed_year(evaluator.year, years.mixed_plants(*given), diary=diary)
    first = 24 * (day_.date - datetime.date(1990, 1, 1)).days
    served = np.diff(diary.served[first : first + 25, 0])
    heat = np.diff(diary.heat[first : first + 25, 0])
    np.testing.assert_allclose(day_.hours.served, served, atol=1e-9)
    np.testing.assert_allclose(day_.hours.collected - day_.hours.dumped, heat, atol=1.0)
    assert diary.level[first, 0] == pytest.approx(day_.hours.start[0], rel=1e-9)


def test_standing_hot_is_the_models_standstill_pressure(model, told):
    """With hot water and the engine at rest the boiler has the standstill pressure without its margin, never more."""
    case, _ = model
    limits = case.scenario.limits.model_copy(update={"standstill_margin_K": 0.0})
    scenario = case.scenario.model_copy(update={"limits": limits})
    bare = records(
        evaluated(FRONT, case.model_copy(update={"scenario": scenario}), ROWS["stratified"])
    )[0]  # fmt: skip
    figures, day_ = told("stratified", "01-15")
    pressure = day_.minutes["boiler_pressure_bar_g"]
    assert pressure.max() == pytest.approx(bare["standstill_pressure_bar_g"], abs=1e-6)
    assert pressure.max() < figures["standstill_pressure_bar_g"]
    np.testing.assert_allclose(day_.minutes["condenser_pressure_bar_g"], figures["rest_pressure_bar_g"])


def test_the_pressure_rises_when_a_hot_engine_stops(told):
    """Before the stop the boiler is colder than the store by its approach, after it as hot as the store."""
    _, day_ = told("throttle", "07-20")
    pressure, serving = day_.minutes["boiler_pressure_bar_g"], day_.serving
    stop = int(np.flatnonzero(serving)[-1])
    assert stop == 22 * 60 - 1
    assert pressure[stop + 1] > pressure[stop] + 0.05


def test_an_emptied_store_does_not_empty_the_boiler_of_pressure(told):
    """When hot water ends the boiler is still as hot as it boiled: its line falls to no less before the day is over."""
    _, day_ = told("stratified", "07-20")
    pressure, serving = day_.minutes["boiler_pressure_bar_g"], day_.serving
    last = int(np.flatnonzero(serving)[-1])
    assert last < len(serving) - 1
    assert pressure[last + 1 :].min() >= pressure[last] - 1e-9
    flags = np.array([False, True, False, False, True, False])
    np.testing.assert_array_equal(last_set(flags), [0, 1, 1, 1, 4, 4])


def test_governors_hold_the_power_until_the_sizing_point(told):
    """A throttle lets the pressure behind it fall; at full admission it has that of the boiler."""
    _, day_ = told("throttle", "07-20")
    runs = np.flatnonzero(day_.serving)
    inlet, boiler = day_.minutes["inlet_pressure_bar_g"], day_.minutes["boiler_pressure_bar_g"]
    assert np.all(inlet[runs] <= boiler[runs] + 2e-3)
    assert inlet[runs[0]] < boiler[runs[0]] - 0.1
    held = day_.minutes["hottest_degC"][runs] + 273.15 > day_.sizing_temperature_K + 0.1
    np.testing.assert_allclose(day_.minutes["shaft_W"][runs][held], day_.power_W, rtol=2e-3)
    assert np.all(np.isnan(day_.minutes["cut_off"][~day_.serving]))


@pytest.mark.parametrize("kind", ROWS)
def test_the_table_adds_up_to_the_account(told, kind):
    """Minutes read back from the table: what came less what went is what the store holds more, to a millionth."""
    _, day_ = told(kind, "07-20")
    rows = list(csv.DictReader(io.StringIO(minutes_csv(day_))))
    assert [rows[0]["clock"], rows[-1]["clock"], len(rows)] == ["00:00", "23:59", 1440]
    sums = {
        name: 60.0 * sum(float(row[f"{name}_W"]) for row in rows)
        for name in ("collected", "lost", "dumped", "drawn")
    }
    kept = day_.march.content_J[-1] - day_.march.content_J[0]
    rest = sums["collected"] - sums["lost"] - sums["dumped"] - sums["drawn"] - kept
    assert abs(rest) < 1e-6 * sums["collected"]
    assert 3.6e6 * float(rows[0]["heat_kWh"]) == pytest.approx(day_.march.content_J[0], rel=1e-6)


@pytest.mark.parametrize("date", DATES)
@pytest.mark.parametrize("kind", ROWS)
def test_words_tell_the_day_in_its_order(told, kind, date):
    """From midnight to midnight; a stop after each start; nothing of service where none is asked for."""
    _, day_ = told(kind, date)
    lines = words.happened(day_)
    times = [one.when for one in lines]
    assert times == sorted(times)
    assert (times[0], times[-1]) == ("00:00", "24:00")
    text = words.summary(day_, "the fluid", "the scenario")
    assert text.startswith("the scenario\n")
    assert ("No power is asked for" in text) == (date == "01-15")
    assert ("engine stops" in text) == (date != "01-15")
    assert text.count("engine stops") <= text.count("The engine runs")  # it stops once for each time it ran
    assert "nan" not in text
    assert len(hours(day_)) == 24


def test_a_warm_up_that_the_store_lacks_is_told():
    """Asked for in all hours, it falls to midnight, when the store is empty: what counts as done is said."""
    case = explore.load_scenario("orchard", [f"scenario.demand.hours={[*range(24)]}".replace(" ", "")])
    figures = records(evaluated(FRONT, case, ROWS["stratified"]))[0]
    day_ = day(Evaluator(case, case.search.properties), figures, date_of("07-15"))
    taken = sum(one.warm_up_J for one in day_.march.happenings) + float(day_.march.accounts["warmed"][60])
    assert day_.march.forgotten_J > 3e5
    assert taken < 0.1 * day_.march.forgotten_J
    text = words.summary(day_, "the fluid", "the scenario")
    assert "of the warm-up were not there in its hour and count as done" in text
    assert "engine stops" not in text.splitlines()[9]  # at midnight it did not run


@pytest.mark.parametrize("date", DATES)
def test_a_days_pressure_is_not_one_to_build_for(told, date):
    """The greatest of one day may lie far below what the plant must hold: the sentence sends to the sheet."""
    _, day_ = told("stratified", date)
    assert words.highest(day_).endswith("what to build and test for stands on the sheet of task=build.")
    assert day_.march.forgotten_J == 0.0


def test_what_is_put_into_the_page_is_escaped(told):
    """The title of a scenario is text, the page fetches nothing."""
    figures, day_ = told("cut_off", "07-20")
    text = page(day_, figures, "<b>fluid", "<script>alert(1)</script>", [])
    assert "<b>fluid" not in text
    assert "<script>alert" not in text
    assert not re.search(r"<(script|link|img)[^>]+(src|href)=.?(http|//)", text)
    assert "default-src &#39;none&#39;" in text
    assert 'id="chart-governor"' in text


@pytest.fixture
def here(tmp_path, monkeypatch, capfd):
    """An empty working folder, and a function that runs the command in it."""
    monkeypatch.chdir(tmp_path)

    def run(*typed):
        monkeypatch.setattr(sys, "argv", ["explore", "task=day", *typed])
        return cli.main(), *capfd.readouterr()

    return run


def test_the_command_writes_two_files_and_never_over_others(here, tmp_path):
    """A new folder with page and table; asked again, one sentence and the files as they were."""
    typed = (f"design={FRONT}", "row=1", "date=07-20", "output=day")
    status, out, err = here(*typed)
    assert (status, err) == (0, "")
    assert "20 July of the typical year" in out
    assert "Local codes" not in err
    held = {path.name: path.read_bytes() for path in (tmp_path / "day").iterdir()}
    assert set(held) == {"day.html", "minutes.csv"}
    status, _, err = here(*typed)
    assert status == 2
    assert "output=day" in err
    assert {path.name: path.read_bytes() for path in (tmp_path / "day").iterdir()} == held


@pytest.mark.parametrize("task", ["day", "build"])
def test_a_design_of_a_run_is_told_of_under_the_runs_own_configuration(monkeypatch, tmp_path, capfd, task):
    """Not under the default scenario, unless another is asked for: power, place and room are those it was found for."""
    run = tmp_path / "run"
    run.mkdir()
    for name in ("front.csv", "summary.json"):
        (run / name).write_bytes((SAMPLE / name).read_bytes())
    config = (SAMPLE / "config.yaml").read_text(encoding="utf-8")
    own = re.sub(r"(?m)^  title: .*", "  title: Another place", config)
    (run / "config.yaml").write_text(own, encoding="utf-8")
    typed = ["explore", f"task={task}", f"design={run / 'front.csv'}", "row=1", f"output={tmp_path / 'told'}"]
    monkeypatch.setattr(sys, "argv", [*typed, *(["date=07-20"] if task == "day" else [])])
    assert (cli.main(), capfd.readouterr().err) == (0, "")
    assert "Another place" in (tmp_path / "told" / f"{task}.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        (["date=07-15"], "needs design=FILE.yaml"),
        ([f"design={FRONT}", "date=07-15"], "say which line with row=N"),
        ([f"design={FRONT}", "row=1"], "needs date=MM-DD"),
        ([f"design={FRONT}", "row=9999", "date=07-15"], "row=9999 is out of range"),
        (["design=none.yaml", "date=07-15"], "none.yaml"),
        ([f"design={FRONT}", "row=1", "date=07-15", "output=no/such"], "make it first"),
        ([f"design={FRONT}", "row=1", "date=07-15", "draws=64"], "task=day does not use it"),
        (["design=cold.yaml", "date=07-15"], "physics forbids this design"),
        *(
            ([f"design={FRONT}", "row=1", f"date={date}"], f"date={said}")
            for date, said in (
                ("2024-07-15", "2024-07-15: the weather is a typical year"),
                ("02-29", "'02-29' is no day of a typical year"),
                ("13-01", "'13-01' is no day"),
                ("04-31", "'04-31' is no day"),
                ("july", "'july' is no day"),
                ("0715", "'0715' is no day"),
            )
        ),
    ],
)
def test_bad_input_is_one_sentence(here, tmp_path, typed, says):
    """Status 2, one sentence below 300 characters, nothing written."""
    there = []
    if "design=cold.yaml" in typed:
        figures = pd.read_csv(FRONT)[list(INPUTS)].iloc[0].dropna()
        text = "".join(f"{name}: {value}\n" for name, value in figures.items())
        there = [tmp_path / "cold.yaml"]
        there[0].write_text(re.sub(r"(?m)^(condensing_temperature_degC): .*", r"\1: 14.5", text))
    status, _, err = here(*typed)
    assert status == 2
    assert says in err
    assert len(err) < 300
    assert err.count("\n") == 1
    assert list(tmp_path.iterdir()) == there


@pytest.mark.parametrize(("text", "date"), [("07-15", (7, 15)), ("7-4", (7, 4)), ("02-28", (2, 28))])
def test_dates_are_month_and_day(text, date):
    """With or without leading zeros."""
    found = date_of(text)
    assert (found.month, found.day) == date
    with pytest.raises(InputError, match="is no day"):
        date_of(f"{text}x")
