"""What a run takes along: weather, own designs and years of the user's, copied into its folder."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from explore.errors import InputError
from explore.run.files import write_bytes

if TYPE_CHECKING:
    from explore.config.schema import Case

WEATHER = "weather"
"""The folder within a run that holds its weather file, if that is one of the user's."""
OWN = "own"
"""The folder within a run that holds the reader's own designs, each file in a folder of its number."""
YEARS = "years"
"""The folder within a run that holds the weather years of its doubt, each file in a folder of its number."""


def carry(folder: Path, case: Case) -> Case:
    """Copy the user's weather files and own designs into the run's folder; return the case that is judged by the copies.

    A copy that is there already is the run's own and stays. Raises :class:`InputError` if a file cannot be read.
    """
    own = []
    for number, file in enumerate(map(Path, case.report.own), start=1):
        copy = folder / OWN / str(number) / file.name
        held = copy.is_file() or file.is_file()  # whoever reads a file that is not there says so
        own.append(_carried(file, copy, "own designs") if held else file)
    return at_own(_carry_weather(folder, _carry_years(folder, case)), own)


def _carry_years(folder: Path, case: Case) -> Case:
    found = []
    for number, spec in enumerate(case.doubt.weather_years, start=1):
        source = Path(os.path.expanduser(spec))
        copy = folder / YEARS / str(number) / source.name
        held = not spec.startswith("pvlib:") and (os.path.isfile(copy) or os.path.isfile(source))
        found.append(str(_carried(source, copy, "weather file")) if held else spec)
    return at_years(case, found)


def _carry_weather(folder: Path, case: Case) -> Case:
    spec = case.scenario.site.weather
    source = Path(os.path.expanduser(spec))
    copy = folder / WEATHER / source.name
    if spec.startswith("pvlib:") or not (os.path.isfile(copy) or os.path.isfile(source)):
        return case  # whoever reads a file that is not there says so
    return at_weather(case, _carried(source, copy, "weather file"))


def _carried(source: Path, copy: Path, what: str) -> Path:
    """Copy a file, unless that was done; returns the place of the copy."""
    if not copy.is_file():
        try:
            content = source.read_bytes()
        except OSError as error:
            raise InputError(f"cannot read {what} {source}: {error.strerror or error}") from error
        write_bytes(copy, content)
    return copy.resolve()


def at_own(case: Case, files: Sequence[Path]) -> Case:
    """Return the case with ``files`` for the reader's own designs."""
    own = tuple(map(str, files))
    return case.model_copy(update={"report": case.report.model_copy(update={"own": own})})


def at_years(case: Case, files: Sequence[str]) -> Case:
    """Return the case with ``files`` for the weather years of its doubt."""
    doubt = case.doubt.model_copy(update={"weather_years": tuple(files)})
    return case.model_copy(update={"doubt": doubt})


def at_weather(case: Case, file: Path) -> Case:
    """Return the case with ``file`` for its weather."""
    site = case.scenario.site.model_copy(update={"weather": str(file)})
    return case.model_copy(update={"scenario": case.scenario.model_copy(update={"site": site})})
