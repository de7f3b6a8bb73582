"""Designs of one's own: a frame in, a frame out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from explore.design.designs import checked
from explore.design.usual import USUAL
from explore.design.variables import INPUTS
from explore.errors import InputError
from explore.model.evaluator import Columns, Evaluator, Path

if TYPE_CHECKING:
    import pandas as pd

    from explore.config.schema import Case


def emptied(columns: Columns) -> Columns:
    """Take the figures from designs that are not ``possible``; inputs and margins stay, for they say why."""
    impossible = ~np.asarray(columns["possible"], bool)
    kept = {"possible", "feasible", *INPUTS}

    def shown(name: str, values: np.ndarray) -> np.ndarray:
        if name in kept or name.startswith("violation_") or not impossible.any():
            return values
        if values.dtype == object:
            return np.where(impossible, "", values)
        return np.where(impossible, np.nan, values)

    return {name: shown(name, np.asarray(values)) for name, values in columns.items()}


def evaluate(designs: pd.DataFrame, scenario: Case, *, properties: Path = "tables") -> pd.DataFrame:
    """Evaluate designs of your own.

    ``designs`` has one row a design and the input columns listed in README, in edge units; ``scenario`` comes from
    :func:`explore.load_scenario`. Returns the inputs and all figures, in the rows' order and index; figures that do
    not apply to a design are empty, and so are all of a design that physics forbids (``possible`` is false); one that
    only breaks a limit of the machine or a wish of the scenario keeps them (``feasible`` is false). A frame without rows
    gives one without rows, with all columns. Raises
    :class:`explore.errors.InputError` for a missing column or a value that cannot be.
    """
    import pandas as pd

    from explore.config.schema import Case

    if not isinstance(designs, pd.DataFrame):
        raise InputError(
            f"evaluate takes designs as a DataFrame with one row a design, not as {type(designs).__name__}; "
            "write pandas.DataFrame([design])"
        )
    if not isinstance(scenario, Case):
        raise InputError(
            f"evaluate takes a whole scenario, not {type(scenario).__name__}; write "
            "evaluate(designs, load_scenario('orchard'))"
        )
    evaluator = Evaluator(scenario, properties)
    columns = checked(designs, evaluator.fluids, evaluator.collectors, evaluator.usual)
    if len(designs) == 0:
        return evaluate(pd.DataFrame([_any_design(evaluator)]), scenario).iloc[:0]
    results = emptied(evaluator.evaluate(columns))
    inputs = {name: columns[name] for name in INPUTS}
    return pd.DataFrame(inputs | results, index=designs.index)


def _any_design(evaluator: Evaluator) -> dict[str, Any]:
    """Make a design whose columns are those of every other."""
    return USUAL | {"fluid": evaluator.fluids[0], "collector": evaluator.collectors[0]}
