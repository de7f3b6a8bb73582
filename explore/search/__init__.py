"""Searching: proposing designs, many workers, storing, resuming, stopping."""

from explore.search.outcome import Moment, Progress, SearchOutcome
from explore.search.reprice import reprice
from explore.search.run import optimise, work

__all__ = ["Moment", "Progress", "SearchOutcome", "optimise", "reprice", "work"]
