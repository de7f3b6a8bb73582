"""The state of a search and the rounds that advance it."""

from __future__ import annotations

import time
from collections.abc import Mapping
from typing import TYPE_CHECKING

from explore.schema import Case, Search
from explore.search.archive import Archive
from explore.search.campaign import FOCUS, Ledger
from explore.search.crew import Alone, Crew
from explore.search.islands import Known
from explore.search.leg import Order, Result, Tally
from explore.search.outcome import Moment, Progress, ProgressCallback
from explore.search.planning import Budget, order
from explore.space import Space

if TYPE_CHECKING:
    from optuna.trial import Trial


class Hunt:
    """A search under way: what is known, what was counted, and what comes next."""

    def __init__(self, case: Case, space: Space, ledger: Ledger):
        self.case, self.space = case, space
        self.archive = Archive(_nothing(case, space), case.search.archive_designs)
        self.tally = Tally.zero(space.fluids)
        self.history: list[Moment] = []
        self.legs = 0
        self.leg_seconds = self.model_seconds = 0.0
        self.stop_reason = ""
        self._ledger = ledger
        self._budget = Budget.of(case.search)
        self._started = time.perf_counter()

    @property
    def search(self) -> Search:
        """Settings of the search."""
        return self.case.search

    @property
    def seconds(self) -> float:
        """Seconds since the start."""
        return time.perf_counter() - self._started

    @property
    def keep_all(self) -> bool:
        """Whether the whole budget fits into the archive, so that every design is kept."""
        return self._budget.designs is not None and self._budget.designs <= self.search.archive_designs

    def interrupt(self) -> None:
        """End the search when the legs in flight are finished."""
        self.stop_reason = "interrupted"

    def run(self, crew: Alone | Crew, progress: ProgressCallback | None) -> None:
        """Run rounds until the budget is used or the search is interrupted."""
        while not self._over():
            numbers = self._budget.round(self.legs, self.search.legs_per_round)
            if not numbers:
                self.stop_reason = "designs"
                return
            self._round(numbers, crew, progress)

    def _round(self, numbers: range, crew: Alone | Crew, progress: ProgressCallback | None) -> None:
        """Choose the legs from what is known now, and take their results in by number."""
        orders, trials = self._plan(numbers)
        found: dict[int, Result] = {}
        for place, result in crew.results(orders, stop=self._over):
            found[numbers[place]] = result
            while self.legs in found:
                self._take(found[self.legs], trials[self.legs])
                if progress:
                    progress(self._progress())

    def _plan(self, numbers: range) -> tuple[list[Order], Mapping[int, Trial]]:
        orders, trials = [], {}
        for number in numbers:
            trial = trials[number] = self._ledger.open(number)
            orders.append(
                order(
                    number,
                    trial.params[FOCUS],
                    self._budget.size(number),
                    self.archive,
                    self.space,
                    self.search,
                    keep_all=self.keep_all,
                )
            )
        return orders, trials

    def _take(self, result: Result, trial: Trial) -> None:
        before = self.archive.hypervolume
        self.archive = self.archive.add(result.known, keep_all=self.keep_all)
        self.tally = Tally.sum([self.tally, result.tally])
        self.legs += 1
        self.leg_seconds += result.seconds
        self.model_seconds += result.model_seconds
        after = self.archive.hypervolume
        self.history.append(Moment(self.tally.evaluated_total, self.seconds, after))
        self._ledger.close(trial, result, after - before)

    def _over(self) -> bool:
        limit = self.search.seconds
        if not self.stop_reason and limit is not None and self.seconds >= limit:
            self.stop_reason = "seconds"
        return bool(self.stop_reason)

    def _progress(self) -> Progress:
        done, seconds = self.tally.evaluated_total, self.seconds
        shares = [done / self.search.designs] if self.search.designs else []
        shares += [seconds / self.search.seconds] if self.search.seconds else []
        share = min(1.0, max(shares))
        return Progress(
            legs=self.legs,
            designs=done,
            designs_per_second=done / seconds,
            feasible_share=self.tally.feasible_total / max(1, done),
            front_designs=len(self.archive.front),
            hypervolume=self.history[-1].hypervolume if self.history else 0.0,
            seconds=seconds,
            share_done=share,
            seconds_left=seconds * (1.0 - share) / share if share > 0.0 else None,
        )


def _nothing(case: Case, space: Space) -> Known:
    return Known.none(space.dimensions, len(space.choice_counts), len(case.scenario.objectives))
