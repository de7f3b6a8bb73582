"""A search against many worlds: how designs are read over them, what is written, and that nothing is mixed."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest

from explore.config.compose import load_scenario
from explore.config.goals import by_own_values, sought
from explore.doubt.against import STREAM, AgainstWorlds, made, needed, read, worst_excess
from explore.doubt.draws import points
from explore.doubt.worlds import Worlds
from explore.errors import InputError
from explore.figures.format import record
from explore.figures.readings import KEPT, LIMIT, plain
from explore.model import Evaluator
from explore.run import reader
from explore.search import optimise
from explore.search.identity import changed, facts
from explore.search.run import model
from explore.tell import against as told
from explore.tell.page import comparison
from tests.command_line import typed

WORLDS = 6
TINY = (
    "search.designs=600",
    "search.leg_designs=200",
    "search.seconds=null",
    "search.legs_per_round=2",
    "search.worlds=4",
    "space.fluid=[n-Butane,Isopentane]",
    "scenario.limits.served_share_min=0.3",
    "engine=constant",  # the quickest: what is tried here knows of no engine, and of no store
    "space.store_mode=[stratified]",
    "report.sheets=10",  # the fewest: each costs as much as some hundred designs
)


@pytest.fixture(scope="module")
def cautious():
    """The default case, searched cautiously over a few worlds."""
    return load_scenario("orchard", ["search.against=cautious", f"search.worlds={WORLDS}"])


@pytest.fixture(scope="module")
def searched(tmp_path_factory):
    """A tiny search against worlds, by one worker: its folder."""
    results = tmp_path_factory.mktemp("cautious")
    assert typed("search.against=cautious", "search.workers=1", *TINY, f"results_folder={results}") == 0
    (run,) = (results / "orchard").iterdir()
    return run


def test_in_how_many_worlds_limits_must_be_kept():
    """Never fewer than the share asked for; rounding alone asks for no world more."""
    assert [needed(16, 0.8), needed(16, 0.5), needed(10, 0.8), needed(5, 0.8), needed(1000, 0.8)] == [
        13,
        8,
        8,
        4,
        800,
    ]


def test_a_normal_figure_reads_as_its_quantiles(orchard):
    """Four of five of normal draws lie above the mean less 0.8416 spreads, half above the mean.

    Source: M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, 1964, table 26.5: Q(x)=0.2 at x=0.84162.
    """
    more, less, _ = orchard.scenario.objectives
    assert (more.direction, less.direction) == ("maximise", "minimise")
    draws = 10.0 + 2.0 * np.random.default_rng(1).standard_normal((200_000, 1))
    assert read(draws, more, 0.8)[0] == pytest.approx(10.0 - 2.0 * 0.84162, abs=0.02)
    assert read(draws, less, 0.8)[0] == pytest.approx(10.0 + 2.0 * 0.84162, abs=0.02)
    assert read(draws, more, 0.5)[0] == pytest.approx(10.0, abs=0.02)


@pytest.mark.parametrize("worlds", [4, 8, 12, 16, 24])
@pytest.mark.parametrize("share", [0.5, 0.8])
def test_what_is_read_is_reached_in_as_many_worlds_as_limits_must_be(orchard, worlds, share):
    """Counted: no design reaches what it is read by in one world too few."""
    more, less, _ = orchard.scenario.objectives
    draws = np.random.default_rng(worlds).random((worlds, 50))
    assert np.all((draws >= read(draws, more, share)).sum(axis=0) == needed(worlds, share))
    assert np.all((draws <= read(draws, less, share)).sum(axis=0) == needed(worlds, share))


def test_the_limit_broken_worst_counts_in_its_own_scale():
    """By hand: kept margins count by the nearest limit; what nature forbids only where it is broken."""
    margins = {
        "violation_served_share_fraction": np.array([-0.1, 0.1, -0.1, np.nan]),
        "violation_peak_pressure_bar": np.array([-2.0, -2.0, -2.0, -5.0]),
        "violation_laws_of_nature_fraction": np.array([-1e-9, -1e-9, 0.3, -1e-9]),
    }
    found = worst_excess({"feasible": np.array([True, False, False, True])} | margins)
    share, bar = (
        record(f"violation_{name}").scale for name in ("served_share_fraction", "peak_pressure_bar")
    )
    assert found == pytest.approx([max(-0.1 / share, -2.0 / bar), 0.1 / share, 0.3, -5.0 / bar])


def test_designs_are_read_over_worlds(cautious, designs):
    """Usual columns are those of the run's own values, bit for bit; those beside are read off each world by itself."""
    columns = designs(300, 8)
    limits = cautious.scenario.limits.model_copy(
        update={"served_share_min": 0.1}
    )  # of designs at random few serve more
    case = cautious.model_copy(update={"scenario": cautious.scenario.model_copy(update={"limits": limits})})
    evaluator = Evaluator(case)
    found, own = AgainstWorlds(sought(case)).evaluate(columns), evaluator.evaluate(columns)
    for name in own:
        if name != "feasible":
            assert np.array_equal(found[name], own[name], equal_nan=own[name].dtype.kind == "f"), name
    worlds = Worlds(evaluator)
    seed = int(np.random.SeedSequence((cautious.doubt.seed, STREAM)).generate_state(1)[0])
    sample = worlds.draws.sample(points(WORLDS, worlds.draws.dimensions, seed))
    each = [worlds.model(sample, row).evaluate(columns) for row in range(WORLDS)]
    for name, share in (("work_per_litre_kJ", 0.2), ("cost_EUR", 0.8), ("peak_pressure_bar_g", 0.8)):
        wanted = np.quantile([one[name] for one in each], share, axis=0)
        assert found[f"cautious_{name}"] == pytest.approx(wanted, rel=1e-12)
    kept = np.sum([one["feasible"] for one in each], axis=0)
    assert found[KEPT.name] == pytest.approx(kept / WORLDS)
    assert needed(WORLDS, 0.8) == 5
    assert np.array_equal(found[LIMIT.name] <= 0.0, kept >= 5)
    assert np.array_equal(found["feasible"], own["feasible"] & (kept >= 5))
    assert 0 < found["feasible"].sum() < own["feasible"].sum()
    extra = set(found) - set(own)
    assert all(plain(name) != name or name in (KEPT.name, LIMIT.name) for name in extra)


