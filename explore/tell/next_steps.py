"""What to type next: the three or four commands that are of most use after this very run."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

from explore.config.schema import is_own_sampler
from explore.judgement.front import COMPROMISE
from explore.tell import narrator

if TYPE_CHECKING:
    import pandas as pd

    from explore.config.schema import Case
    from explore.search import SearchOutcome

LONGER = 4.0
"""A search that has not settled gets three times as long again: twice the time seldom settles what once did not."""
LEAST_S = 600.0
"""Below ten minutes a search has as a rule not settled."""
POWERS = (0.6, 1.0, 1.5)
"""Times its power that a search of parts at hand is repeated at: far enough apart that plants differ, near enough that the
same parts serve."""


def next_commands(
    case: Case, outcome: SearchOutcome, chosen: pd.DataFrame, folder: Path
) -> list[tuple[str, str]]:
    """Return commands, each with what it is for; ``chosen`` are the recommended designs, ``folder`` is the run's.

    Three of any search; of parts at hand, where no service is asked for, a fourth: power is no variable of a design.
    """
    run = shlex.quote(str(folder))
    return [
        _search_on(case, outcome, run),
        (
            "one recommended design whole, with its cautions",
            f"explore task=inspect design={run}/front.csv row={_line(chosen)}",
        ),
        ("how sure this advice is, in many plausible worlds", f"explore task=doubt run={run}"),
        *_at_powers(case, run),
    ]


def next_text(commands: list[tuple[str, str]]) -> str:
    """Write the commands below what they are for; each stays on one line, so that it can be copied."""
    return "\n".join(["Next", *(f"  {what}\n    {command}" for what, command in commands)])


def _search_on(case: Case, outcome: SearchOutcome, run: str) -> tuple[str, str]:
    again = f"explore -cp {run} -cn config"
    if outcome.stop_reason == "repriced":
        return "search anew under these values", again
    stopped = outcome.stop_reason == "interrupted"
    if stopped or narrator.unsettled(outcome.refinement.gains):
        why = "go on where it stopped" if stopped else "go on: the search has not settled"
        return why, f"explore resume={run} {_budget(case, outcome)}{_named_again(case)}"
    return (
        "another seed: does it recommend the same?",
        f"{again} search.seed={case.search.seed + 1}{_named_again(case)}",
    )


def _at_powers(case: Case, run: str) -> list[tuple[str, str]]:
    """Repeat a search of parts at hand at less and at more power, where no service is asked for that would say which."""
    scenario = case.scenario
    if not scenario.owned.anything or scenario.limits.served_share_min > 0.0:
        return []
    powers = ",".join(f"{factor * scenario.demand.shaft_power_W:.4g}" for factor in POWERS)
    return [
        (
            "the power is your choice: the same search at less and more, side by side on one page",
            f"explore -m -cp {run} -cn config scenario.demand.shaft_power_W={powers}{_named_again(case)}",
        )
    ]


def _budget(case: Case, outcome: SearchOutcome) -> str:
    """Return the settings of a longer budget, of the kind that the run had."""
    if case.search.designs is not None:
        longer = int(LONGER * max(case.search.designs, outcome.designs_evaluated))
        return f"search.designs={longer}" + (
            " search.seconds=null" if case.search.seconds is not None else ""
        )
    seconds = max(LEAST_S, LONGER * (case.search.seconds or outcome.seconds))
    return f"search.seconds={seconds:.0f}"


def _named_again(case: Case) -> str:
    """Return what a run's folder is not taken for its word for, and so must be typed again; no address of a database."""
    search = case.search
    words = [f" search.sampler={search.sampler}"] if is_own_sampler(search.sampler) else []
    words += [" search.storage=..."] if search.storage is not None else []
    words += [" search.artifacts=..."] if search.artifacts is not None else []
    return "".join(words)


def _line(chosen: pd.DataFrame) -> int:
    """Return the row of front.csv of the compromise, or of the first design that is recommended."""
    if "line" not in chosen or chosen.empty:
        return 1
    found = [
        line for pick, line in zip(chosen["pick"], chosen["line"], strict=True) if COMPROMISE in str(pick)
    ]
    return int((found or list(chosen["line"]))[0])
