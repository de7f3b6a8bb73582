"""Coefficients of the model that a bench log can tell: robust least squares, with the bands of doubt as priors.

Each coefficient is a standard normal variate z of its band, as the study of doubt draws it (half-lognormal on either
side of the likely value), so that its prior is z = 0 +- 1. Residuals count in standard deviations of their channel.
What the log does not tell stays at its prior, and the doubt about it widens the intervals of the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import block_diag
from scipy.special import ndtri

from explore.bench.log import COLUMNS, COOL_DOWN, LEAK_DOWN, MOTORING, PUMP, RUNNING, Array, Log, Test
from explore.bench.trials import Bench
from explore.config.doubtful import Doubtful, doubtful
from explore.config.schema import Case, Engine
from explore.doubt.draws import FARTHEST, TENTH, value
from explore.errors import InputError

ABOUT = {
    RUNNING: ("valves", "clearance", "seal", "walls", "friction"),
    MOTORING: ("friction",),
    LEAK_DOWN: ("seal",),
    COOL_DOWN: ("store",),
    PUMP: ("pump",),
}
"""Groups that a test depends on; of others no slope is worked out."""
GROUPS = tuple(dict.fromkeys(group for groups in ABOUT.values() for group in groups))
UNSEEN = ("pump_motor_efficiency", "pump_required_head_m")
"""Of these groups, what no such test depends on: the electric side of the feed pump, and where it loses suction."""
NINETY = float(ndtri(0.95))
"""Standard deviations on either side that hold 90 %."""
COVERED = float(ndtri(0.975))
"""An accuracy holds 95 % of readings: so many standard deviations (JCGM 100:2008, 6.3.3, takes 2)."""
IDENTIFIED = float(np.sqrt(0.5))
"""Greatest width of a posterior over that of its prior at which a coefficient counts as identified. There log and band
tell equally much (1/v = 1/v_prior + 1/v_log with both 1); wider, most of the answer would be the band's."""
ROBUST = 3.0
"""Standard deviations from which a residual counts less and less (soft L1). At 1 an honest log loses a tenth of what it
tells, at 3 a hundredth, and a reading that is 10 off still pulls like one at 3."""
STEP = 1e-3
"""Step of z for slopes: the model rests to 1e-9, and bends little over a thousandth of a band."""
NO_SLOPE = 1e-6
"""Standard deviations of a reading that z = 1 moves, below which a log does not depend on a coefficient at all."""
CONFOUNDED = 0.5
"""Correlation from which two coefficients are named together: a quarter of the variance of one is then the other's."""
MOST_EVALUATIONS = 60
"""Steps of the solver; a log that is told well settles in five to ten."""
DOWN = ("inlet_pressure_bar_a", "inlet_quality")
"""Conditions that are moved down for a slope: up, vapour near its dew point would be liquid, or more than all vapour."""


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


@dataclass(frozen=True)
class Reading:
    """One measured value: where it stands, what was read, its standard deviation, and the model before and after."""

    kind: str
    line: int
    column: str
    measured: float
    deviation: float
    before: float
    after: float

    @property
    def off(self) -> float:
        """Measured less modelled after the fit, in standard deviations."""
        return (self.measured - self.after) / self.deviation


@dataclass(frozen=True)
class Fit:
    """What a log says: ``coefficients``, ``readings``, ``correlations`` (k, k) of those identified, in their order.

    ``misfit`` [-]: by how much the model misses the readings beyond their accuracy; above 1 all intervals are that
    much wider. ``engine`` has the fitted values in it.
    """

    coefficients: tuple[Coefficient, ...]
    readings: tuple[Reading, ...]
    correlations: NDArray[np.float64]
    misfit: float
    engine: Engine

    def identified(self) -> list[Coefficient]:
        """Return the coefficients that the log tells."""
        return [one for one in self.coefficients if one.identified]


def candidates(case: Case, machine_has_clearance: bool) -> tuple[Doubtful, ...]:
    """Return what could be fitted: coefficients of the laws in force, but not the clearance that was measured."""
    laws = {"wall_law": case.engine.wall_law, "leak_law": case.engine.leak_law}
    only = {"wall_factor": "linear", "wall_root_factor": "root"}
    return tuple(
        one
        for one in doubtful(case)
        if one.place[0] == "engine"
        and one.group in GROUPS
        and one.name not in UNSEEN
        and only.get(one.name, laws["wall_law"]) == laws["wall_law"]
        and not (one.name == "clearance_fraction" and machine_has_clearance)
    )


