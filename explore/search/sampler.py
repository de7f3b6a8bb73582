"""Optuna's samplers, and those of a user, as optimisers: a leg is a study in memory, and each design a trial.

Asking for and telling a trial costs about as much as the model itself, and some samplers take a hundred times as long
(:mod:`explore.search.campaign`): they stand here to be compared with, and for who has a better one. What they find is
stored, resumed and shared among workers as any leg is.

Choices are named; of a continuous variable the trial holds its place between its bounds, from 0 to 1, because some
bounds depend on other variables. What does not apply to a design is no parameter of its trial, but for samplers that
cross or fill only what all trials have in common: these are asked for every parameter, and the design makes no use of it.
"""

from __future__ import annotations

import inspect
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import Any

import numpy as np
import optuna
from optuna.exceptions import ExperimentalWarning
from optuna.samplers import (
    BaseGASampler,
    BaseSampler,
    NSGAIIISampler,
    NSGAIISampler,
    QMCSampler,
    RandomSampler,
    TPESampler,
)
from optuna.samplers.nsgaii import PolynomialMutation, SBXCrossover
from optuna.trial import create_trial

from explore.config.schema import Search
from explore.design.space import CHOICES, Space
from explore.errors import InputError
from explore.search.judge import Judged
from explore.search.optimiser import Assignment
from explore.search.parameters import Parameters
from explore.search.population import ANY_FLUID, FLUID, Genes, Known, best

BREACH = "breach"
DIVISIONS = 12
"""91 reference directions with three objectives, about as many as a population has designs."""


def _nsga2(population: int, seed: int) -> BaseSampler:
    return NSGAIISampler(
        population_size=population, crossover=SBXCrossover(), mutation=PolynomialMutation(), seed=seed
    )


def _nsga3(population: int, seed: int) -> BaseSampler:
    return NSGAIIISampler(
        population_size=population,
        crossover=SBXCrossover(),
        mutation=PolynomialMutation(),
        dividing_parameter=DIVISIONS,
        seed=seed,
    )


SAMPLERS: dict[str, Callable[[int, int], BaseSampler]] = {
    "nsga2": _nsga2,
    "nsga3": _nsga3,
    "tpe": lambda population, seed: TPESampler(seed=seed),
    "qmc": lambda population, seed: QMCSampler(scramble=True, seed=seed, warn_independent_sampling=False),
    "random": lambda population, seed: RandomSampler(seed=seed),
}
"""Optuna's own, by the names that ``search.sampler`` takes: what makes one of a population's size and a seed."""


def sampler_of(name: str, population: int, seed: int) -> BaseSampler:
    """Make the sampler of a name in :data:`SAMPLERS`, or of a user's class ``package.module.Class``.

    A class is imported here, so a name must come from who runs the search. It is given ``seed=`` if it takes one.
    Raises :class:`InputError` for a module that cannot be imported, and for what is no sampler there.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ExperimentalWarning)
        if name in SAMPLERS:
            return SAMPLERS[name](population, seed)
        kind = _class(name)
        try:
            takes_seed = "seed" in inspect.signature(kind).parameters
            return kind(seed=seed) if takes_seed else kind()
        except Exception as error:
            raise InputError(
                f"search.sampler={name}: it cannot be made without arguments ({_words(error)})"
            ) from error


def _class(path: str) -> Callable[..., BaseSampler]:
    """Import a user's class of samplers."""
    module, _, name = path.rpartition(".")
    try:
        place = import_module(module)
    except Exception as error:  # whatever a module of the user's raises
        raise InputError(
            f"search.sampler={path}: module {module} cannot be imported ({_words(error)}); it must be on Python's "
            "path (PYTHONPATH)"
        ) from error
    found = getattr(place, name, None)
    if found is None:
        raise InputError(f"search.sampler={path}: module {module} has no {name}")
    if not (isinstance(found, type) and issubclass(found, BaseSampler)):
        raise InputError(
            f"search.sampler={path} is no sampler: a class derived from optuna.samplers.BaseSampler is expected"
        )
    return found


def _words(error: BaseException) -> str:
    return " ".join(f"{type(error).__name__}: {error}".split())[:120]


@dataclass(frozen=True)
class Trials:
    """What a leg's study starts from: its sampler, fluid or any, designs of a batch, and those known.

    Genetic samplers breed only from trials of their own study: what is known is put into the first generation and
    judged again, which costs one generation a leg. To others it is told.
    """

    sampler: str
    fluid: int
    population: int
    known: Known

    def begin(self, space: Space, rng: np.random.Generator) -> Sampler:
        """Open the study."""
        return Sampler(self, space, rng)


def plan(task: Assignment) -> Trials:
    """Start from the best that is known of the leg's focus."""
    archive, search = task.archive, task.search
    known = archive.known if task.focus == ANY_FLUID else archive.of_fluid(task.focus)
    return Trials(search.sampler, task.focus, search.population, best(known, search.population))


