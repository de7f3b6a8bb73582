"""Weather files: totals of known years, and one sentence for every broken file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pvlib
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from explore.errors import InputError
from explore.model import years
from explore.year.weather import read_weather

DATA = Path(pvlib.__file__).parent / "data"

# Totals of the files shipped with pvlib, computed apart from this program. Sources of the files: S. Wilcox,
# W. Marion, Users Manual for TMY3 Data Sets, NREL/TP-581-43156, 2008; W. Marion, K. Urban, User's Manual for
# TMY2s, NREL, 1995.
YEARS = [
    # name, latitude, longitude, altitude, GHI, DNI, DHI [kWh/m2], T mean, least, most [degC],
    # days with less than 0.5, 1.0, 1.5, 2.0 kWh/m2, least, median, most of a day
    (
        ("12839.tm2", 25.80, -80.27, 2.0, 1792.6, 1504.9, 809.5, 24.31, 3.3, 33.9),
        (0, 0, 1, 6),
        (1.095, 4.928, 7.837),
    ),
    (
        ("723170TYA.CSV", 36.10, -79.95, 273.0, 1566.2, 1476.5, 682.2, 14.42, -16.7, 35.6),
        (0, 6, 31, 49),
        (0.694, 4.099, 7.948),
    ),
]


@pytest.fixture(scope="module")
def lines():
    """Lines of the typical year of Greensboro: two of header, then one an hour."""
    return (DATA / "723170TYA.CSV").read_text().splitlines()


@pytest.fixture
def written(tmp_path):
    """Write lines into a file and give its path."""

    def write(lines, name="year.csv"):
        path = tmp_path / name
        path.write_text("\n".join(lines) + "\n")
        return str(path)

    return write


def epw_lines(weather):
    """Write a year as an EPW file; its rows are stamped 1 to 24, the end of the hour."""
    header = [f"LOCATION,Somewhere,-,-,TMY,0,{weather.latitude_deg},{weather.longitude_deg},-5.0,273.0"]
    header += ["DESIGN CONDITIONS,0", "TYPICAL/EXTREME PERIODS,0", "GROUND TEMPERATURES,0"]
    header += [
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
        "COMMENTS 1",
        "COMMENTS 2",
        "DATA PERIODS,1,1,Data,Sunday,1/1,12/31",
    ]
    days = np.arange("1990-01-01", "1991-01-01", dtype="datetime64[D]").astype(object)
    rows = []
    for i, air in enumerate(weather.air_temperature_K - 273.15):
        day = days[i // 24]
        sun = f"{weather.ghi[i]:.0f},{weather.dni[i]:.0f},{weather.dhi[i]:.0f}"
        rows.append(
            f"{1980 + day.month},{day.month},{day.day},{i % 24 + 1},0,x,{air:.1f},5,70,100000,0,0,300,{sun}"
            + ",0" * 19
        )
    return header + rows


@pytest.mark.parametrize(("totals", "dull_days", "day_range"), YEARS)
def test_totals_of_known_years(totals, dull_days, day_range):
    """Yearly sums, extremes and counts of dull days of two public files are reproduced."""
    name, *figures = totals
    weather = read_weather(f"pvlib:{name}")
    air = weather.air_temperature_K - 273.15
    ours = [weather.latitude_deg, weather.longitude_deg, weather.altitude_m]
    ours += [column.sum() / 1000.0 for column in (weather.ghi, weather.dni, weather.dhi)]
    assert_allclose([*ours, air.mean(), air.min(), air.max()], figures, rtol=1e-3, atol=0.005)
    days = weather.ghi.reshape(365, 24).sum(axis=1) / 1000.0
    assert tuple(int(np.sum(days < limit)) for limit in (0.5, 1.0, 1.5, 2.0)) == dull_days
    assert_allclose([days.min(), np.median(days), days.max()], day_range, atol=6e-4)


def test_clock():
    """Rows start with the hour from midnight to one of January the first and end in December."""
    weather = read_weather("pvlib:723170TYA.CSV")
    assert_array_equal(weather.hour[:25], [*range(24), 0])
    assert (weather.month[0], weather.month[31 * 24 - 1], weather.month[31 * 24], weather.month[-1]) == (
        1,
        1,
        2,
        12,
    )
    assert np.sum(weather.month == 2) == 28 * 24
    assert weather.utc_offset_h == -5.0


def test_first_light_of_the_file(lines):
    """The row stamped 08:00, the end of its hour, is our hour that starts at seven."""
    first = next(line.split(",") for line in lines[2:] if float(line.split(",")[4]) > 0)
    weather = read_weather("pvlib:723170TYA.CSV")
    row = int(np.argmax(weather.ghi > 0))
    assert first[1] == f"{weather.hour[row] + 1:02d}:00"
    assert weather.ghi[row] == float(first[4])


def under(case, site):
    """The case at another site."""
    return case.model_copy(update={"scenario": case.scenario.model_copy(update={"site": site})})


@pytest.mark.parametrize("name", ["a\0b.csv", "x" * 5000 + ".csv", "nowhere.csv"])
def test_a_name_of_no_file_is_refused_by_the_case_too(orchard, name):
    """In a sentence, whatever the system says of such a name."""
    site = orchard.scenario.site.model_copy(update={"weather": name})
    with pytest.raises(InputError, match="does not exist or is no file"):
        years.weather(under(orchard, site))


def test_a_year_is_kept_until_its_file_is_written_anew(orchard, written, lines):
    """The same file gives the year that was read; one of the same name with warmer air its own."""
    site = orchard.scenario.site.model_copy(update={"weather": written(lines)})
    case = under(orchard, site)
    first = years.weather(case)
    assert years.weather(case) is first
    column = next(line.split(",") for line in lines[1:]).index("Dry-bulb (C)")
    cells = lines[2].split(",")
    cells[column] = str(float(cells[column]) + 1.0)
    written([*lines[:2], ",".join(cells), *lines[3:]])
    assert years.weather(case).air_temperature_K[0] == pytest.approx(first.air_temperature_K[0] + 1.0)


def test_epw_reads_the_same(written):
    """The same year written as EPW gives the same arrays."""
    known = read_weather("pvlib:723170TYA.CSV")
    weather = read_weather(written(epw_lines(known), "year.epw"))
    for name in ("ghi", "dni", "dhi", "air_temperature_K", "month", "hour"):
        assert_allclose(getattr(weather, name), getattr(known, name), atol=1e-9)
    assert weather.latitude_deg == known.latitude_deg
    assert weather.utc_offset_h == known.utc_offset_h


def refused(spec):
    """Return the sentence with which a file is refused."""
    with pytest.raises(InputError) as caught:
        read_weather(spec)
    sentence = str(caught.value)
    assert "\n" not in sentence
    return sentence


def test_missing_file(tmp_path):
    """A path without a file, a folder and a web address are refused."""
    assert "does not exist" in refused(str(tmp_path / "nowhere.epw"))
    assert "is no file" in refused(str(tmp_path))
    assert "does not exist" in refused("https://example.org/year.epw")


def test_unknown_shipped_file():
    """A wrong name after pvlib: is answered with the right ones, and leads to no other folder."""
    assert "723170TYA.CSV" in refused("pvlib:nothing.csv")
    assert "not shipped" in refused("pvlib:../data/723170TYA.CSV")


def test_unknown_kind_of_file(written):
    """Other endings are refused by name."""
    assert "'.txt'" in refused(written(["nothing"], "year.txt"))


@pytest.mark.parametrize("name", ["year.csv", "year.epw", "year.tm2"])
@pytest.mark.parametrize("content", [[""], ["nothing", "to", "read"], ["\x00\x01"]])
def test_unreadable_file(written, name, content):
    """A file that is no weather file is refused, whatever its reader stumbles over."""
    assert "cannot be read" in refused(written(content, name))


def test_truncated_file(lines, written):
    """A file cut in the middle of a row is refused."""
    path = written([*lines[:4000], lines[4000][:9]])
    assert "cannot be read" in refused(path) or "holds" in refused(path)


@pytest.mark.parametrize("name", ["723170TYA.CSV", "12839.tm2"])
def test_missing_rows(name, written):
    """A year cut after a whole row is refused with the number of its hours."""
    lines = (DATA / name).read_text().splitlines()
    assert "holds 5000 hours" in refused(written(lines[: 5000 + (2 if name[0] == "7" else 1)], name.lower()))


def test_leap_year(lines, written):
    """A 29th of February is one day too many."""
    leap = [line.replace("02/28/", "02/29/") for line in lines if line.startswith("02/28/")]
    assert "holds 8784 hours" in refused(written([*lines[: 2 + 59 * 24], *leap, *lines[2 + 59 * 24 :]]))


def test_repeated_hour(lines, written):
    """An hour repeated in place of the next is named."""
    broken = lines.copy()
    broken[2 + 40 * 24 + 7] = broken[2 + 40 * 24 + 6]
    assert "the one from 02-10 07:00 is due it has 02-10 06:00" in refused(written(broken))


@pytest.mark.parametrize(
    ("column", "name", "value"),
    [(4, "ghi", ""), (4, "ghi", "-9900"), (7, "dni", "9999"), (10, "dhi", "x"), (31, "temp_air", "99.9")],
)
def test_impossible_value(lines, written, column, name, value):
    """An empty, missing-coded or impossible value is named by line and column."""
    broken = lines.copy()
    cells = broken[1234].split(",")
    cells[column] = value
    broken[1234] = ",".join(cells)
    sentence = refused(written(broken))
    assert f"line 1235, column {name}" in sentence


@pytest.mark.parametrize(
    ("column", "name", "kept", "refused_value", "words"),
    [
        (4, "ghi", "1499", "1501", "0 and 1500 W/m2"),
        (10, "dhi", "999", "1001", "0 and 1000 W/m2"),
        (31, "temp_air", "-89.2", "-91", "-90 and 60 degC"),
    ],
)
def test_bounds_of_plausible_values(lines, written, column, name, kept, refused_value, words):
    """What has been measured on Earth is taken; what has not is refused, and the sentence says what would be right."""

    def with_value(value):
        changed = lines.copy()
        cells = changed[1234].split(",")
        cells[column] = value
        changed[1234] = ",".join(cells)
        return written(changed)

    assert len(read_weather(with_value(kept)).ghi) == 8760
    sentence = refused(with_value(refused_value))
    assert f"column {name}" in sentence
    assert words in sentence


def test_impossible_place(lines, written):
    """A header that names no place on Earth is refused."""
    assert "no place on Earth" in refused(written([lines[0].replace("36.100", "136.1"), *lines[1:]]))


def test_missing_column(lines, written):
    """A file without a needed column is refused with its name."""
    assert "no column for dni" in refused(
        written([lines[0], lines[1].replace("DNI (W/m^2)", "other"), *lines[2:]])
    )