def fit(log: Log, bench: Bench) -> Fit:
    """Fit the coefficients of the case to a log.

    Raises :class:`InputError` for a log at whose conditions the machine cannot run, and for an engine set without laws.
    """
    if bench.case.engine.losses != "scaling":
        raise InputError(
            "task=fit: engine.losses=constant has no laws to fit; take engine=careful, or another that scales"
        )
    items = candidates(bench.case, bench.given.clearance_fraction is not None)
    problem = _Problem(log, bench, items)
    z = np.zeros(len(items))
    before = problem.predicted(z)
    slopes = problem.slopes(z, before)
    active = np.flatnonzero(np.abs(slopes).max(axis=0) > NO_SLOPE)
    z = problem.solved(z, active, 1.0)
    slopes = problem.slopes(z, problem.predicted(z))
    misfit = _misfit(problem.residuals(z), slopes[:, active])
    z = problem.solved(z, active, misfit) if misfit > 1.0 else z
    joint = _covariance(slopes / misfit, problem.residuals(z) / misfit, active)
    told, covariance = active, joint
    while len(told):
        wide = np.sqrt(np.diag(covariance)) > IDENTIFIED
        if not wide.any():
            break
        told = told[~wide]
        z = problem.solved(np.where(np.isin(np.arange(len(items)), told), z, 0.0), told, misfit)
        slopes = problem.slopes(z, problem.predicted(z))
        covariance = _covariance(slopes / misfit, problem.residuals(z) / misfit, told)
    spread = np.sqrt(np.diag(covariance))
    width = np.ones(len(items))
    width[active], width[told] = np.sqrt(np.diag(joint)), spread
    reasons = _reasons(items, slopes / misfit, active, told, joint)
    coefficients = tuple(
        _coefficient(one, float(z[i]), float(width[i]), i in told, reasons.get(one.name, ""))
        for i, one in enumerate(items)
    )
    after = problem.predicted(z)
    return Fit(
        coefficients,
        problem.readings(before, after),
        covariance / np.outer(spread, spread),
        misfit,
        problem.engine(z),
    )


