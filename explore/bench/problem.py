"""A part of a log as least squares: readings against a model with many engines at once, scaled and robust.

Each coefficient is a variate z of its band, as the study of doubt draws it, so that its prior is z = 0 +- 1. Vectors of
readings are (m,), in the order of tests, columns and lines.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from explore.bench.columns import BOILER, EXCHANGERS, RUNNING, Array
from explore.bench.log import Reckoned, Trial
from explore.bench.misread import COVERED, Errors, inverse_root, stacked
from explore.bench.plant import TUBE_FILMS
from explore.bench.posterior import DRAWS, FEW_DRAWS, SEED, Draws, sample
from explore.bench.trials import Bench
from explore.config.doubtful import Doubtful
from explore.doubt.draws import FARTHEST, value
from explore.errors import InputError

ROBUST = 3.0
"""Standard deviations from which a residual counts less and less (soft L1). At 1 an honest log loses a tenth of what it
tells, at 3 a hundredth, and a reading that is 10 off still pulls like one at 3."""
TRIED = (-3.0, -1.0, 1.0, 3.0)
"""z at which it is tried whether a log depends on a coefficient: nearer to the likely value a machine may be so tight
that nothing moves, or a loss so small that it is none."""
STEP = 1e-3
"""Step of z for slopes: the model rests to 1e-9, and bends little over a thousandth of a band."""
FLOW_DRAWS = 400
"""Engines that say a flow which was not read: their covariance is then good to a fifteenth."""
MOST_AT_ONCE = 40_000
"""Lines times engines of one run: some hundred megabytes of arrays."""
MOST_EVALUATIONS = 60
"""Steps of the solver; a log that is told well settles in five to ten."""


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


class Problem:
    """Readings as vectors (m,), in the order of tests, columns and lines; coefficients as z (k,)."""

    def __init__(
        self,
        path: str,
        tests: Sequence[Trial],
        bench: Bench,
        items: Sequence[Doubtful],
        about: Mapping[str, Any] | None = None,
    ) -> None:
        """Take the readings of some tests; conditions move them by the slopes ``about`` coefficients, or assumed ones."""
        self._bench, self._items, self._path, self._tests = bench, items, path, tests
        self._about = about or {}
        self.errors = Errors(self._plain)
        self._ways = {test.kind: self._of(test, partial(bench.quick, test)) for test in tests}
        self.measured = np.concatenate([stacked(test, test.columns) for test in tests])
        self._there = np.isfinite(self.measured)
        self.measured = self.measured[self._there]
        errors = self.errors.of_all(tests)[np.ix_(self._there, self._there)]
        self.deviation = np.sqrt(np.diag(errors))
        self._whiten = inverse_root(errors)

    @property
    def turns(self) -> bool:
        """Whether slopes by conditions turn with the coefficients: of boilers in series a little area moves much flow.

        So they do with films of tubes, where one law takes over from another.
        """
        kinds = {test.kind for test in self._tests} & set(EXCHANGERS)
        return bool(kinds) and (self._bench.of_tubes or (BOILER in kinds and self._bench.in_series))

    def about(self, z: Array) -> Problem:
        """Return the same readings, their errors by the slopes at z (k,)."""
        return Problem(self._path, self._tests, self._bench, self._items, self.values(z))

    @property
    def runs(self) -> bool:
        """Whether the engine runs in one of the tests."""
        return any(test.kind == RUNNING for test in self._tests)

    def values(self, z: Array) -> dict[str, float]:
        """Return the coefficients at z (k,)."""
        return {name: float(x[0]) for name, x in self._values(z[None]).items()}

    def _values(self, z: Array) -> dict[str, Array]:
        """Return the coefficients at z (s, k), each (s,)."""
        return {one.name: value(one, z[:, i]) for i, one in enumerate(self._items)}

    def predicted(self, z: Array) -> Array:
        """Return what the readings would be at z (s, k), (s, m): many engines in one run."""
        most = max(1, MOST_AT_ONCE // max(len(test.lines) for test in self._tests))
        found = [self._at_once(z[first : first + most]) for first in range(0, len(z), most)]
        return np.concatenate(found)

    def _at_once(self, z: Array) -> Array:
        found = [self._tried(test, self._values(z), len(z)) for test in self._tests]
        return np.asarray(np.concatenate(found, axis=1)[:, self._there])

    def _tried(self, test: Trial, values: dict[str, Array], count: int) -> Array:
        """Return the readings of a test with ``count`` engines, (count, columns x lines)."""
        n = len(test.lines)
        each = {name: np.repeat(x, n) for name, x in values.items()}
        columns = {name: np.tile(x, count) for name, x in test.columns.items()}
        many = Trial(test.kind, test.lines * count, columns, test.accuracy)
        found = self._of(test, lambda: self._read(each, many))
        return np.concatenate([found[name].reshape(count, n) for name in test.measured()], axis=1)

    def residuals(self, z: Array) -> Array:
        """Return modelled less measured at z (s, k), in standard deviations, (s, m); independent within a line."""
        return np.asarray((self.predicted(z) - self.measured) @ self._whiten)

    def touched(self, least: float) -> NDArray[np.intp]:
        """Return which coefficients, moved alone, move any reading by more than ``least`` standard deviations."""
        places = np.concatenate([place * np.eye(len(self._items)) for place in TRIED])
        moved = self.residuals(np.concatenate([np.zeros_like(places[:1]), places]))
        most = np.abs(moved[1:] - moved[0]).max(axis=1).reshape(len(TRIED), -1).max(axis=0)
        return np.flatnonzero(most > least)

    def slopes(self, z: Array) -> Array:
        """Return the slopes of the residuals by z (k,), (m, k)."""
        steps = np.where(z > 0.0, -STEP, STEP)  # towards the likely value, so that no bound is met
        found = self.predicted(np.concatenate([z[None], z + np.diag(steps)]))
        return np.asarray((self._whiten @ (found[1:] - found[0]).T) / steps)

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
            return np.concatenate([self.residuals(whole(part)[None])[0] / misfit, part])

        def slopes(part: Array) -> Array:
            return np.concatenate([self.slopes(whole(part))[:, active] / misfit, np.eye(len(active))])

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

    def drawn(self, z: Array, active: NDArray[np.intp], misfit: float) -> Draws:
        """Draw the posterior of the active z, begun at their most probable values; what no reading depends on is held."""

        def density(part: Array) -> Array:
            whole = np.repeat(z[None], len(part), axis=0)
            whole[:, active] = part
            data = robust(self.residuals(whole) / misfit).sum(axis=1)
            return np.asarray(-0.5 * (data + np.sum(part**2, axis=1)))

        slopes = self.slopes(z)[:, active] / misfit
        weights = (1.0 + (self.residuals(z[None])[0] / misfit / ROBUST) ** 2) ** -1.5
        information = slopes.T @ (slopes * weights[:, None]) + np.eye(len(active))
        dear = any(test.kind == RUNNING and self._ways[RUNNING].properties is None for test in self._tests)
        dear = dear or any(test.kind in EXCHANGERS and self._bench.of_tubes for test in self._tests)
        return sample(density, z[active], np.linalg.inv(information), FEW_DRAWS if dear else DRAWS)

    def misfit(self, z: Array, active: NDArray[np.intp]) -> float:
        """Return the root of the mean robust square of a residual per degree of freedom, at least 1.

        Source: ratio of external to internal error, Birge, Phys. Rev. 40 (1932) 207 (from memory).
        """
        slopes = self.slopes(z)[:, active]
        told = slopes.T @ slopes
        spent = float(np.trace(np.linalg.solve(told + np.eye(len(told)), told))) if len(told) else 0.0
        squares = robust(self.residuals(z[None])[0])
        return float(max(1.0, np.sqrt(squares.sum() / max(len(squares) - spent, 1.0))))

    def readings(self, before: Array, after: Array) -> tuple[Reading, ...]:
        """Return all readings with what the model says."""
        places = [
            (test.kind, line, name) for test in self._tests for name in test.measured() for line in test.lines
        ]
        there = [place for place, one in zip(places, self._there, strict=True) if one]
        columns = (self.measured, self.deviation, before, after)
        return tuple(
            Reading(*place, *(float(x) for x in numbers))
            for place, *numbers in zip(there, *columns, strict=True)
        )

    def _read(self, values: Mapping[str, Any], test: Trial) -> dict[str, Array]:
        """Return the readings of a test with some coefficients, of the engine set or of tubes."""
        of_engine = {name: x for name, x in values.items() if name != TUBE_FILMS}
        way = replace(self._ways[test.kind], tube_films=values.get(TUBE_FILMS))
        return self._bench.predict(self._bench.case.engine.model_copy(update=of_engine), test, way)

    def _plain(self, test: Trial) -> dict[str, Array]:
        found: dict[str, Array] = self._of(test, lambda: self._read(self._about, test))
        return found

    def _of(self, test: Trial, call: Any) -> Any:
        """Call, and name the log's line in place of the condition's number where that cannot be."""
        try:
            return call()
        except InputError as error:
            raise InputError(f"log={self._path}: {_relocated(str(error), test)}") from error
        except ValueError as error:
            reason = str(error).partition(" : ")[0].strip()[:120]
            raise InputError(
                f"log={self._path}: the property library has no state of {self._bench.given.fluid} for some "
                f"{test.kind} line: {reason}"
            ) from error

    def flows(
        self,
        draws: Draws,
        z: Array,
        active: NDArray[np.intp],
        lines: Sequence[int],
        shared: Mapping[str, str],
    ) -> tuple[Array, Reckoned]:
        """Return the flow [kg/h] of some running lines as the engine that is left has it, (n,), and its doubt.

        Coefficients by the posterior. Conditions ``shared`` with an exchanger, by their names there, are left to it.
        """
        (test,) = (one for one in self._tests if one.kind == RUNNING)
        places = [test.lines.index(line) for line in lines]
        columns = {name: test.columns[name][places] for name in test.given()}
        columns["flow_kg_per_h"] = np.zeros(len(lines))
        asked = Trial(RUNNING, tuple(lines), columns, {**test.accuracy, "flow_kg_per_h": 0.0})
        random = np.random.default_rng(SEED)
        whole = np.repeat(z[None], FLOW_DRAWS, axis=0)
        whole[:, active] = draws.z[random.choice(len(draws.z), FLOW_DRAWS, p=draws.weights)]
        found = self._tried(asked, self._values(whole), FLOW_DRAWS)
        by_condition = self.errors.by_condition(asked)
        alone = [slope**2 for name, slope in by_condition.items() if name not in shared]
        covariance = np.cov(found.T).reshape(len(lines), -1) + np.diag(np.sum(alone, axis=0))
        slopes = {
            shared[name]: slope * COVERED / asked.accuracy[name]
            for name, slope in by_condition.items()
            if name in shared
        }
        return found.mean(axis=0), Reckoned(covariance, slopes)


def _relocated(sentence: str, test: Trial) -> str:
    """Write the log's line for 'condition N' of a machine's refusal."""
    found = re.search(r"(?:conditions: )?(.*?)(?: of)? condition (\d+)(.*)", sentence)
    if test.kind != RUNNING or not found:
        return sentence
    hint = "; near the dew point give inlet_quality" if "is liquid" in sentence else ""
    return f"line {test.lines[int(found[2]) - 1]}: {found[1]}{found[3]}{hint}"


def robust(residuals: Array) -> Array:
    """Soft L1: the square of a small residual, twice :data:`ROBUST` times a large one."""
    return np.asarray(2.0 * ROBUST**2 * (np.sqrt(1.0 + (residuals / ROBUST) ** 2) - 1.0))
