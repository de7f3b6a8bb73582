"""Designs evaluated, one or many, and swept over inputs and assumptions."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sized
from itertools import islice, product
from typing import Any, Literal

import numpy as np
import pandas as pd

from explore.config.compose import CheckedCase
from explore.config.explain import closest
from explore.config.schema import Case
from explore.design.variables import INPUTS
from explore.errors import InputError, quoted
from explore.model import evaluate as evaluated
from explore.notebook.designs import Rows, frame_of
from explore.notebook.result import Result

PROPERTIES = ("tables", "helmholtz")
MOST_COMBINATIONS = 100_000
"""Of a sweep: as many take half a minute, and no chart shows more."""


def evaluate(
    designs: Rows, scenario: Case, *, properties: Literal["tables", "helmholtz"] = "tables"
) -> Result:
    """Evaluate a design or many.

    ``designs`` is a dict (:func:`explore.new_design` makes one), a list of dicts, a dict of lists, or a DataFrame with
    one row a design; columns are the inputs, in edge units. Figures of earlier results beside them do not count.
    ``scenario`` comes from :func:`explore.load_scenario`.

    Returns inputs and all figures, one row a design, in the rows' order and index, with the columns of ``front.csv``;
    of a frame without rows, no rows. Figures that do not apply to a design are empty, and so are all of a
    design that physics forbids (``possible`` is false); one that breaks another limit keeps them (``feasible`` is
    false). Raises :class:`InputError` with one sentence for what is no design, a column that is missing or
    unknown, and a value that cannot be.
    """
    _refuse_no_case(scenario, "evaluate(designs")
    if properties not in PROPERTIES:
        raise InputError(f"evaluate: properties={quoted(properties)}: it must be {' or '.join(PROPERTIES)}")
    with np.errstate(all="ignore"):  # what a law makes of an absurd value is judged and told in words
        return Result(evaluated(frame_of(designs, scenario), scenario, properties=properties))


def sweep(
    design: Mapping[str, Any],
    scenario: CheckedCase,
    variables: Mapping[str, Iterable[Any]] | None = None,
    **inputs: Iterable[Any],
) -> Result:
    """Evaluate a design with all combinations of some values.

    ``variables`` maps names to the values to take: inputs of the design (``store_volume_L``), which may be given by
    keyword as well, and assumptions of the scenario by their dotted names (``engine.ring_gap_um``,
    ``scenario.site.tilt_deg``). The result has what was varied in its first columns.
    Raises :class:`InputError` for a name that is neither, for no values, and for too many combinations.
    """
    _refuse_no_case(scenario, "sweep(design")
    design = design.to_dict() if isinstance(design, pd.Series) else design
    if not isinstance(design, Mapping):
        raise InputError(
            f"sweep takes one design as a dict, not {type(design).__name__}; explore.new_design() makes one"
        )
    if not isinstance(variables or {}, Mapping):
        raise InputError(
            "sweep: what to vary is a dict of names to values, as {'engine.ring_gap_um': [8, 13]}"
        )
    values = {name: _values(name, given) for name, given in {**(variables or {}), **inputs}.items()}
    if not values:
        raise InputError("sweep: say what to vary, as in sweep(design, case, store_volume_L=[200, 400])")
    _refuse_too_many(math.prod(len(some) for some in values.values()))
    own = {name: some for name, some in values.items() if name in INPUTS}
    assumed = {name: some for name, some in values.items() if name not in INPUTS}
    designs = [dict(design) | dict(zip(own, some, strict=True)) for some in product(*own.values())]
    parts = []
    for chosen in product(*assumed.values()):
        taken = dict(zip(assumed, chosen, strict=True))
        part = pd.DataFrame(evaluate(designs, scenario.with_(taken) if taken else scenario))
        for place, (name, value) in enumerate(taken.items()):
            part.insert(place, name, [value] * len(part))
        parts.append(part)
    result = Result(pd.concat(parts, ignore_index=True))
    result.varied = tuple(values)
    return result


def _values(name: Any, given: Any) -> list[Any]:
    if not isinstance(name, str):
        raise InputError(f"sweep: {quoted(name)} is no name of an input")
    if name not in INPUTS and "." not in name:
        near = closest(name, INPUTS) or "; an assumption has a dotted name, as engine.ring_gap_um"
        raise InputError(f"sweep: {name[:60]!r} is no input{near}")
    single = isinstance(given, str | int | float | np.generic) or getattr(given, "ndim", None) == 0
    if isinstance(given, range):
        _refuse_too_many(len(given))
    try:
        listed = [given] if single else list(islice(given, MOST_COMBINATIONS + 1))
    except TypeError as error:
        raise InputError(f"sweep: {name} needs a list of values, not {type(given).__name__}") from error
    if not listed:
        raise InputError(f"sweep: {name} has no values; give a list of some")
    if len(listed) > MOST_COMBINATIONS:
        _refuse_too_many(len(given) if isinstance(given, Sized) else None)
    return [_value(name, one) for one in listed]


def _value(name: str, one: Any) -> Any:
    """Return one of the values of a sweep as plain Python has it."""
    if getattr(one, "ndim", 0):
        raise InputError(f"sweep: {name} needs a list of single values, not one of {one.ndim + 1} dimensions")
    return one.item() if hasattr(one, "item") else one


def _refuse_too_many(count: int | None) -> None:
    """Raise :class:`InputError` for more combinations than a sweep takes; None: without end, or too many to count."""
    if count is None or count > MOST_COMBINATIONS:
        many = "as many" if count is None else f"{count:,}"
        raise InputError(f"sweep: {many} combinations are more than {MOST_COMBINATIONS:,}; take fewer values")


def _refuse_no_case(scenario: Any, call: str) -> None:
    if not isinstance(scenario, Case):
        raise InputError(
            f"a whole scenario is needed, not {type(scenario).__name__}; write {call}, explore.load_scenario('orchard'))"
        )