class _Problem:
    """Readings as vectors (m,), in the order of tests, columns and lines; coefficients as z (k,)."""

    def __init__(self, log: Log, bench: Bench, items: Sequence[Doubtful]) -> None:
        self._bench, self._items, self._log = bench, items, log
        self._ways = {test.kind: self._of(test, partial(bench.quick, test)) for test in log.tests}
        self.measured = np.concatenate([self._stacked(test, test.columns) for test in log.tests])
        self._there = np.isfinite(self.measured)
        self.measured = self.measured[self._there]
        errors = block_diag(*(self._errors(test) for test in log.tests))[np.ix_(self._there, self._there)]
        self.deviation = np.sqrt(np.diag(errors))
        self._whiten = _inverse_root(errors)

    def engine(self, z: Array) -> Engine:
        """Return the engine set with the coefficients at z."""
        moved = {
            one.name: float(value(one, np.array([z[i]]))[0])
            for i, one in enumerate(self._items)
            if z[i] != 0.0
        }
        moved |= {one.name: one.likely for i, one in enumerate(self._items) if z[i] == 0.0}
        return self._bench.case.engine.model_copy(update=moved)

    def predicted(self, z: Array) -> Array:
        """Return what the readings would be at z, (m,)."""
        engine = self.engine(z)
        every = [self._stacked(test, self._predict(engine, test)) for test in self._log.tests]
        return np.asarray(np.concatenate(every)[self._there])

    def residuals(self, z: Array) -> Array:
        """Return modelled less measured, in standard deviations, (m,); within a line made independent."""
        return np.asarray(self._whiten @ (self.predicted(z) - self.measured))

    def slopes(self, z: Array, at: Array) -> Array:
        """Return the slopes of the residuals by z, (m, k), where ``at`` is predicted."""
        return np.stack([self._slope(z, at, i) for i in range(len(self._items))], axis=1)

    def _slope(self, z: Array, at: Array, i: int) -> Array:
        step = -STEP if z[i] > 0.0 else STEP  # towards the likely value, so that no bound is met
        moved = z.copy()
        moved[i] += step
        engine, group = self.engine(moved), self._items[i].group
        every = [
            self._stacked(test, self._predict(engine, test))
            if group in ABOUT[test.kind]
            else np.full(len(test.lines) * len(test.measured()), np.nan)
            for test in self._log.tests
        ]
        found = np.concatenate(every)[self._there]
        return np.asarray(self._whiten @ np.where(np.isnan(found), 0.0, found - at) / step)

    def solved(self, z: Array, active: NDArray[np.intp], misfit: float) -> Array:
        """Return the most probable z, those that are not ``active`` held; soft L1 on readings, squares on priors."""
        from scipy.optimize import least_squares

        if not len(active):
            return z
        count = len(self.measured)

        def whole(part: Array) -> Array:
            moved = z.copy()
            moved[active] = part
            return moved

        def residuals(part: Array) -> Array:
            return np.concatenate([self.residuals(whole(part)) / misfit, part])

        def slopes(part: Array) -> Array:
            at = whole(part)
            predicted = self.predicted(at)
            each = [self._slope(at, predicted, int(i)) for i in active]
            return np.concatenate([np.stack(each, axis=1) / misfit, np.eye(len(active))])

        def loss(squares: Array) -> Array:
            soft = 1.0 + squares / ROBUST**2
            rho = np.stack(
                [2.0 * ROBUST**2 * (np.sqrt(soft) - 1.0), soft**-0.5, -0.5 / ROBUST**2 * soft**-1.5]
            )
            prior = np.stack([squares, np.ones_like(squares), np.zeros_like(squares)])
            return np.where(np.arange(len(squares)) < count, rho, prior)

        found = least_squares(
            residuals, np.clip(z[active], -FARTHEST + STEP, FARTHEST - STEP), slopes,
            bounds=(-FARTHEST, FARTHEST), loss=loss, max_nfev=MOST_EVALUATIONS, xtol=1e-4, ftol=1e-6,
        )  # fmt: skip
        return whole(found.x)

    def readings(self, before: Array, after: Array) -> tuple[Reading, ...]:
        """Return all readings with what the model says."""
        places = [
            (test.kind, line, name)
            for test in self._log.tests
            for name in test.measured()
            for line in test.lines
        ]
        there = [place for place, one in zip(places, self._there, strict=True) if one]
        columns = (self.measured, self.deviation, before, after)
        return tuple(
            Reading(*place, *(float(x) for x in numbers))
            for place, *numbers in zip(there, *columns, strict=True)
        )

    def _predict(self, engine: Engine, test: Test) -> dict[str, Array]:
        found: dict[str, Array] = self._of(
            test, lambda: self._bench.predict(engine, test, self._ways[test.kind])
        )
        return found

    def _of(self, test: Test, call: Any) -> Any:
        """Call, and name the log's line in place of the condition's number where that cannot be."""
        try:
            return call()
        except InputError as error:
            raise InputError(f"log={self._log.path}: {_relocated(str(error), test)}") from error
        except ValueError as error:
            reason = str(error).partition(" : ")[0].strip()[:120]
            raise InputError(
                f"log={self._log.path}: the property library has no state of {self._bench.given.fluid} for some "
                f"{test.kind} line: {reason}"
            ) from error

    @staticmethod
    def _stacked(test: Test, columns: Any) -> Array:
        return np.concatenate([columns[name] for name in test.measured()])

    def _errors(self, test: Test) -> Array:
        """Return the covariance (m, m) of a test's errors: those of its readings, and what wrong conditions make of a whole line.

        Errors of a condition move all readings of its line together. Source: first-order propagation, JCGM 100:2008, 5.2.
        """
        engine, count = self._bench.case.engine, len(test.lines)
        names = test.measured()
        own = np.repeat([test.accuracy[name] / COVERED for name in names], count)
        base = self._stacked(test, self._predict(engine, test))
        same = np.tile(np.eye(count), (len(names), len(names)))
        total = np.diag(own**2)
        for name in test.given():
            spread = test.accuracy[name] / COVERED
            if spread == 0.0:
                continue
            step = 0.1 * spread * (-1.0 if name in DOWN else 1.0)  # a tenth: inside what the machine can run at
            moved = Test(test.kind, test.lines, {**test.columns, name: test.columns[name] + step}, test.accuracy)
            slope = (self._stacked(moved, self._predict(engine, moved)) - base) / step * spread
            total = total + np.outer(slope, slope) * same
        return np.asarray(total)


