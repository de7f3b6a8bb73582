"""Every outside check, one test each, with its source in the name; and that the checks can fail."""

from __future__ import annotations

import re
import sys
from collections import Counter
from importlib.resources import files

import numpy as np
import pytest

from explore import cli
from explore.errors import InputError
from explore.fluids.water import Water
from explore.judgement import hazards, safety_class, vessels
from explore.plant import boiler, engine, exchange, pump, site, store
from explore.plant.correlations import boiling, drop, single_phase
from explore.plant.parts import engine as engine_part
from explore.tell.checks import checks_text
from explore.verify import run, verdict
from explore.verify.bench import Bench
from explore.verify.registry import all_checks
from explore.verify.results import COLUMNS
from explore.verify.sources import SOURCES
from explore.year import sun

CHECKS = all_checks()
AUTHORS = {re.split(r"[ ,(]", work)[0] for work in SOURCES.values()} - {"worked", "what", "makers'"}
BINDING = [check for check in CHECKS if check.binding]
MEASURED = {"measured", "measured, from memory", "measured, conditions assumed"}
KINDS = {"published", "recomputed", "common practice, no source", "from memory"} | MEASURED


@pytest.fixture(scope="module")
def bench():
    """What all checks of this module share."""
    return Bench()


@pytest.fixture(scope="module")
def money():
    """Results of one topic."""
    return run(["money"])


@pytest.mark.parametrize("check", BINDING, ids=lambda check: f"{check.id} ({check.source[:80]})")
def test_published(check, bench):
    """The model gives the published value within the stated tolerance; id and source stand in the name."""
    ours = check.ours(bench)
    assert check.within(ours), (
        f"{check.quantity}: {ours:.8g} against {check.published:.8g} {check.unit}; {check.source}"
    )


def test_how_many_checks_there_are():
    """At least 80 checks in at least 10 topics; at least 20 through the plant and 20 through the whole system."""
    ways = Counter(check.way for check in BINDING)
    assert len(BINDING) >= 80
    assert len({check.topic for check in BINDING}) >= 10
    assert ways["component"] >= 20
    assert ways["system"] >= 20


def test_no_topic_rests_on_memory():
    """Every topic has a check that is seen in print or worked out from a published formula."""
    for topic in {check.topic for check in BINDING}:
        kinds = {check.kind for check in BINDING if check.topic == topic}
        assert kinds & {"published", "recomputed"}, topic
    measured = {check.topic for check in CHECKS if not check.binding}
    assert not measured & {check.topic for check in BINDING}


def test_every_check_is_whole():
    """Ids are unique; every check has a source, a known kind and a tolerance that something can break."""
    assert len({check.id for check in CHECKS}) == len(CHECKS)
    for check in CHECKS:
        assert check.kind in KINDS
        assert len(check.source) > 10
        assert check.tolerance < 0.25 if check.relative else check.tolerance >= 0.0
        assert not check.within(np.nan)
        assert not check.within(2.0 * check.published + 3.0 * check.tolerance + 1.0)


def test_topics_can_be_typed():
    """The name of a topic holds nothing that the command line would read as its own grammar."""
    assert all(re.fullmatch(r"[A-Za-z -]+", check.topic) for check in CHECKS)


def test_facts_of_the_trade_are_marked():
    """What gauges on bottled butane and dealers' tables of bottled gas show carries no source and says so."""
    facts = {check.id for check in CHECKS if check.kind == "common practice, no source"}
    assert {"bottled-butane-22", "bottled-butane-40", "bottled-butane--3"} <= facts
    assert all(re.fullmatch(r"bottled-(butane|gas)-\S+", fact) for fact in facts)


def test_every_data_file_cites_its_source():
    """A data file starts with a header that names the works it quotes, and no path or host."""
    found = [file for file in (files("explore.verify") / "data").iterdir() if file.name.endswith(".csv")]
    assert len(found) >= 10
    for file in found:
        header = "".join(line for line in file.read_text(encoding="utf-8").splitlines(True) if line[0] == "#")
        assert any(name in header for name in AUTHORS), file.name
        assert "http" not in header
        assert "/home" not in header


