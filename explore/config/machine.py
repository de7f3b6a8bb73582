"""A given machine as its file describes it: cylinders as measured, and the conditions to run it at.

The file is data: plain YAML, read without tags, anchors or interpolation.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationError, model_validator

from explore.config.explain import closest, problem_of
from explore.config.fields import Checked
from explore.config.files import config_folder, read_plain_yaml, table_text
from explore.errors import InputError, is_number, shortened

MOST_CONDITIONS = 5_000
"""A few minutes of work; a longer table is better cut up."""
MOST_STAGES = 6
"""A compound engine in series has two to four; more is a mistake in the file."""


def _listed(value: Any) -> Any:
    return value if value is None or isinstance(value, list | tuple) else [value]


Positive = Annotated[float, Field(gt=0)]
Speed = Annotated[float, Field(gt=0, le=100_000)]
Temperature = Annotated[float, Field(gt=-273.15, le=1500)]
Share = Annotated[float, Field(ge=0, le=1)]


def _one_or_many(kind: Any) -> BeforeValidator:
    """Take a single value for a list of one, and say so to editors."""
    return BeforeValidator(_listed, json_schema_input_type=kind | tuple[kind, ...])


Positives = Annotated[tuple[Positive, ...], _one_or_many(Positive)]
Speeds = Annotated[tuple[Speed, ...], _one_or_many(Speed)]
Temperatures = Annotated[tuple[Temperature, ...], _one_or_many(Temperature)]
Shares = Annotated[tuple[Share, ...], _one_or_many(Share)]


class GivenCylinder(Checked):
    """Cylinders of one stage."""

    bore_mm: float = Field(gt=0, le=2000, description="bore [mm]")
    stroke_mm: float = Field(gt=0, le=5000, description="stroke [mm]")
    number: int = Field(1, ge=1, le=100, description="cylinders side by side in this stage")
    acting: Literal["single", "double"] = Field("single", description="pistons pushed from one side or both")
    cut_off: float | None = Field(None, gt=0, le=1, description="cut-off, share of the stroke")
    volume_ratio: float | None = Field(
        None,
        ge=1,
        le=200,
        description="volume at the end of expansion over that at cut-off, clearance in both",
    )

    @model_validator(mode="after")
    def _one_of_two(self) -> GivenCylinder:
        if (self.cut_off is None) == (self.volume_ratio is None):
            raise ValueError("give either cut_off or volume_ratio, one of the two")
        return self


class GivenMachine(Checked):
    """A machine and its conditions; one value of a condition stands for all."""

    fluid: str = Field(min_length=1, max_length=100, description="a fluid's card or any of CoolProp's fluids")
    cylinders: tuple[GivenCylinder, ...] = Field(
        description="stages in series, the first that takes the vapour first"
    )
    clearance_fraction: float | None = Field(
        None, ge=0, lt=0.5, description="clearance over swept volume; empty: that of the engine set"
    )
    liquid_conductivity_W_per_mK: float | None = Field(
        None, gt=0, le=10, description="saturated liquid at 50 degC; empty: that of the fluid's card, or 0.10"
    )
    vapour_viscosity_Pa_s: float | None = Field(
        None, gt=0, le=1e-3, description="vapour at 80 degC; empty: that of the fluid's card, or 9e-6"
    )
    speed_rev_per_min: Speeds = Field(description="speed of the crank [rev/min], a number or a list")
    inlet_pressure_bar_a: Positives = Field(
        description="before the engine [bar absolute], a number or a list"
    )
    outlet_pressure_bar_a: Positives = Field(
        description="behind the engine [bar absolute], a number or a list"
    )
    inlet_temperature_degC: Temperatures | None = Field(None, description="at the inlet, a number or a list")
    inlet_quality: Shares | None = Field(
        None, description="share of vapour at the inlet in place of the temperature, a number or a list"
    )

    @model_validator(mode="after")
    def _conditions_fit(self) -> GivenMachine:
        if not 1 <= len(self.cylinders) <= MOST_STAGES:
            raise ValueError(f"cylinders: give 1 to {MOST_STAGES} stages, there are {len(self.cylinders)}")
        if (self.inlet_temperature_degC is None) == (self.inlet_quality is None):
            raise ValueError("give either inlet_temperature_degC or inlet_quality, one of the two")
        given = {name: getattr(self, name) for name in CONDITIONS}
        lengths = {name: len(value) for name, value in given.items() if value is not None}
        if 0 in lengths.values():
            name = next(name for name, length in lengths.items() if length == 0)
            raise ValueError(f"{name} is an empty list, give a number or a list of them")
        if len(set(lengths.values()) - {1}) > 1:
            told = ", ".join(f"{name} has {length}" for name, length in lengths.items())
            raise ValueError(f"lists of conditions must be of one length: {told}")
        if max(lengths.values()) > MOST_CONDITIONS:
            raise ValueError(f"more than {MOST_CONDITIONS} conditions; cut the table up")
        return self

    @property
    def count(self) -> int:
        """How many conditions there are."""
        return max(len(value) for name in CONDITIONS if (value := getattr(self, name)) is not None)


CONDITIONS = (
    "speed_rev_per_min",
    "inlet_pressure_bar_a",
    "inlet_temperature_degC",
    "inlet_quality",
    "outlet_pressure_bar_a",
)
"""Keys that may be lists, and the columns of a table of conditions."""


def read_machine(
    source: Mapping[str, Any] | str | Path, conditions: str | Path | None = None
) -> GivenMachine:
    """Check a machine given as a mapping or as a YAML file, with the columns of a CSV table as its conditions.

    Raises :class:`InputError` with one sentence that names the file and the key.
    """
    if isinstance(source, GivenMachine):
        return source
    if isinstance(source, Mapping):
        place, content = "machine", {str(key): value for key, value in source.items()}
    elif isinstance(source, str | Path):
        place, content = str(source), read_plain_yaml(_file(source))
    else:
        raise InputError(
            f"machine: the path of a YAML file or a mapping is expected, not {type(source).__name__}"
        )
    if conditions is not None:
        content = _with_table(place, content, Path(conditions))
    try:
        return GivenMachine.model_validate({key: _plain(value) for key, value in content.items()})
    except ValidationError as error:
        raise InputError(f"{place}: {problem_of(error, GivenMachine)}") from error


def _file(source: str | Path) -> Path:
    """Return the file meant: a path, or the name of a shipped machine."""
    path = Path(source)
    if path.suffix.lower() in (".yaml", ".yml"):
        return path
    shipped = {file.stem: file for file in sorted((config_folder() / "machine").glob("*.yaml"))}
    if str(source) not in shipped:
        raise InputError(
            f"machine={source}: a file ending in .yaml or a shipped machine is expected ({', '.join(shipped)})"
        )
    return shipped[str(source)]


def _fits(value: Any) -> bool:
    return not isinstance(value, int) or is_number(value)


def _plain(value: Any) -> Any:
    """Turn arrays and columns, as notebooks hold them, into lists."""
    return value.tolist() if hasattr(value, "tolist") else value


def _with_table(place: str, content: dict[str, Any], path: Path) -> dict[str, Any]:
    import pandas as pd

    try:
        table = pd.read_csv(io.StringIO(table_text(path, f"conditions={path}")), engine="python")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error).splitlines()[0]
        raise InputError(f"conditions={path}: cannot read it: {reason}") from error
    if table.empty:
        raise InputError(f"conditions={path}: a line of names and one or more lines of numbers are expected")
    for name in map(str, table.columns):
        if name not in CONDITIONS:
            raise InputError(
                f"conditions={path}: unknown column {shortened(name)}{closest(name, CONDITIONS)}; "
                f"known are {', '.join(CONDITIONS)}"
            )
        if content.get(name) is not None:
            raise InputError(f"conditions={path}: {name} stands in {place} too; give it in one of the two")
        # a whole number too great for a float stands in the table as it is
        numbers = pd.to_numeric(table[name].where(table[name].map(_fits)), errors="coerce")
        wrong = table.index[numbers.isna()]
        if len(wrong):
            raise InputError(f"conditions={path}: {name} of line {wrong[0] + 1} is no number")
        table[name] = numbers
    return content | {str(name): [float(value) for value in table[name]] for name in table.columns}
