"""Checks of the search's judgement: hypervolume, dominance and ranks."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from explore.judgement.front import hypervolume, nondominated
from explore.search.ranking import constrained_ranks
from explore.verify.bench import Bench
from explore.verify.check import Check, Kind, given
from explore.verify.sources import cite

TOPIC = "fronts and hypervolume"
FOUR = np.array([[5.0, 5.0], [4.0, 6.0], [2.0, 7.0], [7.0, 4.0]])
PLANE = np.array([[1.0, 3.0], [2.0, 2.0], [3.0, 1.0]])
SPACE = np.array([[1.0, 2.0, 3.0], [2.0, 1.0, 2.0], [3.0, 3.0, 1.0]])
DOUBLE = np.array([[1.0, 3.0], [2.0, 2.0], [2.0, 2.0], [3.0, 3.0], [3.0, 1.0]])
RANKED = np.array([[1.0, 3.0], [2.0, 2.0], [3.0, 3.0], [3.0, 1.0], [4.0, 4.0]])
POINTS = 20_001


def checks() -> Iterator[Check]:
    """Every check of this module."""
    yield from _volumes()
    yield from _dominance()


def library_set() -> float:
    """Hypervolume of moocore's data set input1.dat against (10, 10), by the project's unit box."""
    import moocore

    points = np.asarray(moocore.get_dataset("input1.dat"), dtype=float)[:, :-1]
    return 100.0 * hypervolume(points / 10.0)


def curve(front: Callable[[np.ndarray], np.ndarray]) -> float:
    """Hypervolume of a front f2(f1) of a test problem, sampled densely on [0, 1], against (1, 1)."""
    first = np.linspace(0.0, 1.0, POINTS)
    return hypervolume(np.stack([first, front(first)], axis=1))


def sphere(steps: int = 90) -> float:
    """Hypervolume of an octant of the unit sphere, sampled, against (1, 1, 1)."""
    a, b = np.meshgrid(*[np.linspace(0.0, np.pi / 2.0, steps)] * 2)
    points = np.stack([np.cos(a) * np.cos(b), np.cos(a) * np.sin(b), np.sin(a)], axis=-1)
    return hypervolume(points.reshape(-1, 3))


def _volumes() -> Iterator[Check]:
    found: list[tuple[str, str, float, float, str, Kind, Callable[[Bench], float]]] = [
        ("four", "four points against (10, 10)", 38.0, 1e-12, "moocore/hypervolume, example", "published",
         lambda b: 100.0 * hypervolume(FOUR / 10.0)),
        ("library", "data set input1.dat against (10, 10)", 93.55331425585321, 1e-12,
         "moocore/hypervolume, example", "published", lambda b: library_set()),
        ("plane", "(1,3), (2,2), (3,1) against (4, 4)", 6.0, 1e-12, "hand/sum of rectangles", "recomputed",
         lambda b: 16.0 * hypervolume(PLANE / 4.0)),
        ("space", "(1,2,3), (2,1,2), (3,3,1) against (4, 4, 4)", 15.0, 1e-12, "hand/sum of boxes", "recomputed",
         lambda b: 64.0 * hypervolume(SPACE / 4.0)),
        ("zdt1", "ZDT1, 1 - sqrt(f1), against (1, 1): 2/3", 2.0 / 3.0, 2e-4, "zitzler/problem T1", "recomputed",
         lambda b: curve(lambda f: 1.0 - np.sqrt(f))),
        ("zdt2", "ZDT2, 1 - f1^2, against (1, 1): 1/3", 1.0 / 3.0, 2e-4, "zitzler/problem T2", "recomputed",
         lambda b: curve(lambda f: 1.0 - f**2)),
        ("circle", "DTLZ2 in two objectives against (1, 1): 1 - pi/4", 1.0 - np.pi / 4.0, 5e-4, "dtlz/DTLZ2",
         "recomputed", lambda b: curve(lambda f: np.sqrt(1.0 - f**2))),
        ("sphere", "DTLZ2 in three objectives against (1, 1, 1): 1 - pi/6", 1.0 - np.pi / 6.0, 0.03, "dtlz/DTLZ2",
         "recomputed", lambda b: sphere()),
    ]  # fmt: skip
    for name, words, value, tolerance, source, kind, ours in found:
        yield Check(
            f"hypervolume-{name}", TOPIC, f"hypervolume: {words}", "-", value, tolerance, True, cite(source), kind,
            "component", ours,
        )  # fmt: skip


def rank(place: int) -> float:
    """Rank of one of the points :data:`RANKED`, all feasible."""
    return float(constrained_ranks(RANKED, np.zeros(len(RANKED)))[place])


def _dominance() -> Iterator[Check]:
    yield Check(
        "dominance",
        TOPIC,
        "(1,3), (2,2), (2,2), (3,3), (3,1): points of the front, a double counted once",
        "-",
        3.0,
        0.0,
        False,
        cite("moocore/is_nondominated"),
        "published",
        "component",
        lambda bench: float(nondominated(DOUBLE).sum()),
    )
    for place, value in enumerate((0, 0, 1, 0, 2)):
        yield Check(
            f"rank-{place + 1}",
            TOPIC,
            f"rank of ({RANKED[place, 0]:g},{RANKED[place, 1]:g}) among (1,3), (2,2), (3,3), (3,1), (4,4)",
            "-",
            float(value),
            0.0,
            False,
            cite("deb/section III-A"),
            "recomputed",
            "component",
            given(rank, place),
        )
