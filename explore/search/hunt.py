"""The state of a search and the rounds that advance it."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np

from explore.config.schema import Case, Search
from explore.design.space import Space
from explore.judgement.front import hypervolume
from explore.search.archive import Archive
from explore.search.bookmark import Standing
from explore.search.crew import POLL_S, Alone, Crew
from explore.search.ledger import Ledger
from explore.search.leg import Result, Tally
from explore.search.outcome import Moment, Progress, ProgressCallback
from explore.search.planning import Budget, order
from explore.search.population import Known

REVIVE_EVERY_S = 5.0
"""As often as a heartbeat: looking more often finds no more."""
BOOKMARK_AFTER_S = 5.0
"""So much of taking legs in again is waited for when a campaign is gone on with; to keep it takes a hundredth of that."""


class Hunt:
    """A search under way: what is known, what was counted, and what comes next.

    Legs are taken in by number, and those of a round all start from the archive at the round's start, so
    that neither the number of workers nor the order in which they finish changes what is found.
    """

    def __init__(self, case: Case, space: Space, ledger: Ledger):
        self.case, self.space, self.ledger = case, space, ledger
        self.archive = Archive(_nothing(case, space), case.search.archive_designs)
        self.tally = Tally.zero(space.fluids)
        self.history: list[Moment] = []
        self.legs = self.legs_here = 0
        self.leg_seconds = self.model_seconds = 0.0
        self.stop_reason = ""
        self._budget = Budget.of(case.search)
        self._started = time.perf_counter() - ledger.elapsed()
        self._looked = time.perf_counter()
        self._unmarked_s = 0.0
        standing = ledger.standing(self.archive.capacity)
        budget = case.search.designs or np.inf
        if standing is not None and standing.tally.evaluated_total <= budget:
            self._go_on_from(standing)

    @property
    def search(self) -> Search:
        """Settings of the search."""
        return self.case.search

    @property
    def seconds(self) -> float:
        """Seconds since the start, those before a restart included."""
        return time.perf_counter() - self._started

    @property
    def seconds_used(self) -> float:
        """Seconds until the last leg taken in was finished."""
        return self.history[-1].seconds if self.history else self.seconds

    def restart_clock(self) -> None:
        """Count seconds from now, whatever the campaign had used before."""
        self._started = time.perf_counter()

    def interrupt(self) -> None:
        """End the search when the legs in flight are finished."""
        self.stop_reason = "interrupted"

    def run(self, crew: Alone | Crew, progress: ProgressCallback | None) -> None:
        """Run rounds until the budget is used or the search is interrupted; then hand in what is owed."""
        self._rounds(crew, progress)
        self._hand_in()

    def _rounds(self, crew: Alone | Crew, progress: ProgressCallback | None) -> None:
        while not self._done():
            numbers = self._budget.round(self.legs)
            if self.legs in numbers:
                self._round(numbers, crew, progress)
            else:
                self.stop_reason = self.stop_reason or "designs"
                return

    def _hand_in(self) -> None:
        """Wait until the database has every leg finished here, however long it is away.

        Ends at Ctrl-C, when the time is used, and where the ledger no longer waits; the legs are then kept.
        """
        reason, limit = self.stop_reason, self.search.seconds
        if reason == "interrupted":
            return
        self.stop_reason = ""
        while self.ledger.owes and not self.ledger.alone and not self.stop_reason:
            if limit is not None and self.seconds >= limit:
                break
            time.sleep(POLL_S)
            self.ledger.settle()
        self.stop_reason = reason

    def _done(self) -> bool:
        """Whether to stop here: the budget is used, and no finished legs wait to be taken in.

        Legs that are finished but lie in a database that does not answer are not waited for.
        """
        return self._over() and (self.ledger.away or self.legs >= self.ledger.legs_finished())

    def _round(self, numbers: range, crew: Alone | Crew, progress: ProgressCallback | None) -> None:
        """Carry out the legs of a round, or fetch those others have done, and take them in by number."""
        base = self.archive
        self.ledger.open({number: self._budget.size(number) for number in numbers})
        found: dict[int, Result] = {}
        busy: set[int] = set()
        while len(found) < len(numbers):
            self.ledger.settle()
            found |= self.ledger.finished(numbers, found.keys() | busy)
            self._take_next(found, progress)
            self._hand_out(numbers, base, crew, found, busy)
            if not busy:
                if self._over():
                    break
                if len(found) < len(numbers):
                    self._await_others()
                continue
            for number, result in crew.wait(POLL_S):
                busy.discard(number)
                self.legs_here += 1
                if self.ledger.finish(result, self._gain(base, result), self.seconds):
                    found[number] = result
            self._take_next(found, progress)
        for number in sorted(n for n in found if n >= self.legs):
            self._take(found[number], number + 1)
        self._bookmark()

    def _bookmark(self) -> None:
        """Put on record what is known, at the end of a whole round, if to find it again would take a while."""
        whole = self.legs == len(self.history) and self.legs % self.search.legs_per_round == 0
        if not whole or self._unmarked_s < BOOKMARK_AFTER_S:
            return
        self._unmarked_s = 0.0
        self.ledger.keep_standing(
            Standing(self.archive, self.tally, tuple(self.history), self.leg_seconds, self.model_seconds)
        )

    def _go_on_from(self, standing: Standing) -> None:
        """Take over what is on record of the first legs."""
        self.archive, self.tally, self.history = standing.archive, standing.tally, list(standing.history)
        self.leg_seconds, self.model_seconds = standing.leg_seconds, standing.model_seconds
        self.legs = len(standing.history)
        for number, designs in enumerate(standing.sizes):
            self._budget = self._budget.after(number, designs)

    def _hand_out(
        self, numbers: range, base: Archive, crew: Alone | Crew, found: dict[int, Result], busy: set[int]
    ) -> None:
        """Give legs that nobody works on to idle workers; one that was kept when the line broke is handed in."""
        while crew.free and not self._over():
            claimed = self.ledger.claim(numbers, found.keys() | busy)
            if claimed is None:
                return
            number, focus, size = claimed
            kept = self.ledger.kept(number)
            if kept is not None:
                found[number] = kept
                self.ledger.finish(kept, self._gain(base, kept), self.seconds)
                continue
            told = order(number, focus, size, base, self.space, self.search)
            if self.search.seconds is not None:
                told = replace(told, seconds=self.search.seconds - self.seconds)
            crew.submit(number, told)
            busy.add(number)

    def _await_others(self) -> None:
        """Wait for legs in other hands, and put those of dead processes down again."""
        time.sleep(POLL_S)
        if time.perf_counter() - self._looked > REVIVE_EVERY_S:
            self._looked = time.perf_counter()
            self.ledger.revive()

    def _take_next(self, found: dict[int, Result], progress: ProgressCallback | None) -> None:
        while self.legs in found:
            self._take(found[self.legs], self.legs + 1)
            if progress:
                progress(self._progress())

    def _take(self, result: Result, legs: int) -> None:
        began = time.perf_counter()
        self.archive = self.archive.add(result.known)
        self.tally = Tally.sum([self.tally, result.tally])
        self.legs = legs
        self._budget = self._budget.after(result.number, result.tally.evaluated_total)
        self.leg_seconds += result.seconds
        self.model_seconds += result.model_seconds
        seconds = self.ledger.at_seconds(result.number, self.seconds)
        self.history.append(Moment(self.tally.evaluated_total, seconds, self.archive.hypervolume))
        self._unmarked_s += time.perf_counter() - began

    @staticmethod
    def _gain(base: Archive, result: Result) -> float:
        """Hypervolume a leg adds to the archive as it stood when its round began."""
        good = result.known.values[result.known.breach <= 0.0]
        return hypervolume(np.concatenate([base.front.values, good])) - base.hypervolume

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
            seconds_left=self._seconds_left(done, seconds),
        )

    def _seconds_left(self, done: int, seconds: float) -> float | None:
        """Time that the budget still takes [s], by the designs a second of late: small legs are slower."""
        left = []
        if self.search.seconds:
            left.append(self.search.seconds - seconds)
        if self.search.designs and done:
            late = [then for then in self.history if then.designs <= done // 2 and then.seconds < seconds]
            began, before = (late[-1].seconds, late[-1].designs) if late else (0.0, 0)
            left.append((self.search.designs - done) * (seconds - began) / (done - before))
        return max(0.0, min(left)) if left else None


def _nothing(case: Case, space: Space) -> Known:
    return Known.none(space.dimensions, len(space.choice_counts), len(case.scenario.objectives))
