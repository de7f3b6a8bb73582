"""Coefficients of the model that a bench log can tell: robust least squares, with the bands of doubt as priors.

The most probable values are those of robust least squares (:mod:`explore.bench.problem`), intervals those of the
posterior (:mod:`explore.bench.posterior`) of all coefficients together. What the log does not tell stays as assumed, and
the doubt about it stands in the intervals of the others.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import block_diag
from scipy.special import ndtri

from explore.bench.columns import (
    BOILER,
    COLUMNS,
    CONDENSER,
    COOL_DOWN,
    EXCHANGERS,
    LEAK_DOWN,
    MOTORING,
    PUMP,
    RUNNING,
    Array,
)
from explore.bench.log import Log, Trial
from explore.bench.plant import TUBE_FILMS
from explore.bench.problem import Problem, Reading
from explore.bench.reckoning import Flows, dry, fed, weighed
from explore.bench.trials import Bench
from explore.config.doubtful import Doubtful, doubtful
from explore.config.machine import GivenMachine
from explore.config.schema import Case, Engine
from explore.config.tubes import Exchangers
from explore.doubt.draws import FARTHEST, value
from explore.errors import InputError

PARTS = {
    (RUNNING, MOTORING, LEAK_DOWN): ("valves", "clearance", "seal", "walls", "friction"),
    (PUMP,): ("pump",),
    (COOL_DOWN,): ("store",),
    (BOILER,): ("films of the boiler",),
    (CONDENSER,): ("films of the condenser",),
    (BOILER, CONDENSER): ("films of tubes",),
}
"""Tests, and the groups of assumptions that they are about: parts that share no coefficient are fitted each alone."""
GROUPS = tuple(group for groups in PARTS.values() for group in groups)
UNTOUCHED = "nothing in the log depends on it"
UNSEEN = ("pump_motor_efficiency", "pump_required_head_m")
"""Of these groups, what no such test depends on: the electric side of the feed pump, and where it loses suction."""
NINETY = float(ndtri(0.95))
"""Standard deviations on either side that hold 90 %."""
ENDS = (0.05, 0.1, 0.9, 0.95)
"""Shares of the posterior below the ends of the 90 % interval and, within, of the 10-90 % band."""
IDENTIFIED = float(np.sqrt(0.5))
"""Greatest width of a posterior over that of its prior at which a coefficient counts as identified. There log and band
tell equally much (1/v = 1/v_prior + 1/v_log with both 1); wider, most of the answer would be the band's."""
NO_SLOPE = 1e-6
"""Standard deviations of a reading that one of :data:`explore.bench.problem.TRIED` moves, below which a log does not
depend on a coefficient at all."""
BENT = "what readings say binds the coefficients in a bend that the draws cannot follow"
"""Why nothing of a part is told whose draws did not settle (:data:`explore.bench.posterior.ENOUGH`)."""
LEAST_CUT_OFF = 0.01
"""Of the stroke: a machine that runs admits for longer, so its clearance is less; nearer to none nothing flows."""
AT_EDGE = 2.9
"""Prior standard deviations beyond which a coefficient lies at the edge of what its band allows (the solver stops at 3)."""
CONFOUNDED = 0.5
"""Correlation from which two coefficients are named together: a quarter of the variance of one is then the other's."""


@dataclass(frozen=True)
class Coefficient:
    """One coefficient: ``prior`` and ``fitted`` as (value, low, high) of 90 %, ``band`` (low, high) of 10-90 % after it.

    ``width`` [-] posterior over prior; ``why`` it is not identified, empty if it is.
    """

    item: Doubtful
    prior: tuple[float, float, float]
    fitted: tuple[float, float, float]
    band: tuple[float, float]
    width: float
    identified: bool
    why: str

    @property
    def edge(self) -> int:
        """At which edge of what its band allows the value stopped: -1 the lower, 1 the upper, 0 at none."""
        low, high = _ends(self.item, -AT_EDGE, AT_EDGE)
        return int(self.fitted[0] >= high) - int(self.fitted[0] <= low) if self.identified else 0

    @property
    def wider(self) -> tuple[float, float] | None:
        """A 10-90 % band that reaches twice as far beyond that edge; None where the value itself can lie no further."""
        one, edge = self.item, self.edge
        (farthest,) = _ends(one, edge * FARTHEST)
        if not one.least < farthest < one.most:
            return None
        low, high = 2.0 * one.low - one.likely, 2.0 * one.high - one.likely
        return (
            (max(low, 0.5 * (one.least + one.low)), one.high) if edge < 0 else (one.low, min(high, one.most))
        )


