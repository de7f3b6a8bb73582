"""Designs of one's own, as a person writes them: a dict, a list of dicts, a frame."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from explore.config.explain import closest
from explore.design.designs import OPTIONAL
from explore.design.usual import USUAL
from explore.design.variables import INPUTS, RECORDS, Input
from explore.errors import InputError, few
from explore.figures.format import COLUMNS
from explore.figures.readings import over_worlds
from explore.run.design_file import MARKS

if TYPE_CHECKING:
    from explore.config.schema import Case

Rows = pd.DataFrame | pd.Series | Mapping[str, Any] | Sequence[Mapping[str, Any]]


def new_design(**changes: Any) -> dict[str, Any]:
    """Return a plain design to begin with, as a dict of all inputs, with some of them changed.

    ``new_design(fluid="n-Butane", store_volume_L=800)``. Values are checked when the design is evaluated; inputs that do
    not apply to it, as the stop temperature of a stratified store, do not count. It is no optimum.
    Raises :class:`InputError` for a name that is no input.
    """
    for name in changes:
        if name not in INPUTS:
            raise InputError(f"new_design: {name[:60]!r} is no input{_meant(name)}")
    return USUAL | changes


def _meant(name: str) -> str:
    """Return the input that a name comes near to, or some inputs."""
    return closest(name, INPUTS) or f"; inputs are {few(INPUTS, name)}"


def frame_of(designs: Rows, case: Case) -> pd.DataFrame:
    """Return designs as a frame with one row each, and with every input that applies to any of them.

    A card's file name may stand for its fluid. Raises :class:`InputError` for what holds no designs, for a name that
    is no column, and for inputs that are missing.
    """
    frame = _rows(designs)
    _refuse_strange(frame, given_by_name=not isinstance(designs, pd.DataFrame))
    frame = _complete(frame)
    stems = {stem: card.name for stem, card in case.fluids.items()}
    named = [stems.get(fluid, fluid) if isinstance(fluid, str) else fluid for fluid in frame["fluid"]]
    return frame.assign(fluid=pd.Series(named, frame.index, dtype=object))


def _rows(designs: Any) -> pd.DataFrame:
    if isinstance(designs, pd.DataFrame):
        return pd.DataFrame(designs)
    if isinstance(designs, pd.Series):
        return pd.DataFrame([designs.to_dict()])
    if isinstance(designs, Mapping):
        designs = {name: _single(value) for name, value in designs.items()}
        lists = any(_is_list(value) for value in designs.values())
        try:
            return pd.DataFrame(dict(designs) if lists else [dict(designs)])
        except ValueError as error:
            raise InputError(f"designs: a dict of lists needs lists of one length ({error})") from error
    listed = list(designs) if isinstance(designs, Sequence) and not isinstance(designs, str) else []
    if listed and all(isinstance(one, Mapping) for one in listed):
        return pd.DataFrame([{name: _single(value) for name, value in one.items()} for one in listed])
    kind = "a list of something else" if isinstance(designs, list) else type(designs).__name__
    raise InputError(
        "evaluate takes a design as a dict, several as a list of dicts or as a DataFrame with one row each, not "
        f"{kind}; explore.new_design() makes one"
    )


def _single(value: Any) -> Any:
    """Return the one value of an array without dimensions, all else as it is."""
    return value.item() if isinstance(value, np.ndarray) and value.ndim == 0 else value


def _is_list(value: Any) -> bool:
    if isinstance(value, np.ndarray):
        return value.ndim > 0
    return isinstance(value, Sequence | pd.Series) and not isinstance(value, str)


def _refuse_strange(frame: pd.DataFrame, *, given_by_name: bool) -> None:
    """Raise :class:`InputError` for a column that is neither input nor figure; of a frame if it looks like one."""
    if frame.columns.nlevels > 1:
        raise InputError("designs: columns have several levels of names; one name each is needed")
    twice = frame.columns[frame.columns.duplicated() & frame.columns.isin(INPUTS)]
    if len(twice):
        raise InputError(f"designs: column {twice[0]} stands there twice; one is needed")
    for name in map(str, frame.columns):
        if name in COLUMNS or name in MARKS or name.startswith("violation_") or over_worlds(name):
            continue
        if closest(name, INPUTS) or (given_by_name and "." not in name):
            raise InputError(f"designs: unknown column {name[:60]}{_meant(name)}")


def _complete(frame: pd.DataFrame) -> pd.DataFrame:
    """Add the inputs that may be left out, empty; raise :class:`InputError` for all others that are missing."""
    absent = [one for one in RECORDS if one.name not in frame.columns]
    missing = [one.name for one in absent if one.name not in OPTIONAL and _applies(one, frame)]
    if missing:
        more = f", and {len(missing) - 1} more" if len(missing) > 1 else ""
        raise InputError(
            f"designs: column {missing[0]!r} is missing{more}; explore.new_design() gives a design with all of them"
        )
    empty = {
        one.name: 0.0 if one.applies == "regenerator" else float("nan")
        for one in absent
        if one.name not in OPTIONAL
    }
    return frame.assign(**empty)


def _applies(one: Input, frame: pd.DataFrame) -> bool:
    """Whether an input says something about any row; about none that says too little of itself to tell."""
    if one.applies == "regenerator":
        return False
    if one.applies == "always" or "store_mode" not in frame.columns:
        return True
    modes = frame["store_mode"].astype(str)
    if one.applies == "mixed":
        return bool((modes == "mixed").any())
    levels = pd.to_numeric(frame.get("pressure_levels", 1), errors="coerce")
    several = levels > 1 if one.applies == "levels" else True
    return bool(((modes == "stratified") & several).any())
