"""What the page says of the outside checks, and of measured machines apart from them."""

from __future__ import annotations

from types import SimpleNamespace

import pandas as pd
import pytest

from explore.tell.page.believe import evidence, measured_words, verdict, within_words
from explore.tell.page.measured import drawn, points, topics, words
from explore.verify import measured as verified


def row(topic, kind, ours, published, *, within=True, **more):
    """One row of checks.json."""
    return {
        "check": "a", "topic": topic, "quantity": "power", "ours": ours, "published": published, "unit": "W",
        "deviation": ours - published, "tolerance": 1.0, "within": within, "source": "a book", "kind": kind,
        "relative": False, **more,
    }  # fmt: skip


@pytest.fixture
def checked():
    """A run with two published checks, two measured rows outside their accuracy and one from memory."""
    measured = {"binding": False, "within": False}
    return SimpleNamespace(
        checks=[
            row("steam", "published", 10.0, 10.0),
            row("steam", "recomputed", 10.0, 10.0, binding=True),
            row("measured stores", "measured", 14.0, 10.0, **measured),
            row("measured stores", "measured", 9.0, 10.0, **measured),
            row("measured stores", "measured, from memory", 90.0, 10.0, **measured),
        ]
    )


def test_verdict_counts_what_was_published(checked):
    """Measured rows outside their accuracy are no failed checks; their span follows, without what is from memory."""
    assert verdict(checked) == (
        "2 outside checks (1 published, 1 recomputed from a published formula): all within their tolerance. "
        "Predicted over measured: measured stores 0.90 to 1.40."
    )


def test_checks_from_memory_are_not_counted_as_published(checked):
    """Of three that bind one is from memory; where all are published nothing is added."""
    assert within_words(checked) == "2 of 2 outside checks of the model lie within their tolerance"
    checked.checks.append(row("steam", "from memory", 10.0, 10.0, within=False))
    assert within_words(checked) == (
        "2 of 3 outside checks of the model lie within their tolerance (2 of them published or recomputed, the rest from "
        "memory or common practice)"
    )


def test_a_measured_topic_shows_predicted_over_measured(checked):
    """Deviations become ratios where a topic holds measured rows."""
    steam, stores = evidence(checked)
    assert not steam.measured
    assert stores.measured
    assert [check.deviation for check in stores.checks] == ["1.40 ×", "0.90 ×", "9.00 ×"]
    assert steam.checks[0].deviation == "+0"


def test_runs_of_before_know_no_measured_rows(checked):
    """Rows without the mark bind, and nothing is said of measured ones."""
    old = SimpleNamespace(checks=checked.checks[:1])
    assert measured_words(old) == ""
    assert verdict(old).startswith("1 outside checks")


def test_one_ratio_is_no_span(checked):
    """A single ratio is written once."""
    assert measured_words(SimpleNamespace(checks=checked.checks[2:3])).endswith("measured stores 1.40.")


@pytest.fixture
def machines():
    """A run with two measured pumps, a store outside, another from memory, a machine assumed and a published check."""
    loose = {"binding": False}
    return SimpleNamespace(
        checks=[
            row("steam", "published", 10.0, 10.0, check="steam"),
            row("measured pumps", "measured", 11.0, 10.0, check="measured-M22a", **loose),
            row("measured pumps", "measured", 7.0, 10.0, check="measured-M22b", within=False, **loose),
            row("measured stores", "measured", 20.0, 10.0, check="measured-M27", within=False, **loose),
            row("measured stores", "measured, from memory", 9.0, 10.0, check="measured-M30-300", **loose),
            row(
                "measured machines", "measured, conditions assumed", 13.0, 10.0, check="measured-M4a", **loose
            ),
        ]
    )


def test_points_are_predicted_over_measured(machines):
    """The measured rows alone, one symbol a topic; the accuracy as a share, and hollow what does not count."""
    found = points(machines)
    assert [point.ratio for point in found] == pytest.approx([1.1, 0.7, 2.0, 0.9, 1.3])
    assert [point.counted for point in found] == [True, True, True, False, False]
    assert [(point.low, point.high) for point in found] == [(0.9, 1.1)] * 5
    shapes = topics(found)
    assert [topic for topic, _ in shapes] == ["measured pumps", "measured stores", "measured machines"]
    assert len({symbol for _, symbol in shapes}) == 3
    assert [point["row"] for point in drawn(found)] == ["M22a", "M22b", "M27", "M30-300", "M4a"]


def test_words_name_mean_errors_and_what_lies_outside(machines):
    """Mean errors are those of the terminal's table; a topic of which nothing counts is named."""
    text = words(points(machines))
    assert text == (
        "Mean error of each machine or part that counts: M22 20.0 %, M27 100.0 %; no row of the measured machines counts; "
        "outside the accuracy of the measurement: M22b, M27."
    )
    table = verified.statistics(pd.DataFrame(machines.checks))
    means = ", ".join(f"{one['machine']} {100 * one['error']:.1f} %" for one in table.to_dict("records"))
    assert f": {means};" in text


@pytest.mark.parametrize(("ours", "published"), [(-1.0, 10.0), (5.0, 0.0), (float("nan"), 10.0)])
def test_a_row_without_a_ratio_is_named_and_not_drawn(machines, ours, published):
    """What has no place on a logarithmic axis is said and does not vanish."""
    machines.checks.append(
        row("measured pumps", "measured", ours, published, check="measured-M23", binding=False, within=False)
    )
    found = points(machines)
    assert "M23" not in [point["row"] for point in drawn(found)]
    assert words(found).endswith("not drawn for want of a ratio above zero: M23.")


def test_names_are_a_few_words(machines):
    """A row's name keeps its id, what it is and the figure, without sizes and band."""
    machines.checks[1]["quantity"] = "radial engine, 2-4 kW: efficiency, highest (band 0.4 to 0.5)"
    machines.checks[2]["quantity"] = "flat plate, 2 m2; 1000 W/m2: heat, 30 K above"
    names = [point.name for point in points(machines)]
    assert names[:3] == [
        "M22a radial engine: efficiency, highest",
        "M22b flat plate: heat, 30 K above",
        "M27 power",
    ]