def test_objectives_are_named_after_their_reading(cautious, orchard):
    """And only those of a search over worlds; what is written and read again is the scenario's own."""
    names = [one.figure for one in sought(cautious).scenario.objectives]
    assert names == ["cautious_work_per_litre_kJ", "cautious_cost_EUR", "cautious_peak_pressure_bar_g"]
    assert sought(sought(cautious)) == sought(cautious)
    assert by_own_values(sought(cautious)) == cautious
    assert sought(orchard) is orchard
    assert record(names[0]).label == "Work per litre of hot water, cautious"
    assert record(names[0]).unit == "kJ/L"


def test_a_campaign_is_of_its_worlds(cautious, orchard):
    """Another reading, number of worlds, band or year makes another campaign; by own values no band does."""

    def differ(*words, base=cautious, factory=made):
        other = load_scenario("orchard", words)
        return changed(facts(sought(base), factory), facts(sought(other), factory))

    over = ("search.against=cautious", f"search.worlds={WORLDS}")
    assert differ(*over) == []
    assert "search settings" in differ("search.against=likely", over[1])
    assert "search settings" in differ(over[0], "search.worlds=7")
    assert differ(*over, "doubt.bands.ring_gap_um=[11,14]") == ["doubt"]
    assert differ(*over, "doubt.resampled_years=0") == ["doubt"]
    assert differ("doubt.bands.ring_gap_um=[11,14]", base=orchard, factory=model) == []


def test_a_search_of_the_plain_model_is_refused(cautious):
    """Whoever passes no model over worlds would search by the run's own values unawares."""
    with pytest.raises(InputError, match="needs a model that reads designs over worlds"):
        optimise(sought(cautious))


def test_the_files_hold_both_readings(searched):
    """The front is that of the cautious objectives; usual columns are by the run's own values; the curse is told."""
    front, designs = (pd.read_csv(searched / name) for name in ("front.csv", "designs.csv"))
    assert (front["feasible"] & (front[KEPT.name] == 1.0)).all()  # of 4 worlds, the fourth is needed for 80 %
    own = load_scenario(searched / "config.yaml")
    assert own.search.against == "cautious"
    assert own.scenario.objectives[0].figure == "work_per_litre_kJ"
    again = model(own).evaluate(
        {name: front[name].to_numpy() for name in front.columns[:22] if name in front}
    )
    assert front["work_per_litre_kJ"].to_numpy() == pytest.approx(again["work_per_litre_kJ"], rel=1e-9)
    assert (front["cautious_work_per_litre_kJ"] < front["work_per_litre_kJ"] * (1 - 1e-6)).mean() > 0.9
    values = front[
        ["cautious_work_per_litre_kJ", "cautious_cost_EUR", "cautious_peak_pressure_bar_g"]
    ].to_numpy()
    values = values * [-1, 1, 1]
    for row in values:
        assert not ((values <= row).all(axis=1) & (values < row).any(axis=1)).any()
    assert {"cautious_work_per_litre_kJ", LIMIT.name} <= set(designs)
    summary = reader.read_summary(searched)
    about = summary["against"]
    assert (about["reading"], about["worlds"], about["needed"]) == ("cautious", 4, 4)
    assert summary["hypervolume_scale"][0]["figure"] == "cautious_work_per_litre_kJ"
    for one in about["promises"]:
        naive, mine = one["nominal"], one["recommended"]
        most = one["figure"] == "work_per_litre_kJ"
        assert (naive["promised"] >= mine["promised"] * (1 - 0.02)) if most else True
        assert naive["lost_share"] == pytest.approx(
            abs(naive["promised"] - naive["held"]) / naive["promised"]
        )
        assert mine["worlds_kept_share"] == 1.0
    page = (searched / "report.html").read_text()
    assert "Searched against 4 plausible worlds" in page
    assert "Optimiser" in page


