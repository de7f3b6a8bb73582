"""Which tests are quick: all, but those named here and those that open a real run or a browser.

So no test needs a mark, and a new one is quick until it is named here. A session of ``pytest -m quick`` ends by naming the
files that took longer than they may.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

SLOW = frozenset(
    {
        "bench/test_bad_logs",
        "bench/test_build",
        "bench/test_fit",
        "bench/test_fit_series",
        "bench/test_fit_tubes",
        "bench/test_more",
        "browser/test_access_and_print",
        "browser/test_prices",
        "browser/test_report_page",
        "browser/test_states",
        "doubt/test_against",
        "doubt/test_as_bought",
        "doubt/test_task",
        "published/test_published",
        "report/test_page",
        "run/test_hostile_folder",
        "run/test_own_weather",
        "scalar/test_machine",
        "search/test_archive",
        "search/test_campaign",
        "search/test_commands",
        "search/test_crew",
        "search/test_island_sampler",
        "search/test_journal",
        "search/test_machines",
        "search/test_optimise",
        "search/test_optimisers",
        "search/test_overnight",
        "search/test_refine",
        "search/test_samplers",
        "search/test_showcase",
        "search/test_so_far",
        "system/test_against_scalar",
        "system/test_ahead",
        "system/test_as_bought",
        "system/test_as_bought_glide",
        "system/test_as_bought_tubes",
        "system/test_engine_limits",
        "system/test_invariants",
        "system/test_mixture_design",
        "system/test_tube_designs",
        "test_bad_inputs",
        "test_cli",
        "test_compose",
        "test_day",
        "test_day_task",
        "test_documents::test_the_tutorial_really_runs",
        "test_given_machine",
        "test_influence",
        "test_kernels",
        "test_notebook",
        "test_plain_yaml",
        "test_season",
        "test_wheel",
    }
)
"""Files of tests, within ``tests`` and without ending, that take longer than :data:`MOST_S`; or one test of a file."""
HEAVY = frozenset({"real_run", "browser", "run_folder"})
"""Fixtures of the whole session that take longer than a quick test may."""
MOST_S = 6.0
"""Of one core of a quiet machine, for all tests of a file: sixty such files and the start make a minute of two cores."""


def is_quick(file: str, test: str, fixtures: Collection[str]) -> bool:
    """Tell whether a test is quick: ``file`` and ``test`` as :data:`SLOW` names them, ``fixtures`` all that it uses."""
    return not SLOW.intersection((file, f"{file}::{test}")) and not HEAVY.intersection(fixtures)


def ranks(slow: Mapping[str, bool], run: Collection[str]) -> dict[str, int]:
    """Rank files for workers that take one after another, each from the front.

    ``slow`` says of each file, in order, whether it has tests that are not quick; ``run`` are those that open the real run.
    One of these comes first and searches, while others begin with what needs no search and wait for nothing. Slow files
    come before quick ones, so that at the end no worker has a long one left while the rest have none.
    """
    first = next((file for file in slow if slow[file] and file in run), None)
    return {
        file: 0 if file == first else 3 if not long else 2 if file in run else 1
        for file, long in slow.items()
    }
