"""What a search hands over, and what it says while it runs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from explore.search.refine import Refinement

if TYPE_CHECKING:
    import pandas as pd

UNDER_WAY = "under way"
"""Why a search that still goes on has stopped: it has not."""


@dataclass(frozen=True)
class Progress:
    """State of a running search, given to the progress callback after every leg.

    ``share_done`` is the share of the budget used (0..1), ``seconds_left`` the time it will still take
    at most (None if it cannot be told yet).
    """

    legs: int
    designs: int
    designs_per_second: float
    feasible_share: float
    front_designs: int
    hypervolume: float
    seconds: float
    share_done: float
    seconds_left: float | None


ProgressCallback = Callable[[Progress], None]


@dataclass(frozen=True)
class Moment:
    """One point of the search's history: designs evaluated and seconds so far, and the hypervolume then."""

    designs: int
    seconds: float
    hypervolume: float


@dataclass(frozen=True)
class SearchOutcome:
    """Everything a search found.

    ``designs`` holds the archive with all columns, ``front`` its feasible non-dominated designs, best in
    the first objective first. ``all_kept`` tells whether ``designs`` are all that were evaluated,
    by the run whose archive is judged again too.
    ``hypervolume`` is measured on the scenario's normalised axes (:func:`explore.judgement.front.hypervolume`).
    Counts are over all designs evaluated: ``evaluated`` and ``feasible`` per fluid; ``lost_to`` gives the
    designs that broke each constraint, ``lost_alone`` those that broke no other. ``resolution`` is the
    most hypervolume that any design dropped from a full archive's front alone covered (0: none dropped).
    ``legs`` are all legs of the campaign, ``legs_here`` those carried out by this search and not found in its storage.
    ``stop_reason`` is "designs", "seconds", "interrupted" or :data:`UNDER_WAY`; ``trouble`` says what went wrong with the
    campaign's storage, if anything. ``last_tenth_gain`` is the share of the hypervolume that
    the last tenth of the designs brought, ``polished`` the designs that local optimisation added at the end, each
    better than one of the front, ``picks_gain`` what its last steps still gained of a recommended design, as a share of
    the front's range, ``refinement`` what it gained of other designs of the front after that,
    ``random_history`` what a plain random search of the same space reached with fewer designs, if one was made.
    ``timings_s`` are the seconds of the parts of the run; ``layouts`` gives for each layout the designs evaluated and
    those feasible.
    """

    front: pd.DataFrame
    designs: pd.DataFrame
    all_kept: bool
    hypervolume: float
    history: list[Moment]
    random_history: list[Moment]
    last_tenth_gain: float
    refinement: Refinement
    evaluated: dict[str, int]
    feasible: dict[str, int]
    lost_to: dict[str, int]
    lost_alone: dict[str, int]
    left_out: dict[str, str]
    resolution: float
    stop_reason: str
    trouble: str
    legs: int
    legs_here: int
    workers: int
    seed: int
    seconds: float
    designs_per_second: float
    bookkeeping_us_per_design: float
    model_us_per_design: float
    timings_s: dict[str, float] = field(default_factory=dict)
    polished: int = 0
    picks_gain: float | None = None
    layouts: dict[str, tuple[int, int]] = field(default_factory=dict)

    @property
    def designs_evaluated(self) -> int:
        """Number of designs evaluated in all."""
        return sum(self.evaluated.values())

    @property
    def designs_feasible(self) -> int:
        """Number of feasible designs evaluated in all."""
        return sum(self.feasible.values())


def last_tenth_gain(history: list[Moment]) -> float:
    """Share of the final hypervolume gained over the last tenth of the designs, 0..1."""
    if not history or history[-1].hypervolume <= 0.0:
        return 0.0
    start = 0.9 * history[-1].designs
    before = [moment.hypervolume for moment in history if moment.designs <= start]
    return 1.0 - (before[-1] if before else 0.0) / history[-1].hypervolume
