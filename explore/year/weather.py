"""Weather of a typical year, read by pvlib's readers and checked before anything is computed from it."""

from __future__ import annotations

import os
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from explore.cache import Arrays, remembered
from explore.errors import InputError
from explore.units import ZERO_C

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]

HOURS = 8760
"""Of a year without a leap day, as typical years have them."""
READING_YEAR = 1990
"""Any year without a leap day; months of a typical year come from different years."""

# What a weather file may say: least, most, unit. Above the solar constant of 1361 W/m2 only by the edges of clouds;
# air colder than -89.2 or hotter than 56.7 degC has never been measured near the ground.
PLAUSIBLE = {
    "ghi": (0.0, 1500.0, "W/m2"),
    "dni": (0.0, 1500.0, "W/m2"),
    "dhi": (0.0, 1000.0, "W/m2"),
    "temp_air": (-90.0, 60.0, "degC"),
}


SITE = ("latitude_deg", "longitude_deg", "altitude_m", "utc_offset_h")


@dataclass(frozen=True, eq=False)
class Weather:
    """A typical year, hour by hour in local standard time; all arrays have shape (8760,).

    Row i covers the hour that starts i hours after the new year; irradiances are its means. A year is equal to itself
    alone: its thousands of hours are not compared.
    """

    latitude_deg: float
    longitude_deg: float
    altitude_m: float
    utc_offset_h: float
    ghi: Array
    """global horizontal irradiance [W/m2]"""
    dni: Array
    """direct normal irradiance [W/m2]"""
    dhi: Array
    """diffuse horizontal irradiance [W/m2]"""
    air_temperature_K: Array
    month: NDArray[np.int64]
    """1 to 12"""
    hour: NDArray[np.int64]
    """clock hour at which the interval starts, 0 to 23"""
    source: str


def read_weather(spec: str) -> Weather:
    """Read a typical year from a TMY3 (.csv), EPW (.epw) or TMY2 (.tm2) file.

    Args:
        spec: path of the file, or ``pvlib:NAME`` for a file shipped with the pvlib package.

    Raises:
        InputError: missing, unreadable or truncated file, missing or repeated hours, values that cannot be.

    TMY3 stamps the end of the hour, pvlib's EPW and TMY2 readers its start; both become the start here. What a file
    of the same content gave before is kept: the libraries that read it take half a second to load.
    """
    path = _locate(spec)
    try:
        content = path.read_bytes()
    except OSError:  # the reader tells why
        hours = _hours(spec, path)
    else:
        causes = (path.suffix.lower().encode(), content, *makers(__file__))
        hours = remembered("weather", (*SITE, *PLAUSIBLE), causes, lambda: _hours(spec, path))
    site = {name: float(hours[name]) for name in SITE}
    hour_of_year = np.arange(HOURS)
    days = np.datetime64(f"{READING_YEAR}-01-01") + hour_of_year // 24
    return Weather(
        **site,
        ghi=hours["ghi"],
        dni=hours["dni"],
        dhi=hours["dhi"],
        air_temperature_K=hours["temp_air"] + ZERO_C,
        month=days.astype("datetime64[M]").astype(np.int64) % 12 + 1,
        hour=hour_of_year % 24,
        source=spec,
    )


def makers(*files: str) -> list[bytes]:
    """Return what made a year from a weather file: the versions of the libraries and these sources."""
    libraries = "|".join(version(name) for name in ("pvlib", "pandas", "numpy"))
    return [libraries.encode(), *(Path(file).read_bytes() for file in files)]


def _hours(spec: str, path: Path) -> Arrays:
    """Read and check a file: the site's numbers by the names of :data:`SITE`, the hours by those of :data:`PLAUSIBLE`."""
    reader, first_line = _reader(path)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what the readers warn of is refused below, in our own words
            frame, *site = reader(path)
    except Exception as error:  # the readers raise whatever the broken file makes them stumble over
        reason = " ".join(str(error).split())[:120] or type(error).__name__
        raise InputError(
            f"weather file {spec} cannot be read as a {path.suffix.lower()} typical-year file ({reason}); "
            "give a complete TMY3 .csv, .epw or .tm2 file"
        ) from error
    _check_site(spec, *site)
    _check_hours(spec, frame)
    columns = {name: _checked_column(spec, frame, name, first_line) for name in PLAUSIBLE}
    return columns | {name: np.array(value) for name, value in zip(SITE, site, strict=True)}