def _relocated(sentence: str, test: Test) -> str:
    """Write the log's line for 'condition N' of a machine's refusal."""
    import re

    found = re.search(r"(?:conditions: )?(.*?)(?: of)? condition (\d+)(.*)", sentence)
    if test.kind != RUNNING or not found:
        return sentence
    hint = "; near the dew point give inlet_quality" if "is liquid" in sentence else ""
    return f"line {test.lines[int(found[2]) - 1]}: {found[1]}{found[3]}{hint}"


def _inverse_root(errors: Array) -> Array:
    """Return the symmetric root of the inverse of a covariance (m, m): of all roots the one that mixes readings least."""
    values, vectors = np.linalg.eigh(errors)
    return np.asarray((vectors / np.sqrt(values)) @ vectors.T)


def _weights(residuals: Array) -> Array:
    """Curvature of the robust loss at each residual: what a reading tells, 1 for one that fits."""
    return np.asarray((1.0 + (residuals / ROBUST) ** 2) ** -1.5)


def _covariance(slopes: Array, residuals: Array, active: NDArray[np.intp]) -> Array:
    """Posterior covariance of the active z: (J'WJ + 1)^-1, widened by the priors of those that are held.

    Held ones are not known, they are only not told: their unit variance goes through the estimate ('consider
    covariance', Tapley, Schutz and Born, Statistical Orbit Determination, 2004, ch. 6, from memory).
    """
    own, held = slopes[:, active], np.delete(slopes, active, axis=1)
    weighted = own * _weights(residuals)[:, None]
    inverse = np.linalg.inv(own.T @ weighted + np.eye(len(active)))
    through = inverse @ (weighted.T @ held)
    return np.asarray(inverse + through @ through.T)


def _misfit(residuals: Array, slopes: Array) -> float:
    """Root of the mean robust square of a residual per degree of freedom, at least 1.

    Source: ratio of external to internal error, Birge, Phys. Rev. 40 (1932) 207 (from memory).
    """
    squares = 2.0 * ROBUST**2 * (np.sqrt(1.0 + (residuals / ROBUST) ** 2) - 1.0)
    told = slopes.T @ slopes
    spent = float(np.trace(np.linalg.solve(told + np.eye(len(told)), told))) if len(told) else 0.0
    return float(max(1.0, np.sqrt(squares.sum() / max(len(residuals) - spent, 1.0))))


def _coefficient(one: Doubtful, z: float, width: float, identified: bool, why: str) -> Coefficient:
    def at(*places: float) -> tuple[float, ...]:
        return tuple(float(x) for x in value(one, np.array(places)))

    prior = at(0.0, -NINETY, NINETY)
    if not identified:
        return Coefficient(one, prior, prior, (one.low, one.high), width, False, why)  # type: ignore[arg-type]
    fitted = at(z, z - NINETY * width, z + NINETY * width)
    band = at(z - TENTH * width, z + TENTH * width)
    return Coefficient(one, prior, fitted, band, width, True, why)  # type: ignore[arg-type]


def _reasons(
    items: Sequence[Doubtful], slopes: Array, active: NDArray[np.intp], told: NDArray[np.intp], joint: Array
) -> dict[str, str]:
    """Say of each coefficient that is not identified why, and of one that is whether the band stopped it."""
    found = {}
    spread = np.sqrt(np.diag(joint))
    for i, one in enumerate(items):
        if i in told:
            continue
        if i not in active:
            found[one.name] = "nothing in the log depends on it"
            continue
        place = int(np.flatnonzero(active == i)[0])
        others = joint[place] / (spread[place] * spread)
        others[place] = 0.0
        partner = int(np.argmax(np.abs(others)))
        if np.sum(slopes[:, i] ** 2) < 1.0:
            found[one.name] = "the log depends on it, but less than its accuracy can tell"
        elif abs(others[partner]) > CONFOUNDED:
            found[one.name] = f"the log does not tell it apart from {items[active[partner]].name}"
        else:
            found[one.name] = "the log does not tell it apart from several others"
    return found


def channels(fit: Fit) -> list[tuple[str, str]]:
    """Return the kinds of test and columns that were read, in order."""
    return list(dict.fromkeys((one.kind, one.column) for one in fit.readings))


def accuracy_words(test: Test) -> list[tuple[str, float, str]]:
    """Return name, accuracy in its unit, and where that is from, of each column that has one."""
    return [
        (name, test.accuracy[name], COLUMNS[name].why) for name in test.columns if test.accuracy[name] > 0.0
    ]
