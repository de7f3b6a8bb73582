"""Designs a person hands in: a YAML file of one design, or a line of a CSV table such as ``front.csv``."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from explore.config.explain import closest
from explore.config.files import read_yaml
from explore.design.designs import OPTIONAL
from explore.design.variables import INPUTS
from explore.errors import InputError, as_many_as_fit, quoted, shortened
from explore.figures.catalogue import FIGURES
from explore.figures.readings import over_worlds
from explore.plant.governor import GOVERNORS
from explore.run.files import read_frame

if TYPE_CHECKING:
    import pandas as pd

    from explore.config.schema import Case

MARKS = ("pick", "why", "name")  # columns with which a run marks designs; they are no figures


def read_designs(path: str | Path, row: int | None = None) -> pd.DataFrame:
    """Read the designs of a file, or its ``row`` (from 1), as a frame whose index counts from 1.

    Columns that do not apply may be left out of a YAML file, and those of :data:`OPTIONAL` of any: they stay out, for
    the case to say what counts. Raises :class:`InputError` for a file that cannot be read, a missing column, and a row
    out of range.
    """
    import pandas as pd

    path = Path(path)
    if path.suffix.lower() in (".yaml", ".yml"):
        frame = _from_yaml(path)
    elif path.suffix.lower() == ".csv":
        frame = read_frame(path)
    else:
        raise InputError(f"design={path}: a file ending in .yaml or .csv is expected")
    frame.index = pd.RangeIndex(1, len(frame) + 1)
    if row is not None and row > len(frame):
        raise InputError(f"{path}: row={quoted(row)} is out of range, it holds the designs 1 to {len(frame)}")
    chosen = frame if row is None else frame.loc[[row]]
    for number in chosen.index:
        _refuse_missing(path, chosen.loc[number])
    absent = (name for name in INPUTS if name not in chosen.columns and name not in OPTIONAL)
    return chosen.reindex(columns=[*chosen.columns, *absent])


def _from_yaml(path: Path) -> pd.DataFrame:
    import pandas as pd

    values = read_yaml(path)
    for name, value in values.items():
        if isinstance(value, dict | list):
            raise InputError(f"{path}: {name} must be a single number or word")
    return pd.DataFrame([values])


def _refuse_missing(path: Path, design: pd.Series[Any]) -> None:
    import pandas as pd

    given = {str(name) for name, value in design.items() if not pd.isna(value)}
    wanted = [name for name in INPUTS if name not in given and _applies(name, design)]
    empty = [name for name in wanted if name in design.index]
    missing = [name for name in wanted if name not in design.index and name not in OPTIONAL]
    strange = [str(column) for column in design.index if column not in (*INPUTS, *FIGURES)]
    if len(missing) > 1 and not any(closest(name, strange) for name in missing):
        raise InputError(
            f"{path}: columns {as_many_as_fit(missing)} are missing; explore task=new what=design writes all"
        )
    for name in (one for one in wanted if one in {*empty, *missing}):
        if name in empty:
            raise InputError(f"{path}: column {name} is empty; this design needs a value there")
        near = closest(name, strange)
        raise InputError(f"{path}: column {name} is missing{near.replace('did you mean', 'is it called')}")


def _applies(name: str, design: pd.Series[Any]) -> bool:
    stratified = design.get("store_mode") == "stratified"
    if name in ("evaporating_temperature_degC", "pinch_boiler_K"):
        return stratified
    if name in ("boil_approach_K", "stop_temperature_degC", "governing", "sizing_share"):
        return design.get("store_mode") == "mixed"
    if name == "lowest_evaporating_temperature_degC":
        return stratified and design.get("pressure_levels") in (2, 3)
    return name != "regenerator_effectiveness"


def refuse_unknown(path: str | Path, given: Iterable[str], known: Iterable[str]) -> None:
    """Raise :class:`InputError` for the first column that is neither an input nor a reported figure.

    A ``violation_*`` column may come from another scenario, with limits that this one does not have; columns over
    worlds from a search that read its designs so.
    """
    known = [*INPUTS, *known]
    for name in given:
        if (
            name not in known
            and name not in MARKS
            and not (name.startswith("violation_") or over_worlds(name))
        ):
            raise InputError(f"{path}: unknown column {shortened(name)}{closest(name, INPUTS)}")


def evaluated(path: str | Path, case: Case, row: int | None = None) -> pd.DataFrame:
    """Evaluate the designs of a file; every complaint names the file and its row."""
    from explore.model import evaluate

    designs = read_designs(path, row)
    stems = {stem: card.name for stem, card in case.fluids.items()}
    designs["fluid"] = [stems.get(fluid, fluid) for fluid in designs["fluid"]]  # a file name may stand for it
    unsaid = {
        "regenerator_effectiveness": 0.0,
        "governing": GOVERNORS[0],
    }  # a stratified store asks for no governor
    inputs = designs[[name for name in INPUTS if name in designs]].fillna(unsaid).reset_index(drop=True)
    try:
        outcome = evaluate(inputs, case, properties=case.search.properties)
    except InputError as error:
        raise InputError(_relocated(str(error), path, designs.index[0])) from error
    refuse_unknown(path, designs.columns, outcome.columns)
    return outcome


def _relocated(sentence: str, path: str | Path, first: int) -> str:
    if sentence.startswith("designs: "):
        place = f" in row {first} " if str(path).endswith(".csv") else " "
        sentence = sentence.replace(" in row 1 ", place).replace("designs:", f"{path}:", 1)
    return sentence
