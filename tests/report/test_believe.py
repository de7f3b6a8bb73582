"""What the page says of the outside checks, and of measured machines apart from them."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from explore.tell.page.believe import evidence, measured_words, verdict


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