@dataclass(frozen=True)
class Fit:
    """What a log says: ``coefficients``, ``readings``, ``correlations`` (k, k) of those identified, in their order.

    ``misfit`` [-]: by how much the model misses the readings beyond their accuracy; above 1 all intervals are that
    much wider. ``engine`` and ``exchangers`` have the fitted values in them. ``effective`` [-] of each part, by its
    tests: the share of draws that counts; below :data:`explore.bench.posterior.ENOUGH` none of its coefficients is
    identified.
    """

    coefficients: tuple[Coefficient, ...]
    readings: tuple[Reading, ...]
    correlations: NDArray[np.float64]
    misfit: float
    engine: Engine
    exchangers: Exchangers
    effective: Mapping[str, float]
    untold: tuple[str, ...] = ()
    """sentences on lines of exchangers whose flow nobody knows"""

    def identified(self) -> list[Coefficient]:
        """Return the coefficients that the log tells."""
        return [one for one in self.coefficients if one.identified]


@dataclass(frozen=True)
class Part:
    """A :class:`Fit` of one part of the log, without the engine."""

    coefficients: tuple[Coefficient, ...]
    readings: tuple[Reading, ...]
    correlations: NDArray[np.float64]
    misfit: float
    effective: float = np.nan
    flows: Flows | None = None
    """flows of lines as an engine that was fitted has them"""


def topic(one: Doubtful) -> str:
    """Return the group of a coefficient; films of one exchanger share none with those of another, those of tubes one."""
    if one.group != "films":
        return one.group
    if one.name == TUBE_FILMS:
        return "films of tubes"
    return f"films of the {'condenser' if one.name.startswith('condenser') else 'boiler'}"


def candidates(case: Case, machine_has_clearance: bool, films: Sequence[str] = ()) -> tuple[Doubtful, ...]:
    """Return what could be fitted: coefficients of the laws in force, but not the clearance that was measured.

    ``films`` are those of a plant whose areas are known.
    """
    laws = {"wall_law": case.engine.wall_law, "leak_law": case.engine.leak_law}
    only = {"wall_factor": "linear", "wall_root_factor": "root"}
    return tuple(
        one
        for one in doubtful(case)
        if (one.place[0] == "engine" or one.name == TUBE_FILMS)
        and topic(one) in GROUPS
        and (one.group != "films" or one.name in films)
        and one.name not in UNSEEN
        and only.get(one.name, laws["wall_law"]) == laws["wall_law"]
        and not (one.name == "clearance_fraction" and machine_has_clearance)
    )


def bounded(items: Sequence[Doubtful], machine: GivenMachine) -> list[Doubtful]:
    """Return the coefficients, the clearance no greater than leaves a cut-off to every cylinder with a volume ratio.

    The ratio r = (1 + c)/(eps + c) at a cut-off eps of :data:`LEAST_CUT_OFF` gives c = (1 - r eps)/(r - 1).
    """
    ratios = [one.volume_ratio for one in machine.cylinders if (one.volume_ratio or 1.0) > 1.0]
    most = min(((1.0 - r * LEAST_CUT_OFF) / (r - 1.0) for r in ratios if r), default=np.inf)
    return [
        replace(one, most=max(min(one.most, most), one.likely)) if one.name == "clearance_fraction" else one
        for one in items
    ]


def fit(log: Log, bench: Bench) -> Fit:
    """Fit the coefficients of the case to a log.

    Raises :class:`InputError` for a log at whose conditions the machine cannot run, and for an engine set without laws.
    """
    if bench.case.engine.losses != "scaling":
        raise InputError(
            "task=fit: engine.losses=constant has no laws to fit; take engine=careful, or another that scales"
        )
    measured = bench.given.clearance_fraction is not None
    items = bounded(candidates(bench.case, measured, bench.films), bench.given)
    parts, effective, untold = list[Part](), dict[str, float](), list[str]()
    for kinds, groups in PARTS.items():
        own = [one for one in items if topic(one) in groups]
        tests = [test for test in log.tests if test.kind in kinds and own]
        if set(kinds) & set(EXCHANGERS):
            flows = parts[0].flows  # the engine's part comes first
            tests = [
                told
                for test in tests
                if (told := fed(dry(test, bench, untold), flows, untold, bench.plant)).lines
            ]
            tests = [_weighed(log, test, bench) for test in tests]
        if own and tests:
            parts.append(_part(Problem(log.path, tests, bench, own), own))
            effective[", ".join(test.kind for test in tests)] = parts[-1].effective
        elif own:
            parts.append(Part(tuple(_untold(one, UNTOUCHED, 1.0) for one in own), (), np.zeros((0, 0)), 1.0))
    if not any(part.readings for part in parts):
        raise InputError(f"log={log.path}: no line tells anything. {' '.join([*log.untold, *untold][:1])}")
    moved: dict[str, dict[str, float]] = {"engine": {}, "exchangers": {}}
    for one in (one for part in parts for one in part.coefficients):
        moved[one.item.place[0]][one.item.name] = one.fitted[0]
    return Fit(
        tuple(one for part in parts for one in part.coefficients),
        tuple(one for part in parts for one in part.readings),
        np.asarray(block_diag(*(part.correlations for part in parts if part.correlations.size))),
        max(part.misfit for part in parts),
        bench.case.engine.model_copy(update=moved["engine"]),
        bench.case.exchangers.model_copy(update=moved["exchangers"]),
        effective,
        tuple(untold),
    )