# What is changed in the model, by how much, and the topic whose checks must notice.
CHANGES = [
    (pump, "GRAVITY", 1.01, "air and pumps"),
    (site, "SEA_LEVEL_PA", 1.001, "air and pumps"),
    (hazards, "MOLAR_VOLUME", 1.05, "fire and poison"),
    (hazards, "LFL_SHARE", 1.05, "fire and poison"),
    (hazards, "CLASS_3_LFL_KG_PER_M3", 0.3, "fire and poison"),
    (safety_class, "CLASS_B_LIMIT_PPM", 0.05, "fire and poison"),
    (engine_part, "ENGINE_EXPONENT", 1.01, "money"),
    (boiling, "COOPER_EXPONENT", 1.01, "films and pressure drops"),
    (vessels, "LEAST_DESIGN_PRESSURE_BAR_G", 1.05, "pressure vessels"),
    (sun, "DIFFUSE_INCIDENCE_DEG", 1.05, "collectors"),
]
# Functions of the model whose result is changed by a factor.
SCALED = [
    (pump, "feed_work", 1.01, "Rankine cycles"),
    (engine, "_kept", 0.99, "Rankine cycles"),
    (engine, "_kept", 0.99, "piston expander"),
    (exchange, "log_mean", 1.005, "heat exchangers"),
    (drop, "gradient", 1.01, "films and pressure drops"),
    (single_phase, "gnielinski", 1.01, "films and pressure drops"),
    (store, "radius", 1.01, "hot-water store"),
    (vessels, "proof_test_bar_g", 1.01, "pressure vessels"),
    (Water, "density", 1.005, "exergy and bounds"),
    (Water, "entropy", 1.005, "exergy and bounds"),
]


@pytest.mark.parametrize(("module", "name", "factor", "topic"), CHANGES, ids=lambda value: str(value)[-30:])
def test_a_changed_constant_is_noticed(module, name, factor, topic, monkeypatch):
    """A check of its topic leaves the tolerance when a constant of the model is a little different."""
    monkeypatch.setattr(module, name, factor * getattr(module, name))
    assert not run([topic])["within"].all()


@pytest.mark.parametrize(("module", "name", "factor", "topic"), SCALED, ids=lambda value: str(value)[-30:])
def test_a_changed_function_is_noticed(module, name, factor, topic, monkeypatch):
    """A check of its topic leaves the tolerance when a function of the model gives a little more or less."""
    right = getattr(module, name)
    monkeypatch.setattr(module, name, lambda *a, **k: factor * right(*a, **k))
    assert not run([topic])["within"].all()


def test_vapour_raised_is_noticed(monkeypatch):
    """Two per cent more vapour from the same hot water breaks the finite-source example and the bounds."""
    right = boiler.flows
    monkeypatch.setattr(boiler, "flows", lambda *a: [1.02 * m for m in right(*a)])
    found = run(["Rankine cycles", "exergy and bounds"]).set_index("check")
    assert not found.loc["finite-water-power", "within"]
    assert not found.loc["bound-1", "within"]
    assert found.loc["moran-8.1-efficiency", "within"]


def test_results_have_the_promised_columns(money):
    """The frame has one row a check with the columns that page and terminal read."""
    assert tuple(money.columns) == COLUMNS
    assert COLUMNS[:11] == (
        "check", "topic", "quantity", "ours", "published", "unit", "deviation", "tolerance", "within", "source",
        "kind",
    )  # fmt: skip
    assert set(money["topic"]) == {"money"}


def test_table_shows_every_check_and_source(money, monkeypatch):
    """The table has a line for each check, every source once, and the verdict last."""
    monkeypatch.setenv("COLUMNS", "200")
    text = checks_text(money)
    assert text.count("recomputed [") + text.count("published [") == len(money)
    assert all(text.count(f"] {source[:40]}") == 1 for source in set(money["source"]))
    assert text.endswith(verdict(money))
    assert "all within tolerance" in text
    assert "outside" not in text


def test_table_marks_what_is_outside(money, monkeypatch):
    """A check outside its tolerance is marked in its line and named in the verdict."""
    monkeypatch.setenv("COLUMNS", "200")
    broken = money.assign(within=money["check"] != "six-tenths-2")
    text = checks_text(broken)
    assert next(line for line in text.splitlines() if "<-- outside" in line).startswith("  engine 2 times")
    assert "OUTSIDE: six-tenths-2" in verdict(broken)


def test_unknown_topic():
    """A topic that does not exist is refused with the list of those that do."""
    with pytest.raises(InputError, match="no topic 'wine'; there are vapour pressure, "):
        run(["wine"])


def command(monkeypatch, *words):
    """Exit status of the command."""
    monkeypatch.setattr(sys, "argv", ["explore", *words])
    return cli.main()


def test_command_says_all_is_well(monkeypatch, capsys):
    """`explore task=verify detail=TOPIC` prints the table and exits with 0."""
    assert command(monkeypatch, "task=verify", "detail=heat exchangers") == 0
    assert "all within tolerance" in capsys.readouterr().out


def test_command_fails_when_a_check_does(monkeypatch, capsys):
    """Exit status 1 if a check lies outside its tolerance."""
    monkeypatch.setattr(engine_part, "ENGINE_EXPONENT", 0.7)
    assert command(monkeypatch, "task=verify", "detail=money") == 1
    assert "OUTSIDE: six-tenths-2" in capsys.readouterr().out


def test_command_refuses_an_unknown_topic(monkeypatch, capsys):
    """Exit status 2 and one sentence for a topic that does not exist."""
    assert command(monkeypatch, "task=verify", "detail=wine") == 2
    assert capsys.readouterr().err.count("\n") == 1
