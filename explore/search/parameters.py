"""Designs as Optuna knows them: named, conditional parameters with units, bounds and scales.

Fluid, layout, regenerator and collector are choices; what is continuous has its column's name, and is there only where
it applies to a design.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import optuna
from optuna.distributions import BaseDistribution, CategoricalDistribution, FloatDistribution, IntDistribution

from explore.config.schema import Case
from explore.design.space import Columns, Space
from explore.design.variables import INPUTS, Layout, Variable


@dataclass(frozen=True)
class Parameters:
    """The parameters of the designs of a space, by name, in the order of the genes, choices first."""

    space: Space
    distributions: Mapping[str, BaseDistribution]

    @classmethod
    def of(cls, space: Space, designs: Mapping[str, Any] | None = None) -> Parameters:
        """Describe a space, widened to hold ``designs`` (columns) that may lie outside of it."""
        held: dict[str, list[Any]] = {name: [] for name in ("fluid", "collector")}
        layouts: list[str] = []
        if designs is not None:
            held = {name: np.unique(np.asarray(designs[name], str)).tolist() for name in held}
            layouts = sorted(set(_layout_words(designs)))
        options = {
            "fluid": [*space.fluids, *held["fluid"]],
            "layout": [*(layout.words for layout in space.layouts), *layouts],
            "regenerator": [*space.regenerators, *([False, True] if designs is not None else [])],
            "collector": [*space.collectors, *held["collector"]],
        }
        choices = {name: CategoricalDistribution(list(dict.fromkeys(all_))) for name, all_ in options.items()}
        numbers = {v.name: _distribution(v, space.bounds[v.name], designs) for v in space.variables}
        return cls(space, choices | numbers)

    @classmethod
    def of_case(cls, case: Case) -> Parameters:
        """Describe the space of a case."""
        return cls.of(Space.from_case(case))

    def values(self, designs: Mapping[str, Any]) -> list[dict[str, Any]]:
        """Name the parameters of designs (columns of n), those that apply to each."""
        regenerator = np.asarray(designs["regenerator_effectiveness"], float) > 0.0
        columns: dict[str, Sequence[Any]] = {
            "fluid": np.asarray(designs["fluid"], str).tolist(),
            "layout": _layout_words(designs),
            "regenerator": regenerator.tolist(),
            "collector": np.asarray(designs["collector"], str).tolist(),
        }
        for variable in self.space.variables:
            column = np.asarray(designs[variable.name], float)
            there = regenerator if variable.applies == "regenerator" else ~np.isnan(column)
            kind = int if variable.whole else float
            columns[variable.name] = [
                kind(x) if applies else None for x, applies in zip(column, there, strict=True)
            ]
        rows = zip(*columns.values(), strict=True)
        return [{name: x for name, x in zip(columns, row, strict=True) if x is not None} for row in rows]

    @property
    def choices(self) -> dict[str, tuple[Any, ...]]:
        """The options of each choice."""
        return {
            name: tuple(one.choices)
            for name, one in self.distributions.items()
            if isinstance(one, CategoricalDistribution)
        }

    def applying(self, values: Mapping[str, Any]) -> set[str]:
        """Names of the continuous parameters of a design, by its choices."""
        layout = next(one for one in self.space.layouts if one.words == values["layout"])
        mixed = layout.store_mode == "mixed"
        kinds = {"always", "mixed" if mixed else "stratified"}
        kinds |= ({"levels"} if layout.pressure_levels > 1 else set()) | (
            {"regenerator"} if values["regenerator"] else set()
        )
        return {variable.name for variable in self.space.variables if variable.applies in kinds}

    def suggest(self, trial: optuna.Trial) -> dict[str, Any]:
        """Have a trial take the parameters of a design, choices first, then what applies to it."""
        values: dict[str, Any] = {
            name: trial.suggest_categorical(name, options) for name, options in self.choices.items()
        }
        applying = self.applying(values)
        for name, one in self.distributions.items():
            if name in applying and isinstance(one, IntDistribution):
                values[name] = trial.suggest_int(name, one.low, one.high)
            elif name in applying and isinstance(one, FloatDistribution):
                values[name] = trial.suggest_float(name, one.low, one.high, log=one.log)
        return values

    def columns(self, values: Sequence[Mapping[str, Any]]) -> Columns:
        """Turn the parameters of n designs back into columns the model reads."""
        layouts = {layout.words: layout for layout in self.space.layouts}
        built = [layouts[one["layout"]] for one in values]
        columns: Columns = {
            "fluid": np.array([one["fluid"] for one in values]),
            "collector": np.array([one["collector"] for one in values]),
            **{name: np.array([getattr(one, name) for one in built]) for name in Layout.__dataclass_fields__},
        }
        for variable in self.space.variables:
            missing = 0.0 if variable.applies == "regenerator" else np.nan
            columns[variable.name] = np.array([one.get(variable.name, missing) for one in values], float)
        return {name: columns[name] for name in INPUTS}


def _layout_words(designs: Mapping[str, Any]) -> list[str]:
    parts = zip(*(np.asarray(designs[name]).tolist() for name in Layout.__dataclass_fields__), strict=True)
    return [
        Layout(str(mode), int(stages), int(levels), governing).words
        for mode, stages, levels, governing in parts
    ]


def _distribution(
    variable: Variable, bounds: tuple[float, float], designs: Mapping[str, Any] | None
) -> BaseDistribution:
    """Describe one continuous variable; bounds that depend on other variables are left to the model."""
    low, high = bounds
    if designs is not None:
        column = np.asarray(designs[variable.name], float)
        there = column[~np.isnan(column) & ((column > 0.0) | (variable.applies != "regenerator"))]
        low, high = min([low, *there.tolist()]), max([high, *there.tolist()])
    if variable.whole:
        return IntDistribution(round(low), round(high))
    return FloatDistribution(float(low), float(high), log=variable.log)