def test_the_same_front_with_two_workers(searched, tmp_path):
    """Worlds are the same in every process."""
    words = ("search.against=cautious", "search.workers=2", *TINY, f"results_folder={tmp_path}")
    assert typed(*words) == 0
    (run,) = (tmp_path / "orchard").iterdir()
    assert (run / "front.csv").read_bytes() == (searched / "front.csv").read_bytes()


def test_a_run_is_not_gone_on_with_otherwise(searched, capsys):
    """Neither by another word typed, nor by a configuration that was changed meanwhile."""
    assert typed(f"resume={searched}", "search.against=likely", "search.designs=1200") == 2
    assert "cannot change within a run" in capsys.readouterr().err
    config = searched / "config.yaml"
    before = config.read_text()
    config.write_text(before.replace("against: cautious", "against: nominal"))
    try:
        assert typed(f"resume={searched}", "search.designs=1200") == 2
    finally:
        config.write_text(before)
    err = capsys.readouterr().err
    assert "search settings" in err
    assert err.count("\n") == 1


def test_other_tasks_take_such_a_run(searched, tmp_path, capsys):
    """One design whole, other prices, and its front beside another search."""
    assert typed("task=inspect", f"design={searched / 'front.csv'}", "row=1") == 0
    assert (
        typed("task=reprice", f"run={searched}", "costs.store_EUR_per_L065=40", f"results_folder={tmp_path}")
        == 0
    )
    out = capsys.readouterr().out
    assert "judged by the values of the case alone" in " ".join(out.split())
    (run,) = (tmp_path / "orchard").iterdir()
    assert "against: nominal" in (run / "config.yaml").read_text()
    two = sides_of(read_sides([run, searched]))
    assert two[0] == ["work_per_litre_kJ", "cost_EUR", "peak_pressure_bar_g"]
    assert two[1][-1].title == "The compromise"
    assert all("–" not in cells for role in two[1] for name, cells in role.lines if name == "Cost")
    assert not any("figure" in name for name, _ in two[2])
    words = (
        "search.against=likely",
        f"beside={run}",
        "search.workers=1",
        *TINY,
        f"results_folder={tmp_path / 'new'}",
    )
    assert typed(*words) == 0
    (new,) = (tmp_path / "new" / "orchard").iterdir()
    about = json.loads((new / "summary.json").read_text())["against"]
    assert about["beside"] == str(run)
    assert 0 <= about["front_kept"] <= about["front_designs"] == len(pd.read_csv(run / "front.csv"))
    assert "designs of that front" in " ".join(capsys.readouterr().out.split())


def sides_of(sides):
    """What a comparison shows: axes, recommended designs, and what was set differently."""
    return (
        comparison.axes(sides),
        comparison._picks(sides),
        list(comparison.differences([one.run for one in sides])),
    )


def read_sides(folders):
    """Two runs under their letters."""
    return [comparison._side(number, one) for number, one in enumerate(folders)]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("search.against=brave",), "search.against"),
        (("search.worlds=2",), "search.worlds=2"),
        (("beside=nowhere",), "add search.against=cautious"),
        (("search.against=cautious", "beside=nowhere"), "no run there"),
    ],
)
def test_what_cannot_be_asked(words, says, tmp_path, capsys):
    """One short sentence, status 2, and nothing is written."""
    assert (
        typed(*words, *(word for word in TINY if "worlds" not in word), f"results_folder={tmp_path / 'none'}")
        == 2
    )
    out, err = capsys.readouterr()
    assert says in err
    assert err.count("\n") == 1
    assert len(err) < 320
    assert out == ""
    assert not (tmp_path / "none").exists()


def test_the_curse_in_words():
    """What is lost is said in its direction, and how many of a front beside keep their limits."""
    design = {
        "fluid": "n-Butane",
        "promised": 10.0,
        "held": 8.0,
        "lost_share": 0.2,
        "worlds_kept_share": 0.25,
    }
    one = {
        "figure": "work_per_litre_kJ",
        "nominal": design,
        "recommended": design | {"worlds_kept_share": 0.875},
    }
    found = {
        "reading": "cautious", "worlds": 16, "needed": 13, "beside": "", "front_designs": 9, "front_kept": 2,
        "promises": [one],
    }  # fmt: skip
    how, curse = told.words(found)
    assert "16 plausible worlds" in how
    assert (
        "promises 10.0 kJ/L and holds 8.00 kJ/L in four of five worlds (20 % less), keeping every limit in 4 of 16"
        in curse
    )
    assert "keeping every limit in 14 of 16" in curse
    beside = told.words(found | {"beside": "results/a"})[1]
    assert "Of the 9 designs of that front (results/a)" in beside
    dear = {"figure": "cost_EUR", **{key: design | {"held": 12.0} for key in ("nominal", "recommended")}}
    assert "20 % more" in told.words(found | {"promises": [dear]})[1]
    assert told.words({}) == []