def _locate(spec: str) -> Path:
    """Path of the file that ``spec`` names, or an InputError that says what may be named."""
    if not spec.startswith("pvlib:"):
        path = Path(spec).expanduser()
        if not os.path.isfile(path):  # which a name too long for any file is not, either
            raise InputError(
                f"weather file {spec[:150]} does not exist or is no file; give the path of a TMY3, EPW or TM2 file"
            )
        return path
    name = spec.removeprefix("pvlib:")
    library = find_spec("pvlib")
    assert library is not None
    assert library.origin is not None
    folder = Path(library.origin).parent / "data"
    shipped = sorted(file.name for file in folder.glob("*TY*.[cC][sS][vV]")) + sorted(
        file.name for file in folder.glob("*.tm2")
    )
    if name not in shipped:
        raise InputError(f"weather file {spec} is not shipped with pvlib; shipped are {', '.join(shipped)}")
    return folder / name


_Read = tuple["pd.DataFrame", float, float, float, float]


def _reader(path: Path) -> tuple[Callable[[Path], _Read], int]:
    """Return the reader for a file by its extension and the line on which its first hour stands."""
    readers: dict[str, tuple[Callable[[Path], _Read], int]] = {
        ".csv": (_read_tmy3, 3),
        ".epw": (_read_epw, 9),
        ".tm2": (_read_tmy2, 2),
    }
    if path.suffix.lower() not in readers:
        raise InputError(
            f"weather file {path.name} must end in .csv (TMY3), .epw or .tm2, not in {path.suffix!r}"
        )
    return readers[path.suffix.lower()]


def _read_tmy3(path: Path) -> _Read:
    import pandas as pd
    from pvlib.iotools import read_tmy3

    frame, meta = read_tmy3(path, map_variables=True, coerce_year=READING_YEAR)
    frame.index = frame.index - pd.Timedelta(hours=1)
    return frame, *_site(meta)


def _read_epw(path: Path) -> _Read:
    from pvlib.iotools import read_epw

    frame, meta = read_epw(path)
    return frame, *_site(meta)


def _read_tmy2(path: Path) -> _Read:
    from pvlib.iotools import read_tmy2

    frame, meta = read_tmy2(path)
    frame = frame.rename(columns={"GHI": "ghi", "DNI": "dni", "DHI": "dhi"})
    frame["temp_air"] = frame["DryBulb"] / 10.0  # the file counts tenths of a degree
    return frame, *_site(meta)


def _site(meta: dict[str, Any]) -> tuple[float, float, float, float]:
    return float(meta["latitude"]), float(meta["longitude"]), float(meta["altitude"]), float(meta["TZ"])


def _check_site(spec: str, latitude: float, longitude: float, altitude: float, offset: float) -> None:
    """Refuse a header that names no place on Earth."""
    inside = abs(latitude) <= 90 and abs(longitude) <= 180 and -450 <= altitude <= 6000 and abs(offset) <= 14
    if not inside:
        raise InputError(
            f"weather file {spec} gives latitude {latitude}, longitude {longitude}, altitude {altitude} m "
            f"and UTC offset {offset} h, which is no place on Earth"
        )


def _check_hours(spec: str, frame: pd.DataFrame) -> None:
    """Refuse anything but the 8760 hours of a year without a leap day, in order."""
    import pandas as pd

    both = min(len(frame), HOURS)
    due = pd.date_range(f"{READING_YEAR}-01-01", periods=HOURS, freq="h")[:both]
    found = pd.DatetimeIndex(frame.index)[:both]
    right = (
        (found.month == due.month) & (found.day == due.day) & (found.hour == due.hour) & (found.minute == 0)
    )
    held = f"holds {len(frame)} hours" if len(frame) != HOURS else "misses or repeats an hour"
    if not right.all():
        row = int(np.argmin(right))
        raise InputError(
            f"weather file {spec} {held}: where the one from {due[row]:%m-%d %H:%M} is "
            f"due it has {found[row]:%m-%d %H:%M}; a year has each of its {HOURS} hours once, in order, without a leap day"
        )
    if len(frame) != HOURS:
        raise InputError(f"weather file {spec} {held}; a whole year has {HOURS}, without a leap day")


def _checked_column(spec: str, frame: pd.DataFrame, name: str, first_line: int) -> Array:
    """One column as floats, or an InputError that names line and column of the first value that cannot be."""
    import pandas as pd

    if name not in frame:
        raise InputError(
            f"weather file {spec} has no column for {name}; it needs ghi, dni, dhi and air temperature"
        )
    values = pd.to_numeric(frame[name], errors="coerce").to_numpy(dtype=np.float64)
    least, most, unit = PLAUSIBLE[name]
    wrong = ~((values >= least) & (values <= most))
    if wrong.any():
        row = int(np.argmax(wrong))
        raise InputError(
            f"weather file {spec}, line {row + first_line}, column {name}: {frame[name].iloc[row]!s} is not "
            f"a value between {least:g} and {most:g} {unit}"
        )
    return values