def _weighed(log: Log, test: Trial, bench: Bench) -> Trial:
    try:
        return weighed(test, bench)
    except InputError as error:
        raise InputError(f"log={log.path}: {error}") from error


def _part(problem: Problem, items: Sequence[Doubtful]) -> Part:
    """Fit the coefficients that one part of the log is about."""
    start = np.zeros(len(items))
    active = problem.touched(NO_SLOPE)
    z = problem.solved(start, active, 1.0)
    if problem.turns:
        problem = problem.about(z)
        z = problem.solved(z, active, 1.0)
    misfit = problem.misfit(z, active)
    z = problem.solved(z, active, misfit) if misfit > 1.0 else z
    draws = problem.drawn(z, active, misfit)
    if not draws.enough:
        return _bent(problem, items, misfit, draws.share)
    covariance = draws.covariance()
    spread, width = np.sqrt(np.diag(covariance)), np.ones(len(items))
    width[active] = spread
    told = np.flatnonzero(width <= IDENTIFIED)
    z = problem.solved(np.where(width <= IDENTIFIED, z, 0.0), told, misfit)
    slopes = problem.slopes(z) / misfit
    coefficients = []
    for i, one in enumerate(items):
        place = int(np.searchsorted(active, i))
        if i not in active:
            coefficients.append(_untold(one, UNTOUCHED, 1.0))
        elif i in told:
            ends = draws.ends(place, ENDS)
            coefficients.append(_told(one, float(z[i]), ends, float(width[i])))
        else:
            why = _reason([items[int(k)] for k in active], covariance, place, slopes[:, i])
            coefficients.append(_untold(one, why, float(width[i])))
    own = np.flatnonzero(np.isin(active, told))
    correlations = covariance[np.ix_(own, own)] / np.outer(spread[own], spread[own])
    before, after = problem.predicted(np.stack([start, z]))
    flows = partial(problem.flows, draws, z, active) if problem.runs else None
    return Part(
        tuple(coefficients), problem.readings(before, after), correlations, misfit, draws.share, flows
    )


def _bent(problem: Problem, items: Sequence[Doubtful], misfit: float, share: float) -> Part:
    """A part of which nothing is told: all intervals of its draws would be too narrow."""
    start = problem.predicted(np.zeros((1, len(items))))[0]
    untold = tuple(_untold(one, BENT, 1.0) for one in items)
    return Part(untold, problem.readings(start, start), np.zeros((0, 0)), misfit, share)


def _ends(one: Doubtful, *places: float) -> list[float]:
    return [float(x) for x in value(one, np.array(places))]


def _prior(one: Doubtful) -> tuple[float, float, float]:
    low, likely, high = _ends(one, -NINETY, 0.0, NINETY)
    return likely, low, high


def _told(one: Doubtful, z: float, ends: Array, width: float) -> Coefficient:
    """Make a coefficient that is identified; ``ends`` are z at :data:`ENDS`.

    ``z`` is the most probable with what is not identified held; where readings contradict that, it may lie outside the
    posterior of all, and both count.
    """
    fitted, low, below, above, high = _ends(one, z, *ends)
    band = (min(below, fitted), max(above, fitted))
    return Coefficient(one, _prior(one), (fitted, min(low, fitted), max(high, fitted)), band, width, True, "")


def _untold(one: Doubtful, why: str, width: float) -> Coefficient:
    return Coefficient(one, _prior(one), _prior(one), (one.low, one.high), width, False, why)


def _reason(active: Sequence[Doubtful], covariance: Array, place: int, slopes: Array) -> str:
    """Say why the coefficient at ``place`` of the active ones is not identified; ``slopes`` (m,) of the residuals by it."""
    spread = np.sqrt(np.diag(covariance))
    others = covariance[place] / (spread[place] * spread)
    others[place] = 0.0
    partner = int(np.argmax(np.abs(others)))
    if np.sum(slopes**2) < 1.0:
        return "the log depends on it, but less than its accuracy can tell"
    if abs(others[partner]) > CONFOUNDED:
        return f"the log does not tell it apart from {active[partner].name}"
    return "the log does not tell it apart from several others"


def channels(fit: Fit) -> list[tuple[str, str]]:
    """Return the kinds of test and columns that were read, in order."""
    return list(dict.fromkeys((one.kind, one.column) for one in fit.readings))


def accuracy_words(test: Trial) -> list[tuple[str, float, str]]:
    """Return name, accuracy in its unit, and where that is from, of each column that has one."""
    return [
        (name, test.accuracy[name], COLUMNS[name].why) for name in test.columns if test.accuracy[name] > 0.0
    ]
