"""A set of designs under many worlds: chunk by chunk, on many workers, gone on with after a stop."""

from __future__ import annotations

import contextlib
import hashlib
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
from numpy.typing import NDArray

from explore.doubt.draws import Array
from explore.doubt.worlds import Worlds
from explore.errors import InputError
from explore.figures.format import record
from explore.run import folder as runs
from explore.run import reader
from explore.run.files import write_array
from explore.search import identity
from explore.search.crew import POLL_S, Engage

if TYPE_CHECKING:
    from explore.config.schema import Case
    from explore.model import Evaluator

Columns = dict[str, np.ndarray]
EVALUATIONS_A_CHUNK = 2500
"""Designs times worlds between two files: a few seconds, which is what a stop can cost."""
MOST_WORLDS_A_CHUNK = 25
"""Few designs make worlds quick: then the chunks of two workers still end together."""
BANDED = ("served_share", "longest_unserved_hours", "bridged_hours")
"""Figures of the year that a builder asks for beside the objectives."""
ALWAYS = (*BANDED, "cost_EUR", "work_per_litre_kJ", "peak_pressure_bar_g")
FLAGS = ("feasible", "possible", "broken")
"""Behind the figures: whether every limit is kept, whether physics allows the design, and the limit broken worst."""


class Errand(Protocol):
    """A chunk of work: it returns an array of the shape that it tells."""

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of what comes of it."""
        ...

    def carried_out(self, evaluator: Any) -> Array:
        """Do it."""
        ...


@dataclass(frozen=True)
class Batch:
    """All ``columns`` of designs (n,) under the worlds of some ``points`` (k, d); gives (k, n, figures and flags)."""

    points: Array
    columns: Columns
    figures: tuple[str, ...]

    @property
    def shape(self) -> tuple[int, ...]:
        """Worlds, designs, and figures with flags."""
        return len(self.points), len(self.columns["fluid"]), len(self.figures) + len(FLAGS)

    def carried_out(self, evaluator: Evaluator) -> Array:
        """Evaluate the designs in each world."""
        worlds = worlds_of(evaluator)
        sample = worlds.draws.sample(self.points)
        rows = (worlds.model(sample, row).evaluate(self.columns) for row in range(len(sample)))
        return np.stack([told(found, self.figures) for found in rows])


@lru_cache(maxsize=1)
def worlds_of(evaluator: Evaluator) -> Worlds:
    """Keep what the worlds of an evaluator share between the chunks of a process."""
    return Worlds(evaluator)


def figures_of(case: Case) -> tuple[str, ...]:
    """Return the figures that are kept of each design in each world: the objectives first."""
    return tuple(dict.fromkeys([*(one.figure for one in case.scenario.objectives), *ALWAYS]))


def told(found: Columns, figures: Sequence[str]) -> Array:
    """Keep figures and flags of evaluated designs, (n, m); what broke worst is a place in :func:`limits`, -1 for none."""
    names = limits(found)
    excess = np.stack([np.nan_to_num(found[name]) / record(name).scale for name in names], axis=1)
    broken = np.where(found["feasible"], -1, np.argmax(excess, axis=1))
    columns = [*(found[name] for name in figures), found["feasible"], found["possible"], broken]
    return np.stack([np.asarray(one, float) for one in columns], axis=1)


def limits(found: Columns) -> list[str]:
    """Return the limits that designs are judged by, in the order of the model."""
    return [name for name in found if name.startswith("violation_")]


def batches(points: Array, columns: Columns, figures: tuple[str, ...]) -> list[Batch]:
    """Cut the worlds into chunks, whose size the number of designs decides."""
    size = max(1, min(MOST_WORLDS_A_CHUNK, EVALUATIONS_A_CHUNK // max(len(columns["fluid"]), 1)))
    return [Batch(points[i : i + size], columns, figures) for i in range(0, len(points), size)]


ROOTS = ("explore.doubt.worlds",)
"""What decides a world beside the model."""


@dataclass(frozen=True)
class Shelf:
    """Where the chunks of a study lie: a folder of its own in the run's, named by all that decides them."""

    folder: Path

    @staticmethod
    def of(
        run: Path,
        case: Case,
        columns: Columns,
        figures: Sequence[str],
        what: str,
        roots: tuple[str, ...] = ROOTS,
    ) -> Shelf:
        """Find the place for a study of these designs, in which only the number of worlds may differ.

        ``roots``: the modules whose sources decide the answers, beside those of the model.
        """
        from explore.model import Evaluator

        facts = identity.facts(case, Evaluator) | {
            "doubt": case.doubt.model_copy(update={"weather_years": ()}).model_dump_json(),
            "worlds": identity.sources(roots),
            "weather years": repr([identity.file_digest(file) for file in case.doubt.weather_years]),
        }
        digest = hashlib.sha256(repr((sorted(facts.items()), tuple(figures), what)).encode())
        for name, values in sorted(columns.items()):
            digest.update(name.encode() + repr(values.tolist()).encode())
        return Shelf(run / runs.DOUBT / f"{what}-{digest.hexdigest()[:12]}")

    def read(self, number: int, shape: tuple[int, ...]) -> Array | None:
        """Read a chunk, or return None if there is no whole one of this shape."""
        with contextlib.suppress(InputError):
            return reader.read_array(self._path(number), shape)
        return None

    def write(self, number: int, chunk: Array) -> None:
        """Keep a chunk."""
        write_array(self._path(number), chunk)

    def _path(self, number: int) -> Path:
        return self.folder / f"chunk-{number:05d}.npy"


@dataclass(frozen=True)
class Done:
    """How far a study has come: worlds done, of how many, and the seconds left, None until they can be told."""

    worlds: int
    of: int
    seconds_left: float | None


def carry_out(
    errands: Sequence[Errand],
    engage: Engage,
    shelf: Shelf | None = None,
    progress: Callable[[Done], None] = lambda done: None,
) -> Array:
    """Carry out what is not yet on the ``shelf`` and return all results behind one another.

    ``engage`` gives the crew for what is left; it is kept for the next errands.
    The results are the same bytes with any number of workers, and after any stop: each chunk depends on its errand
    alone. Without a shelf nothing is kept. Raises what the model raises; what is done by then stays on the shelf.
    """
    chunks: dict[int, NDArray[np.float64]] = {}
    waiting = []
    for number, errand in enumerate(errands):
        kept = shelf.read(number, errand.shape) if shelf else None
        if kept is None:
            waiting.append(number)
        else:
            chunks[number] = kept
    sizes = [errand.shape[0] for errand in errands]
    done, total, start = sum(sizes[i] for i in chunks), sum(sizes), time.monotonic()
    before = done
    progress(Done(done, total, None))
    crew, given = engage(len(waiting)), iter(waiting)
    while len(chunks) < len(errands):
        while crew.free and (order := next(given, None)) is not None:
            crew.submit(order, errands[order])
        for number, chunk in crew.wait(POLL_S):
            if shelf:
                shelf.write(number, chunk)
            chunks[number] = chunk
            done += sizes[number]
            passed = time.monotonic() - start
            progress(Done(done, total, passed * (total - done) / (done - before)))
    return np.concatenate([chunks[number] for number in range(len(errands))])
