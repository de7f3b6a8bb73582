"""A batch of designs: from named columns in edge units to arrays in SI, with every input checked."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, Self

import numpy as np

from explore import units
from explore.design.variables import INPUTS, RECORDS, STORE_MODES, Input
from explore.errors import InputError, few, quoted
from explore.fluids.interface import Array, Index
from explore.plant.governor import GOVERNORS

if TYPE_CHECKING:
    import pandas as pd

OPTIONAL: dict[str, Any] = {
    "speed_rev_per_min": 300.0,
    "cylinders_per_stage": 1,
    "governing": "speed",
    "sizing_share": 0.25,
}
"""Columns that a table of designs may lack or leave empty, and what counts then where no case says otherwise."""


@dataclass(frozen=True)
class Designs:
    """Arrays of n designs, SI and kelvin; values that do not apply to a design are NaN."""

    fluid: Index
    stratified: np.ndarray
    collector: Index
    stages: Index
    levels: Index
    top_temperature: Array
    evaporating_temperature: Array
    lowest_evaporating_temperature: Array
    boil_approach: Array
    stop_temperature: Array
    superheat: Array
    condensing_temperature: Array
    subcooling: Array
    pinch_boiler: Array
    pinch_condenser: Array
    release_ratio: Array
    regenerator_effectiveness: Array
    volume: Array
    insulation: Array
    collector_area: Array
    speed: Array
    cylinders: Array
    governing: Index
    sizing_share: Array

    def __len__(self) -> int:
        """Return n."""
        return len(self.top_temperature)

    def take(self, index: Index) -> Self:
        """Return the designs ``index``."""
        return type(self)(**{f.name: getattr(self, f.name)[index] for f in fields(self)})

    @classmethod
    def from_columns(
        cls,
        columns: Mapping[str, np.ndarray],
        fluids: Sequence[str],
        collectors: Sequence[str],
        usual: Mapping[str, Any] = OPTIONAL,
    ) -> Self:
        """Convert columns that are known to be sound (see :func:`checked` for those of a user).

        Columns of :data:`OPTIONAL` may be missing or empty: ``usual`` holds what counts then.
        """
        columns = completed(columns, usual)

        def number(name: str) -> Array:
            return np.asarray(columns[name], dtype=float)

        def K(name: str) -> Array:
            return units.kelvin(number(name))

        return cls(
            fluid=_positions(columns["fluid"], fluids),
            stratified=np.asarray(columns["store_mode"]) == "stratified",
            collector=_positions(columns["collector"], collectors),
            stages=np.asarray(columns["stages"]).astype(np.intp),
            levels=np.asarray(columns["pressure_levels"]).astype(np.intp),
            top_temperature=K("top_temperature_degC"),
            evaporating_temperature=K("evaporating_temperature_degC"),
            lowest_evaporating_temperature=K("lowest_evaporating_temperature_degC"),
            boil_approach=number("boil_approach_K"),
            stop_temperature=K("stop_temperature_degC"),
            superheat=number("superheat_K"),
            condensing_temperature=K("condensing_temperature_degC"),
            subcooling=number("subcooling_K"),
            pinch_boiler=number("pinch_boiler_K"),
            pinch_condenser=number("pinch_condenser_K"),
            release_ratio=number("release_pressure_ratio"),
            regenerator_effectiveness=np.nan_to_num(number("regenerator_effectiveness")),
            volume=number("store_volume_L") / units.L_PER_M3,
            insulation=number("insulation_mm") / units.MM_PER_M,
            collector_area=number("collector_area_m2"),
            speed=number("speed_rev_per_min") / 60.0,
            cylinders=number("cylinders_per_stage"),
            governing=_positions(columns["governing"], GOVERNORS),
            sizing_share=number("sizing_share"),
        )


def completed(columns: Mapping[str, np.ndarray], usual: Mapping[str, Any]) -> dict[str, np.ndarray]:
    """Return the columns with those of ``usual`` filled in where they are missing or empty."""
    n = len(columns["fluid"])
    done = dict(columns)
    for name, value in usual.items():
        given = columns.get(name)
        if given is None:
            done[name] = np.full(n, value, dtype=object if isinstance(value, str) else float)
        elif (empty := _empty(given)).any():
            done[name] = np.where(empty, value, given)
    return done


def _empty(values: np.ndarray) -> np.ndarray:
    if values.dtype.kind == "O":
        return np.array([value is None or value != value for value in values], dtype=bool)
    return np.isnan(values) if values.dtype.kind == "f" else np.zeros(len(values), dtype=bool)


def _positions(names: np.ndarray, known: Sequence[str]) -> Index:
    place = {name: i for i, name in enumerate(known)}
    return np.fromiter((place[str(name)] for name in names), dtype=np.intp, count=len(names))


def checked(
    frame: pd.DataFrame,
    fluids: Sequence[str],
    collectors: Sequence[str],
    usual: Mapping[str, Any] = OPTIONAL,
) -> dict[str, np.ndarray]:
    """Check a user's designs and return them as columns.

    Raises :class:`InputError` naming column and row for a missing column, a value that is not a number, is
    absent where it applies or lies outside what the model can hold, evaporation no hotter than condensation, an
    unknown fluid or collector.
    """
    columns: dict[str, np.ndarray] = {}
    frame = frame.assign(
        **{
            name: frame[name].astype(object).where(frame[name].notna(), value)
            if name in frame.columns
            else value
            for name, value in usual.items()
        }
    )
    missing = [name for name in INPUTS if name not in frame.columns]
    if missing:
        raise InputError(
            f"designs: column {missing[0]!r} is missing; the columns needed are {', '.join(INPUTS)}"
        )
    allowed = {"fluid": fluids, "store_mode": STORE_MODES, "collector": collectors, "governing": GOVERNORS}
    every = np.ones(len(frame), bool)
    for one in _of_kind("words"):
        columns[one.name] = _text(frame, one.name, allowed[one.name])
    for one in _of_kind("whole"):
        name = one.name
        columns[name] = _numbers(frame, one, every)
        broken = columns[name] != np.round(columns[name])
        if broken.any():
            row = int(np.flatnonzero(broken)[0])
            raise InputError(
                f"designs: {name} in row {row + 1} is {columns[name][row]}, it must be a whole number"
            )
    stratified = columns["store_mode"] == "stratified"
    where = {
        "stratified": stratified,
        "mixed": ~stratified,
        "levels": stratified & (columns["pressure_levels"] > 1),
    }
    for one in _of_kind("number"):
        columns[one.name] = _numbers(frame, one, where.get(one.applies, every))
    for name, applies in (
        ("evaporating_temperature_degC", stratified),
        ("lowest_evaporating_temperature_degC", where["levels"]),
    ):
        _refuse_no_lift(columns, name, applies)
    return columns


def _refuse_no_lift(columns: dict[str, np.ndarray], name: str, applies: np.ndarray) -> None:
    """Raise :class:`InputError` for the first design that evaporates no hotter than it condenses."""
    condensing = columns["condensing_temperature_degC"]
    wrong = applies & (columns[name] <= condensing)
    if wrong.any():
        row = int(np.flatnonzero(wrong)[0])
        raise InputError(
            f"designs: {name} in row {row + 1} is {columns[name][row]:g}, "
            f"it must be above condensing_temperature_degC, {condensing[row]:g}"
        )


def _of_kind(kind: str) -> list[Input]:
    return [one for one in RECORDS if one.kind == kind]


def _text(frame: pd.DataFrame, name: str, allowed: Sequence[str]) -> np.ndarray:
    values = np.empty(len(frame), dtype=object)
    values[:] = [str(value) if isinstance(value, str) else quoted(value) for value in frame[name]]
    for row, value in enumerate(values):
        if value not in allowed:
            raise InputError(
                f"designs: {name} in row {row + 1} is {quoted(value)}, it must be one of {few(allowed, value)}"
            )
    return values


def _numbers(frame: pd.DataFrame, one: Input, applies: np.ndarray) -> np.ndarray:
    name, (low, high) = one.name, one.holds
    raw: Any = frame[name]
    values = _floats(raw)
    text = np.isnan(values) & raw.notna().to_numpy() & ~raw.map(_blank).to_numpy(dtype=bool)
    truth = raw.map(lambda value: isinstance(value, bool | np.bool_)).to_numpy(dtype=bool)  # yes is no number
    wrong = text | truth | (applies & ~((values >= low) & (values <= high)))
    if wrong.any():
        row = int(np.flatnonzero(wrong)[0])
        value = raw.iloc[row]
        shown = value.item() if isinstance(value, np.generic) else value
        raise InputError(
            f"designs: {name} in row {row + 1} is {quoted(shown)}, it must be a number from {low:g} to {high:g}"
        )
    values[~applies] = np.nan
    return values


def _blank(value: Any) -> bool:
    return isinstance(value, str) and not value.strip()


def _floats(raw: Any) -> np.ndarray:
    """Return a column as numbers, NaN for what is none."""
    import pandas as pd

    if raw.dtype.kind in "Oc":
        raw = raw.astype(object).map(_float)
    return pd.to_numeric(raw, errors="coerce").to_numpy(dtype=float, copy=True)


def _float(value: Any) -> Any:
    """Return a value that pandas can read: a whole number too great for a float is infinite, a complex one is none."""
    if isinstance(value, int):
        try:
            return float(value)
        except OverflowError:
            return math.inf if value > 0 else -math.inf
    return math.nan if isinstance(value, complex | np.complexfloating) else value