def check(search: Search) -> None:
    """Raise :class:`InputError` if the sampler of the settings cannot be made."""
    sampler_of(search.sampler, search.population, search.seed)


class Sampler:
    """A study in memory; a batch has the size of a population, and of a genetic sampler it is one generation.

    A sampler that learns nothing is asked for as many designs as the leg likes.
    """

    def __init__(self, start: Trials, space: Space, rng: np.random.Generator):
        self._name, self._size, self._space = start.sampler, start.population, space
        self._parameters = Parameters.of(space)
        self._options: dict[str, tuple[Any, ...]] = {
            name: self._parameters.choices[name]
            if name != CHOICES[FLUID] or start.fluid == ANY_FLUID
            else (space.fluids[start.fluid],)
            for name in CHOICES
        }
        sampler = sampler_of(start.sampler, start.population, int(rng.integers(2**31)))
        self._whole = isinstance(sampler, BaseGASampler | QMCSampler)
        # Such a sampler finds its parameters in the first trial that is finished: before, it draws by chance.
        self._waits = isinstance(sampler, QMCSampler)
        self._learns = not isinstance(sampler, RandomSampler | QMCSampler)
        objectives = start.known.values.shape[1]
        optuna.logging.set_verbosity(optuna.logging.ERROR)
        with _quiet():
            self._study = optuna.create_study(directions=["minimize"] * objectives, sampler=sampler)
        if isinstance(sampler, BaseGASampler):
            for values in self._named(start.known.genes):
                self._study.enqueue_trial(values)
        elif self._learns:
            self._study.add_trials(self._told(start.known))
        self._asked: list[optuna.Trial] = []

    def ask(self, n: int) -> Genes:
        """Propose a batch, or ``n`` designs if that is less; raises :class:`InputError` where the sampler cannot."""
        count = 1 if self._waits else min(n, self._size) if self._learns else n
        self._waits = False
        with _quiet():
            try:
                self._asked = [self._study.ask() for _ in range(count)]
                rows = [self._suggest(trial) for trial in self._asked]
            except Exception as error:  # whatever a class of the user's raises
                raise InputError(
                    f"search.sampler={self._name} cannot propose designs here ({_words(error)}); take one that serves "
                    "several objectives and parameters that are there for some designs only"
                ) from error
        unit = np.array([[row.get(_place(v.name), 0.5) for v in self._space.variables] for row in rows])
        choices = [[self._parameters.choices[name].index(row[name]) for name in CHOICES] for row in rows]
        return Genes(unit, np.array(choices, int))

    def tell(self, genes: Genes, judged: Judged) -> None:
        """Close the batch's trials."""
        with _quiet():
            for trial, figures, broken in zip(
                self._asked, judged.values.tolist(), judged.breach.tolist(), strict=True
            ):
                trial.set_constraint(BREACH, broken)
                self._study.tell(trial, figures)

    def _suggest(self, trial: optuna.Trial) -> dict[str, Any]:
        """Have a trial take its parameters, choices first."""
        values = {name: trial.suggest_categorical(name, options) for name, options in self._options.items()}
        applying = self._parameters.applying(values)
        for variable in self._space.variables:
            if self._whole or variable.name in applying:
                values[_place(variable.name)] = trial.suggest_float(_place(variable.name), 0.0, 1.0)
        return values

    def _named(self, genes: Genes) -> list[dict[str, Any]]:
        """Name the genes of designs as the study's parameters."""
        applies = self._space.applies(genes.choices) | self._whole
        names = [_place(variable.name) for variable in self._space.variables]
        named = []
        for unit, choices, there in zip(genes.unit.tolist(), genes.choices.tolist(), applies, strict=True):
            values: dict[str, Any] = {
                name: self._parameters.choices[name][place]
                for name, place in zip(CHOICES, choices, strict=True)
            }
            named.append(values | {name: x for name, x, use in zip(names, unit, there, strict=True) if use})
        return named

    def _told(self, known: Known) -> list[optuna.trial.FrozenTrial]:
        """Make finished trials of designs that are known."""
        choices = {name: optuna.distributions.CategoricalDistribution(x) for name, x in self._options.items()}
        place = optuna.distributions.FloatDistribution(0.0, 1.0)
        return [
            create_trial(
                params=values,
                distributions={name: choices.get(name, place) for name in values},
                values=figures,
                constraints={BREACH: broken},
            )
            for values, figures, broken in zip(
                self._named(known.genes), known.values.tolist(), known.breach.tolist(), strict=True
            )
        ]


def _place(name: str) -> str:
    """Name of the parameter that holds where a variable stands between its bounds."""
    return f"place of {name}"


def _quiet() -> warnings.catch_warnings[None]:
    """Let no advice of Optuna's, on what is meant so, into a run's log."""
    return warnings.catch_warnings(action="ignore")
